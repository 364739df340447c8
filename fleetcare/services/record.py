"""Every deed: one function, one transaction, and what it changed.

A deed takes the store, the clock and its author first.  Its rule is checked again inside the
transaction, under the write lock, so that two people cannot slip past each other.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain import judging, questioning
from fleetcare.domain.away import FIRST_CHECKS
from fleetcare.domain.bays import Reading
from fleetcare.domain.checks import (
    FoundIn,
    Hold,
    HoldClass,
    LookOver,
    Release,
    Trip,
    VoltageCheck,
)
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.identity import ReadTwice
from fleetcare.domain.packs import (
    Level,
    Meter,
    Pack,
    PackModel,
    PackStanding,
    SiteRules,
    TestLoad,
    Thing,
)
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.records import Told
from fleetcare.domain.verdicts import Question, Verdict, VerdictLevel
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services import doubting, goes_out, releasing
from fleetcare.services.corrected import corrected_meanwhile
from fleetcare.services.counting import hold_by_count
from fleetcare.services.goes_out import GoesOut
from fleetcare.services.identify import PairingKind, pair_in, refuse_misfit
from fleetcare.services.meanwhile import meanwhile
from fleetcare.services.mended import last_mended_at
from fleetcare.services.pairing import refuse_beside
from fleetcare.services.people import may, refuse_stale, refuse_unless_allowed
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Comparison, PackSummary, Recorded
from fleetcare.services.standing import held_key, own_badge
from fleetcare.services.summary import compare
from fleetcare.services.writing import WITH_PACK, Writer, judged
from fleetcare.store.store import Store, Transaction, View
from fleetcare.store.values import LatestCheck, StoredCheck, StoredHold

FUTURE_GRACE = dt.timedelta(minutes=2)
"""How far ahead of this clock a done time may lie (two clocks are never equal)."""

HISTORY_READ = 16
"""Newest checks read to find the earlier one and the comparison."""


@dataclass(frozen=True, slots=True)
class Preview:
    """What a check would mean, before it is saved; nothing is written.  `next_due`, `held` and `stays` as in `Recorded`."""

    verdict: Verdict
    comparison: Comparison | None
    questions: tuple[Question, ...]
    next_due: dt.date | None
    held: bool = False
    stays: Message | None = None


@dataclass(frozen=True, slots=True)
class Bench:
    """Everything a check is judged by."""

    pack: Pack
    model: PackModel
    site: SiteRules
    meter: Meter
    load: TestLoad | None
    history: list[StoredCheck]

    def earlier(self, check: VoltageCheck) -> VoltageCheck | None:
        """The newest standing check of the same kind done before `check`."""
        before = [
            stored.check
            for stored in self.history
            if stored.void_position is None
            and stored.doubt is None
            and stored.check.kind is check.kind
            and stored.check.done_at < check.done_at
        ]
        return max(before, key=lambda one: one.done_at, default=None)

    def since(self, moment: dt.datetime | None) -> list[VoltageCheck]:
        """The standing checks of the history done after `moment` (None: all)."""
        standing = (one.check for one in self.history if one.void_position is None and one.doubt is None)
        return [one for one in standing if moment is None or one.done_at > moment]


def site_rules(view: View) -> SiteRules:
    """The site's settings, or the defaults where none were recorded."""
    return view.thing("site_rules", "SITE") or SiteRules()


def may_check(author: Author, now: dt.datetime, view: View | None = None) -> None:
    """Raises NotAllowed unless the author's level on that day (with `view`: as recorded now) covers checking."""
    may(view, author, now, Level.MAY_CHECK)


def may_release(author: Author, now: dt.datetime, view: View | None = None) -> None:
    """Raises NotAllowed unless the author's level on that day covers reset and release; `view` as above."""
    may(view, author, now, Level.MAY_RELEASE)


def preview_check(
    store: Store, clock: Clock, check: VoltageCheck, look_over: LookOver | None = None, moves: tuple[FoundIn, ...] = ()
) -> Preview:
    """The verdict, the comparison and the questions of a check as typed so far; `moves` as in `record_check`."""
    now = clock()
    with store.view() as view:
        bench = bench_of(view, check, now)
        verdict = _judge(bench, check, look_over)
        comparison = compare(bench.history, check)
        after = goes_out.after_check(view, check, verdict, now, moves)
        asked = _questions(view, bench, check)
    return Preview(verdict, comparison, asked, _due(verdict, after), after.held, after.stays)


