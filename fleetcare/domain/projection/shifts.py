"""Whether a quantity moved over a pack's history and whether it has been steady since: a pack that is flat today may have declined."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.domain.projection.visits import Floats

LEAST_RISE = 0.10
"""A resistance that rose by less than this part of what it was is not called a rise (proposal)."""
LEAST_FALL_V_PER_GROUP = 0.01
"""Volts per group that count as a fall: twice the spread of readings at one state of charge (proposal)."""
SCATTERS = 3.0
"""A move is clear from this many times the scatter from one reading to the next (three sigma, common practice)."""
LEAST_EACH_SIDE = 5
STEP_PART = 0.4
"""A jump between two neighbouring readings that makes up this part of the move is named as a step (proposal)."""
STEADY_PART = 0.25
"""Readings after a move that went on by this part of it are not called steady (proposal)."""
_EDGE = 0.2


@dataclass(frozen=True, slots=True)
class Shift:
    """A quantity went from `before` to `after` between two days; `steady` says that it has clearly stayed there."""

    before: float
    after: float
    began_on: dt.date
    ended_on: dt.date
    steady: bool
    step: float | None = None
    step_on: dt.date | None = None
    """The sharpest part of the move, and the first reading after it, where it stands out."""

    @property
    def change(self) -> float:
        """How far it went, with its sign."""
        return self.after - self.before


def shift(readings: Sequence[tuple[dt.datetime, float]], *, rises: bool, least: float) -> Shift | None:
    """The clear move to the worse side over `readings` (corrected values), or None.

    `least` is the smallest move that counts, in the unit of the values.  The first and the last fifth of the readings
    (at least five) are compared by their medians; the move lasts from the last day on which the running median of
    five stood near the first level to the day from which it stays near the last one.
    """
    ordered = sorted(readings)
    side = max(LEAST_EACH_SIDE, len(ordered) // 5)
    if len(ordered) < 2 * side:
        return None
    values = np.array([value for _, value in ordered])
    before, after = float(np.median(values[:side])), float(np.median(values[-side:]))
    worse = (after - before) * (1 if rises else -1)
    scatter = 1.4826 * float(np.median(np.abs(np.diff(values)))) / np.sqrt(2)
    if worse < max(least, SCATTERS * scatter):
        return None
    padded = np.concatenate((np.repeat(values[:1], 2), values, np.repeat(values[-1:], 2)))
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    part = (smooth - before) / (after - before)
    near_first = np.flatnonzero(part <= _EDGE)
    not_near_last = np.flatnonzero(part < 1 - _EDGE)
    began = int(near_first[-1]) if len(near_first) else 0
    steady = min(int(not_near_last[-1]) + 1 if len(not_near_last) else 0, len(ordered) - 1)
    stays = len(ordered) - steady >= LEAST_EACH_SIDE and _drift(values[steady:]) / (after - before) < STEADY_PART
    first, last = ordered[began][0].date(), ordered[max(steady, began)][0].date()
    sharpest = _sharpest(values, 1 if rises else -1)
    step = _jump(values, sharpest)
    if step / (after - before) < STEP_PART or abs(step) < SCATTERS * scatter:
        return Shift(before, after, first, last, stays)
    return Shift(before, after, first, last, stays, step, ordered[sharpest][0].date())


def _drift(values: Floats) -> float:
    """How far the values went from their first third to their last, by the medians of both."""
    third = max(len(values) // 3, 2)
    return float(np.median(values[-third:]) - np.median(values[:third]))


def _jump(values: Floats, at: int) -> float:
    """The median of the five values from `at` on, less that of the five before."""
    return float(np.median(values[at : at + LEAST_EACH_SIDE]) - np.median(values[at - LEAST_EACH_SIDE : at]))


def _sharpest(values: Floats, sign: int) -> int:
    """The first reading after the sharpest move: where five differ most from the five before, at its largest gap."""
    places = range(LEAST_EACH_SIDE, len(values) - LEAST_EACH_SIDE + 1)
    near = max(places, key=lambda at: sign * _jump(values, at))
    around = [at for at in places if abs(at - near) < LEAST_EACH_SIDE]
    return max(around, key=lambda at: sign * float(values[at] - values[at - 1]))
