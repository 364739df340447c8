"""Whether a vehicle may go out, and whether a pack may be used: pure functions of facts and now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from fleetcare.domain import due
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.packs import SiteRules, Vehicle
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
    RETIRED = "retired"


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
class PackFacts:
    """What is known of a pack when its state is asked.

    `decided` is the day by which a decision wants the next check, `extended` the last day to which a due
    check was put off, each with its sentence.
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


@dataclass(frozen=True, slots=True)
class PackStatus:
    """A pack's state today.  `reasons` is empty exactly when the state is ready."""

    code: str
    state: PackState
    usable: bool
    due_on: dt.date | None
    level: VerdictLevel | None
    reasons: tuple[Reason, ...] = ()


def pack_words(status: PackStatus) -> Message:
    """The words for a pack's state; a ready pack whose last verdict was watch says so."""
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


def _counted(reason: Reason, site: SiteRules, today: dt.date) -> Reason:
    """A danger with its day counter; from the alarm day on it says that collection is overdue."""
    if reason.hold_class is not HoldClass.DANGER or reason.since is None or reason.since.date() >= today:
        return reason
    if by_recall(reason.text):
        return reason
    days = (today - reason.since.date()).days
    key = "hold.quarantine_alarm" if days >= site.quarantine_alarm_days else "hold.quarantine_day"
    return replace(reason, text=msg(key, reason=reason.text, number=days))


def pack_status(facts: PackFacts, site: SiteRules, now: dt.datetime) -> PackStatus:
    """A pack's state at `now` (local time of the depot).

    A held pack is never usable.  On the due day the check is due; after `grounded_after_days` have
    passed the pack may not go out.  A reading too near to call leaves it usable but due at once.
    """
    today = now.date()
    if facts.written_off:
        away = msg("pack.written_off", pack=facts.code)
        reason = Reason(HoldClass.DANGER, away, None, msg("step.pack_written_off"))
        return PackStatus(facts.code, PackState.RETIRED, False, None, facts.last_level, (reason,))
    if not facts.standing_in_service:
        reason = Reason(HoldClass.UNKNOWN, msg("pack.retired"), None, msg("step.pack_retired"))
        return PackStatus(facts.code, PackState.RETIRED, False, None, facts.last_level, (reason,))
    due_on = good_through = None
    if facts.last_valid_check is not None:
        day = due.due_after(facts.last_valid_check.date(), site)
        due_on, good_through = day.due_on, day.good_through
        if facts.decided is not None and facts.decided[0] < due_on:
            good_through = min(good_through, facts.decided[0] + (good_through - due_on))
            due_on = facts.decided[0]
    late = _late(facts, due_on, good_through, today)
    if facts.holds:
        holds = sorted(facts.holds, key=lambda h: (_CLASS_ORDER.index(h.hold_class), h.since))
        danger = any(hold.hold_class is HoldClass.DANGER and not by_recall(hold.text) for hold in holds)
        reasons = tuple(_counted(_hold_reason(hold, "pack"), site, today) for hold in holds) + late[1]
        state = PackState.QUARANTINED if danger else PackState.HELD
        return PackStatus(facts.code, state, False, due_on, facts.last_level, reasons)
    state, reasons = late
    usable = state in (PackState.READY, PackState.DUE)
    return PackStatus(facts.code, state, usable, due_on, facts.last_level, reasons)


def _late(
    facts: PackFacts, due_on: dt.date | None, good_through: dt.date | None, today: dt.date
) -> tuple[PackState, tuple[Reason, ...]]:
    """The state by the calendar alone, with its reason."""
    if due_on is None or good_through is None or facts.last_valid_check is None:
        reason = Reason(HoldClass.UNKNOWN, msg("pack.never_checked", pack=facts.code), None, msg("step.first_check"))
        return PackState.NEVER_CHECKED, (reason,)
    since = facts.last_valid_check
    days = (today - since.date()).days
    values = {"pack": facts.code, "last_date": since.date(), "ago_days": days, "due_date": due_on}
    if facts.extended is not None and due_on <= today <= facts.extended[0]:
        reason = Reason(HoldClass.ACTION_DUE, facts.extended[1], since, msg("step.check_today"))
        return PackState.DUE, (reason,)
    if today > good_through:
        reason = Reason(HoldClass.ACTION_DUE, msg("pack.overdue", **values), since, msg("step.check_now"))
        return PackState.OVERDUE, (reason,)
    if facts.doubted_meter:
        reason = Reason(
            HoldClass.ACTION_DUE, msg("pack.in_doubt", meter=facts.doubted_meter, **values), since,
            msg("step.other_meter"),
        )  # fmt: skip
        return PackState.DUE, (reason,)
    if facts.last_level is VerdictLevel.TOO_NEAR:
        reason = Reason(HoldClass.ACTION_DUE, msg("pack.too_near", **values), since, msg("step.measure_again"))
        return PackState.DUE, (reason,)
    if facts.decided is not None and today >= facts.decided[0] == due_on:
        reason = Reason(HoldClass.ACTION_DUE, facts.decided[1], since, msg("step.check_today"))
        return PackState.DUE, (reason,)
    if today >= due_on:
        reason = Reason(HoldClass.ACTION_DUE, msg("pack.due", **values), since, msg("step.check_today"))
        return PackState.DUE, (reason,)
    return PackState.READY, ()


def vehicle_status(
    vehicle: Vehicle, packs: Sequence[PackStatus], holds: Sequence[OpenHold], left: tuple[str, str] | None = None
) -> VehicleStatus:
    """A vehicle's state from its packs and its own holds; the most serious reason leads.

    Grounded: a hold of its own, a quarantined or recalled pack in it, or fewer usable packs than it needs.
    Limited: enough packs, but not a usable one in every bay.  Ready but due: a usable pack is due.
    `left` is the pack last recorded here and the vehicle it was since found in: then nobody knows what
    is in this one, and it may not go out.
    """
    own = [_hold_reason(hold, "vehicle") for hold in holds]
    from_packs = [_with_pack(reason, pack.code) for pack in packs for reason in pack.reasons]
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
        missing = Reason(
            HoldClass.FAULT, msg("vehicle.empty_bay", have=len(packs), bays=vehicle.bays), None, msg("step.fit_pack")
        )
    else:
        missing = None
    reasons = own + from_packs + ([missing] if missing else [])
    reasons.sort(key=lambda reason: _CLASS_ORDER.index(reason.hold_class))
    due_days = [pack.due_on for pack in packs if pack.due_on is not None]
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
