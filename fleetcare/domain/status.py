"""Whether a vehicle may go out, and whether a pack may be used: pure functions of facts and now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain import due, temperature
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.packs import SiteRules, Vehicle, VehicleStanding
from fleetcare.domain.quarantine import is_alarm
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg


class BoardState(StrEnum):
    """The four states of a vehicle on the board."""

    READY = "ready"
    READY_BUT_DUE = "ready_but_due"
    LIMITED = "limited"
    GROUNDED = "grounded"


class PackState(StrEnum):
    """What may be done with a pack today."""

    READY = "ready"
    DUE = "due"
    OVERDUE = "overdue"
    HELD = "held"
    QUARANTINED = "quarantined"
    NEVER_CHECKED = "never_checked"
    LAID_UP = "laid_up"
    SILENT = "silent"
    RETIRED = "retired"
    AWAY = "away"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is not ready, since when, and what comes next."""

    hold_class: HoldClass
    text: Message
    since: dt.datetime | None
    next_step: Message
    hold_id: str | None = None


@dataclass(frozen=True, slots=True)
class OpenHold:
    """A hold that has not been released, as the status rules read it."""

    hold_id: str
    hold_class: HoldClass
    text: Message
    since: dt.datetime
    remark: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Rest:
    """A pack put away: in which group, since when, and when it is next looked at and why."""

    group: str
    since: dt.datetime
    look_on: dt.date
    why: Message


@dataclass(frozen=True, slots=True)
class Newest:
    """A held pack's newest reading: when, rested volts, loaded resistance in ohms and bench temperature in °C, if known."""

    done_at: dt.datetime
    rested_v: Decimal
    loaded_ohm: Decimal | None
    bench_c: Decimal | None = None


@dataclass(frozen=True, slots=True)
class PackFacts:
    """What is known of a pack when its state is asked.

    `decided` is the day by which a decision wants the next check, `extended` the last day to which a due
    check was put off, each with its sentence.
    `laid_up` is set while it is put away; `returned_at` when it came back from lay-up, and `last_pass` is its
    newest passed check: what came back goes out only after a full check that passed.
    `reads_nothing` is set while its newest reading shows nothing: its volts and when it was read.
    `newest` is a held pack's newest reading.
    """

    code: str
    standing_in_service: bool
    last_valid_check: dt.datetime | None
    last_level: VerdictLevel | None
    holds: tuple[OpenHold, ...] = ()
    doubted_meter: str = ""
    written_off: bool = False
    decided: tuple[dt.date, Message] | None = None
    extended: tuple[dt.date, Message] | None = None
    away: Message | None = None
    condition: due.Condition = due.ORDINARY
    laid_up: Rest | None = None
    returned_at: dt.datetime | None = None
    last_pass: dt.datetime | None = None
    reads_nothing: tuple[Decimal, dt.datetime] | None = None
    newest: Newest | None = None


@dataclass(frozen=True, slots=True)
class PackStatus:
    """A pack's state today.  `reasons` is empty exactly when the state is ready.

    `due_on` is the one day on which it is next looked at, and `why` says why on that day.
    """

    code: str
    state: PackState
    usable: bool
    due_on: dt.date | None
    level: VerdictLevel | None
    reasons: tuple[Reason, ...] = ()
    why: Message | None = None
    good_through: dt.date | None = None

    @property
    def check_on(self) -> dt.date | None:
        """The day to show; a pack that is held for danger owes no check."""
        return None if any(one.hold_class is HoldClass.DANGER for one in self.reasons) else self.due_on


def pack_words(status: PackStatus) -> Message:
    """The words for a pack's state; a ready pack whose last verdict was watch says so, and one that was written off."""
    if status.state is PackState.RETIRED and any(one.text.key == "pack.written_off" for one in status.reasons):
        return msg("pack_state.written_off")
    if status.state is PackState.READY and status.level is VerdictLevel.WATCH:
        return msg("pack_state.ready_watch")
    return msg(f"pack_state.{status.state.value}")


@dataclass(frozen=True, slots=True)
class VehicleStatus:
    """A vehicle's state today.  `reasons` leads with the most serious; empty when ready."""

    code: str
    state: BoardState
    reasons: tuple[Reason, ...] = ()
    due_on: dt.date | None = None


