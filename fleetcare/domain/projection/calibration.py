"""Right as often as it says: the fleet's own past is projected again, and the intervals are set by how that went.

For several days in the past, only what was known by then is used; the readings that came later say where the pack
really was.  The place of each such reading in its projection, as a standard normal quantile, should be below -1.28 for
one in ten and above 1.28 for one in ten.  Where they lie further out, the intervals are widened.  Of calm packs fewer are
left out on the bad side and more on the good one, because those that fail fall out on the bad side (decision 230).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr, ndtri

from fleetcare.domain.projection.fleet import (
    FleetFit,
    Mixture,
    Standing,
    stand,
    value_ahead,
)
from fleetcare.domain.projection.habits import FLEET_PACKS, sample_of
from fleetcare.domain.projection.loaded import as_loaded
from fleetcare.domain.projection.visits import Flags, Floats, Visits, Whole, group_median

HORIZONS = (28, 91, 182)
BACK = (0.0, 0.5, 1.5)
"""Back-tests end on the as-of day and these multiples of the horizon before it."""
BACKTEST_PACKS = 60
LEAST_COUNT = 5
FULL_TRUST = 30.0
"""This many back-tests count as much as the model's own word."""
QUANTITIES = ("rested_full_v", "loaded_v", "log_ohm")
BAD_SHARE, GOOD_SHARE = 0.06, 0.14
"""The share of calm packs that the bad edge leaves out, and the good one; 80 % stay between (decision 230)."""
GOOD_EDGE = {False: 0.6, True: 0.9}
"""The good edge may be drawn in to this share, of calm and of sliding packs: a fleet seldom recovers."""
FEW_PACKS_BAD = 0.3
"""Where a model that declines has been seen on few packs, the bad edge is so much further out: faster declines than theirs
are still to come (decision 233)."""
UNSURE = 0.1
"""A model that keeps still with this chance or more is not taken to decline there."""
FAR, FEW_FAR, MANY_TESTS = 2.0, 0.01, 100
SOUND_EDGE = 0.8
"""Where of so many back-tests so few fell so far on the bad side, hardly any fault begins, and the bad edge may be drawn
in to this share."""
TENTH = 1.2815515655446004
PLAIN = np.array([-TENTH, 0.0, TENTH])


@dataclass(frozen=True)
class Outcome:
    """How one kind of back-test went: `z` places of the later readings, the packs' `model`, and which were sliding."""

    quantity: str
    horizon_days: int
    z: Floats
    model: Whole
    sliding: Flags


@dataclass(frozen=True)
class Calibration:
    """Standard normal quantiles by quantity, horizon and whether sliding: `places` of a tenth, a half and nine tenths,
    by which chances are told, and `edges` at which p10, p50 and p90 are read: of calm packs further out on the bad side
    and further in on the good one, with 80 % between."""

    places: Mapping[tuple[str, int, bool], Floats]
    edges: Mapping[tuple[str, int, bool], Floats]
    outcomes: tuple[Outcome, ...]
    stretch: Mapping[str, Floats] = field(default_factory=dict)
    """How many times as far out the bad edge is, by quantity and model; empty: as it stands."""

    def at(self, quantity: str, days: Floats | float, sliding: Flags) -> Floats:
        """Places of p10, p50 and p90 (3, …, pack) for a horizon, interpolated in the logarithm of days.

        `days` is one number, or several as a column that is spread over the packs.
        """
        return self._between(self.places, quantity, days, sliding)

    def edges_at(self, quantity: str, days: Floats | float, sliding: Flags, model: Whole) -> Floats:
        """The same for the edges at which p10, p50 and p90 are read, of packs of these models."""
        return self._stretched(self._between(self.edges, quantity, days, sliding), quantity, model)

    def edges_then(self, outcome: Outcome) -> Floats:
        """The edges of each pack of a back-test (3, pack)."""
        both = [self.edges[outcome.quantity, outcome.horizon_days, kind][:, None] for kind in (False, True)]
        return self._stretched(np.where(outcome.sliding, both[1], both[0]), outcome.quantity, outcome.model)

    def _stretched(self, edges: Floats, quantity: str, model: Whole) -> Floats:
        if quantity not in self.stretch:
            return edges
        low, middle, high = edges
        by = self.stretch[quantity][model]
        if quantity == "log_ohm":
            return np.stack([low, middle, middle + by * (high - middle)])
        return np.stack([middle - by * (middle - low), middle, high])

    @staticmethod
    def _between(
        table: Mapping[tuple[str, int, bool], Floats], quantity: str, days: Floats | float, sliding: Flags
    ) -> Floats:
        wanted, known = np.log(np.maximum(days, 1.0)), np.log(np.array(HORIZONS, dtype=float))
        if not wanted.ndim:
            wanted = wanted[None]
        calm, moving = (
            np.stack([np.interp(wanted, known, [table[quantity, h, kind][j] for h in HORIZONS]) for j in range(3)])
            for kind in (False, True)
        )
        return np.where(sliding, moving, calm)


