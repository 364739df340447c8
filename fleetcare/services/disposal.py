"""The end of a pack's papers: worn-out packs handed over, and weight, receipt and waste chain of those that are gone."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal

from fleetcare.domain.checks import FoundIn, HoldClass
from fleetcare.domain.disposing import Disposed
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Pack, PackStanding
from fleetcare.domain.quarantine import Collected
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services import record
from fleetcare.services.quarantine import may_write_off
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known, own_badge
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

_PAPERS = ("weight", "receipt", "waste_chain")


@dataclass(frozen=True, slots=True)
class DisposalLine:
    """One pack that is written off, with its papers; `open` names those that are missing."""

    pack: str
    model_name: str
    serial: str
    gone_at: dt.datetime | None
    carrier: str
    consignment: str
    weight_kg: Decimal | None
    receipt: str
    plant: str
    waste_chain: str
    open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DisposalPage:
    """All written-off packs and the sum of what is on record."""

    lines: tuple[DisposalLine, ...]
    weight_kg: Decimal

    @property
    def told(self) -> Message:
        """How many, and how many with papers still open."""
        still = sum(bool(line.open) for line in self.lines)
        return msg("disposal.left", number=len(self.lines), open=still, weight=str(self.weight_kg))


def record_disposed(store: Store, clock: Clock, author: Author, badge: str, given: Disposed) -> Recorded:
    """Hand over a pack that is not quarantined, or keep papers of one that is gone already.

    For a manager or somebody who may release, with the own badge.  A handed-over pack is written off for good.
    """
    now = clock()
    with store.transaction() as tx:
        may_write_off(author, now, tx)
        pack: Pack = known(tx, "pack", given.pack)
        record.refuse_future(given.done_at, now)
        gone = pack.standing is PackStanding.WRITTEN_OFF
        if gone:
            _papers_only(given)
        else:
            _complete(tx, pack, given)
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        writer.add("disposed", given, given.done_at)
        if not gone:
            writer.move(FoundIn(pack.code, None, given.done_at, shelf=f"{given.carrier}, {given.consignment}"))
            writer.add_thing("pack", replace(pack, standing=PackStanding.WRITTEN_OFF, shelf=""))
        left = _left(_line(tx, tx.thing("pack", pack.code)))
        key = "disposal.kept" if gone else "disposal.handed"
        return writer.recorded(msg(key, pack=pack.code, consignment=given.consignment, left=left))


def _papers_only(given: Disposed) -> None:
    if given.weight_kg is None and not any(one.strip() for one in (given.receipt, given.plant, given.waste_chain)):
        raise EntryRefused("disposal.needs_any", field="weight")


def _complete(view: View, pack: Pack, given: Disposed) -> None:
    if pack.standing not in (PackStanding.IN_SERVICE, PackStanding.RETIRED):
        raise EntryRefused(f"entry.{pack.standing.value}", field="pack", pack=pack.code)
    if any(h.hold_class is HoldClass.DANGER for h in view.open_holds(("pack", pack.code))):
        raise NotAllowed("disposal.danger", field="pack", pack=pack.code)
    for field in ("carrier", "consignment"):
        if not getattr(given, field).strip():
            raise EntryRefused(f"disposal.needs_{field}", field=field)
    if given.weight_kg is None:
        raise EntryRefused("disposal.needs_weight", field="weight")


def _left(line: DisposalLine) -> Message:
    if not line.open:
        return msg("disposal.whole")
    return msg("disposal.open", open=tuple(msg(f"disposal.open_{one}") for one in line.open))


def _line(view: View, pack: Pack) -> DisposalLine:
    """What is on record, the newest word on each paper; a collection under quarantine counts too."""
    found: dict[str, object] = {
        "carrier": "",
        "consignment": "",
        "weight_kg": None,
        "receipt": "",
        "plant": "",
        "waste_chain": "",
    }
    gone_at = None
    events = [*view.records_of("collected", ("pack", pack.code)), *view.records_of("disposed", ("pack", pack.code))]
    for event in sorted(events, key=lambda one: one.position):
        body = event.body
        assert isinstance(body, (Collected, Disposed))
        gone_at = gone_at or event.done_at
        for name in found:
            value = getattr(body, name, None)
            if value:
                found[name] = value
    open_ = tuple(name for name in _PAPERS if not found["weight_kg" if name == "weight" else name])
    model = view.thing("pack_model", pack.model).name
    return DisposalLine(pack.code, model, pack.serial, gone_at, open=open_ if gone_at else (), **found)  # type: ignore[arg-type]


def disposal_page(store: Store) -> DisposalPage:
    """Every written-off pack that was handed to a carrier, those with open papers first, then the newest."""
    with store.view() as view:
        gone = {e.body.pack for kind in ("collected", "disposed") for e in view.records_of(kind)}  # type: ignore[attr-defined]
        lines = [_line(view, view.thing("pack", code)) for code in gone]
    lines.sort(key=lambda one: (not one.open, -one.gone_at.timestamp() if one.gone_at else 0.0, one.pack))
    return DisposalPage(tuple(lines), sum((one.weight_kg for one in lines if one.weight_kg), Decimal(0)))


def open_words(line: DisposalLine) -> str:
    """The papers that are still missing, in words."""
    return ", ".join(word(f"disposal.open_{one}") for one in line.open)
