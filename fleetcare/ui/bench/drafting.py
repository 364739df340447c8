"""The part of the bench that keeps what is typed as a draft, and offers back what was never saved."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QStackedWidget

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, FoundIn, LookItem, RestBand
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.packs import Level, Meter, Pack, TestLoad, Vehicle
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import drafts
from fleetcare.services.drafts import Offered, Typed
from fleetcare.services.session import Author
from fleetcare.ui.bench.draft_keeper import DraftKeeper
from fleetcare.ui.bench.work_page import WorkPage
from fleetcare.ui.session import Session


@dataclass(frozen=True, slots=True)
class ReadUnder:
    """Under which conditions the readings on the bench were taken; `at` is None for now."""

    meter: Meter
    load: TestLoad | None
    bench_c: Decimal | None
    at: dt.datetime | None = None


class Drafting(QStackedWidget):
    """What the bench and its drafts share; `BenchScreen` adds scans, readings and saving.

    `_owner` is the person who typed what stands in the fields, "" while nothing does.
    """

    work: WorkPage
    _app: App
    _session: Session
    _keeper: DraftKeeper
    _timer: QTimer
    _owner: str
    _taken: ReadUnder | None
    _pack: Pack | None
    _vehicle: Vehicle | None
    _moves: tuple[FoundIn, ...]
    _seen: int | None

    def _has_readings(self) -> bool:
        raise NotImplementedError

    def _clear(self) -> None:
        raise NotImplementedError

    def _show_pack(self, pack: Pack) -> None:
        raise NotImplementedError

    def ask_clear(self) -> None:
        """Esc: nothing typed is thrown away without a second press on purpose."""
        raise NotImplementedError

    def _connect_drafts(self) -> None:
        work = self.work
        self._keeper.due.connect(self._keep)
        self._keeper.failed.connect(self._not_kept)
        self._keeper.kept_again.connect(self._kept)
        work.drafts.take_up.connect(self._take_up)
        work.drafts.discard.connect(self._discard_draft)
        for part in (work.look.changed, work.rest.picked, work.kind.currentIndexChanged, work.remark.edit.textEdited):
            part.connect(lambda *_typed: self._keeper.touched())

    def _author(self) -> Author:
        author = self._session.author(self._seen)
        assert author is not None
        return author

    def _settled(self) -> str:
        self._keeper.settle()
        return self._keeper.draft_id

    def _at(self) -> dt.datetime:
        """When the readings were taken: now, or when a draft that was taken up was typed."""
        return self._taken.at if self._taken is not None and self._taken.at is not None else self._app.clock()

    def _read_under(self) -> ReadUnder:
        session = self._session
        if self._taken is not None:
            return self._taken
        assert session.meter is not None
        return ReadUnder(session.meter, session.load, session.bench_c)

    def _keep(self) -> None:
        """Put what is typed on the disk; an inspection alone counts as typed."""
        typed = self._pack is not None and (self._has_readings() or self.work.look.found is not None)
        if not typed or (self._session.person is None and not self._owner):
            return
        if self._taken is None and self._session.meter is None:
            return  # its meter was found out; what is on the disk already names that meter
        if not self._owner and self._session.person is not None:
            self._owner = self._session.person.code
        self._keeper.keep(self._owner, self._at(), self._typed())

    def _typed(self) -> Typed:
        work, under = self.work, self._read_under()
        assert self._pack is not None
        found = work.look.found
        return Typed(
            pack=self._pack.code, vehicle=self._vehicle.code if self._vehicle else None, kind=str(work.kind.currentData()),
            rest=work.rest.band.value if work.rest.band else None, rested=work.rested.text, loaded=work.loaded.text,
            amps=work.amps.text, remark=work.remark.text, looked=None if found is None else tuple(i.value for i in found),
            meter=under.meter.code, load=under.load.code if under.load else None,
            bench=None if under.bench_c is None else str(under.bench_c), moves=self._moves, seen=self._seen,
        )  # fmt: skip

    def put_aside(self) -> bool:
        """Leave what is typed as a draft of its person and clear the bench for the next.

        False, and nothing is cleared, where it could not be kept on the disk.
        """
        self._keep()
        try:
            self._keeper.flush()
        except FleetcareError as error:
            self._not_kept(error)
            return False
        self._keeper.saved()
        self._clear()
        return True

    def _not_kept(self, error: FleetcareError) -> None:
        if not self._keeper.draft_id:
            return  # it was saved or thrown away meanwhile
        self.work.wrong.setText(say(msg("draft.not_kept", why=error.message)))
        self.work.wrong.show()
        self._keeper.again()

    def _kept(self) -> None:
        """What could not be kept before is on the disk now."""
        self.work.wrong.hide()

    def _offer(self) -> None:
        person = self._session.person
        if person is None or self._pack is not None:
            self.work.drafts.show_offers((), may_discard_all=False)
            return
        now = self._app.clock()
        offers = drafts.offered(self._app.store, person.code, now.tzinfo, self._keeper.draft_id)
        may = person.level_on(now.date()).covers(Level.MAY_RELEASE)
        self.work.drafts.show_offers(offers, may_discard_all=may)

    def _take_up_first(self) -> None:
        offer = self.work.drafts.first_own()
        if offer is not None and self.currentWidget() is self.work:
            self._take_up(offer)

    def _take_up(self, offer: Offered) -> None:
        """Put a draft back into the fields, letter by letter, with the time and the meter it was read with."""
        typed = offer.typed
        assert typed is not None
        if self._has_readings():
            self.ask_clear()
            return
        with self._app.store.view() as view:
            there = any(draft.draft_id == offer.draft_id for draft in view.drafts())
            pack, meter = view.thing("pack", typed.pack), view.thing("meter", typed.meter)
            load = view.thing("test_load", typed.load) if typed.load else None
            vehicle = view.thing("vehicle", typed.vehicle) if typed.vehicle else None
        self._clear()
        if not there:
            self.work.wrong.setText(word("draft.gone"))
            self.work.wrong.show()
            return
        self._keeper.draft_id, self._owner = offer.draft_id, offer.person
        self._taken = ReadUnder(meter, load, None if typed.bench is None else Decimal(typed.bench), offer.saved_at)
        self._vehicle, self._moves, self._seen = vehicle, typed.moves, typed.seen
        self._show_pack(pack)
        self._fill(typed)
        taken = say(msg("draft.taken", at=offer.saved_at, meter=typed.meter))
        self.work.details.setText(f"{self.work.details.text()}\n{taken}")
        self._offer()
        self._timer.start()
        self.work.rested.edit.setFocus()

    def _fill(self, typed: Typed) -> None:
        work = self.work
        for field, text in ((work.rested, typed.rested), (work.loaded, typed.loaded), (work.amps, typed.amps),
                            (work.remark, typed.remark)):  # fmt: skip
            field.edit.setText(text)
        work.kind.setCurrentIndex(list(CheckKind).index(CheckKind(typed.kind)))
        if typed.rest is not None:
            work.rest.choose(RestBand(typed.rest))
        if typed.looked is not None:
            work.look.restore(tuple(LookItem(item) for item in typed.looked))

    def _discard_draft(self, offer: Offered) -> None:
        try:
            drafts.discard(self._app.store, self._app.clock, self._author(), offer.draft_id)
        except FleetcareError as error:
            self._offer()
            self.work.drafts.wrong.setText(say(error.message))
            self.work.drafts.wrong.show()
            return
        self._offer()
        self.work.scan.edit.setFocus()
