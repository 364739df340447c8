"""Calendar rules against the examples that RFC 5545 publishes, on whole days."""

import datetime as dt
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import recurrence
from fleetcare.domain.errors import EntryRefused


def dates(text: str) -> list[dt.date]:
    return [dt.date.fromisoformat(one) for one in text.split()]


# RFC 5545, section 3.8.5.3, "Recurrence Rule", examples; the times of day are left out, the days are the same.
# The rows of the second-to-last weekday, the third of Tuesday to Thursday and the 31st were read; the others are
# recalled from the text of the RFC.
@pytest.mark.parametrize(("start", "rule", "expected"), [
    ("1997-09-29", "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
     "1997-09-29 1997-10-30 1997-11-27 1997-12-30 1998-01-29 1998-02-26 1998-03-30"),
    ("1997-09-04", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "1997-09-04 1997-10-07 1997-11-06"),
    ("1997-09-02", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=31",
     "1997-10-31 1997-12-31 1998-01-31 1998-03-31 1998-05-31 1998-07-31 1998-08-31 1998-10-31 1998-12-31 1999-01-31"),
    ("1997-09-02", "FREQ=DAILY;COUNT=10", " ".join(f"1997-09-{n:02d}" for n in range(2, 12))),
    ("1997-09-02", "FREQ=DAILY;INTERVAL=10;COUNT=5", "1997-09-02 1997-09-12 1997-09-22 1997-10-02 1997-10-12"),
    # the RFC's UNTIL is midnight of 7 October, before that day's occurrence: on whole days the 6th is the last
    ("1997-09-02", "FREQ=WEEKLY;UNTIL=19971006T000000Z;WKST=SU;BYDAY=TU,TH",
     "1997-09-02 1997-09-04 1997-09-09 1997-09-11 1997-09-16 1997-09-18 1997-09-23 1997-09-25 1997-09-30 1997-10-02"),
    ("1997-09-02", "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
     "1997-09-02 1997-09-04 1997-09-16 1997-09-18 1997-09-30 1997-10-02 1997-10-14 1997-10-16"),
    ("1997-09-05", "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
     "1997-09-05 1997-10-03 1997-11-07 1997-12-05 1998-01-02 1998-02-06 1998-03-06 1998-04-03 1998-05-01 1998-06-05"),
    ("1997-09-22", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
     "1997-09-22 1997-10-20 1997-11-17 1997-12-22 1998-01-19 1998-02-16"),
    ("1997-09-28", "FREQ=MONTHLY;BYMONTHDAY=-3;COUNT=6",
     "1997-09-28 1997-10-29 1997-11-28 1997-12-29 1998-01-29 1998-02-26"),
    ("1997-06-10", "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
     "1997-06-10 1997-07-10 1998-06-10 1998-07-10 1999-06-10 1999-07-10 2000-06-10 2000-07-10 2001-06-10 2001-07-10"),
    ("1997-05-19", "FREQ=YEARLY;BYDAY=20MO;COUNT=3", "1997-05-19 1998-05-18 1999-05-17"),
    ("1997-08-05", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "1997-08-05 1997-08-10 1997-08-19 1997-08-24"),
    ("1997-08-05", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "1997-08-05 1997-08-17 1997-08-19 1997-08-31"),
    ("2007-01-15", "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "2007-01-15 2007-01-30 2007-02-15 2007-03-15 2007-03-30"),
])  # fmt: skip
def test_the_published_examples(start: str, rule: str, expected: str) -> None:
    wanted = dates(expected)
    found = list(itertools.islice(recurrence.days(rule, dt.date.fromisoformat(start)), len(wanted) + 1))
    assert found[: len(wanted)] == wanted
    assert ("COUNT" not in rule and "UNTIL" not in rule) or len(found) == len(wanted)


def test_a_day_that_a_month_does_not_have_is_skipped_and_not_counted() -> None:
    found = recurrence.days("FREQ=MONTHLY;BYMONTHDAY=30;COUNT=3", dt.date(2026, 1, 30))
    assert list(found) == dates("2026-01-30 2026-03-30 2026-04-30")


@pytest.mark.parametrize(
    "rule", ["", "weekly", "FREQ=NEVER", "FREQ=DAILY;BYHOUR=9", "FREQ=HOURLY", "DTSTART:20260101\nRRULE:FREQ=DAILY"]
)
def test_a_rule_that_is_none_or_has_a_time_is_refused(rule: str) -> None:
    with pytest.raises(EntryRefused, match="RFC 5545"):
        recurrence.check_rule(rule)


@given(st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)), st.integers(1, 60), st.integers(0, 400))
def test_the_next_day_is_the_first_later_one(start: dt.date, every: int, on: int) -> None:
    rule, after = f"FREQ=DAILY;INTERVAL={every}", start + dt.timedelta(days=on)
    assert recurrence.next_day(rule, start, after) == start + dt.timedelta(days=(on // every + 1) * every)
