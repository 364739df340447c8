"""How fast a pack put away loses volts, from its stored readings alone.

A leak shows only over weeks and against what is usual in the fleet: by one meter, at similar temperatures, with
nothing charged in between.  Never mixed with readings after a full charge, which show where a charger stopped.
"""

from __future__ import annotations

import datetime as dt
import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.checks import RestBand
from fleetcare.domain.packs import Chemistry
from fleetcare.domain.wording import Message, msg

LEAST_READINGS = 3
LEAST_DAYS = 21
"""A rate needs this many readings over this many days (proposal from simulated fleets: one pair a week apart carries
± 15 mV a day)."""
SIMILAR_C = 5.0
"""Readings further than this from the run's median bench temperature are left out (proposal)."""
REPEAT_V = 0.02
"""Least standard deviation of one stored reading by one meter (proposal)."""
CHARGED_V_PER_GROUP = 0.015
"""A rise of more than this between two stored readings means that the pack was charged in between (proposal)."""
NORMAL_PACKS = 5
"""What is usual is known from this many other packs on (proposal)."""
NEAR_V_PER_GROUP = 0.15
"""Only packs stored at a similar charge are compared: the same leak shows 4 mV a day near full and 15 half full."""
LEAST_SPREAD_V = 0.0001
"""Packs of one model differ by at least this much a day and group (proposal)."""
PLATEAU_V = (3.20, 3.40)
"""Per group, where the volts of LFP hardly move with charge (published half-cell data, doi 10.1149/2.053304jes)."""
FAR_OFF = 4.0
TENTH = 1.2815515655446004
ONE_IN_TWENTY = 1.645
RATE_DOUBT = 0.3
"""Share of the rate by which it may change as the volts fall (the volts of a charge are not a straight line)."""
_RESTED = (RestBand.OVER_3_H, RestBand.OVERNIGHT)


def on_plateau(pack_v: float, chemistry: Chemistry, series: int) -> bool:
    """Whether rested volts of a pack of `series` groups hardly show its charge; both ends belong to the plateau, exactly."""
    low_v, high_v = (Decimal(repr(end)) * series for end in PLATEAU_V)
    return chemistry is Chemistry.LFP and low_v <= Decimal(repr(float(pack_v))) <= high_v


class Compared(StrEnum):
    """How a rate stands against what is usual."""

    USUAL = "usual"
    FASTER = "faster"
    TOO_NEAR = "too_near"
    NO_NORMAL = "no_normal"


@dataclass(frozen=True, slots=True)
class StoredReading:
    """One reading of a pack put away."""

    record_id: str
    done_at: dt.datetime
    volts: float
    meter: str
    rest: RestBand
    bench_c: float | None


@dataclass(frozen=True, slots=True)
class StorageRate:
    """Volts a day (falling is negative) with its standard uncertainty, or `refusal` says why there is none.

    `level_v` is the volts on the line at the newest reading; `used` are oldest first.
    """

    used: tuple[StoredReading, ...] = ()
    left_out: tuple[tuple[StoredReading, Message], ...] = ()
    days: float = 0.0
    level_v: float = math.nan
    rate_v: float = math.nan
    error_v: float = math.nan
    refusal: Message | None = None


@dataclass(frozen=True, slots=True)
class Normal:
    """What packs of one model usually lose in a day, in volts of a cell group: middle, spread, how many packs."""

    middle_v: float
    spread_v: float
    packs: int


def storage_rate(
    readings: Sequence[StoredReading], touched: Sequence[dt.datetime], chemistry: Chemistry, series: int
) -> StorageRate:
    """The rate of the newest time in store.

    `touched` are the moments of any other check: whoever read the pack full or as found had it in use.
    """
    ordered = sorted(readings, key=lambda one: (one.done_at, one.record_id))
    run, left = _newest_run(ordered, touched)
    run, left = _like(run, left)
    run, left = _since_charged(run, left, series)
    if not run:
        return StorageRate((), tuple(left), refusal=msg("storage.too_few", have=0, need=LEAST_READINGS))
    days = (run[-1].done_at - run[0].done_at).total_seconds() / 86_400
    middle_v = statistics.median(one.volts for one in run)
    per_group = middle_v / series
    if on_plateau(middle_v, chemistry, series):
        why = msg("storage.plateau", group_v=per_group, low_v=PLATEAU_V[0], high_v=PLATEAU_V[1])
        return StorageRate(tuple(run), tuple(left), days, refusal=why)
    if len(run) < LEAST_READINGS:
        why = msg("storage.too_few", have=len(run), need=LEAST_READINGS)
        return StorageRate(tuple(run), tuple(left), days, refusal=why)
    if days < LEAST_DAYS:
        why = msg("storage.too_short", span_days=int(days), need_days=LEAST_DAYS)
        return StorageRate(tuple(run), tuple(left), days, refusal=why)
    kept, left = _without_slips(run, left)
    days = (kept[-1].done_at - kept[0].done_at).total_seconds() / 86_400
    if len(kept) < LEAST_READINGS or days < LEAST_DAYS:
        why = msg("storage.too_few", have=len(kept), need=LEAST_READINGS)
        return StorageRate(tuple(kept), tuple(left), days, refusal=why)
    slope, level, error = _line(kept)
    return StorageRate(tuple(kept), tuple(left), days, level, slope, error)


def _newest_run(
    ordered: Sequence[StoredReading], touched: Sequence[dt.datetime]
) -> tuple[list[StoredReading], list[tuple[StoredReading, Message]]]:
    """The readings since the pack was last in use; the earlier ones with that reason."""
    last = max(touched, default=None)
    run = [one for one in ordered if last is None or one.done_at > last]
    return run, [(one, msg("storage.in_use_since")) for one in ordered if last is not None and one.done_at <= last]


