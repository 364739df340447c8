"""Self-discharge of packs put away, against what is usual in the fleet; as of any position of the record."""

from __future__ import annotations

import datetime as dt
import math
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.domain import self_discharge
from fleetcare.domain.checks import CheckKind
from fleetcare.domain.packs import PackModel
from fleetcare.domain.projection.answer import FURTHEST_DAYS, Horizon, LeftOut, Projection, Reading
from fleetcare.domain.self_discharge import (
    LEAST_DAYS,
    LEAST_READINGS,
    NORMAL_PACKS,
    RATE_DOUBT,
    TENTH,
    Compared,
    Normal,
    StorageRate,
    StoredReading,
)
from fleetcare.domain.wording import Message, msg
from fleetcare.services.facts import FleetFacts
from fleetcare.store.kinds import packs_read_in_store
from fleetcare.store.store import View
from fleetcare.store.values import StoredCheck

ENGINE = "storage-1"
SAMPLE_PACKS = 100
"""Packs of each model, evenly chosen by code, that tell what is usual."""
AHEAD_DAYS = (28, 91)
FAN_DAYS = tuple(range(0, 92, 7))
KEPT = 8

Rates = dict[str, list[tuple[str, StorageRate, int]]]
"""By model code: each pack's code, rate and series count."""


@dataclass(frozen=True, slots=True)
class Stored:
    """What is known of one pack in store: its rate, what is usual, how they compare, and both in words.

    `reaches` is an 80 % range of days on which the low end of the storage band is reached (None: open, or no rate).
    """

    pack: str
    rate: StorageRate
    normal: Normal | None
    compared: Compared | None
    sentence: Message
    because: tuple[Message, ...]
    low_v: float | None
    reaches: tuple[dt.date | None, dt.date | None]

    @property
    def leaks(self) -> bool:
        """True where the pack loses volts faster than the fleet's usual, beyond doubt."""
        return self.compared is Compared.FASTER


def rate_of(checks: Sequence[StoredCheck], model: PackModel, now: dt.datetime) -> StorageRate:
    """The storage rate of one pack from its checks: standing readings that are not in doubt."""
    standing = [one for one in checks if one.void_position is None and one.doubt is None and one.check.done_at <= now]
    readings = [
        StoredReading(
            one.record_id, one.check.done_at, float(one.check.rested_v), one.check.meter, one.check.rest,
            None if one.check.bench_c is None else float(one.check.bench_c),
        )
        for one in standing
        if one.check.kind is CheckKind.STORED
    ]  # fmt: skip
    touched = [one.check.done_at for one in standing if one.check.kind is not CheckKind.STORED]
    return self_discharge.storage_rate(readings, touched, model.chemistry, model.series_count)


def stored_pack(
    view: View, facts: FleetFacts, code: str, now: dt.datetime, checks: Sequence[StoredCheck] | None = None,
    *, at_position: bool = False,
) -> Stored:  # fmt: skip
    """One pack in store, judged against the other packs of its model at a similar charge.

    `checks` are the pack's own when they are at hand already.  What is usual rests on readings of before today and
    is kept until the day ends; `at_position` says that the view is of the past and nothing kept may be used for it.
    """
    model = facts.models[facts.packs[code].model]
    rate = rate_of(view.checks_of(code) if checks is None else checks, model, now)
    if rate.refusal is not None:
        settles = msg("storage.what_is_missing", need=LEAST_READINGS, need_days=LEAST_DAYS)
        plateau = rate.refusal.key == "storage.plateau"
        return Stored(code, rate, None, None, rate.refusal, () if plateau else (settles,), None, (None, None))
    rates = fleet_rates(view, facts, now, at_position=at_position).get(model.code, [])
    others = [(own, series) for other, own, series in rates if other != code]
    near = rate.level_v / model.series_count
    normal = self_discharge.normal_of(others, near)
    compared = self_discharge.compare_rate(rate, normal, model.series_count)
    told = _told(rate, normal, compared, model.series_count, _near(others, near))
    low_v = None if model.storage_low_v is None else float(model.storage_low_v)
    sentence, reaches = _reach(rate, told, low_v)
    last = rate.used[-1]
    because = (
        msg("storage.not_capacity"),
        msg("storage.what_settles", meter=last.meter, usual_c=last.bench_c),
    )
    return Stored(code, rate, normal, compared, sentence, because, low_v, reaches)


def with_storage(
    projections: tuple[Projection, ...], view: View, facts: FleetFacts, code: str, now: dt.datetime,
    checks: Sequence[StoredCheck], *, at_position: bool = False,
) -> tuple[Projection, ...]:  # fmt: skip
    """`projections` with the volts in store behind them, for a pack that was ever read in store."""
    if not any(one.check.kind is CheckKind.STORED and one.void_position is None for one in checks):
        return projections
    found = stored_pack(view, facts, code, now, checks, at_position=at_position)
    return (*projections, storage_projection(found, now))


def _near(others: Sequence[tuple[StorageRate, int]], near_v: float) -> int:
    return sum(
        1
        for rate, series in others
        if rate.refusal is None and abs(rate.level_v / series - near_v) <= self_discharge.NEAR_V_PER_GROUP
    )


