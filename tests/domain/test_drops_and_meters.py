"""Packs that drop in the same months are not taken for a meter that went off, nor a meter for packs (simulated)."""

from __future__ import annotations

import numpy as np
import pytest

from fleetcare.domain.projection.preparation import MONTH_DAYS, apply_corrections, learn_corrections
from fleetcare.domain.projection.visits import Floats, Models, Visits

MODELS = Models(("A",), ("NMC",), np.array([13.0]), np.array([17.5]), np.array([54.6]), np.array([15.0]))
METERS, WEEKS, NOISE_V = 3, 78, 0.03


def fleet(seed: int, falls_v: Floats, over_days: float, meter_jump_v: float = 0.0) -> tuple[Visits, Floats]:
    """Weekly checks of packs that fall by so much from day -150 on, read with any of three meters, of which the last
    jumps on day -100; and what each reading's meter is off by."""
    draw = np.random.default_rng(seed)
    packs = len(falls_v)
    pack = np.repeat(np.arange(packs), WEEKS)
    day = np.tile(-7.0 * np.arange(WEEKS)[::-1], packs) - 1 + draw.uniform(0, 0.9, len(pack))
    meter = draw.integers(0, METERS, len(pack))
    off = draw.normal(0, 0.08, METERS)
    bias = off[meter] + np.where((meter == METERS - 1) & (day > -100), meter_jump_v, 0.0)
    fallen = falls_v[pack] * np.clip((day + 150) / over_days, 0, 1)
    level = 54.3 + draw.normal(0, 0.05, packs)
    rested = level[pack] - fallen + bias + draw.normal(0, NOISE_V, len(pack))
    loaded = rested - 1.8 * np.exp(draw.normal(0, 0.03, len(pack)))
    bench, rest = draw.normal(20, 2, len(pack)).round(), np.full(len(pack), 60.0)
    ampere = np.full(len(pack), 15.0)
    return Visits(pack, np.zeros_like(pack), meter, day, rested.round(2), loaded.round(2), ampere, bench, rest), bias


def learnt(visits: Visits) -> Floats:
    """What each reading's meter is said to be off by, less its middle (what all share cannot be known)."""
    known = learn_corrections(visits, MODELS, METERS)
    month = np.floor(visits.day / MONTH_DAYS).astype(int) - known.first_month
    return known.meter_offset_v[visits.meter, month]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("falls_v", [(0.8, 0.8, 0.8, 0, 0, 0, 0, 0), (0.4, 0.4, 0.4, 0.4, 0, 0, 0, 0), (0.0,) * 8])
@pytest.mark.parametrize("over_days", [1.0, 90.0])
def test_packs_that_drop_in_the_same_months_move_no_meter(
    seed: int, falls_v: tuple[float, ...], over_days: float
) -> None:
    visits, bias = fleet(seed, np.array(falls_v, dtype=float), over_days)
    wrong = learnt(visits) - bias
    assert np.abs(wrong - np.median(wrong)).max() < 2 * NOISE_V


@pytest.mark.parametrize("seed", range(4))
def test_the_healthy_packs_beside_them_stand_where_they_stood(seed: int) -> None:
    visits, _ = fleet(seed, np.array([0.8, 0.8, 0.8, 0, 0, 0, 0, 0]), 90.0)
    full_v = apply_corrections(visits, MODELS, learn_corrections(visits, MODELS, METERS)).full_v
    for pack in range(3, 8):
        own = visits.pack == pack
        moved = np.median(full_v[own & (visits.day > -60)]) - np.median(full_v[own & (visits.day < -150)])
        assert abs(moved) < 2 * NOISE_V


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("falls_v", [(0.8, 0.8, 0.8, 0, 0, 0, 0, 0), (0.0,) * 8])
def test_a_meter_that_jumps_is_still_the_meter(seed: int, falls_v: tuple[float, ...]) -> None:
    visits, bias = fleet(seed, np.array(falls_v, dtype=float), 90.0, meter_jump_v=-0.5)
    wrong = learnt(visits) - bias
    wrong -= np.median(wrong)
    whole_month = (visits.day < -4 * MONTH_DAYS) | (visits.day > -3 * MONTH_DAYS)  # it jumps within the month between
    assert np.abs(wrong[whole_month]).max() < 4 * NOISE_V
