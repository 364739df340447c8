"""The projection of every pack of a batch: quantiles ahead, chance of being beyond the limit, crossing days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from fleetcare.domain.projection.answer import FURTHEST_DAYS
from fleetcare.domain.projection.calibration import Calibration, chance_below
from fleetcare.domain.projection.fleet import FleetFit, Standing, stand, value_ahead
from fleetcare.domain.projection.visits import Floats, Visits, Whole

CROSSING_DAYS = np.concatenate(
    [np.arange(0.0, 182.0, 14.0), np.arange(182.0, 546.0, 28.0), np.arange(546.0, 1095.0, 61.0), [FURTHEST_DAYS]]
)
NEVER = -1
BATCH_PACKS = 1_000
"""Packs projected at once: their arrays stay in the processor's cache, and memory stays flat."""
THREADS = 2
TILE = 4_000
"""Packs times days that crossings are sought for at once."""


@dataclass(frozen=True)
class Forecast:
    """One quantity of every pack; `quantiles[h]` holds p10, p50, p90 (3, pack) `h` days ahead, in the quantity's own
    numeric order; `chance[h]` the chance of being beyond the limit by then; `crossing` the days (10 %, 50 %, 90 %; pack)
    by which it is crossed with that chance, NEVER where that is not within three years.  A value at its limit is
    beyond."""

    quantity: str
    quantiles: dict[int, Floats]
    chance: dict[int, Floats]
    crossing: Whole
    count: Whole


def project(
    fit: FleetFit,
    calibration: Calibration,
    standing: Standing,
    quantity: str,
    limit: Floats,
    horizons: Sequence[int],
) -> Forecast:
    """Project `quantity` for every pack; `limit` per pack, NaN where there is none.  Day 0 is always included."""
    rises = quantity == "log_ohm"
    sliding = standing.sliding[quantity]
    quantiles, chance = {}, {}
    most = np.zeros(len(limit))
    for days in sorted({0, *horizons}):
        mixture = value_ahead(fit, standing, quantity, float(days))
        places = calibration.at(quantity, days, sliding)
        found = mixture.quantile(ndtr(places))
        quantiles[days] = _never_better(found, quantiles, rises) if fit.is_fleet else np.sort(found, axis=0)
        below = chance_below(mixture, limit, places)
        most = np.fmax(most, 1 - below if rises else below)  # crossed by then, even if it seems to come back
        chance[days] = most
    return Forecast(
        quantity, quantiles, chance, _crossing(fit, calibration, standing, quantity, limit), standing.count(quantity)
    )


def _never_better(quantiles: Floats, earlier: Mapping[int, Floats], rises: bool) -> Floats:
    """A pack of a fleet does not recover: its good edge is never projected beyond where that edge stands today.

    (With one meter or a handful of packs the meter and the bench wander, and the edge is left open.)
    """
    if 0 not in earlier:
        return quantiles
    edge = 0 if rises else 2
    bounded = quantiles.copy()
    today = earlier[0][edge]
    bounded[edge] = np.maximum(bounded[edge], today) if rises else np.minimum(bounded[edge], today)
    return np.sort(bounded, axis=0)


def _crossing(fit: FleetFit, calibration: Calibration, standing: Standing, quantity: str, limit: Floats) -> Whole:
    """The first days on which the early edge, the middle and the late edge have reached the limit."""
    packs = len(limit)
    below = np.empty((len(CROSSING_DAYS), packs))
    at_once = max(TILE // max(packs, 1), 1)
    for start in range(0, len(CROSSING_DAYS), at_once):
        days = CROSSING_DAYS[start : start + at_once]
        tiled = standing.of(np.tile(np.arange(packs), len(days)))
        mixture = value_ahead(fit, tiled, quantity, np.repeat(days, packs))
        below[start : start + at_once] = mixture.below(np.tile(limit, len(days))).reshape(len(days), packs)
    places = ndtr(calibration.at(quantity, CROSSING_DAYS[:, None], standing.sliding[quantity]))
    # how far past the limit each edge is, as a probability; a falling value's early edge is p10, a rising one's p90
    past = places[::-1] - below if quantity == "log_ohm" else below - places
    reached = (past >= 0) & np.isfinite(limit)
    at = reached.argmax(axis=1)[:, None]
    then = np.take_along_axis(past, at, 1)
    before = np.where(at, np.take_along_axis(past, np.maximum(at - 1, 0), 1), -1.0)
    part = np.clip(-before / np.maximum(then - before, 1e-12), 0.0, 1.0)[:, 0]
    at = at[:, 0]
    earlier = np.where(at, CROSSING_DAYS[np.maximum(at - 1, 0)], 0.0)
    when = np.ceil(earlier + np.nan_to_num(part) * (CROSSING_DAYS[at] - earlier))
    return np.where(reached.any(axis=1), when, NEVER).astype(int)


def is_flat(now: Floats, later: Floats, open_end: bool) -> bool:
    """No decline seen: the middle moves by less than half of the doubt about where it is now, and no crossing is in
    sight.  `now` and `later` are p10, p50, p90."""
    return bool(open_end and abs(later[1] - now[1]) < 0.25 * (now[2] - now[0]))


def project_all(
    fit: FleetFit,
    calibration: Calibration,
    visits: Visits,
    packs: int,
    limits: Mapping[str, Floats],
    horizons: Sequence[int],
) -> Iterator[tuple[int, dict[str, Forecast]]]:
    """Project every pack in batches; yields the index of a batch's first pack and its forecasts, in order.

    `limits` holds, by quantity, the limit of each *model*.
    """

    def one(start: int) -> tuple[int, dict[str, Forecast]]:
        end = min(start + BATCH_PACKS, packs)
        first, last = np.searchsorted(visits.pack, [start, end])
        own = visits.where(slice(int(first), int(last)))
        standing = stand(fit, replace(own, pack=own.pack - start), end - start)
        return start, {
            quantity: project(fit, calibration, standing, quantity, limit[standing.model], horizons)
            for quantity, limit in limits.items()
        }

    with ThreadPoolExecutor(THREADS) as pool:
        yield from pool.map(one, range(0, packs, BATCH_PACKS))
