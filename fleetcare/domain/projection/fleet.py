"""Learning from the fleet, and projecting every pack by what was learnt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.special import ndtr, ndtri

from fleetcare.domain.projection.ageing import AgeingCurve, learn_curve
from fleetcare.domain.projection.preparation import Corrections, Prepared, apply_corrections, learn_corrections
from fleetcare.domain.projection.tracking import (
    CALM,
    MODES,
    SLIDING,
    STEPPING,
    State,
    Track,
    ahead,
    curve_at,
    follow,
    grid_of,
    joined,
)
from fleetcare.domain.projection.visits import Flags, Floats, Models, Visits, Whole

ENGINE = "fleet-3"
SAMPLE_PACKS = 200
HABIT_PACKS = 40
"""Packs of each model that corrections and curves, and how packs move about them, are learnt from."""
SAMPLE_READINGS = 120
FLEET_PACKS = 20
CHARGER_V = 0.05
"""Spread that each pack's own charger adds to its rested volts, in a fleet of several meters (proposal)."""
LAW_LOG_OHM = 0.012
DOUBT, DOUBT_OF_FEW = 0.15, 0.3
"""Doubt about the model itself: this share of the projected change, and more where few packs were seen."""
OPEN_SLIDE = 50.0
WIDEST_SLIDE = {"full_v": 1.0, "log_ohm": 1.5}
"""A slide changes by this many times the scatter over the ages seen, in a year; at most by this much in a year."""
BEGINS, ENDS = 0.6, 0.1
"""How often slides begin and end, a year (or the ages seen, where less): more often than they do, to notice them soon."""
ONSET_FEW = 0.0
"""With fewer than FLEET_PACKS packs there is no shared curve to trust, and no way is favoured."""
STEPS = {"full_v": 0.005, "log_ohm": 0.05}
"""Steps a year: a connector raises resistance at once, balance is lost bit by bit."""
ONSET_MEAN, ONSET_SPREAD = 0.3, 0.5
"""The slope of a beginning slide is worse on average; mean and spread as shares of the widest."""
BEGINS_UNSEEN, ONSET_AHEAD = 0.5, 1.0
"""Slides that begin after the newest reading, a year, and the share of the onset's slope that they are given."""
MOST_PACE = 0.6
ALONE = 3.0
"""A slope is damped over the ages seen; a pack alone has no shared curve to fall back on, and its own slope lasts longer."""
FREE = ("scatter", "slope_walk", "level_walk", "pace", "first_slope")
PRIOR_DOUBLINGS = 2.5
MOST_STEPS, CLOSE = 60, 1e-5
AHEAD_OF_ALL = 0.5
"""Beyond the oldest age seen the slope wanders: by this share of itself over as long again."""
SLIDES_ON = 3.0
"""In a fleet a slide is damped so much more slowly than a calm pack's slope."""


@dataclass(frozen=True)
class SeriesFit:
    """What the fleet taught about one series ("full_v" or "log_ohm"): curves and how packs move about them."""

    name: str
    curves: tuple[AgeingCurve, ...]
    track: Track
    step: float

    @property
    def worse(self) -> float:
        """The sign of getting worse: rested volts fall, resistance rises."""
        return -1.0 if self.name == "full_v" else 1.0


