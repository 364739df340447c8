"""Where ranges end and when crossings are announced, by how the fleet's back-tests went."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from fleetcare.domain.projection.calibration import (
    BAD_SHARE,
    GOOD_EDGE,
    GOOD_SHARE,
    HORIZONS,
    SOUND_EDGE,
    TENTH,
    UNSURE,
    Calibration,
    Outcome,
    calibrate,
    calibrated,
    uncalibrated,
)
from fleetcare.domain.projection.fleet import learn_fleet, stand, values_ahead
from fleetcare.domain.projection.forecast import CROSSING_DAYS, NEVER, project
from fleetcare.domain.projection.visits import Floats
from tests.simulated_fleet import MODELS, OFFSET_V, simulate

MANY = 4_000


def after(z: Floats, *, sliding: bool = False, quantity: str = "rested_full_v") -> Calibration:
    model = np.zeros(len(z), dtype=int)
    return calibrated([Outcome(quantity, h, z, model, np.full(len(z), sliding)) for h in HORIZONS])


def edges(found: Calibration, quantity: str = "rested_full_v", *, sliding: bool = False, model: int = 0) -> Floats:
    return found.edges_at(quantity, 91.0, np.array([sliding]), np.array([model]))[:, 0]


def with_faults(share: float) -> Floats:
    """Places of later readings: normal, but for a share of packs that fell far."""
    draw = np.random.default_rng(1)
    return np.where(draw.random(MANY) < share, -4.0, draw.normal(size=MANY))


def test_the_range_of_a_calm_pack_holds_four_in_five_and_leaves_out_less_on_the_bad_side() -> None:
    z = with_faults(0.03)
    low, _, high = edges(after(z))
    assert np.mean(z < low) == pytest.approx(BAD_SHARE, abs=0.01)
    assert np.mean(z > high) == pytest.approx(GOOD_SHARE, abs=0.01)


def test_chances_still_go_by_a_tenth_on_either_side() -> None:
    z = 1.5 * with_faults(0.0)
    low, _, high = after(z).at("rested_full_v", 91.0, np.array([False]))[:, 0]
    assert np.mean(z < low) == pytest.approx(0.1, abs=0.01) and np.mean(z > high) == pytest.approx(0.1, abs=0.01)


def test_the_bad_edge_is_drawn_in_only_where_hardly_any_pack_fell_far() -> None:
    narrow = 0.4 * np.random.default_rng(2).normal(size=MANY)
    faulty = np.where(np.arange(MANY) % 50 == 0, -3.0, narrow)
    assert edges(after(narrow))[0] == pytest.approx(-SOUND_EDGE * TENTH)
    assert edges(after(narrow[:40]))[0] == pytest.approx(-TENTH)  # too few to tell
    assert edges(after(faulty))[0] == pytest.approx(-TENTH)
    assert edges(after(narrow))[2] == pytest.approx(GOOD_EDGE[False] * TENTH)


def test_a_sliding_pack_keeps_a_tenth_on_either_side() -> None:
    z = 1.5 * with_faults(0.0)
    low, _, high = edges(after(z, sliding=True), sliding=True)
    assert (low, high) == (pytest.approx(-1.5 * TENTH, rel=0.05), pytest.approx(1.5 * TENTH, rel=0.05))


def test_the_bad_edge_of_a_resistance_is_its_upper_one() -> None:
    z = -with_faults(0.03)
    low, _, high = edges(after(z, quantity="log_ohm"), "log_ohm")
    assert np.mean(z > high) == pytest.approx(BAD_SHARE, abs=0.01)
    assert np.mean(z < low) == pytest.approx(GOOD_SHARE, abs=0.01)


def test_few_packs_that_decline_have_a_bad_edge_further_out() -> None:
    def stretched(packs: int, model: int, quantity: str = "log_ohm") -> tuple[float, float]:
        made = simulate(packs, 5)
        fit = learn_fleet(made.visits, MODELS, len(OFFSET_V))
        found = calibrate(fit, made.visits, (quantity,))
        plain = Calibration(found.places, found.edges, found.outcomes)
        far, near = (edges(one, quantity, model=model) for one in (found, plain))
        worse = 2 if quantity == "log_ohm" else 0
        assert far[1] == near[1] and far[2 - worse] == near[2 - worse]
        return float((far[worse] - far[1]) / (near[worse] - near[1])), float(fit.log_ohm.stillness[model])

    sure, still = stretched(8, 1)  # four packs of each model; this one declines for certain
    assert still == 0.0 and sure == pytest.approx(1.24)
    likely, still = stretched(8, 0)  # and this one nearly so
    assert 0.0 < still < 0.05 and likely == pytest.approx(1 + 0.24 * (1 - still / UNSURE))
    assert stretched(40, 0)[0] == pytest.approx(1.0)  # twenty of each
    assert stretched(2, 0)[0] == pytest.approx(1.0)  # alone, nothing is shared


def test_a_fleet_without_a_past_has_plain_edges() -> None:
    assert edges(uncalibrated()) == pytest.approx([-TENTH, 0.0, TENTH])


def test_the_likely_day_is_a_little_before_the_middle_within_a_year_and_the_middle_beyond_two() -> None:
    made = simulate(40, 11)
    fit = learn_fleet(made.visits, MODELS, len(OFFSET_V))
    calibration = calibrate(fit, made.visits, ("log_ohm",))
    standing = stand(fit, made.visits, 40)
    ahead = values_ahead(fit, standing.over_days(), ("log_ohm",), CROSSING_DAYS[:, None])["log_ohm"]
    seen = {True: 0, False: 0}
    for rise in (0.03, 0.06, 0.12, 0.2):
        now = values_ahead(fit, standing, ("log_ohm",), 0.0)["log_ohm"]
        limit = now.quantile(np.full(40, 0.5)) + rise
        early, likely, late = project(fit, calibration, standing, "log_ohm", limit, HORIZONS).crossing
        beyond = 1 - ahead.below(limit)
        for pack in range(40):
            if likely[pack] == NEVER or not likely[pack]:
                continue
            chance = np.interp(likely[pack], CROSSING_DAYS, beyond[:, pack])
            middle = calibration.edges_at("log_ohm", float(likely[pack]), standing.sliding["log_ohm"], standing.model)[
                1, pack
            ]
            near = likely[pack] <= 365
            if near or likely[pack] >= 730:
                wanted = ndtr(-middle - 0.25 * near * min(likely[pack] / 28, 1.0))
                assert chance == pytest.approx(wanted, abs=0.03)
                seen[bool(near)] += 1
            assert early[pack] <= likely[pack] and (late[pack] == NEVER or likely[pack] <= late[pack])
    assert seen[True] > 10 and seen[False] > 3
