"""Whether a quantity moved over a pack's history and whether it has been steady since: a pack that is flat today may have declined."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetcare.domain.projection.visits import Floats

LEAST_RISE = 0.10
"""A resistance that rose by less than this part of what it was is not called a rise (proposal)."""
LEAST_FALL_V_PER_GROUP = 0.01
"""Volts per group that count as a fall: twice the spread of readings at one state of charge (proposal)."""
SCATTERS = 3.0
"""A move is clear from this many times the scatter from one reading to the next (three sigma, common practice)."""
LEAST_EACH_SIDE = 5
MEDIAN_PART = 0.1
"""When a move began and ended is read from a running median that scatters by less than this part of it (proposal)."""
STEP_PART = 0.4
"""A jump between two neighbouring readings that makes up this part of the move is named as a step (proposal)."""
STEADY_PART = 0.25
"""Readings after a move that went on by this part of it are not called steady (proposal)."""
_EDGE = 0.2
NEWEST = 10
"""Not more than so many newest readings say where it stands now: of a long history a fifth lasts for months (proposal)."""
STAYED_PART = 0.5
"""A step of which less than this part is left in the running median at any time since did not stay (proposal)."""


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
    """The sharpest part of the move and the first reading after it, where one stands out that lies within the move, is
    no larger than it, and stayed."""

    @property
    def change(self) -> float:
        """How far it went, with its sign."""
        return self.after - self.before


def shift(readings: Sequence[tuple[dt.datetime, float]], *, rises: bool, least: float) -> Shift | None:
    """The clear move to the worse side over `readings` (corrected values), or None.

    `least` is the smallest move that counts, in the unit of the values.  The first and the last fifth of the readings
    (at least five, and of the last not more than ten) are compared by their medians, or the newest five where they left those; the move lasts from the last day on which the running median (of
    five, or of more where readings scatter) stood near the first level to the day from which it stays near the last one.
    """
    ordered = sorted(readings)
    side = max(LEAST_EACH_SIDE, len(ordered) // 5)
    if len(ordered) < 2 * side:
        return None
    values = np.array([value for _, value in ordered])
    before, after = float(np.median(values[:side])), float(np.median(values[-min(side, NEWEST) :]))
    scatter = 1.4826 * float(np.median(np.abs(np.diff(values)))) / np.sqrt(2)
    clear = max(least, SCATTERS * scatter)
    newest = float(np.median(values[-LEAST_EACH_SIDE:]))
    if abs(newest - after) > clear:
        after = newest
    worse = (after - before) * (1 if rises else -1)
    if worse < clear:
        return None
    smooth = _running_median(values, _window(scatter / abs(after - before), side))
    part = (smooth - before) / (after - before)
    near_first = np.flatnonzero(part <= _EDGE)
    not_near_last = np.flatnonzero(part < 1 - _EDGE)
    began = int(near_first[-1]) if len(near_first) else 0
    steady = min(int(not_near_last[-1]) + 1 if len(not_near_last) else 0, len(ordered) - 1)
    stays = len(ordered) - steady >= LEAST_EACH_SIDE and _drift(values[steady:]) / (after - before) < STEADY_PART
    first, last = ordered[began][0].date(), ordered[max(steady, began)][0].date()
    within = Shift(before, after, first, last, stays)
    sharpest = _sharpest(values, 1 if rises else -1, range(began + 1, max(steady, began) + 1))
    if sharpest is None:
        return within
    step = _jump(values, sharpest)
    if step / within.change < STEP_PART or abs(step) < SCATTERS * scatter:
        return within
    if step / within.change > 1:  # by scatter alone: the step is the whole
        if abs(step) - abs(within.change) > SCATTERS * scatter:
            return within
        step = within.change
    if not _stayed(values, smooth, sharpest, step):
        return within
    return replace(within, step=step, step_on=ordered[sharpest][0].date())


def _window(scatter: float, most: int) -> int:
    """How many readings the running median takes, an odd number from five up to `most`: so many that it scatters by less than a
    tenth of the move, where one reading scatters by `scatter` of it (a median of n by 1.25 over the root of n)."""
    needed = int(np.ceil((1.25 * scatter / MEDIAN_PART) ** 2))
    return int(np.clip(needed, LEAST_EACH_SIDE, max(most, LEAST_EACH_SIDE))) // 2 * 2 + 1


def _running_median(values: Floats, window: int) -> Floats:
    """The median of so many values around each one; towards the ends of those that are there."""
    half = window // 2
    return np.array([np.median(values[max(at - half, 0) : at + half + 1]) for at in range(len(values))])


def _stayed(values: Floats, smooth: Floats, at: int, step: float) -> bool:
    """Whether the running median, from the third reading after the step on, has kept its part of it until now."""
    stood = float(np.median(values[at - LEAST_EACH_SIDE : at]))
    return bool(np.min((smooth[at + 2 :] - stood) / step) >= STAYED_PART)


def _drift(values: Floats) -> float:
    """How far the values went from their first third to their last, by the medians of both."""
    third = max(len(values) // 3, 2)
    return float(np.median(values[-third:]) - np.median(values[:third]))


def _jump(values: Floats, at: int) -> float:
    """The median of the five values from `at` on, less that of the five before."""
    return float(np.median(values[at : at + LEAST_EACH_SIDE]) - np.median(values[at - LEAST_EACH_SIDE : at]))


def _sharpest(values: Floats, sign: int, within: range) -> int | None:
    """The first reading after the sharpest move `within` these places: where five differ most from the five before, at
    its largest gap; None where no place has five readings on either side."""
    places = [at for at in within if LEAST_EACH_SIDE <= at <= len(values) - LEAST_EACH_SIDE]
    if not places:
        return None
    near = max(places, key=lambda at: sign * _jump(values, at))
    around = [at for at in places if abs(at - near) < LEAST_EACH_SIDE]
    return max(around, key=lambda at: sign * float(values[at] - values[at - 1]))
