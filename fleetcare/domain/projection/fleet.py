"""Learning from the fleet, and projecting every pack by what was learnt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.special import ndtr, ndtri

from fleetcare.domain.projection.activation import inverse_temperature
from fleetcare.domain.projection.ageing import AgeingCurve
from fleetcare.domain.projection.habits import (
    FLEET_PACKS,
    SAMPLE_PACKS,
    SeriesFit,
    column_of,
    curves_of,
    learn_series,
    sample_of,
)
from fleetcare.domain.projection.loaded import as_loaded, learn_loaded
from fleetcare.domain.projection.preparation import Corrections, Prepared, apply_corrections, learn_corrections
from fleetcare.domain.projection.slides import led_by_newest
from fleetcare.domain.projection.tracking import (
    CALM,
    MODES,
    SLIDING,
    STEPPING,
    Grid,
    State,
    Track,
    curve_at,
    follow,
    grid_of,
    joined,
)
from fleetcare.domain.projection.visits import Flags, Floats, Models, Visits, Whole
from fleetcare.domain.projection.ways import only_way
from fleetcare.domain.temperature import GAS_CONSTANT

ENGINE = "fleet-11"
CHARGER_V = 0.03
"""Spread that each pack's own charger adds to its rested volts, in a fleet of several meters (proposal)."""
LAW_LOG_OHM = 0.012
"""In a fleet of many packs the temperature law leaves at least this doubt in a logarithm of resistance (proposal)."""
DOUBT, DOUBT_OF_FEW = 0.15, 0.3
"""Doubt about the model itself: this share of the projected change, and more where few packs were seen."""
ONSET_AHEAD = 1.0
"""The share of the onset's slope that a slide is given that begins after the newest reading."""
MOST_STEPS, CLOSE = 60, 1e-5
AHEAD_OF_ALL = 0.5
"""Beyond the oldest age seen the slope wanders: by this share of itself over as long again."""


@dataclass(frozen=True)
class FleetFit:
    """All that is learnt; projections under one fit are comparable with each other."""

    models: Models
    corrections: Corrections
    full_v: SeriesFit
    log_ohm: SeriesFit
    packs: int
    meters: int
    loaded_v: SeriesFit | None = None
    """Loaded volts by their own readings, where it may be that they keep still (None: nowhere)."""

    @property
    def is_fleet(self) -> bool:
        """Many packs seen by several meters: chargers differ, and that is part of the doubt."""
        return self.packs >= FLEET_PACKS and self.meters >= 3

    @property
    def shared_v(self) -> float:
        """Standard deviation of what is in every rested reading of a pack alike: its own charger, and the meters."""
        return float(np.hypot(CHARGER_V if self.is_fleet else 0.0, self.corrections.common_sd_v))

    @property
    def shared_log_ohm(self) -> Floats:
        """Standard deviation, by model, of what is in every log resistance alike: the temperature law, from the usual
        bench to the reference temperature."""
        known = self.corrections
        way = inverse_temperature(np.array(known.usual_c), known.usual_c) / GAS_CONSTANT
        return np.maximum(known.activation_sd * np.abs(way), LAW_LOG_OHM if self.is_fleet else 0.0)


@dataclass(frozen=True)
class Standing:
    """Where every pack of a batch stands in both series; indices run over the batch's packs."""

    model: Whole
    first_day: Floats
    prepared: Prepared
    full_v: State
    log_ohm: State
    full_count: Whole
    ohm_count: Whole
    full_distance: Floats
    ohm_distance: Floats
    loaded_v: State | None = None

    @property
    def sliding(self) -> dict[str, Flags]:
        """Packs with a slope of their own, by quantity: they are calibrated apart."""
        full, ohm = (one.chance[SLIDING::MODES].sum(0) > 0.25 for one in (self.full_v, self.log_ohm))
        return {"rested_full_v": full, "log_ohm": ohm, "loaded_v": full | ohm}

    def of(self, packs: Whole) -> Standing:
        """The states of `packs` alone, in that order and as often as they are named; readings are left as they are."""
        return replace(
            self,
            model=self.model[packs],
            first_day=self.first_day[packs],
            full_v=self.full_v.of(packs),
            log_ohm=self.log_ohm.of(packs),
            full_count=self.full_count[packs],
            ohm_count=self.ohm_count[packs],
            loaded_v=self.loaded_v.of(packs) if self.loaded_v else None,
        )

    def over_days(self) -> Standing:
        """The same with an axis for days before that of the packs, so that many days are projected at once."""
        return replace(
            self,
            model=self.model[None],
            first_day=self.first_day[None],
            full_v=self.full_v.over_days(),
            log_ohm=self.log_ohm.over_days(),
            loaded_v=self.loaded_v.over_days() if self.loaded_v else None,
        )

    def count(self, quantity: str) -> Whole:
        """Readings in use, by quantity; loaded volts need both."""
        counts = {"rested_full_v": self.full_count, "log_ohm": self.ohm_count}
        return counts.get(quantity, np.minimum(self.full_count, self.ohm_count))


