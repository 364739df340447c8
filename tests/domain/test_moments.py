"""Days and times as they stand on a paper sheet."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.moments import date_if_typed, parse_date, parse_moment

LONDON = ZoneInfo("Europe/London")


def test_a_date_is_iso_8601_and_nothing_else() -> None:
    assert parse_date(" 2026-11-02 ", field="date") == dt.date(2026, 11, 2)
    for typed in ("02/11/2026", "2026-13-01", "2026-02-30", "2026-11-9", "20261102", "2026-W45-1", ""):
        with pytest.raises(EntryRefused, match="Type it as YYYY-MM-DD"):
            parse_date(typed, field="date")
    assert date_if_typed(" ", field="until") is None and date_if_typed("2026-11-02", field="until") == dt.date(
        2026, 11, 2
    )
    with pytest.raises(EntryRefused, match="“2 Nov” is not a date") as refused:
        date_if_typed("2 Nov", field="until")
    assert refused.value.field == "until"


def test_the_hour_that_came_twice_is_asked_about_and_stays_in_order() -> None:
    # The IANA time zone database: Europe/London went back from 02:00 BST to 01:00 GMT on 25 Oct 2026.
    day = dt.date(2026, 10, 25)
    with pytest.raises(EntryRefused, match="01:50 came twice"):
        parse_moment(day, "01:50", LONDON, field="time")
    first, second = (parse_moment(day, typed, LONDON, field="time") for typed in ("01:50+1", "1:10+2"))
    assert second - first == dt.timedelta(minutes=20)
    assert (first.utcoffset(), second.utcoffset()) == (dt.timedelta(hours=1), dt.timedelta(0))


def test_the_hour_that_never_was_is_refused() -> None:
    # Europe/London went forward from 01:00 to 02:00 on 29 Mar 2026.
    with pytest.raises(EntryRefused, match="there was no 01:30"):
        parse_moment(dt.date(2026, 3, 29), "01:30", LONDON, field="time")
    assert parse_moment(dt.date(2026, 3, 29), "02:30", LONDON, field="time").utcoffset() == dt.timedelta(hours=1)


@pytest.mark.parametrize("typed", ["640", "24:00", "06:60", "", "6.4"])
def test_what_is_no_time_of_day_is_refused(typed: str) -> None:
    with pytest.raises(EntryRefused, match="Type it as HH:MM"):
        parse_moment(dt.date(2026, 11, 2), typed, LONDON, field="time")
