"""Scores of projections against truth: quantile score as a ratio to the last value, coverage, Brier, crossings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from fleetcare.domain.projection.calibration import HORIZONS, calibrate
from fleetcare.domain.projection.fleet import FleetFit, learn_fleet
from fleetcare.domain.projection.forecast import NEVER, project_all
from fleetcare.domain.projection.preparation import Prepared, apply_corrections
from fleetcare.domain.projection.visits import Floats, scatter_of
from tests.benchmarks.families import Case

TAU = np.array([0.1, 0.5, 0.9])
NEEDED = 6
FAR = 1095.0


@dataclass(frozen=True)
class Said:
    """What a method said of each pack: quantiles (horizon, 3, pack), chance of being beyond within 91 days and the
    likely crossing day (FAR: none), NaN where it said nothing."""

    quantiles: Floats
    chance: Floats
    crossing: Floats


def quantile_score(truth: Floats, quantiles: Floats) -> Floats:
    """Twice the mean pinball loss of p10, p50 and p90 (last axis): the weighted interval score of one 80 % interval."""
    off = truth[..., None] - quantiles
    return np.asarray(2 * np.maximum(TAU * off, (TAU - 1) * off).mean(-1))


def engine(case: Case) -> dict[str, Said]:
    """The project's own projection."""
    fit = learn_fleet(case.visits, case.models, int(case.visits.meter.max()) + 1)
    calibration = calibrate(fit, case.visits, ("loaded_v", "rested_full_v"))
    parts: dict[str, list[Said]] = {quantity: [] for quantity in case.value}
    for _, found in project_all(fit, calibration, case.visits, case.packs, case.limits, HORIZONS):
        for quantity, kept in parts.items():
            one = found[quantity]
            enough = np.where(one.count >= NEEDED, 1.0, np.nan)
            crossing = np.where(one.crossing[1] == NEVER, FAR, one.crossing[1].astype(float))
            quantiles = np.stack([one.quantiles[h] for h in HORIZONS])
            kept.append(Said(quantiles * enough, one.chance[91] * enough, crossing * enough))
    return {
        quantity: Said(
            np.concatenate([s.quantiles for s in kept], axis=-1),
            np.concatenate([s.chance for s in kept]),
            np.concatenate([s.crossing for s in kept]),
        )
        for quantity, kept in parts.items()
    }


def prepared_of(case: Case) -> tuple[FleetFit, Prepared]:
    """This project's own preparation, for the references."""
    fit = learn_fleet(case.visits, case.models, int(case.visits.meter.max()) + 1)
    return fit, apply_corrections(case.visits, case.models, fit.corrections)


def series_of(case: Case, prepared: Prepared, quantity: str, pack: int) -> tuple[Floats, Floats]:
    """Days and prepared values of one pack."""
    visits = case.visits
    use = (visits.pack == pack) & prepared.use_v
    value = prepared.full_v
    if quantity == "loaded_v":
        use = use & prepared.use_ohm
        value = value - case.models.load_a[visits.model] * np.exp(prepared.log_ohm)
    return visits.day[use], value[use]


def last_value(day: Floats, value: Floats) -> Floats:
    """The newest prepared value with the scatter of readings: what the ratios are to."""
    spread = max(scatter_of(np.diff(value)) / np.sqrt(2), 0.004) if len(value) > 2 else 0.1
    return np.tile(value[-1] + 1.2816 * spread * np.array([-1.0, 0.0, 1.0]), (len(HORIZONS), 1))


def theil_sen(day: Floats, value: Floats) -> Floats:
    """Theil and Sen's line with quantiles from redrawn readings and residuals."""
    draw = np.random.default_rng(0)
    at = np.array(HORIZONS, dtype=float)
    most = min(len(day), 60)
    day, value = day[-most:], value[-most:]
    ends = []
    for _ in range(60):
        pick = np.sort(draw.integers(0, len(day), len(day)))
        x, y = day[pick], value[pick]
        dx, dy = x[:, None] - x, y[:, None] - y
        near = dx > 0
        slope = np.median(dy[near] / dx[near]) if near.any() else 0.0
        ends.append(np.median(y - slope * x) + slope * at)
    return np.asarray(np.quantile(np.array(ends), TAU, axis=0).T)


def drift_walk(day: Floats, value: Floats) -> Floats:
    """A random walk with drift on four-week (or finer) means."""
    series, step = slots(day, value)
    change = np.diff(series)
    n = np.maximum(np.array(HORIZONS) / step, 1.0)
    if len(change) < 2:
        return last_value(day, value)
    sd = max(float(np.std(change, ddof=1)), 1e-3) * np.sqrt(n + n**2 / len(change))
    return np.asarray((series[-1] + change.mean() * n)[:, None] + 1.2816 * sd[:, None] * np.array([-1.0, 0.0, 1.0]))


