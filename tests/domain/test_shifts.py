"""A quantity that moved over the history and is steady today: found, dated, and not seen in mere scatter or season."""

import datetime as dt
import math

import numpy as np
import pytest

from fleetcare.domain.projection.shifts import shift

START = dt.datetime(2026, 1, 5, 9, tzinfo=dt.UTC)


def weekly(values: list[float]) -> list[tuple[dt.datetime, float]]:
    return [(START + dt.timedelta(weeks=week), value) for week, value in enumerate(values)]


def wobble(count: int, size: float) -> list[float]:
    """A fixed scatter of about this size, alike on every run."""
    return [size * math.sin(2.4 * k) for k in range(count)]


def test_a_step_is_dated_and_sized() -> None:
    values = [0.135 + (0.04 if week >= 26 else 0.0) + w for week, w in enumerate(wobble(45, 0.003))]
    found = shift(weekly(values), rises=True, least=0.0135)
    assert found is not None and found.steady
    assert found.before == pytest.approx(0.135, abs=0.003) and found.after == pytest.approx(0.175, abs=0.003)
    assert found.step == pytest.approx(0.04, abs=0.004) and found.step_on == (START + dt.timedelta(weeks=26)).date()
    assert found.began_on <= found.step_on <= found.ended_on + dt.timedelta(days=14)


def test_a_slow_rise_that_ended_is_no_step() -> None:
    values = [0.135 + 0.04 * min(max((week - 10) / 25, 0), 1) + w for week, w in enumerate(wobble(55, 0.001))]
    found = shift(weekly(values), rises=True, least=0.0135)
    assert found is not None and found.step is None
    assert found.change == pytest.approx(0.04, abs=0.003)
    assert (found.ended_on - found.began_on).days > 62


def test_scatter_alone_a_small_rise_and_a_recovery_are_not_told() -> None:
    generator = np.random.default_rng(7)
    for _ in range(200):
        assert shift(weekly(list(generator.normal(0.135, 0.006, 40))), rises=True, least=0.0135) is None
    small = [0.135 + (0.008 if week >= 20 else 0.0) for week in range(40)]
    assert shift(weekly(small), rises=True, least=0.0135) is None
    falling = [0.175 - (0.04 if week >= 20 else 0.0) for week in range(40)]
    assert shift(weekly(falling), rises=True, least=0.0135) is None
    volts = shift(weekly([v * 240 for v in falling]), rises=False, least=0.1)
    assert volts is not None and volts.change == pytest.approx(-9.6)


def test_a_move_that_has_hardly_ended_is_not_called_steady() -> None:
    values = [0.135 + 0.002 * max(week - 20, 0) for week in range(40)]
    found = shift(weekly(values), rises=True, least=0.0135)
    assert found is not None and not found.steady
    late = shift(weekly([0.135] * 36 + [0.175] * 6), rises=True, least=0.0135)
    assert late is not None and late.steady
    assert shift(weekly(values[:8]), rises=True, least=0.0135) is None


def test_the_order_of_the_readings_does_not_matter() -> None:
    readings = weekly([0.135 + (0.04 if week >= 26 else 0.0) + w for week, w in enumerate(wobble(45, 0.003))])
    assert shift(readings[::-1], rises=True, least=0.0135) == shift(readings, rises=True, least=0.0135)


def test_a_step_is_named_only_within_the_move_where_it_stayed_and_is_no_larger_than_it() -> None:
    slow = [0.165 + 0.0007 * week + w for week, w in enumerate(wobble(70, 0.001))]
    for first, size, count in ((50, 0.045, 6), (55, 0.05, 8), (30, 0.05, 7)):
        values = [v + (size if first <= week < first + count else 0.0) for week, v in enumerate(slow)]
        found = shift(weekly(values), rises=True, least=0.0165)
        assert found is not None and found.step is None, "it went back"
    stayed = [v + (0.04 if week >= 45 else 0.0) for week, v in enumerate(slow)]
    found = shift(weekly(stayed), rises=True, least=0.0165)
    assert found is not None and found.step is not None and found.step_on is not None
    assert found.step <= found.change and found.began_on < found.step_on <= found.ended_on


def test_it_ends_where_the_newest_readings_stand_however_long_the_history() -> None:
    for low in (6, 10, 20, 35):
        found = shift(weekly([54.3] * (200 - low) + [53.4] * low), rises=False, least=0.13)
        assert found is not None and found.after == 53.4 and found.step == pytest.approx(-0.9), low
    back = shift(weekly([54.3] * 180 + [53.4] * 14 + [54.3] * 6), rises=False, least=0.13)
    assert back is None, "an episode is no fall"


def test_three_low_readings_near_the_end_make_no_slow_rise_a_jump() -> None:
    lengths = []
    for seed in range(20):
        values = 0.168 + 0.04 * np.arange(76) / 75 + np.random.default_rng(seed).normal(0, 0.008, 76)
        values[[69, 71, 72]] = 0.167  # hot days whose thermometer was off
        found = shift(weekly(list(values)), rises=True, least=0.01)
        if found is not None:
            lengths.append((found.ended_on - found.began_on).days)
    assert len(lengths) >= 10 and min(lengths) > 62
