"""A steady slide that the filters do not keep up with: the newest readings of a pack lead there, and not its model.

How fast packs slide is learnt from their model; where all others keep still, one that falls by a volt in two months is
many times faster than anything expected, and its readings are taken for outliers or steps one after the other.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetcare.domain.projection.ageing import AgeingCurve
from fleetcare.domain.projection.tracking import SLIDING, Grid, State, Track, curve_at
from fleetcare.domain.projection.visits import Flags, Floats, Whole

RUN, LEAST_RUN, RUN_DAYS = 8, 6, 120.0
"""The newest readings that are looked at: so many at most and at least, and none older than this before the newest."""
STEADY, FAR = 8.0, 8.0
"""A slope is steady at this many of its standard errors, and far where the run moved by so many times the scatter."""
KEPT_UP = 0.5
"""The filters keep up with a slide of which they see this share."""


def led_by_newest(
    state: State,
    grid: Grid,
    model: Whole,
    curves: Sequence[AgeingCurve],
    first_day: Floats,
    track: Track,
    worse: Floats,
) -> tuple[State, Flags]:
    """`state` with the packs in a steady slide for the worse that it missed put onto the line of their newest readings,
    and which entries of `grid` lead them.

    `worse` is the sign of getting worse, per pack (column of `grid`).
    """
    leads = np.zeros(grid.day.shape, dtype=bool)
    rows = np.isfinite(grid.day).sum(0)
    packs = np.flatnonzero(rows >= LEAST_RUN)
    if not len(packs):
        return state, leads
    at = rows[packs] - 1 - np.arange(RUN)[:, None]
    day, value, share = (
        np.where(at >= 0, table[np.maximum(at, 0), packs], np.nan) for table in (grid.day, grid.value, grid.share)
    )
    single = np.isfinite(day) & (share == 1.0) & (day >= day[0] - RUN_DAYS)
    count = single.sum(0)
    since = np.where(single, day - day[0], 0.0)
    height = np.where(single, value, 0.0)
    n = np.maximum(count, 3)
    middle, mean = since.sum(0) / n, height.sum(0) / n
    x, y = np.where(single, since - middle, 0.0), np.where(single, height - mean, 0.0)
    square = np.maximum((x * x).sum(0), 1e-9)
    slope = (x * y).sum(0) / square
    own = np.sqrt(((y - slope * x) ** 2).sum(0) / (n - 2))
    usual = track.scatter[model[packs]]
    scatter = np.maximum(own, 0.5 * usual)
    moved = worse[packs] * slope * -since.min(0)
    seen = np.array((state.chance * state.mean[:, 1]).sum(0)[packs])
    ages = day[0] - first_day[packs]
    then = curve_at(curves, model[packs], ages)
    shared = then - curve_at(curves, model[packs], ages - 1.0)
    slides = (
        (count >= LEAST_RUN)
        & (worse[packs] * slope * np.sqrt(square) > STEADY * scatter)
        & (moved > FAR * np.maximum(own, usual))
        & (worse[packs] * (seen + shared) < KEPT_UP * worse[packs] * slope)
    )
    if not slides.any():
        return state, leads
    some = packs[slides]
    means, covariance, chance = state.mean.copy(), state.covariance.copy(), state.chance.copy()
    error = scatter[slides] ** 2
    means[SLIDING, :, some] = np.stack(
        [(mean - slope * middle - then)[slides], (slope - shared)[slides], np.zeros(len(some))], 1
    )
    covariance[SLIDING, :, some] = 0.0
    covariance[SLIDING, 0, some] = error * (1 / count + middle**2 / square)[slides]
    covariance[SLIDING, 1, some] = error * (-middle / square)[slides]
    covariance[SLIDING, 3, some] = error / square[slides]
    chance[:, some] = 0.0
    chance[SLIDING, some] = 1.0
    leads[at[:, slides][single[:, slides]], np.broadcast_to(some, single[:, slides].shape)[single[:, slides]]] = True
    return State(means, covariance, chance, state.day), leads
