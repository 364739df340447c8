"""Following each pack through its readings: a Kalman filter in three states of mind, for all packs at once.

State: level, own slope, own pace along the shared curve.  A pack is *calm* (follows the curve at its pace), *sliding*
(a slope of its own that keeps changing: a knee, a growing imbalance) or *stepping* (one jump: a connector, a lost
cell); the three filters run side by side and are mixed at each visit (interacting multiple models, Blom and
Bar-Shalom 1988, from memory).  A reading that fits badly counts for less, by Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.domain.projection.ageing import AgeingCurve
from fleetcare.domain.projection.visits import Flags, Floats, Whole, group_median

MODES = 3
CALM, SLIDING, STEPPING = range(MODES)
FREEDOM = 5.0
TINY = 1e-12
"""Rounding must not make a variance negative."""
START = (0.92, 0.06, 0.02)
RECENT_DAYS, SLOT_DAYS = 182.0, 28.0


@dataclass(frozen=True)
class Track:
    """How a series moves, per model (last axis): scatter of a reading, slope and level walks per mode (variance per
    day³ and per day), spread of pace, of the first slope and level, rates of change between modes per day, damping
    time of a slope per mode in days."""

    scatter: Floats
    slope_walk: Floats
    level_walk: Floats
    pace: Floats
    first_slope: Floats
    first_level: Floats
    to_sliding: Floats
    to_stepping: Floats
    from_sliding: Floats
    from_stepping: Floats
    damping_days: Floats


@dataclass(frozen=True)
class Grid:
    """Readings of one series, one column per pack and one row per reading, NaN where there is none.

    A row may stand for several old readings (their median): `share` is its variance over that of one reading.
    `count` counts readings; `group` says for each reading in use which entry it went into, packs in order.
    """

    day: Floats
    value: Floats
    extra: Floats
    share: Floats
    count: Whole
    group: Whole


@dataclass
class State:
    """Where each pack stands: mean (mode, state, pack), covariance (mode, 00 01 02 11 12 22, pack), mode chances
    (mode, pack), the day of its newest reading, and how far each newest reading lay off (standard deviations)."""

    mean: Floats
    covariance: Floats
    chance: Floats
    day: Floats

    def of(self, packs: Flags | Whole) -> State:
        """The chosen packs alone."""
        return State(self.mean[..., packs], self.covariance[..., packs], self.chance[..., packs], self.day[packs])


def grid_of(
    pack: Whole, day: Floats, value: Floats, use: Flags, extra: Floats, packs: int, *, today: float | None = None
) -> Grid:
    """Readings in use (sorted by pack and day) laid out by pack.

    With `today`, those older than half a year are put together by four weeks, which loses little that a slow
    decline needs and makes long histories three times faster.
    """
    pack, day, value, extra = pack[use], day[use], value[use], extra[use]
    count = np.bincount(pack, minlength=packs)
    share, group = np.ones(len(pack)), np.arange(len(pack))
    if today is not None and len(pack):
        pack, day, value, extra, share, group = _by_four_weeks(pack, day, value, extra, today)
    rows = np.bincount(pack, minlength=packs)
    longest = max(int(rows.max()), 1) if packs else 1
    row = np.arange(len(pack)) - np.concatenate(([0], np.cumsum(rows)[:-1]))[pack]
    tables = [np.full((longest, packs), fill) for fill in (np.nan, np.nan, 0.0, 1.0)]
    for table, column in zip(tables, (day, value, extra, share), strict=True):
        table[row, pack] = column
    return Grid(*tables, count, group)


def _by_four_weeks(
    pack: Whole, day: Floats, value: Floats, extra: Floats, today: float
) -> tuple[Whole, Floats, Floats, Floats, Floats, Whole]:
    age = today - day
    slot = np.where(age > RECENT_DAYS, np.ceil(age / SLOT_DAYS).astype(int), -np.arange(len(pack)))
    new = np.ones(len(pack), dtype=bool)
    new[1:] = (pack[1:] != pack[:-1]) | (slot[1:] != slot[:-1])
    group = np.cumsum(new) - 1
    groups = int(group[-1]) + 1
    size = np.bincount(group, minlength=groups)
    share = np.where(size > 2, np.pi / 2 / size, 1.0 / size)  # variance of a median of many, of a mean of two
    return (
        pack[new],
        np.bincount(group, day, groups) / size,
        group_median(group, value, groups),
        np.bincount(group, extra, groups) / size,
        share,
        group,
    )


def curve_at(curves: Sequence[AgeingCurve], model: Whole, age: Floats) -> Floats:
    """The shared curve of each pack's model at `age` (…, pack); 0 where age is NaN."""
    out = np.zeros(np.shape(age))
    for one, curve in enumerate(curves):
        own = model == one
        if own.any():
            out[..., own] = np.nan_to_num(curve(age[..., own]))
    return out