@dataclass(frozen=True)
class FleetFit:
    """All that is learnt; projections under one fit are comparable with each other."""

    models: Models
    corrections: Corrections
    full_v: SeriesFit
    log_ohm: SeriesFit
    packs: int
    meters: int

    @property
    def is_fleet(self) -> bool:
        """Many packs seen by several meters: chargers differ, and that is part of the doubt."""
        return self.packs >= FLEET_PACKS and self.meters >= 3


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

    @property
    def sliding(self) -> dict[str, Flags]:
        """Packs with a slope of their own, by quantity: they are calibrated apart."""
        full, ohm = self.full_v.chance[1] > 0.25, self.log_ohm.chance[1] > 0.25
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
        return np.asarray((self.weight * ndtr((x - self.mean) / np.sqrt(self.variance))).sum(0))

    def quantile(self, p: Floats | float) -> Floats:
        """The value below which the probability is `p` (…, pack), by Newton's steps kept inside a shrinking bracket."""
        p = np.asarray(p, dtype=float)
        shape = (len(self.mean), *(1,) * max(p.ndim - 1, 0), self.mean.shape[-1])
        mean, sd, weight = (part.reshape(shape) for part in (self.mean, np.sqrt(self.variance), self.weight))
        low = np.broadcast_to((mean - 7 * sd).min(0), np.broadcast_shapes(p.shape, shape[1:]))
        high = np.broadcast_to((mean + 7 * sd).max(0), low.shape)
        wanted = np.broadcast_to(ndtri(p), low.shape)
        x = (weight * mean).sum(0) + wanted * np.sqrt((weight * sd**2).sum(0))
        for _ in range(MOST_STEPS):
            z = (x - mean) / sd
            found = ndtri(np.clip((weight * ndtr(z)).sum(0), 1e-300, 1 - 1e-16))
            off = found - wanted  # as normal quantiles the distribution is nearly straight, and few steps are needed
            low, high = np.where(off < 0, x, low), np.where(off < 0, high, x)
            slope = (weight / sd * np.exp(0.5 * (found**2 - z * z))).sum(0)
            step = x - off / np.maximum(slope, 1e-300)
            x = np.where((step >= low) & (step <= high), step, 0.5 * (low + high))
            if np.max(np.abs(off), initial=0.0) < CLOSE:  # the step just made has squared what was left
                break
        return np.asarray(x)

    def wider(self, variance: Floats) -> Mixture:
        """The same with `variance` added to each component."""
        return replace(self, variance=self.variance + variance)


def learn_fleet(visits: Visits, models: Models, meters: int) -> FleetFit:
    """Learn corrections, ageing curves and habits of movement from a fixed sample of the fleet's packs."""
    sample = sample_of(visits, len(models), SAMPLE_PACKS)
    corrections = learn_corrections(sample, models, meters)
    prepared = apply_corrections(sample, models, corrections)
    packs = len(np.unique(visits.pack)) if len(visits) else 0
    base = FleetFit(models, corrections, *(_no_series(n, models) for n in ("full_v", "log_ohm")), packs,
                    len(np.unique(visits.meter)))  # fmt: skip
    return replace(
        base,
        full_v=_learn_series("full_v", prepared, models),
        log_ohm=_learn_series("log_ohm", prepared, models),
    )


def stand(fit: FleetFit, visits: Visits, packs: int, *, before: float = np.inf, curves: bool = False) -> Standing:
    """Follow every pack of `visits` (pack indices 0…packs-1) under `fit`, using readings up to day `before`.

    With `curves` the ageing curves are learnt anew from those readings alone (for back-tests).
    """
    if np.isfinite(before):
        visits = visits.where(visits.day <= before)
    prepared = apply_corrections(visits, fit.models, fit.corrections)
    model = np.zeros(packs, dtype=int)
    model[visits.pack] = visits.model
    first = np.full(packs, np.inf)
    np.minimum.at(first, visits.pack, visits.day)
    first = np.where(np.isfinite(first), first, 0.0)
    # both series are followed in one pass: rested volts of all packs, then the resistances of all packs
    columns = [_column(series.name, prepared) for series in (fit.full_v, fit.log_ohm)]
    value, use, extra = (np.concatenate(parts) for parts in zip(*columns, strict=True))
    shared = [
        curve
        for series in (fit.full_v, fit.log_ohm)
        for curve in (_curves(series.name, prepared, fit.models, first) if curves else series.curves)
    ]
    track = joined(fit.full_v.track, fit.log_ohm.track)
    twice = np.concatenate([visits.pack, visits.pack + packs])
    days = np.concatenate([visits.day, visits.day])
    both = np.concatenate([model, model + len(fit.models)])
    grid = grid_of(twice, days, value, use, extra, 2 * packs, today=min(before, 0.0))
    state, _, distance = follow(grid, both, shared, np.concatenate([first, first]), track)
    flat = np.full(2 * len(visits), np.nan)
    if use.any():
        entry = np.isfinite(grid.day).T
        together = grid.share.T[entry][grid.group] < 1
        beside = (value[use] - grid.value.T[entry][grid.group]) / track.scatter[both[twice[use]]]
        flat[use] = np.where(together, beside, distance.T[entry][grid.group])
    full, ohm = np.arange(packs), np.arange(packs, 2 * packs)
    n = len(visits)
    return Standing(
        model, first, prepared, state.of(full), state.of(ohm), grid.count[full], grid.count[ohm], flat[:n], flat[n:]
    )