_CLASS_ORDER = (HoldClass.DANGER, HoldClass.FAULT, HoldClass.UNKNOWN, HoldClass.ACTION_DUE)


def hold_step(hold_class: HoldClass, subject_class: str) -> Message:
    """The next step for something held for this class of reason."""
    return msg(f"step.{subject_class}_{hold_class.value}")


def _hold_reason(hold: OpenHold, subject_class: str) -> Reason:
    text = msg("hold.in_words", remark=hold.remark, reason=hold.text) if hold.remark else hold.text
    step = msg("step.pack_recall") if by_recall(hold.text) else hold_step(hold.hold_class, subject_class)
    return Reason(hold.hold_class, text, hold.since, step, hold.hold_id)


_READING_RULES = ("full", "low", "over_full", "ohm")
"""Areas of the rules whose sentences tell what a check read."""

SAME_OHM = Decimal("0.0001")
"""Resistances nearer than this are one reading: a sentence gives four places."""


def _mended(hold: OpenHold, rule: str, newest: Newest, read_on: dt.date) -> Message | None:
    """What stands now in the place of the reading that set this hold, None where that stands as it was read."""
    values = {"reason": hold.text, "read_date": read_on}
    if newest.done_at < hold.since:
        return msg("hold.read_struck", **values)
    if newest.done_at > hold.since:
        return None
    said = dict(hold.text.values).get("rested_v" if rule != "ohm" else "resistance_ohm")
    if not isinstance(said, Decimal):
        return None
    if rule != "ohm":
        return None if said == newest.rested_v else msg("hold.corrected_v", newest_v=newest.rested_v, **values)
    if newest.loaded_ohm is None:
        return msg("hold.corrected_unloaded", newest_v=newest.rested_v, **values)
    same = abs(said - newest.loaded_ohm) < SAME_OHM
    return None if same else msg("hold.corrected_ohm", newest_ohm=newest.loaded_ohm, **values)


def _dated(hold: OpenHold, newest: Newest | None, now: dt.datetime) -> OpenHold:
    """A hold by a check's reading says when that was read, unless it was today, and beside it what was read last, at the
    temperature at which the hold's own reading was judged where both benches are known.  Where that check was corrected
    or struck since, it says so: a correction releases nothing."""
    read_on = hold.since.astimezone(now.tzinfo).date()
    rule = hold.text.key.split(".")[0]
    if rule not in _READING_RULES:
        return hold
    mended = None if newest is None else _mended(hold, rule, newest, read_on)
    if mended is not None:
        return replace(hold, text=mended)
    if read_on >= now.date():
        return hold
    if newest is not None and newest.done_at > hold.since:
        loaded_ohm, bench_c = newest.loaded_ohm, newest.bench_c
        values: dict[str, object] = {"read_date": read_on, "reason": hold.text}
        values["newest_date"] = newest.done_at.astimezone(now.tzinfo).date()
        if rule != "ohm":
            return replace(hold, text=msg("hold.read_again_v", newest_v=newest.rested_v, **values))
        if loaded_ohm is not None:
            at_c = dict(hold.text.values).get("at_c")
            if isinstance(at_c, (int, float, Decimal)) and bench_c is not None:
                there = temperature.ohm_at(float(loaded_ohm), float(bench_c), float(at_c))
                values |= {"newest_ohm": loaded_ohm, "bench_c": bench_c, "corrected_ohm": there, "at_c": at_c}
                return replace(hold, text=msg("hold.read_again_corrected", **values))
            return replace(hold, text=msg("hold.read_again_ohm", newest_ohm=loaded_ohm, **values))
    return replace(hold, text=msg("hold.read_on", read_date=read_on, reason=hold.text))


def _counted(reason: Reason, site: SiteRules, today: dt.date) -> Reason:
    """A danger with its day counter; from the alarm day on it says that collection is overdue."""
    if reason.hold_class is not HoldClass.DANGER or reason.since is None or reason.since.date() >= today:
        return reason
    if by_recall(reason.text):
        return reason
    days = (today - reason.since.date()).days
    key = "hold.quarantine_alarm" if is_alarm(days, site.quarantine_alarm_days) else "hold.quarantine_day"
    return replace(reason, text=msg(key, reason=reason.text, number=days))


