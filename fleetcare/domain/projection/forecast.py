"""The projection of every pack of a batch: quantiles ahead, chance of being beyond the limit, crossing days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from fleetcare.domain.projection.answer import FURTHEST_DAYS
from fleetcare.domain.projection.calibration import Calibration, chance_below
from fleetcare.domain.projection.fleet import FleetFit, Standing, stand, values_ahead
from fleetcare.domain.projection.visits import Flags, Floats, Visits, Whole

CROSSING_DAYS = np.concatenate(
    [np.arange(0.0, 182.0, 14.0), np.arange(182.0, 546.0, 28.0), np.arange(546.0, 1095.0, 61.0), [FURTHEST_DAYS]]
)
NEVER = -1
LIKELY_SOONER, SOONER_UNTIL, SOONER_TO = 0.25, 365.0, 730.0
"""Within a year the likely crossing is read so many standard normal units before the middle, beyond two years at it,
and less in between: half of the packs that were given such a day have then crossed by it (decision 231)."""
SOONER_FROM = 28.0
"""From so many days on; today is read at the middle."""
SOON_DAYS = 182
"""With an early edge so near it is not said that no decline was seen."""
BATCH_PACKS = 1_000
"""Packs projected at once: their arrays stay in the processor's cache, and memory stays flat."""
THREADS = 2
TILE = 4_000
"""Packs times days that crossings are sought for at once."""


@dataclass(frozen=True)
class Forecast:
    """One quantity of every pack; `quantiles[h]` holds p10, p50, p90 (3, pack) `h` days ahead, in the quantity's own
    numeric order; `chance[h]` the chance of being beyond the limit by then; `crossing` the days (early, likely, late;
    pack) on which the bad edge, the likely value and the good edge reach the limit, NEVER where that is not within three
    years.  A value at its limit is beyond."""

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
    return project_each(fit, calibration, standing, {quantity: limit}, horizons)[quantity]


def project_each(
    fit: FleetFit,
    calibration: Calibration,
    standing: Standing,
    limits: Mapping[str, Floats],
    horizons: Sequence[int],
) -> dict[str, Forecast]:
    """Project several quantities, by name with their limits per pack; what they share is reckoned once."""
    sliding = standing.sliding
    quantiles: dict[str, dict[int, Floats]] = {quantity: {} for quantity in limits}
    chance: dict[str, dict[int, Floats]] = {quantity: {} for quantity in limits}
    most = {quantity: np.zeros(len(limit)) for quantity, limit in limits.items()}
    for days in sorted({0, *horizons}):
        for quantity, mixture in values_ahead(fit, standing, limits, float(days)).items():
            rises = quantity == "log_ohm"
            found = mixture.quantile(ndtr(calibration.edges_at(quantity, days, sliding[quantity], standing.model)))
            earlier = quantiles[quantity]
            earlier[days] = never_better(fit, found, earlier.get(0), rises=rises)
            below = chance_below(mixture, limits[quantity], calibration.at(quantity, days, sliding[quantity]))
            # crossed by then, even if it seems to come back
            most[quantity] = np.fmax(most[quantity], 1 - below if rises else below)
            chance[quantity][days] = most[quantity]
    crossing = _crossing(fit, calibration, standing, limits)
    return {
        quantity: Forecast(
            quantity, quantiles[quantity], chance[quantity], crossing[quantity], standing.count(quantity)
        )
        for quantity in limits
    }


def never_better(fit: FleetFit, quantiles: Floats, today: Floats | None, *, rises: bool) -> Floats:
    """p10, p50 and p90 (3, …) in order, the good edge not beyond where it stands `today` (None: these are today's).

    A pack of a fleet does not recover.  With one meter or a handful of packs the meter wanders, and the edge of volts is
    left open.  A resistance (`rises`) is the difference of two readings of one meter: it does not fall, in however small
    a workshop.
    """
    bounded = quantiles.copy()
    if today is not None and (fit.is_fleet or rises):
        edge = 0 if rises else 2
        bounded[edge] = np.maximum(bounded[edge], today[edge]) if rises else np.minimum(bounded[edge], today[edge])
    return np.sort(bounded, axis=0)