@dataclass(frozen=True)
class Mixture:
    """A Gaussian mixture per pack: means, variances and weights of shape (component, pack)."""

    mean: Floats
    variance: Floats
    weight: Floats

    def below(self, x: Floats | float) -> Floats:
        """Probability of a value below `x`."""
        z = x - self.mean
        z /= np.sqrt(self.variance)
        ndtr(z, out=z)
        z *= self.weight
        return np.asarray(z.sum(0))

    def quantile(self, p: Floats | float) -> Floats:
        """The value below which the probability is `p` (…, pack), by Newton's steps kept inside a shrinking bracket."""
        p = np.asarray(p, dtype=float)
        shape = (len(self.mean), *(1,) * max(p.ndim - 1, 0), self.mean.shape[-1])
        mean, sd, weight = (part.reshape(shape) for part in (self.mean, np.sqrt(self.variance), self.weight))
        low = np.broadcast_to((mean - 7 * sd).min(0), np.broadcast_shapes(p.shape, shape[1:]))
        high = np.broadcast_to((mean + 7 * sd).max(0), low.shape)
        wanted = np.broadcast_to(ndtri(p), low.shape)
        x = (weight * mean).sum(0) + wanted * np.sqrt((weight * sd**2).sum(0))
        steep = weight / sd
        for _ in range(MOST_STEPS):
            z = (x - mean) / sd
            found = ndtri(np.clip((weight * ndtr(z)).sum(0), 1e-300, 1 - 1e-16))
            off = found - wanted  # as normal quantiles the distribution is nearly straight, and few steps are needed
            low, high = np.where(off < 0, x, low), np.where(off < 0, high, x)
            np.multiply(z, z, out=z)
            np.subtract(found**2, z, out=z)
            z *= 0.5
            np.exp(z, out=z)
            z *= steep
            slope = z.sum(0)
            step = x - off / np.maximum(slope, 1e-300)
            x = np.where((step >= low) & (step <= high), step, 0.5 * (low + high))
            if np.max(np.abs(off), initial=0.0) < CLOSE:  # the step just made has squared what was left
                break
        return np.asarray(x)

    def beside(self, other: Mixture, belief: Floats) -> Mixture:
        """This one and `other`, which is believed so much."""
        weight = np.concatenate([self.weight * (1 - belief), other.weight * belief])
        return Mixture(np.concatenate([self.mean, other.mean]), np.concatenate([self.variance, other.variance]), weight)

    def wider(self, variance: Floats) -> Mixture:
        """The same with `variance` added to each component."""
        return replace(self, variance=self.variance + variance)


def learn_fleet(visits: Visits, models: Models, meters: int) -> FleetFit:
    """Learn corrections, ageing curves and habits of movement from a fixed sample of the fleet's packs."""
    sample = sample_of(visits, len(models), SAMPLE_PACKS)
    corrections = learn_corrections(sample, models, meters)
    prepared = apply_corrections(sample, models, corrections)
    packs, seen_by = (int(np.count_nonzero(np.bincount(column))) for column in (visits.pack, visits.meter))
    with ThreadPoolExecutor(2) as pool:
        series = pool.map(lambda name: learn_series(name, prepared, models), ("full_v", "log_ohm"))
    loaded = learn_loaded(prepared, models) if packs < FLEET_PACKS else None
    return FleetFit(models, corrections, *series, packs, seen_by, loaded)


