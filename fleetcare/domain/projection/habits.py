"""Learning how the packs of each model move: along a shared curve with slides and steps of their own, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np
from scipy.special import expit

from fleetcare.domain.projection.ageing import PIECES, AgeingCurve, learn_curve
from fleetcare.domain.projection.preparation import Prepared
from fleetcare.domain.projection.tracking import SLIDING, STEPPING, Track, follow, grid_of
from fleetcare.domain.projection.visits import Flags, Floats, Models, Visits, Whole
from fleetcare.domain.projection.ways import Seen, Way, expected_curves, only_way, weighed_ways

SAMPLE_PACKS = 200
HABIT_PACKS = 40
"""Packs of each model that corrections and curves, and how packs move about them, are learnt from."""
SAMPLE_READINGS = 120
FLEET_PACKS = 20
OPEN_SLIDE = 50.0
WIDEST_SLIDE = {"full_v": 1.0, "log_ohm": 1.5, "loaded_v": 1.5}
"""A slide changes by this many times the scatter over the ages seen, in a year; at most by this much in a year."""
BEGINS, ENDS = 0.6, 0.1
"""How often slides begin and end, a year (or the ages seen, where less): more often than they do, to notice them soon."""
BEGINS_UNSEEN = 0.5
"""Slides that begin after the newest reading, a year."""
ONSET_FEW = 0.0
"""With fewer than FLEET_PACKS packs there is no shared curve to trust, and no way is favoured."""
STEPS = {"full_v": 0.005, "log_ohm": 0.05, "loaded_v": 0.05}
"""Steps a year: a connector raises resistance at once, balance is lost bit by bit."""
ONSET_MEAN, ONSET_SPREAD = 0.3, 0.5
"""The slope of a beginning slide is worse on average; mean and spread as shares of the widest."""
MOST_PACE = 0.6
ALONE = 3.0
"""A slope is damped over the ages seen; a pack alone has no shared curve to fall back on, and its own slope lasts longer."""
OWN_LASTS_DAYS = 1_500.0
"""At least so long where packs do not share a curve: a steady slide of a few weeks goes on nearly straight (proposal)."""
MANY_VALUES = 20
"""So many different readings show the step of their display by themselves."""
USUAL = 1.5
"""A reading is expected to scatter by so many times what the last digit of a meter explains."""
LEAST_OF_STEP = 0.4
"""A reading scatters at least by this share of the display step."""
FREE = ("scatter", "slope_walk", "level_walk", "pace", "first_slope")
FREE_STILL = ("scatter", "level_walk")
PRIOR_DOUBLINGS = 2.5
STRIDES, STRIDES_STILL = (1.5, 0.7), (2.5, 1.5, 0.7)
SLIDES_ON = 3.0
"""In a fleet a slide is damped so much more slowly than a calm pack's slope."""
STILL_SLIDES, STILL_SLIDES_FEW = 0.5, 0.1
"""Slides begin so much more seldom where a model keeps still; with few packs none was seen."""
FITTED = {"full_v": 7.0, "log_ohm": 4.0, "loaded_v": 7.0}
"""What a curve and free slopes gain in log likelihood from readings that only scatter (many packs of a model)."""
FITTED_TO_WAYS = {"full_v": 9.0, "log_ohm": 7.0, "loaded_v": 9.0}
FITTED_ALONE = {"full_v": 3.0, "log_ohm": 0.0, "loaded_v": 0.0}
"""The same over all ways of keeping still together, of which none is fitted; and of a pack alone, whose rested volts are
often still and whose resistance seldom is."""
TEMPERED = 0.4
"""Of few packs only so much of the difference in likelihood counts for or against a decline: their readings are off together in
ways that neither the curve nor the walks know, and both differ by more than they should (decision 299)."""
STILL_BEFORE = {"full_v": 1.0, "log_ohm": -2.5, "loaded_v": -2.5}
"""Log odds before the readings that a model's packs keep still: rested volts often do, resistance seldom."""
WELL_READ = {"full_v": 24, "log_ohm": 40, "loaded_v": 40}
"""Of few packs it is asked in which ways they keep still, from so many readings a pack on; resistance is expected to rise,
and is asked later (decisions 260 and 296)."""
HARDLY_FELL = 0.6
"""Where they stand hardly worse than they did, by this share of the scatter of a reading, what a curve gains is no sign of a
decline, and resistance keeps still as readily as rested volts (decision 262)."""
UNLIKELY = 0.02
"""A belief below this is dropped."""


