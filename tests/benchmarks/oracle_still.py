"""What a forecaster who knows the law could reach on packs that hardly decline, or are few.

    python -m tests.benchmarks.oracle_still            a table of the engine, the oracle and the references

The oracle of cells that keep still is a Kalman filter that is told how their family was drawn: scatter and outliers,
walk, how fast it falls back, steps, early rise and sag.  It is not told what was drawn.  The oracle of three packs is
told where each pack truly stands today, and then the slope of the coming weeks as well.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from fleetcare.domain.projection.calibration import HORIZONS
from tests.benchmarks.families import FAMILIES, FLAT, STILL, Case, Cells
from tests.benchmarks.oracle import naive_of, true_level, true_slope
from tests.benchmarks.scoring import Said, engine, rows_of, summary

OUTLIERS, OUTLIER_TIMES, STEPS_A_DAY, RISES_WITHIN = 0.05, 4.0, 0.02, 0.08
"""As `cells_case` draws them."""
NUMBERS = (1, 3, 5, 7, 9, 11)
TENTHS = np.array([-1.2815515655446004, 0.0, 1.2815515655446004])


def knows_the_law(case: Case, plan: Cells) -> dict[str, Said]:
    """Quantiles of a filter with the state level, deviation that falls back, and early rise of each cell."""
    quantity = "loaded_v" if plan.loaded else "rested_full_v"
    read = case.visits.loaded_v if plan.loaded else case.visits.rested_v
    table = np.full((len(HORIZONS), 3, case.packs), np.nan)
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
            mean, spread = _told(mean, spread, seen, off, plan.noise**2)
        for row, ahead in enumerate(HORIZONS):
            later, wide = _later(mean, spread, ahead - at, plan)
            seen = np.array([1.0, 1.0, _risen(ahead - first, plan)])
            middle = seen @ later - plan.sag / 365.0 * (ahead - first)
            table[row, :, pack] = middle + TENTHS * np.sqrt(seen @ wide @ seen)
    none = np.full(case.packs, np.nan)
    return {quantity: Said(table, none, none)}


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
) -> tuple[np.ndarray, np.ndarray]:
    """After a reading that is `off`: one in twenty scatters four times as wide, and both are weighed."""
    towards = spread @ seen
    state = float(seen @ towards)
    total = state + noise * np.array([1.0, OUTLIER_TIMES**2]) + 0.01**2 / 12
    share = np.array([1 - OUTLIERS, OUTLIERS]) * np.exp(-0.5 * off**2 / total) / np.sqrt(total)
    share /= share.sum()
    gain = float((share / total).sum())
    between = float((share / total**2).sum()) - gain**2
    left = spread - np.outer(towards, towards) * (gain - between * off**2)
    return mean + towards * gain * off, left


def main() -> None:
    """Print the tables."""
    rows = []
    for family, plan in STILL.items():
        for number in NUMBERS:
            case = FLAT[family](number)
            naive = naive_of(case)
            for name, said in {"engine": engine(case), "the law": knows_the_law(case, plan)}.items():
                rows.append(rows_of(case, said, naive).assign(method=name))
    for number in NUMBERS:
        case = FAMILIES["three_packs"](number)
        naive = naive_of(case)
        told = {"engine": engine(case), "true level": true_level(case), "true level and slope": true_slope(case)}
        rows += [rows_of(case, said, naive).assign(method=name) for name, said in told.items()]
    print(summary(pd.concat(rows), ["family", "method"])[["score", "held"]].round(3).to_string())


if __name__ == "__main__":
    main()
