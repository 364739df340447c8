"""Following each pack through its readings: a Kalman filter in three states of mind, for all packs at once.

State: level, own slope, own pace along the shared curve (or, where a level strays and falls back, how far it has).  A pack is *calm* (follows the curve at its pace), *sliding*
(a slope of its own that keeps changing: a knee, a growing imbalance) or *stepping* (one jump: a connector, a lost
cell); the three filters run side by side and are mixed at each visit (interacting multiple models, Blom and
Bar-Shalom 1988, from memory).  A reading that fits badly counts for less, by Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from fleetcare.domain.projection.ageing import AgeingCurve
from fleetcare.domain.projection.visits import Flags, Floats, Whole, run_medians

MODES = 3
CALM, SLIDING, STEPPING = range(MODES)
FREEDOM = 5.0
ROWS = (slice(0, 3), slice(3, 5), slice(5, 6))
"""The entries of a covariance as they are kept, 00 01 02 11 12 22, by row from the diagonal on."""
TO_PACE = np.array([2, 4, 5])
"""Those that tell of the pace, in the order of the state."""
TINY = 1e-12
"""Rounding must not make a variance negative."""
LEAST_CHANCE, ALIVE = 1e-300, 1e-12
"""A mode is divided by no less than the first, and may come back from no less than the second."""
START = (0.92, 0.06, 0.02)
RECENT_DAYS, OLD_DAYS = 182.0, 728.0
SLOT_DAYS, OLD_SLOT_DAYS = 28.0, 84.0
"""Readings older than half a year are put together by four weeks, those older than two years by twelve."""


@dataclass(frozen=True)
class Track:
    """How a series moves, per model (last axis): scatter of a reading, slope and level walks per mode (variance per
    day³ and per day), spread of pace, of the first slope and level, rates of change between modes per day, damping
    time of a slope per mode in days, mean and spread of the slope that a beginning slide adds (per day), and slides
    that begin after the newest reading (a year).  A level may stray by `strays` (standard deviation; 0: it does not)
    from where it falls back to within `return_days`."""

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
    onset_slope: Floats
    onset_spread: Floats
    begins_unseen: Floats
    strays: Floats
    return_days: Floats

    def keeps_off(self, gap: Floats, model: Whole) -> Floats:
        """The share of how far a level has strayed that is left `gap` days later."""
        return np.asarray(np.exp(-gap / self.return_days[model]))


def joined(*tracks: Track) -> Track:
    """One track for the models of all `tracks`, in order."""
    return Track(*(np.concatenate([getattr(one, f.name) for one in tracks], axis=-1) for f in fields(Track)))


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

    def over_days(self) -> State:
        """The same with an axis for days before that of the packs."""
        return State(*(part[..., None, :] for part in (self.mean, self.covariance, self.chance, self.day)))


def grid_of(
    pack: Whole, day: Floats, value: Floats, use: Flags, extra: Floats, packs: int, *, today: float | None = None
) -> Grid:
    """Readings in use (sorted by pack and day) laid out by pack.

    With `today`, those older than half a year are put together by four weeks and those older than two years by
    twelve, which loses little that a slow decline needs and makes long histories four times faster.
    """
    pack, day, value, extra = pack[use], day[use], value[use], extra[use]
    count = np.bincount(pack, minlength=packs)
    share, group = np.ones(len(pack)), np.arange(len(pack))
    if today is not None and len(pack):
        pack, day, value, extra, share, group = _by_weeks(pack, day, value, extra, today)
    rows = np.bincount(pack, minlength=packs)
    longest = max(int(rows.max()), 1) if packs else 1
    row = np.arange(len(pack)) - np.concatenate(([0], np.cumsum(rows)[:-1]))[pack]
    tables = [np.full((longest, packs), fill) for fill in (np.nan, np.nan, 0.0, 1.0)]
    for table, column in zip(tables, (day, value, extra, share), strict=True):
        table[row, pack] = column
    return Grid(*tables, count, group)


def _by_weeks(
    pack: Whole, day: Floats, value: Floats, extra: Floats, today: float
) -> tuple[Whole, Floats, Floats, Floats, Floats, Whole]:
    age = today - day
    wide = np.where(age > OLD_DAYS, OLD_SLOT_DAYS, SLOT_DAYS)
    slot = np.ceil(age / wide) * wide
    new = age <= RECENT_DAYS
    new[0] = True
    new[1:] |= (pack[1:] != pack[:-1]) | (slot[1:] != slot[:-1])
    group = np.cumsum(new) - 1
    start = np.flatnonzero(new)
    groups = len(start)
    size = np.diff(start, append=len(pack))
    share = np.where(size > 2, np.pi / 2 / size, 1.0 / size)  # variance of a median of many, of a mean of two
    middle = np.bincount(group, value, groups) / size
    many = np.flatnonzero(size > 2)
    middle[many] = run_medians(value, start[many], size[many])
    return (
        pack[new],
        np.bincount(group, day, groups) / size,
        middle,
        np.bincount(group, extra, groups) / size,
        share,
        group,
    )


def curve_at(curves: Sequence[AgeingCurve], model: Whole, age: Floats) -> Floats:
    """The shared curve of each pack's model at `age` (…, pack); 0 where age is NaN.  `model` is (pack) or (1, pack)."""
    out = np.zeros(np.shape(age))
    for one, curve in enumerate(curves):
        own = (model == one).reshape(-1)
        if own.any() and curve.moves:
            out[..., own] = curve(age[..., own])
    return np.where(np.isfinite(out), out, 0.0)


