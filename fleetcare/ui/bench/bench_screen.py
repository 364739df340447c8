"""The bench: two scans, three numbers, a verdict, and the next pack.  No mouse is needed."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut

from fleetcare.app import App
from fleetcare.domain.checks import FoundIn, LookOver, VoltageCheck
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.packs import Pack, PackModel, Person, Vehicle
from fleetcare.domain.units import parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import goes_out, record
from fleetcare.services.identify import Identified, PairingKind, as_pack, fixed_pack, identify, pair
from fleetcare.services.session import Author
from fleetcare.ui.bench.draft_keeper import DraftKeeper
from fleetcare.ui.bench.drafting import Drafting
from fleetcare.ui.bench.look_panel import DANGERS
from fleetcare.ui.bench.questioning import Questioning
from fleetcare.ui.bench.sign_in import Conditions, SignIn
from fleetcare.ui.bench.told import check_typed, pack_told
from fleetcare.ui.bench.work_page import WorkPage
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session, condition_line
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.stop_card import StopCard

PREVIEW_MS = 120


class BenchScreen(Drafting):
    """Sign-in, conditions, work and the stop card, one at a time."""

    open_pack = Signal(str)
    kept = Signal(str)
    """A check of this pack was saved: it is the pack shown last, and F5 opens it."""

    quarantined = Signal(str)
    setup_wanted = Signal()

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app = app
        self._session = session
        self._changes = changes
        self._vehicle: Vehicle | None = None
        self._pack: Pack | None = None
        self._model: PackModel | None = None
        self._moves: tuple[FoundIn, ...] = ()
        self._seen: int | None = None
        self._owner, self._taken, self._keeper = "", None, DraftKeeper(app, self)
        self.sign_in = SignIn(app, session)
        self.conditions = Conditions(app, session)
        self.work = WorkPage(app)
        self.stop = StopCard()
        for page in (self.sign_in, self.conditions, self.work, self.stop):
            self.addWidget(page)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(PREVIEW_MS)
        self._timer.timeout.connect(self.preview)
        self.odd = Questioning(app, self.work, self)
        self._connect()
        self._clear()
        self._step()

    def _connect(self) -> None:
        work = self.work
        self.conditions.empty.setup_wanted.connect(self.setup_wanted.emit)
        self._session.person_changed.connect(self._step)
        self._session.bench_changed.connect(self._step)
        work.change.clicked.connect(self._change_conditions)
        work.scan.edit.returnPressed.connect(lambda: self.take_text(work.scan.text))
        work.pairing.answered.connect(self._paired)
        work.pairing.cancelled.connect(self._not_that_pack)
        work.look.changed.connect(self._timer.start)
        work.look.danger.connect(self._danger)
        work.rest.picked.connect(self._rested_next)
        for field, following in ((work.rested, work.loaded), (work.loaded, work.amps)):
            field.edit.returnPressed.connect(lambda f=field, n=following: self._next(f, n))
        work.amps.edit.returnPressed.connect(self.save)
        work.remark.edit.returnPressed.connect(self.save)
        for field in (work.rested, work.loaded, work.amps):
            field.edit.textEdited.connect(lambda _text: self._edited())
        work.kind.currentIndexChanged.connect(lambda _i: self._timer.start())
        work.save.clicked.connect(self.save)
        work.clear.clicked.connect(self.ask_clear)
        self.odd.answered.connect(self.save)
        work.round.chosen.connect(self.open_pack.emit)
        self._connect_drafts()
        work.decision.join(self._session, self._changes)
        work.decision.decided.connect(work.verdict.add)
        self.stop.quarantine.connect(self._quarantine)
        self.stop.back.connect(self._back_from_stop)
        self._changes.changed.connect(self._changed)
        self.keys: dict[str, QShortcut] = {}
        for key, deed in (("F8", self._press_good), ("F9", self._change_conditions), ("Esc", self.ask_clear),
                          ("Ctrl+G", self._take_up_first)):  # fmt: skip
            shortcut = QShortcut(QKeySequence(key), self, deed)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            self.keys[key] = shortcut
        for number in range(1, len(DANGERS) + 1):
            direct = QShortcut(QKeySequence(f"Alt+{number}"), self, lambda n=number: self._press_danger(n))
            direct.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)

    def _changed(self, packs: frozenset[str], vehicles: frozenset[str]) -> None:
        """Something was recorded, here or elsewhere: what follows from the check just saved is told as it stands now."""
        self.work.round.renew()
        saved = self.work.verdict.told_of
        if saved and (saved in packs or vehicles):
            with self._app.store.view() as view:
                after = goes_out.as_recorded(view, saved, self._app.clock())
            self.work.verdict.renew(after)

    # which page

    @property
    def at_work(self) -> bool:
        """True while a check may be on the bench; before that, at sign-in and conditions, it keeps no key for itself."""
        return self.currentWidget() in (self.work, self.stop)

    def _step(self) -> None:
        """Show the page that comes next: who, then conditions, then work."""
        person = self._session.person
        if person is None:
            self._keep()
        elif self._owner and (self._owner != person.code or self._session.meter is None) and not self.put_aside():
            self._session.sign_in(None)  # nobody goes on with what another has typed
            self.sign_in.notice.setText(self.work.wrong.text())
            return
        if person is None:
            self.setCurrentWidget(self.sign_in)
            locked = self._session.locked
            self.sign_in.notice.setText(say(msg("sign.locked", person=locked.name)) if locked else "")
            self.sign_in.name.edit.setFocus()
        elif not self._session.bench_ready:
            self._change_conditions()
        else:
            self._show_conditions()
            self.setCurrentWidget(self.work)
            self.work.round.refresh()
            self._offer()
            (self.work.rested.edit if self._pack is not None else self.work.scan.edit).setFocus()

    def _change_conditions(self) -> None:
        if self._session.person is not None:
            self.setCurrentWidget(self.conditions)
            self.conditions.fill()

    def _show_conditions(self) -> None:
        self.work.conditions.setText(condition_line(self._session, self._app.clock().date()))
        self._fill_amps()

    def _fill_amps(self) -> None:
        load = self._session.load
        self.work.amps.edit.setText("" if load is None else str(load.load_a))

    # scans

    def take_scan(self, text: str) -> bool:
        """A scan from whatever field; True when the bench takes it."""
        if self._session.person is None:
            self.sign_in.name.edit.setText(text)
            self.sign_in._try()
            return True
        if self.currentWidget() is self.conditions:
            return False
        self.take_text(text)
        return True

    def take_text(self, text: str) -> None:
        """A scanned or typed code: a vehicle, its pack, or something that is neither."""
        self.work.scan.clear_refusal()
        if self.work.pairing.isVisible() or not text.strip():
            return  # Enter once too often after a save says nothing
        try:
            found = identify(self._app.store, text)
            if isinstance(found.thing, Person):
                self._session.arrive(found.thing)
            elif isinstance(found.thing, Vehicle):
                self._take_vehicle(found)
            else:
                self._take_pack(as_pack(found))
            self.work.scan.edit.clear()
        except FleetcareError as error:
            self.work.scan.refuse(error)
            self.work.scan.edit.selectAll()
            self.work.scan.edit.setFocus()

    def has_pack(self, code: str) -> bool:
        """True while this pack is the one on the bench."""
        return self._pack is not None and self._pack.code == code

    def _take_vehicle(self, found: Identified) -> None:
        assert isinstance(found.thing, Vehicle)
        if self._has_readings():
            self.ask_clear()
            return
        self._clear()
        self._wait_for_pack(found.thing)
        fixed = fixed_pack(self._app.store, found.code)
        if fixed is not None:
            self._take_pack(fixed)

    def _take_pack(self, pack: Pack) -> None:
        self._seen = self._changes.position
        if self._vehicle is not None:
            pairing = pair(self._app.store, self._vehicle.code, pack.code)
            if pairing.kind is PairingKind.REPLACES:
                self._pack = None
                self.work.pairing.ask(pack.code, self._vehicle.code, pairing)
                return
            self._moves = ()
        self._show_pack(pack)

    def _paired(self, moves: tuple[FoundIn, ...]) -> None:
        self._moves = moves
        with self._app.store.view() as view:
            pack = view.thing("pack", moves[-1].pack)
        self._show_pack(pack)

    def _not_that_pack(self) -> None:
        """The wrong pack was scanned: the vehicle stays, and its pack is asked for again."""
        vehicle = self._vehicle
        self._clear()
        if vehicle is not None:
            self._wait_for_pack(vehicle)

    def _wait_for_pack(self, vehicle: Vehicle) -> None:
        self._vehicle = vehicle
        self.work.subject.setText(say(msg("bench.waiting_pack", vehicle=vehicle.code)))

    def _show_pack(self, pack: Pack) -> None:
        self._model, told = pack_told(self._app, pack)
        self._pack = pack
        self.work.drafts.hide()
        person = self._session.person
        self._owner = self._owner or (person.code if person else "")
        where = self._vehicle.code if self._vehicle else word("bench.no_vehicle")
        self.work.subject.setText(f"{pack.code} · {where}")
        self.work.details.setText(told)
        self.work.verdict.wait()
        self._enable(True)
        self.work.rest.setFocus()

    def _enable(self, on: bool) -> None:
        for part in (self.work.look, self.work.readings, self.work.save, self.work.clear):
            part.setEnabled(on)

    # readings

    def _press_good(self) -> None:
        if self._pack is not None and self.currentWidget() is self.work:
            self.work.look.press_good()

    def _press_danger(self, number: int) -> None:
        if self._pack is not None and self.currentWidget() is self.work:
            self.work.look.press_danger(number)

    def _rested_next(self) -> None:
        self._timer.start()
        self.work.rested.edit.setFocus()
        self.work.rested.edit.selectAll()

    def _next(self, field: Field, following: Field) -> None:
        if field is self.work.loaded and not field.text.strip():
            self.save()
            return
        try:
            parse_volts(field.text, field="")
        except EntryRefused as error:
            if error.message.key != "entry.negative_v":
                field.refuse(error)
                return
        following.edit.setFocus()
        following.edit.selectAll()

    def _edited(self) -> None:
        self.odd.forget()
        self.work.wrong.hide()
        self._timer.start()
        self._keeper.touched()

    def _has_readings(self) -> bool:
        return bool(self.work.rested.text.strip() or self.work.loaded.text.strip() or self.work.remark.text.strip())

    def _check(self, at: dt.datetime) -> VoltageCheck:
        """The check as typed; EntryRefused names the field."""
        assert self._pack is not None
        vehicle = self._vehicle.code if self._vehicle else None
        return check_typed(self.work, self._read_under(), self._pack.code, vehicle, at, self.odd.upheld)

    def _look(self, at: dt.datetime) -> LookOver | None:
        found = self.work.look.found
        if found is None or self._pack is None:
            return None
        return LookOver(self._pack.code, at, self._vehicle.code if self._vehicle else None, found)

    def preview(self) -> None:
        """Show what the check would mean; what is not complete yet stays quiet."""
        if self._pack is None or not self.work.rested.text.strip():
            self.work.verdict.wait()
            return
        at = self._at()
        try:
            check = self._check(at)
            preview = record.preview_check(self._app.store, self._app.clock, check, self._look(at), self._moves)
        except FleetcareError:
            self.work.verdict.wait()
            return
        self.work.verdict.preview(check, preview)

    def save(self) -> None:
        """Save the check, or say beside the field what is missing."""
        if self._pack is None or self.currentWidget() is not self.work:
            return
        if self._timer.isActive():  # typed faster than the verdict follows: none of another reading stays beside it
            self._timer.stop()
            self.preview()
        author = self._author()
        at = self._at()
        look_over = self._look(at)
        try:
            check = self._check(at)
            if look_over is None:
                self.work.look.ask(self.work.focusWidget())
                return
            self._store_check(author, check, look_over)
        except FleetcareError as error:
            self._refuse(error)

    def _store_check(self, author: Author, check: VoltageCheck, look_over: LookOver) -> None:
        app = self._app
        preview = record.preview_check(app.store, app.clock, check, look_over, self._moves)
        self.work.verdict.preview(check, preview)
        open_ = self.odd.still_open(preview.questions)
        if open_:
            self.odd.ask(check.pack, open_)
            return
        author = replace(author, draft_id=self._settled())
        done = record.record_check(app.store, app.clock, author, check, look_over, self._moves, self.odd.repeats)
        self._keeper.saved()
        self._clear()
        self.work.verdict.saved(done, check.pack)
        self.work.decision.ask(check.pack)
        self.work.scan.edit.setFocus()
        self._changes.tell(done)
        self.kept.emit(check.pack)

    def _refuse(self, error: FleetcareError) -> None:
        """Beside the field it belongs to, or under the buttons."""
        self._keeper.touched()
        if error.message.key == "entry.negative_v":
            assert self._pack is not None
            self.odd.ask_reversed(self._pack.code, error)
            return
        self.work.refuse(error)

    # danger

    def _danger(self) -> None:
        if self._pack is None:
            return
        found = self.work.look.found or ()
        self.stop.ask(self._pack.code, tuple(item for item in found if item.danger))
        self.setCurrentWidget(self.stop)
        self.stop.place.edit.setFocus()

    def _back_from_stop(self) -> None:
        for item, box in self.work.look.boxes.items():
            if item.danger:
                box.setChecked(False)
        self.setCurrentWidget(self.work)
        self.work.rest.setFocus()

    def _quarantine(self, place: str) -> None:
        author = replace(self._author(), draft_id=self._settled())
        at = self._at()
        look_over = self._look(at)
        assert look_over is not None
        remark = say(msg("stop.placed", place=place)) if place else ""
        look_over = LookOver(look_over.pack, at, look_over.vehicle, look_over.found, remark)
        try:
            done = record.record_look_over(self._app.store, self._app.clock, author, look_over, self._moves, place)
        except FleetcareError as error:
            self.stop.wrong.setText(say(error.message))
            self._keeper.touched()
            return
        self._keeper.saved()
        self._clear()
        self.setCurrentWidget(self.work)
        self.work.verdict.saved(done)
        self.work.scan.edit.setFocus()
        self._changes.tell(done)
        self.quarantined.emit(look_over.pack)

    # clearing

    def ask_clear(self) -> None:
        """Esc: nothing typed is thrown away without a second press on purpose."""
        if self.currentWidget() is self.conditions and self._session.bench_ready:
            self._step()
            return
        if self.currentWidget() is not self.work:
            return
        if self.work.pairing.isVisible():
            self._not_that_pack()
            return
        if not self._has_readings() or self._pack is None:
            self._clear()
            self.work.scan.edit.setFocus()
            return
        self.work.wrong.setText(say(msg("bench.clear_ask", pack=self._pack.code)))
        self.work.wrong.show()
        if self.work.clear.property("sure"):
            self._clear()
            self.work.scan.edit.setFocus()
        else:
            self.work.clear.setProperty("sure", True)
            self.work.clear.setText(word("bench.discard"))
            self.work.clear.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: any other key takes the threat of discarding back."""
        self._unsure()
        super().keyPressEvent(event)

    def _unsure(self) -> None:
        self.work.clear.setProperty("sure", False)
        self.work.clear.setText(word("bench.clear"))

    def _clear(self) -> None:
        self._keeper.forget()
        self._taken = None
        self._owner = ""
        self._vehicle = self._pack = self._model = None
        self._moves = ()
        self.odd.forget()
        self.work.empty()
        self._fill_amps()
        self._unsure()
        self._enable(False)
        self._offer()
