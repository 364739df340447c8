"""The ageing curve that packs of one model share, learnt from all of them by age.

Each pack is its own level plus its own pace along the shared curve; older packs show what younger ones have ahead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import theilslopes

from fleetcare.domain.projection.visits import Flags, Floats, Whole, cauchy_weight, group_median, scatter_of

PIECES = 8
AGREEMENT = 4.0
"""A curve is drawn back towards none by this many squared standard errors of the packs' mean slope."""
LEAST_READINGS, LEAST_PACKS, MANY_PACKS = 5, 2, 20
"""A curve is shared, and shape is told from scatter, where so many packs have so many readings each, or many packs have
three (proposal)."""
PRIOR_READINGS = 4.0
"""The scatter expected before the readings counts as much as so many of them."""
ALONE_READINGS = 30
"""A pack alone has a curve of its own from so many readings on."""
END_AGREEMENT = 2.5
"""The end of a curve turns away from the curve's mean slope by half of what was fitted where that is so many variances."""


@dataclass(frozen=True)
class AgeingCurve:
    """Change since age 0 at `knots_days`, straight in between.

    Beyond, it goes on with `end_slope` a day (None: that of the last two pieces), which is known to `end_doubt` a day.
    Where too few packs tell of a shared change there is none: `own_slope` (a day) is then the scale of a pack's own
    change, and NaN elsewhere.
    """

    knots_days: Floats
    change: Floats
    packs: int
    scatter: float
    pace_spread: float
    end_slope: float | None = None
    end_doubt: float = 0.0
    own_slope: float = math.nan
    is_settled: bool = False

    def __call__(self, age_days: Floats) -> Floats:
        """The shared change at each age, in the unit of the series."""
        k, c = self.knots_days, self.change
        slope = (c[-1] - c[-3]) / (k[-1] - k[-3]) if self.end_slope is None else self.end_slope
        return np.asarray(np.interp(age_days, k, c) + np.maximum(age_days - k[-1], 0.0) * slope)

    def settled(self, way: float, days: float) -> AgeingCurve:
        """The curve of a model that moves by `way` within the first `days` (to a third) and keeps still from then on."""
        change = way * -np.expm1(-self.knots_days / days)
        return replace(self, change=change, end_slope=0.0, end_doubt=0.0, is_settled=True)

    def still(self) -> AgeingCurve:
        """The curve of a model that keeps still, resting on the same packs and ages."""
        return replace(self, change=np.zeros_like(self.change), end_slope=0.0, end_doubt=0.0, is_settled=False)

    def sinking(self, slope: float) -> AgeingCurve:
        """The curve of a model that keeps still but for a small steady `slope` (a day)."""
        return replace(self, change=slope * self.knots_days, end_slope=slope, end_doubt=0.0, is_settled=True)

    @property
    def moves(self) -> bool:
        """Whether there is any change at any age."""
        return bool(self.change.any()) or bool(self.end_slope)

    @property
    def per_year(self) -> float:
        """Typical change in a year, over the ages seen; of packs that have settled, from here on."""
        if self.is_settled:
            return 365.0 * (self.end_slope or 0.0)
        return float(self.change[-1] / self.knots_days[-1] * 365.0)

    @property
    def is_shared(self) -> bool:
        """Whether packs share a change, or each is left to its own readings."""
        return math.isnan(self.own_slope)

    @property
    def sharing(self) -> int:
        """Packs whose change is told by the others as well; each is alone where nothing is shared."""
        return self.packs if self.is_shared else min(self.packs, 1)

    @property
    def reach_days(self) -> float:
        """Oldest age that the curve rests on."""
        return float(self.knots_days[-1])


def no_curve(scatter: float = 0.05) -> AgeingCurve:
    """The curve of a model without readings."""
    return AgeingCurve(np.linspace(0.0, 365.0, PIECES + 1), np.zeros(PIECES + 1), 0, scatter, 0.0)


