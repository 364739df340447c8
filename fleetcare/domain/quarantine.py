"""Quarantine: days, daily looks, the alarm day, and how a pack leaves for good.

Days are counted by date: the day of the quarantine is day 0.  No official figure for how long to wait
was found, so the alarm day is a setting of the site.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.added_later import added_later
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import Message, msg


class TransportHead(StrEnum):
    """The heads under which a damaged or defective pack is judged before carriage.

    Source: note to special provision 376 of ADR 2025, its list recalled from memory; the carrier's own
    form and the maker's criteria win.
    """

    ACUTE_HAZARD = "acute_hazard"
    MISUSE = "misuse"
    PHYSICAL_DAMAGE = "physical_damage"
    SHORT_CIRCUIT = "short_circuit"
    SAFETY_FEATURES = "safety_features"
    INTERNAL_PARTS = "internal_parts"


class HeadAnswer(StrEnum):
    """What was found under one head; not being able to say counts as found."""

    NOT_FOUND = "not_found"
    FOUND = "found"
    CANNOT_SAY = "cannot_say"


@dataclass(frozen=True, slots=True)
class QuarantineLook:
    """The daily look at a quarantined pack, from a distance.  `changed`: warmer, larger, smell, noise, smoke."""

    pack: str
    done_at: dt.datetime
    changed: bool
    place: str = ""
    remark: str = ""
    procedure: str = added_later("")


@dataclass(frozen=True, slots=True)
class Collected:
    """A pack was handed to a carrier and is written off: its label can never be used again.

    `heads` holds the six transport heads with their answers.  `weight_kg` and `receipt` may follow on
    paper and are then empty.
    """

    pack: str
    done_at: dt.datetime
    carrier: str
    consignment: str
    heads: tuple[tuple[str, str], ...]
    weight_kg: Decimal | None = None
    receipt: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        if not self.carrier.strip():
            raise EntryRefused("quarantine.needs_carrier", field="carrier")
        if not self.consignment.strip():
            raise EntryRefused("quarantine.needs_consignment", field="consignment")
        answered = dict(self.heads)
        for head in TransportHead:
            if answered.get(head.value) not in list(HeadAnswer):
                raise EntryRefused(
                    "quarantine.needs_head", field="heads", head_number=list(TransportHead).index(head) + 1
                )


def days_in(since: dt.date, today: dt.date) -> int:
    """Whole days since the quarantine began."""
    return (today - since).days


def missed_looks(since: dt.date, looked: Iterable[dt.date], today: dt.date) -> tuple[dt.date, ...]:
    """Days after the first, and before today, on which nobody looked."""
    seen = set(looked)
    days = (since + dt.timedelta(days=n) for n in range(1, days_in(since, today)))
    return tuple(day for day in days if day not in seen)


def next_look(since: dt.date, looked: Collection[dt.date], today: dt.date) -> tuple[dt.date, Message]:
    """The day of the next daily look and why: today, or tomorrow once today's is done; the first day needs none."""
    done = today in looked or since >= today
    key = "due.quarantine_next" if today in looked else "due.quarantine_today"
    return today + dt.timedelta(days=1 if done else 0), msg(key, since_date=since)


def spans(days: Iterable[dt.date]) -> tuple[tuple[dt.date, dt.date], ...]:
    """Days in their order as runs without a gap, each by its first and last day."""
    found: list[tuple[dt.date, dt.date]] = []
    for day in days:
        if found and day - found[-1][1] == dt.timedelta(days=1):
            found[-1] = (found[-1][0], day)
        else:
            found.append((day, day))
    return tuple(found)


def alarm_on(since: dt.date, alarm_days: int) -> dt.date:
    """The day on which the manager is alarmed; the day itself counts."""
    return since + dt.timedelta(days=alarm_days)


def is_alarm(days: int, alarm_days: int) -> bool:
    """Whether so many `days_in` quarantine are an alarm; exactly `alarm_days` are."""
    return days >= alarm_days