def pack_status(facts: PackFacts, site: SiteRules, now: dt.datetime) -> PackStatus:
    """A pack's state at `now` (local time of the depot).

    A held pack is never usable; one that is held for danger, or recalled, owes no check, so nothing of the calendar is said
    of it.  On the due day the check is due; after `grounded_after_days` have
    passed the pack may not go out.  A reading too near to call leaves it usable but due at once; a newest
    reading that shows nothing leaves the pack unknown, and it may not go out before it is read again.
    """
    today = now.date()
    if facts.written_off:
        away = msg("pack.written_off", pack=facts.code)
        reason = Reason(HoldClass.DANGER, away, None, msg("step.pack_written_off"))
        return PackStatus(facts.code, PackState.RETIRED, False, None, facts.last_level, (reason,))
    if facts.away is not None:
        reason = Reason(HoldClass.UNKNOWN, facts.away, None, msg("step.pack_away"))
        return PackStatus(facts.code, PackState.AWAY, False, None, facts.last_level, (reason,))
    if not facts.standing_in_service:
        reason = Reason(HoldClass.UNKNOWN, msg("pack.retired"), None, msg("step.pack_retired"))
        return PackStatus(facts.code, PackState.RETIRED, False, None, facts.last_level, (reason,))
    day = due_day(facts, site)
    due_on, why, good = (None, None, None) if day is None else (day.due_on, day.why, day.good_through)
    late = _late(facts, day, site, now)
    if facts.holds:
        holds = sorted(facts.holds, key=lambda h: (_CLASS_ORDER.index(h.hold_class), h.since))
        danger = any(hold.hold_class is HoldClass.DANGER and not by_recall(hold.text) for hold in holds)
        reasons = tuple(_counted(_hold_reason(_dated(hold, facts.newest, now), "pack"), site, today) for hold in holds)
        if holds[0].hold_class is not HoldClass.DANGER:
            reasons += late[1]
        state = PackState.QUARANTINED if danger else PackState.HELD
        return PackStatus(facts.code, state, False, due_on, facts.last_level, reasons, why, good)
    state, reasons = late
    usable = state in (PackState.READY, PackState.DUE)
    return PackStatus(facts.code, state, usable, due_on, facts.last_level, reasons, why, good)


def alike(facts: PackFacts) -> tuple[object, ...]:
    """What `pack_status` reads of a pack that turns out ready: two such packs have the same state but for their code.

    It goes by the days of checks; moments matter only beside a return from lay-up.
    """
    last = facts.last_valid_check
    return (
        facts.standing_in_service, None if last is None else last.date(), facts.last_level, facts.holds,
        facts.doubted_meter, facts.written_off, facts.away, facts.decided, facts.extended, facts.condition, facts.laid_up,
        facts.returned_at, None if facts.returned_at is None else facts.last_pass, facts.reads_nothing,
        facts.newest,
    )  # fmt: skip


def due_day(facts: PackFacts, site: SiteRules) -> due.DueDay | None:
    """The pack's one due day, or None for one that was never checked."""
    if facts.laid_up is not None:
        return due.DueDay(facts.laid_up.look_on, dt.date.max, facts.laid_up.why)
    if facts.reads_nothing is not None:
        read_v, read_at = facts.reads_nothing
        read_on = read_at.date()
        why = msg("due.reads_nothing", read_v=read_v, on_date=read_on)
        return due.DueDay(read_on, read_on - dt.timedelta(days=1), why, True)
    back = facts.returned_at
    if _unproved_since_lay_up(facts) and back is not None:
        before = back.date() - dt.timedelta(days=1)
        return due.DueDay(back.date(), before, msg("due.after_lay_up", on_date=back.date()), True)
    if facts.last_valid_check is None:
        return None
    day = due.due_after(facts.last_valid_check.date(), site, facts.condition)
    if facts.decided is None or facts.decided[0] >= day.due_on:
        return day
    until, told = facts.decided
    return due.DueDay(until, min(day.good_through, until + (day.good_through - day.due_on)), told, True)


def _unproved_since_lay_up(facts: PackFacts) -> bool:
    """True for a pack that came back from lay-up and has not passed a check since."""
    back = facts.returned_at
    return back is not None and (facts.last_pass is None or facts.last_pass <= back)


