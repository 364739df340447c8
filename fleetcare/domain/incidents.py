"""Incidents: what happened to which things, and the hold on their records until a manager closes it.

An incident moves nothing and judges nothing.  From its opening on every entry about the named things is
marked as made after it, and nothing about them is tidied away, so that the record of the day stands.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused

ITEM_CLASSES = ("vehicle", "pack", "charger")
"""What an incident may name."""

Item = tuple[str, str]


@dataclass(frozen=True, slots=True)
class IncidentOpened:
    """Something happened at `done_at`.  `items` are (class, code); `persons` are codes of colleagues.

    `others` are people who are not on record, by what they were ("the rider"), never by name.
    """

    code: str
    what: str
    where: str
    done_at: dt.datetime
    items: tuple[Item, ...]
    persons: tuple[str, ...] = ()
    others: str = ""

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise EntryRefused("incident.needs_what", field="what")
        if not self.where.strip():
            raise EntryRefused("incident.needs_where", field="where")
        if not self.items:
            raise EntryRefused("incident.needs_items", field="items")


@dataclass(frozen=True, slots=True)
class IncidentWidened:
    """More things turned out to belong to the incident of record `incident`."""

    incident: str
    code: str
    items: tuple[Item, ...]
    reason: str
    done_at: dt.datetime


@dataclass(frozen=True, slots=True)
class IncidentClosed:
    """A manager ended the hold on the records; what was marked while it was open stays marked."""

    incident: str
    code: str
    items: tuple[Item, ...]
    reason: str
    done_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Incident:
    """One incident as known at a record position.  `items` are (class, code, position from which it holds)."""

    record_id: str
    code: str
    what: str
    where: str
    happened_at: dt.datetime
    opened_at: dt.datetime
    opened_by: str
    position: int
    items: tuple[tuple[str, str, int], ...]
    persons: tuple[str, ...] = ()
    others: str = ""
    closed_at: dt.datetime | None = None
    closed_by: str = ""
    closed_reason: str = ""
    closed_position: int | None = None

    @property
    def open(self) -> bool:
        """True until a manager closed it."""
        return self.closed_position is None

    @property
    def things(self) -> tuple[Item, ...]:
        """The named things as (class, code)."""
        return tuple((cls, code) for cls, code, _ in self.items)

    def names(self, subject: Item) -> bool:
        """True when `subject` is one of the named things."""
        return subject in self.things

    def marks(self, position: int, done_at: dt.datetime) -> bool:
        """Whether an entry at `position` about `done_at` was made after this incident.

        Every entry made while it is open was; and for good every entry about the time up to it that was
        made after it was opened.
        """
        if position <= self.position:
            return False
        return self.closed_position is None or position < self.closed_position or done_at <= self.happened_at


def code_for(number: int, year: int) -> str:
    """The code of the `number`-th incident on record: I-2026-004."""
    return f"I-{year}-{number:03d}"