def follow(
    grid: Grid, model: Whole, curves: Sequence[AgeingCurve], first_day: Floats, track: Track, *, distances: bool = True
) -> tuple[State, Floats, Floats]:
    """Run the filter; returns the state after each pack's newest reading, the log likelihood of each pack and, per
    reading, its distance from what was expected in standard deviations (NaN: none, or not asked for)."""
    longest, packs = grid.day.shape
    scatter2 = track.scatter[model] ** 2
    shared = curve_at(curves, model, grid.day - first_day)
    opening = np.where(np.isfinite(grid.value[:5]), grid.value[:5] - shared[:5], np.nan)
    mean = np.zeros((MODES, 3, packs))
    covariance = np.zeros((MODES, 6, packs))
    mean[:, 0] = _column_median(opening)
    covariance[:, 0] = track.first_level[model] ** 2
    covariance[:, 3] = track.first_slope[model] ** 2
    strays = track.strays[model]
    some_stray = bool(strays.any())
    covariance[:, 5] = np.where(strays > 0, strays, track.pace[model]) ** 2
    chance = np.repeat(np.array(START)[:, None], packs, axis=1)
    rates = np.stack([r[model] for r in (track.to_sliding, track.to_stepping, track.from_sliding, track.from_stepping)])
    slope_walk, level_walk, damping = (
        track.slope_walk[:, model],
        track.level_walk[:, model],
        track.damping_days[:, model],
    )
    onset = np.stack([track.onset_slope[model], track.onset_slope[model] ** 2 + track.onset_spread[model] ** 2])
    seen = np.isfinite(grid.day)
    previous = np.maximum.accumulate(np.where(seen, grid.day, -np.inf), axis=0)
    gaps = np.zeros_like(grid.day)
    with np.errstate(invalid="ignore"):
        gaps[1:] = np.where(seen[1:], np.nan_to_num(grid.day[1:] - previous[:-1], posinf=0.0), 0.0)
    scatter = (scatter2 + grid.extra**2) * grid.share
    likelihood = np.zeros(packs)
    distance = np.full((longest, packs), np.nan)
    for i in range(longest):
        here, gap, h, reading = seen[i], gaps[i], shared[i], scatter[i]
        if i:
            mean, covariance, before = _mix(mean, covariance, chance, -np.expm1(-gap * rates), onset)
            _go_on(mean, covariance, gap, slope_walk, level_walk, damping)
            if some_stray:
                fall_back(mean, covariance, np.where(strays > 0, track.keeps_off(gap, model), 1.0), strays)
        else:
            before = chance
        third = np.where(strays > 0, 1.0, h) if some_stray else h
        off = np.where(here, grid.value[i] - h - mean[:, 0] - third * mean[:, 2], 0.0)
        towards = third * covariance[:, TO_PACE]
        towards += covariance[:, :3]
        state_variance = np.maximum(towards[:, 0] + third * towards[:, 2], TINY)
        total = state_variance + reading
        square = off * off / total
        robust = state_variance + reading * np.maximum(1.0, (FREEDOM + square) / (FREEDOM + 1))
        np.divide(here, robust, out=robust)
        gain = towards * robust[:, None]
        mean += gain * off[:, None]
        for row, entries in enumerate(ROWS):
            covariance[:, entries] -= gain[:, row, None] * towards[:, row:]
        root = np.sqrt(total)
        heavy = 1.0 + square / FREEDOM
        share = before / (root * (heavy * heavy * heavy))  # Student's t: to the power of (FREEDOM + 1) / 2
        sum_of = share.sum(0)
        chance = np.where(here, share / sum_of, chance)
        if i >= 3:
            likelihood += np.where(here, np.log(sum_of), 0.0)
        if distances:
            distance[i] = np.where(here, (chance * off / root).sum(0), np.nan)
    return State(mean, covariance, chance, np.where(seen.any(0), previous[-1], 0.0)), likelihood, distance