def record_check(
    store: Store,
    clock: Clock,
    author: Author,
    check: VoltageCheck,
    look_over: LookOver | None = None,
    moves: tuple[FoundIn, ...] = (),
    repeats: tuple[ReadTwice, ...] = (),
) -> Recorded:
    """Store one voltage check with its visual inspection and verdict; hold the pack if it says so.

    `moves` answer where packs were found; without them a check in a vehicle that is recorded with
    other packs is refused.  `repeats` are questioned readings that were taken again; the first ones
    stay in the history beside those of the check.  Everything is one transaction.
    """
    now = clock()
    with store.transaction() as tx:
        may_check(author, now, tx)
        before = tx.position
        writer = Writer(tx, author, now)
        bench = bench_of(tx, check, now)
        for repeat in repeats:
            writer.add("read_twice", repeat, repeat.done_at)
        verdict, message = write_check(tx, writer, bench, check, look_over, moves)
        after = goes_out.as_recorded(tx, check.pack, now)
        told = meanwhile(tx, author, check.pack, before)
        return writer.recorded(
            message, verdict=verdict, next_due=_due(verdict, after), meanwhile=told, held=after.held, stays=after.stays
        )


def write_check(
    tx: Transaction,
    writer: Writer,
    bench: Bench,
    check: VoltageCheck,
    look_over: LookOver | None = None,
    moves: tuple[FoundIn, ...] = (),
) -> tuple[Verdict, Message]:
    """The writing part of `record_check`, within a transaction: move, judge, append, hold."""
    _place(tx, writer, check.pack, check.vehicle, check.done_at, moves, (check.rested_v, check.done_at))
    verdict = _judge(bench, check, look_over)
    found = None if look_over is None else look_over.found
    check_id = writer.add_check(judged(check, verdict, bench.meter, found))
    held = _hold_by_verdict(tx, writer, check.pack, verdict, check.done_at, check_id)
    doubting.hold_late_entry(tx, writer, check_id, writer.now)
    return verdict, held or _saved(check.pack, verdict)


def record_look_over(
    store: Store, clock: Clock, author: Author, look_over: LookOver, moves: tuple[FoundIn, ...] = (), place: str = ""
) -> Recorded:
    """Store a visual inspection alone; a danger finding quarantines the pack at once.

    Anyone may report a danger; an inspection that clears needs the level that may check.
    """
    now = clock()
    with store.transaction() as tx:
        if not look_over.danger:
            may_check(author, now, tx)
        refuse_future(look_over.done_at, now)
        before = tx.position
        writer = Writer(tx, author, now)
        verdict, message = write_look_over(tx, writer, look_over, moves, place)
        held = bool(tx.open_holds(("pack", look_over.pack)))
        told = meanwhile(tx, author, look_over.pack, before)
        return writer.recorded(message, verdict=verdict, meanwhile=told, held=held)


def write_look_over(
    tx: Transaction, writer: Writer, look_over: LookOver, moves: tuple[FoundIn, ...] = (), place: str = ""
) -> tuple[Verdict, Message]:
    """The writing part of `record_look_over`, within a transaction."""
    pack = _pack_of(tx, look_over.pack)
    _place(tx, writer, look_over.pack, look_over.vehicle, look_over.done_at, moves)
    look_id = writer.add("look_over", look_over, look_over.done_at)
    verdict = judging.judge_look_over(look_over, tx.thing("pack_model", pack.model), site_rules(tx))
    held = _hold_by_verdict(tx, writer, look_over.pack, verdict, look_over.done_at, look_id, place)
    return verdict, held or _saved(look_over.pack, verdict)


def record_trip(store: Store, clock: Clock, author: Author, trip: Trip) -> Recorded:
    """Store a trip; the pack is held by rule where the count or the cause says so."""
    now = clock()
    with store.transaction() as tx:
        may_check(author, now, tx)
        _pack_of(tx, trip.pack)
        if trip.vehicle is not None and tx.thing("vehicle", trip.vehicle) is None:
            raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=trip.vehicle)
        refuse_future(trip.done_at, now)
        writer = Writer(tx, author, now)
        return writer.recorded(write_trip(tx, writer, trip))


