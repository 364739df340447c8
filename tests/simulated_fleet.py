"""A small simulated fleet with planted truth: two pack models, meters with offsets, seasons, slips and sliding packs.

Simulated: never to be shown as a measurement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetcare.domain.projection.visits import Floats, Models, Visits

GAS = 8.314462618
ENERGY_J_MOL = np.array([15_000.0, 20_000.0])
YEARLY_LOG_OHM = np.array([0.06, 0.14])
OFFSET_V = np.array([-0.2, -0.05, 0.0, 0.1, 0.15])
MODELS = Models(
    ("A", "B"), ("NMC", "NCA"), np.array([13.0, 13.0]), np.array([20.0, 12.8]), np.array([54.6, 54.6]), np.array([15.0, 15.0])
)  # fmt: skip
OHM_NEW = np.array([0.13, 0.20])


@dataclass(frozen=True)
class Simulated:
    """The visits before day 0, and the true log resistance and rested volts of each pack on any day."""

    visits: Visits
    first_day: Floats
    model: np.ndarray
    pace: Floats
    slide_from: Floats
    full_new: Floats

    def log_ohm(self, pack: np.ndarray, day: Floats) -> Floats:
        """True natural logarithm of the 25 °C resistance."""
        years = (day - self.first_day[pack]) / 365.0
        slide = np.maximum(day - self.slide_from[pack], 0.0) / 365.0 * 0.5
        base = np.log(OHM_NEW[self.model[pack]])
        return base + self.pace[pack] * YEARLY_LOG_OHM[self.model[pack]] * years + slide

    def full_v(self, pack: np.ndarray, day: Floats) -> Floats:
        """True rested volts at 25 °C, an hour after charging."""
        return self.full_new[pack] - 0.1 * np.exp(self.log_ohm(pack, day))


def simulate(packs: int = 60, seed: int = 7, ahead: bool = False) -> Simulated:
    """`packs` packs, weekly checks with gaps over one to three years; about one in eight slides."""
    draw = np.random.default_rng(seed)
    model = np.arange(packs) % 2
    first = -draw.uniform(365, 1095, packs)
    pace = draw.normal(1.0, 0.2, packs)
    slide = np.where(draw.random(packs) < 0.12, -draw.uniform(60, 300, packs), np.inf)
    full = 54.4 + draw.normal(0, 0.01, packs)
    made = Simulated(Visits.from_rows([]), first, model, pace, slide, full)
    rows = []
    for pack in range(packs):
        for day in np.arange(first[pack], 0.0 if not ahead else 365.0, 7.0):
            if draw.random() < 0.3:
                continue
            day += draw.uniform(0, 3)
            if day >= 0 and not ahead:
                continue
            meter = int(draw.integers(0, 5))
            bench = 15 + 7 * np.sin(day / 365 * 2 * np.pi) + draw.normal(0, 2)
            one = np.array([pack])
            ohm = np.exp(made.log_ohm(one, np.array([day]))[0])
            ohm *= np.exp(ENERGY_J_MOL[model[pack]] / GAS * (1 / (bench + 273.15) - 1 / 298.15))
            rested = made.full_v(one, np.array([day]))[0] + 0.004 * (bench - 25) + draw.normal(0, 0.04)
            loaded = rested - 15 * ohm * np.exp(draw.normal(0, 0.03))
            slip = draw.random()
            rested, loaded = (rested + OFFSET_V[meter], loaded + OFFSET_V[meter])
            if slip < 0.01:
                rested, loaded = loaded, rested
            elif slip < 0.02:
                rested = rested / 10
            noted = bench + draw.normal(0, 1.0)
            rows.append((pack, model[pack], meter, day, round(rested, 2), round(loaded, 2), 15.0, round(noted), 60.0))
    return Simulated(Visits.from_rows(rows), first, model, pace, slide, full)
