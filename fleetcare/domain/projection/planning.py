"""From each pack's chance of crossing to how many will be needed, and how long packs of a model have lasted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

LEAST_AT_RISK = 5
LEAST_PULLED = 3
"""A comparison needs this many packs of each model at the age compared, and this many pulled in all (proposal)."""


def count_range(chances: Sequence[float]) -> tuple[int, int, int]:
    """The 10 %, 50 % and 90 % points of how many of independent events happen (Poisson binomial, by convolution).

    Each is the smallest whole number whose cumulative probability reaches the share.
    """
    spread = np.array([1.0])
    for chance in chances:
        spread = np.convolve(spread, [1.0 - chance, chance])
    total = np.cumsum(spread)
    low, middle, high = (int(np.searchsorted(total, share - 1e-12)) for share in (0.1, 0.5, 0.9))
    return low, middle, high


@dataclass(frozen=True)
class Survival:
    """Share of packs not yet pulled, after each age at which one was; `at_risk` counts those still followed there."""

    ages: tuple[float, ...]
    share: tuple[float, ...]
    at_risk: tuple[int, ...]
    followed: tuple[float, ...]

    def at(self, age: float) -> float:
        """The share still in use at `age` (a pack pulled at that very age no longer counts)."""
        left = [s for a, s in zip(self.ages, self.share, strict=True) if a <= age]
        return left[-1] if left else 1.0

    def followed_to(self, age: float) -> int:
        """How many packs were followed to `age` or beyond, or pulled before it."""
        pulled = sum(1 for a in self.ages if a < age)
        return sum(1 for f in self.followed if f >= age) + pulled


def kaplan_meier(ages: Sequence[float], pulled: Sequence[bool]) -> Survival:
    """The product-limit estimate: packs that are still in use count for as long as they were followed.

    A pack whose following ends at an age where another is pulled still counts as at risk there.
    """
    found_ages, share, risk = [], [], []
    left = 1.0
    for age in sorted({a for a, p in zip(ages, pulled, strict=True) if p}):
        at_risk = sum(1 for a in ages if a >= age)
        events = sum(1 for a, p in zip(ages, pulled, strict=True) if p and a == age)
        left *= 1 - events / at_risk
        found_ages.append(float(age))
        share.append(left)
        risk.append(at_risk)
    return Survival(tuple(found_ages), tuple(share), tuple(risk), tuple(float(a) for a in ages))
