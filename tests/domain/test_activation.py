"""The temperature law of each model is recovered from simulated checks with a known law, however the thermometer errs."""

from __future__ import annotations

import numpy as np
import pytest

from fleetcare.domain.projection.activation import learn_activation
from fleetcare.domain.projection.visits import Models, Visits

GAS = 8.314462618
ENERGY_J_MOL = np.array([12_000.0, 17_000.0, 25_000.0])
MODELS = Models(
    ("A", "B", "C"), ("NMC",) * 3, np.full(3, 13.0), np.full(3, 15.0), np.full(3, 54.6), np.full(3, 15.0)
)  # fmt: skip
PACKS_OF_EACH = 12
FLEETS = 8


def learnt(bench: str, thermometer: str, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Energy and its stated standard deviation (J/mol) of three models, read for a year and a half.

    `bench` follows the season or is always alike; `thermometer`: "right", "errs" about the true bench by 1.5 °C, or is
    right while the pack is "near" it, within 0.8 °C.
    """
    draw = np.random.default_rng(seed)
    rows = []
    for pack in range(3 * PACKS_OF_EACH):
        model = pack % 3
        days = np.arange(-550.0, -4.0, 10.0) + draw.uniform(-4, 4)
        days = days[draw.random(len(days)) > 0.2]
        n = len(days)
        room = (
            18 + 4 * np.sin(days / 58.1) + draw.normal(0, 1.3, n) if bench == "season" else 22 + draw.normal(0, 0.3, n)
        )
        true = room + (draw.normal(0, 0.8, n) if thermometer == "near" else 0)
        noted = room + (draw.normal(0, 1.5, n) if thermometer == "errs" else 0)
        ohm = 0.15 * np.exp(draw.normal(0, 0.05) + 0.1 * days / 365 + draw.normal(0, 0.025, n))
        ohm *= np.exp(ENERGY_J_MOL[model] / GAS * (1 / (true + 273.15) - 1 / 298.15))
        table = (np.full(n, pack), np.full(n, model), np.zeros(n), days, np.full(n, 54.3), 54.3 - 15 * ohm,
                 np.full(n, 15.0), noted.round(), np.full(n, 60.0))  # fmt: skip
        rows += list(zip(*table, strict=True))
    visits = Visits.from_rows(rows)
    log_ohm = np.log((visits.rested_v - visits.loaded_v) / visits.load_a)
    energy, sd, _ = learn_activation(visits, MODELS, log_ohm, float(np.median(visits.temperature_c)))
    return energy, sd


@pytest.mark.parametrize("thermometer", ["right", "errs", "near"])
def test_a_planted_law_is_recovered_within_its_stated_error(thermometer: str) -> None:
    found = [learnt("season", thermometer, seed) for seed in range(FLEETS)]
    energy, sd = (np.array(part) for part in zip(*found, strict=True))
    off = np.abs(energy - ENERGY_J_MOL) / sd
    assert (off < 1).mean() > 0.5 and (off < 2).mean() > 0.85  # of a normal error .68 and .95
    assert energy.mean(0) == pytest.approx(ENERGY_J_MOL, abs=1_500)
    assert sd.max() < 2_000  # the prior: 5,000


@pytest.mark.parametrize("thermometer", ["right", "errs", "near"])
def test_a_bench_that_is_always_alike_teaches_little_and_says_so(thermometer: str) -> None:
    found = [learnt("alike", thermometer, seed) for seed in range(FLEETS)]
    energy, sd = (np.array(part) for part in zip(*found, strict=True))
    assert (np.abs(energy - ENERGY_J_MOL) / sd).max() < 2.7
    assert sd.min() > 3_000
    assert energy.mean(0) == pytest.approx([18_000] * 3, abs=6_000)  # what is published leads


def test_visits_without_a_noted_temperature_leave_what_is_published() -> None:
    visits = Visits.from_rows([(0, 0, 0, -7.0 * k, 54.3, 52.0, 15.0, np.nan, 60.0) for k in range(1, 9)])
    energy, sd, _ = learn_activation(visits, MODELS, np.log(np.full(8, 0.15)), 25.0)
    assert energy == pytest.approx(18_000) and sd == pytest.approx(5_000)
