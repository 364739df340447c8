"""What a plan may cost: the spread of the sum over pack models of whole packs times their price."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import numpy as np

LEAST_CHANCE = 1e-7
"""Numbers of packs less likely than this are left out of the sum; the shares asked for are a million times larger."""


def cost_range(groups: Sequence[tuple[Decimal, Sequence[float]]]) -> tuple[Decimal, Decimal, Decimal]:
    """The 10 %, 50 % and 90 % points of the cost of what happens, for groups of (price of one, chances).

    Each is the smallest sum of whole packs times their prices whose cumulative probability reaches the share.
    """
    spread: dict[Decimal, float] = {Decimal(0): 1.0}
    for price, chances in groups:
        counts = count_spread(chances)
        wider: dict[Decimal, float] = {}
        for cost, before in spread.items():
            for count, chance in counts:
                both = before * chance
                if both >= LEAST_CHANCE / 10:
                    total = cost + count * price
                    wider[total] = wider.get(total, 0.0) + both
        spread = wider
    costs = sorted(spread)
    reached = np.cumsum([spread[cost] for cost in costs])
    reached = reached / reached[-1]
    low, likely, high = (costs[int(np.searchsorted(reached, share - 1e-9))] for share in (0.1, 0.5, 0.9))
    return low, likely, high


def count_spread(chances: Sequence[float]) -> list[tuple[int, float]]:
    """(number, probability) of how many of independent events happen, the unlikely ends left out."""
    spread = np.array([1.0])
    for chance in chances:
        spread = np.convolve(spread, [1.0 - chance, chance])
    return [(int(n), float(spread[n])) for n in np.flatnonzero(spread >= LEAST_CHANCE)]