@dataclass(frozen=True)
class SeriesFit:
    """What the fleet taught about one series ("full_v", "log_ohm" or "loaded_v"): curves and how packs move about them.

    `stillness` is the belief, by model, that its packs keep still: 1 where that is sure, and `curves` and `track` then
    say so already.  Otherwise `curves` and `track` are those of packs that decline.  `ways` say how packs move if they
    keep still (none: no model does, or all that do by `track` alone).
    """

    name: str
    curves: tuple[AgeingCurve, ...]
    track: Track
    step: float
    stillness: Floats = field(default_factory=lambda: np.zeros(0))
    ways: tuple[Way, ...] = ()

    @property
    def worse(self) -> float:
        """The sign of getting worse: volts fall, resistance rises."""
        return _worse(self.name)

    @property
    def rounding_variance(self) -> Floats:
        """What the last digit of the meters leaves the mean of many readings off by, as a variance by model (volts²).

        step²/12 where readings scatter no more than the digit itself; less by a factor exp(-(2π scatter / step)²) where
        they do, as what is rounded up and down then cancels.  That is above the sum of the Fourier series of the mean
        rounding error of a normal value (Widrow and Kollár, Quantization Noise, 2008, chapter 4; from memory).
        """
        if not self.step:
            return np.zeros_like(self.track.scatter)
        beyond = np.maximum((self.track.scatter / self.step) ** 2 - LEAST_OF_STEP**2, 0.0)
        return np.asarray(self.step**2 / 12 * np.exp(-4 * np.pi**2 * beyond))


def _worse(name: str) -> float:
    """The sign of getting worse: volts fall, resistance rises."""
    return 1.0 if name == "log_ohm" else -1.0


def column_of(name: str, prepared: Prepared) -> tuple[Floats, Flags, Floats]:
    """Values, which take part, and their additional standard deviation, of the series "full_v" or "log_ohm", or
    "loaded_v" where `prepared` holds loaded volts."""
    if name == "log_ohm":
        return prepared.log_ohm, prepared.use_ohm, prepared.extra
    return prepared.full_v, prepared.use_v, prepared.extra if name == "loaded_v" else np.zeros(len(prepared.full_v))


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


def curves_of(name: str, prepared: Prepared, models: Models, first: Floats) -> tuple[AgeingCurve, ...]:
    """The ageing curve of every model, from the readings of `prepared` and each pack's first day."""
    value, use, _ = column_of(name, prepared)
    visits = prepared.visits
    usual = USUAL * _least_scatter(name, visits, len(models))
    age = visits.day - first[visits.pack]
    bend = np.full(len(models), 0.3) if name == "log_ohm" else 0.3 * models.series / 13.0
    worse = _worse(name)
    return tuple(
        learn_curve(visits.pack, age, value, use & (visits.model == one), bend[one], worse, usual[one])
        for one in range(len(models))
    )


def _first_days(visits: Visits) -> Floats:
    first = np.full(int(visits.pack.max()) + 1, np.inf)
    np.minimum.at(first, visits.pack, visits.day)
    return np.where(np.isfinite(first), first, 0.0)