def write_trip(tx: Transaction, writer: Writer, trip: Trip) -> Message:
    """The writing part of `record_trip`, within a transaction."""
    held = hold_by_count(tx, writer, writer.add("trip", trip, trip.done_at))
    return held[0] if held else msg("record.trip", pack=trip.pack)


def set_hold(store: Store, clock: Clock, author: Author, hold: Hold) -> Recorded:
    """Ground a vehicle or hold a pack.  Anyone may; nobody needs a level for the safer state."""
    now = clock()
    if not hold.remark.strip():
        raise EntryRefused("hold.needs_reason", field="remark")
    refuse_future(hold.done_at, now)
    with store.transaction() as tx:
        if tx.thing(hold.subject_class, hold.subject) is None:
            raise EntryRefused(f"entry.unknown_{hold.subject_class}", field="subject", code=hold.subject)
        writer = Writer(tx, author, now)
        return writer.recorded(_hold(writer, hold))


def release_hold(store: Store, clock: Clock, author: Author, release: Release, badge: str | None = None) -> Recorded:
    """End one hold: a level that may release, a reason, and what its class asks to have been seen since.

    A pack needs a passed check since (one on the day of the hold counts when it was done after it), a
    vehicle, charger or meter what `inspections.missing` says.  The window hands the own `badge` or PIN in;
    None where nobody could be asked for it.
    """
    now = clock()
    with store.transaction() as tx:
        may_release(author, now, tx)
        if not release.reason.strip():
            raise EntryRefused("release.needs_reason", field="reason")
        held = next((h for h in tx.open_holds() if h.hold_id == release.hold), None)
        if held is None:
            raise EntryRefused("hold.nothing_open", hold=release.hold)
        _refuse_with_pack(tx, held)
        if held.reason.key in FIRST_CHECKS:
            raise NotAllowed("maker.release_by_first_checks", field="reason", subject=held.subject)
        if held.subject_class == "pack":
            if by_recall(held.reason):
                number = held.reason.value("number")
                raise NotAllowed("release.recall", field="reason", subject=held.subject, number=number)
            if held.hold_class is HoldClass.DANGER:
                raise NotAllowed("release.danger", field="reason")
            latest = tx.latest_checks([held.subject])
            newest = latest.get(held.subject)
            if meter := tx.doubted_packs(latest).get(held.subject):
                raise NotAllowed("release.in_doubt", field="reason", subject=held.subject, meter=meter)
            doubting.refuse_change_of_meter(tx, held)
            if not _passed_since(newest, held.since):
                raise NotAllowed("release.no_pass", field="reason", subject=held.subject, since_date=held.since.date())
            releasing.refuse_unloaded(tx, held.subject)
        else:
            releasing.refuse_unseen(tx, held)
        if badge is not None:
            own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        writer.add("release", release, release.done_at)
        return writer.recorded(msg("record.released", subject=held.subject))


def _refuse_with_pack(tx: Transaction, held: StoredHold) -> None:
    """A vehicle quarantined with the pack in it stays so while that pack is in it and in danger."""
    if held.reason.key != WITH_PACK:
        return
    pack = str(held.reason.value("pack"))
    placed = tx.placement_of(pack)
    danger = any(h.hold_class is HoldClass.DANGER for h in tx.open_holds(("pack", pack)))
    if danger and placed is not None and placed.vehicle == held.subject:
        raise NotAllowed("bay.pack_still_danger", field="reason", vehicle=held.subject, pack=pack)


def record_found_in(store: Store, clock: Clock, author: Author, *moves: FoundIn) -> Recorded:
    """Note where packs were found; a move that nobody saw gets no date of its own."""
    now = clock()
    with store.transaction() as tx:
        writer = Writer(tx, author, now)
        for move in moves:
            refuse_future(move.done_at, now)
            _move(tx, writer, move)
        last = moves[-1]
        where = last.vehicle or last.shelf or word("record.unsure_whereabouts")
        return writer.recorded(msg("record.found", pack=last.pack, where=where))


