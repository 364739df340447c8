"""The fault-finding tree as data: what is seen, the next safe test, what to do, and who.

It never offers opening a pack, a forced wake, charging through the output, or linking packs.  The
sentences of a row stand in the catalogue under its code (`tree.r2_see`, `_likely`, `_test`, `_do`).
The rows are common practice of workshops, no source.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import msg

UNSEEN_DAYS = 30
"""A pack that reads nothing and was not checked for longer than this is never put on a charger (proposal)."""

NO_FAULT_LIMIT = 3
"""So many walks without a fault found ask for a closer look; reaching it is enough (common practice, no source)."""


class Who(StrEnum):
    """Whose work a row is."""

    MAY_CHECK = "may_check"
    MAY_RELEASE = "may_release"
    MAKER = "maker"


class Outcome(StrEnum):
    """Where a walk ends."""

    SLEPT = "slept"
    CHECK = "check"
    LOG = "log"
    NO_FAULT = "no_fault"
    PLAN = "plan"
    VEHICLE_FAULT = "vehicle_fault"
    BOTH_FAULT = "both_fault"
    BRAKES = "brakes"
    CHARGER_FAULT = "charger_fault"
    FUSE = "fuse"
    HOLD = "hold"
    PULL = "pull"
    MAKER = "maker"
    QUARANTINE = "quarantine"


_PACK_HOLDS = {
    Outcome.BOTH_FAULT: HoldClass.FAULT,
    Outcome.FUSE: HoldClass.FAULT,
    Outcome.HOLD: HoldClass.ACTION_DUE,
    Outcome.PULL: HoldClass.FAULT,
    Outcome.MAKER: HoldClass.FAULT,
    Outcome.QUARANTINE: HoldClass.DANGER,
}
_VEHICLE_HOLDS = {
    Outcome.VEHICLE_FAULT: HoldClass.FAULT,
    Outcome.BOTH_FAULT: HoldClass.FAULT,
    Outcome.BRAKES: HoldClass.ACTION_DUE,
}
SAFER = frozenset(_PACK_HOLDS) | frozenset(_VEHICLE_HOLDS) | {Outcome.CHARGER_FAULT}
"""Outcomes that hold something: anyone may reach the safer state."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a row's test: on to another row (`to`), or the end (`outcome`).

    `charges` marks an answer that means the pack was put on a charger; `reading` asks for the volts.
    """

    name: str
    to: str = ""
    outcome: Outcome | None = None
    charges: bool = False
    reading: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its code, whose work it is, and the answers to its test."""

    code: str
    who: Who
    answers: tuple[Answer, ...]


def _row(code: str, who: Who, *answers: Answer) -> tuple[str, Row]:
    return code, Row(code, who, answers)


_A, _B, _M, _O = Who.MAY_CHECK, Who.MAY_RELEASE, Who.MAKER, Outcome

ROWS: dict[str, Row] = dict((
    _row("r1", _A, Answer("woke", outcome=_O.SLEPT, reading=True), Answer("lamp_red", "r1b", charges=True),
         Answer("lamp_green", "r1c", charges=True), Answer("stays_dead", outcome=_O.PULL)),
    _row("r1b", _B, Answer("rises", outcome=_O.SLEPT, charges=True, reading=True), Answer("stuck", outcome=_O.PULL)),
    _row("r1c", _B, Answer("fuse_open", "r15"), Answer("charger_bad", outcome=_O.CHARGER_FAULT),
         Answer("neither", outcome=_O.MAKER)),
    _row("r2", _B, Answer("follows_vehicle", outcome=_O.VEHICLE_FAULT), Answer("collapses", outcome=_O.PULL, reading=True),
         Answer("follows_pack", outcome=_O.MAKER)),
    _row("r3", _A, Answer("keeps", outcome=_O.CHECK), Answer("drops", outcome=_O.PULL)),
    _row("r4", _B, Answer("maker_allows", outcome=_O.HOLD), Answer("maker_silent", outcome=_O.MAKER)),
    _row("r5", _M, Answer("understood", outcome=_O.QUARANTINE)),
    _row("r6", _B, Answer("is_true", outcome=_O.QUARANTINE, reading=True), Answer("meter_wrong", outcome=_O.CHECK)),
    _row("r7", _B, Answer("sags_more", outcome=_O.PULL), Answer("sags_as_before", outcome=_O.LOG)),
    _row("r8", _B, Answer("damage_found", outcome=_O.VEHICLE_FAULT), Answer("nothing_found", outcome=_O.NO_FAULT)),
    _row("r9", _B, Answer("was_full", outcome=_O.BRAKES), Answer("was_not_full", "r8")),
    _row("r10", _B, Answer("follows_pack", outcome=_O.PLAN), Answer("follows_vehicle", outcome=_O.VEHICLE_FAULT)),
    _row("r11", _B, Answer("charger_low", outcome=_O.CHARGER_FAULT), Answer("reaches_full", outcome=_O.CHECK),
         Answer("no_change", outcome=_O.MAKER)),
    _row("r12", _A, Answer("charges_good_pack", outcome=_O.LOG), Answer("charges_nothing", outcome=_O.CHARGER_FAULT)),
    _row("r13", _B, Answer("both_halves", outcome=_O.BOTH_FAULT)),
    _row("r14", _M, Answer("understood", outcome=_O.QUARANTINE)),
    _row("r15", _B, Answer("cause_found", outcome=_O.FUSE), Answer("cause_not_found", outcome=_O.FUSE)),
    _row("r16", _M, Answer("understood", outcome=_O.QUARANTINE)),
    _row("r17", _B, Answer("spread_over", outcome=_O.PULL), Answer("spread_within", outcome=_O.CHECK)),
    _row("r18", _A, Answer("no_fault", outcome=_O.NO_FAULT), Answer("shows_here", "r2")),
))  # fmt: skip
"""Every row by its code, in the order in which they are offered."""