def stand(
    fit: FleetFit, visits: Visits, packs: int, *, before: float = np.inf, curves: bool = False, distances: bool = True
) -> Standing:
    """Follow every pack of `visits` (pack indices 0…packs-1) under `fit`, using readings up to day `before`.

    With `curves` the ageing curves are learnt anew from those readings alone (for back-tests); without `distances`
    none is given for any reading (NaN).
    """
    if np.isfinite(before):
        visits = visits.where(visits.day <= before)
    prepared = apply_corrections(visits, fit.models, fit.corrections)
    model = np.zeros(packs, dtype=int)
    model[visits.pack] = visits.model
    first = np.full(packs, np.inf)
    np.minimum.at(first, visits.pack, visits.day)
    first = np.where(np.isfinite(first), first, 0.0)
    # all series are followed in one pass: rested volts of all packs, then their resistances, then loaded volts that keep still
    series = [fit.full_v, fit.log_ohm]
    columns = [column_of(one.name, prepared) for one in series]
    shared = [_curves_then(one, prepared, fit.models, first) if curves else list(one.curves) for one in series]
    if fit.loaded_v:
        series.append(replace(fit.loaded_v, stillness=np.ones(len(fit.models))))
        columns.append(column_of(fit.loaded_v.name, as_loaded(prepared, fit.models)))
        shared.append(list(fit.loaded_v.curves))
    many, n = len(series), len(visits)
    value, use, extra = (np.concatenate(parts) for parts in zip(*columns, strict=True))
    pack = np.concatenate([visits.pack + packs * i for i in range(many)])
    which = np.concatenate([model + len(fit.models) * i for i in range(many)])
    first_day = np.tile(first, many)
    grid = grid_of(pack, np.tile(visits.day, many), value, use, extra, many * packs, today=min(before, 0.0))
    about = [curve for one in shared for curve in one]
    state, distance = _followed(series, grid, which, first_day, about, distances)
    track = joined(*(one.track for one in series))
    worse = np.repeat([one.worse for one in series], packs)
    state, leads = led_by_newest(state, grid, which, about, first_day, track, worse)
    distance = np.where(leads, np.nan, distance)  # far from what their model was expected to do, and yet no slips
    flat = np.full(many * n, np.nan)
    if distances and use.any():
        entry = np.isfinite(grid.day).T
        together = grid.share.T[entry][grid.group] < 1
        beside = (value[use] - grid.value.T[entry][grid.group]) / track.scatter[which[pack[use]]]
        flat[use] = np.where(together, beside, distance.T[entry][grid.group])
    own = [slice(packs * i, packs * (i + 1)) for i in range(many)]
    return Standing(
        model,
        first,
        prepared,
        state.of(own[0]),
        state.of(own[1]),
        grid.count[own[0]],
        grid.count[own[1]],
        flat[:n],
        flat[n : 2 * n],
        state.of(own[2]) if fit.loaded_v else None,
    )


def _curves_then(series: SeriesFit, prepared: Prepared, models: Models, first: Floats) -> list[AgeingCurve]:
    """The curves as the readings of `prepared` alone teach them; a model that keeps still has none but what it settled by."""
    learnt = curves_of(series.name, prepared, models, first)
    sure = series.stillness == 1.0
    return [
        (kept if kept.is_settled else curve.still()) if still else curve
        for kept, curve, still in zip(series.curves, learnt, sure, strict=True)
    ]


def _followed(
    series: Sequence[SeriesFit],
    grid: Grid,
    model: Whole,
    first_day: Floats,
    curves: Sequence[AgeingCurve],
    distances: bool,
) -> tuple[State, Floats]:
    """The three modes of a pack that declines, and where its model has ways to keep still those of every way, each by its
    belief, all in one pass; and how far each reading lay off.  `model` counts on over the series."""
    track = joined(*(one.track for one in series))
    many = max(len(one.ways) for one in series)
    if not many:
        state, _, distance = follow(grid, model, curves, first_day, track, distances=distances)
        return state, distance
    chance = []
    for way in range(many):
        shares = [one.ways[way].share * one.stillness if way < len(one.ways) else 0.0 * one.stillness for one in series]
        chance.append(np.concatenate(shares)[model])
    some = np.flatnonzero(np.array(chance).any(0))
    held = [[one.ways[min(way, len(one.ways) - 1)] if one.ways else only_way(one.track, one.curves)[0] for one in series]
            for way in range(many)]  # fmt: skip
    each, packs = len(some), len(model)
    column = np.concatenate([np.arange(packs), np.tile(some, many)])
    models = np.arange(1 + many).repeat([packs, *[each] * many]) * len(curves)
    found, _, distance = follow(
        Grid(
            *(table[:, column] for table in (grid.day, grid.value, grid.extra, grid.share)),
            grid.count[column],
            grid.group,
        ),
        models + model[column],
        [*curves, *(curve for ways in held for way in ways for curve in way.curves)],
        first_day[column],
        joined(track, *(way.track for ways in held for way in ways)),
        distances=distances,
    )
    state = found.of(np.arange(packs))
    mean, covariance, chances = (np.concatenate([x] * (1 + many)) for x in (state.mean, state.covariance, state.chance))
    chances[:MODES] *= 1 - np.array(chance).sum(0)
    chances[MODES:] = 0.0
    for way in range(many):
        rows, own = slice(MODES * (way + 1), MODES * (way + 2)), slice(packs + each * way, packs + each * (way + 1))
        mean[rows, :, some], covariance[rows, :, some] = found.mean[..., own], found.covariance[..., own]
        chances[rows, some] = found.chance[:, own] * chance[way][some]
    return State(mean, covariance, chances, state.day), distance[:, :packs]