def chance_below(mixture: Mixture, limit: Floats | float, places: Floats) -> Floats:
    """Calibrated probability of a value below `limit`: straight between and beyond the three places."""
    z = ndtri(np.clip(mixture.below(limit), 1e-12, 1 - 1e-12))
    low, middle, high = places
    side = np.where(z < middle, middle - low, high - middle)
    return np.asarray(ndtr((z - middle) / np.maximum(side, 0.1) * TENTH))


def calibrate(fit: FleetFit, visits: Visits, quantities: Sequence[str] = QUANTITIES) -> Calibration:
    """Back-test `fit` for `quantities` on the fleet's own past, as of day 0 of `visits`."""
    sample = sample_of(visits, len(fit.models), BACKTEST_PACKS)
    names, pack = np.unique(sample.pack, return_inverse=True)
    sample = Visits(pack, *(getattr(sample, name) for name in list(sample.__dataclass_fields__)[1:]))
    span = -float(sample.day.min()) if len(sample) else 0.0
    asked = [(horizon, -horizon * (1 + back)) for horizon in HORIZONS for back in BACK]
    asked = [(horizon, cut) for horizon, cut in asked if -cut <= 0.8 * span]

    def then(cut: float | None) -> Standing:
        if cut is None:
            return stand(fit, sample, len(names), distances=False)
        return stand(fit, sample, len(names), before=cut, curves=True, distances=False)

    cuts: list[float | None] = [None, *dict.fromkeys(cut for _, cut in asked)]
    with ThreadPoolExecutor(2) as pool:
        stood = dict(zip(cuts, pool.map(then, cuts), strict=True))
    outcomes = [
        _outcome(fit, stood[None], stood[cut], quantity, horizon, cut)
        for horizon, cut in asked
        for quantity in quantities
    ]
    return replace(calibrated(outcomes), stretch=_stretch(fit))


def _stretch(fit: FleetFit) -> dict[str, Floats]:
    """How much further out the bad edge is, by quantity and model: for those that decline and share with few packs."""
    found = {}
    for series, quantities in ((fit.full_v, ("rested_full_v",)), (fit.log_ohm, ("log_ohm", "loaded_v"))):
        sharing = np.array([curve.sharing for curve in series.curves], dtype=float)
        few = np.where(sharing > 1, np.maximum(1 - sharing / FLEET_PACKS, 0.0), 0.0)
        for quantity in quantities:
            still = series.stillness
            if quantity == "loaded_v" and fit.loaded_v:
                still = np.maximum(still, fit.loaded_v.stillness)
            found[quantity] = 1 + FEW_PACKS_BAD * few * np.maximum(1 - still / UNSURE, 0.0)
    return found


def calibrated(outcomes: Sequence[Outcome]) -> Calibration:
    """The calibration that back-tests lead to."""
    return Calibration(*_places(outcomes), tuple(outcomes))


def uncalibrated() -> Calibration:
    """The model's own word, for a fleet without a past."""
    return calibrated([])


def _outcome(fit: FleetFit, final: Standing, past: Standing, quantity: str, horizon: int, cut: float) -> Outcome:
    """Where the readings about `horizon` days after `cut` lay in what was projected then."""
    target, variance, own = _target(fit, final, quantity, cut, horizon)
    usable = np.isfinite(target) & (past.count(quantity) >= LEAST_COUNT)
    seen = value_ahead(fit, past, quantity, cut + horizon)
    if quantity != "log_ohm":
        variance = variance - fit.shared_v**2  # a pack's own charger is in the later readings as well
    # what both share is counted once, but the later readings' own scatter is between them in any case
    seen = seen.wider(np.maximum(np.nan_to_num(variance), own - seen.variance.min(axis=0)))
    z = ndtri(np.clip(seen.below(np.nan_to_num(target)), 1e-5, 1 - 1e-5))
    return Outcome(quantity, horizon, z[usable], past.model[usable], past.sliding[quantity][usable])