@dataclass(frozen=True, slots=True)
class FaultWalk:
    """One walk through the tree: each step is a row's code and the answer's name; `readings` the volts typed.

    The gate was asked before it and nothing was so.
    """

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    steps: tuple[tuple[str, str], ...]
    outcome: Outcome
    charger: str = ""
    readings: tuple[tuple[str, Decimal], ...] = ()
    remark: str = ""


CHARGER_ROWS = ("r1", "r1b", "r1c", "r3")
"""Rows whose test puts the pack on its own charger: the chargers that fit it are named there."""


def test_of(row: str, *, charge_allowed: bool) -> str:
    """The catalogue key of a row's next safe test; where the pack may not be charged, one without a charger."""
    other = not charge_allowed and row in CHARGER_ROWS[:3]
    return f"tree.{row}_test_no_charge" if other else f"tree.{row}_test"


def answers_of(row: str, *, charge_allowed: bool) -> tuple[Answer, ...]:
    """The answers that a row offers; those that put the pack on a charger only where that is allowed."""
    return tuple(a for a in ROWS[row].answers if charge_allowed or not a.charges)


def follow(steps: tuple[tuple[str, str], ...], *, charge_allowed: bool) -> Outcome:
    """The outcome that `steps` lead to; EntryRefused for a path that the tree does not have."""
    expected = steps[0][0] if steps else ""
    outcome: Outcome | None = None
    for row, name in steps:
        if row != expected or row not in ROWS or outcome is not None:
            raise EntryRefused("tree.no_such_path", field="steps")
        answer = next((a for a in answers_of(row, charge_allowed=charge_allowed) if a.name == name), None)
        if answer is None:
            raise EntryRefused("tree.no_such_path", field="steps")
        expected, outcome = answer.to, answer.outcome
    if outcome is None:
        raise EntryRefused("tree.not_finished", field="steps")
    return outcome


def may_charge(last_seen: dt.date | None, today: dt.date, *, after_storage: bool = False) -> bool:
    """Whether a pack that reads nothing may be put on a charger: checked within the last 30 days, both ends in, and
    not out of storage (its newest check was of a stored pack).
    """
    return not after_storage and last_seen is not None and (today - last_seen).days <= UNSEEN_DAYS


def refuse_low(rested_v: Decimal, low_hold_v: Decimal) -> None:
    """Raises EntryRefused when a pack that woke reads below the hold limit; the limit itself suffices."""
    if rested_v < low_hold_v:
        raise EntryRefused("tree.below_hold", field="reading", rested_v=rested_v, limit_v=low_hold_v)


def rulings(walk: FaultWalk, no_faults_before: int) -> dict[str, Ruling]:
    """What the outcome holds, by "pack", "vehicle" and "charger"."""
    found: dict[str, Ruling] = {}
    reason = msg("tree.held", outcome=msg(f"tree_outcome.{walk.outcome.value}"))
    if walk.outcome in _PACK_HOLDS:
        found["pack"] = Ruling(_PACK_HOLDS[walk.outcome], reason)
    if walk.outcome in _VEHICLE_HOLDS and walk.vehicle:
        found["vehicle"] = Ruling(_VEHICLE_HOLDS[walk.outcome], reason)
    if walk.outcome is Outcome.CHARGER_FAULT and walk.charger:
        found["charger"] = Ruling(HoldClass.FAULT, reason)
    if walk.outcome is Outcome.NO_FAULT and no_faults_before + 1 >= NO_FAULT_LIMIT:
        found["pack"] = Ruling(HoldClass.UNKNOWN, msg("tree.look_harder", number=no_faults_before + 1))
    return found
