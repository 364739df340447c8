"""From raw visits to comparable values: temperature, rest, meters and slips are learnt from the fleet itself.

Loaded resistance comes from the rested and loaded reading of one visit and meter, so that the meter's offset and the
charge level cancel; its logarithm is brought to 25 °C by an activation law whose energy is learnt for each pack model
(prior 18 ± 5 kJ/mol).  Rested volts are corrected for bench temperature, for the rest (relaxation after charging) and
for each meter's own offset, month by month, beside what the packs themselves did then.  Nothing is deleted: each reading
that is not used carries its reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np

from fleetcare.domain.projection.activation import inverse_temperature, learn_activation
from fleetcare.domain.projection.meters_apart import METER_SPREAD_V, MOST_V, POLARISATION, meters_apart
from fleetcare.domain.projection.visits import (
    REFERENCE_C,
    Flags,
    Floats,
    Models,
    Visits,
    Whole,
    cauchy_weight,
    group_median,
    scatter_of,
)
from fleetcare.domain.temperature import GAS_CONSTANT

UNKNOWN_BENCH = 0.08
"""Relative standard uncertainty of a resistance whose bench temperature was not noted (proposal)."""
MONTH_DAYS = 30.4375
RELAXATION_MINUTES = 30.0
REFERENCE_REST_MINUTES = 60.0
SHORTEST_REST_MINUTES = 10.0
GROSS_V_PER_GROUP = 0.12
"""A rested reading further than this from the pack's own median cannot be this pack, fully charged (proposal)."""
NEVER_FULL = 0.5
"""Below this share of its charger's voltage no lithium pack has been charged: wrong pole, wrong range or no contact (common
practice, no source)."""
PRIOR = np.array([0.04, -0.02, 0.08])
PRIOR_SPREAD = np.array([0.04, 0.03, 0.08])
"""Rested volts of 13 groups: per 10 °C, per 10 °C squared (half), and relaxation: 6 mV a group after 0 min rest
(proposal from published full-cell models, doi 10.1016/j.electacta.2022.140700; the fleet's readings take over)."""
METER_STEP_V = 0.02
PACK_STEP_V = 0.005
"""How far rested volts wander from a pack's straight line within a month, where no fault begins (chosen on even numbers)."""
METER_JUMP_V = 0.3
METERS_FOR_OFFSETS = 2
METERS_FOR_COMMON = 4
TURNS, LINES_ALONE = 12, 1
"""Rounds of fitting packs and meters in turn; in the first one each pack is a straight line, so that what all readings of a
meter do is the meter's, and from then on a pack may leave its line (decision 311)."""
POLARISATION_SPREAD = 0.6


class Doubt(IntEnum):
    """Why a reading does not take part."""

    NONE = 0
    SWAPPED = 1
    NOT_THIS_PACK = 2
    REST_TOO_SHORT = 3
    LOW_FOR_THE_PACK = 4
    HIGH_FOR_THE_PACK = 5
    RESISTANCE_OFF = 6


@dataclass(frozen=True)
class Corrections:
    """What the fleet's readings say about temperature, rest and meters; shown to the manager as it is.

    `activation_j_mol` and `rested` (temperature, curvature, relaxation; volts) have one row per model,
    `meter_offset_v` one row per meter and column per month counted from `first_month`.
    """

    activation_j_mol: Floats
    rested: Floats
    meter_offset_v: Floats
    first_month: int
    common_offset_v: float
    common_sd_v: float
    ohm_scatter: float
    volt_scatter: float
    usual_c: float
    activation_sd: Floats


@dataclass(frozen=True)
class Prepared:
    """Comparable values, one per visit: `full_v` (rested volts) and `log_ohm` (natural logarithm of ohms), both at
    25 °C; `use_v` and `use_ohm` say which take part and `doubt` why one does not; `extra` is the additional standard
    deviation of a log resistance whose temperature is unknown."""

    visits: Visits
    full_v: Floats
    log_ohm: Floats
    use_v: Flags
    use_ohm: Flags
    extra: Floats
    doubt: Whole


def _unswapped(visits: Visits) -> tuple[Floats, Floats, Flags]:
    """Rested and loaded volts with exchanged pairs put right, and which they were."""
    swapped = visits.loaded_v > visits.rested_v
    rested = np.where(swapped, visits.loaded_v, visits.rested_v)
    return rested, np.where(swapped, visits.rested_v, visits.loaded_v), swapped


