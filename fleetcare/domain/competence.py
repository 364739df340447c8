"""What a person may do on a day: level, training that carries it, and when it runs out; and a contractor's meter."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.packs import Level, Meter, Person, Training

SOON_DAYS = 60
"""From so many days before its end on, what runs out is named (proposal)."""

PROVED_DAYS = 30
"""A contractor's meter without a calibration in date counts for so long after a good proof here (proposal)."""


class State(StrEnum):
    """How an expiry stands on a day."""

    VALID = "valid"
    SOON = "soon"
    EXPIRED = "expired"
    NO_END = "no_end"


def state_of(until: dt.date | None, day: dt.date) -> State:
    """An expiry date seen on `day`; the date itself no longer counts as valid."""
    if until is None:
        return State.NO_END
    if day >= until:
        return State.EXPIRED
    return State.SOON if (until - day).days <= SOON_DAYS else State.VALID


def newest_trainings(person: Person) -> dict[str, Training]:
    """The newest training of each item."""
    return {one.item: one for one in person.current_trainings()}


@dataclass(frozen=True, slots=True)
class RunsOut:
    """The next thing that takes competence from a person, and the level that is left then."""

    on: dt.date
    item: str
    left: Level


def runs_out(person: Person, day: dt.date) -> RunsOut | None:
    """What ends first from `day` on; `item` is "" for the level itself.  None when nothing does."""
    now = person.level_on(day)
    ends = {one.expires_on: one.item for one in person.current_trainings() if one.expires_on and one.expires_on > day}
    if person.level_until is not None and person.level_until > day:
        ends[person.level_until] = ""
    for on in sorted(ends):
        if person.level_on(on) is not now:
            return RunsOut(on, ends[on], person.level_on(on))
    return None


def meter_counts(meter: Meter, day: dt.date, last_good: dt.datetime | None) -> bool:
    """Whether a contractor's meter may be used on `day`: calibration in date, or a recent good proof here."""
    if not meter.owner:
        return True
    if meter.calibration_due is not None and day < meter.calibration_due:
        return True
    return last_good is not None and 0 <= (day - last_good.date()).days <= PROVED_DAYS
