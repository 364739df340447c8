"""Why a projection says what it says: readings used and not, corrections, level, slope, and what would change it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.projection.answer import LeftOut, Projection, Reading
from fleetcare.domain.wording import Message, msg
from fleetcare.services.suspects import is_episode, is_suspicion, suspects_of, what_to_do

BENDS_BY, BENDS_DAYS, STRAIGHT_DAYS = 1.2, 60, 3650
"""A straight line that is later by this share and so many days is explained; beyond the last its month is not told (proposal)."""


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading in the list behind a projection; `told` says why it is not used and what to do, or is None."""

    reading: Reading
    quantity: str
    used: bool
    suspect: bool
    why: Message | None = None
    what_to_do: Message | None = None


def reading_lines(projection: Projection) -> tuple[ReadingLine, ...]:
    """Every reading of the projection's quantity, newest first."""
    questioned = {one.reading.check_id: one for one in projection.in_question}
    used = [_used(one, projection, questioned.get(one.check_id)) for one in projection.used]
    left = [_left(one, projection.quantity) for one in projection.left_out]
    return tuple(sorted([*used, *left], key=lambda one: (one.reading.done_at, one.reading.check_id), reverse=True))


def _used(reading: Reading, projection: Projection, found: LeftOut | None) -> ReadingLine:
    """A reading that takes part; one of an episode that went back cannot be measured again, and no step is named."""
    if found is None:
        return ReadingLine(reading, projection.quantity, True, False)
    do = None if is_episode(found) else what_to_do(found, projection.quantity)
    return ReadingLine(reading, projection.quantity, True, True, found.why, do)


def _left(one: LeftOut, quantity: str) -> ReadingLine:
    suspect = is_suspicion(one)
    return ReadingLine(one.reading, quantity, False, suspect, one.why, what_to_do(one, quantity) if suspect else None)


def reasons(projection: Projection, limit_source: str = "") -> tuple[Message, ...]:
    """The projection's reasons in sentences, in the order in which a person asks; `limit_source` says where its limit
    comes from, where that is known."""
    return (
        *_counts(projection),
        *_level(projection, limit_source),
        *projection.because,
        *what_would_change(projection),
    )


def _counts(projection: Projection) -> tuple[Message, ...]:
    left = len(projection.left_out)
    if not left:
        return (msg("why.counts_all", used=len(projection.used)),)
    return (msg("why.counts", used=len(projection.used), left=left),)


def _level(projection: Projection, limit_source: str) -> tuple[Message, ...]:
    if not projection.projected or projection.level is None or projection.slope_per_30d is None:
        return ()
    unit = "ohm" if projection.quantity == "resistance_ohm" else "v"
    values = {f"level_{unit}": projection.level, f"change_{unit}": projection.slope_per_30d}
    found = [msg(f"why.level_{unit}", **values)]
    if projection.limit is not None:
        source = msg("why.pull_limit_from", source=limit_source) if limit_source else msg("why.pull_limit")
        if projection.quantity == "stored_v":
            source = msg("why.storage_limit")
        found.append(msg(f"why.limit_{unit}", **{f"limit_{unit}": projection.limit}, source=source))
    return (*found, *_bends(projection))


def _bends(projection: Projection) -> tuple[Message, ...]:
    """Why level and slope alone give a later day than the likely one, where a reader who divides would wonder."""
    likely, limit, level = projection.crossing_p50, projection.limit, projection.level
    slope, days_ahead = projection.slope_per_30d, max((one.days for one in projection.horizons), default=0)
    if likely is None or limit is None or level is None or not slope or projection.quantity == "stored_v":
        return ()
    straight, told = (limit - level) / slope * 30, (likely - projection.as_of).days
    if straight < BENDS_BY * told or straight - told < BENDS_DAYS:
        return ()
    if straight > STRAIGHT_DAYS:
        return (msg("why.bends_far", window_days=days_ahead),)
    alone = projection.as_of + dt.timedelta(days=round(straight))
    return (msg("why.bends", window_days=days_ahead, alone_month=f"{alone:%b %Y}"),)


def what_would_change(projection: Projection) -> tuple[Message, ...]:
    """What a person could do that would alter or narrow the answer."""
    found = []
    short = projection.needed_checks - projection.comparable_checks
    if short > 0 and projection.quantity != "stored_v":
        key = "why.needs_loaded_more" if projection.quantity == "resistance_ohm" else "why.needs_more"
        found.append(msg(key, count=short))
    unknown = sum(1 for one in projection.used if one.bench_c is None)
    if unknown:
        found.append(msg("why.needs_temperature", count=unknown))
    open_ = [one for one in suspects_of("", (projection,)) if one.settled_at is None]
    if open_:
        found.append(msg("why.remeasure", count=len(open_)))
    meters = {one.meter for one in projection.used}
    if projection.projected and len(meters) == 1:
        found.append(msg("why.one_meter", meter=meters.pop()))
    return tuple(found)
