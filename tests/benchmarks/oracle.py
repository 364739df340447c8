"""What a forecaster who knew more could reach, on simulated fleets with known truth.

    python -m tests.benchmarks.oracle            a table of the engine and four oracles

Each oracle is told one thing more: where each pack truly stands today; today's true level and slope; the readings
without meters, slips, benches and thermometers in the way; or the fault that begins after today.  What none of them
reaches cannot be had from voltage readings.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.special import ndtr

from fleetcare.domain.projection.calibration import HORIZONS
from fleetcare.domain.projection.fleet import learn_fleet, stand, value_ahead
from tests.benchmarks.families import AHEAD, ONSET_DAYS, Case, Fleet, fleet_case
from tests.benchmarks.scoring import FAR, Said, engine, last_value, prepared_of, rows_of, series_of, summary

WEEKS = 4
UNSEEN_DAYS = 60.0
"""A fault younger than this is seldom seen: a few readings, of which the first pass for slips."""


def naive_of(case: Case) -> dict[str, np.ndarray]:
    """The last prepared value of each pack, with the scatter of readings."""
    _, prepared = prepared_of(case)
    out = {}
    for quantity in case.value:
        table = np.full((len(HORIZONS), 3, case.packs), np.nan)
        for pack in range(case.packs):
            day, value = series_of(case, prepared, quantity, pack)
            if len(day) >= 6:
                table[:, :, pack] = last_value(day, value)
        out[quantity] = table
    return out


def true_level(case: Case) -> dict[str, Said]:
    """The engine's projection, moved so that its middle today is the true value today."""
    fit = learn_fleet(case.visits, case.models, int(case.visits.meter.max()) + 1)
    standing = stand(fit, case.visits, case.packs)
    out = {}
    for quantity, said in engine(case).items():
        today = value_ahead(fit, standing, quantity, 0.0)
        off = case.path[quantity][0] - today.quantile(np.full(case.packs, 0.5))
        sure = today.quantile(np.full(case.packs, 0.9)) - today.quantile(np.full(case.packs, 0.1))
        moved = []
        for at in range(len(HORIZONS)):
            low, middle, high = said.quantiles[at] + off
            ahead = np.sqrt(np.maximum((high - low) ** 2 - sure**2, (0.3 * (high - low)) ** 2)) / np.maximum(
                high - low, 1e-9
            )
            moved.append(np.stack([middle - ahead * (middle - low), middle, middle + ahead * (high - middle)]))
        limit = case.limits[quantity][standing.model]
        table = np.stack(moved)
        out[quantity] = Said(table, _chance(table[1], limit), _crossing(case.path[quantity][0], table[:, 1], limit))
    return out


def true_slope(case: Case) -> dict[str, Said]:
    """A straight line through the true value with the true slope of the coming weeks, and the spread that such lines
    turn out to have on this fleet (known only in hindsight)."""
    model = np.zeros(case.packs, dtype=int)
    model[case.visits.pack] = case.visits.model
    out = {}
    for quantity, path in case.path.items():
        slope = (path[WEEKS] - path[0]) / AHEAD[WEEKS]
        middle = path[0] + slope * np.array(HORIZONS)[:, None]
        off = case.value[quantity] - middle
        low, high = np.quantile(off, 0.1, axis=1), np.quantile(off, 0.9, axis=1)
        table = np.stack([middle + low[:, None], middle, middle + high[:, None]], axis=1)
        limit = case.limits[quantity][model]
        out[quantity] = Said(table, _chance(table[1], limit), _crossing(path[0], middle, limit))
    return out


def _chance(quantiles: np.ndarray, limit: np.ndarray) -> np.ndarray:
    low, middle, high = quantiles
    side = np.where(limit < middle, middle - low, high - middle) / 1.2816
    return np.asarray(ndtr((limit - middle) / np.maximum(side, 1e-6)))


