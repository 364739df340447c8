"""The projection that learns from the fleet, against planted truth, published formulas and what must not matter."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleetcare.domain.projection.ageing import learn_curve
from fleetcare.domain.projection.calibration import HORIZONS, TENTH, calibrate, chance_below, uncalibrated
from fleetcare.domain.projection.fleet import FleetFit, Mixture, learn_fleet, stand, value_ahead
from fleetcare.domain.projection.forecast import NEVER, Forecast, project
from fleetcare.domain.projection.preparation import Doubt, apply_corrections
from fleetcare.domain.projection.tracking import follow, grid_of
from fleetcare.domain.projection.visits import Models, Visits, group_median, scatter_of
from tests.simulated_fleet import ENERGY_J_MOL, MODELS, OFFSET_V, YEARLY_LOG_OHM, Simulated, simulate

ONE = Models(("K36",), ("NMC",), np.array([10.0]), np.array([11.6]), np.array([42.0]), np.array([8.0]))


@pytest.fixture(scope="module")
def fleet() -> Simulated:
    return simulate()


@pytest.fixture(scope="module")
def fit(fleet: Simulated) -> FleetFit:
    return learn_fleet(fleet.visits, MODELS, len(OFFSET_V))


def one_pack(sags: list[float], *, bench: float = 25.0, offset: float = 0.0, every: int = 7) -> Visits:
    days = [-every * (len(sags) - 1 - i) - 0.5 for i in range(len(sags))]
    return Visits.from_rows(
        [(0, 0, 0, d, 41.5 + offset, 41.5 + offset - s, 8.0, bench, 100.0) for d, s in zip(days, sags, strict=True)]
    )


def resistance(visits: Visits, limit: float = 0.300) -> Forecast:
    learnt = learn_fleet(visits, ONE, 1)
    standing = stand(learnt, visits, 1)
    return project(learnt, calibrate(learnt, visits), standing, "log_ohm", np.array([np.log(limit)]), HORIZONS)


def test_planted_temperature_laws_meters_and_ageing_are_recovered(fleet: Simulated, fit: FleetFit) -> None:
    assert fit.corrections.activation_j_mol == pytest.approx(ENERGY_J_MOL, abs=3_500)
    offsets = np.median(fit.corrections.meter_offset_v, axis=1)
    assert offsets - offsets.mean() == pytest.approx(OFFSET_V - OFFSET_V.mean(), abs=0.03)
    yearly = np.array([curve.per_year for curve in fit.log_ohm.curves])
    assert yearly == pytest.approx(YEARLY_LOG_OHM, abs=0.035)
    assert fit.log_ohm.track.scatter == pytest.approx([0.03, 0.03], abs=0.025)


def test_exchanged_readings_are_put_right_and_mistyped_ones_are_listed(fleet: Simulated, fit: FleetFit) -> None:
    prepared = apply_corrections(fleet.visits, MODELS, fit.corrections)
    swapped = fleet.visits.loaded_v > fleet.visits.rested_v
    tenth = fleet.visits.rested_v < 10
    right = swapped & ~tenth & (fleet.visits.loaded_v > 40)
    assert right.any() and set(prepared.doubt[right]) == {int(Doubt.SWAPPED)}
    assert tenth.any() and not np.any(prepared.use_v[tenth & ~swapped])


def test_eighty_percent_ranges_hold_about_eighty_percent_on_simulated_packs() -> None:
    held, total = 0, 0
    for seed in (11, 12, 13):
        made = simulate(40, seed)
        learnt = learn_fleet(made.visits, MODELS, len(OFFSET_V))
        standing = stand(learnt, made.visits, 40)
        calibration = calibrate(learnt, made.visits, ("log_ohm",))
        found = project(learnt, calibration, standing, "log_ohm", np.full(40, 9.0), HORIZONS)
        for days in HORIZONS:
            low, _, high = found.quantiles[days]
            truth = made.log_ohm(np.arange(40), np.full(40, float(days)))
            held, total = held + int(((low <= truth) & (truth <= high)).sum()), total + 40
    assert 0.70 <= held / total <= 0.97


def test_a_packs_own_pace_and_a_slide_are_told_apart(fleet: Simulated, fit: FleetFit) -> None:
    standing = stand(fit, fleet.visits, 60)
    slid = fleet.slide_from < -150
    chance = standing.log_ohm.chance[1]
    assert slid.sum() >= 2 and chance[slid].min() > np.median(chance[np.isinf(fleet.slide_from)])


def test_eight_weekly_checks_reach_the_limit_in_a_range_of_weeks() -> None:
    found = resistance(one_pack([1.60, 1.64, 1.66, 1.70, 1.73, 1.75, 1.80, 1.82]))
    early, likely, late = found.crossing[:, 0]
    assert np.exp(found.quantiles[0][1, 0]) == pytest.approx(0.2275, abs=0.003)
    assert 17 * 7 <= likely <= 22 * 7 and early < likely and (late == NEVER or late > likely)


def test_a_flat_history_is_not_projected_to_cross() -> None:
    found = resistance(one_pack([1.20, 1.208, 1.192, 1.2, 1.208, 1.192, 1.2, 1.2, 1.2, 1.196]))
    assert found.crossing[1, 0] == NEVER and found.chance[91][0] < 0.01


@settings(deadline=None, max_examples=10)
@given(st.sampled_from([-1.0, -0.3, 0.5, 2.0]))
def test_one_offset_on_rested_and_loaded_changes_no_resistance_projection(offset: float) -> None:
    sags = [1.60, 1.64, 1.62, 1.66, 1.70, 1.69, 1.72, 1.74]
    first, second = resistance(one_pack(sags)), resistance(one_pack(sags, offset=offset))
    assert np.allclose(first.quantiles[91], second.quantiles[91], atol=1e-9)


def test_a_hotter_day_does_not_look_like_recovery() -> None:
    noise = np.exp(np.random.default_rng(5).normal(0, 0.02, 20))
    colder = float(np.exp(18_000 / 8.314462618 * (1 / 288.15 - 1 / 303.15)))  # resistance at 15 °C over that at 30 °C
    steady = one_pack(list(1.6 * noise), bench=15.0)
    hot = replace(steady, loaded_v=steady.loaded_v.copy(), temperature_c=steady.temperature_c.copy())
    hot.loaded_v[-1] = hot.rested_v[-1] - (steady.rested_v[-1] - steady.loaded_v[-1]) / colder
    hot.temperature_c[-1] = 30.0
    a, b = resistance(steady), resistance(hot)
    assert colder > 1.3 and b.quantiles[91][1, 0] == pytest.approx(a.quantiles[91][1, 0], abs=0.02)


def test_the_order_of_rows_changes_nothing(fleet: Simulated, fit: FleetFit) -> None:
    turned = fleet.visits.where(np.arange(len(fleet.visits))[::-1]).in_order()
    assert all(
        np.array_equal(getattr(turned, n), getattr(fleet.visits, n), equal_nan=True)
        for n in ("day", "rested_v", "loaded_v")
    )


def test_ranges_widen_with_the_horizon_and_crossings_stand_in_order(fleet: Simulated, fit: FleetFit) -> None:
    standing = stand(fit, fleet.visits, 60)
    limit = np.log(np.where(fleet.model == 0, 0.17, 0.30))
    found = project(fit, uncalibrated(), standing, "log_ohm", limit, (28, 91, 182, 365))
    width = np.stack([found.quantiles[d][2] - found.quantiles[d][0] for d in (0, 91, 182, 365)])
    assert np.all(np.diff(width, axis=0) > -1e-6)
    days = np.where(found.crossing == NEVER, 10_000, found.crossing)
    assert np.all(np.diff(days, axis=0) >= 0)
    assert np.all(found.chance[182] >= found.chance[28] - 1e-9)


def test_no_resistance_is_projected_to_fall_in_a_small_workshop_either() -> None:
    scatter = np.random.default_rng(1).normal(0, 0.05, 60)
    visits = one_pack([1.05 + 0.006 * week + scatter[week] for week in range(60)])
    learnt = learn_fleet(visits, ONE, 1)
    standing = stand(learnt, visits, 1)
    ahead = (*HORIZONS, 364)
    found = project(learnt, calibrate(learnt, visits), standing, "log_ohm", np.array([np.log(0.3)]), ahead)
    assert all(found.quantiles[days][0, 0] >= found.quantiles[0][0, 0] for days in ahead)


def test_a_pack_is_never_projected_to_get_better(fleet: Simulated, fit: FleetFit) -> None:
    standing = stand(fit, fleet.visits, 60)
    now, later = (value_ahead(fit, standing, "log_ohm", float(d)) for d in (0, 182))
    assert np.all(later.mean >= now.mean - 1e-9)


def test_lower_limits_are_beyond_sooner(fleet: Simulated, fit: FleetFit) -> None:
    standing = stand(fit, fleet.visits, 60)
    strict, lax = (
        project(fit, uncalibrated(), standing, "rested_full_v", np.full(60, v), HORIZONS) for v in (54.35, 53.0)
    )
    assert np.all(strict.chance[91] >= lax.chance[91])


def test_the_filter_is_a_kalman_filter_when_nothing_else_is_allowed() -> None:
    # A local level with known variances: the steady gain of the Muth (1960) exponential smoother,
    # K = (sqrt(q^2 + 4 q) - q) / 2 of q = walk / scatter^2 per step, plus its own definition P/(P + R).
    rng = np.random.default_rng(1)
    days = np.arange(400.0)
    value = np.cumsum(rng.normal(0, 0.1, 400)) + rng.normal(0, 0.3, 400)
    n = 1
    from fleetcare.domain.projection.tracking import Track

    quiet = np.zeros((3, n))
    track = Track(np.full(n, 0.3), quiet, quiet + 0.01, np.zeros(n), np.zeros(n), np.full(n, 5.0), np.zeros(n), np.zeros(n),
                  np.zeros(n), np.zeros(n), np.full((3, n), 1e6), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n),
                  np.full(n, np.inf))  # fmt: skip
    grid = grid_of(np.zeros(400, int), days, value, np.ones(400, bool), np.zeros(400), 1)
    curve = learn_curve(np.zeros(3, int), np.arange(3.0), np.zeros(3), np.zeros(3, bool), 1.0)
    state, _, _ = follow(grid, np.zeros(1, int), [curve], np.zeros(1), track)
    q = 0.01 / 0.09
    steady = (np.sqrt(q * q + 4 * q) - q) / 2  # posterior variance over reading variance
    assert state.covariance[0, 0, 0] / 0.09 == pytest.approx(steady, rel=0.15)


def test_a_curve_goes_on_with_a_turn_that_its_packs_agree_on_and_never_for_the_better() -> None:
    draw = np.random.default_rng(7)
    pack, age = np.repeat(np.arange(4), 40), np.tile(np.arange(0.0, 120.0, 3.0), 4)
    use = np.ones(160, dtype=bool)
    quick = -1.2 * (age / 120) ** 3
    agreed = learn_curve(pack, age, quick + draw.normal(0, 0.01, 160), use, 0.3, -1.0)
    assert agreed.end_slope == pytest.approx(-1.2 * (1 - (90 / 120) ** 3) / 30, rel=0.15)
    for seed in range(5):
        walks = np.cumsum(np.random.default_rng(seed).normal(0, 0.02, (4, 40)), axis=1).ravel()
        alone = learn_curve(pack, age, walks, use, 0.3, -1.0)
        fitted = (alone.change[-1] - alone.change[-3]) / (alone.knots_days[-1] - alone.knots_days[-3])
        mean = alone.change[-1] / alone.reach_days
        assert alone.end_slope is not None and abs(min(alone.end_slope - mean, 0)) <= abs(fitted - mean) + 1e-9
        assert alone.end_slope <= 0 < alone.end_doubt
    rising = learn_curve(pack, age, -quick, use, 0.3, -1.0)
    assert rising.end_slope == 0.0 and rising(np.array([200.0]))[0] == rising(np.array([150.0]))[0]


def test_quantiles_of_a_mixture_invert_its_distribution() -> None:
    mixture = Mixture(np.array([[0.0], [3.0]]), np.array([[1.0], [4.0]]), np.array([[0.7], [0.3]]))
    for p in (0.1, 0.5, 0.9):
        assert mixture.below(mixture.quantile(p)) == pytest.approx(p, abs=1e-9)
    plain = Mixture(np.array([[1.0]]), np.array([[4.0]]), np.array([[1.0]]))
    assert plain.quantile(0.9) == pytest.approx(stats.norm.ppf(0.9, 1, 2), abs=1e-9)
    places = np.array([[-TENTH], [0.0], [TENTH]])
    assert chance_below(plain, 2.0, places) == pytest.approx(plain.below(2.0), abs=1e-6)


@given(st.lists(st.tuples(st.integers(0, 4), st.floats(-5, 5)), min_size=1, max_size=40))
def test_grouped_medians_are_numpys(pairs: list[tuple[int, float]]) -> None:
    key, value = np.array([k for k, _ in pairs]), np.array([v for _, v in pairs])
    found = group_median(key, value, 5)
    for k in range(5):
        assert (np.isnan(found[k]) and not (key == k).any()) or found[k] == np.median(value[key == k])


def test_the_robust_scatter_is_scipys() -> None:
    values = np.random.default_rng(0).normal(0, 2, 501)
    assert scatter_of(values - np.median(values)) == pytest.approx(
        stats.median_abs_deviation(values, scale="normal"), rel=1e-4
    )
