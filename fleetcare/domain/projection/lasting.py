"""How long packs of different models lasted, compared at equal age, with packs still in use counted as far as they go."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.domain.projection.planning import LEAST_AT_RISK, LEAST_PULLED, Survival, kaplan_meier

TENTH = 1.2815515655446004
MONTH_DAYS = 30.4375


@dataclass(frozen=True, slots=True)
class Lived:
    """The packs of one model: days each was followed, and whether that ended in a pull."""

    model: str
    ages: tuple[float, ...]
    pulled: tuple[bool, ...]

    @property
    def curve(self) -> Survival:
        """The product-limit estimate."""
        return kaplan_meier(self.ages, self.pulled)

    @property
    def reach(self) -> float:
        """The greatest age to which enough packs were followed (or pulled before); with too few packs, their middle age."""
        oldest = max(self.ages, default=0.0)
        if len(self.ages) < LEAST_AT_RISK:
            return statistics.median(self.ages) if self.ages else 0.0
        known = sorted((oldest if p else a for a, p in zip(self.ages, self.pulled, strict=True)), reverse=True)
        return known[LEAST_AT_RISK - 1]


@dataclass(frozen=True, slots=True)
class StoodAt:
    """How a model stood at one age: share not pulled with its 80 % range, packs followed that far, pulled before."""

    model: str
    share: float
    low: float
    high: float
    followed: int
    pulled: int


@dataclass(frozen=True, slots=True)
class Pair:
    """Two models at the age that both have reached.  `better` is None where they are not ranked or cannot be told apart;
    `pulled` counts the pulls of both at any age, as the rule for ranking does."""

    age_days: float
    first: StoodAt
    second: StoodAt
    ranked: bool
    better: str | None
    too_few: str | None
    pulled: int


def variance_at(curve: Survival, age: float) -> float:
    """Greenwood's variance of the share at `age`."""
    total = 0.0
    before = 1.0
    for at, share, risk in zip(curve.ages, curve.share, curve.at_risk, strict=True):
        if at > age:
            break
        gone = round((1 - share / before) * risk) if before > 0 else 0
        if risk > gone:
            total += gone / (risk * (risk - gone))
        before = share
    return curve.at(age) ** 2 * total


def stood_at(lived: Lived, age: float, z: float = TENTH) -> StoodAt:
    """The share not pulled at `age` with a score interval on the effective number of packs.

    Greenwood's variance gives the effective number; where nothing was pulled it is the packs followed that far, so that
    few packs without a pull still have a wide range.
    """
    curve = lived.curve
    share, variance = curve.at(age), variance_at(curve, age)
    followed = sum(1 for a in lived.ages if a >= age)
    pulled = sum(1 for a, p in zip(lived.ages, lived.pulled, strict=True) if p and a <= age)
    count = share * (1 - share) / variance if variance > 0 else float(max(followed, 1))
    low, high = score_interval(share, count, z)
    return StoodAt(lived.model, share, low, high, curve.followed_to(age), pulled)


def score_interval(share: float, count: float, z: float) -> tuple[float, float]:
    """Wilson's score interval of a share seen in `count`."""
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return max(middle - half, 0.0), min(middle + half, 1.0)


def compare_pair(one: Lived, other: Lived) -> Pair:
    """Both at the age that enough packs of the younger model have reached; ranked only with enough packs and pulls.

    Better is said only where the difference of the shares, by the score intervals of both (Newcombe), leaves out zero.
    """
    age = min(one.reach, other.reach)
    first, second = stood_at(one, age), stood_at(other, age)
    few = min((first, second), key=lambda s: s.followed)
    pulled = sum(one.pulled) + sum(other.pulled)
    if few.followed < LEAST_AT_RISK or pulled < LEAST_PULLED:
        return Pair(age, first, second, False, None, few.model if few.followed < LEAST_AT_RISK else None, pulled)
    gap = first.share - second.share
    down = math.hypot(first.share - first.low, second.high - second.share)
    up = math.hypot(first.high - first.share, second.share - second.low)
    better = first.model if gap - down > 0 else second.model if gap + up < 0 else None
    return Pair(age, first, second, True, better, None, pulled)


def compare_all(lives: Sequence[Lived]) -> tuple[Pair, ...]:
    """Every pair of models that have packs, by code."""
    known = sorted((one for one in lives if one.ages), key=lambda one: one.model)
    return tuple(compare_pair(a, b) for number, a in enumerate(known) for b in known[number + 1 :])
