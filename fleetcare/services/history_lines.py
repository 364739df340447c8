"""What a maintenance history holds: what was asked, its lines, and their count."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from fleetcare.domain.checks import Hold, LookOver, Release, Trip
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.procedures import Work
from fleetcare.domain.records import CheckCorrected, CheckJudged
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services.history_changes import Used, note_use
from fleetcare.services.telling import LATE_MINUTES


@dataclass(frozen=True, slots=True)
class Asked:
    """Which history: "vehicle", "pack" or "fleet", its code, and both days of the period included.

    People in `withheld` (codes) are printed as initials.
    """

    subject_class: str
    code: str
    from_date: dt.date
    to_date: dt.date
    withheld: frozenset[str] = frozenset()

    @property
    def title(self) -> Message:
        """What the history is of."""
        return msg(f"history.of_{self.subject_class}", code=self.code)


@dataclass(frozen=True, slots=True)
class Line:
    """One entry: what was recorded, by whom, when done and when entered; `notes` stand below it."""

    position: int
    done_at: dt.datetime
    entered_at: dt.datetime
    person: str
    person_name: str
    level: str
    text: str
    notes: tuple[str, ...]
    struck: bool
    after_stop: bool
    body: object
    procedure: str = ""
    after_incident: bool = False


@dataclass(frozen=True, slots=True)
class History:
    """Everything of a history but its lines, which `lines_of` reads; `initials` where a name is printed so."""

    asked: Asked
    as_of: dt.datetime
    head: Head
    fleet_name: str
    demo: bool
    summary: tuple[tuple[str, str], ...]
    ends: tuple[Message, ...]
    stays: tuple[Message, ...]
    gaps: tuple[Message, ...]
    conditions: tuple[tuple[Message, Message], ...]
    lodgings: tuple[Message, ...]
    lodging_gaps: tuple[Message, ...]
    lines: int
    incidents: tuple[Message, ...] = ()
    recalls: tuple[Message, ...] = ()
    procedures: tuple[Message, ...] = ()
    texts: tuple[tuple[Message, tuple[str, ...]], ...] = ()
    settings: tuple[Message, ...] = ()
    initials: bool = False


@dataclass(slots=True)
class Tally:
    """Counted as the lines pass by."""

    checks: int = 0
    struck: int = 0
    late: int = 0
    after_stop: int = 0
    after_incident: int = 0
    trips: int = 0
    unexplained: int = 0
    holds: int = 0
    releases: int = 0
    inspections: int = 0
    findings: int = 0
    doubtful_meter: int = 0
    people: dict[str, set[str]] = field(default_factory=dict)
    used: dict[tuple[Work, str], Used] = field(default_factory=dict)


def is_late(done_at: dt.datetime, entered_at: dt.datetime) -> bool:
    """True when it was entered more than LATE_MINUTES after it was done."""
    return entered_at - done_at > dt.timedelta(minutes=LATE_MINUTES)


def count(tally: Tally, line: Line) -> None:
    """Add one line to the tally; a struck check is not counted as done."""
    if line.person:
        level = word(f"level.{line.level}") if line.level else ""
        tally.people.setdefault(line.person, set()).add(level)
    tally.struck += line.struck
    if is_late(line.done_at, line.entered_at):
        tally.late += 1
        tally.after_stop += line.after_stop
    note_use(tally.used, line.body, line.done_at.date())
    tally.after_incident += line.after_incident
    body = line.body.judged if isinstance(line.body, CheckCorrected) else line.body
    match body:
        case CheckJudged():
            tally.checks += not line.struck
            tally.doubtful_meter += not line.struck and body.meter_state.key != "meter_state.in_date"
            if body.look_over is not None and not line.struck:
                tally.inspections += 1
                tally.findings += bool(body.look_over)
        case LookOver():
            tally.inspections += 1
            tally.findings += bool(body.found)
        case Trip():
            tally.trips += 1
            tally.unexplained += not body.explained
        case Hold():
            tally.holds += 1
        case Release():
            tally.releases += 1
