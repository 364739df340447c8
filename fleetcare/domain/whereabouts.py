"""Which pack was in which vehicle on which day: from sightings, and never further than they reach.

A pack is *found* somewhere; when it moved is known only if somebody noted it.  Between two sightings
that do not agree lies a window of doubt, and no date inside it is invented.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Sighting:
    """A pack was at `vehicle` (None: not in a vehicle, or nobody knew) at `at`.

    `record_id` is the entry that says so; `position` orders entries of the same moment.
    """

    pack: str
    vehicle: str | None
    at: dt.datetime
    position: int
    record_id: str = ""


class Sureness(StrEnum):
    """How sure the record is that a pack was in the vehicle on the day."""

    SEEN = "seen"
    BETWEEN = "between"
    BEFORE = "before"
    AFTER = "after"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A pack that was, or may have been, in the vehicle on the day.

    SEEN: found there that day.  BETWEEN: found there before and after, no other place noted between.
    BEFORE: last found there before the day (and later elsewhere, or not since).  AFTER: found there
    later, elsewhere or nowhere before.  `before` and `after` are the sightings around the day.
    """

    pack: str
    sureness: Sureness
    before: dt.datetime | None = None
    after: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class DayAnswer:
    """The packs of a vehicle on a day.  `unknown` is True where another pack may have been in it."""

    vehicle: str
    day: dt.date
    candidates: tuple[Candidate, ...]
    unknown: bool

    @property
    def seen(self) -> tuple[str, ...]:
        """Packs that were found in the vehicle on that day."""
        return tuple(one.pack for one in self.candidates if one.sureness is Sureness.SEEN)


@dataclass(frozen=True, slots=True)
class Window:
    """Between `last_seen` in one place and `first_seen` in another a pack moved; when is not known.

    `record_id` is the entry that found it in the new place.
    """

    pack: str
    left: str | None
    reached: str | None
    last_seen: dt.datetime
    first_seen: dt.datetime
    record_id: str = ""


def in_vehicle_on(
    sightings: Mapping[str, Sequence[Sighting]], vehicle: str, bays: int, start: dt.datetime, end: dt.datetime
) -> DayAnswer:
    """What the record knows of `vehicle` between `start` (inclusive) and `end` (exclusive).

    `sightings` holds for each pack everything known of it, in any order.  A pack is named as seen
    only when it was found there in that time; everything else leaves "or unknown" open.
    """
    found = []
    for pack, known in sightings.items():
        candidate = _candidate(pack, sorted(known, key=_order), vehicle, start, end)
        if candidate is not None and not _crowded_out(candidate, sightings, vehicle, bays, start, end):
            found.append(candidate)
    found.sort(key=lambda one: (list(Sureness).index(one.sureness), one.pack))
    seen = sum(one.sureness is Sureness.SEEN for one in found)
    return DayAnswer(vehicle, start.date(), tuple(found), seen < bays)


def _order(sighting: Sighting) -> tuple[dt.datetime, int]:
    return sighting.at, sighting.position


def _candidate(
    pack: str, known: Sequence[Sighting], vehicle: str, start: dt.datetime, end: dt.datetime
) -> Candidate | None:
    within = [s for s in known if start <= s.at < end]
    here = [s.at for s in within if s.vehicle == vehicle]
    if here:
        return Candidate(pack, Sureness.SEEN, here[0], here[-1])
    before = next((s for s in reversed(known) if s.at < start), None)
    after = next((s for s in known if s.at >= end), None)
    was = before.at if before is not None and before.vehicle == vehicle else None
    comes = after.at if after is not None and after.vehicle == vehicle else None
    if was is not None and comes is not None and not within:
        return Candidate(pack, Sureness.BETWEEN, was, comes)
    if was is not None:
        return Candidate(pack, Sureness.BEFORE, was, None)
    return Candidate(pack, Sureness.AFTER, None, comes) if comes is not None else None


def _crowded_out(
    one: Candidate,
    sightings: Mapping[str, Sequence[Sighting]],
    vehicle: str,
    bays: int,
    start: dt.datetime,
    end: dt.datetime,
) -> bool:
    """True when other packs filled the bays between the day and the only sighting of this one there."""
    if one.sureness is Sureness.BEFORE and one.before is not None:
        first, last = one.before, start
    elif one.sureness is Sureness.AFTER and one.after is not None:
        first, last = end, one.after
    else:
        return False
    others = {s.pack for pack, known in sightings.items() if pack != one.pack for s in known
              if s.vehicle == vehicle and first < s.at < last}  # fmt: skip
    return len(others) >= bays


def windows_of_doubt(known: Sequence[Sighting]) -> tuple[Window, ...]:
    """The times in which one pack changed its place and nobody noted when, oldest first.

    Two sightings at the same moment are a note of the move itself and leave no window.
    """
    ordered = sorted(known, key=_order)
    return tuple(
        Window(one.pack, one.vehicle, other.vehicle, one.at, other.at, other.record_id)
        for one, other in itertools.pairwise(ordered)
        if one.vehicle != other.vehicle and one.at < other.at
    )