def _rest(visits: Visits) -> Floats:
    return np.where(np.isnan(visits.rest_minutes), REFERENCE_REST_MINUTES, visits.rest_minutes)


def _basis(visits: Visits, models: Models, usual_c: float) -> Sequence[Floats]:
    temperature = np.where(np.isfinite(visits.temperature_c), visits.temperature_c, usual_c)
    warm = (temperature - REFERENCE_C) / 10.0
    rest = np.maximum(_rest(visits), 1.0)
    relax = np.exp(-np.sqrt(rest / RELAXATION_MINUTES)) - np.exp(-np.sqrt(REFERENCE_REST_MINUTES / RELAXATION_MINUTES))
    return warm, warm**2 / 2, relax * models.series[visits.model] / 13.0


def _moved(basis: Sequence[Floats], terms: Floats, model: Whole) -> Floats:
    """What temperature and rest move rested volts by, from the `terms` of each model."""
    first, *others = (column * terms[model, k] for k, column in enumerate(basis))
    for one in others:
        first += one
    return first


def _log_ohm(rested: Floats, loaded: Floats, load_a: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        ohm = (rested - loaded) / load_a
        return np.log(np.where(ohm > 0, ohm, np.nan))


def _usable_rested(visits: Visits, models: Models, rested: Floats) -> Flags:
    packs = int(visits.pack.max()) + 1 if len(visits) else 0
    middle = group_median(visits.pack, rested, packs)[visits.pack] if packs else rested
    near = np.abs(rested - middle) <= GROSS_V_PER_GROUP * models.series[visits.model]
    # a charger whose voltage is not known rules out nothing
    near &= ~(rested < NEVER_FULL * models.charger_v[visits.model])
    return near & (_rest(visits) >= SHORTEST_REST_MINUTES)


def learn_corrections(visits: Visits, models: Models, meters: int) -> Corrections:
    """Learn temperature, rest and meter corrections from all `visits` (at least one row)."""
    # packs that are there, numbered anew: of a sample few
    visits = replace(visits, pack=np.unique(visits.pack, return_inverse=True)[1])
    rested, loaded, _ = _unswapped(visits)
    known = np.isfinite(visits.temperature_c)
    usual = float(np.median(visits.temperature_c[known])) if known.any() else REFERENCE_C
    log_ohm = _log_ohm(rested, loaded, visits.load_a)
    energy, energy_sd, ohm_scatter = learn_activation(visits, models, log_ohm, usual)
    use = _usable_rested(visits, models, rested)
    month = np.floor(visits.day / MONTH_DAYS).astype(int)
    first = int(month.min()) if len(month) else 0
    rested_terms, offset, volt_scatter = _rested_terms(visits, models, rested, use, month - first, meters, usual)
    common, common_sd = 0.0, _common_doubt(offset, np.unique(visits.meter))
    if len(np.unique(visits.meter)) >= METERS_FOR_COMMON:
        corrected = rested - _moved(_basis(visits, models, usual), rested_terms, visits.model)
        corrected -= offset[visits.meter, month - first]
        reference = log_ohm - (energy / GAS_CONSTANT)[visits.model] * inverse_temperature(visits.temperature_c, usual)
        apart, common_sd = meters_apart(
            visits.pack, visits.meter, visits.model, corrected, np.exp(reference), use, models, volt_scatter
        )
        offset[: len(apart)] += apart[:, None]
        common = _common_offset(visits, models, corrected - apart[visits.meter], reference, use)
    return Corrections(
        energy, rested_terms, offset, first, common, common_sd, ohm_scatter, volt_scatter, usual, energy_sd
    )


def apply_corrections(visits: Visits, models: Models, known: Corrections) -> Prepared:
    """Bring every visit to reference conditions.  A meter or month that was not learnt has offset 0."""
    rested, loaded, swapped = _unswapped(visits)
    log_ohm = _log_ohm(rested, loaded, visits.load_a)
    inverse = inverse_temperature(visits.temperature_c, known.usual_c)
    log_ohm -= (known.activation_j_mol / GAS_CONSTANT)[visits.model] * inverse
    full = rested - _moved(_basis(visits, models, known.usual_c), known.rested, visits.model)
    if known.meter_offset_v.size:
        last = known.meter_offset_v.shape[1] - 1
        month = np.clip(np.floor(visits.day / MONTH_DAYS).astype(int) - known.first_month, 0, last)
        seen = visits.meter < len(known.meter_offset_v)
        full -= np.where(seen, known.meter_offset_v[np.where(seen, visits.meter, 0), month], 0.0)
    full -= known.common_offset_v
    use_v = _usable_rested(visits, models, rested)
    use_ohm = np.isfinite(log_ohm)
    doubt = np.where(swapped, int(Doubt.SWAPPED), int(Doubt.NONE))
    short = _rest(visits) < SHORTEST_REST_MINUTES
    doubt[short] = int(Doubt.REST_TOO_SHORT)
    doubt[~use_v & ~short] = int(Doubt.NOT_THIS_PACK)
    # a bench unlike the usual one rests on the law, and is as doubtful as the law is
    unlike = inverse - inverse_temperature(np.array(known.usual_c), known.usual_c)
    extra = np.abs((known.activation_sd / GAS_CONSTANT)[visits.model] * unlike)
    unknown = ~np.isfinite(visits.temperature_c)
    extra[unknown] = np.hypot(UNKNOWN_BENCH, extra[unknown])
    return Prepared(visits, full, np.where(use_ohm, log_ohm, 0.0), use_v, use_ohm, extra, doubt)


def _rested_terms(
    visits: Visits, models: Models, rested: Floats, use: Flags, month: Whole, meters: int, usual: float
) -> tuple[Floats, Floats, float]:
    """Temperature and rest terms per model and the meters' offsets per month, by robust backfitting."""
    basis = _basis(visits, models, usual)
    columns = np.stack(basis, axis=1)
    terms = np.tile(PRIOR, (len(models), 1))
    months = int(month.max()) + 1 if len(month) else 1
    offset = np.zeros((meters, months))
    packs = int(visits.pack.max()) + 1
    level = np.nan_to_num(group_median(visits.pack[use], rested[use], packs))[visits.pack]
    years = visits.day / 365.0
    cell = visits.meter * months + month
    count = np.bincount(cell[use], minlength=meters * months).reshape(meters, months)
    scatter = 0.05
    several = len(np.unique(visits.meter)) >= METERS_FOR_OFFSETS
    own = visits.pack * months + month
    seen = np.bincount(own[use], minlength=packs * months).reshape(packs, months)
    moves = np.zeros((packs, months))
    for turn in range(TURNS):
        value = rested - _moved(basis, terms, visits.model) - offset[visits.meter, month]
        scatter = scatter_of((value - level)[use], 0.01)
        weight = np.where(use, cauchy_weight(value - level, scatter), 0.0)
        total = np.bincount(visits.pack, weight, packs) + 1e-9
        middle = np.bincount(visits.pack, weight * years, packs) / total
        mean = np.bincount(visits.pack, weight * value, packs) / total
        along = years - middle[visits.pack]
        top = np.bincount(visits.pack, weight * along * (value - mean[visits.pack]), packs)
        slope = top / (np.bincount(visits.pack, weight * along**2, packs) + (scatter / 0.1) ** 2)
        level = mean[visits.pack] + slope[visits.pack] * along
        if several:
            residual = rested - level - _moved(basis, terms, visits.model)
            if turn >= LINES_ALONE:
                left = residual - offset[visits.meter, month]
                middles = group_median(own[use], left[use], packs * months).reshape(packs, months)
                moves = _walks(middles, _variance(seen, scatter), PACK_STEP_V)
            residual = residual - moves[visits.pack, month]
            middles = group_median(cell[use], residual[use], meters * months).reshape(meters, months)
            offset = _meter_offsets(middles, count, scatter)
        residual = rested - level - offset[visits.meter, month]
        known = use & np.isfinite(visits.temperature_c)
        off = residual - _moved(basis, terms, visits.model)
        weight = np.where(known, cauchy_weight(off, scatter), 0.0)
        terms = _fit_terms(visits, columns, residual, weight, scatter, packs, len(models))
    return terms, offset, scatter


def _fit_terms(
    visits: Visits, basis: Floats, residual: Floats, weight: Floats, scatter: float, packs: int, models: int
) -> Floats:
    total = np.bincount(visits.pack, weight, packs) + 1e-9
    means = np.stack([np.bincount(visits.pack, weight * column, packs) / total for column in basis.T], 1)
    mean = np.bincount(visits.pack, weight * residual, packs) / total
    x, y = basis - means[visits.pack], residual - mean[visits.pack]
    out = np.tile(PRIOR, (models, 1))
    for model in range(models):
        own = visits.model == model
        if own.any():
            weighted = x[own] * weight[own, None]
            left = weighted.T @ x[own] / scatter**2 + np.diag(PRIOR_SPREAD**-2.0)
            right = weighted.T @ y[own] / scatter**2 + PRIOR * PRIOR_SPREAD**-2.0
            out[model] = np.linalg.solve(left, right)
    return out


def _meter_offsets(middles: Floats, count: Whole, scatter: float) -> Floats:
    """Each meter's offset by month, smoothed with room for a sudden fault; the meters' middle is zero, and what all
    meters do together in time is left to the packs."""
    offset = _walks(middles, _variance(count, scatter))
    seen = count.sum(1) > 0
    weight = np.where(count > 0, count, 1e-9)
    own = (offset * weight).sum(1) / weight.sum(1)
    offset = offset - np.median(own[seen])
    shared = np.where(count > 0, offset - (own - np.median(own[seen]))[:, None], np.nan)
    return offset - np.array([np.nanmedian(column) if np.isfinite(column).any() else 0.0 for column in shared.T])


def _variance(count: Whole, scatter: float) -> Floats:
    """Variance of the median of so many readings of one month (none: infinite)."""
    return np.where(count > 0, (1.25 * scatter) ** 2 / np.maximum(count, 1) + 1e-4, np.inf)


def _walks(value: Floats, variance: Floats, least: float = METER_STEP_V) -> Floats:
    """Random walks through monthly values (row, month; infinite variance: none), smoothed forth and back; large steps are
    let through."""
    value, variance = np.ascontiguousarray(value.T), np.ascontiguousarray(variance.T)
    value = np.where(np.isfinite(variance), np.nan_to_num(value), 0.0)
    n, rows = value.shape
    step = np.full((n, rows), least**2)
    mean, spread, ahead, smooth = (np.zeros((n, rows)) for _ in range(4))
    for _ in range(4):
        m, p = np.zeros(rows), np.full(rows, METER_JUMP_V**2)
        for i in range(n):
            if i:
                p = p + step[i]
            ahead[i] = p
            gain = p / (p + variance[i])
            m, p = m + gain * (value[i] - m), (1 - gain) * p
            mean[i], spread[i] = m, p
        smooth[-1] = m
        for i in range(n - 2, -1, -1):
            smooth[i] = mean[i] + spread[i] / ahead[i + 1] * (smooth[i + 1] - mean[i])
        step[1:] = np.clip((smooth[1:] - smooth[:-1]) ** 2, least**2, METER_JUMP_V**2)
    return np.ascontiguousarray(smooth.T)


def _common_doubt(offset: Floats, meters: Whole) -> float:
    """Standard deviation of what two or three meters are off by together, from how far they are apart.

    One meter alone is taken at its word; what four or more are off by is learnt from the chargers.
    """
    n = len(meters)
    if not METERS_FOR_OFFSETS <= n < METERS_FOR_COMMON:
        return 0.0
    own = offset[meters].mean(1)
    spread = (METER_SPREAD_V**2 + float(((own - own.mean()) ** 2).sum())) / n
    return float(np.sqrt(spread / n))


def _common_offset(visits: Visits, models: Models, full: Floats, log_ohm: Floats, use: Flags) -> float:
    """What all meters and chargers together are off by, from where a charger should leave a pack of its resistance."""
    packs = int(visits.pack.max()) + 1
    model = np.zeros(packs, dtype=int)
    model[visits.pack] = visits.model
    volts = group_median(visits.pack[use], full[use], packs)
    paired = np.isfinite(log_ohm)
    ohm = group_median(visits.pack[paired], np.exp(log_ohm[paired]), packs)
    below = models.capacity_ah[model] / 20.0 * ohm
    off = volts - (models.charger_v[model] - POLARISATION * below)
    weight, total = 1.0 / METER_SPREAD_V**2, 0.0
    for one in range(len(models)):
        own = (model == one) & np.isfinite(off) & ~models.is_lfp[model]
        if own.any():
            by = float(np.median(off[own]))
            if abs(by) > MOST_V:
                continue  # no four meters are off by so much: this model is charged to another voltage
            sure = 1.0 / (POLARISATION_SPREAD * float(np.median(below[own]))) ** 2
            weight, total = weight + sure, total + sure * by
    return total / weight
