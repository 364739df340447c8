"""The projections of one pack from its recorded checks.

Where the resistance limits hold at a stated temperature, each reading is first brought to it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from fleetcare.domain import limits, temperature
from fleetcare.domain.checks import CheckKind, RestBand
from fleetcare.domain.packs import PackModel, SiteRules
from fleetcare.domain.projection.answer import LeftOut, Projection, Reading
from fleetcare.domain.projection.line import project_line
from fleetcare.domain.wording import msg
from fleetcare.store.values import StoredCheck

RESISTANCE_FLOOR_OHM = 0.002
VOLT_FLOOR_V = 0.02
"""Smallest scatter believed: one or two counts of a 0.01 V meter at the bench's load (proposal)."""


def pack_projections(
    checks: Iterable[StoredCheck], model: PackModel, site: SiteRules, now: dt.datetime
) -> tuple[Projection, ...]:
    """Loaded resistance and rested-full volts of one pack, each projected or refused with its reason."""
    stored = list(checks)
    return (
        _resistance(stored, model, site, now.date()),
        _rested_full(stored, model, site, now.date()),
    )


def _reading(stored: StoredCheck, value: float, *, loaded: bool) -> Reading:
    check = stored.check
    return Reading(
        stored.record_id, check.done_at, value, check.kind.value, check.rest.value, check.meter,
        check.load_a if loaded else None, check.hold_s if loaded else None,
        None if check.bench_c is None else float(check.bench_c),
    )  # fmt: skip


def _resistance(stored: list[StoredCheck], model: PackModel, site: SiteRules, today: dt.date) -> Projection:
    rule = limits.resolve(model, site).resistance
    readings, left_out = [], []
    for one in stored:
        ohm = one.check.resistance_ohm
        if ohm is None or one.check.kind is not CheckKind.RESTED_FULL:
            continue
        value = float(ohm)
        if rule is not None and rule.at_c is not None and one.check.bench_c is not None:
            value = temperature.ohm_at(value, float(one.check.bench_c), float(rule.at_c))
        reading = _reading(one, value, loaded=True)
        if one.void_position is not None:
            left_out.append(LeftOut(reading, msg("projection.corrected")))
        elif one.doubt is not None:
            left_out.append(LeftOut(reading, msg("projection.in_doubt", meter=one.doubt.meter)))
        elif rule is not None and rule.at_c is not None and reading.bench_c is None:
            left_out.append(LeftOut(reading, msg("projection.no_temperature")))
        elif reading.bench_c is not None and reading.bench_c < float(site.loaded_minimum_c):
            left_out.append(LeftOut(reading, msg("projection.too_cold")))
        else:
            readings.append(reading)
    projection = project_line(
        readings,
        quantity="resistance_ohm",
        limit=None if rule is None else float(rule.pull_ohm),
        rises=True,
        as_of=today,
        needed=site.comparable_checks,
        resolution=RESISTANCE_FLOOR_OHM,
    )
    if rule is None and projection.projected:
        return _with(projection, left_out, sentence=msg("projection.no_baseline"))
    return _with(projection, left_out)


def _rested_full(stored: list[StoredCheck], model: PackModel, site: SiteRules, today: dt.date) -> Projection:
    resolved = limits.resolve(model, site)
    readings, left_out = [], []
    for one in stored:
        if one.check.kind is not CheckKind.RESTED_FULL:
            continue
        reading = _reading(one, float(one.check.rested_v), loaded=False)
        if one.void_position is not None:
            left_out.append(LeftOut(reading, msg("projection.corrected")))
        elif one.doubt is not None:
            left_out.append(LeftOut(reading, msg("projection.in_doubt", meter=one.doubt.meter)))
        elif one.check.rest in (RestBand.UNDER_15_MIN, RestBand.UNKNOWN):
            left_out.append(LeftOut(reading, msg("projection.rest_too_short")))
        else:
            readings.append(reading)
    projection = project_line(
        readings,
        quantity="rested_full_v",
        limit=float(resolved.volts("rested_full_pull").value),
        rises=False,
        as_of=today,
        needed=site.comparable_checks,
        resolution=VOLT_FLOOR_V,
    )
    return _with(projection, left_out)


def _with(projection: Projection, left_out: list[LeftOut], **changes: object) -> Projection:
    return replace(projection, left_out=projection.left_out + tuple(left_out), **changes)  # type: ignore[arg-type]
