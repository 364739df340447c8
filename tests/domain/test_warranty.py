"""Warranty terms: the last day, clauses that speak of hire, and what a claim still lacks."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.money import show_money
from fleetcare.domain.warranty import Evidence, Terms, evidence_items, missing, months_after
from fleetcare.domain.wording import msg, say


@pytest.mark.parametrize(
    ("day", "months", "end"),
    [("2026-01-15", 24, "2028-01-15"), ("2026-01-31", 1, "2026-02-28"), ("2024-02-29", 12, "2025-02-28"),
     ("2026-08-31", 6, "2027-02-28"), ("2026-12-01", 1, "2027-01-01"), ("2024-02-29", 48, "2028-02-29")],
)  # fmt: skip
def test_the_last_day_is_the_same_day_of_a_later_month_or_its_last(day: str, months: int, end: str) -> None:
    assert months_after(dt.date.fromisoformat(day), months) == dt.date.fromisoformat(end)


@given(st.dates(dt.date(2000, 1, 1), dt.date(2050, 1, 1)), st.integers(1, 240))
def test_more_months_never_end_sooner(day: dt.date, months: int) -> None:
    assert months_after(day, months) < months_after(day, months + 1)
    assert abs((months_after(day, months) - day).days - months * 30.4375) < 4


def test_days_left_count_to_the_last_day_and_below_zero_after_it() -> None:
    terms = Terms(dt.date(2026, 1, 15), 24)
    assert terms.days_left(dt.date(2026, 11, 2)) == 439
    assert terms.days_left(dt.date(2028, 1, 15)) == 0 and terms.days_left(dt.date(2028, 1, 16)) == -1
    assert Terms().days_left(dt.date(2026, 1, 1)) is None
    assert Terms(stated_end=dt.date(2027, 1, 1)).ends_on == dt.date(2027, 1, 1)


@pytest.mark.parametrize(
    ("clause", "named"),
    [("not for hire use", True), ("Excludes commercial use", True), ("no rental", True), ("leased vehicles excluded", True),
     ("24 months on cells", False), ("higher loads are not covered", False), ("", False)],
)  # fmt: skip
def test_a_clause_that_speaks_of_hire_is_noticed(clause: str, named: bool) -> None:
    assert Terms(clause=clause).speaks_of_hire is named


def test_evidence_names_what_is_there_and_what_is_not_and_blames_nobody() -> None:
    nothing = Evidence(Terms(), "", 0, "", False, 0, None, False, 2, 1, False)
    items = evidence_items(nothing)
    assert missing(items) == items
    terms = Terms(dt.date(2026, 1, 15), 24, "c", "R-1", Decimal("420"), "GBP")
    found = msg("warranty.found_pull", done_at=dt.datetime(2026, 11, 1, 8, tzinfo=dt.UTC))
    everything = evidence_items(Evidence(terms, "S", 0, "camera broken", True, 9, found, True, 0, 0, True))
    assert missing(everything) == () and "camera broken" in say(next(i.told for i in everything if i.key == "photos"))
    assert not any(
        word in say(one.told).lower() for one in (*items, *everything) for word in ("fault of", "caused by", "blame")
    )


@pytest.mark.parametrize(
    ("amount", "currency", "shown"),
    [
        ("420", "GBP", "£420"),
        ("1260", "GBP", "£1,260"),
        ("419.5", "EUR", "€419.50"),
        ("99", "CHF", "99 CHF"),
        ("0", "GBP", "£0"),
    ],
)
def test_prices_are_printed_with_their_sign(amount: str, currency: str, shown: str) -> None:
    assert show_money(Decimal(amount), currency) == shown