def follow(
    grid: Grid, model: Whole, curves: Sequence[AgeingCurve], first_day: Floats, track: Track
) -> tuple[State, Floats, Floats]:
    """Run the filter; returns the state after each pack's newest reading, the log likelihood of each pack and, per
    reading, its distance from what was expected in standard deviations (NaN: none)."""
    longest, packs = grid.day.shape
    scatter2 = track.scatter[model] ** 2
    shared = curve_at(curves, model, grid.day - first_day)
    opening = np.where(np.isfinite(grid.value[:5]), grid.value[:5] - shared[:5], np.nan)
    mean = np.zeros((MODES, 3, packs))
    covariance = np.zeros((MODES, 6, packs))
    mean[:, 0] = _column_median(opening)
    covariance[:, 0] = track.first_level[model] ** 2
    covariance[:, 3] = track.first_slope[model] ** 2
    covariance[:, 5] = track.pace[model] ** 2
    chance = np.repeat(np.array(START)[:, None], packs, axis=1)
    rates = tuple(r[model] for r in (track.to_sliding, track.to_stepping, track.from_sliding, track.from_stepping))
    slope_walk, level_walk = track.slope_walk[:, model], track.level_walk[:, model]
    last = np.nan_to_num(grid.day[0])
    likelihood = np.zeros(packs)
    distance = np.full((longest, packs), np.nan)
    for i in range(longest):
        here = np.isfinite(grid.day[i])
        gap = np.where(here, np.maximum(grid.day[i] - last, 0.0), 0.0)
        mean, covariance, before = _mix(mean, covariance, chance, gap, rates)
        mean, covariance = ahead(mean, covariance, gap, slope_walk, level_walk, track.damping_days)
        h = shared[i]
        off = np.where(here, grid.value[i] - h - mean[:, 0] - h * mean[:, 2], 0.0)
        state_variance = np.maximum(covariance[:, 0] + 2 * h * covariance[:, 2] + h * h * covariance[:, 5], TINY)
        reading = (scatter2 + grid.extra[i] ** 2) * grid.share[i]
        total = state_variance + reading
        square = off * off / total
        robust = state_variance + reading / np.minimum(1.0, (FREEDOM + 1) / (FREEDOM + square))
        a = covariance[:, 0] + h * covariance[:, 2]
        b = covariance[:, 1] + h * covariance[:, 4]
        c = covariance[:, 2] + h * covariance[:, 5]
        fit = -0.5 * (FREEDOM + 1) * np.log1p(square / FREEDOM) - 0.5 * np.log(total)
        seen = here.astype(float)
        gain = [part / robust * seen for part in (a, b, c)]
        mean = mean + np.stack([k * off for k in gain], 1)
        covariance = covariance - np.stack(
            [gain[0] * a, gain[0] * b, gain[0] * c, gain[1] * b, gain[1] * c, gain[2] * c], 1
        )
        weight = np.log(before) + np.where(here, fit, 0.0)
        top = weight.max(0)
        share = np.exp(weight - top)
        sum_of = share.sum(0)
        chance = np.where(here, share / sum_of, chance)
        if i >= 3:
            likelihood += np.where(here, top + np.log(sum_of), 0.0)
        last = np.where(here, grid.day[i], last)
        distance[i] = np.where(here, (chance * off / np.sqrt(total)).sum(0), np.nan)
    return State(mean, covariance, chance, last), likelihood, distance


def ahead(
    mean: Floats, covariance: Floats, gap: Floats, slope_walk: Floats, level_walk: Floats, damping_days: Floats
) -> tuple[Floats, Floats]:
    """Mean and covariance `gap` days later without a reading."""
    tau = damping_days[:, None]
    keep = np.exp(-gap / tau)
    reach = tau * (1 - keep)
    v00, v01, v02, v11, v12, v22 = (covariance[:, j] for j in range(6))
    moved = np.stack([mean[:, 0] + reach * mean[:, 1], keep * mean[:, 1], mean[:, 2]], 1)
    spread = np.stack(
        [
            v00 + 2 * reach * v01 + reach**2 * v11 + level_walk * gap + slope_walk * gap**3 / 3,
            keep * (v01 + reach * v11) + slope_walk * gap**2 / 2,
            v02 + reach * v12,
            keep**2 * v11 + slope_walk * gap,
            keep * v12,
            v22,
        ],
        1,
    )
    return moved, spread


def _column_median(table: Floats) -> Floats:
    has = np.isfinite(table).any(0)
    out = np.zeros(table.shape[1])
    if has.any():
        out[has] = np.nanmedian(table[:, has], axis=0)
    return out


def _mix(
    mean: Floats, covariance: Floats, chance: Floats, gap: Floats, rates: tuple[Floats, ...]
) -> tuple[Floats, Floats, Floats]:
    """The modes' states after changes of mode within `gap`, and the modes' chances before the next reading."""
    slide, step, settle, done = (1 - np.exp(-gap * rate) for rate in rates)
    none = np.zeros_like(gap)
    table = ((1 - slide - step, slide, step), (settle, 1 - settle, none), (done, none, 1 - done))
    means, spreads, chances = [], [], []
    for j in range(MODES):
        parts = [chance[i] * table[i][j] for i in range(MODES)]
        total = np.maximum(sum(parts), 1e-12)
        weights = [part / total for part in parts]
        middle = sum(w * mean[i] for i, w in enumerate(weights))
        spread = np.zeros_like(covariance[0])
        for i, w in enumerate(weights):
            d = mean[i] - middle
            outer = np.stack([d[0] * d[0], d[0] * d[1], d[0] * d[2], d[1] * d[1], d[1] * d[2], d[2] * d[2]])
            spread = spread + w * (covariance[i] + outer)
        means.append(middle)
        spreads.append(spread)
        chances.append(total)
    return np.stack(means), np.stack(spreads), np.stack(chances)
