"""What the fleet's own record teaches about its packs: learnt from a sample once a day, shown to the manager as it is."""

from __future__ import annotations

import datetime as dt
import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.domain.checks import CheckKind, RestBand
from fleetcare.domain.packs import PackModel
from fleetcare.domain.projection.calibration import Calibration, calibrate, uncalibrated
from fleetcare.domain.projection.fleet import FleetFit, learn_fleet
from fleetcare.domain.projection.visits import Models, Visits
from fleetcare.services.facts import FleetFacts
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredCheck

SAMPLE_PACKS = 100
"""Packs of each model, evenly chosen by code, that are read to learn from."""
REST_MINUTES = {
    RestBand.UNDER_15_MIN: 5.0,
    RestBand.MIN_15_60: 30.0,
    RestBand.HOURS_1_3: 100.0,
    RestBand.OVER_3_H: 300.0,
    RestBand.OVERNIGHT: 720.0,
    RestBand.UNKNOWN: 0.0,
}
"""A rest inside each band; an unknown rest takes no part in rested volts (common practice, no source)."""
KEPT = 8
ANEW = frozenset({
    "import_batch", "sheet_import", "batch_voided", "parked_settled", "check_corrected", "meter_found_out", "thing:pack_model",
})  # fmt: skip
"""Kinds of records after which what was learnt this morning may no longer be what the days before it teach."""
TAUGHT_BY = 2
"""Packs read less often than this say nothing about how a reading scatters or a pack changes, and are not learnt from."""


@dataclass(frozen=True)
class FleetOutlook:
    """The fit and calibration of one fleet as of one day, with what pack models and meters its indices mean.

    `fit` is None while no check is older than that day.
    """

    as_of: dt.date
    models: tuple[str, ...]
    meters: dict[str, int]
    fit: FleetFit | None
    calibration: Calibration


@dataclass
class _Kept:
    """An outlook with the position up to which nothing was recorded that it would have to be learnt anew for."""

    outlook: FleetOutlook
    position: int


_found: OrderedDict[object, _Kept] = OrderedDict()
_finding = threading.Lock()


def outlook_of(store: Store, view: View, facts: FleetFacts, now: dt.datetime, *, at_position: bool) -> FleetOutlook:
    """The outlook that holds for the day of `now`.

    Learnt from checks done before that day.  For the present it is kept until the day ends, or something is recorded
    about the days before it: an old book brought in or taken back, a paper sheet of last week, a correction, a meter
    found out, a pack model.  For a past position it is learnt from what was recorded by then.
    """
    key = (str(store.path), now.date(), view.position if at_position else None)
    with _finding:
        kept = _found.get(key)
        if kept is None or _taught_since(view, kept.position, now):
            kept = _found[key] = _Kept(_learn(view, facts, now), view.position)
            while len(_found) > KEPT:
                _found.popitem(last=False)
        kept.position = max(kept.position, view.position)
        _found.move_to_end(key)
        return kept.outlook


def _taught_since(view: View, position: int, now: dt.datetime) -> bool:
    """Whether anything after `position` says something of the days before that of `now`."""
    if view.position <= position:
        return False
    kinds = view.kinds_since(position)
    return bool(kinds & ANEW) or ("voltage_check" in kinds and view.checked_before(midnight_of(now), since=position))


def usable(stored: StoredCheck) -> bool:
    """A standing reading after a full charge: the only kind that a projection may rest on."""
    return stored.void_position is None and stored.doubt is None and stored.check.kind is CheckKind.RESTED_FULL


def visits_of(
    packs: Sequence[tuple[int, Iterable[StoredCheck]]], meters: dict[str, int], midnight: dt.datetime,
    *, which: Callable[[StoredCheck], bool] = usable,
) -> Visits:  # fmt: skip
    """Visits of packs, each given with its model's index; days count from `midnight`, the start of the as-of day.

    Only the checks that `which` lets through take part.
    """
    rows = []
    for number, (model, checks) in enumerate(packs):
        for stored in checks:
            if not which(stored):
                continue
            check = stored.check
            rows.append(
                (
                    number, model, meters.setdefault(check.meter, len(meters)),
                    (check.done_at - midnight).total_seconds() / 86_400.0, float(check.rested_v),
                    *(np.nan if v is None else float(v) for v in (check.loaded_v, check.load_a, check.bench_c)),
                    REST_MINUTES[check.rest],
                )
            )  # fmt: skip
    return Visits.from_rows(rows)


def midnight_of(now: dt.datetime) -> dt.datetime:
    """The start of the day of `now`, in its zone."""
    return now.replace(hour=0, minute=0, second=0, microsecond=0)


def models_of(found: dict[str, PackModel]) -> Models:
    """Pack models as the engine sees them, by code."""
    codes = sorted(found)
    return Models(
        tuple(codes),
        tuple(found[code].chemistry.value for code in codes),
        np.array([found[code].series_count for code in codes], dtype=float),
        np.array([float(found[code].capacity_ah) for code in codes]),
        np.array([float(found[code].full_v) for code in codes]),
        np.full(len(codes), np.nan),
    )


_fits: OrderedDict[bytes, tuple[FleetFit, Calibration]] = OrderedDict()


def _learn(view: View, facts: FleetFacts, now: dt.datetime) -> FleetOutlook:
    codes = sorted(facts.models)
    midnight = midnight_of(now)
    by_model: dict[str, list[str]] = {code: [] for code in codes}
    for pack in sorted(facts.packs):
        by_model[facts.packs[pack].model].append(pack)
    chosen = []
    for number, code in enumerate(codes):
        own = by_model[code]
        if own:
            places = np.unique(np.linspace(0, len(own) - 1, min(len(own), SAMPLE_PACKS)).astype(int))
            chosen += [(number, view.checks_of(own[place])) for place in places]
    meters: dict[str, int] = {}
    visits = visits_of(chosen, meters, midnight)
    visits = _often_enough(visits.where(visits.day < 0))
    models = models_of(facts.models)
    content = repr(models).encode() + b"".join(getattr(visits, name).tobytes() for name in visits.__dataclass_fields__)
    mark = hashlib.sha256(content).digest()
    if not len(visits):
        return FleetOutlook(now.date(), tuple(codes), meters, None, uncalibrated())
    if mark not in _fits:
        fit = learn_fleet(visits, models, max(len(meters), 1))
        _fits[mark] = (fit, calibrate(fit, visits, ("rested_full_v", "log_ohm")))
        while len(_fits) > KEPT:
            _fits.popitem(last=False)
    return FleetOutlook(now.date(), tuple(codes), meters, *_fits[mark])


def _often_enough(visits: Visits) -> Visits:
    """The visits of packs that were read more than once; all of them where no pack was.

    A pack read once leaves no scatter about its own level, and many of them let the few that tell something look wild.
    """
    if not len(visits):
        return visits
    often = np.bincount(visits.pack)[visits.pack] >= TAUGHT_BY
    return visits.where(often) if often.any() else visits
