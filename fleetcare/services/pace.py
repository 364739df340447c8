"""How long a check takes here: from the times between a person's checks, or the trade's practice until there are enough."""

from __future__ import annotations

import datetime as dt
import math
import statistics
from collections import defaultdict
from dataclasses import dataclass

from fleetcare.domain.inspection_plans import PRACTICE
from fleetcare.domain.wording import Message, msg
from fleetcare.services.facts import FleetFacts
from fleetcare.store import plan_reads
from fleetcare.store.store import View

CHECK_MINUTES = 5
"""A full check with a loaded reading: 4 to 6 minutes (common practice, no source)."""

SHORT_CHECK_MINUTES = 2
"""A look and a rested reading: 1.5 to 2 minutes (common practice, no source)."""

READ_CHECKS = 600
LEAST_GAPS = 20
"""So many gaps of one kind are needed before the depot's own pace counts (proposal)."""
GAP_MINUTES = (0.5, 20.0)
"""Shorter is a batch entered at once, longer is a pause; neither tells how long a check takes (proposal)."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Minutes of a check at one depot, rounded up; `gaps` is how many times between checks it rests on, 0: practice."""

    minutes: int
    gaps: int
    loaded: bool

    @property
    def told(self) -> Message:
        """The minutes and where they come from."""
        if self.gaps:
            return msg("round.pace_own", number_minutes=self.minutes, gaps=self.gaps)
        return msg("round.pace_practice", number_minutes=self.minutes, source=PRACTICE, need=LEAST_GAPS)


def paces(view: View, facts: FleetFacts) -> dict[str, Pace]:
    """The pace of every depot, from its newest checks; loaded checks where the depot makes them."""
    gaps: dict[tuple[str, bool], list[float]] = defaultdict(list)
    counted: dict[tuple[str, bool], int] = defaultdict(int)
    first = next(iter(facts.depots), "")
    newest: dict[str, dt.datetime] = {}
    for at, loaded, vehicle, by in sorted(plan_reads.newest_checks(view, READ_CHECKS)):
        known = facts.vehicles.get(vehicle)
        depot = known.depot if known is not None else first
        counted[depot, loaded] += 1
        before = newest.get(by)
        newest[by] = at
        if before is not None:
            minutes = (at - before).total_seconds() / 60
            if GAP_MINUTES[0] <= minutes <= GAP_MINUTES[1]:
                gaps[depot, loaded].append(minutes)
    return {depot: _pace(gaps, counted, depot) for depot in facts.depots or ("",)}


def _pace(gaps: dict[tuple[str, bool], list[float]], counted: dict[tuple[str, bool], int], depot: str) -> Pace:
    loaded = counted[depot, True] >= counted[depot, False]
    own = gaps[depot, loaded]
    if len(own) >= LEAST_GAPS:
        return Pace(max(1, math.ceil(statistics.median(own))), len(own), loaded)
    return Pace(CHECK_MINUTES if loaded else SHORT_CHECK_MINUTES, 0, loaded)