def _late(
    facts: PackFacts, day: due.DueDay | None, site: SiteRules, now: dt.datetime
) -> tuple[PackState, tuple[Reason, ...]]:
    """The state by the calendar alone, with its reason; it stands since the day that brought it."""
    today = now.date()
    if facts.laid_up is not None:
        return _away(facts, facts.laid_up, today)
    if facts.reads_nothing is not None:
        read_v, read_at = facts.reads_nothing
        text = msg("pack.reads_nothing", pack=facts.code, read_v=read_v, read_date=read_at.date())
        step = msg("step.wake_stored" if _unproved_since_lay_up(facts) else "step.wake")
        return PackState.SILENT, (Reason(HoldClass.UNKNOWN, text, read_at, step),)
    if day is not None and day.why.key == "due.after_lay_up":
        reason = Reason(
            HoldClass.ACTION_DUE, msg("pack.after_lay_up", pack=facts.code, on_date=day.due_on), facts.returned_at,
            msg("step.check_now"),
        )  # fmt: skip
        return PackState.OVERDUE, (reason,)
    if day is None or facts.last_valid_check is None:
        reason = Reason(HoldClass.UNKNOWN, msg("pack.never_checked", pack=facts.code), None, msg("step.first_check"))
        return PackState.NEVER_CHECKED, (reason,)
    since = facts.last_valid_check
    days = (today - since.date()).days
    values = {"pack": facts.code, "last_date": since.date(), "ago_days": days, "due_date": day.due_on}
    if facts.extended is not None and day.due_on <= today <= facts.extended[0]:
        begun = _begin(day.due_on, now)
        reason = Reason(HoldClass.ACTION_DUE, facts.extended[1], begun, msg("step.check_today"))
        return PackState.DUE, (reason,)
    if today > day.good_through:
        rested = days > site.long_rest_days
        key, then = ("pack.long_rest", "step.check_before_charge") if rested else ("pack.overdue", "step.check_now")
        begun = _begin(day.good_through + dt.timedelta(days=1), now)
        return PackState.OVERDUE, (Reason(HoldClass.ACTION_DUE, msg(key, **values), begun, msg(then)),)
    if facts.doubted_meter:
        reason = Reason(
            HoldClass.ACTION_DUE, msg("pack.in_doubt", meter=facts.doubted_meter, **values), since,
            msg("step.other_meter"),
        )  # fmt: skip
        return PackState.DUE, (reason,)
    if facts.last_level is VerdictLevel.TOO_NEAR:
        reason = Reason(HoldClass.ACTION_DUE, msg("pack.too_near", **values), since, msg("step.measure_again"))
        return PackState.DUE, (reason,)
    if day.why.key == "due.misfit":
        reason = Reason(HoldClass.ACTION_DUE, msg("pack.misfit", **values), since, msg("step.measure_again"))
        return PackState.DUE, (reason,)
    if today >= day.due_on:
        text = msg("pack.due_because", why=day.why, **values) if day.tightened else msg("pack.due", **values)
        if facts.decided is not None and day.why == facts.decided[1]:
            text = day.why
        strained = facts.condition.strained_at if day.why.key in _STRAINED else None
        return PackState.DUE, (
            Reason(HoldClass.ACTION_DUE, text, strained or _begin(day.due_on, now), msg("step.check_today")),
        )
    return PackState.READY, ()


def _begin(day: dt.date, now: dt.datetime) -> dt.datetime:
    """The first moment of a day in the zone of `now`, with its fixed offset."""
    midnight = dt.datetime.combine(day, dt.time(), now.tzinfo)
    return midnight.astimezone(dt.timezone(midnight.utcoffset() or dt.timedelta()))


_STRAINED = frozenset(("due.trip", "due.trips", "due.reset", *(f"due.after_{one.value}" for one in due.Strain)))
"""Reasons for a check that arise with what happened to the pack after its last check, where something did."""


def _away(facts: PackFacts, rest: Rest, today: dt.date) -> tuple[PackState, tuple[Reason, ...]]:
    """A laid-up pack may not go out; its weekly checks are suspended, and that is said."""
    key = "pack.laid_up_look" if today >= rest.look_on else "pack.laid_up"
    text = msg(key, pack=facts.code, group=rest.group, since_date=rest.since.date(), look_date=rest.look_on)
    return PackState.LAID_UP, (Reason(HoldClass.ACTION_DUE, text, rest.since, msg("step.laid_up")),)


