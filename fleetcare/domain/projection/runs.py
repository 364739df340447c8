"""Readings next to each other that stand apart from the others: the newest, or an episode that went back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.domain.projection.visits import Flags, Floats

AROUND = 10
"""Readings on one side that a run is compared with."""
LEAST_AROUND = 5
LEAST_BACK = 3
"""So many readings after an episode say that it went back: three agree with each other (proposal)."""
LONGEST_RUN = 12
"""A longer run is a level of its own, which a comparison of the whole history sees (proposal)."""
SCATTERS_OFF = 4.0
"""Every reading of a run stands off the others by more than this many times the scatter from one reading to the next
(proposal): one in sixteen thousand does by chance, where the scatter is that of a bell curve."""
GAP_PART = 0.25
"""A run is set off from every reading beside it by this part of its distance at least (proposal); a slow change is none."""
DRIFT_PART = 0.4
"""A run whose last third stands this part of its distance from its first goes on: no level, but a decline (proposal)."""
FEW = 2
"""So few newest readings are to be measured again before anybody believes them; three agree with each other (proposal)."""


@dataclass(frozen=True, slots=True)
class Run:
    """Readings `first` to `last` of those in time (places from 0, both included): medians `before` them and of them.

    `first_on` is the day of the first; `ended_on` that of the last, or None where no reading came after it.
    """

    first: int
    last: int
    before: float
    level: float
    first_on: dt.date
    ended_on: dt.date | None = None
    drift: float = 0.0
    """How far the last third of it stands from its first, by the medians of both, with its sign; or of the ten before it, where
    that is more: readings that slide all along are no step."""

    @property
    def count(self) -> int:
        """How many readings it has."""
        return self.last - self.first + 1

    @property
    def goes_on(self) -> bool:
        """True where it still moves away, by two fifths of its distance or more: a steady slide goes on by about three fifths."""
        return self.drift / self.change >= DRIFT_PART

    @property
    def change(self) -> float:
        """How far it stands from what was before, with its sign."""
        return self.level - self.before


def newest_run(
    readings: Sequence[tuple[dt.datetime, float]], *, rises: bool, least: float, fits: Sequence[bool] | None = None
) -> Run | None:
    """The newest readings, in time, that stand clearly to the worse side of the ten before them; None where none do.

    `least` is the smallest distance that counts, in the unit of the values: a reading exactly so far does not.  Where
    `fits` is False the reading takes no part in what is compared with, but may belong to the run.
    """
    values, ok = _arrays(readings, fits)
    room = max(least, SCATTERS_OFF * _scatter(values[ok]))
    sign = 1 if rises else -1
    for count in range(min(LONGEST_RUN, len(values)), 0, -1):
        first = len(values) - count
        beside = values[:first][ok[:first]][-AROUND:]
        if len(beside) >= LEAST_AROUND and ok[first - 1] and _apart(values[first:], beside, room, sign):
            level = float(np.median(values[first:]))
            drift = max(_drift(values[first:]), _drift(beside), key=lambda one: sign * one)
            day = readings[first][0].date()
            return Run(first, len(values) - 1, float(np.median(beside)), level, day, drift=drift)
    return None


def episodes(
    readings: Sequence[tuple[dt.datetime, float]], *, least: float, fits: Sequence[bool] | None = None
) -> tuple[Run, ...]:
    """Runs of two readings and more, in time, that stand clearly off, to one side, those before and after them."""
    values, ok = _arrays(readings, fits)
    room = max(least, SCATTERS_OFF * _scatter(values[ok]))
    found: list[Run] = []
    first = LEAST_AROUND
    while first <= len(values) - LEAST_BACK - FEW:
        one = _episode(readings, values, ok, first, room)
        if one is not None:
            found.append(one)
        first = first + 1 if one is None else one.last + 1
    return tuple(found)


def _episode(
    readings: Sequence[tuple[dt.datetime, float]], values: Floats, ok: Flags, first: int, room: float
) -> Run | None:
    """The longest episode that begins at `first`."""
    before = values[:first][ok[:first]][-AROUND:]
    if len(before) < LEAST_AROUND or abs(values[first] - np.median(before)) <= room:
        return None
    sign = 1 if values[first] > np.median(before) else -1
    for count in range(min(LONGEST_RUN, len(values) - first - LEAST_BACK), FEW - 1, -1):
        end = first + count
        run, after = values[first:end], values[end:][ok[end:]][:AROUND]
        if len(after) < LEAST_BACK or not ok[end]:
            continue
        if _apart(run, before, room, sign) and _apart(run, after, room, sign):
            days = readings[first][0].date(), readings[end - 1][0].date()
            return Run(first, end - 1, float(np.median(before)), float(np.median(run)), *days)
    return None


def _drift(values: Floats) -> float:
    """How far the last third stands from the first, by the medians of both."""
    third = max(len(values) // 3, 1)
    return float(np.median(values[-third:]) - np.median(values[:third]))


def _apart(run: Floats, beside: Floats, room: float, sign: int) -> bool:
    """Whether every value of `run` is further than `room` from the middle of `beside`, and set off from all of it."""
    off, others = sign * (run - np.median(beside)), sign * (beside - np.median(beside))
    return bool(off.min() > room and off.min() - others.max() >= GAP_PART * float(np.median(off)))


def _scatter(values: Floats) -> float:
    """The scatter from one reading to the next (standard deviation), whatever steps there are between."""
    return 1.4826 * float(np.median(np.abs(np.diff(values)))) / float(np.sqrt(2)) if len(values) > 1 else 0.0


def _arrays(readings: Sequence[tuple[dt.datetime, float]], fits: Sequence[bool] | None) -> tuple[Floats, Flags]:
    values = np.array([value for _, value in readings], dtype=float)
    return values, np.ones(len(values), dtype=bool) if fits is None else np.array(fits, dtype=bool)
