"""Trips counted against pack, vehicle and charger, and when a pack may be reset.

A pack that trips in two vehicles is at fault itself; a vehicle in which two packs trip is grounded,
and the packs are not blamed for it.  Days are counted by the date on the wall where the trip
happened, and both ends of the window count.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain import judging
from fleetcare.domain.added_later import added_later
from fleetcare.domain.checks import HoldClass, Trip, TripCause
from fleetcare.domain.packs import Level, SiteRules
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg

PARTNERS_THAT_BLAME = 2
"""Two packs in one vehicle, two vehicles of one pack, two packs behind one charger (common practice, no source)."""

SECOND_TRIP = 2
"""From this trip of the window on, a reset needs what was mended and a loaded reading before release (proposal)."""

NEVER_RESET = (TripCause.MOISTURE, TripCause.OVER_TEMPERATURE)
"""Causes after which nobody in the fleet resets a pack."""


@dataclass(frozen=True, slots=True)
class TripJudged:
    """A later judgement of the trip of record `trip`; the newest one stands, the trip itself stays as recorded.

    `judged_by` is the code of the person whose judgement it is.  `found_outside` names what was found
    outside the pack; without it a short circuit is never cleared.  `mended` says what was mended, or what
    is different from the trip before; without it a second trip in the window is not reset.
    """

    trip: str
    pack: str
    vehicle: str | None
    done_at: dt.datetime
    cause: TripCause
    explained: bool
    judged_by: str
    reason: str
    found_outside: str = ""
    mended: str = added_later("")


@dataclass(frozen=True, slots=True)
class Reset:
    """A pack was reset after the trip of record `trip`, in the way the maker describes."""

    pack: str
    trip: str
    done_at: dt.datetime
    method: str
    worked: bool
    remark: str = ""
    procedure: str = added_later("")


@dataclass(frozen=True, slots=True)
class TripSeen:
    """A trip as it stands today: with the newest judgement of it and the last charger, "" when unknown.

    `reported_by` entered it; `judged_by` said why it tripped, "" while nobody has.
    """

    record_id: str
    pack: str
    vehicle: str | None
    done_at: dt.datetime
    cause: TripCause
    explained: bool
    judged_by: str
    charger: str = ""
    found_outside: str = ""
    reset: bool = False
    mended: str = ""
    reported_by: str = ""
    reason: str = ""

    @property
    def day(self) -> dt.date:
        """The date on the wall where it happened."""
        return self.done_at.date()


def first_day(until: dt.date, days: int) -> dt.date:
    """The first day of a window of `days` days that ends on `until`; a trip on that day still counts."""
    return until - dt.timedelta(days=days)


def within(trips: Iterable[TripSeen], until: dt.date, days: int) -> list[TripSeen]:
    """The trips of the window that ends on `until`, both ends included, oldest first."""
    first = first_day(until, days)
    return sorted((t for t in trips if first <= t.day <= until), key=lambda t: t.done_at)


def pack_ruling(trip: TripSeen, known: Sequence[TripSeen], site: SiteRules) -> Ruling | None:
    """Whether `trip` holds its pack: by its cause, by the count in any window that it stands in, or by the cross-reading.

    `known` are all trips of the fleet, this one included.  A trip entered late counts in the windows of
    the trips that came after it.
    """
    mine = [t for t in known if t.pack == trip.pack]
    last = trip.day + dt.timedelta(days=site.trip_window_days)
    for end in sorted((t for t in mine if trip.day <= t.day <= last), key=lambda t: t.done_at):
        window = [_plain(t) for t in within(mine, end.day, site.trip_window_days)]
        ruling = judging.judge_trips(_plain(trip), window, site)
        if ruling is None and (reading := tally("pack", trip.pack, mine, end.day, site).reading) is not None:
            ruling = Ruling(HoldClass.FAULT, reading)
        if ruling is not None:
            return ruling
    return None


def _plain(trip: TripSeen) -> Trip:
    return Trip(trip.pack, trip.vehicle, trip.done_at, trip.cause, trip.explained)


@dataclass(frozen=True, slots=True)
class Tally:
    """The trips of one pack, vehicle or charger in the window, and what the cross-reading says of it.

    `partners` are the other things that share its trips: vehicles of a pack, packs of a vehicle or of a
    charger.  `reading` is None while nothing stands out.
    """

    subject_class: str
    subject: str
    trips: tuple[TripSeen, ...]
    partners: tuple[str, ...]
    reading: Message | None

    @property
    def unexplained(self) -> int:
        """How many of them nobody has explained."""
        return sum(not t.explained for t in self.trips)


def tally(subject_class: str, subject: str, trips: Sequence[TripSeen], until: dt.date, site: SiteRules) -> Tally:
    """Count the trips of one subject in the window that ends on `until`."""
    mine = [t for t in within(trips, until, site.trip_window_days) if getattr(t, subject_class) == subject]
    other = "vehicle" if subject_class == "pack" else "pack"
    partners = tuple(sorted({code for t in mine if (code := getattr(t, other))}))
    reading = None
    if len(partners) >= PARTNERS_THAT_BLAME:
        reading = msg(
            f"tally.{subject_class}",
            subject=subject,
            partners=", ".join(partners),
            number=len(partners),
            window_days=site.trip_window_days,
        )
    return Tally(subject_class, subject, tuple(mine), partners, reading)


def tallies(trips: Sequence[TripSeen], until: dt.date, site: SiteRules) -> tuple[Tally, ...]:
    """Every pack, vehicle and charger with a trip in the window; what stands out first, then by count."""
    subjects: dict[str, set[str]] = defaultdict(set)
    for trip in within(trips, until, site.trip_window_days):
        for subject_class in ("pack", "vehicle", "charger"):
            code = getattr(trip, subject_class)
            if code:
                subjects[subject_class].add(code)
    found = [tally(cls, code, trips, until, site) for cls, codes in subjects.items() for code in codes]
    found.sort(key=lambda t: (t.reading is None, -len(t.trips), -t.unexplained, t.subject_class, t.subject))
    return tuple(found)


def shared_rulings(trip: TripSeen, known: Sequence[TripSeen], site: SiteRules) -> dict[str, Ruling]:
    """What the cross-reading asks for after `trip`: the vehicle grounded, the charger held.

    Two packs that tripped in one vehicle ground it.  A charger is held when two packs behind it tripped
    while charging; other trips behind one charger are shown, not held.
    """
    found: dict[str, Ruling] = {}
    last = trip.day + dt.timedelta(days=site.trip_window_days)
    ends = sorted({t.day for t in known if trip.day <= t.day <= last} | {trip.day})
    for end in ends:
        if trip.vehicle and "vehicle" not in found:
            reading = tally("vehicle", trip.vehicle, known, end, site).reading
            if reading is not None:
                found["vehicle"] = Ruling(HoldClass.FAULT, reading)
        if trip.charger and "charger" not in found:
            charging = [t for t in known if t.cause is TripCause.OVER_VOLTAGE_CHARGE]
            reading = tally("charger", trip.charger, charging, end, site).reading
            if reading is not None:
                found["charger"] = Ruling(HoldClass.FAULT, reading)
    return found


@dataclass(frozen=True, slots=True)
class Allowance:
    """Whether a pack may be reset now, with the rule, the count and the dates.

    `trip` is the trip that the reset would follow, or None where there is none.
    """

    allowed: bool
    statement: Message
    trip: TripSeen | None
    count: int
    unexplained: int
    days: tuple[dt.date, ...]


@dataclass(frozen=True, slots=True)
class ResetFacts:
    """What the reset rule looks at besides the trips."""

    level: Level
    method: str
    danger: bool
    rested_v: Decimal | None
    rested_at: dt.datetime | None
    low_hold_v: Decimal


def allowance(pack: str, trips: Sequence[TripSeen], facts: ResetFacts, site: SiteRules, today: dt.date) -> Allowance:
    """Whether `pack` may be reset on `today`; the first rule that refuses speaks.

    Danger, heat and water: never.  A short circuit: not before its cause is found outside the pack.
    Reaching a count refuses.  An unexplained trip waits for its cause.  A second trip of the window is reset
    only where both are explained and it is on record what was mended or is different this time.  After
    under-voltage the rested reading since the trip must be at or above the hold limit.
    """
    mine = within([t for t in trips if t.pack == pack], today, site.trip_window_days)
    newest = mine[-1] if mine else None
    unexplained = sum(not t.explained for t in mine)
    days = tuple(t.day for t in mine)
    refused = _refusal(pack, mine, unexplained, facts, site)
    statement = refused or msg(
        "reset.allowed" if len(mine) < SECOND_TRIP else "reset.allowed_again",
        pack=pack,
        count=len(mine),
        rule=site.trips_any_pull,
        window_days=site.trip_window_days,
        when_date=days,
        method=facts.method,
    )
    return Allowance(refused is None, statement, newest, len(mine), unexplained, days)


def _refusal(pack: str, mine: list[TripSeen], unexplained: int, facts: ResetFacts, site: SiteRules) -> Message | None:
    values = {"pack": pack, "window_days": site.trip_window_days, "when_date": tuple(t.day for t in mine)}
    if facts.danger:
        return msg("reset.danger", pack=pack)
    if not mine:
        return msg("reset.no_trip", pack=pack, window_days=site.trip_window_days)
    newest = mine[-1]
    never = next((t for t in mine if t.cause in NEVER_RESET), None)
    if never is not None:
        return msg("reset.never", pack=pack, cause=_cause(never), on_date=never.day)
    short = next((t for t in mine if t.cause is TripCause.SHORT_CIRCUIT and not _found_outside(t)), None)
    if short is not None:
        return msg("reset.short", pack=pack, on_date=short.day)
    if len(mine) >= site.trips_any_pull:
        return msg("reset.any_count", count=len(mine), rule=site.trips_any_pull, **values)
    if unexplained >= site.trips_unexplained_pull:
        return msg("reset.unexplained_count", count=unexplained, rule=site.trips_unexplained_pull, **values)
    if newest.reset:
        return msg("reset.done_already", pack=pack, on_date=newest.day)
    if not newest.explained:
        return msg("reset.unexplained", pack=pack, on_date=newest.day)
    if newest.cause is TripCause.OVER_VOLTAGE_CHARGE and sum(t.cause is newest.cause for t in mine) > 1:
        return msg("reset.charge_again", pack=pack, window_days=site.trip_window_days)
    if len(mine) >= SECOND_TRIP:
        earlier = next((t for t in mine if not t.explained), None)
        if earlier is not None:
            return msg("reset.earlier_unexplained", on_date=earlier.day, **values)
        if not newest.mended.strip():
            return msg("reset.not_mended", count=len(mine), rule=site.trips_any_pull, **values)
    if newest.cause is TripCause.UNDER_VOLTAGE:
        since = facts.rested_at is not None and facts.rested_at >= newest.done_at
        if not since or facts.rested_v is None:
            return msg("reset.measure_first", pack=pack, limit_v=facts.low_hold_v)
        if facts.rested_v < facts.low_hold_v:
            return msg("reset.too_low", pack=pack, rested_v=facts.rested_v, limit_v=facts.low_hold_v)
    if not facts.method.strip():
        return msg("reset.no_method", pack=pack)
    if not facts.level.covers(Level.MAY_RELEASE):
        return msg("reset.level", pack=pack)
    return None


def _found_outside(trip: TripSeen) -> bool:
    return trip.explained and bool(trip.found_outside.strip())


def _cause(trip: TripSeen) -> Message:
    return msg(f"trip_cause.{trip.cause.value}")
