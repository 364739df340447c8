"""What a forecaster who knows the law could reach on packs that hardly decline, or are few.

    python -m tests.benchmarks.oracle_still            a table of the engine, the oracle and the references

The oracle of cells that keep still is a Kalman filter that is told how their family was drawn: scatter and outliers,
walk, how fast it falls back, steps, early rise and sag.  It is not told what was drawn.  A second one is told only which
laws there are: it follows the cells by each and weighs them by how likely they make the readings, which is the best
that can be done by somebody who does not know what kind of still cell it is.  The oracle of three packs is
told where each pack truly stands today, and then the slope of the coming weeks as well.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from fleetcare.domain.projection.calibration import HORIZONS
from fleetcare.domain.projection.fleet import Mixture
from tests.benchmarks.families import FAMILIES, FLAT, STILL, Case, Cells
from tests.benchmarks.oracle import naive_of, true_level, true_slope
from tests.benchmarks.scoring import Said, engine, rows_of, summary

OUTLIERS, OUTLIER_TIMES, STEPS_A_DAY, RISES_WITHIN = 0.05, 4.0, 0.02, 0.08
"""As `cells_case` draws them."""
NUMBERS = (1, 3, 5, 7, 9, 11)
SMALL_WALKS = (0.0005, 0.001)
"""Walks in volts a day beside the least that is drawn (0.002)."""
TENTHS = np.array([-1.2815515655446004, 0.0, 1.2815515655446004])


def knows_the_law(case: Case, plan: Cells) -> dict[str, Said]:
    """Quantiles of a filter that is told the family's law."""
    _, middle, variance = followed(case, plan)
    table = middle[:, None] + TENTHS[:, None] * np.sqrt(variance)[:, None]
    none = np.full(case.packs, np.nan)
    return {quantity_of(plan): Said(table, none, none)}


def knows_all_laws(case: Case, loaded: bool, small_walks: tuple[float, ...] = ()) -> dict[str, Said]:
    """Quantiles of the mixture of all laws, by how likely each makes the readings of all cells of the case together."""
    laws = catalogue(loaded, small_walks)
    found = [followed(case, plan) for plan, _ in laws]
    score = np.array([one[0] for one in found]) + np.log([before for _, before in laws])
    weight = np.repeat((np.exp(score - score.max()) / np.exp(score - score.max()).sum())[:, None], case.packs, 1)
    table = np.stack([
        np.stack([Mixture(np.stack([one[1][row] for one in found]), np.stack([one[2][row] for one in found]), weight)
                  .quantile(p) for p in (0.1, 0.5, 0.9)])
        for row in range(len(HORIZONS))
    ])  # fmt: skip
    none = np.full(case.packs, np.nan)
    return {quantity_of(laws[0][0]): Said(table, none, none)}


def catalogue(loaded: bool, small_walks: tuple[float, ...] = ()) -> list[tuple[Cells, float]]:
    """Laws of cells that keep still, and how likely each is before the readings: each kind alike.  With `small_walks` (volts
    in a day) a level may walk so too, also where it rose early or sinks."""
    base = Cells(loaded=loaded, fall=0.0, early_rise=0.0, recovery=0.0)
    kinds: list[list[dict[str, float]]] = [
        [{}],
        [{"wander": w} for w in (*small_walks, 0.002, 0.004, 0.006, 0.009)],
        [{"wander": w, "revert_days": r} for w in (0.004, 0.008, 0.012) for r in (8, 15, 30)],
        [{"steps": s} for s in (0.01, 0.02, 0.03, 0.05)],
        [{"early_rise": 0.06, "life": life, "wander": w} for life in (160, 300, 600) for w in (0.0, *small_walks)],
        [{"sag": s, "wander": w} for s in (0.015, 0.03, 0.06, 0.12) for w in (0.0, *small_walks)],
    ]
    noises = (0.03, 0.04) if loaded else (0.015, 0.02, 0.03)
    return [
        (replace(base, noise=noise, **law), 1 / len(kinds) / len(kind) / len(noises))
        for kind in kinds for law in kind for noise in noises
    ]  # fmt: skip


def quantity_of(plan: Cells) -> str:
    """What the cells of a family are read for."""
    return "loaded_v" if plan.loaded else "rested_full_v"


