"""A leak shows over weeks, by one meter, against what is usual; and LFP on its plateau shows nothing."""

import datetime as dt
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleetcare.domain.checks import RestBand
from fleetcare.domain.packs import Chemistry
from fleetcare.domain.self_discharge import (
    Compared,
    Normal,
    StorageRate,
    StoredReading,
    compare_rate,
    days_until,
    normal_of,
    storage_rate,
)

START = dt.datetime(2026, 8, 3, 9, tzinfo=dt.UTC)


def reading(day: float, volts: float, *, meter: str = "M-01", bench: float | None = 18.0,
            rest: RestBand = RestBand.OVERNIGHT) -> StoredReading:  # fmt: skip
    return StoredReading(f"{day}-{meter}", START + dt.timedelta(days=day), volts, meter, rest, bench)


def rate(*readings: StoredReading, touched: tuple[float, ...] = (), chemistry: Chemistry = Chemistry.NMC,
         series: int = 13) -> StorageRate:  # fmt: skip
    return storage_rate(readings, [START + dt.timedelta(days=d) for d in touched], chemistry, series)


def why(found: StorageRate) -> list[str]:
    return sorted(message.key for _, message in found.left_out)


@given(st.floats(-0.03, 0.0), st.lists(st.integers(0, 120), min_size=3, max_size=8, unique=True))
def test_a_straight_fall_comes_back_as_it_is_with_any_order_of_rows(slope: float, days: list[int]) -> None:
    if max(days) - min(days) < 21:
        return
    found = rate(*(reading(d, 49.0 + slope * d) for d in days))
    assert found.rate_v == pytest.approx(slope, abs=1e-9)
    assert found.level_v == pytest.approx(49.0 + slope * max(days))


def test_the_slope_is_theil_and_sens() -> None:
    draw = random.Random(7)
    days = [0, 7, 15, 22, 30, 41]
    volts = [48.6 - 0.012 * d + draw.gauss(0, 0.01) for d in days]
    expected = stats.theilslopes(volts, days).slope  # SciPy as the independent reference
    assert rate(*map(reading, days, volts)).rate_v == pytest.approx(expected)


def test_a_meter_that_reads_high_changes_nothing_and_another_meters_readings_take_no_part() -> None:
    low = rate(*(reading(d, 48.0 - 0.01 * d) for d in (0, 10, 20, 30)))
    high = rate(*(reading(d, 48.2 - 0.01 * d) for d in (0, 10, 20, 30)), reading(31, 47.3, meter="M-02"))
    assert high.rate_v == pytest.approx(low.rate_v) and why(high) == ["storage.other_meter"]


def test_too_few_and_too_short_are_answers() -> None:
    two = rate(reading(0, 48.0), reading(30, 47.8))
    assert two.refusal is not None and two.refusal.key == "storage.too_few" and two.refusal.value("have") == 2
    short = rate(*(reading(d, 48.0 - d / 100) for d in (0, 7, 14, 20)))
    assert short.refusal is not None and short.refusal.key == "storage.too_short"
    assert rate(*(reading(d, 48.0 - d / 100) for d in (0, 7, 14, 21))).refusal is None
    assert rate().refusal is not None


def test_only_the_newest_time_in_store_counts() -> None:
    before = [reading(d, 48.0 - d / 100) for d in (0, 14)]
    after = [reading(d, 50.0 - d / 200) for d in (40, 50, 65)]
    found = rate(*before, *after, touched=(30,))
    assert len(found.used) == 3 and why(found) == ["storage.in_use_since"] * 2
    charged = rate(*before, *after)
    assert len(charged.used) == 3 and why(charged) == ["storage.charged_since"] * 2
    used_now = rate(*before, *after, touched=(70,))
    assert not used_now.used and used_now.refusal is not None


def test_warm_days_short_rests_and_unknown_temperatures_are_left_out_with_their_reason() -> None:
    good = [reading(d, 48.0 - d / 100) for d in (0, 10, 20, 30)]
    odd = (reading(12, 48.1, bench=30), reading(14, 47.9, rest=RestBand.MIN_15_60), reading(16, 47.8, bench=None))
    found = rate(*good, *odd)
    assert found.rate_v == pytest.approx(-0.01)
    assert why(found) == ["storage.no_temperature", "storage.other_temperature", "storage.rest_too_short"]


def test_a_mistyped_reading_is_listed_and_not_used() -> None:
    found = rate(*(reading(d, 48.0 - d / 100) for d in (0, 8, 16, 32)), reading(24, 46.76))
    assert found.rate_v == pytest.approx(-0.01) and why(found) == ["projection.far_off"]


@pytest.mark.parametrize(
    ("group_v", "refused"), [(3.20, True), (3.30, True), (3.40, True), (3.05, False), (3.45, False)]
)
def test_lfp_is_refused_on_its_plateau_only(group_v: float, refused: bool) -> None:
    found = rate(*(reading(d, 16 * group_v) for d in (0, 10, 30)), chemistry=Chemistry.LFP, series=16)
    assert (found.refusal is not None and found.refusal.key == "storage.plateau") is refused
    assert rate(*(reading(d, 16 * 3.3) for d in (0, 10, 30)), series=16).refusal is None


def fleet(count: int, mean: float, spread: float) -> list[tuple[StorageRate, int]]:
    draw = random.Random(3)
    return [
        (rate(*(reading(d, 48.6 + slope * d) for d in (0, 14, 28, 42))), 13)
        for slope in (draw.gauss(mean, spread) for _ in range(count))
    ]


def test_what_is_usual_needs_five_packs_at_a_similar_charge() -> None:
    assert normal_of(fleet(4, -0.010, 0.001), 48.2 / 13) is None
    found = normal_of(fleet(9, -0.010, 0.001), 48.2 / 13)
    assert found is not None and found.packs == 9 and found.middle_v * 13 == pytest.approx(-0.010, abs=0.001)
    assert normal_of(fleet(9, -0.010, 0.001), 53.0 / 13) is None


def test_a_leak_of_one_group_stands_out_and_a_healthy_pack_does_not() -> None:
    # simulated packs of 13 groups: healthy 7 to 14 mV a day, one group leaking 10 mA adds 11 to 15 half full
    normal = normal_of(fleet(12, -0.0105, 0.0018), 48.2 / 13)
    leaking = rate(*(reading(d, 48.6 - 0.024 * d) for d in (0, 14, 28, 42)))
    healthy = rate(*(reading(d, 48.6 - 0.012 * d) for d in (0, 14, 28, 42)))
    between = rate(*(reading(d, 48.6 - 0.0155 * d) for d in (0, 11, 22)))
    assert compare_rate(leaking, normal, 13) is Compared.FASTER
    assert compare_rate(healthy, normal, 13) is Compared.USUAL
    assert compare_rate(between, Normal(-0.0105 / 13, 0.0018 / 13, 12), 13) is Compared.TOO_NEAR
    assert compare_rate(leaking, None, 13) is Compared.NO_NORMAL


def test_the_days_until_the_low_end_are_a_range_and_open_when_the_fall_is_unsure() -> None:
    sure = rate(*(reading(d, 48.6 - 0.01 * d) for d in range(0, 85, 14)))
    early, late = days_until(sure, 46.8)
    straight = (sure.level_v - 46.8) / 0.01
    assert late is not None and early < straight < late
    unsure = rate(*(reading(d, 48.6 - 0.0005 * d) for d in (0, 10, 21)))
    assert days_until(unsure, 46.8)[1] is None