def correct_check(
    store: Store, clock: Clock, author: Author, of: str, reason: str, check: VoltageCheck | None
) -> Recorded:
    """Replace a check by what was really read, or void it with `check` None; both stay on record."""
    now = clock()
    if not reason.strip():
        raise EntryRefused("correct.needs_reason", field="reason")
    with store.transaction() as tx:
        may_check(author, now, tx)
        first = tx.check(of)
        if first is None:
            raise EntryRefused("correct.unknown", record=of)
        if first.void_position is not None:
            raise corrected_meanwhile(tx, first)
        writer = Writer(tx, author, now)
        if check is None:
            writer.correct(of, reason, None)
            return writer.recorded(msg("record.corrected"))
        bench = bench_of(tx, check, now, leave_out=of)
        verdict = _judge(bench, check, None)
        correction_id = writer.correct(of, reason, judged(check, verdict, bench.meter, first.look_over))
        _hold_by_verdict(tx, writer, check.pack, verdict, check.done_at, correction_id)
        return writer.recorded(msg("record.corrected"), verdict=verdict)


def put_things(store: Store, clock: Clock, author: Author, *things: tuple[str, Thing]) -> Recorded:
    """Record new or changed things, each with its class name; all in one transaction.

    Refused where somebody else changed one of them since the author had looked, and where people,
    pack models or site settings would be changed by somebody who is no manager.
    """
    with store.transaction() as tx:
        for thing_class, thing in things:
            refuse_unless_allowed(tx, author, thing_class, thing)
        writer = Writer(tx, author, clock())
        for thing_class, thing in things:
            refuse_stale(tx, author, thing_class, thing.code)
            writer.add_thing(thing_class, thing)
        return writer.recorded(msg("record.things", count=len(things)))


def record_told(store: Store, clock: Clock, author: Author, what: str, page_of: PackSummary) -> Recorded:
    """Keep what a printed sheet said of a pack: each projection in the words of that day."""
    now = clock()
    with store.transaction() as tx:
        writer = Writer(tx, author, now)
        for projection in page_of.projections:
            writer.add("told", Told("pack", page_of.pack.code, what, projection.sentence), now)
        return writer.recorded(msg("record.told", pack=page_of.pack.code))


def _passed_since(newest: LatestCheck | None, since: dt.datetime) -> bool:
    """A valid pass after `since`, and nothing worse read after that pass."""
    if newest is None or newest.last_pass is None or newest.last_pass <= since:
        return False
    return newest.level not in (VerdictLevel.TOO_NEAR, VerdictLevel.PULL, VerdictLevel.DANGER)


# the parts of a deed


def _pack_of(view: View, code: str) -> Pack:
    pack: Pack | None = view.thing("pack", code)
    if pack is None:
        raise EntryRefused("entry.unknown_pack", field="pack", code=code)
    if pack.standing is not PackStanding.IN_SERVICE:
        raise EntryRefused(f"entry.{pack.standing.value}", field="pack", pack=code)
    return pack


def refuse_future(done_at: dt.datetime, now: dt.datetime) -> None:
    """Raises EntryRefused for what is dated later than this clock and its grace."""
    if done_at > now + FUTURE_GRACE:
        raise EntryRefused("entry.future", field="done_at", done_at=done_at, now_at=now)


def bench_of(view: View, check: VoltageCheck, now: dt.datetime, leave_out: str | None = None) -> Bench:
    """Everything the check is judged by; EntryRefused for what is unknown or not allowed."""
    pack = _pack_of(view, check.pack)
    refuse_future(check.done_at, now)
    meter: Meter | None = view.thing("meter", check.meter)
    if meter is None:
        raise EntryRefused("entry.unknown_meter", field="meter", code=check.meter)
    if meter.refused_from is not None and check.done_at.date() >= meter.refused_from and not _read_before(view, check):
        raise EntryRefused("entry.meter_refused", field="meter", code=check.meter, since_date=meter.refused_from)
    doubting.refuse_contractor_meter(view, meter, check.done_at)
    held = view.open_holds(("meter", check.meter))
    if held:
        raise EntryRefused("entry.meter_held", field="meter", code=check.meter, reason=held[0].remark or held[0].reason)
    load: TestLoad | None = view.thing("test_load", check.test_load) if check.test_load else None
    if check.test_load and load is None:
        raise EntryRefused("entry.unknown_load", field="test_load", code=check.test_load)
    if check.vehicle is not None and view.thing("vehicle", check.vehicle) is None:
        raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=check.vehicle)
    history = [c for c in view.checks_of(check.pack, HISTORY_READ) if c.record_id != leave_out]
    return Bench(pack, view.thing("pack_model", pack.model), site_rules(view), meter, load, history)


