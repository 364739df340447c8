"""How each pack model's resistance moves with the bench: its activation energy, learnt from the fleet's own checks.

A noted temperature may be off.  Where the thermometer errs about the true bench, a fitted slope is flattened (errors in
variables); where the bench is right and the pack only near it, it is not.  Which of the two holds is not assumed: what
the benches of other days nearby say of the season is free of a reading's own error and serves as an instrument, and
every size of error is weighed by how well it makes the two slopes agree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from fleetcare.domain.projection.visits import (
    REFERENCE_C,
    Floats,
    Models,
    Visits,
    cauchy_weight,
    group_median,
    scatter_of,
)
from fleetcare.domain.temperature import ACTIVATION_J_PER_MOL, ACTIVATION_SPREAD_J_PER_MOL, GAS_CONSTANT

ZERO_C = 273.15
THERMOMETER_C = 1.15
"""Expected standard uncertainty of a noted temperature, as a rectangular ± 2 °C (common practice, no source); the
readings say more."""
ROUNDED_C = 0.3
"""A temperature noted in whole degrees is off by so much (a rectangular ± 0.5 °C)."""
ERRORS_C = np.linspace(0.0, 3.0, 13)
LEAST_OHM_SCATTER = 0.02
"""Load, timing and thermometer leave at least this relative scatter in a loaded resistance (proposal)."""
SEASON_DAYS = 14.0
"""Benches of other days within so many days tell the season."""
MOST_ERROR = 0.98
"""At most this share of the spread of the noted temperatures is the thermometer's error."""
COLDEST_C = -200.0
"""No bench is so cold."""
LEAST_SHARE = 0.03
"""No law is taken to be known better than this share of itself (robust weights change slopes by so much; proposal)."""


def inverse_temperature(temperature_c: Floats, usual_c: float) -> Floats:
    """1/T less that of the reference temperature, per kelvin; an unknown temperature is the usual one.

    What was noted colder than COLDEST_C counts as that: it is a slip, which then stands out, and 1/T stays finite.
    """
    known = np.maximum(np.where(np.isfinite(temperature_c), temperature_c, usual_c), COLDEST_C)
    return np.asarray(1.0 / (known + ZERO_C) - 1.0 / (REFERENCE_C + ZERO_C))


@dataclass(frozen=True)
class _Slopes:
    """Two slopes of each model (kelvin): over the noted temperatures and over the season, with their variances, the
    variance of the noted ones within a pack's year, and how much of that may be error."""

    noted: Floats
    noted_variance: Floats
    season: Floats
    season_variance: Floats
    spread: Floats
    most_error: Floats


def learn_activation(visits: Visits, models: Models, log_ohm: Floats, usual_c: float) -> tuple[Floats, Floats, float]:
    """Activation energy per model (J/mol), its standard deviation, and the relative scatter about the law.

    A line in time is taken out of each pack's year first, so that ageing is not read as cold.
    """
    prior, spread = ACTIVATION_J_PER_MOL / GAS_CONSTANT, ACTIVATION_SPREAD_J_PER_MOL / GAS_CONSTANT
    energy, sd = np.full(len(models), prior), np.full(len(models), spread)
    use = np.isfinite(log_ohm) & np.isfinite(visits.temperature_c)
    if not use.any():
        return energy * GAS_CONSTANT, sd * GAS_CONSTANT, 0.05
    part, value = visits.where(use), log_ohm[use]
    cold = inverse_temperature(part.temperature_c, usual_c)
    season = _benches_nearby(part.day, cold)
    years = part.day / 365.0
    _, cell = np.unique(np.stack([part.pack, np.floor(years).astype(int)], 1), axis=0, return_inverse=True)
    cell = cell.ravel()
    cells = int(cell.max()) + 1
    # a thermometer's error cannot be larger than the benches' usual scatter, which one hot day does not change
    unlike = np.abs(cold - group_median(cell, cold, cells)[cell])
    usual_scatter = 1.4826 * np.nan_to_num(group_median(part.model, unlike, len(models)))
    usual_scatter = np.maximum(usual_scatter, ROUNDED_C / (REFERENCE_C + ZERO_C) ** 2)
    scatter = 0.05
    for _ in range(6):
        level = value - energy[part.model] * cold
        residual = level - group_median(cell, level, cells)[cell]
        scatter = scatter_of(residual, LEAST_OHM_SCATTER)
        weight = cauchy_weight(residual, scatter)
        total = np.maximum(np.bincount(cell, weight, cells), 1e-9)

        def centred(x: Floats, w: Floats = weight, t: Floats = total) -> Floats:
            return x - (np.bincount(cell, w * x, cells) / t)[cell]

        time = centred(years)
        along = np.bincount(cell, weight * time * time, cells) + 1e-9

        def level_in_time(x: Floats, w: Floats = weight, t: Floats = time, a: Floats = along) -> Floats:
            x = centred(x)
            return x - (np.bincount(cell, w * t * x, cells) / a)[cell] * t

        x, y, z = level_in_time(cold), level_in_time(value), level_in_time(season)
        slopes = _slopes(*(np.bincount(part.model, weight * product, len(models)) for product in
                           (x * x, x * y, z * z, z * x, z * y, np.ones_like(x))), scatter, usual_scatter**2)  # fmt: skip
        energy, sd = _weighed(slopes, prior, spread)
    return energy * GAS_CONSTANT, sd * GAS_CONSTANT, scatter


