"""Packs at their maker: sent, overdue, back, and the first checks before one is fitted again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from fleetcare.domain import away
from fleetcare.domain.away import BackAs, CameBack, SentToMaker
from fleetcare.domain.checks import FoundIn, Hold, HoldClass, LookOver, Release, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.identity import Commissioned
from fleetcare.domain.intake import misfit
from fleetcare.domain.labels import is_code
from fleetcare.domain.packs import Pack, PackStanding
from fleetcare.domain.quarantine import HeadAnswer, TransportHead
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services import record
from fleetcare.services.commissioning import keep_photo
from fleetcare.services.labelling import packs_with_serial, tidy_serial
from fleetcare.services.quarantine import may_write_off, release_or_manager
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known, known_pack, own_badge
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View
from fleetcare.store.values import StoredEvent, StoredHold


@dataclass(frozen=True, slots=True)
class MakerLine:
    """One pack at its maker, with how long the return is overdue (0: not yet)."""

    pack: str
    model_name: str
    serial: str
    sent: SentToMaker
    overdue_days: int
    expected: Message
    person: str
    """Who put it on record as sent."""


@dataclass(frozen=True, slots=True)
class FirstPapers:
    """What is noted with the first checks of a pack from the maker.  `photos`: JPEG or PNG bytes, or the reason why none."""

    pack: str
    marks: tuple[str, ...] = ()
    warranty_end: dt.date | None = None
    warranty_clause: str = ""
    charger: str = ""
    photos: tuple[bytes, ...] = ()
    no_photo_reason: str = ""
    remark: str = ""


def record_sent(store: Store, clock: Clock, author: Author, sent: SentToMaker) -> Recorded:
    """A pack left for its maker.  For a manager, or somebody who may release; a quarantined one needs the six heads."""
    now = clock()
    with store.transaction() as tx:
        release_or_manager(author, now, tx, "maker.not_yours")
        pack = known_pack(tx, sent.pack)
        record.refuse_future(sent.done_at, now)
        if any(h.hold_class is HoldClass.DANGER for h in tx.open_holds(("pack", sent.pack))):
            answers = dict(sent.heads)
            for number, head in enumerate(TransportHead, start=1):
                if answers.get(head.value) not in list(HeadAnswer):
                    raise EntryRefused("maker.needs_heads", field="heads", pack=sent.pack, head_number=number)
        writer = Writer(tx, author, now)
        writer.add("sent_to_maker", sent, sent.done_at)
        writer.move(FoundIn(sent.pack, None, sent.done_at, shelf=f"{sent.maker}, {sent.return_number}"))
        writer.add_thing("pack", replace(pack, standing=PackStanding.AT_MAKER))
        return writer.recorded(msg("maker.sent", pack=sent.pack, maker=sent.maker, return_number=sent.return_number))


def last_sent(view: View, pack: str) -> StoredEvent | None:
    """The newest time a pack was sent to its maker, or None."""
    events = view.records_of("sent_to_maker", ("pack", pack))
    return events[-1] if events else None


def record_back(
    store: Store, clock: Clock, author: Author, back: CameBack, shelf: str = "", model: str = "", badge: str = ""
) -> Recorded:
    """Note what the maker sent.  A repaired pack waits for its first checks; another pack is an identity of its own,
    held until its first checks, and the one it replaces is closed for good.  `model`: of another pack, when it differs.

    A pack that the maker kept or replaced is written off by it: that is for a manager, or somebody who may release,
    with the own `badge` or PIN.
    """
    now = clock()
    written_off = back.outcome in (BackAs.KEPT, BackAs.REPLACED)
    with store.transaction() as tx:
        if written_off:
            may_write_off(author, now, tx)
        else:
            record.may_check(author, now, tx)
        pack: Pack = known(tx, "pack", back.pack)
        if pack.standing is not PackStanding.AT_MAKER:
            raise EntryRefused("maker.not_there", field="pack", pack=back.pack)
        record.refuse_future(back.done_at, now)
        if back.outcome is BackAs.REPLACED:
            _refuse_taken(tx, pack, back)
        if written_off:
            own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        back_id = writer.add("came_back", back, back.done_at)
        place = shelf.strip()
        if back.outcome in (BackAs.REPAIRED, BackAs.UNCHANGED):
            writer.add_thing("pack", replace(pack, standing=PackStanding.IN_SERVICE))
            writer.move(FoundIn(pack.code, None, back.done_at, shelf=place))
            _hold(tx, writer, back, pack.code, back_id)
            return writer.recorded(msg(f"maker.back_{back.outcome.value}", pack=pack.code))
        writer.add_thing("pack", replace(pack, standing=PackStanding.WRITTEN_OFF, shelf=""))
        if back.outcome is BackAs.KEPT or back.replacement is None:
            return writer.recorded(msg("maker.back_kept", pack=pack.code))
        wanted = model or pack.model
        known(tx, "pack_model", wanted)
        new = Pack(back.replacement, wanted, back.replacement_serial.strip(), now.date(), shelf=place, depot=pack.depot)
        writer.add_thing("pack", new)
        if place:
            writer.move(FoundIn(new.code, None, back.done_at, shelf=place))
        _hold(tx, writer, back, new.code, back_id)
        return writer.recorded(msg("maker.back_replaced", pack=pack.code, replacement=new.code))


def _hold(tx: Transaction, writer: Writer, back: CameBack, code: str, cause: str) -> None:
    ruling = away.back_ruling(back)
    assert ruling is not None
    writer.add("hold", Hold("pack", code, ruling.hold_class, back.done_at, ruling.reason, cause=cause), back.done_at)


def _refuse_taken(tx: Transaction, pack: Pack, back: CameBack) -> None:
    code = back.replacement or ""
    if not is_code(code) or code != code.upper() or "*" in code or "/" in code:
        raise EntryRefused("maker.needs_replacement", field="replacement")
    if tx.thing("pack", code) is not None:
        raise EntryRefused("commission.code_taken", field="replacement", pack=code)
    if tidy_serial(back.replacement_serial) == tidy_serial(pack.serial):
        raise EntryRefused(
            "maker.same_serial", field="replacement_serial", serial=back.replacement_serial.strip(), pack=pack.code
        )
    owners = packs_with_serial(tx, back.replacement_serial)
    if owners:
        raise EntryRefused(
            "serial.clash", field="replacement_serial", serial=back.replacement_serial.strip(), pack=owners[0].code
        )


def first_checks_of(view: View, pack: str) -> StoredHold | None:
    """The hold of a pack from the maker that waits for its first checks, or None."""
    return next((h for h in view.open_holds(("pack", pack)) if h.reason.key in away.FIRST_CHECKS), None)


def record_first_checks(
    store: Store, clock: Clock, author: Author, badge: str, papers: FirstPapers, baseline: VoltageCheck,
    look_over: LookOver,
) -> Recorded:  # fmt: skip
    """The first rested and loaded check and inspection of a pack from the maker, with its papers.

    Needs the level that may release, and the own badge.  A pass ends the hold, and with a repaired pack everything
    it had been held for when it was sent, on the word of the maker's report; a recall stays.
    """
    now = clock()
    if baseline.loaded_v is None:
        raise EntryRefused("commission.needs_loaded", field="loaded_v")
    for field in ("warranty_clause", "charger"):
        if not getattr(papers, field).strip():
            raise EntryRefused(f"commission.needs_{field}", field=field)
    if not papers.photos and not papers.no_photo_reason.strip():
        raise EntryRefused("commission.needs_photo", field="photo")
    with store.transaction() as tx:
        record.may_release(author, now, tx)
        pack = known_pack(tx, papers.pack)
        held = first_checks_of(tx, papers.pack)
        if held is None:
            raise EntryRefused("maker.no_first_checks", field="pack", pack=papers.pack)
        if held.reason.key == "maker.first_checks" and not any(mark.strip() for mark in papers.marks):
            raise EntryRefused("commission.needs_marks", field="marks")
        _refuse_wrong_charger(tx, papers.charger, pack)
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        before = tx.open_holds(("pack", pack.code))
        bench = record.bench_of(tx, baseline, now)
        verdict, _told = record.write_check(tx, writer, bench, baseline, look_over)
        digests = tuple(keep_photo(tx, content) for content in papers.photos)
        report = str(held.reason.value("report"))
        marks = tuple(mark.strip() for mark in papers.marks if mark.strip())
        body = Commissioned(
            pack.code, now, marks, report, papers.warranty_end, papers.warranty_clause.strip(), papers.charger, digests,
            papers.no_photo_reason.strip(), writer.check_id,
        )  # fmt: skip
        writer.add("commissioned", body, now)
        level = msg(f"verdict.{verdict.level.value}")
        if not verdict.valid or verdict.level not in (VerdictLevel.PASS, VerdictLevel.WATCH):
            return writer.recorded(msg("maker.still_held", pack=pack.code, verdict=level), verdict=verdict)
        sent = last_sent(tx, pack.code)
        why = say(msg("maker.ended", report=report))
        for one in before:
            earlier = sent is not None and one.position < sent.position and not one.reason.key.startswith("recall")
            if one.hold_id == held.hold_id or earlier:
                writer.add("release", Release(one.hold_id, now, why), now)
        return writer.recorded(msg("maker.checked", pack=pack.code, verdict=level), verdict=verdict)


def _refuse_wrong_charger(tx: Transaction, code: str, pack: Pack) -> None:
    wrong = misfit(known(tx, "charger", code), tx.thing("pack_model", pack.model))
    if wrong is not None:
        raise NotAllowed(wrong.key, field="charger", **dict(wrong.values))


def maker_lines(view: View, now: dt.datetime) -> tuple[MakerLine, ...]:
    """Packs at their maker, the longest overdue first, then by the day they are expected."""
    lines, names = [], view.person_names()
    for code in {e.body.pack for e in view.records_of("sent_to_maker")}:  # type: ignore[attr-defined]
        pack: Pack = view.thing("pack", code)
        sent = last_sent(view, code) if pack.standing is PackStanding.AT_MAKER else None
        if sent is None:
            continue
        body: SentToMaker = sent.body  # type: ignore[assignment]
        late = away.overdue(body.expected_on, now.date())
        told = away.late_text(body.expected_on, now.date())
        model, person = view.thing("pack_model", pack.model), names.get(sent.by, sent.by)
        lines.append(MakerLine(pack.code, model.name, pack.serial, body, late, told, person))
    return tuple(sorted(lines, key=lambda one: (-one.overdue_days, one.sent.expected_on, one.pack)))


def waiting_for_checks(view: View) -> tuple[str, ...]:
    """Packs from the maker that wait for their first checks, by code."""
    return tuple(
        sorted(h.subject for h in view.open_holds() if h.subject_class == "pack" and h.reason.key in away.FIRST_CHECKS)
    )