def _crossing(
    fit: FleetFit, calibration: Calibration, standing: Standing, limits: Mapping[str, Floats]
) -> dict[str, Whole]:
    """The first days on which the early edge, the likely value and the late edge have reached the limit, by quantity."""
    packs = len(standing.model)
    below = {quantity: np.empty((len(CROSSING_DAYS), packs)) for quantity in limits}
    at_once = max(TILE // max(packs, 1), 1)
    over_days = standing.over_days()
    for start in range(0, len(CROSSING_DAYS), at_once):
        days = CROSSING_DAYS[start : start + at_once, None]
        for quantity, mixture in values_ahead(fit, over_days, limits, days).items():
            below[quantity][start : start + at_once] = mixture.below(limits[quantity])
    sliding = standing.sliding
    return {
        quantity: _first_past(below[quantity], calibration.edges_at(quantity, CROSSING_DAYS[:, None], sliding[quantity], standing.model), limit,
                              _sooner(fit, standing.model, quantity), rises=quantity == "log_ohm")
        for quantity, limit in limits.items()
    }  # fmt: skip


def is_read_sooner(fit: FleetFit, model: Whole, quantity: str) -> Flags:
    """Packs whose likely crossing is read before the middle: not those that are led by their own slope."""
    series = {"rested_full_v": (fit.full_v,), "log_ohm": (fit.log_ohm,)}.get(quantity, (fit.full_v, fit.log_ohm))
    shared = [all(one.is_shared for one in curves) for curves in zip(*(s.curves for s in series), strict=True)]
    return np.array(shared, dtype=bool)[model]


def _sooner(fit: FleetFit, model: Whole, quantity: str) -> Floats:
    """How far before the middle the likely crossing is read (day, pack)."""
    days = np.interp(CROSSING_DAYS, [0.0, SOONER_FROM, SOONER_UNTIL, SOONER_TO], [0.0, 1.0, 1.0, 0.0])
    return LIKELY_SOONER * days[:, None] * is_read_sooner(fit, model, quantity)


def _first_past(below: Floats, places: Floats, limit: Floats, sooner: Floats, *, rises: bool) -> Whole:
    """Early, likely and late days from the chance of being below the limit on each of CROSSING_DAYS (day, pack)."""
    # a falling value's early edge is p10, a rising one's p90
    early, likely, late = -places[::-1] if rises else places
    likely = np.clip(likely - sooner, early, late)
    # how far past the limit each edge is, as a probability
    past = (1 - below if rises else below) - ndtr(np.stack([early, likely, late]))
    reached = (past >= 0) & np.isfinite(limit)
    at = reached.argmax(axis=1)[:, None]
    then = np.take_along_axis(past, at, 1)
    before = np.where(at, np.take_along_axis(past, np.maximum(at - 1, 0), 1), -1.0)
    part = np.clip(-before / np.maximum(then - before, 1e-12), 0.0, 1.0)[:, 0]
    at = at[:, 0]
    earlier = np.where(at, CROSSING_DAYS[np.maximum(at - 1, 0)], 0.0)
    when = np.ceil(earlier + np.nan_to_num(part) * (CROSSING_DAYS[at] - earlier))
    return np.where(reached.any(axis=1), when, NEVER).astype(int)


def is_flat(now: Floats, later: Floats, crossing: Sequence[int]) -> bool:
    """No decline seen: the middle moves by less than half of the doubt about where it is now, no crossing is likely and
    none is possible (early edge) within SOON_DAYS.  `now` and `later` are p10, p50, p90, `crossing` days or NEVER."""
    early, likely, _ = crossing
    in_sight = likely != NEVER or (early != NEVER and early <= SOON_DAYS)
    return bool(not in_sight and abs(later[1] - now[1]) < 0.25 * (now[2] - now[0]))


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
        standing = stand(fit, replace(own, pack=own.pack - start), end - start, distances=False)
        of_packs = {quantity: limit[standing.model] for quantity, limit in limits.items()}
        return start, project_each(fit, calibration, standing, of_packs, horizons)

    with ThreadPoolExecutor(THREADS) as pool:
        yield from pool.map(one, range(0, packs, BATCH_PACKS))
