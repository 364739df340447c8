"""At which age half of a model's packs are pulled: a Weibull law fitted to those pulled and to those still in use.

Packs still in use count for as long as they were followed (censoring on the right).  The law goes on beyond the oldest
pack, which the product-limit estimate of `projection/lasting.py` cannot; it says so where it does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.domain.projection.planning import LEAST_AT_RISK, LEAST_PULLED

LEAST_DAYS = 0.5
"""A pack pulled on the day on which it came counts as half a day old."""
SHAPES = (0.05, 50.0)
LIKELY_80 = 1.6423744
"""80 % point of chi-square with one degree of freedom: twice the loss of log likelihood at the ends of an 80 % range."""
LEAST_BEYOND = 10
"""An age that no pack was followed to is not told from fewer pulls than this (proposal): the first few fit a law that is much
too steep, or too flat, where packs do not follow it."""
FURTHEST = 20.0
"""A range that reaches so many times the oldest age has an open end."""


@dataclass(frozen=True, slots=True)
class Weibull:
    """Shape and scale by maximum likelihood; share still in use at age t: exp(-(t / scale)^shape).  `scale` is in the
    unit of the ages."""

    shape: float
    scale: float
    log_likelihood: float

    @property
    def half(self) -> float:
        """The age at which half are pulled."""
        return float(self.scale * math.log(2.0) ** (1.0 / self.shape))


@dataclass(frozen=True, slots=True)
class HalfLife:
    """When half of a model's packs are pulled, in days: likely, and the ends of an 80 % range (`late` None: open end)."""

    model: str
    likely: float
    early: float
    late: float | None
    packs: int
    pulled: int
    oldest: float

    @property
    def beyond_seen(self) -> bool:
        """True where no pack was followed that long."""
        return self.likely > self.oldest

    @property
    def too_far(self) -> bool:
        """True where it lies beyond what was seen, and too few pulls say how it goes on: then it is not told."""
        return self.beyond_seen and self.pulled < LEAST_BEYOND


class _Lives:
    """Ages in units of the oldest, and the sums that the likelihood is made of."""

    def __init__(self, ages: Sequence[float], pulled: Sequence[bool]) -> None:
        days = np.maximum(np.array(ages, dtype=float), LEAST_DAYS)
        ended = np.array(pulled, dtype=bool)
        self.oldest = float(days.max())
        self.pulls = int(ended.sum())
        self.sum_of_logs = float(np.log(days[ended] / self.oldest).sum())
        same, self.many = np.unique(days, return_counts=True)  # a fleet's packs share their ages in days
        self.logs = np.log(same / self.oldest)

    def powers(self, shape: float) -> float:
        return float((self.many * np.exp(shape * self.logs)).sum())

    def excess(self, shape: float) -> float:
        """What the best shape makes zero; it rises with the shape."""
        power = self.many * np.exp(shape * self.logs)
        return float((power * self.logs).sum() / power.sum()) - 1.0 / shape - self.sum_of_logs / self.pulls

    def log_likelihood(self, shape: float, scale: float) -> float:
        """At `scale` in units of the oldest, of ages in their own unit."""
        fits = self.pulls * (math.log(shape) - shape * math.log(scale)) + (shape - 1) * self.sum_of_logs
        return fits - self.powers(shape) * scale**-shape - self.pulls * math.log(self.oldest)

    def at_half(self, shape: float, half: float) -> float:
        """Log likelihood where half are pulled at `half`, in units of the oldest."""
        return self.log_likelihood(shape, half / math.log(2.0) ** (1.0 / shape))

    def profile(self, half: float) -> float:
        """The greatest log likelihood of any shape where half are pulled at `half`."""
        shape = _highest(lambda log: self.at_half(math.exp(log), half), *(math.log(one) for one in SHAPES))
        return self.at_half(math.exp(shape), half)


def fit_weibull(ages: Sequence[float], pulled: Sequence[bool]) -> Weibull:
    """The likeliest law for `ages`, at which packs were `pulled` or last followed.

    Raises ValueError without a pull: nothing then says when packs wear out.
    """
    if not any(pulled):
        raise ValueError("a Weibull law needs a pull")
    lives = _Lives(ages, pulled)
    shape = _zero(lives.excess, *SHAPES)
    scale = (lives.powers(shape) / lives.pulls) ** (1.0 / shape)
    return Weibull(shape, scale * lives.oldest, lives.log_likelihood(shape, scale))


def half_life(model: str, ages: Sequence[float], pulled: Sequence[bool]) -> HalfLife | None:
    """When half of `model`'s packs are pulled, with its range by the likelihood ratio.

    None with fewer than LEAST_AT_RISK packs or LEAST_PULLED pulls (as for ranking models): too few to say.
    """
    if len(ages) < LEAST_AT_RISK or sum(pulled) < LEAST_PULLED:
        return None
    lives = _Lives(ages, pulled)
    best = fit_weibull(ages, pulled)
    half = best.half / lives.oldest
    enough = best.log_likelihood - LIKELY_80 / 2

    def over(log: float) -> float:
        return lives.profile(math.exp(log)) - enough

    far = math.log(max(FURTHEST, 2 * half))
    near = math.log(half) - 1.0
    while over(near) > 0:
        near -= 1.0
    early = math.exp(_zero(over, near, math.log(half)))
    late = None if over(far) > 0 else math.exp(_zero(lambda log: -over(log), math.log(half), far))
    oldest = lives.oldest
    return HalfLife(
        model, half * oldest, early * oldest, None if late is None else late * oldest, len(ages), lives.pulls, oldest
    )


def _zero(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a function that rises from `low` to `high` crosses zero, by halving; the end where it does not."""
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (low, middle) if rising(middle) > 0 else (middle, high)
    return (low + high) / 2


def _highest(of: Callable[[float], float], low: float, high: float) -> float:
    """Where a function with one top is greatest, by the golden section."""
    ratio = (math.sqrt(5.0) - 1) / 2
    left, right = high - ratio * (high - low), low + ratio * (high - low)
    at_left, at_right = of(left), of(right)
    for _ in range(50):
        if at_left < at_right:
            low, left, at_left = left, right, at_right
            right = low + ratio * (high - low)
            at_right = of(right)
        else:
            high, right, at_right = right, left, at_left
            left = high - ratio * (high - low)
            at_left = of(left)
    return (low + high) / 2