def vehicle_status(
    vehicle: Vehicle,
    packs: Sequence[PackStatus],
    holds: Sequence[OpenHold],
    left: tuple[str, str] | None = None,
    uncovered: Sequence[int] = (),
    fixed: Collection[str] = (),
) -> VehicleStatus:
    """A vehicle's state from its packs and its own holds; the most serious reason leads.

    Grounded: a hold of its own, a quarantined or recalled pack in it, or fewer usable packs than it needs.
    Limited: enough packs, but not a usable one in every bay.  Ready but due: a usable pack is due.
    `left` is the pack last recorded here and the vehicle it was since found in: then nobody knows what
    is in this one, and it may not go out.  `uncovered` are empty bays that nobody noted as covered.
    A held pack that is still in it comes out first, unless it is one of the `fixed` ones.
    """
    if vehicle.standing is not VehicleStanding.IN_FLEET:
        away = msg("vehicle.away", vehicle=vehicle.code, standing=msg(f"vehicle_standing.{vehicle.standing.value}"))
        reason = Reason(HoldClass.UNKNOWN, away, None, msg("step.vehicle_away"))
        return VehicleStatus(vehicle.code, BoardState.GROUNDED, (reason,))
    own = [_hold_reason(hold, "vehicle") for hold in holds]
    from_packs = [
        _taken_out(_with_pack(reason, pack.code), pack, vehicle.code, fixed)
        for pack in packs
        for reason in pack.reasons
    ]
    usable = sum(pack.usable for pack in packs)
    if not packs and left is not None:
        missing = Reason(
            HoldClass.UNKNOWN,
            msg("vehicle.pack_unknown", moved=left[0], elsewhere=left[1]),
            None,
            msg("step.scan_pack"),
        )
    elif not packs:
        missing = Reason(HoldClass.FAULT, msg("vehicle.no_pack"), None, msg("step.fit_pack"))
    elif len(packs) < vehicle.bays:
        step = msg("bay.cover_step" if uncovered else "bay.fit_step")
        missing = Reason(HoldClass.FAULT, msg("vehicle.empty_bay", have=len(packs), bays=vehicle.bays), None, step)
    else:
        missing = None
    reasons = own + from_packs + ([missing] if missing else [])
    reasons.sort(key=lambda reason: _CLASS_ORDER.index(reason.hold_class))
    due_days = [pack.check_on for pack in packs if pack.check_on is not None]
    due_on = min(due_days) if due_days else None
    danger = any(reason.hold_class is HoldClass.DANGER for pack in packs for reason in pack.reasons)
    if own or danger or usable < vehicle.needs_packs:
        state = BoardState.GROUNDED
    elif usable < max(vehicle.bays, len(packs)):
        state = BoardState.LIMITED
    elif any(pack.state is PackState.DUE for pack in packs):
        state = BoardState.READY_BUT_DUE
    else:
        state = BoardState.READY
    return VehicleStatus(vehicle.code, state, tuple(reasons), due_on)


def bare(text: Message) -> Message:
    """A reason of a vehicle without the pack that was put before it."""
    inner = dict(text.values).get("reason") if text.key == "vehicle.pack_reason" else None
    return inner if isinstance(inner, Message) else text


def _taken_out(reason: Reason, pack: PackStatus, vehicle: str, fixed: Collection[str]) -> Reason:
    """A reason that holds a pack for a fault or an unknown: the pack is taken out before its vehicle goes out."""
    if reason.hold_id is None or reason.hold_class is HoldClass.DANGER or pack.code in fixed or pack.usable:
        return reason
    if by_recall(reason.text) or pack.state is PackState.QUARANTINED:
        return reason
    return replace(reason, next_step=msg("step.take_out", pack=pack.code, vehicle=vehicle, step=reason.next_step))


def _with_pack(reason: Reason, pack: str) -> Reason:
    if "pack" in dict(reason.text.values):
        return reason
    return Reason(
        reason.hold_class,
        msg("vehicle.pack_reason", pack=pack, reason=reason.text),
        reason.since,
        reason.next_step,
        reason.hold_id,
    )