def _told(rate: StorageRate, normal: Normal | None, compared: Compared, series: int, near: int) -> Message:
    values: dict[str, object] = {
        "rate": f"{-rate.rate_v * 1000:.1f}", "error": f"{rate.error_v * 1000:.1f}", "count": len(rate.used),
        "span_days": round(rate.days),
    }  # fmt: skip
    if -rate.rate_v <= TENTH * rate.error_v and compared is not Compared.FASTER:
        return msg("storage.steady", **values)
    if normal is None:
        return msg("storage.no_normal", have=near, need=NORMAL_PACKS, **values)
    values |= {
        "normal": f"{-normal.middle_v * series * 1000:.1f}", "spread": f"{normal.spread_v * series * 1000:.1f}",
        "packs": normal.packs,
    }  # fmt: skip
    return msg(f"storage.{compared.value}", **values)


def _reach(
    rate: StorageRate, told: Message, low_v: float | None
) -> tuple[Message, tuple[dt.date | None, dt.date | None]]:
    if low_v is None:
        return told, (None, None)
    if rate.level_v <= low_v:
        return msg("storage.is_low", told=told, level_v=rate.level_v, low_v=low_v), (None, None)
    early, late = self_discharge.days_until(rate, low_v)
    if early > FURTHEST_DAYS:
        return told, (None, None)
    since = rate.used[-1].done_at.date()
    first = since + dt.timedelta(days=math.floor(early))
    if late is None or late > FURTHEST_DAYS:
        return msg("storage.reaches_open", told=told, low_v=low_v, early_date=first), (first, None)
    last = since + dt.timedelta(days=math.ceil(late))
    return msg("storage.reaches", told=told, low_v=low_v, early_date=first, late_date=last), (first, last)


_found: OrderedDict[object, Rates] = OrderedDict()
_finding = threading.Lock()


def fleet_rates(view: View, facts: FleetFacts, now: dt.datetime, *, at_position: bool = False) -> Rates:
    """The rates of a fixed sample of each model's packs, from readings of before the day of `now`."""
    key = (view.fleet_id, now.date(), view.position if at_position else None)
    with _finding:
        if key not in _found:
            _found[key] = _read_rates(view, facts, now.replace(hour=0, minute=0, second=0, microsecond=0))
            while len(_found) > KEPT:
                _found.popitem(last=False)
        _found.move_to_end(key)
        return _found[key]


def _read_rates(view: View, facts: FleetFacts, until: dt.datetime) -> Rates:
    by_model: dict[str, list[str]] = {}
    for code in sorted(facts.packs):
        by_model.setdefault(facts.packs[code].model, []).append(code)
    found: Rates = {}
    for model_code, own in by_model.items():
        model = facts.models[model_code]
        stored = packs_read_in_store(view, own)
        step = max(len(stored) / SAMPLE_PACKS, 1.0)
        chosen = [stored[int(number * step)] for number in range(min(len(stored), SAMPLE_PACKS))]
        rates = [(code, rate_of(view.checks_of(code), model, until), model.series_count) for code in chosen]
        found[model_code] = [one for one in rates if one[1].refusal is None]
    return found


def storage_projection(found: Stored, now: dt.datetime) -> Projection:
    """The same as a projection of its own quantity, for chart, sheet and command."""
    rate = found.rate
    used = tuple(_reading(one) for one in rate.used)
    left = tuple(LeftOut(_reading(one), why) for one, why in sorted(rate.left_out, key=lambda pair: pair[0].done_at))
    base = Projection(
        "stored_v", now.date(), len(used), LEAST_READINGS, found.sentence, ENGINE, found.low_v, used=used, left_out=left,
        because=found.because,
    )  # fmt: skip
    if rate.refusal is not None:
        return base
    since = (now - rate.used[-1].done_at).total_seconds() / 86_400
    level = rate.level_v + rate.rate_v * since
    doubt = math.hypot(rate.error_v, RATE_DOUBT * rate.rate_v)

    def at(days: float) -> tuple[float, float, float]:
        middle = level + rate.rate_v * days
        half = TENTH * math.hypot(self_discharge.REPEAT_V, doubt * (since + days))
        return middle - half, middle, middle + half

    early, late = found.reaches
    return Projection(
        "stored_v", now.date(), len(used), LEAST_READINGS, found.sentence, ENGINE, found.low_v,
        projected=True, level=level, slope_per_30d=rate.rate_v * 30,
        horizons=tuple(Horizon(d, *at(d), _below(at(d), found.low_v)) for d in AHEAD_DAYS),
        fan=tuple((d, *at(d)) for d in FAN_DAYS), crossing_p10=early, crossing_p90=late,
        already_beyond=found.low_v is not None and level <= found.low_v,
        used=used, left_out=left, because=found.because,
    )  # fmt: skip


def _below(tenths: tuple[float, float, float], low_v: float | None) -> float:
    if low_v is None:
        return 0.0
    low, middle, high = tenths
    spread = (high - low) / 2 / TENTH
    return 0.5 * math.erfc((middle - low_v) / spread / math.sqrt(2))


def _reading(one: StoredReading) -> Reading:
    return Reading(
        one.record_id, one.done_at, one.volts, CheckKind.STORED.value, one.rest.value, one.meter, bench_c=one.bench_c
    )