def followed(case: Case, plan: Cells) -> tuple[float, np.ndarray, np.ndarray]:
    """Log likelihood of all readings under `plan`, and mean and variance ahead (horizon, pack), of a filter with the state
    level, deviation that falls back, and early rise of each cell."""
    read = case.visits.loaded_v if plan.loaded else case.visits.rested_v
    means, variances = np.zeros((2, len(HORIZONS), case.packs))
    likely = 0.0
    for pack in range(case.packs):
        own = case.visits.pack == pack
        day, value = case.visits.day[own], read[own]
        start = 54.4 - 3.0 * plan.loaded
        mean = np.array([start, 0.0, plan.early_rise])
        spread = np.diag([0.06**2 + (3.0 * 0.08) ** 2 * plan.loaded, plan.wander**2, (0.3 * plan.early_rise) ** 2])
        first, at = day[0], day[0]
        for d, y in zip(day, value, strict=True):
            mean, spread = _later(mean, spread, d - at, plan)
            at = d
            seen = np.array([1.0, 1.0, _risen(d - first, plan)])
            off = y + plan.sag / 365.0 * (d - first) - seen @ mean
            mean, spread, chance = _told(mean, spread, seen, off, plan.noise**2)
            likely += float(np.log(max(chance, 1e-300)))
        for row, ahead in enumerate(HORIZONS):
            later, wide = _later(mean, spread, ahead - at, plan)
            seen = np.array([1.0, 1.0, _risen(ahead - first, plan)])
            means[row, pack] = seen @ later - plan.sag / 365.0 * (ahead - first)
            variances[row, pack] = max(float(seen @ wide @ seen), 1e-12)
    return likely, means, variances


def _risen(age: float, plan: Cells) -> float:
    return float(1 - np.exp(-age / plan.life / RISES_WITHIN))


def _later(mean: np.ndarray, spread: np.ndarray, days: float, plan: Cells) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance so many whole days later: steps move the level, the walk its deviation."""
    days = max(round(days), 0)
    kept = np.exp(-1.0 / plan.revert_days)
    keep = np.array([1.0, kept**days, 1.0])
    spread = spread * np.outer(keep, keep)
    spread[0, 0] += days * STEPS_A_DAY * plan.steps**2
    spread[1, 1] += plan.wander**2 * (days if kept == 1.0 else (1 - kept ** (2 * days)) / (1 - kept**2))
    return mean * keep, spread


def _told(
    mean: np.ndarray, spread: np.ndarray, seen: np.ndarray, off: float, noise: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """After a reading that is `off`, and how likely it was: one in twenty scatters four times as wide, both are weighed."""
    towards = spread @ seen
    state = float(seen @ towards)
    total = state + noise * np.array([1.0, OUTLIER_TIMES**2]) + 0.01**2 / 12
    share = np.array([1 - OUTLIERS, OUTLIERS]) * np.exp(-0.5 * off**2 / total) / np.sqrt(total)
    chance = float(share.sum())
    share /= max(chance, 1e-300)
    gain = float((share / total).sum())
    between = float((share / total**2).sum()) - gain**2
    left = spread - np.outer(towards, towards) * (gain - between * off**2)
    return mean + towards * gain * off, left, chance


def main() -> None:
    """Print the tables."""
    rows = []
    for family, plan in STILL.items():
        for number in NUMBERS:
            case = FLAT[family](number)
            naive = naive_of(case)
            told = {
                "engine": engine(case),
                "the law": knows_the_law(case, plan),
                "all laws": knows_all_laws(case, plan.loaded),
                "all laws, small walks": knows_all_laws(case, plan.loaded, SMALL_WALKS),
            }
            for name, said in told.items():
                rows.append(rows_of(case, said, naive).assign(method=name))
    for number in NUMBERS:
        case = FAMILIES["three_packs"](number)
        naive = naive_of(case)
        told = {"engine": engine(case), "true level": true_level(case), "true level and slope": true_slope(case)}
        rows += [rows_of(case, said, naive).assign(method=name) for name, said in told.items()]
    print(summary(pd.concat(rows), ["family", "method"])[["score", "held"]].round(3).to_string())


if __name__ == "__main__":
    main()