def _go_on(
    mean: Floats, covariance: Floats, gap: Floats, slope_walk: Floats, level_walk: Floats, damping_days: Floats
) -> None:
    """Bring mean and covariance to `gap` days later without a reading, in place."""
    keep = np.exp(-gap / damping_days)
    reach = damping_days * (1 - keep)
    level, cross, to_pace, slope, slope_to_pace = (covariance[:, j] for j in range(5))
    far = reach * slope
    far += cross
    walk = slope_walk * gap
    mean[:, 0] += reach * mean[:, 1]
    mean[:, 1] *= keep
    cross += far
    cross *= reach
    level += cross
    more = walk * gap
    more /= 3
    more += level_walk
    more *= gap
    level += more
    np.multiply(keep, far, out=cross)
    cross += walk * gap / 2
    to_pace += reach * slope_to_pace
    slope_to_pace *= keep
    keep *= keep
    slope *= keep
    slope += walk


def fall_back(mean: Floats, covariance: Floats, kept: Floats, strays: Floats) -> None:
    """Let the third state fall back to the share `kept` and stray anew, in place: it stays as wide as `strays`."""
    mean[:, 2] *= kept
    covariance[:, 2] *= kept
    covariance[:, 4] *= kept
    covariance[:, 5] *= kept * kept
    covariance[:, 5] += strays**2 * (1 - kept * kept)


def _column_median(table: Floats) -> Floats:
    has = np.isfinite(table).any(0)
    out = np.zeros(table.shape[1])
    if has.any():
        out[has] = np.nanmedian(table[:, has], axis=0)
    return out


def _mix(
    mean: Floats, covariance: Floats, chance: Floats, change: Floats, onset: Floats
) -> tuple[Floats, Floats, Floats]:
    """The modes' states after changes of mode, and the modes' chances before the next reading.

    `change` holds the chances of calm to sliding, calm to stepping, sliding to calm and stepping to calm; `onset` the
    mean and the mean square of the slope that is added where calm turns to sliding.
    """
    slide, step, settle, done = change
    calm, sliding, stepping = chance
    still_sliding, still_stepping = sliding * (1 - settle), stepping * (1 - done)
    total = np.empty_like(chance)
    total[CALM] = calm * (1 - slide - step) + sliding * settle + stepping * done
    total[SLIDING] = calm * slide + still_sliding
    total[STEPPING] = calm * step + still_stepping
    np.maximum(total, LEAST_CHANCE, out=total)
    settles, ends = sliding * settle / total[CALM], stepping * done / total[CALM]
    slides, steps = still_sliding / total[SLIDING], still_stepping / total[STEPPING]
    # first and second moments about the calm mean, of the sliding and the stepping less those of the calm
    off = mean[SLIDING:] - mean[CALM]
    more = covariance[SLIDING:] - covariance[CALM]
    for row, entries in enumerate(ROWS):
        more[:, entries] += off[:, row, None] * off[:, row:]
    middle, mixed = np.empty_like(mean), np.empty_like(covariance)
    for moment, one in ((middle, off), (mixed, more)):
        np.multiply(settles, one[0], out=moment[CALM])
        moment[CALM] += ends * one[1]
        np.multiply(slides, one[0], out=moment[SLIDING])
        np.multiply(steps, one[1], out=moment[STEPPING])
    begins = calm * slide / total[SLIDING]
    middle[SLIDING, 1] += begins * onset[0]
    mixed[SLIDING, 3] += begins * onset[1]
    mixed += covariance[CALM]
    for row, entries in enumerate(ROWS):
        mixed[:, entries] -= middle[:, row, None] * middle[:, row:]
    middle += mean[CALM]
    return middle, mixed, np.maximum(total, ALIVE)
