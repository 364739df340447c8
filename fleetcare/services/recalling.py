"""Recalls: entering a notice, what it means for every pack of the fleet, and how a pack gets out of it again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from fleetcare.domain import recalls
from fleetcare.domain.checks import HoldClass, Release
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Pack, PackStanding, Role
from fleetcare.domain.quarantine import Collected
from fleetcare.domain.recalls import Match, RecallCleared, RecallNotice, RecallRuledOut, RecallWithdrawn, by_recall
from fleetcare.domain.wording import Message, msg
from fleetcare.services.labelling import packs_with_serial
from fleetcare.services.people import has_role, may
from fleetcare.services.recall_watch import hold_for, model_known, notices_in_force
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known_pack, own_badge
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View
from fleetcare.store.values import Placement, StoredEvent, StoredHold


class Where(StrEnum):
    """Where a pack that is meant is, in the order of the action sheet."""

    VEHICLE = "vehicle"
    SPARE = "spare"
    NOWHERE = "nowhere"
    QUARANTINE = "quarantine"
    RETIRED = "retired"
    WRITTEN_OFF = "written_off"


@dataclass(frozen=True, slots=True)
class RecallLine:
    """One pack that a notice means or cannot rule out.  `held` while its hold stands; `state` says the rest."""

    pack: Pack
    model_name: str
    found: Match
    where: Where
    place: str
    held: bool
    state: Message


@dataclass(frozen=True, slots=True)
class RecallPage:
    """One notice with every pack it is about, as page, sheet and command line show it."""

    notice: RecallNotice
    entered_by: str
    lines: tuple[RecallLine, ...]
    withdrawn: Message | None
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool

    @property
    def matched(self) -> int:
        """How many packs the notice means."""
        return sum(line.found is Match.MATCHED for line in self.lines)

    @property
    def not_ruled_out(self) -> int:
        """How many packs cannot be ruled out."""
        return sum(line.found is Match.NOT_RULED_OUT for line in self.lines)

    @property
    def vehicles(self) -> tuple[str, ...]:
        """Vehicles that are grounded because a held pack is in them."""
        return tuple(sorted({one.place for one in self.lines if one.held and one.where is Where.VEHICLE}))

    @property
    def open(self) -> int:
        """How many packs are still held for it."""
        return sum(line.held for line in self.lines)

    def at(self, where: Where) -> tuple[RecallLine, ...]:
        """The lines of one kind of place."""
        return tuple(line for line in self.lines if line.where is where)


def recall_pages(store: Store, clock: Clock) -> tuple[RecallPage, ...]:
    """Every notice, the newest first; withdrawn ones last."""
    now = clock()
    with store.view() as view:
        newest: dict[str, StoredEvent] = {}
        for event in view.records_of("recall_notice"):
            newest.pop(event.body.number, None)  # type: ignore[attr-defined]
            newest[event.body.number] = event  # type: ignore[attr-defined]
        pages = [_page(store, view, event, now) for event in reversed(newest.values())]
        return tuple(sorted(pages, key=lambda one: one.withdrawn is not None))


def recall_page(store: Store, clock: Clock, number: str, position: int | None = None) -> RecallPage:
    """One notice by its number; EntryRefused where none was entered."""
    now = clock()
    with store.view(position) as view:
        return _page(store, view, _entry(view, number), now)


def preview_notice(store: Store, clock: Clock, notice: RecallNotice) -> RecallPage:
    """What a notice would mean, before it is entered; nothing is written."""
    now = clock()
    with store.view() as view:
        _refuse_unknown_models(view, notice)
        lines = _lines(view, notice, [])
        return RecallPage(
            notice, "", lines, None, now, view.position, view.head().root_hex, store.fleet_name, store.demo
        )


def _entry(view: View, number: str) -> StoredEvent:
    wanted = number.strip().casefold()
    events = [e for e in view.records_of("recall_notice") if e.body.number.casefold() == wanted]  # type: ignore[attr-defined]
    if not events:
        raise EntryRefused("recall.unknown", field="number", number=number.strip())
    return events[-1]


def _page(store: Store, view: View, event: StoredEvent, now: dt.datetime) -> RecallPage:
    notice = event.body
    assert isinstance(notice, RecallNotice)
    names = view.person_names()
    withdrawn = None
    for end in view.records_of("recall_withdrawn"):
        assert isinstance(end.body, RecallWithdrawn)
        if end.body.number == notice.number and end.position > event.position:
            withdrawn = msg("recall.withdrawn_by", person=names.get(end.by, end.by), on_date=end.done_at.date(),
                            reason=end.body.reason)  # fmt: skip
    answers = [
        one
        for kind in ("recall_cleared", "recall_ruled_out")
        for one in view.records_of(kind)
        if one.body.number == notice.number  # type: ignore[attr-defined]
    ]
    return RecallPage(
        notice, names.get(event.by, event.by), _lines(view, notice, answers), withdrawn, now, view.position,
        view.head().root_hex, store.fleet_name, store.demo,
    )  # fmt: skip


def _lines(view: View, notice: RecallNotice, answers: Sequence[StoredEvent]) -> tuple[RecallLine, ...]:
    names = view.person_names()
    models = view.things("pack_model")
    placements = view.placements()
    holds: dict[str, list[StoredHold]] = {}
    for hold in view.open_holds():
        if hold.subject_class == "pack":
            holds.setdefault(hold.subject, []).append(hold)
    answered: dict[str, StoredEvent] = {}
    for event in answers:
        answered[event.body.pack] = event  # type: ignore[attr-defined]
    lines = []
    for code, pack in view.things("pack").items():
        found = recalls.match(notice, pack, model_known=model_known(view, pack))
        mine = [h for h in holds.get(code, []) if by_recall(h.reason) and h.reason.value("number") == notice.number]
        if found is Match.OUT and not mine and code not in answered:
            continue
        where, place = _where(view, pack, placements.get(code), holds.get(code, []))
        model = models.get(pack.model)
        state = _state(mine, answered.get(code), where, names)
        lines.append(RecallLine(pack, model.name if model else pack.model, found, where, place, bool(mine), state))
    order = list(Where)
    return tuple(sorted(lines, key=lambda one: (order.index(one.where), one.place, one.pack.code)))


def _where(view: View, pack: Pack, placed: Placement | None, holds: list[StoredHold]) -> tuple[Where, str]:
    """The kind of place and the place in words."""
    place = pack.shelf if placed is None else placed.vehicle or placed.shelf
    if pack.standing is PackStanding.WRITTEN_OFF:
        gone = view.records_of("collected", ("pack", pack.code))
        if gone and isinstance(last := gone[-1].body, Collected):
            return Where.WRITTEN_OFF, f"{last.carrier}, {last.consignment}, {gone[-1].done_at:%Y-%m-%d}"
        return Where.WRITTEN_OFF, place
    if pack.standing is PackStanding.RETIRED:
        return Where.RETIRED, place
    dangers = [h for h in holds if h.hold_class is HoldClass.DANGER and not by_recall(h.reason)]
    if dangers:
        return Where.QUARANTINE, next((h.place for h in reversed(dangers) if h.place), place)
    if placed is not None and placed.vehicle is not None:
        return Where.VEHICLE, placed.vehicle
    return (Where.SPARE, place) if place else (Where.NOWHERE, "")


def _state(mine: list[StoredHold], answer: StoredEvent | None, where: Where, names: dict[str, str]) -> Message:
    if mine:
        return msg("recall.state_held", since_at=min(h.since for h in mine))
    if answer is not None:
        person, on_date = names.get(answer.by, answer.by), answer.done_at.date()
        if isinstance(answer.body, RecallCleared):
            return msg("recall.state_cleared", person=person, on_date=on_date, remedy=answer.body.remedy)
        return msg("recall.state_ruled_out", person=person, on_date=on_date)
    return msg("recall.state_gone" if where is Where.WRITTEN_OFF else "recall.state_free")


# deeds


@dataclass(frozen=True, slots=True)
class RecallEntered:
    """What entering a notice did: the page as it is now, and the packs that were held by it just now."""

    recorded: Recorded
    page: RecallPage
    held_now: tuple[str, ...]


def enter_notice(store: Store, clock: Clock, author: Author, notice: RecallNotice) -> RecallEntered:
    """Enter a maker's notice.  Anyone may; every pack that is meant or cannot be ruled out is held at once.

    The same number again is a newer wording: packs that it means in addition are held, none is freed.
    """
    now = clock()
    with store.transaction() as tx:
        _refuse_unknown_models(tx, notice)
        known = {number.casefold(): number for number in notices_in_force(tx)}
        number = notice.number.strip()
        notice = replace(notice, number=known.get(number.casefold(), number), done_at=now)
        writer = Writer(tx, author, now)
        writer.add("recall_notice", notice, now)
        held = [
            pack.code
            for pack in tx.things("pack").values()
            if pack.standing is not PackStanding.WRITTEN_OFF
            and hold_for(tx, writer.add, pack, notice, None, now) is not None
        ]
        page = _page(store, tx, _entry(tx, notice.number), now)
        done = writer.recorded(_told(page, held))
    return RecallEntered(done, page, tuple(sorted(held)))


def _told(page: RecallPage, held: list[str]) -> Message:
    """What entering it did; a pack that was in quarantine already only gains the reason and is counted apart."""
    there = len(page.at(Where.QUARANTINE))
    gained = sum(line.pack.code in held for line in page.at(Where.QUARANTINE))
    return msg(
        "record.recall", number=page.notice.number, matched=page.matched, unsure=page.not_ruled_out,
        held=len(held) - gained, vehicles=len(page.vehicles), quarantine=there, gone=len(page.at(Where.WRITTEN_OFF)),
    )  # fmt: skip


def _refuse_unknown_models(view: View, notice: RecallNotice) -> None:
    known = view.codes("pack_model")
    odd = next((model for model in notice.models if model not in known), None)
    if odd is not None:
        raise EntryRefused("recall.unknown_model", field="models", code=odd, models=", ".join(sorted(known)))


def models_of(view: View, typed: str) -> tuple[str, ...]:
    """Codes of pack models named in `typed` by code or name, with commas between."""
    models = view.things("pack_model")
    found = []
    for part in filter(None, (one.strip() for one in typed.replace(";", ",").split(","))):
        wanted = part.casefold()
        code = next((c for c, m in models.items() if wanted in (c.casefold(), m.name.casefold())), None)
        if code is None:
            raise EntryRefused("recall.unknown_model", field="models", code=part, models=", ".join(sorted(models)))
        found.append(code)
    return tuple(dict.fromkeys(found))


def _holds_of(view: View, number: str, pack: str) -> list[StoredHold]:
    return [
        h
        for h in view.open_holds(("pack", pack))
        if by_recall(h.reason) and str(h.reason.value("number")).casefold() == number.strip().casefold()
    ]


def clear_recall(
    store: Store, clock: Clock, author: Author, number: str, pack: str, remedy: str, reference: str, badge: str
) -> Recorded:
    """Record that the maker's remedy was done on a pack, and end its hold for this notice.

    Needs the level that may release, the own badge or PIN, the number of the notice and the remedy.
    """
    now = clock()
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_RELEASE)
        known_pack(tx, pack)
        if not number.strip():
            raise EntryRefused("recall.needs_number", field="number")
        holds = _holds_of(tx, number, pack)
        if not holds:
            raise EntryRefused("recall.not_held", field="pack", pack=pack, number=number.strip())
        if not remedy.strip():
            raise EntryRefused("recall.needs_remedy", field="remedy")
        own_badge(author, badge, tx)
        stated = str(holds[0].reason.value("number"))
        writer = Writer(tx, author, now)
        body = RecallCleared(stated, pack, remedy.strip(), reference.strip(), now)
        writer.add("recall_cleared", body, now)
        _release(tx, writer, holds, f"{stated}: {remedy.strip()}")
        return writer.recorded(msg("record.recall_cleared", pack=pack, number=stated))


def _release(tx: Transaction, writer: Writer, holds: list[StoredHold], reason: str) -> None:
    for hold in holds:
        writer.add("release", Release(hold.hold_id, writer.now, reason), writer.now)


def rule_out(
    store: Store, clock: Clock, author: Author, number: str, pack_code: str, serial_read: str, date_code_read: str,
    badge: str, remark: str = "",
) -> Recorded:  # fmt: skip
    """Note what was read on the case of a held pack.  Outside the notice it is free of it; inside it stays held.

    The serial and date code become the pack's own.  Needs the level that may release and the own badge
    or PIN, since it ends a hold.
    """
    now = clock()
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_RELEASE)
        pack = known_pack(tx, pack_code)
        holds = _holds_of(tx, number, pack_code)
        if not holds:
            raise EntryRefused("recall.not_held", field="pack", pack=pack_code, number=number.strip())
        if not serial_read.strip() and not date_code_read.strip():
            raise EntryRefused("recall.needs_reading", field="serial")
        own_badge(author, badge, tx)
        owners = [one for one in packs_with_serial(tx, serial_read) if one.code != pack_code] if serial_read else []
        if owners:
            raise EntryRefused("serial.clash", field="serial", serial=serial_read.strip(), pack=owners[0].code)
        read = replace(
            pack, serial=serial_read.strip() or pack.serial, date_code=date_code_read.strip() or pack.date_code
        )
        stated = str(holds[0].reason.value("number"))
        notice = notices_in_force(tx)[stated]
        found = recalls.match(notice, read, model_known=model_known(tx, read))
        if found is Match.NOT_RULED_OUT:
            raise EntryRefused("recall.still_unsure", field="serial", pack=pack_code, number=stated)
        writer = Writer(tx, author, now)
        if read != pack:
            writer.add_thing("pack", read)
        if found is Match.MATCHED:
            return writer.recorded(
                msg("record.recall_is_meant", pack=pack_code, number=stated, serial=read.serial or "—")
            )
        body = RecallRuledOut(stated, pack_code, read.serial, read.date_code, now, remark.strip())
        writer.add("recall_ruled_out", body, now)
        _release(tx, writer, holds, f"{stated}: {read.serial} {read.date_code}".strip())
        return writer.recorded(msg("record.recall_ruled_out", pack=pack_code, number=stated))


def withdraw_notice(store: Store, clock: Clock, author: Author, number: str, reason: str, badge: str) -> Recorded:
    """Take a notice back that was entered wrongly, or that the maker withdrew; frees every pack held for it.

    Only a manager may, with a reason and the own badge or PIN.
    """
    now = clock()
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("recall.manager_only", person=author.person.name)
        stated = _entry(tx, number).body.number  # type: ignore[attr-defined]
        if stated not in notices_in_force(tx):
            raise EntryRefused("recall.withdrawn_already", field="number", number=stated)
        if not reason.strip():
            raise EntryRefused("recall.needs_reason", field="reason")
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        holds = [
            hold
            for hold in tx.open_holds()
            if hold.subject_class == "pack" and by_recall(hold.reason) and hold.reason.value("number") == stated
        ]
        writer.add("recall_withdrawn", RecallWithdrawn(stated, reason.strip(), now), now)
        _release(tx, writer, holds, f"{stated}: {reason.strip()}")
        return writer.recorded(msg("record.recall_withdrawn", number=stated, count=len(holds)))