def _read_before(view: View, check: VoltageCheck) -> bool:
    """True for a late entry of a reading from before its meter was found out; it is in doubt."""
    found = view.doubt_of(check)
    return found is not None and check.done_at < found.done_at


def _judge(bench: Bench, check: VoltageCheck, look_over: LookOver | None) -> Verdict:
    return judging.judge(
        check, look_over, bench.model, bench.site, bench.meter, bench.load, earlier=bench.earlier(check)
    )


def _questions(view: View, bench: Bench, check: VoltageCheck) -> tuple[Question, ...]:
    asked = questioning.question_entry(bench.model, bench.site, "rested_v", check.rested_v, bench.earlier(check))
    if check.loaded_v is not None:
        asked += questioning.question_entry(bench.model, bench.site, "loaded_v", check.loaded_v)
        if all((one.field, one.statement.key) in check.questioned for one in asked):
            own = bench.since(last_mended_at(view, check.pack))
            fell = questioning.question_fall(check, own, bench.model, bench.site, bench.meter, bench.load)
            asked += () if fell is None else (fell,)
    return asked


def _due(verdict: Verdict, after: GoesOut) -> dt.date | None:
    """The day on which the pack is due after this check, as board and plan show it; None where it does not count as one."""
    return after.due_on if verdict.valid else None


def _saved(pack: str, verdict: Verdict) -> Message:
    return msg("record.saved", pack=pack, verdict=msg(f"verdict.{verdict.level.value}"))


def _move(tx: Transaction, writer: Writer, move: FoundIn, reading: Reading | None = None) -> None:
    if move.vehicle is None:
        if tx.thing("pack", move.pack) is None:
            raise EntryRefused("entry.unknown_pack", field="pack", code=move.pack)
    else:
        pair_in(tx, move.vehicle, move.pack)
        refuse_beside(tx, move.vehicle, move.pack, move.bay, reading, writer.now)
    writer.move(move)


def _place(
    tx: Transaction,
    writer: Writer,
    pack: str,
    vehicle: str | None,
    at: dt.datetime,
    moves: tuple[FoundIn, ...],
    reading: Reading | None = None,
) -> None:
    """Note the moves, then make sure that the pack is where the check says it is."""
    for move in moves:
        _move(tx, writer, move, reading if move.pack == pack else None)
    if vehicle is None or any((move.pack, move.vehicle) == (pack, vehicle) for move in moves):
        return
    placed = tx.placement_of(pack)
    if placed is not None and placed.since > at:
        _was_there(tx, writer, pack, vehicle, at)
        return
    pairing = pair_in(tx, vehicle, pack)
    if pairing.kind is PairingKind.REPLACES:
        raise EntryRefused(
            "pair.answer_first", field="pack", pack=pack, vehicle=vehicle, occupants=", ".join(pairing.occupants)
        )
    if pairing.kind is PairingKind.FREE_BAY:
        refuse_beside(tx, vehicle, pack, pairing.bay, reading, writer.now)
        writer.move(FoundIn(pack, vehicle, at, pairing.bay))


def _was_there(tx: Transaction, writer: Writer, pack: str, vehicle: str, at: dt.datetime) -> None:
    """A late entry about a time before the pack was last seen: it was there then, and moves nothing now."""
    known, where = tx.thing("pack", pack), tx.thing("vehicle", vehicle)
    placed = tx.placement_of(pack)
    refuse_misfit(where, known, tx.thing("pack_model", known.model), placed.vehicle if placed else None)
    if placed is None or placed.vehicle != vehicle:
        writer.move(FoundIn(pack, vehicle, at))


def _hold(writer: Writer, hold: Hold) -> Message:
    writer.add("hold", hold, hold.done_at)
    return msg(held_key(hold), subject=hold.subject, reason=hold.remark or hold.reason)


def _hold_by_verdict(
    tx: Transaction, writer: Writer, pack: str, verdict: Verdict, at: dt.datetime, cause: str, place: str = ""
) -> Message | None:
    """Hold the pack when the verdict says so and no hold of that class stands already."""
    if verdict.hold_class is None or verdict.hold_reason is None:
        return None
    standing = {h.hold_class for h in tx.open_holds(("pack", pack)) if not by_recall(h.reason)}
    if verdict.hold_class in standing or HoldClass.DANGER in standing:
        return None
    return _hold(writer, Hold("pack", pack, verdict.hold_class, at, verdict.hold_reason, place=place, cause=cause))