def series_ahead(fit: SeriesFit, state: State, model: Whole, first_day: Floats, at_day: Floats | float) -> Mixture:
    """The true value of the series on `at_day`.  A pack is never projected to get better than it is."""
    kinds = [slice(start, start + MODES) for start in range(0, len(state.chance), MODES)][: 1 + len(fit.ways)]
    believed = [number for number, rows in enumerate(kinds) if state.chance[rows].any()] or [0]
    parts = []
    for number in believed:
        rows = kinds[number]
        own = State(state.mean[rows], state.covariance[rows], state.chance[rows], state.day)
        by = replace(fit, curves=fit.ways[number - 1].curves, track=fit.ways[number - 1].track) if number else fit
        parts.append(_ahead_by(by, own, model, first_day, at_day))
    return Mixture(*(np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Mixture)))


def _ahead_by(fit: SeriesFit, state: State, model: Whole, first_day: Floats, at_day: Floats | float) -> Mixture:
    """The same for packs that all move as the fit's track says."""
    track = fit.track
    gap = np.maximum(at_day - state.day, 0.0)
    slope_walk, level_walk, damping = (
        walk[:, model] for walk in (track.slope_walk, track.level_walk, track.damping_days)
    )
    reach = damping * -np.expm1(-gap / damping)
    v00, v01, v02, v11, v12, v22 = (state.covariance[:, j] for j in range(6))
    level, slope, pace = (state.mean[:, j] for j in range(3))
    then = third = curve_at(fit.curves, model, at_day - first_day)
    strays = track.strays[model]
    some_stray = bool(strays.any())
    if some_stray:
        strayed = np.where(strays > 0, pace, 0.0)
        pace = pace - strayed
        kept = np.where(strays > 0, track.keeps_off(gap, model), 1.0)
        third = np.where(strays > 0, kept, then)
    now = level + curve_at(fit.curves, model, state.day - first_day) * (1 + pace)
    today = 0.0 if np.min(at_day) >= 0.0 else np.minimum(at_day, 0.0)
    waited = damping * -np.expm1(-np.maximum(today - state.day, 0.0) / damping)
    meanwhile = level + waited * slope + curve_at(fit.curves, model, today - first_day) * (1 + pace)
    meanwhile = now + fit.worse * np.maximum(fit.worse * (meanwhile - now), 0.0)
    middle = level + reach * slope + then * (1 + pace)
    middle = meanwhile + fit.worse * np.maximum(fit.worse * (middle - meanwhile), 0.0)
    variance = reach * v11
    variance += 2 * v01
    variance *= reach
    variance += v00
    more = slope_walk * (gap * gap / 3)
    more += level_walk
    more *= gap
    variance += more
    more = reach * v12
    more += v02
    more *= 2
    more += third * v22
    more *= third
    variance += more
    if some_stray:  # what strayed falls back, for the better too
        now, middle = now + strayed, middle + kept * strayed
        variance += strays * strays * (1 - kept * kept)
    now, middle, variance, weight = _with_onset(track, model, gap, now, middle, variance, state.chance)
    stretch = np.ones_like(middle)
    if fit.name == "log_ohm":  # resistance grows by the same ohms, not by the same share, from here on
        stretch = 1 / (1 + (middle - now))
        middle = now + np.log1p(middle - now)
    variance = variance + _ahead_of_all(fit, model, first_day, at_day)
    seen = np.array([max(curve.sharing, 1) for curve in fit.curves])[model]
    doubt = (DOUBT + DOUBT_OF_FEW / np.sqrt(seen)) * (middle - now)
    return Mixture(middle, np.maximum(variance * stretch**2 + doubt**2, 1e-12), weight)


def _ahead_of_all(fit: SeriesFit, model: Whole, first_day: Floats, at_day: Floats | float) -> Floats:
    """What is added to the variance of packs that will be older than any pack has been seen: the curve's end is known
    so well and no better, and its slope wanders on."""
    reach, doubt, wander = (
        np.array(column)[model]
        for column in zip(*((c.reach_days, c.end_doubt, _wander(c, fit.worse)) for c in fit.curves), strict=True)
    )
    beyond = np.maximum(at_day - np.maximum(first_day + reach, 0.0), 0.0)
    return np.asarray(wander**2 * beyond**3 / 3.0 + (doubt * beyond) ** 2)


