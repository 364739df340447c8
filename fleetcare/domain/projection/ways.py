"""The ways in which packs keep still, each with the share that the readings give it.

A level that rests, walks, strays and falls back, rose early or sinks a little all along: a few hundred readings seldom say
which, and how fast.  Of few packs that are well read every way is followed through all readings, with nothing ever
beginning and with slides and steps as elsewhere, and those that are likely enough project beside each other (decision 296).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from fleetcare.domain.projection.ageing import AgeingCurve
from fleetcare.domain.projection.tracking import CALM, SLIDING, Grid, Track, follow, joined
from fleetcare.domain.projection.visits import Flags, Floats, Whole, cauchy_weight, scatter_of

WALKS = (0.0, 0.35, 0.7, 1.4, 2.8, 5.6)
WALKS_BEFORE = (1 / 3, *[2 / 15] * 5)
"""How far a level walks over the ages seen, in the scatter of a reading; and how likely that is before the readings: one in
three does not walk at all."""
SCATTERS = (0.5, 0.65, 0.8, 1.0, 1.25)
"""The scatter of a reading, in that of packs which keep still and only walk."""
SAGS = (-1.5, -0.75, 0.0, 0.75, 1.5)
"""Slopes that are tried about the one that fits best, in its standard errors."""
SAG_USUAL, SAG_MOST = 1.0, 3.0
"""What sinks is expected to sink over the ages seen by so many times the scatter of a reading; more than the most is a decline."""
STRAYS, RETURNING = (0.5, 1.0, 2.0, 4.0), (0.02, 0.05, 0.12)
"""How far a level strays, in the scatter of a reading, and in which share of the ages seen it falls back (decision 261)."""
SETTLING, RISE_SPREAD = (0.04, 0.08, 0.16), 0.25
"""All but a third of an early change for the better happens in such shares of the ages seen (decision 260); packs of a model
differ in its size by this share, as in their pace of ageing."""
RESTS, SINKS, STRAYING, ROSE = 0.45, 0.25, 0.2, 0.1 * float(np.exp(-3.0))
"""How likely the kinds are before the readings; an early rise is fitted to them, which gains about 3 by itself."""
NOTHING_BEGINS = 0.5
"""How likely it is before the readings that no slide and no step has begun."""
AT_ONCE = 1e3
LEAST_SHARE, MOST_WAYS = 0.03, 8
"""Ways with a smaller share are dropped, but never the likeliest of a model."""


@dataclass(frozen=True)
class Way:
    """One way to keep still: how packs move, about which curves, and its share, all by model (shares sum to one)."""

    track: Track
    curves: tuple[AgeingCurve, ...]
    share: Floats


@dataclass(frozen=True)
class _Trial:
    """One point of a way: `way` names what is put together, `before` is the log chance before the readings, by model."""

    way: tuple[str | float | bool, ...]
    before: Floats
    track: Track
    curves: tuple[AgeingCurve, ...]


@dataclass(frozen=True)
class Seen:
    """The readings that ways are weighed by: a grid of packs with their `model` and `first` day; every reading by its
    `pack`, `age` in days, `value` and `of` which model; the sign of getting worse; and by model what the last digit of
    the meters lets a reading scatter at `least`."""

    grid: Grid
    model: Whole
    first: Floats
    pack: Whole
    age: Floats
    value: Floats
    of: Whole
    worse: float
    least: Floats


def weighed_ways(
    seen: Seen, still: Track, curves: Sequence[AgeingCurve], known: Flags
) -> tuple[tuple[Way, ...], Floats]:
    """The ways that the readings leave the models that are `known` well enough, and the logarithm of how likely all ways
    are together, by model.

    `still` is the track of packs that keep still and only walk, in whose scatter everything is told; models not `known`
    keep it, about no curve.
    """
    trials = _trials(seen, still, curves)
    score = np.stack([trial.before for trial in trials]) + _likelihoods(seen, trials)
    best = score.max(0)
    weight = np.exp(score - best)
    together = best + np.log(weight.sum(0))
    weight /= weight.sum(0)
    found = []
    for name in dict.fromkeys(trial.way for trial in trials):
        at = [i for i, trial in enumerate(trials) if trial.way == name]
        share = weight[at].sum(0)
        inner = weight[at] / np.maximum(share, 1e-300)
        found.append(Way(_mean_track([trials[i].track for i in at], inner), _mean_curves([trials[i].curves for i in at], inner), share))  # fmt: skip
    kept = _likeliest(found, known)
    return tuple(_of_known(kept, i, known, still) for i in range(len(kept))), together


def _likeliest(ways: Sequence[Way], known: Flags) -> list[Way]:
    """The likeliest ways of every model that is known, the first of each whatever its share is, in order of their rank."""
    share = np.stack([way.share for way in ways])[:, known]
    rank = (-share).argsort(0, kind="stable").argsort(0).min(1)
    order = np.lexsort((-share.max(1), rank))
    first = int((rank == 0).sum())
    likely = share.max(1)[order] >= LEAST_SHARE
    return [ways[one] for at, one in enumerate(order) if at < first or (at < MOST_WAYS and likely[at])]


def only_way(still: Track, curves: Sequence[AgeingCurve]) -> tuple[Way, ...]:
    """The one way of models of which no more is asked."""
    return (Way(still, tuple(curve.still() for curve in curves), np.ones(len(curves))),)


def expected_curves(ways: Sequence[Way]) -> tuple[AgeingCurve, ...]:
    """The curve that packs which keep still are expected to follow, by model."""
    return _mean_curves([way.curves for way in ways], np.stack([way.share for way in ways]))


def _trials(seen: Seen, still: Track, curves: Sequence[AgeingCurve]) -> list[_Trial]:
    span = np.maximum(np.array([curve.reach_days for curve in curves]), 1.0)
    plain = tuple(curve.still() for curve in curves)
    quiet = replace(
        still,
        to_sliding=np.zeros_like(still.to_sliding),
        to_stepping=np.zeros_like(still.to_stepping),
        from_sliding=np.full_like(still.from_sliding, AT_ONCE),
        from_stepping=np.full_like(still.from_stepping, AT_ONCE),
    )
    trials = []

    def add(
        way: tuple[str | float, ...],
        before: Floats | float,
        about: Sequence[AgeingCurve],
        walk: float,
        strays: float = 0.0,
        back: float = np.inf,
        pace: float = 0.0,
    ) -> None:
        level = still.level_walk.copy()
        level[[CALM, SLIDING]] = (walk * still.scatter) ** 2 / span
        for scatter in SCATTERS:
            for base, share in ((quiet, NOTHING_BEGINS), (still, 1 - NOTHING_BEGINS)):
                track = replace(
                    base,
                    scatter=np.maximum(scatter * still.scatter, seen.least),
                    level_walk=level,
                    strays=strays * still.scatter,
                    pace=np.full_like(still.pace, pace),
                    return_days=np.full(len(span), np.inf) if strays == 0 else back * span,
                )
                chance = np.broadcast_to(share / len(SCATTERS) * np.asarray(before), span.shape)
                trials.append(_Trial((*way, base is quiet), np.log(chance + 1e-300), track, tuple(about)))

    slope, error = _lines(seen, len(curves))
    for walk, chance in zip(WALKS, WALKS_BEFORE, strict=True):
        add(("rests", walk), RESTS * chance, plain, walk)
        for off in SAGS:
            sinks = np.maximum(seen.worse * (slope + off * error), 0.0)
            per = span / (SAG_USUAL * still.scatter)
            dense = np.where((sinks > 0) & (per * sinks <= SAG_MOST / SAG_USUAL), per * np.exp(-per * sinks), 0.0)
            before = SINKS * chance * np.minimum(dense * (SAGS[1] - SAGS[0]) * error, 1.0)
            about = [curve.sinking(seen.worse * one) for curve, one in zip(plain, sinks, strict=True)]
            add(("sinks", walk), before, about, walk)
    for back in RETURNING:
        for strays in STRAYS:
            for walk in WALKS[:2]:
                before = STRAYING / len(RETURNING) / len(STRAYS) / 2
                add(("strays", back), before, plain, walk, strays, back)
    for part in SETTLING:
        for walk in WALKS[::2]:
            add(
                ("rose", walk),
                ROSE / len(SETTLING) / len(WALKS[::2]),
                _risen(seen, curves, part),
                walk,
                pace=RISE_SPREAD,
            )
    return trials


def _likelihoods(seen: Seen, trials: Sequence[_Trial]) -> Floats:
    """The log likelihood of every trial, by model: all are followed in one pass, the packs of one beside those of the next."""
    many, models = len(trials), len(trials[0].before)
    table = (np.tile(getattr(seen.grid, name), (1, many)) for name in ("day", "value", "extra", "share"))
    grid = Grid(*table, np.tile(seen.grid.count, many), seen.grid.group)
    model = (np.arange(many)[:, None] * models + seen.model).ravel()
    about = [curve for trial in trials for curve in trial.curves]
    _, likelihood, _ = follow(
        grid, model, about, np.tile(seen.first, many), joined(*(t.track for t in trials)), distances=False
    )
    return np.bincount(model, likelihood, many * models).reshape(many, models)


def _mean_track(tracks: Sequence[Track], weight: Floats) -> Track:
    """The mean of tracks of one way by `weight` (track, model): of variances where they are kept as deviations."""
    out = {}
    for f in fields(Track):
        parts = np.stack([getattr(track, f.name) for track in tracks])
        if f.name == "return_days":  # the same for all, and infinite where nothing strays
            out[f.name] = parts[0]
        elif f.name in ("scatter", "strays"):
            out[f.name] = np.sqrt((weight * parts**2).sum(0))
        else:
            out[f.name] = (weight.reshape(len(tracks), *(1,) * (parts.ndim - 2), -1) * parts).sum(0)
    return Track(**out)


def _mean_curves(curves: Sequence[Sequence[AgeingCurve]], weight: Floats) -> tuple[AgeingCurve, ...]:
    """The mean curve by `weight` (curve, model); its end is known so well as the slopes of the curves agree."""
    found = []
    for own, share in zip(zip(*curves, strict=True), weight.T, strict=True):
        slope = np.array([curve.end_slope or 0.0 for curve in own])
        mean = float(share @ slope)
        doubt = float(np.sqrt(share @ (slope - mean) ** 2))
        change = share @ np.stack([curve.change for curve in own])
        settled = any(curve.is_settled for curve in own)
        found.append(replace(own[0], change=change, end_slope=mean, end_doubt=doubt, is_settled=settled))
    return tuple(found)


def _of_known(kept: Sequence[Way], number: int, known: Flags, still: Track) -> Way:
    """One of the ways that are kept, with shares that sum to one; other models have `still` alone, as the first."""
    way = kept[number]
    total = np.maximum(sum(one.share for one in kept), 1e-300)
    share = np.where(known, way.share / total, float(number == 0))
    track = Track(*(np.where(known, getattr(way.track, f.name), getattr(still, f.name)) for f in fields(Track)))
    curves = tuple(curve if kind else curve.still() for curve, kind in zip(way.curves, known, strict=True))
    return Way(track, curves, share)


def _shared_slope(seen: Seen, model: int, x: Floats, scatter: float | None) -> tuple[float, float]:
    """The slope of the values of a model over `x` that its packs share, each about a level of its own, robustly, and its
    standard error; none of a model without readings.  Without `scatter` that of the readings about the line is taken."""
    own = seen.of == model
    if not own.any():
        return 0.0, 0.0
    x, y = x[own], seen.value[own]
    pack = np.unique(seen.pack[own], return_inverse=True)[1]
    many = int(pack.max()) + 1
    weight, slope, usual, square = np.ones(len(y)), 0.0, scatter or 0.0, 0.0
    for _ in range(6):
        total = np.bincount(pack, weight, many)
        dx = x - (np.bincount(pack, weight * x, many) / total)[pack]
        dy = y - (np.bincount(pack, weight * y, many) / total)[pack]
        square = max(float((weight * dx * dx).sum()), 1e-12)
        slope = float((weight * dx * dy).sum()) / square
        usual = scatter or max(scatter_of(dy - slope * dx), 1e-6)
        weight = cauchy_weight(dy - slope * dx, usual)
    return slope, usual / float(np.sqrt(square))


def _lines(seen: Seen, models: int) -> tuple[Floats, Floats]:
    """Slope a day of the line that the packs of each model share, and its standard error."""
    slope, error = zip(*(_shared_slope(seen, one, seen.age, None) for one in range(models)), strict=True)
    return np.array(slope), np.array(error)


def _risen(seen: Seen, curves: Sequence[AgeingCurve], part: float) -> list[AgeingCurve]:
    """Curves that move for the better early, within `part` of the ages seen (to a third), and keep still from then on."""
    found = []
    for one, curve in enumerate(curves):
        days = part * curve.reach_days
        way, _ = _shared_slope(seen, one, -np.expm1(-seen.age / days), curve.scatter)
        found.append(curve.settled(-seen.worse * max(-seen.worse * way, 0.0), days))
    return found