def _target(fit: FleetFit, final: Standing, quantity: str, cut: float, horizon: int) -> tuple[Floats, Floats, Floats]:
    """Median of the later readings about the horizon (NaN where there is none), its variance without what they share with
    the projection, and that of the readings alone, per pack."""
    prepared = final.prepared
    visits, packs = prepared.visits, len(final.model)
    near = (np.abs(visits.day - (cut + horizon)) <= max(10.0, 0.12 * horizon)) & (visits.day > cut)

    def middle(value: Floats, use: Flags, scatter: Floats) -> tuple[Floats, Floats]:
        use = use & near
        count = np.maximum(np.bincount(visits.pack[use], minlength=packs), 1)
        return group_median(visits.pack[use], value[use], packs), 1.5 * scatter[final.model] ** 2 / count

    full, full_variance = middle(prepared.full_v, prepared.use_v, fit.full_v.track.scatter)
    if quantity == "rested_full_v":
        return full, full_variance, full_variance
    ohm, ohm_variance = middle(prepared.log_ohm, prepared.use_ohm, fit.log_ohm.track.scatter)
    own_ohm = ohm_variance
    ohm_variance = ohm_variance - fit.shared_log_ohm[final.model] ** 2  # the law is in the later readings as well
    if quantity == "log_ohm":
        return ohm, ohm_variance, own_ohm
    drop = fit.models.load_a[final.model] * np.exp(ohm)
    variance, alone = full_variance + drop**2 * ohm_variance, full_variance + drop**2 * own_ohm
    if fit.loaded_v:
        own = as_loaded(prepared, fit.models)
        _, own_variance = middle(own.full_v, own.use_v, fit.loaded_v.track.scatter)
        belief = fit.loaded_v.stillness[final.model]
        variance += belief * (own_variance - (drop * fit.shared_log_ohm[final.model]) ** 2 - variance)
        alone += belief * (own_variance - alone)
    return full - drop, variance, np.nan_to_num(alone)


def _places(outcomes: Sequence[Outcome]) -> tuple[dict[tuple[str, int, bool], Floats], ...]:
    """Places and edges."""
    places: dict[tuple[str, int, bool], Floats] = {}
    edges: dict[tuple[str, int, bool], Floats] = {}
    for quantity in QUANTITIES:
        rises = quantity == "log_ohm"
        for kind in (False, True):
            bad, good = (0.1, 0.1) if kind else (BAD_SHARE, GOOD_SHARE)
            shares = (good, 0.5, 1 - bad) if rises else (bad, 0.5, 1 - good)
            own = [(o.horizon_days, o.z[o.sliding == kind]) for o in outcomes if o.quantity == quantity]
            pooled = np.concatenate([z for _, z in own]) if own else np.array([])
            for horizon in HORIZONS:
                at = [z for h, z in own if h == horizon]
                here = np.concatenate(at) if at else np.array([])
                worst = _bad_edge(here if rises else -here, kind)
                for table, wanted in ((places, (0.1, 0.5, 0.9)), (edges, shares)):
                    low, middle, high = _drawn(here, _drawn(pooled, PLAIN, wanted), wanted)
                    sound = TENTH if table is places else worst
                    best = TENTH * GOOD_EDGE[kind if table is edges else True]
                    least, most = (best, sound) if rises else (sound, best)
                    table[quantity, horizon, kind] = np.array([min(low, -least), middle, max(high, most)])
    return places, edges


def _bad_edge(worse: Floats, sliding: bool) -> float:
    """How far in the bad edge may be drawn, from how far `worse` the back-tests fell."""
    sound = not sliding and len(worse) >= MANY_TESTS and np.mean(worse > FAR) <= FEW_FAR
    return TENTH * (SOUND_EDGE if sound else 1.0)


def _drawn(z: Floats, towards: Floats, shares: Sequence[float]) -> Floats:
    """Quantiles of `z`, drawn towards what is already believed where there are few."""
    if not len(z):
        return towards
    trust = len(z) / (len(z) + FULL_TRUST)
    return np.asarray(towards + trust * (np.quantile(z, shares) - towards))
