"""Working days of a depot: weekdays without the public holidays of its country, by the holidays library."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import lru_cache

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Depot
from fleetcare.domain.wording import Message, msg

SATURDAY = 5


@lru_cache(maxsize=64)
def public_holidays(country: str, subdivision: str, year: int) -> dict[dt.date, str]:
    """The public holidays of one year by day; EntryRefused for a country or subdivision nobody knows."""
    import holidays  # hundreds of countries: not before a depot names one

    try:
        found = holidays.country_holidays(country, subdiv=subdivision or None, years=year)
    except NotImplementedError as error:
        raise EntryRefused(
            "depot.no_such_country", field="country", country=country, subdivision=subdivision or "—"
        ) from error
    return dict(found.items())


@dataclass(frozen=True, slots=True)
class WorkingDays:
    """Which days count at one depot; `closed` are further days on which nobody works there."""

    country: str = ""
    subdivision: str = ""
    closed: frozenset[dt.date] = field(default=frozenset())

    @classmethod
    def of(cls, depot: Depot | None, closed: frozenset[dt.date] = frozenset()) -> WorkingDays:
        """The calendar that a depot chose."""
        return cls(closed=closed) if depot is None else cls(depot.country, depot.subdivision, closed)

    @property
    def told(self) -> Message:
        """Which calendar this is, in words."""
        if not self.country:
            return msg("plan.weekdays_only")
        return msg("plan.holidays_of", country=self.country, subdivision=self.subdivision or "—")

    def holiday(self, day: dt.date) -> str:
        """The name of the public holiday on `day`, or ""."""
        return public_holidays(self.country, self.subdivision, day.year).get(day, "") if self.country else ""

    def is_working(self, day: dt.date) -> bool:
        """True on weekdays that are no holiday and not closed."""
        return day.weekday() < SATURDAY and day not in self.closed and not self.holiday(day)

    def from_day(self, start: dt.date, count: int) -> list[dt.date]:
        """The next `count` working days, `start` included when it is one."""
        found: list[dt.date] = []
        day = start
        for _ in range(count * 3 + 60):
            if len(found) == count:
                break
            if self.is_working(day):
                found.append(day)
            day += dt.timedelta(days=1)
        return found
