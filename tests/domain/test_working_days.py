"""Working days: weekdays without the public holidays of the depot's country."""

import datetime as dt

import pytest

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Depot
from fleetcare.domain.wording import say
from fleetcare.domain.working_days import WorkingDays

# Published lists: gov.uk bank holidays of 2026 for England and Wales and for Scotland, and the German statutory days
# (from memory; Boxing Day 2026 is a Saturday, its substitute day Monday 28 December).
ENGLAND = [
    "2026-01-01",
    "2026-04-03",
    "2026-04-06",
    "2026-05-04",
    "2026-05-25",
    "2026-08-31",
    "2026-12-25",
    "2026-12-28",
]


def test_the_bank_holidays_of_england_in_2026() -> None:
    calendar = WorkingDays.of(Depot("KW", "Kestrel Wharf", country="GB", subdivision="ENG"))
    year = [dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365)]
    off = [day.isoformat() for day in year if day.weekday() < 5 and not calendar.is_working(day)]
    assert off == ENGLAND
    assert "GB" in say(calendar.told)


def test_subdivisions_differ() -> None:
    day = dt.date(2026, 8, 3)
    assert WorkingDays("GB", "ENG").is_working(day) and not WorkingDays("GB", "SCT").is_working(day)
    epiphany = dt.date(2026, 1, 6)
    assert WorkingDays("DE", "BE").is_working(epiphany) and not WorkingDays("DE", "BY").is_working(epiphany)


def test_without_a_country_weekdays_count_and_that_is_said() -> None:
    calendar = WorkingDays.of(Depot("KW", "Kestrel Wharf"), frozenset({dt.date(2026, 12, 24)}))
    assert calendar.is_working(dt.date(2026, 12, 25)) and not calendar.is_working(dt.date(2026, 12, 24))
    assert not calendar.is_working(dt.date(2026, 12, 26)) and "not known" in say(calendar.told)
    assert calendar.from_day(dt.date(2026, 12, 24), 2) == [dt.date(2026, 12, 25), dt.date(2026, 12, 28)]


def test_an_unknown_country_is_refused() -> None:
    for country, subdivision in (("XX", ""), ("GB", "ZZZ")):
        with pytest.raises(EntryRefused, match="No public holidays are known"):
            WorkingDays(country, subdivision).is_working(dt.date(2026, 1, 1))
