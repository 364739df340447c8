"""A Weibull law with packs still in use: published fits, planted laws, and what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleetcare.domain.wearing_out import fit_weibull, half_life

NIST_PULLED = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)


def test_the_censored_fit_of_the_nist_handbook() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: 10 failures, 10 units unfailed at 500 h;
    # published shape 1.7208, scale 606.528.  The median and the log likelihood are computed from them.
    found = fit_weibull((*NIST_PULLED, *([500] * 10)), [True] * 10 + [False] * 10)
    assert found.shape == pytest.approx(1.7208, abs=1e-4) and found.scale == pytest.approx(606.528, abs=1e-2)
    assert found.half == pytest.approx(490.17, abs=0.01) and found.log_likelihood == pytest.approx(-75.1346, abs=1e-3)


def test_a_second_published_censored_fit() -> None:
    # Abernethy, The New Weibull Handbook (numbers from memory): failures and two units taken off, shape 2.257, scale 4900.1.
    found = fit_weibull((1500, 7000, 2250, 4000, 4300, 1750, 5000), [True] * 5 + [False] * 2)
    assert found.shape == pytest.approx(2.257, abs=1e-3) and found.scale == pytest.approx(4900.1, abs=0.5)


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 10_000), st.floats(0.6, 5.0))
def test_without_censoring_it_is_scipys(seed: int, shape: float) -> None:
    ages = np.random.default_rng(seed).weibull(shape, 30) * 900 + 1
    found = fit_weibull(ages.tolist(), [True] * 30)
    expected, _, scale = stats.weibull_min.fit(ages, floc=0)
    assert found.shape == pytest.approx(expected, rel=1e-3) and found.scale == pytest.approx(scale, rel=1e-3)


def test_the_range_of_a_planted_law_holds_about_as_often_as_it_says() -> None:
    draw, held = np.random.default_rng(4), 0
    truth = 900 * np.log(2) ** (1 / 2.5)
    for _ in range(200):
        life, followed = draw.weibull(2.5, 25) * 900, draw.uniform(200, 1200, 25)
        found = half_life("A", np.minimum(life, followed).tolist(), (life <= followed).tolist())
        held += found is not None and found.early <= truth <= (found.late or np.inf)
    assert 0.72 <= held / 200 <= 0.88


def test_too_few_pulls_or_packs_say_nothing_and_three_of_five_do() -> None:
    assert half_life("A", [300.0, 400, 500, 600, 700], [True, True, False, False, False]) is None
    assert half_life("A", [300.0, 400, 500, 600], [True] * 4) is None
    found = half_life("A", [300.0, 400, 500, 600, 700], [True, True, True, False, False])
    assert found is not None and found.early < found.likely < (found.late or 1e9) and found.pulled == 3
    with pytest.raises(ValueError, match="needs a pull"):
        fit_weibull([1.0, 2.0], [False, False])


def test_a_young_fleet_with_few_pulls_is_told_as_beyond_what_was_seen_and_open() -> None:
    found = half_life("A", [100.0, 150, 200, *[210.0] * 40], [True] * 3 + [False] * 40)
    assert found is not None and found.beyond_seen and found.oldest == 210 and found.early > 210
    same = half_life("A", [400.0] * 5, [True] * 5)
    assert same is not None and same.likely == pytest.approx(400, rel=0.02) and same.late != same.early


def test_the_first_pulls_of_packs_of_one_age_are_too_few_to_look_beyond_them() -> None:
    ages = [38.0, 45, 450, 478, 485, *[490.0] * 18]
    found = half_life("A", ages, [one in (450, 478, 485) for one in ages])
    assert found is not None and found.beyond_seen and found.too_far
    ages = [*[400.0 + 10 * n for n in range(10)], *[500.0] * 14]
    many = half_life("A", ages, [one < 500 for one in ages])
    assert many is not None and many.beyond_seen and not many.too_far
    seen = half_life("A", [300.0, 400, 500, 600, 700], [True, True, True, False, False])
    assert seen is not None and not seen.too_far
