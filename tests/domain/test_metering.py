"""Meter accuracy, uncertainty and the decision with three answers, against published worked examples."""

import math
from decimal import Decimal

import pytest

from fleetcare.domain.metering import (
    Decision,
    chance_below,
    decide_lower,
    decide_upper,
    limit_of_error_v,
    resistance_uncertainty_ohm,
    standard_uncertainty_v,
)
from fleetcare.domain.packs import Meter

D = Decimal


def meter(percent: str, digits: int, digit_v: str) -> Meter:
    return Meter("M", "", D(percent), digits, D(digit_v))


def test_the_meter_makers_own_example() -> None:
    # Source: a meter maker's help page on accuracy, 120 V on the 600.0 V range at ±(1 % + 3) -> ±1.5 V.
    assert limit_of_error_v(D("120"), meter("1", 3, "0.1")) == D("1.5")


def test_counts_on_a_one_volt_range() -> None:
    # Source: an instrument maker's note "accuracy in counts": 0.5 V, 10 µV resolution, 3 % + 5 -> 15.05 mV.
    assert limit_of_error_v(D("0.5"), meter("3", 5, "0.00001")) == D("0.01505")


@pytest.mark.parametrize(("percent", "digits", "a60", "a600"), [
    ("0.05", 1, "0.0373", "0.1273"), ("0.5", 2, "0.2930", "0.4730"), ("0.5", 3, "0.3030", "0.5730"),
    ("0.8", 3, "0.4668", "0.7368"), ("1.0", 3, "0.5760", "0.8460"),
])  # fmt: skip
def test_a_full_thirteen_group_pack_on_common_meters(percent: str, digits: int, a60: str, a600: str) -> None:
    # Computed from ±(% of reading + digits); 54.6 V full for 13 groups is common practice, no source.
    assert limit_of_error_v(D("54.6"), meter(percent, digits, "0.01")) == D(a60)
    assert limit_of_error_v(D("54.6"), meter(percent, digits, "0.1")) == D(a600)


def test_the_limit_of_error_is_a_rectangular_distribution() -> None:
    # JCGM 100:2008, 4.3.7: u = a / sqrt(3); 0.2930 V -> 0.16916 V.
    assert standard_uncertainty_v(D("54.6"), meter("0.5", 2, "0.01")) == pytest.approx(0.16916, abs=5e-6)


@pytest.mark.parametrize(
    ("reading", "chance"), [(38.6, 0.97725), (38.8, 0.84134), (39.0, 0.5), (39.2, 0.15866), (39.4, 0.02275)]
)
def test_the_probability_of_being_below_a_limit(reading: float, chance: float) -> None:
    # JCGM 106:2012, conformance probability with a flat prior: Phi((limit - x) / u), u = 0.20 V.
    assert chance_below(reading, 39.0, 0.20) == pytest.approx(chance, abs=5e-6)


@pytest.mark.parametrize(("reading", "decision"), [
    ("39.40", Decision.PASS), ("39.39", Decision.TOO_NEAR), ("39.00", Decision.TOO_NEAR), ("38.61", Decision.TOO_NEAR),
    ("38.60", Decision.BEYOND), ("42.0", Decision.PASS), ("20", Decision.BEYOND),
])  # fmt: skip
def test_a_guard_band_of_two_standard_uncertainties(reading: str, decision: Decision) -> None:
    # ILAC-G8:09/2019: with w = 2u either answer carries at most 2.275 % risk.
    assert decide_lower(D(reading), D("39.0"), 0.2) is decision


def test_without_uncertainty_there_are_two_answers() -> None:
    assert decide_lower(D("39.0"), D("39.0"), 0.0) is Decision.PASS
    assert decide_lower(D("38.99"), D("39.0"), 0.0) is Decision.BEYOND
    assert decide_upper(D("39.01"), D("39.0"), 0.0) is Decision.BEYOND


def test_a_gain_error_common_to_both_readings_acts_on_their_difference_only() -> None:
    exact = meter("0.5", 0, "0.01")
    u = resistance_uncertainty_ohm(D("41.38"), D("39.78"), D("8"), exact, D("0"))
    assert u == pytest.approx(0.005 * 1.60 / math.sqrt(3) / 8)
    both = resistance_uncertainty_ohm(D("41.38"), D("39.78"), D("8"), meter("0.5", 2, "0.01"), D("1"))
    assert both > u