def _crossing(today: np.ndarray, middle: np.ndarray, limit: np.ndarray) -> np.ndarray:
    """The day on which the middle, straight between the horizons and beyond the last, reaches the limit."""
    days = np.array([0.0, *HORIZONS])
    values = np.vstack([today, middle])
    out = np.full(len(limit), FAR)
    for pack in range(len(limit)):
        slope = (values[-1, pack] - values[-2, pack]) / (days[-1] - days[-2])
        x = np.append(days, 1095.0)
        y = np.append(values[:, pack], values[-1, pack] + slope * (1095.0 - days[-1]))
        below = y <= limit[pack]
        if below.any():
            at = int(below.argmax())
            out[pack] = (
                0.0 if at == 0 else x[at - 1] + (x[at] - x[at - 1]) * (y[at - 1] - limit[pack]) / (y[at - 1] - y[at])
            )
    return out


def settled(case: Case) -> Case:
    """The same packs without the faults that begin after today: what no history shows is left out of the score."""
    kept = case.onset <= 0
    kept |= case.tag == "healthy"
    value = {q: np.where(kept, v, np.nan) for q, v in case.value.items()}
    crossing = {q: np.where(kept, d, -1.0) for q, d in case.crossing.items()}
    return replace(case, value=value, crossing=crossing)


def ideal_held(plan: Fleet, horizon: int, unseen_days: float) -> float:
    """What an 80 % range of a forecaster who knows the law of faults would hold of packs that have one, now or later.

    It knows how often faults begin and what each does; it sees one that began more than `unseen_days` ago and holds
    just 80 % of what is then left; of the others it knows nothing.  Where so few of the packs that look sound have such
    a fault that all of them lie below p10, it holds none of them; else those of them above the lowest tenth.
    """
    first, last = ONSET_DAYS
    hidden = (min(horizon, last) + unseen_days) / (last - first)  # of packs with a fault, whose onset is not seen yet
    looks_sound = 1 - plan.faulty * (-unseen_days - first) / (last - first)
    begins = plan.faulty * hidden / looks_sound
    return 0.8 * (1 - hidden) + hidden * max(1 - 0.1 / begins, 0.0)


def by_onset(rows: pd.DataFrame, cases: list[Case]) -> pd.DataFrame:
    """Share held of packs with a fault, by kind and by when it begins."""
    onset = pd.concat(
        [pd.DataFrame({"case": c.name, "pack": np.arange(c.packs), "onset": c.onset}) for c in cases], ignore_index=True
    )
    part = rows[rows.tag != "healthy"].merge(onset, on=["case", "pack"])
    ahead = np.where(part.onset > part.horizon, "after the horizon", "before it")
    began = np.where(part.onset > 0, ahead, np.where(part.onset > -UNSEEN_DAYS, "60 days ago or less", "earlier"))
    return part.groupby(["tag", began]).held.agg(["mean", "size"]).unstack(0)


def main() -> None:
    """Print the tables."""
    plan = Fleet(faulty=0.5, packs=160)
    clean = replace(plan, meter_bias=0.0, drift=0.0, slips=0.0, not_full=0.0, thermometer=0.0, noise=0.02, meters=1)
    rows, cases = [], []
    for number in (1, 3, 5):
        case = fleet_case("mixed", number, plan)
        cases.append(case)
        naive = naive_of(case)
        told = {
            "engine": (case, engine(case)),
            "the true level today": (case, true_level(case)),
            "the true level and slope": (case, true_slope(case)),
            "no fault begins later": (settled(case), engine(case)),
        }
        pure = fleet_case("mixed", number, clean)
        told["readings without meters and slips"] = (pure, engine(pure))
        for name, (seen, said) in told.items():
            part = rows_of(seen, said, naive)
            part["method"] = name
            rows.append(part)
    table = pd.concat(rows)
    for kind, part in (("all packs", table), ("faulty packs", table[table.tag != "healthy"])):
        print(kind)
        print(summary(part, "method").round(3).to_string())
    print("held of packs with a fault, by when it begins")
    print(by_onset(table[table.method == "engine"], cases).round(2).to_string())
    for unseen in (0.0, UNSEEN_DAYS):
        share = np.mean([ideal_held(plan, horizon, unseen) for horizon in HORIZONS])
        print(f"an ideal forecaster who sees faults older than {unseen:.0f} days holds {share:.3f}")


if __name__ == "__main__":
    main()