def _benches_nearby(day: Floats, cold: Floats) -> Floats:
    """The mean of `cold` on other days within SEASON_DAYS; the mean of all where there are none."""
    date = np.floor(day)
    days, at = np.unique(date, return_inverse=True)
    count = np.bincount(at).astype(float)
    total = np.bincount(at, cold)
    first, last = np.searchsorted(days, days - SEASON_DAYS), np.searchsorted(days, days + SEASON_DAYS, "right")
    counts, totals = (np.concatenate([[0.0], np.cumsum(x)]) for x in (count, total))
    others = counts[last] - counts[first] - count
    found = (totals[last] - totals[first] - total) / np.maximum(others, 1.0)
    return np.asarray(np.where(others > 0.5, found, cold.mean())[at])


def _slopes(
    xx: Floats, xy: Floats, zz: Floats, zx: Floats, zy: Floats, weight: Floats, scatter: float, most: Floats
) -> _Slopes:
    """The slopes from each model's weighted sums of products of noted (x), value (y) and season (z)."""
    xx = np.maximum(xx, 1e-20)
    tells = zx > 0
    zx = np.where(tells, zx, 1e-10)
    season_variance = scatter**2 * np.where(tells, zz, 1.0) / zx**2
    return _Slopes(
        xy / xx, scatter**2 / xx, np.where(tells, zy, 0.0) / zx, season_variance, xx / np.maximum(weight, 1e-9), most
    )


def _weighed(slopes: _Slopes, prior: float, spread: float) -> tuple[Floats, Floats]:
    """Energy over the gas constant and its standard deviation by model, over all sizes of the thermometer's error.

    With a share `less` of the noted variance being error, the noted slope shows (1 - less) of the energy; the season's
    slope less the noted one shows the rest and has errors of its own, independent of those of the noted slope.
    """
    errors = ERRORS_C[:, None]
    error = np.minimum((errors / (REFERENCE_C + ZERO_C) ** 2) ** 2, slopes.most_error)
    less = np.minimum(error / slopes.spread, MOST_ERROR)
    rest_variance = np.maximum(slopes.season_variance - slopes.noted_variance, 0.05 * slopes.season_variance)
    shown = (((1 - less), slopes.noted, slopes.noted_variance), (less, slopes.season - slopes.noted, rest_variance))
    # the energy given both, and how likely both are, by rank-one updates of the prior
    mean, variance = np.full(less.shape, prior), np.full(less.shape, spread**2)
    likely = np.zeros(less.shape)
    for share, seen, doubt in shown:
        total = share**2 * variance + doubt
        off = seen - share * mean
        likely -= 0.5 * (np.log(total) + off**2 / total)
        gain = share * variance / total
        mean, variance = mean + gain * off, variance * (1 - gain * share)
    size = likely.sum(1) - 0.5 * (ERRORS_C / THERMOMETER_C - 1) ** 2  # one kind of thermometer for all models
    part = np.exp(size - logsumexp(size))[:, None]
    energy = (part * mean).sum(0)
    doubt = (part * (variance + (mean - energy) ** 2)).sum(0)
    return energy, np.sqrt(doubt + (LEAST_SHARE * energy) ** 2)