def series_ahead(fit: SeriesFit, state: State, model: Whole, first_day: Floats, at_day: Floats | float) -> Mixture:
    """The true value of the series on `at_day`.  A pack is never projected to get better than it is."""
    track = fit.track
    gap = np.maximum(at_day - state.day, 0.0)
    mean, spread = ahead(
        state.mean,
        state.covariance,
        gap,
        track.slope_walk[:, model],
        track.level_walk[:, model],
        track.damping_days[:, model],
    )
    then = curve_at(fit.curves, model, at_day - first_day)
    now = state.mean[:, 0] + curve_at(fit.curves, model, state.day - first_day) * (1 + state.mean[:, 2])
    middle = mean[:, 0] + then * (1 + mean[:, 2])
    today = np.minimum(at_day, 0.0)
    keep = np.exp(-np.maximum(today - state.day, 0.0) / track.damping_days[:, model])
    meanwhile = state.mean[:, 0] + track.damping_days[:, model] * (1 - keep) * state.mean[:, 1]
    meanwhile += curve_at(fit.curves, model, today - first_day) * (1 + state.mean[:, 2])
    meanwhile = now + fit.worse * np.maximum(fit.worse * (meanwhile - now), 0.0)
    middle = meanwhile + fit.worse * np.maximum(fit.worse * (middle - meanwhile), 0.0)
    variance = spread[:, 0] + 2 * then * spread[:, 2] + then**2 * spread[:, 5]
    now, middle, variance, weight = _with_onset(track, model, gap, now, middle, variance, state.chance)
    stretch = np.ones_like(middle)
    if fit.name == "log_ohm":  # resistance grows by the same ohms, not by the same share, from here on
        stretch = 1 / (1 + (middle - now))
        middle = now + np.log1p(middle - now)
    variance = variance + _ahead_of_all(fit, model, first_day, at_day)
    seen = np.array([max(curve.packs, 1) for curve in fit.curves])[model]
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
    begins = -np.expm1(-gap * BEGINS_UNSEEN / 365.0)
    slope = ONSET_AHEAD * track.onset_slope[model]
    square = slope**2 + (ONSET_AHEAD * track.onset_spread[model]) ** 2
    slid = mean + slope * gap / 2
    wide = one + square * gap**2 / 3 - (slope * gap / 2) ** 2
    stood = now[CALM] + share * (now[STEPPING] - now[CALM])
    return (
        np.stack([stood, now[SLIDING], stood]),
        np.stack([mean, middle[SLIDING], slid]),
        np.stack([one, variance[SLIDING], wide]),
        np.stack([both * (1 - begins), chance[SLIDING], both * begins]),
    )


def value_ahead(fit: FleetFit, standing: Standing, quantity: str, at_day: Floats | float) -> Mixture:
    """The true `quantity` ("rested_full_v", "loaded_v" at the model's standard load, or "log_ohm") at 25 °C."""
    model, first = standing.model, standing.first_day
    ohm_extra = LAW_LOG_OHM**2 if fit.is_fleet else 0.0
    if quantity == "log_ohm":
        found = series_ahead(fit.log_ohm, standing.log_ohm, model, first, at_day)
        return found.wider(np.array(ohm_extra))
    full = series_ahead(fit.full_v, standing.full_v, model, first, at_day)
    full = full.wider(np.array((CHARGER_V**2 if fit.is_fleet else 0.0) + fit.full_v.step**2 / 12))
    if quantity == "rested_full_v":
        return full
    ohm = series_ahead(fit.log_ohm, standing.log_ohm, model, first, at_day)
    drop = fit.models.load_a[model] * np.exp(ohm.mean)
    pairs = [(a, b) for a in range(MODES) for b in range(MODES)]
    return Mixture(
        np.stack([full.mean[a] - drop[b] for a, b in pairs]),
        np.stack([full.variance[a] + drop[b] ** 2 * (ohm.variance[b] + ohm_extra) for a, b in pairs]),
        np.stack([full.weight[a] * ohm.weight[b] for a, b in pairs]),
    )


