"""Pace, pulls upheld, and limits loosened: what the manager is shown and what not."""

import datetime as dt
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import pace, upheld
from fleetcare.domain.verdicts import VerdictLevel

AT = dt.datetime(2026, 11, 2, 6, 30, tzinfo=dt.UTC)


def made(seconds: float, pack: str, rested: str = "41.60", by: str = "DUNN") -> pace.Made:
    return pace.Made(by, AT + dt.timedelta(seconds=seconds), pack, rested)


def test_twenty_checks_in_six_minutes_are_shown_and_nineteen_are_not() -> None:
    twenty = [made(n * 360 / 19, f"P-{n}") for n in range(20)]
    assert [(one.by, one.count) for one in pace.bursts(twenty)] == [("DUNN", 20)]
    assert pace.bursts(twenty[:19]) == ()
    assert pace.bursts([made(n * 20, f"P-{n}") for n in range(40)]) == ()
    assert pace.bursts([replace(one, by=f"X{n % 2}") for n, one in enumerate(twenty)]) == ()


def test_one_long_burst_is_one_line() -> None:
    found = pace.bursts([made(n * 10, f"P-{n}") for n in range(60)])
    assert [(one.count, one.last - one.first) for one in found] == [(60, dt.timedelta(seconds=590))]


@given(st.lists(st.floats(0, 4000, allow_nan=False), max_size=60))
def test_a_burst_is_found_exactly_when_some_window_holds_twenty(times: list[float]) -> None:
    rows = [made(t, f"P-{n}") for n, t in enumerate(times)]
    stamps = sorted(one.done_at for one in rows)
    dense = any(b - a <= dt.timedelta(minutes=6) for a, b in zip(stamps, stamps[19:], strict=False))
    assert bool(pace.bursts(rows)) is dense


def test_the_same_digits_on_six_packs_in_a_row_are_shown() -> None:
    six = [made(n * 300, f"P-{n}") for n in range(6)]
    assert [(one.count, one.rested) for one in pace.repeated(six)] == [(6, "41.60")]
    assert pace.repeated(six[:5]) == ()
    assert pace.repeated([made(n * 300, "P-1") for n in range(9)]) == ()
    assert pace.repeated([made(n * 300, f"P-{n}", f"41.{60 + n % 2}") for n in range(12)]) == ()


def test_a_pull_is_upheld_by_the_next_judged_check_and_counted_in_its_month() -> None:
    day = dt.date(2026, 10, 30)
    P, W, G, N, T = (
        VerdictLevel.PULL,
        VerdictLevel.WATCH,
        VerdictLevel.PASS,
        VerdictLevel.NOT_JUDGED,
        VerdictLevel.TOO_NEAR,
    )
    rows = [("A", P), ("A", N), ("A", P), ("A", P), ("B", P), ("B", T), ("B", G), ("C", P), ("D", W), ("D", G)]
    found = upheld.monthly((pack, day + dt.timedelta(days=n // 5), level) for n, (pack, level) in enumerate(rows))
    october = found[dt.date(2026, 10, 1)]
    assert (october.upheld, october.overturned, october.open, october.pulled) == (1, 1, 1, 3)
    again = upheld.monthly([("B", day, P), ("B", day, G), ("B", day, P)])
    assert (again[dt.date(2026, 10, 1)].overturned, again[dt.date(2026, 10, 1)].open) == (1, 1)
