"""The first projection: a robust straight line through comparable checks, with its doubt.

The slope is the median of all pair slopes and the intercept median(y) - slope median(x) (Theil 1950,
Sen 1968, the convention of SciPy's `theilslopes`).  The scatter about it comes from the median
absolute deviation; the prediction interval is that of a straight line (Student's t, n - 2 degrees
of freedom), widened with the horizon by a drift of the slope.  It uses one segment: readings of the
kind, rest, meter and load of the newest reading.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from fleetcare.domain.projection.answer import (
    FURTHEST_DAYS,
    Horizon,
    LeftOut,
    Projection,
    Reading,
)
from fleetcare.domain.wording import Message, msg

ENGINE = "line-1"
HORIZONS = (28, 91, 182)
LOOK_BACK = 26
"""Newest readings considered: a line over a whole life comes late to every bend (half a year of weeks)."""
FAN_DAYS = tuple(range(0, 366, 14))
_T90_TWO_SIDED = {  # Student's t, 0.90 quantile, by degrees of freedom (any statistics table)
    1: 3.078, 2: 1.886, 3: 1.638, 4: 1.533, 5: 1.476, 6: 1.440, 7: 1.415, 8: 1.397, 9: 1.383, 10: 1.372,
    12: 1.356, 15: 1.341, 20: 1.325, 30: 1.310, 60: 1.296,
}  # fmt: skip
Floats = NDArray[np.float64]


def theil_sen(x: Floats, y: Floats) -> tuple[float, float]:
    """Slope and intercept of the robust line; ValueError with fewer than two different x."""
    i, j = np.triu_indices(len(x), 1)
    dx = x[j] - x[i]
    apart = dx != 0
    if not apart.any():
        raise ValueError("a line needs two different dates")
    slope = float(np.median((y[j] - y[i])[apart] / dx[apart]))
    return slope, float(np.median(y) - slope * np.median(x))


def t90(freedom: int) -> float:
    """The 0.90 quantile of Student's t (80 % two-sided), from the table's next lower row."""
    return _T90_TWO_SIDED[max((row for row in _T90_TWO_SIDED if row <= freedom), default=1)]


class Line:
    """A fitted robust line with the spread of a prediction made from it.

    x in days, y in the unit of the quantity.
    """

    def __init__(self, x: Floats, y: Floats, resolution: float) -> None:
        self.slope, self.intercept = theil_sen(x, y)
        residual = y - self.intercept - self.slope * x
        freedom = len(x) - 2
        robust = 1.4826 * float(np.median(np.abs(residual))) * math.sqrt(len(x) / max(freedom, 1))
        self.scatter = max(robust, resolution)
        self.freedom = freedom
        self._n = len(x)
        self._mean = float(x.mean())
        self._sxx = float(((x - self._mean) ** 2).sum())

    @property
    def slope_error(self) -> float:
        """Standard error of the slope, in units per day."""
        return self.scatter / math.sqrt(self._sxx)

    def at(self, x: float) -> float:
        """The line at `x`."""
        return self.intercept + self.slope * x

    def spread(self, x: float) -> float:
        """Standard deviation of the true value at `x`: the line's error, and a slope that may drift by a
        quarter of itself (or of its error, whichever is more) over a year."""
        line = self.scatter * math.sqrt(1 / self._n + (x - self._mean) ** 2 / self._sxx)
        ahead = max(x - self._mean, 0.0)
        drift = 0.25 * max(abs(self.slope), self.slope_error) * ahead * min(ahead / 365.0, 1.0)
        return math.hypot(line, drift)


def project_line(
    readings: Sequence[Reading],
    *,
    quantity: str,
    limit: float | None,
    rises: bool,
    as_of: dt.date,
    needed: int = 6,
    resolution: float = 0.0,
    horizons: Sequence[int] = HORIZONS,
) -> Projection:
    """Project `quantity` from `readings` (any order) as of `as_of`, which no reading may follow.

    `needed` comparable checks are required.  A limit that is reached counts as beyond.
    `resolution` is the smallest scatter that is believed, in the unit of the quantity.
    """
    known = sorted((r for r in readings if r.done_at.date() <= as_of), key=lambda r: (r.done_at, r.check_id))
    used, left_out = _segment(known[-LOOK_BACK:])
    common = {
        "quantity": quantity, "as_of": as_of, "needed_checks": needed, "engine": ENGINE, "limit": limit,
        "rises": rises, "used": tuple(used), "left_out": tuple(left_out), "comparable_checks": len(used),
    }  # fmt: skip
    x = np.array([(r.done_at.date() - as_of).days for r in used], dtype=float)
    y = np.array([r.value for r in used], dtype=float)
    if len(used) < needed:
        return Projection(sentence=msg("projection.too_few", have=len(used), need=needed), **common)
    if len(set(x.tolist())) < 3:
        return Projection(sentence=msg("projection.too_short"), **common)
    line = Line(x, y, resolution)
    t = t90(line.freedom)
    fan = tuple((d, line.at(d) - t * line.spread(d), line.at(d), line.at(d) + t * line.spread(d)) for d in FAN_DAYS)
    ahead = tuple(_horizon(line, t, d, limit, rises) for d in horizons)
    level, slope30 = line.at(0.0), line.slope * 30
    p10, p50, p90 = _crossing_days(line, t, limit, rises)
    dates = [None if d is None else as_of + dt.timedelta(days=d) for d in (p10, p50, p90)]
    declining = (line.slope if rises else -line.slope) > t * line.slope_error
    already = limit is not None and (level >= limit if rises else level <= limit)
    sentence = _sentence(quantity, level, slope30, limit, declining, already, dates, used)
    return Projection(
        sentence=sentence, projected=True, level=level, slope_per_30d=slope30, horizons=ahead, fan=fan,
        crossing_p10=dates[0], crossing_p50=dates[1], crossing_p90=dates[2], already_beyond=already, **common,
    )  # fmt: skip


def _segment(known: list[Reading]) -> tuple[list[Reading], list[LeftOut]]:
    """The readings comparable with the newest, and the others with the reason."""
    if not known:
        return [], []
    newest = known[-1].likeness
    names = ("kind", "rest", "meter", "load", "load")
    used, left_out = [], []
    for reading in known:
        other = next((n for n, a, b in zip(names, reading.likeness, newest, strict=True) if a != b), None)
        if other is None:
            used.append(reading)
        else:
            left_out.append(LeftOut(reading, msg(f"projection.other_{other}")))
    return used, left_out


def _horizon(line: Line, t: float, days: int, limit: float | None, rises: bool) -> Horizon:
    middle, spread = line.at(days), line.spread(days)
    chance = 0.0
    if limit is not None:
        z = (middle - limit if rises else limit - middle) / max(spread, 1e-12)
        chance = 0.5 * math.erfc(-z / math.sqrt(2))
    return Horizon(days, middle - t * spread, middle, middle + t * spread, chance)


def _crossing_days(line: Line, t: float, limit: float | None, rises: bool) -> tuple[int | None, int | None, int | None]:
    """First days on which the pessimistic edge, the middle and the optimistic edge are beyond the limit."""
    if limit is None:
        return None, None, None
    days = np.arange(0, FURTHEST_DAYS + 1)
    middle = np.array([line.at(float(d)) for d in days])
    reach = t * np.array([line.spread(float(d)) for d in days])
    sign = 1.0 if rises else -1.0
    found: list[int | None] = []
    for edge in (middle + sign * reach, middle, middle - sign * reach):
        beyond = np.nonzero(sign * edge >= sign * limit)[0]
        found.append(int(beyond[0]) if len(beyond) else None)
    return found[0], found[1], found[2]


def _sentence(
    quantity: str,
    level: float,
    slope30: float,
    limit: float | None,
    declining: bool,
    already: bool,
    dates: list[dt.date | None],
    used: list[Reading],
) -> Message:
    unit = "ohm" if quantity == "resistance_ohm" else "v"
    values: dict[str, object] = {
        f"last_{unit}": Decimal(repr(round(used[-1].value, 4))),
        f"level_{unit}": level,
        f"limit_{unit}": limit,
        "count": len(used),
    }
    values[f"change_{unit}"] = slope30
    if already:
        return msg(f"projection.beyond_{unit}", **values)
    if not declining:
        return msg(f"projection.no_decline_{unit}", **values)
    early, _, late = dates
    if early is None:
        return msg(f"projection.not_within_{unit}", **values)
    values["early_date"] = early
    if late is None:
        return msg(f"projection.open_{unit}", **values)
    return msg(f"projection.range_{unit}", late_date=late, **values)