def _column(name: str, prepared: Prepared) -> tuple[Floats, Flags, Floats]:
    if name == "full_v":
        return prepared.full_v, prepared.use_v, np.zeros(len(prepared.full_v))
    return prepared.log_ohm, prepared.use_ohm, prepared.extra


def sample_of(visits: Visits, models: int, most: int) -> Visits:
    """All readings of at most `most` evenly chosen packs of each model, by index, so that equal fleets give equal samples."""
    packs = int(visits.pack.max()) + 1 if len(visits) else 0
    model = np.full(packs, -1)
    model[visits.pack] = visits.model
    chosen = np.zeros(packs, dtype=bool)
    for one in range(models):
        own = np.flatnonzero(model == one)
        if len(own):
            chosen[own[np.unique(np.linspace(0, len(own) - 1, min(len(own), most)).astype(int))]] = True
    return visits.where(chosen[visits.pack])


def _curves(name: str, prepared: Prepared, models: Models, first: Floats) -> tuple[AgeingCurve, ...]:
    value, use, _ = _column(name, prepared)
    visits = prepared.visits
    age = visits.day - first[visits.pack]
    bend = 0.3 * models.series / 13.0 if name == "full_v" else np.full(len(models), 0.3)
    worse = -1.0 if name == "full_v" else 1.0
    return tuple(
        learn_curve(visits.pack, age, value, use & (visits.model == one), bend[one], worse)
        for one in range(len(models))
    )


def _first_days(visits: Visits) -> Floats:
    first = np.full(int(visits.pack.max()) + 1, np.inf)
    np.minimum.at(first, visits.pack, visits.day)
    return np.where(np.isfinite(first), first, 0.0)


def _no_series(name: str, models: Models) -> SeriesFit:
    n = len(models)
    blank = Track(*(np.zeros(n) for _ in fields(Track)))
    return SeriesFit(name, (), blank, 0.0)


def _learn_series(name: str, prepared: Prepared, models: Models) -> SeriesFit:
    """Curves first, then scatter and movement by the likelihood of the readings, from priors in their scale."""
    visits, n = prepared.visits, len(models)
    first = _first_days(visits)
    curves = _curves(name, prepared, models, first)
    value, use, extra = _column(name, prepared)
    step = _display_step(visits.rested_v)
    least = np.full(n, 0.4 * step)
    if name == "log_ohm":
        drop = visits.rested_v - visits.loaded_v
        usual = [np.nanmedian(d) if np.isfinite(d := drop[visits.model == m]).any() else 3.0 for m in range(n)]
        least = least * 1.4 / np.maximum(np.array(usual), 0.1)
    start = _start(name, curves, least)
    habit = sample_of(visits, n, HABIT_PACKS)
    pack = np.unique(habit.pack)
    chosen = np.zeros(int(visits.pack.max()) + 1, dtype=bool)
    chosen[pack] = True
    index = np.zeros(int(visits.pack.max()) + 1, dtype=int)
    index[pack] = np.arange(len(pack))
    model = np.zeros(len(pack), dtype=int)
    model[index[habit.pack]] = habit.model
    recent = use & chosen[visits.pack] & _newest(visits.pack, use, SAMPLE_READINGS)
    grid = grid_of(index[visits.pack], visits.day, value, recent, extra, len(pack), today=0.0)
    power = np.zeros((len(FREE), n))

    def score(trial: Floats) -> Floats:
        _, likelihood, _ = follow(grid, model, curves, first[pack], _scaled(start, trial, least))
        return np.bincount(model, likelihood, n) - 0.5 * ((trial / PRIOR_DOUBLINGS) ** 2).sum(0)

    best = score(power)
    for stride in (1.5, 0.7):
        for row in range(len(FREE)):
            for sign in (1.0, -1.0):
                trial = power.copy()
                trial[row] += sign * stride
                found = score(trial)
                power, best = np.where(found > best, trial, power), np.maximum(best, found)
    return SeriesFit(name, curves, _scaled(start, power, least), step)


