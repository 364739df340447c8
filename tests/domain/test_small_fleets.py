"""Few packs with few readings: a steady slide is followed nearly straight, and nothing explodes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.domain.projection.ageing import learn_curve
from fleetcare.domain.projection.calibration import HORIZONS, calibrate
from fleetcare.domain.projection.fleet import learn_fleet, stand
from fleetcare.domain.projection.forecast import NEVER, SOON_DAYS, Forecast, is_flat, project
from fleetcare.domain.projection.visits import Models, Visits

ONE = Models(("K36",), ("NMC",), np.array([10.0]), np.array([11.6]), np.array([42.0]), np.array([8.0]))
SAGS = (1.60, 1.64, 1.66, 1.70, 1.73, 1.75, 1.80, 1.82)
Row = tuple[float, ...]


def weekly(pack: int, sags: list[float], fulls: list[float] | None = None, *, last: float = -0.5) -> list[Row]:
    """Weekly visits of one pack; NaN for a visit without a loaded reading."""
    fulls = fulls or [41.5] * len(sags)
    days = [last - 7 * (len(sags) - 1 - i) for i in range(len(sags))]
    return [(pack, 0, 0, d, f, f - s, 8.0, 25.0, 100.0) for d, f, s in zip(days, fulls, sags, strict=True)]


def told(rows: list[Row], *, limit_ohm: float = 0.300, limit_v: float = 40.3) -> tuple[Forecast, Forecast]:
    """Resistance and rested volts of every pack."""
    visits = Visits.from_rows(rows)
    packs = int(visits.pack.max()) + 1
    fit = learn_fleet(visits, ONE, 1)
    calibration, standing = calibrate(fit, visits, ("log_ohm", "rested_full_v")), stand(fit, visits, packs)
    ohm, volts = (
        project(fit, calibration, standing, quantity, np.full(packs, limit), HORIZONS)
        for quantity, limit in (("log_ohm", np.log(limit_ohm)), ("rested_full_v", limit_v))
    )
    return ohm, volts


def others(seed: int, times: int | None = None) -> list[Row]:
    """Thirteen other packs: one read three times and the rest once or twice, or all of them `times` times."""
    draw = np.random.default_rng(seed)
    rows = []
    for pack in range(1, 14):
        count = times or (3 if pack == 1 else int(draw.integers(1, 3)))
        sag = draw.uniform(1.3, 1.5)
        sags = [round(float(sag + draw.normal(0, 0.01)), 2) for _ in range(count)]
        rows += weekly(pack, sags, [round(float(41.5 + draw.normal(0, 0.02)), 2) for _ in range(count)])
    return rows


def straight_weeks(sags: list[float], limit_ohm: float = 0.300) -> float:
    """Weeks from the last visit until the least-squares line is at the limit."""
    slope, level = np.polyfit(np.arange(len(sags)), np.array(sags) / 8.0, 1)
    return float((limit_ohm - level) / slope - (len(sags) - 1))


@pytest.mark.parametrize("around", [[], others(0), others(1)], ids=["alone", "once-read", "other once-read"])
@pytest.mark.parametrize("visits", ["all", "first without load", "first without load, seven"])
def test_eight_checks_lead_to_the_limit_in_seventeen_to_twenty_two_weeks(around: list[Row], visits: str) -> None:
    sags = {"all": list(SAGS), "first without load": [np.nan, *SAGS], "first without load, seven": [np.nan, *SAGS[:7]]}
    ohm, _ = told([*weekly(0, sags[visits]), *around])
    early, likely, late = ohm.crossing[:, 0]
    assert 17 * 7 <= likely <= 22 * 7 and early < likely and (late == NEVER or late > likely)
    assert ohm.count[0] == np.isfinite(sags[visits]).sum()


@pytest.mark.parametrize("slope_v", [0.02, 0.03, 0.045])
@pytest.mark.parametrize("seed", range(4))
def test_a_steady_slide_of_one_pack_goes_on_nearly_straight(slope_v: float, seed: int) -> None:
    draw = np.random.default_rng(seed)
    sags = [round(float(1.55 + slope_v * i + draw.normal(0, 0.005)), 2) for i in range(8)]
    for around in ([], others(seed)):
        ohm, _ = told([*weekly(0, sags), *around])
        assert ohm.crossing[1, 0] / 7 == pytest.approx(straight_weeks(sags), rel=0.15)


@pytest.mark.parametrize(
    "around", [[], others(3), others(3, 8), others(3, 20)], ids=["alone", "once", "eight", "twenty"]
)
@pytest.mark.parametrize("before", [0, 12])
def test_rested_volts_that_fall_week_after_week_are_followed(around: list[Row], before: int) -> None:
    draw = np.random.default_rng(5)
    true = [41.6] * before + [41.6 - 0.14 * (i + 1) for i in range(8)]
    fulls = [round(float(one + draw.normal(0, 0.02)), 2) for one in true]
    _, volts = told([*weekly(0, [1.6] * len(fulls), fulls), *around])
    assert volts.quantiles[0][1, 0] == pytest.approx(true[-1], abs=2 * 0.02)
    assert volts.chance[28][0] > 0.8 and 0 < volts.crossing[1, 0] <= 28


def test_readings_of_a_slide_that_lead_their_pack_are_no_slips() -> None:
    rows = [*weekly(0, [1.6] * 8, [41.6 - 0.14 * (i + 1) for i in range(8)]), *others(3, 8)]
    visits = Visits.from_rows(rows)
    standing = stand(learn_fleet(visits, ONE, 1), visits, 14)
    own = visits.pack == 0
    assert np.isnan(standing.full_distance[own]).all() and np.isfinite(standing.full_distance[~own]).any()


def test_no_decline_seen_is_not_said_with_an_early_edge_near() -> None:
    still, later = np.array([1.0, 1.1, 1.2]), np.array([0.9, 1.1, 1.3])
    assert is_flat(still, later, [NEVER, NEVER, NEVER]) and is_flat(still, later, [SOON_DAYS + 1, NEVER, NEVER])
    assert not is_flat(still, later, [SOON_DAYS, NEVER, NEVER]) and not is_flat(still, later, [900, 1000, NEVER])


@pytest.mark.parametrize("seed", range(4))
def test_flat_volts_of_a_pack_alone_have_no_early_edge_within_half_a_year(seed: int) -> None:
    draw = np.random.default_rng(seed)
    fulls = [round(float(41.5 + draw.normal(0, 0.02)), 2) for _ in range(8)]
    _, volts = told([*weekly(0, [1.6] * 8, fulls), *others(seed)], limit_v=41.0)
    assert volts.crossing[1, 0] == NEVER and (volts.crossing[0, 0] == NEVER or volts.crossing[0, 0] > SOON_DAYS)


def test_many_packs_read_once_do_not_make_the_scatter_vanish() -> None:
    pack = np.concatenate([np.zeros(8, int), np.ones(8, int), np.arange(2, 60)])
    age = np.concatenate([np.arange(8.0) * 7, np.arange(8.0) * 7, np.zeros(58)])
    draw = np.random.default_rng(2)
    value = np.concatenate([draw.normal(0, 0.02, 16), draw.normal(0, 0.3, 58)])
    curve = learn_curve(pack, age, value, np.ones(74, bool), 0.3, 1.0)
    assert curve.packs == 2 and 0.01 < curve.scatter < 0.04 and abs(curve.change).max() < 0.1
    alone = learn_curve(pack[:7], age[:7], value[:7], np.ones(7, bool), 0.3, 1.0)
    assert not alone.is_shared and not alone.change.any() and 0.005 < alone.scatter < 0.04


@st.composite
def small_fleets(draw: st.DrawFn) -> list[Row]:
    """One to five packs with one to ten weekly visits, steady, rising or falling."""
    noise = np.random.default_rng(draw(st.integers(0, 10_000)))
    rows: list[Row] = []
    for pack in range(draw(st.integers(1, 5))):
        count = draw(st.integers(1, 10))
        rise, fall = draw(st.sampled_from([0.0, 0.01, 0.03])), draw(st.sampled_from([0.0, 0.02, 0.14]))
        sags = [round(float(1.6 + rise * i + noise.normal(0, 0.01)), 2) for i in range(count)]
        fulls = [round(float(41.7 - fall * i + noise.normal(0, 0.02)), 2) for i in range(count)]
        rows += weekly(pack, sags, fulls, last=-0.5 - draw(st.integers(0, 20)))
    return rows


@settings(deadline=None, max_examples=12)
@given(small_fleets())
def test_nothing_explodes_in_a_small_fleet(rows: list[Row]) -> None:
    ohm, volts = told(rows)
    enough = ohm.count >= 6
    for one in (ohm, volts):
        assert all(np.isfinite(q).all() for q in one.quantiles.values())
        assert np.all(np.diff(np.stack([one.chance[h] for h in HORIZONS]), axis=0) >= -1e-9)
        assert all((np.diff(q, axis=0) >= 0).all() for q in one.quantiles.values())
    # from full to empty a pack of ten groups has some 12 V; a resistance is not in doubt by more than a factor of exp(1.2)
    # within half a year, and by far less in four weeks (proposals)
    for days, widest_v, widest_share in ((28, 2.0, 0.3), (182, 12.0, 1.2)):
        assert np.ptp(volts.quantiles[days][:, enough], axis=0).max(initial=0.0) < widest_v
        assert np.ptp(ohm.quantiles[days][:, enough], axis=0).max(initial=0.0) < widest_share