def learn_series(name: str, prepared: Prepared, models: Models) -> SeriesFit:
    """Curves first, then scatter and movement by the likelihood of the readings, from priors in their scale."""
    visits, n = prepared.visits, len(models)
    first = _first_days(visits)
    curves = curves_of(name, prepared, models, first)
    worse = _worse(name)
    value, use, extra = column_of(name, prepared)
    step = _display_step(visits.rested_v)
    least = _least_scatter(name, visits, n)
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

    def searched(
        free: Sequence[str], strides: Sequence[float], start: Track, curves: Sequence[AgeingCurve]
    ) -> tuple[Track, Floats]:
        """The best track by model, from `start` with the `free` scales multiplied by powers of two, and how good it is."""

        def score(trial: Floats) -> Floats:
            _, likelihood, _ = follow(grid, model, curves, first[pack], _scaled(start, free, trial, least))
            return np.bincount(model, likelihood, n) - 0.5 * ((trial / PRIOR_DOUBLINGS) ** 2).sum(0)

        power = np.zeros((len(free), n))
        best = score(power)
        for stride in strides:
            for row in range(len(free)):
                for sign in (1.0, -1.0):
                    trial = power.copy()
                    trial[row] += sign * stride
                    found = score(trial)
                    power, best = np.where(found > best, trial, power), np.maximum(best, found)
        return _scaled(start, free, power, least), best

    track, likely = searched(FREE, STRIDES, start, curves)
    flat = tuple(curve.still() for curve in curves)
    still, likely_still = searched(FREE_STILL, STRIDES_STILL, _start_still(start, curves), flat)
    ways = only_way(still, curves)
    count = np.array([max(curve.sharing, 1) for curve in curves])
    fitted = FITTED[name] * (1 - 1 / count)
    few = sum(curve.sharing for curve in curves) < FLEET_PACKS
    known = few & well_read(name, visits, use, n)
    if known.any():
        own = visits.pack[use]
        age = visits.day[use] - first[own]
        seen = Seen(grid, model, first[pack], own, age, value[use], visits.model[use], worse, least)
        ways, together = weighed_ways(seen, still, curves, known)
        likely_still = np.where(known, together, likely_still)
        fitted = np.where(
            known, np.where(count > 1, FITTED_TO_WAYS[name] * (1 - 1 / count), FITTED_ALONE[name]), fitted
        )
    told = likely_still - likely + fitted
    odds = np.where(known, TEMPERED * told, told) + STILL_BEFORE[name]
    unmoved = known & (count > 1) & (_fell(curves, worse) <= HARDLY_FELL)
    odds = np.where(unmoved, np.maximum(likely_still - likely, 0.0) + fitted + STILL_BEFORE["full_v"], odds)
    belief = expit(np.clip(odds, -50.0, 50.0))
    belief = np.where(belief < UNLIKELY, 0.0, np.where(belief > 1 - UNLIKELY, 1.0, belief))
    sure = belief == 1.0
    in_doubt = (belief > 0) & (~sure | known)
    return SeriesFit(
        name,
        tuple(one if kept else other for one, other, kept in zip(expected_curves(ways), curves, sure, strict=True)),
        _chosen(sure, still, track),
        step,
        belief,
        ways if in_doubt.any() else (),
    )


def well_read(name: str, visits: Visits, use: Flags, models: int) -> Flags:
    """Models of which the packs have been read so often (median) that more can be told of how they keep still."""
    times = np.bincount(visits.pack[use], minlength=int(visits.pack.max()) + 1)
    model = np.full(len(times), -1)
    model[visits.pack] = visits.model
    often = [times[(model == one) & (times > 0)] for one in range(models)]
    return np.array([len(own) > 0 and float(np.median(own)) >= WELL_READ[name] for own in often])