def slots(day: Floats, value: Floats) -> tuple[Floats, float]:
    """Equally spaced medians of at most four weeks, gaps filled straight."""
    span = -float(day.min())
    step = 28.0 if span > 280 else max(span / 12, 1.0)
    slot = np.floor(day / step).astype(int)
    found = pd.Series(value).groupby(slot).median().reindex(range(slot.min(), slot.max() + 1)).interpolate().bfill()
    return found.to_numpy(float), step


def auto_ets(day: Floats, value: Floats) -> Floats:
    """AutoETS of statsforecast on the same slots."""
    from statsforecast.models import AutoETS

    series, step = slots(day, value)
    ahead = max(int(np.ceil(max(HORIZONS) / step)), 1)
    found = AutoETS(season_length=1).forecast(series, h=ahead, level=[80])
    at = [min(max(round(h / step) - 1, 0), ahead - 1) for h in HORIZONS]
    return np.stack([found[name][at] for name in ("lo-80", "mean", "hi-80")], axis=1)


REFERENCES = {"last value": last_value, "Theil-Sen": theil_sen, "drift walk": drift_walk, "AutoETS": auto_ets}


def reference(case: Case, prepared: Prepared, name: str) -> dict[str, Floats]:
    """Quantiles (horizon, 3, pack) of one reference, NaN where there are too few readings."""
    out = {}
    for quantity in case.value:
        table = np.full((len(HORIZONS), 3, case.packs), np.nan)
        for pack in range(case.packs):
            day, value = series_of(case, prepared, quantity, pack)
            if len(day) >= NEEDED:
                table[:, :, pack] = REFERENCES[name](day, value)
        out[quantity] = table
    return out


def rows_of(case: Case, said: dict[str, Said], naive: dict[str, Floats]) -> pd.DataFrame:
    """One row per quantity, pack and horizon with all that pooled scores need."""
    parts = []
    for quantity, one in said.items():
        days = case.crossing[quantity]
        for at, horizon in enumerate(HORIZONS):
            truth = case.value[quantity][at]
            base = quantile_score(truth, naive[quantity][at].T)
            given = np.isfinite(one.quantiles[at]).all(0)
            own = np.where(given, quantile_score(truth, np.nan_to_num(one.quantiles[at].T)), 1.25 * base)
            low, _, high = one.quantiles[at]
            first = horizon == 28
            soon, never = (days > 0) & (days <= 182), ~(days <= 365)
            likely = np.where(given, one.crossing, FAR)
            parts.append(pd.DataFrame({
                "case": case.name, "family": case.name.rsplit("_", 1)[0], "group": case.group, "quantity": quantity,
                "tag": case.tag, "pack": np.arange(case.packs), "horizon": horizon,
                "own": np.where(np.isfinite(base), own, np.nan), "base": base,
                "held": np.where(given & np.isfinite(truth), (low <= truth) & (truth <= high), np.nan).astype(float),
                "brier": np.where((horizon == 91) & given & (days > 0), (one.chance - (days <= 91)) ** 2, np.nan),
                "error": np.where(first & soon, np.abs(likely - days), np.nan),
                "late": np.where(first & soon, likely - days > 30, np.nan).astype(float),
                "false_early": np.where(first & never & given, likely <= 91, np.nan).astype(float),
                "announced_right": np.where(first & (days > 0) & given & (likely <= 91), days <= 182, np.nan).astype(float),
            }))  # fmt: skip
    return pd.concat(parts, ignore_index=True)


def summary(rows: pd.DataFrame, by: str | list[str]) -> pd.DataFrame:
    """The scores by group: the ratio is averaged over case and quantity, so that a big case does not drown small ones."""
    out = {}
    for key, g in rows.groupby(by):
        each = g.groupby(["case", "quantity"])
        sums = each[["own", "base"]].sum(min_count=1)
        out[key] = {
            "score": (sums.own / sums.base).mean(), "held": each.held.mean().mean(), "brier": g.brier.mean(),
            "crossings": int(g.late.notna().sum()), "error": g.error.median(), "late": g.late.mean(),
            "false_early": g.false_early.mean(), "announced": int(g.announced_right.notna().sum()),
            "right": g.announced_right.mean(),
        }  # fmt: skip
    return pd.DataFrame(out).T