def _newest(pack: Whole, use: Flags, most: int) -> Flags:
    """Which readings are among the newest `most` in use of their pack (sorted by pack and day)."""
    packs = int(pack.max()) + 1
    count = np.bincount(pack[use], minlength=packs)
    end = np.cumsum(count)
    rank = np.zeros(len(pack), dtype=int)
    rank[use] = end[pack[use]] - np.arange(int(use.sum()))
    return use & (rank <= most)


def _display_step(volts: Floats) -> float:
    """The meters' usual display step, from the distances between different readings."""
    distinct = np.unique(np.round(volts[np.isfinite(volts)], 3))
    return float(np.quantile(np.diff(distinct), 0.1)) if len(distinct) > 3 else 0.01


def _start(name: str, curves: Sequence[AgeingCurve], least: Floats) -> Track:
    """Priors in the scale of the data: scatter of a reading and change per year, as the curves show them."""
    scatter = np.maximum(np.array([c.scatter for c in curves]), least)
    yearly = np.array([abs(c.per_year) for c in curves])
    span = np.maximum(np.array([c.reach_days for c in curves]), 1.0)
    slow = scatter * 365.0 / span
    walk = scatter * np.sqrt(365.0 / span)
    calm = np.maximum(0.2 * yearly, 0.1 * slow)
    slide = np.maximum(1.5 * yearly, np.minimum(OPEN_SLIDE * slow, WIDEST_SLIDE[name]))
    many = sum(c.packs for c in curves) >= FLEET_PACKS
    alone = 1 + ALONE / max(sum(c.packs for c in curves), 1) ** 2
    still = np.maximum(0.1 * walk, 0.02 * scatter)
    rate = 365.0 / np.minimum(span, 365.0) / 365.0
    return Track(
        scatter=scatter,
        slope_walk=np.stack([calm, slide, calm]) ** 2 / 365.0**3,
        level_walk=np.stack([still, still, 20 * walk]) ** 2 / 365.0,
        pace=0.25 * np.array([c.packs / (c.packs + 2.0) for c in curves]),
        first_slope=np.maximum(0.15 * yearly, 0.3 * slow) / 365.0,
        first_level=10 * np.maximum(scatter, 0.01) + 0.05,
        to_sliding=BEGINS * rate,
        to_stepping=STEPS[name] * rate,
        from_sliding=ENDS * rate,
        from_stepping=30.0 * rate,
        damping_days=np.outer(
            [1.0, SLIDES_ON if many else 1.0, 1.0], np.full(len(span), float(np.median(span)) * alone)
        ),
        onset_slope=(-1.0 if name == "full_v" else 1.0) * (ONSET_MEAN if many else ONSET_FEW) * slide / 365.0,
        onset_spread=ONSET_SPREAD * slide / 365.0,
    )


def _scaled(start: Track, power: Floats, least: Floats) -> Track:
    """`start` with its free parameters multiplied by two to the `power` (standard deviations, not variances)."""
    factor = dict(zip(FREE, 2.0**power, strict=True))
    slope, level = start.slope_walk.copy(), start.level_walk.copy()
    slope[[0, 2]] *= factor["slope_walk"] ** 2
    level[[0, 1]] *= factor["level_walk"] ** 2
    return replace(
        start,
        scatter=np.maximum(start.scatter * factor["scatter"], least),
        slope_walk=slope,
        level_walk=level,
        pace=np.minimum(start.pace * factor["pace"], MOST_PACE),
        first_slope=start.first_slope * factor["first_slope"],
    )