def _fell(curves: Sequence[AgeingCurve], worse: float) -> Floats:
    """How much worse the packs of each model stand at the end of the ages seen than at their start or half-way, whichever
    is more, in the scatter of a reading."""
    change = worse * np.array([curve.change for curve in curves])
    from_then = change[:, -1:] - change[:, [0, PIECES // 2]]
    return np.asarray(from_then.max(1) / np.array([curve.scatter for curve in curves]))


def _chosen(first: Flags, one: Track, other: Track) -> Track:
    """By model the track of `one` where `first`, and of `other` elsewhere."""
    return Track(*(np.where(first, getattr(one, f.name), getattr(other, f.name)) for f in fields(Track)))


def _newest(pack: Whole, use: Flags, most: int) -> Flags:
    """Which readings are among the newest `most` in use of their pack (sorted by pack and day)."""
    packs = int(pack.max()) + 1
    count = np.bincount(pack[use], minlength=packs)
    end = np.cumsum(count)
    rank = np.zeros(len(pack), dtype=int)
    rank[use] = end[pack[use]] - np.arange(int(use.sum()))
    return use & (rank <= most)


def _display_step(volts: Floats) -> float:
    """The meters' usual display step, from the distances between different readings; few of them are no finer than
    the last decimal that was written."""
    distinct = np.unique(np.round(volts[np.isfinite(volts)], 3))
    if len(distinct) <= 3:
        return 0.01
    step = float(np.quantile(np.diff(distinct), 0.1))
    if len(distinct) >= MANY_VALUES:
        return step
    written = next(
        one for one in (0.1, 0.01, 0.001) if np.allclose(distinct / one, np.round(distinct / one), atol=1e-3)
    )
    return min(step, written)


def _least_scatter(name: str, visits: Visits, models: int) -> Floats:
    """What the last digit of the meters alone lets a reading scatter, by model."""
    least = np.full(models, LEAST_OF_STEP * _display_step(visits.rested_v))
    if name == "log_ohm":
        drop = visits.rested_v - visits.loaded_v
        usual = [np.nanmedian(d) if np.isfinite(d := drop[visits.model == m]).any() else 3.0 for m in range(models)]
        least = least * 1.4 / np.maximum(np.array(usual), 0.1)
    return least


def _start(name: str, curves: Sequence[AgeingCurve], least: Floats) -> Track:
    """Priors in the scale of the data: scatter of a reading and change per year, as the curves show them."""
    scatter = np.maximum(np.array([c.scatter for c in curves]), least)
    own = np.array([0.0 if c.is_shared else 365.0 * c.own_slope for c in curves])
    yearly = np.maximum(np.array([abs(c.per_year) for c in curves]), own)
    span = _ages_seen(curves)
    slow = scatter * 365.0 / span
    walk = scatter * np.sqrt(365.0 / span)
    calm = np.maximum(0.2 * yearly, 0.1 * slow)
    slide = np.maximum(1.5 * yearly, np.minimum(OPEN_SLIDE * slow, WIDEST_SLIDE[name]))
    many = sum(c.sharing for c in curves) >= FLEET_PACKS
    alone = 1 + ALONE / max(sum(c.sharing for c in curves), 1) ** 2
    lasting = np.full(len(span), float(np.median(span)) * alone)
    lasting = np.where([c.is_shared for c in curves], lasting, np.maximum(lasting, OWN_LASTS_DAYS))
    still = np.maximum(0.1 * walk, 0.02 * scatter)
    rate = 365.0 / np.minimum(span, 365.0) / 365.0
    return Track(
        scatter=scatter,
        slope_walk=np.stack([calm, slide, calm]) ** 2 / 365.0**3,
        level_walk=np.stack([still, still, 20 * walk]) ** 2 / 365.0,
        pace=0.25 * np.array([c.sharing / (c.sharing + 2.0) for c in curves]),
        first_slope=np.maximum(np.where(own > 0, 1.0, 0.15) * yearly, 0.3 * slow) / 365.0,
        first_level=10 * np.maximum(scatter, 0.01) + 0.05,
        to_sliding=BEGINS * rate,
        to_stepping=STEPS[name] * rate,
        from_sliding=ENDS * rate,
        from_stepping=30.0 * rate,
        damping_days=np.outer([1.0, SLIDES_ON if many else 1.0, 1.0], lasting),
        onset_slope=_worse(name) * (ONSET_MEAN if many else ONSET_FEW) * slide / 365.0,
        onset_spread=ONSET_SPREAD * slide / 365.0,
        begins_unseen=np.full(len(span), BEGINS_UNSEEN),
        strays=np.zeros_like(scatter),
        return_days=np.full(len(span), np.inf),
    )


def _ages_seen(curves: Sequence[AgeingCurve]) -> Floats:
    """The oldest age of every model, in days."""
    return np.maximum(np.array([curve.reach_days for curve in curves]), 1.0)


def _start_still(start: Track, curves: Sequence[AgeingCurve]) -> Track:
    """Packs that keep still: no shared curve, no slope of their own, a level that hardly wanders."""
    none = np.zeros_like(start.scatter)
    span = _ages_seen(curves)
    walk = (0.5 * start.scatter) ** 2 / span
    slides = STILL_SLIDES if sum(curve.sharing for curve in curves) >= FLEET_PACKS else STILL_SLIDES_FEW
    return replace(
        start,
        slope_walk=np.stack([none, start.slope_walk[SLIDING], none]),
        level_walk=np.stack([walk, walk, start.level_walk[STEPPING]]),
        pace=none,
        first_slope=none,
        to_sliding=slides * start.to_sliding,
        begins_unseen=slides * start.begins_unseen,
    )


def _scaled(start: Track, free: Sequence[str], power: Floats, least: Floats) -> Track:
    """`start` with its `free` parameters multiplied by two to the `power` (standard deviations, not variances)."""
    factor = dict.fromkeys(FREE, np.ones_like(start.scatter)) | dict(zip(free, 2.0**power, strict=True))
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
