"""The filter for all packs at once against the same recursion written out for one pack with matrices, and published
formulas: first passage of a drifting Wiener process, Theil and Sen's line, a step of the NIST/SEMATECH handbook."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats
from scipy.special import ndtr

from fleetcare.domain.projection import fleet as engine
from fleetcare.domain.projection.ageing import no_curve
from fleetcare.domain.projection.fleet import Standing, learn_fleet, series_ahead, stand
from fleetcare.domain.projection.habits import SeriesFit
from fleetcare.domain.projection.tracking import FREEDOM, START, State, Track, follow, grid_of
from fleetcare.domain.projection.visits import run_medians
from tests.benchmarks.scoring import theil_sen
from tests.simulated_fleet import MODELS, OFFSET_V, simulate

Matrix = NDArray[np.float64]


def track(n: int = 1, **given: object) -> Track:
    none = np.zeros(n)
    modes = np.zeros((3, n))
    start = Track(
        scatter=np.full(n, 0.05), slope_walk=modes, level_walk=modes, pace=none, first_slope=none,
        first_level=np.full(n, 1.0), to_sliding=none, to_stepping=none, from_sliding=none, from_stepping=none,
        damping_days=np.full((3, n), 1e9), onset_slope=none, onset_spread=none, begins_unseen=none,
        strays=none, return_days=np.full(n, np.inf),
    )  # fmt: skip
    return replace(start, **given)  # type: ignore[arg-type]


def written_out(day: Matrix, value: Matrix, curve: Matrix, t: Track) -> tuple[Matrix, list[Matrix], Matrix]:
    """Three Kalman filters with Markov changes (Blom and Bar-Shalom 1988) for one pack, one matrix at a time."""
    mean = [np.array([np.median(value[:5] - curve[:5]), 0.0, 0.0]) for _ in range(3)]
    cov = [np.diag([t.first_level[0] ** 2, t.first_slope[0] ** 2, t.pace[0] ** 2]) for _ in range(3)]
    chance = np.array(START)
    for i in range(len(day)):
        before = chance
        if i:
            gap = day[i] - day[i - 1]
            slide, step, settle, done = (
                1 - np.exp(-gap * rate[0]) for rate in (t.to_sliding, t.to_stepping, t.from_sliding, t.from_stepping)
            )
            table = np.array([[1 - slide - step, slide, step], [settle, 1 - settle, 0], [done, 0, 1 - done]])
            before = chance @ table
            mixed, spread = [], []
            for j in range(3):
                parts = []
                for k in range(3):
                    m, c = mean[k].copy(), cov[k].copy()
                    if (k, j) == (0, 1):
                        m[1] += t.onset_slope[0]
                        c[1, 1] += t.onset_spread[0] ** 2
                    parts.append((chance[k] * table[k, j] / before[j], m, c))
                middle = np.sum([w * m for w, m, _ in parts], axis=0)
                mixed.append(middle)
                spread.append(np.sum([w * (c + np.outer(m - middle, m - middle)) for w, m, c in parts], axis=0))
            for j in range(3):
                tau = t.damping_days[j, 0]
                keep = np.exp(-gap / tau)
                move = np.array([[1.0, tau * (1 - keep), 0], [0, keep, 0], [0, 0, 1]])
                s, v = t.slope_walk[j, 0], t.level_walk[j, 0]
                noise = np.array(
                    [[v * gap + s * gap**3 / 3, s * gap**2 / 2, 0], [s * gap**2 / 2, s * gap, 0], [0, 0, 0]]
                )
                mean[j], cov[j] = move @ mixed[j], move @ spread[j] @ move.T + noise
        fit = np.zeros(3)
        for j in range(3):
            h = np.array([1.0, 0.0, curve[i]])
            off = value[i] - curve[i] - h @ mean[j]
            state = h @ cov[j] @ h
            total = state + t.scatter[0] ** 2
            square = off**2 / total
            robust = state + t.scatter[0] ** 2 / min(1.0, (FREEDOM + 1) / (FREEDOM + square))
            gain = cov[j] @ h / robust
            fit[j] = total**-0.5 * (1 + square / FREEDOM) ** (-(FREEDOM + 1) / 2)
            mean[j], cov[j] = mean[j] + gain * off, cov[j] - np.outer(gain, h @ cov[j])
        chance = before * fit / (before * fit).sum()
    return np.array(mean), cov, chance


def test_all_packs_at_once_are_the_recursion_written_out_for_each() -> None:
    draw = np.random.default_rng(4)
    t = track(
        pace=np.array([0.3]), first_slope=np.array([0.001]), slope_walk=np.array([[1e-9], [1e-7], [1e-9]]),
        level_walk=np.array([[1e-6], [1e-6], [1e-3]]), to_sliding=np.array([0.002]), to_stepping=np.array([0.0005]),
        from_sliding=np.array([0.0004]), from_stepping=np.array([0.05]), damping_days=np.full((3, 1), 400.0),
        onset_slope=np.array([-0.001]), onset_spread=np.array([0.002]),
    )  # fmt: skip
    curve = replace(no_curve(), change=np.linspace(0, -0.4, 9) ** 3)
    packs = 7
    day = np.sort(draw.uniform(-300, 0, (packs, 30)), axis=1)
    value = 50 + draw.normal(0, 0.05, day.shape) - np.maximum(day + 100, 0) * 0.004 * (np.arange(packs) % 2)[:, None]
    value[2, 10] += 3.0
    first = day[:, 0]
    grid = grid_of(np.repeat(np.arange(packs), 30), day.ravel(), value.ravel(), np.ones(packs * 30, bool),
                   np.zeros(packs * 30), packs)  # fmt: skip
    state, _, _ = follow(grid, np.zeros(packs, int), [curve], first, t)
    for pack in range(packs):
        mean, cov, chance = written_out(day[pack], value[pack], curve(day[pack] - first[pack]), t)
        assert state.mean[:, :, pack] == pytest.approx(mean, abs=1e-9)
        assert state.chance[:, pack] == pytest.approx(chance, abs=1e-9)
        kept = np.array([c[np.triu_indices(3)] for c in cov])
        assert state.covariance[:, :, pack] == pytest.approx(kept, abs=1e-11)


def test_one_pack_alone_gets_what_it_gets_among_others() -> None:
    fleet = simulate(12, 3)
    fit = learn_fleet(fleet.visits, MODELS, len(OFFSET_V))
    together = stand(fit, fleet.visits, 12)
    own = fleet.visits.where(fleet.visits.pack == 5)
    alone = stand(fit, replace(own, pack=np.zeros(len(own), int)), 1)
    for one, other in ((together.full_v, alone.full_v), (together.log_ohm, alone.log_ohm)):
        assert one.mean[..., 5] == pytest.approx(other.mean[..., 0], abs=1e-12)
    picked: Standing = together.of(np.array([5, 5, 2]))
    assert picked.log_ohm.chance[:, 1] == pytest.approx(alone.log_ohm.chance[:, 0], abs=1e-12)


def test_a_drifting_wiener_process_is_beyond_as_the_inverse_gaussian_says_but_for_the_paths_that_come_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Distance 20, drift 2 and noise 1.5 per root of time: inverse Gaussian of mean 10 and shape 177.7778 (Chhikara and
    # Folks 1989; scipy.stats.invgauss).  Its distribution is the share that is beyond now plus, by reflection, the
    # share that was beyond and came back: exp(2 v D / s^2) Phi(-(D + v t) / (s sqrt t)).  A pack does not come back,
    # and the projection counts the first part alone: at the median that is 0.27 of 10 later.
    monkeypatch.setattr(engine, "DOUBT", 0.0)
    monkeypatch.setattr(engine, "DOUBT_OF_FEW", 0.0)
    distance, drift, noise = 20.0, 2.0, 1.5
    fit = SeriesFit("full_v", (no_curve(),), track(level_walk=np.full((3, 1), noise**2)), 0.01)
    mean = np.zeros((3, 3, 1))
    mean[:, 1] = -drift
    state = State(mean, np.zeros((3, 6, 1)), np.array([[1.0], [0.0], [0.0]]), np.zeros(1))
    law = stats.invgauss(10.0 / 177.77777777777777, scale=177.77777777777777)
    assert law.cdf([5, 8, 10, 12, 15]) == pytest.approx(
        [0.00195204, 0.2026326, 0.5466697, 0.8138529, 0.9678034], abs=1e-7
    )
    for t in (5.0, 8.0, 10.0, 12.0, 15.0):
        here = series_ahead(fit, state, np.zeros(1, int), np.zeros(1), t).below(-distance)[0]
        back = np.exp(2 * drift * distance / noise**2) * ndtr(-(distance + drift * t) / (noise * np.sqrt(t)))
        assert here + back == pytest.approx(law.cdf(t), abs=1e-4)
    assert law.ppf(0.5) == pytest.approx(9.7276, abs=1e-4)


def test_without_a_decline_no_crossing_is_dated() -> None:
    fit = SeriesFit("full_v", (no_curve(),), track(), 0.01)
    state = State(np.zeros((3, 3, 1)), np.zeros((3, 6, 1)), np.array([[1.0], [0.0], [0.0]]), np.zeros(1))
    assert series_ahead(fit, state, np.zeros(1, int), np.zeros(1), 1095.0).below(-20.0)[0] < 1e-12


def test_the_handbooks_step_is_noticed_where_its_cusum_signals() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k = 0.3175, h = 4.1959; the upper sum first exceeds h at point 14.
    # The twenty readings are from memory; the sums they give agree with the published ones.
    x = np.array([324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15,
                  328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35])  # fmt: skip
    upper, signal = 0.0, []
    for reading in x:
        upper = max(0.0, upper + reading - 325 - 0.3175)
        signal.append(upper)
    assert int(np.argmax(np.array(signal) > 4.1959)) + 1 == 14 and signal[13] == pytest.approx(4.94)
    t = track(
        scatter=np.array([0.4]), first_level=np.array([1.0]), level_walk=np.array([[1e-4], [1e-4], [4.0]]),
        to_stepping=np.array([0.02]), from_stepping=np.array([0.5]),
    )  # fmt: skip
    levels = []
    for n in range(6, 21):
        grid = grid_of(np.zeros(n, int), np.arange(n, dtype=float), x[:n], np.ones(n, bool), np.zeros(n), 1)
        state, _, _ = follow(grid, np.zeros(1, int), [no_curve()], np.zeros(1), t)
        levels.append(float((state.chance * state.mean[:, 0]).sum()))
    moved = next(n for n, level in zip(range(6, 21), levels, strict=True) if level > 326.3)
    assert moved in (13, 14, 15) and abs(levels[-1] - x[12:].mean()) < 0.35


def test_the_reference_line_is_theil_and_sens() -> None:
    # scipy.stats.theilslopes; the small table has one bad reading that least squares follows (slope -0.814286).
    x, y = np.arange(6.0), np.array([100, 99.4, 98.9, 90.0, 97.7, 97.1])
    found = stats.theilslopes(y, x)
    assert found.slope == pytest.approx(-0.58) and stats.linregress(x, y).slope == pytest.approx(-0.814286, abs=1e-6)
    line = theil_sen(x - 6.0, y)
    assert (line[1, 1] - line[0, 1]) / 63 == pytest.approx(-0.58, abs=0.06)


def test_what_has_strayed_falls_back_as_a_first_order_autoregression_does() -> None:
    # Box and Jenkins, AR(1) seen with noise: a deviation of variance s^2 keeps phi = exp(-gap / T) of itself, its new
    # part has variance s^2 (1 - phi^2), and far ahead it is s^2 again; here the level it falls back to is known.
    draw = np.random.default_rng(5)
    strays, back, scatter = 0.08, 30.0, 0.02
    day = np.cumsum(draw.uniform(1, 6, 40)) - 150
    value = draw.normal(0, 0.08, 40)
    known = track(
        strays=np.array([strays]),
        return_days=np.array([back]),
        first_level=np.full(1, 1e-9),
        scatter=np.full(1, scatter),
    )
    grid = grid_of(np.zeros(40, int), day, value, np.ones(40, bool), np.zeros(40), 1)
    state, _, _ = follow(grid, np.zeros(1, int), [no_curve()], np.array([day[0]]), known)
    level = np.median(value[:5])
    off, variance = 0.0, strays**2
    for i in range(40):
        if i:
            phi = np.exp(-(day[i] - day[i - 1]) / back)
            off, variance = phi * off, phi**2 * variance + strays**2 * (1 - phi**2)
        square = (value[i] - level - off) ** 2 / (variance + scatter**2)
        noise = scatter**2 * max(1.0, (FREEDOM + square) / (FREEDOM + 1))
        gain = variance / (variance + noise)
        off, variance = off + gain * (value[i] - level - off), (1 - gain) * variance
    assert state.mean[0, 2, 0] == pytest.approx(off) and state.covariance[0, 5, 0] == pytest.approx(variance)
    fit = SeriesFit("full_v", (no_curve(),), known, 0.01)
    for gap in (0.0, 20.0, 1000.0):
        ahead = series_ahead(fit, state, np.zeros(1, int), np.array([day[0]]), state.day[0] + gap)
        phi = np.exp(-gap / back)
        assert ahead.mean[0] == pytest.approx(level + phi * off)
        doubt = (engine.DOUBT + engine.DOUBT_OF_FEW) * (1 - phi) * off
        assert ahead.variance[0] == pytest.approx(phi**2 * variance + strays**2 * (1 - phi**2) + doubt**2, rel=1e-4)


def test_medians_of_runs_are_those_of_numpy() -> None:
    draw = np.random.default_rng(2)
    size = draw.integers(1, 12, 60)
    start = np.concatenate(([0], np.cumsum(size)[:-1]))
    value = draw.normal(0, 1, int(size.sum()))
    wanted = [np.median(value[a : a + n]) for a, n in zip(start, size, strict=True)]
    assert run_medians(value, start, size) == pytest.approx(np.array(wanted), abs=1e-15)
