"""Whether a vehicle may go out, and whether a pack may be used: pure functions of facts and now."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message


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
    """What is known of a pack when its state is asked."""

    code: str
    standing_in_service: bool
    last_valid_check: dt.datetime | None
    last_level: VerdictLevel | None
    holds: tuple[OpenHold, ...] = ()


@dataclass(frozen=True, slots=True)
class PackStatus:
    """A pack's state today.  `reasons` is empty exactly when the state is ready."""

    code: str
    state: PackState
    usable: bool
    due_on: dt.date | None
    level: VerdictLevel | None
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class VehicleStatus:
    """A vehicle's state today.  `reasons` leads with the most serious; empty when ready."""

    code: str
    state: BoardState
    reasons: tuple[Reason, ...] = ()
    due_on: dt.date | None = None
