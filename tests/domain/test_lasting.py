"""Models compared at equal age, and what a plan may cost, against published figures and enumeration."""

import itertools
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.projection.budget import cost_range
from fleetcare.domain.projection.lasting import Lived, compare_pair, score_interval, stood_at, variance_at
from fleetcare.domain.projection.planning import count_range, kaplan_meier

NIST_AGES = (10, 32, 56, 98, 122, 181, 50, 100, 125, 150, *([200] * 10))
NIST_FAILED = (*([True] * 6), *([False] * 14))


def test_kaplan_meier_of_the_nist_handbook_to_six_digits() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, ch. 8, Kaplan-Meier example (20 units, 6 failures);
    # the six digits by exact fractions from its data
    found = kaplan_meier(NIST_AGES, NIST_FAILED)
    assert found.share == pytest.approx([0.95, 0.90, 0.847059, 0.794118, 0.737395, 0.670359], abs=1e-6)
    assert found.at_risk[-1] == 11 and found.at(1e9) > 0.5  # the median is not reached


def test_kaplan_meier_of_a_second_published_example() -> None:
    # an open reliability wiki's worked example: failures at 9 (three), 11, 13, 17, 21, 28, 30
    at_risk = {9: 20, 11: 16, 13: 14, 17: 11, 21: 10, 28: 6, 30: 5}
    ages: list[float] = [9, 9, 9, 11, 13, 17, 21, 28, 30]
    failed = [True] * 9
    left = 20
    for age, risk in at_risk.items():
        removed = left - risk
        ages += [age - 0.5] * removed
        failed += [False] * removed
        left = risk - (3 if age == 9 else 1)
    ages += [40] * left
    failed += [False] * left
    found = kaplan_meier(ages, failed)
    assert found.at_risk == tuple(at_risk.values())
    assert found.share == pytest.approx([0.850, 0.797, 0.740, 0.673, 0.605, 0.505, 0.404], abs=6e-4)


def test_a_pack_censored_at_the_age_of_a_pull_is_still_at_risk_there_and_a_pull_at_the_very_age_counts() -> None:
    found = kaplan_meier([5, 5, 8], [True, False, False])
    assert found.at_risk == (3,) and found.at(5) == pytest.approx(2 / 3) and found.at(4.999) == 1.0
    everyone = kaplan_meier([3, 3], [True, True])
    assert everyone.at(3) == 0.0 and everyone.followed_to(2) == 2


def test_greenwoods_variance_without_removals_is_the_binomial_one() -> None:
    ages = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]
    found = kaplan_meier(ages, [True] * 10)
    assert variance_at(found, 4) == pytest.approx(0.6 * 0.4 / 10)


def test_the_score_interval_of_a_published_case() -> None:
    # Wilson's interval for 15 of 148 at 95 %: 0.0624 to 0.1605 (Newcombe 1998, Statistics in Medicine 17, 857; from memory)
    assert score_interval(15 / 148, 148, 1.959964) == pytest.approx((0.0624, 0.1605), abs=5e-5)
    low, high = score_interval(1.0, 3, 1.2816)
    assert high == pytest.approx(1.0) and low < 0.7  # three packs without a pull prove little


def lived(model: str, ages: list[float], pulled: list[bool]) -> Lived:
    return Lived(model, tuple(ages), tuple(pulled))


def test_three_young_packs_are_compared_at_their_age_and_never_ranked() -> None:
    old = lived("old", [600, 650, 700, 720, 750, 800, 810, 820, 830, 840, 850, 860, 870, 880], [True] * 6 + [False] * 8)
    young = lived("young", [210, 213, 215], [False] * 3)
    for found in (compare_pair(old, young), compare_pair(young, old)):
        assert found.age_days == 213 and not found.ranked and found.better is None and found.too_few == "young"


def test_a_clear_difference_is_said_and_a_small_one_is_not() -> None:
    good = lived("good", [900.0] * 30, [False] * 30)
    bad = lived("bad", [300.0] * 15 + [900.0] * 15, [True] * 15 + [False] * 15)
    near = lived("near", [300.0] * 2 + [900.0] * 28, [True] * 2 + [False] * 28)
    assert compare_pair(good, bad).better == "good" and compare_pair(bad, good).better == "good"
    assert compare_pair(good, near).better is None and not compare_pair(good, near).ranked
    some = lived("some", [300.0] * 4 + [900.0] * 26, [True] * 4 + [False] * 26)
    level = lived("level", [350.0] * 3 + [900.0] * 27, [True] * 3 + [False] * 27)
    assert compare_pair(level, some).ranked and compare_pair(level, some).better is None


def test_one_young_pack_does_not_decide_the_age_for_all() -> None:
    mixed = lived("mixed", [400.0] * 8 + [1000.0], [False] * 9)
    old = lived("old", [1200.0] * 10, [True] * 5 + [False] * 5)
    assert compare_pair(mixed, old).age_days == 400
    assert stood_at(mixed, 400).followed == 9


@given(st.lists(st.floats(0.0, 1.0), max_size=9), st.integers(1, 900))
def test_one_model_costs_its_count_times_the_price(chances: list[float], price: int) -> None:
    low, likely, high = count_range(chances)
    assert cost_range([(Decimal(price), chances)]) == (low * price, likely * price, high * price)


def test_two_models_cost_what_counting_every_case_gives() -> None:
    groups = [(Decimal(420), [0.3, 0.9, 0.5]), (Decimal(610), [0.2, 0.6])]
    spread: dict[Decimal, float] = {}
    flat = [(price, chance) for price, chances in groups for chance in chances]
    for case in itertools.product((0, 1), repeat=len(flat)):
        cost = sum((price for (price, _), hit in zip(flat, case, strict=True) if hit), Decimal(0))
        chance = 1.0
        for (_, p), hit in zip(flat, case, strict=True):
            chance *= p if hit else 1 - p
        spread[cost] = spread.get(cost, 0.0) + chance
    expected, total = [], 0.0
    for share in (0.1, 0.5, 0.9):
        total = 0.0
        for cost in sorted(spread):
            total += spread[cost]
            if total >= share:
                expected.append(cost)
                break
    assert cost_range(groups) == tuple(expected)