def _wander(curve: AgeingCurve, worse: float) -> float:
    """How much the slope of a curve wanders beyond its end, per day to the 3/2: in the scale of its decline so far."""
    if not curve.packs:
        return 0.0
    mean = float(curve.change[-1]) / curve.reach_days
    end = mean if curve.end_slope is None else curve.end_slope
    return AHEAD_OF_ALL * max(worse * end, worse * mean, 0.0) / float(np.sqrt(curve.reach_days))


def _with_onset(
    track: Track, model: Whole, gap: Floats, now: Floats, middle: Floats, variance: Floats, chance: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Where it stands and will stand: calm and stepping as one, sliding, and sliding since the newest reading.

    A slide not yet seen begins at any time alike and has the slope of a beginning slide.
    """
    calm, step = chance[CALM], chance[STEPPING]
    both = np.maximum(calm + step, 1e-12)
    share = step / both
    apart = middle[STEPPING] - middle[CALM]
    mean = middle[CALM] + share * apart
    one = (1 - share) * variance[CALM] + share * variance[STEPPING] + share * (1 - share) * apart**2
    begins = -np.expm1(-gap * track.begins_unseen[model] / 365.0)
    slope = ONSET_AHEAD * track.onset_slope[model]
    square = slope**2 + (ONSET_AHEAD * track.onset_spread[model]) ** 2
    slid = mean + slope * gap / 2
    wide = one + square * gap**2 / 3 - (slope * gap / 2) ** 2
    stood = now[CALM] + share * (now[STEPPING] - now[CALM])
    return (
        np.stack([stood, now[SLIDING], stood]),
        np.stack([mean, middle[SLIDING], slid]),
        np.stack([one, variance[SLIDING], wide]),
        np.stack([both * (1 - begins), np.broadcast_to(chance[SLIDING], begins.shape), both * begins]),
    )


def value_ahead(fit: FleetFit, standing: Standing, quantity: str, at_day: Floats | float) -> Mixture:
    """The true `quantity` ("rested_full_v", "loaded_v" at the model's standard load, or "log_ohm") at 25 °C."""
    return values_ahead(fit, standing, (quantity,), at_day)[quantity]


def values_ahead(
    fit: FleetFit, standing: Standing, quantities: Iterable[str], at_day: Floats | float
) -> dict[str, Mixture]:
    """The same for several quantities, which share what they rest on."""
    model, first = standing.model, standing.first_day
    found = {}
    wanted = set(quantities)
    if wanted - {"log_ohm"}:
        full = series_ahead(fit.full_v, standing.full_v, model, first, at_day)
        found["rested_full_v"] = full.wider(fit.shared_v**2 + fit.full_v.rounding_variance[model])
    if wanted - {"rested_full_v"}:
        ohm = series_ahead(fit.log_ohm, standing.log_ohm, model, first, at_day)
        found["log_ohm"] = ohm.wider(fit.shared_log_ohm[model] ** 2)
    if "loaded_v" in wanted:
        load = fit.models.load_a[model]
        own, belief = None, np.zeros(1)
        if fit.loaded_v and standing.loaded_v:
            belief = fit.loaded_v.stillness[model]
            own = series_ahead(fit.loaded_v, standing.loaded_v, model, first, at_day)
            drop = load * np.exp(found["log_ohm"].mean[0])
            alike = fit.shared_v**2 + fit.loaded_v.rounding_variance[model] + (drop * fit.shared_log_ohm[model]) ** 2
            own = own.wider(alike)
        if own and (belief == 1.0).all():
            found["loaded_v"] = own
        else:
            reckoned = _loaded(found["rested_full_v"], found["log_ohm"], load)
            found["loaded_v"] = reckoned.beside(own, belief) if own else reckoned
    return {quantity: found[quantity] for quantity in wanted}


def _loaded(full: Mixture, ohm: Mixture, load_a: Floats) -> Mixture:
    """Rested volts less load times resistance: every component of the one with every one of the other."""
    drop = load_a * np.exp(ohm.mean)
    many = (len(full.mean) * len(ohm.mean), *full.mean.shape[1:])
    return Mixture(
        (full.mean[:, None] - drop).reshape(many),
        (full.variance[:, None] + drop**2 * ohm.variance).reshape(many),
        (full.weight[:, None] * ohm.weight).reshape(many),
    )