def learn_curve(
    pack: Whole, age: Floats, value: Floats, use: Flags, bend: float, worse: float = 0.0, usual: float = 1e-3
) -> AgeingCurve:
    """Fit `value` = level of the pack + slope of the pack × age + shared curve(age), robustly.

    `bend` is the standard deviation that a change of slope between pieces is given before the data, `worse` the sign
    of getting worse (0: either), `usual` the scatter that a reading is expected to have.  Packs read once have no part.
    """
    if use.any():
        use = use & (np.bincount(pack[use], minlength=int(pack.max()) + 1)[pack] > 1)
    if use.sum() < LEAST_READINGS:
        return no_curve()
    times = np.bincount(pack[use])
    few = (times >= LEAST_READINGS).sum() < LEAST_PACKS and (times > 2).sum() < MANY_PACKS
    if few and times.max() < ALONE_READINGS:
        return _without_sharing(pack[use], age[use], value[use], usual)
    age, value = age[use], value[use]
    names, pack = np.unique(pack[use], return_inverse=True)
    n = len(names)
    oldest = max(float(np.quantile(age, 0.995)), 1.0)
    knots = np.linspace(0.0, oldest, PIECES + 1)
    place = np.clip(age / oldest * PIECES, 0.0, PIECES - 1e-9)
    left = place.astype(int)
    hats = np.zeros((len(value), PIECES + 1))
    rows = np.arange(len(value))
    hats[rows, left], hats[rows, left + 1] = 1 - (place - left), place - left
    touching = [np.flatnonzero(column) for column in hats.T]
    touched = [(pack[at], hats[at, k]) for k, at in enumerate(touching)]

    def by_knot(one: Floats) -> Floats:
        """Sums of `one` × hat, by pack and knot: a reading has a part in two knots at most."""
        sums = (np.bincount(own, one[at] * hat, n) for at, (own, hat) in zip(touching, touched, strict=True))
        return np.stack(list(sums), 1)

    along = age / oldest
    bends = np.diff(np.eye(PIECES + 1), 2, axis=0)
    first = np.zeros(PIECES + 1)
    first[0] = 1.0
    times = np.bincount(pack)
    tells = times[pack] > 2
    free = float(np.maximum(times - 2, 0).sum())
    spread = scatter_of(value - group_median(pack, value, n)[pack])
    scatter = spread = max(spread, usual)
    weight = np.ones(len(value))
    change, own = np.zeros(PIECES + 1), np.zeros((n, 2))
    for _ in range(6):
        blocks = np.zeros((n, 2, 2))
        blocks[:, 0, 0] = np.bincount(pack, weight, n) + 1e-6
        blocks[:, 0, 1] = blocks[:, 1, 0] = np.bincount(pack, weight * along, n)
        blocks[:, 1, 1] = np.bincount(pack, weight * along**2, n) + (scatter / max(spread, 1e-6)) ** 2
        inverse = np.linalg.inv(blocks)
        cross = np.stack([by_knot(weight), by_knot(weight * along)], 1)
        right = np.stack([np.bincount(pack, weight * value, n), np.bincount(pack, weight * along * value, n)], 1)
        weighted = hats * weight[:, None]
        matrix = weighted.T @ hats - np.einsum("nak,nab,nbl->kl", cross, inverse, cross)
        vector = weighted.T @ value - np.einsum("nak,nab,nb->k", cross, inverse, right)
        size = float(np.trace(matrix))
        held = np.outer(first, first) * 1e6 * (1 + size) + 1e-9 * size * np.eye(PIECES + 1)
        change = np.linalg.solve(matrix + (scatter / (bend * 0.5)) ** 2 * bends.T @ bends + held, vector)
        own = np.einsum("nab,nb->na", inverse, right - np.einsum("nak,k->na", cross, change))
        residual = value - hats @ change - own[pack, 0] - own[pack, 1] * along
        scatter = _believed(scatter_of(residual[tells]), free, usual)
        weight = cauchy_weight(residual, scatter)
        if n > 3:
            spread = max(scatter_of(own[:, 1] - np.median(own[:, 1])), 0.1 * abs(change[-1]), 1e-4)
        else:
            spread = max(abs(float(change[-1])), bend * 0.3)
    middle = np.median(own[:, 1]) if n > 3 else own[:, 1].mean()
    change = change + float(middle) * knots / oldest
    change -= change[0]
    top = float(np.max(np.abs(change)))
    kept = top**2 / (top**2 + AGREEMENT * spread**2 / n + 1e-12)
    change = change * kept
    # what each pack pulls the curve by, its own level and slope apart: packs are independent, their readings are not
    pulls = by_knot(weight * residual)
    apart = np.stack([np.bincount(pack, weight * residual, n), np.bincount(pack, weight * residual * along, n)], 1)
    pulls -= np.einsum("nab,nb,nak->nk", inverse, apart, cross)
    lever = np.linalg.solve(matrix + (scatter / (bend * 0.5)) ** 2 * bends.T @ bends + held, _end_turn())
    turn_variance = float(((pulls @ lever) ** 2).sum()) * n / max(n - 1, 1)
    turn_variance += scatter**2 * max(float(lever @ matrix @ lever), 0.0)
    slope, doubt = _end_slope(change / oldest, kept / oldest * float(np.sqrt(turn_variance)), worse)
    return AgeingCurve(knots, change, n, scatter, spread / oldest, slope, doubt)


def _without_sharing(pack: Whole, age: Floats, value: Floats, usual: float) -> AgeingCurve:
    """No shared change: scatter, and the scale of a pack's own change, from the pack that was read most."""
    most = pack == int(np.bincount(pack).argmax())
    x, y = age[most], value[most]
    slope = 0.0
    if x[-1] > x[0]:
        slope, level = theilslopes(y, x)[:2]
        y = y - slope * x - level
    scatter = _believed(scatter_of(y - np.median(y)), float(len(y) - 2), usual)
    knots = np.linspace(0.0, max(float(age.max()), 1.0), PIECES + 1)
    return AgeingCurve(knots, np.zeros(PIECES + 1), len(np.unique(pack)), scatter, 0.0, 0.0, 0.0, abs(float(slope)))


def _believed(scatter: float, free: float, usual: float) -> float:
    """The scatter that was found in readings with `free` degrees of freedom, drawn towards the usual one where few."""
    return math.sqrt((free * scatter**2 + PRIOR_READINGS * usual**2) / (free + PRIOR_READINGS))


def _end_turn() -> Floats:
    """Weights of the knots that give the slope of the last two pieces less the mean slope."""
    weights = np.zeros(PIECES + 1)
    weights[[-1, -3]] = PIECES / 2 - 1, -PIECES / 2
    return weights


def _end_slope(change: Floats, doubt: float, worse: float) -> tuple[float, float]:
    """How a curve goes on beyond its last knot, and how well that is known: the mean slope, and the turn at the end
    as far as the packs agree on it; never for the better, where `worse` says which way is worse."""
    turn = float(_end_turn() @ change)
    if turn:
        turn /= 1 + (END_AGREEMENT * doubt**2 / turn**2) ** 2
    slope = float(change[-1]) + turn
    return (0.0 if worse * slope < 0 else slope), doubt
