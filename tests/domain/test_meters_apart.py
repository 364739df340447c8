"""Depots whose meters no pack was read with both of are compared by where a charger leaves packs of one model (simulated)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fleetcare.domain.projection.meters_apart import meters_apart
from fleetcare.domain.projection.preparation import apply_corrections, learn_corrections
from fleetcare.domain.projection.visits import Floats, Models, Visits, group_median

MODELS = Models(
    ("A", "B"), ("NMC", "NMC"), np.array([13.0, 14.0]), np.array([17.5, 12.0]), np.array([54.6, 58.8]), np.array([15.0, 15.0])
)  # fmt: skip
DEPOTS, METERS_EACH, READINGS = 4, 3, 30
CHARGER_V = 0.05
"""What packs of a model are charged apart, as 4 mV a group (proposal)."""


def depots(seed: int, packs: int, *, bias_v: float = 0.12, shared: bool = False) -> tuple[Visits, Floats, Floats]:
    """Weekly checks of packs that are read with their own depot's meters alone (or with any, if `shared`); what each meter
    is off by, and where each pack truly rests."""
    draw = np.random.default_rng(seed)
    pack = np.repeat(np.arange(packs), READINGS)
    model = (np.arange(packs) // DEPOTS) % 2
    day = np.tile(-7.0 * np.arange(READINGS)[::-1], packs) - 1 + draw.uniform(0, 0.9, len(pack))
    depot = np.where(shared, draw.integers(0, DEPOTS, len(pack)), pack % DEPOTS)
    meter = depot * METERS_EACH + draw.integers(0, METERS_EACH, len(pack))
    off = draw.normal(0, bias_v, DEPOTS * METERS_EACH)
    ohm = draw.uniform(0.1, 0.16, packs)
    rested_v = MODELS.charger_v[model] - 2.0 * MODELS.capacity_ah[model] / 20 * ohm + draw.normal(0, CHARGER_V, packs)
    rested = rested_v[pack] + off[meter] + draw.normal(0, 0.03, len(pack))
    loaded = rested - 15.0 * ohm[pack] * np.exp(draw.normal(0, 0.03, len(pack)))
    bench = np.full(len(pack), 25.0)
    return (
        Visits(
            pack, model[pack], meter, day, rested.round(2), loaded.round(2), np.full(len(pack), 15.0), bench,
            np.full(len(pack), 60.0),
        ),
        off,
        rested_v,
    )  # fmt: skip


def wrong_by(seed: int, packs: int) -> tuple[Floats, float]:
    """How far each pack's corrected level is from the truth, less what all are, and the doubt that is told."""
    visits, off, rested_v = depots(seed, packs)
    known = learn_corrections(visits, MODELS, len(off))
    level = group_median(visits.pack, apply_corrections(visits, MODELS, known).full_v, packs)
    return level - rested_v - np.median(level - rested_v), known.common_sd_v


@pytest.mark.parametrize("seed", range(6))
def test_packs_of_depots_with_meters_of_their_own_stand_where_they_are(seed: int) -> None:
    wrong, _ = wrong_by(seed, 80)
    assert np.sqrt(np.mean(wrong**2)) < 0.03  # the meters alone put depots 0.07 V apart (0.12 over the root of three)


def test_the_doubt_that_is_told_is_about_the_error_that_is_made() -> None:
    found = [wrong_by(seed, 24) for seed in range(20)]
    made = np.sqrt(np.mean([np.mean(wrong**2) for wrong, _ in found]))
    told = np.mean([doubt for _, doubt in found])
    assert 0.5 < told / made < 2.0


def test_fewer_packs_leave_more_in_doubt() -> None:
    assert wrong_by(1, 16)[1] > wrong_by(1, 160)[1] > 0


def test_meters_that_packs_compare_are_left_as_those_packs_say() -> None:
    visits, off, _ = depots(3, 80, shared=True)
    ohm = (visits.rested_v - visits.loaded_v) / 15.0
    read = visits.rested_v - off[visits.meter]  # as far as packs compare them nothing is left to take off
    apart, doubt = meters_apart(
        visits.pack, visits.meter, visits.model, read, ohm, np.isfinite(read), MODELS, 0.03
    )  # fmt: skip
    assert np.abs(apart).max() < 0.01
    assert doubt < 0.005


def test_an_equal_offset_on_all_meters_moves_nothing_between_them() -> None:
    visits, off, _ = depots(5, 40)
    ohm = (visits.rested_v - visits.loaded_v) / 15.0
    use = np.isfinite(ohm)
    asked = (visits.pack, visits.meter, visits.model)
    before, _ = meters_apart(*asked, visits.rested_v, ohm, use, MODELS, 0.03)
    after, _ = meters_apart(*asked, visits.rested_v + 0.2, ohm, use, MODELS, 0.03)
    assert np.abs(after - before).max() < 0.02
    assert len(before) == len(off)


def test_a_depot_that_charges_to_a_lower_voltage_has_no_bad_meters() -> None:
    visits, off, _ = depots(7, 80, bias_v=0.03)
    low = np.where(visits.pack % DEPOTS == 1, 1.3, 0.0)  # 4.10 V a cell instead of 4.20 V
    lower = replace(visits, rested_v=visits.rested_v - low, loaded_v=visits.loaded_v - low)
    known = learn_corrections(lower, MODELS, len(off))
    assert np.abs(known.meter_offset_v - known.meter_offset_v.mean()).max() < 0.15
    full = (
        apply_corrections(lower, MODELS, known).full_v
        - apply_corrections(visits, MODELS, learn_corrections(visits, MODELS, len(off))).full_v
    )
    stands = group_median(visits.pack, full, 80)
    assert np.allclose(stands[1::DEPOTS] - stands[0::DEPOTS], -1.3, atol=0.1)


def test_flat_chemistry_in_one_depot_alone_moves_no_meter() -> None:
    flat = Models(
        ("A", "L"), ("NMC", "LFP"), np.array([13.0, 12.0]), np.array([17.5, 12.0]), np.array([54.6, 43.8]), np.array([15.0, 15.0])
    )  # fmt: skip
    visits, off, _ = depots(9, 80, bias_v=0.0)
    own = (visits.pack % DEPOTS == 2) & (visits.pack < 40)
    model = np.where(own, 1, 0)
    shift = np.where(own, 40.1 - 54.4, np.where(visits.model == 1, -4.2, 0.0))
    known = learn_corrections(
        replace(visits, model=model, rested_v=visits.rested_v + shift, loaded_v=visits.loaded_v + shift), flat, len(off)
    )
    assert np.abs(known.meter_offset_v - known.meter_offset_v.mean()).max() < 0.08


def test_a_fleet_that_is_charged_to_a_lower_voltage_stands_lower() -> None:
    visits, off, _ = depots(11, 80, bias_v=0.03)
    lower = replace(visits, rested_v=visits.rested_v - 1.3, loaded_v=visits.loaded_v - 1.3)
    full = [apply_corrections(one, MODELS, learn_corrections(one, MODELS, len(off))).full_v for one in (visits, lower)]
    assert np.median(full[1] - full[0]) == pytest.approx(-1.3, abs=0.1)