def _since_charged(
    run: list[StoredReading], left: list[tuple[StoredReading, Message]], series: int
) -> tuple[list[StoredReading], list[tuple[StoredReading, Message]]]:
    """The readings since the volts last rose and stayed up; a single reading out of line is no charge."""
    room, first = CHARGED_V_PER_GROUP * series, 0
    for number in range(1, len(run)):
        before = max(one.volts for one in run[max(first, number - 2) : number])
        if all(one.volts - before > room for one in run[number : number + 2]):
            first = number
    return run[first:], [*left, *((one, msg("storage.charged_since")) for one in run[:first])]


def _like(
    run: list[StoredReading], left: list[tuple[StoredReading, Message]]
) -> tuple[list[StoredReading], list[tuple[StoredReading, Message]]]:
    """Rested readings of the meter used most, at temperatures near their median."""
    rested = [one for one in run if one.rest in _RESTED]
    left = left + [(one, msg("storage.rest_too_short")) for one in run if one.rest not in _RESTED]
    if not rested:
        return [], left
    count = Counter(one.meter for one in rested)
    meter = max(rested, key=lambda one: (count[one.meter], one.done_at)).meter
    left += [(one, msg("storage.other_meter", meter=meter)) for one in rested if one.meter != meter]
    same = [one for one in rested if one.meter == meter]
    left += [(one, msg("storage.no_temperature")) for one in same if one.bench_c is None]
    known = [one for one in same if one.bench_c is not None]
    if not known:
        return [], left
    usual = statistics.median(one.bench_c for one in known if one.bench_c is not None)
    good = []
    for one in known:
        if one.bench_c is not None and abs(one.bench_c - usual) <= SIMILAR_C:
            good.append(one)
        else:
            left.append((one, msg("storage.other_temperature", usual_c=usual)))
    return good, left


def _without_slips(
    run: list[StoredReading], left: list[tuple[StoredReading, Message]]
) -> tuple[list[StoredReading], list[tuple[StoredReading, Message]]]:
    """Readings near the robust line; one far off it is listed to be measured again."""
    if len(run) < LEAST_READINGS + 1:
        return run, left
    slope = _median_slope(run)
    days = [_days(run[0], one) for one in run]
    base = statistics.median(one.volts - slope * day for one, day in zip(run, days, strict=True))
    off = [one.volts - base - slope * day for one, day in zip(run, days, strict=True)]
    scatter = max(1.4826 * statistics.median(abs(x) for x in off), REPEAT_V)
    good = []
    for one, distance in zip(run, off, strict=True):
        if abs(distance) <= FAR_OFF * scatter:
            good.append(one)
        else:
            left = [*left, (one, msg("projection.far_off", off=f"{abs(distance) / scatter:.0f}"))]
    return good, left


def _days(first: StoredReading, one: StoredReading) -> float:
    return (one.done_at - first.done_at).total_seconds() / 86_400


def _median_slope(run: Sequence[StoredReading]) -> float:
    """The median of the slopes between all pairs (Theil and Sen), in volts a day."""
    slopes = []
    for i, a in enumerate(run):
        for b in run[i + 1 :]:
            apart = _days(a, b)
            if apart > 0:
                slopes.append((b.volts - a.volts) / apart)
    return statistics.median(slopes) if slopes else 0.0


def _line(run: Sequence[StoredReading]) -> tuple[float, float, float]:
    """Slope, volts at the newest reading, and the slope's standard uncertainty."""
    slope = _median_slope(run)
    days = [_days(run[0], one) for one in run]
    middle = statistics.fmean(days)
    base = statistics.median(one.volts - slope * day for one, day in zip(run, days, strict=True))
    rest = [one.volts - base - slope * day for one, day in zip(run, days, strict=True)]
    scatter = math.sqrt(sum(x * x for x in rest) / (len(run) - 2))
    square = sum((day - middle) ** 2 for day in days)
    return slope, base + slope * days[-1], max(scatter, REPEAT_V) / math.sqrt(square)


def normal_of(others: Sequence[tuple[StorageRate, int]], near_v: float) -> Normal | None:
    """What is usual among `others` (rate, series count) stored near `near_v` a group; None from too few packs."""
    found = [
        rate.rate_v / series
        for rate, series in others
        if rate.refusal is None and abs(rate.level_v / series - near_v) <= NEAR_V_PER_GROUP
    ]
    if len(found) < NORMAL_PACKS:
        return None
    middle = statistics.median(found)
    spread = max(1.4826 * statistics.median(abs(x - middle) for x in found), LEAST_SPREAD_V)
    return Normal(middle, spread, len(found))


def compare_rate(rate: StorageRate, normal: Normal | None, series: int) -> Compared:
    """Faster only when it is so even with the rate's own uncertainty; between the two it is too near to call."""
    if normal is None:
        return Compared.NO_NORMAL
    beyond = normal.middle_v * series - rate.rate_v
    usual = 2 * normal.spread_v * series
    if beyond <= usual:
        return Compared.USUAL
    return Compared.FASTER if beyond > usual + ONE_IN_TWENTY * rate.error_v else Compared.TOO_NEAR


def days_until(rate: StorageRate, low_v: float) -> tuple[float, float | None]:
    """Days after the newest reading until `low_v`: an 80 % range, its late end open (None) where the fall is unsure."""
    spread = math.hypot(rate.error_v, RATE_DOUBT * rate.rate_v)
    fast, slow = rate.rate_v - TENTH * spread, rate.rate_v + TENTH * spread
    above = max(rate.level_v - low_v, 0.0)
    early = above / -fast if fast < 0 else math.inf
    return early, above / -slow if slow < 0 else None
