"""The projection's line against published fits, and what it says when it must not project."""

import datetime as dt
import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.projection.answer import Projection, Reading
from fleetcare.domain.projection.line import Line, project_line, t90, theil_sen
from fleetcare.domain.wording import say

AS_OF = dt.date(2026, 11, 2)


def readings(values: list[float], every: int = 7, **like: object) -> list[Reading]:
    start = dt.datetime(2026, 11, 2, 8, tzinfo=dt.UTC) - dt.timedelta(days=every * (len(values) - 1))
    common = {"kind": "rested_full", "rest": "hours_1_3", "meter": "M-01"} | like
    return [Reading(f"{i:03d}", start + dt.timedelta(days=every * i), v, **common) for i, v in enumerate(values)]  # type: ignore[arg-type]


def resistance(values: list[float], **more: object) -> Projection:
    return project_line(readings(values, **more), quantity="resistance_ohm", limit=0.300, rises=True, as_of=AS_OF)


def test_theil_sen_ignores_a_bad_point() -> None:
    # Worked by hand after Theil 1950 and Sen 1968 (convention of SciPy's theilslopes); least squares gives -0.814286.
    slope, intercept = theil_sen(np.arange(6.0), np.array([100, 99.4, 98.9, 90.0, 97.7, 97.1]))
    assert (slope, intercept) == (pytest.approx(-0.58), pytest.approx(99.75))
    slope, intercept = theil_sen(np.arange(1.0, 8.0), np.array([1, 2, 3, 4, 5, 20, 7.0]))
    assert (slope, intercept) == (pytest.approx(1.0), pytest.approx(0.0))


NORRIS_Y = [0.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
            557.7, 228.3, 998, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2]  # fmt: skip
NORRIS_X = [0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, 0.4, 0.6, 775.5, 666.9, 338, 447.5, 11.6,
            556, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5]  # fmt: skip


def test_the_norris_data_of_nist() -> None:
    # NIST StRD Norris: certified slope 1.00211681802045 (least squares); Theil-Sen on the same data
    # 1.0021968366, intercept -0.0640158 (SciPy 1.17.1 theilslopes).
    slope, intercept = theil_sen(np.array(NORRIS_X), np.array(NORRIS_Y))
    assert slope == pytest.approx(1.0021968366, abs=1e-9) and intercept == pytest.approx(-0.0640158, abs=1e-6)
    assert slope == pytest.approx(1.00211681802045, abs=3 * 0.000429796848199937)


def test_the_spread_of_a_prediction_is_that_of_a_straight_line() -> None:
    # NIST StRD Norris: standard deviation of the slope 0.000429796848199937 = s / sqrt(Sxx) with s = 0.884796396144.
    line = Line(np.array(NORRIS_X), np.array(NORRIS_Y), 0.0)
    assert line.slope_error / line.scatter == pytest.approx(0.000429796848199937 / 0.884796396144, rel=1e-9)


@pytest.mark.parametrize(("freedom", "t"), [(4, 1.533), (10, 1.372), (30, 1.310)])
def test_the_ninety_percent_point_of_students_t(freedom: int, t: float) -> None:
    # Any printed table of Student's t, one-sided 0.90.
    assert t90(freedom) == t


def test_eight_weekly_checks_reach_the_limit_in_a_range_of_weeks() -> None:
    sag = [1.60, 1.64, 1.66, 1.70, 1.73, 1.75, 1.80, 1.82]
    found = resistance([s / 8 for s in sag])
    assert found.used[-1].value == pytest.approx(0.2275)
    assert found.crossing_p50 is not None and dt.date(2027, 3, 1) <= found.crossing_p50 <= dt.date(2027, 4, 5)
    assert found.crossing_p10 is not None and found.crossing_p10 < found.crossing_p50
    said = say(found.sentence)
    assert "0.2275 Ω" in said and "between" in said and "8 comparable checks" in said


def test_three_comparable_checks_are_not_enough_and_no_line_is_drawn() -> None:
    found = resistance([0.20, 0.21, 0.22])
    assert say(found.sentence) == "not enough comparable checks (3 of 6)" and not found.fan and not found.projected


def test_a_flat_history_says_that_no_decline_is_seen() -> None:
    found = resistance([0.150, 0.151, 0.149, 0.150, 0.151, 0.149, 0.150, 0.150])
    assert say(found.sentence).startswith("No decline seen") and found.horizons[0].chance_beyond < 0.001


def test_another_meter_starts_a_new_segment_and_is_listed() -> None:
    mixed = readings([0.20] * 5, every=7, meter="M-02")
    mixed = [Reading(r.check_id + "x", r.done_at - dt.timedelta(days=60), *list(_rest(r))) for r in mixed]
    found = project_line(mixed + readings([0.25] * 4), quantity="resistance_ohm", limit=0.3, rises=True, as_of=AS_OF)
    assert found.comparable_checks == 4 and len(found.left_out) == 5
    assert {say(one.why) for one in found.left_out} == {"another meter"}


def _rest(r: Reading) -> tuple[object, ...]:
    return (r.value, r.kind, r.rest, r.meter)


VALUES = st.lists(st.floats(0.15, 0.28), min_size=6, max_size=12)


@given(VALUES, st.randoms())
def test_the_order_of_rows_changes_nothing(values: list[float], random: object) -> None:
    shuffled = readings(values)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    common = {"quantity": "resistance_ohm", "limit": 0.3, "rises": True, "as_of": AS_OF}
    assert project_line(shuffled, **common) == project_line(readings(values), **common)  # type: ignore[arg-type]


@given(VALUES)
def test_readings_after_the_as_of_date_change_nothing(values: list[float]) -> None:
    common = {"quantity": "resistance_ohm", "limit": 0.3, "rises": True, "as_of": AS_OF}
    later = [Reading("z", dt.datetime(2026, 11, 20, tzinfo=dt.UTC), 9.9, "rested_full", "hours_1_3", "M-01")]
    assert project_line(readings(values) + later, **common) == project_line(readings(values), **common)  # type: ignore[arg-type]


@given(VALUES)
def test_the_interval_widens_with_the_horizon_and_the_crossings_stand_in_order(values: list[float]) -> None:
    found = resistance(values)
    widths = [high - low for _, low, _, high in found.fan]
    assert all(b >= a - 1e-12 for a, b in itertools.pairwise(widths))
    dates = [d or dt.date.max for d in (found.crossing_p10, found.crossing_p50, found.crossing_p90)]
    assert dates == sorted(dates)


@given(VALUES, st.floats(0.001, 0.05))
def test_a_worse_history_is_never_projected_to_cross_later(values: list[float], worse: float) -> None:
    better, moved = resistance(values), resistance([v + worse for v in values])
    assert (moved.crossing_p50 or dt.date.max) <= (better.crossing_p50 or dt.date.max)
