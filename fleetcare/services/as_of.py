"""A past day as a clock and a record position: what had been recorded by its end, and nothing later."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.moments import parse_date
from fleetcare.services.facts import zone_of
from fleetcare.services.session import Clock
from fleetcare.store.store import Store


@dataclass(frozen=True, slots=True)
class AsOf:
    """When is asked: now (`position` None), or the end of a past day."""

    clock: Clock
    position: int | None = None

    @property
    def past(self) -> bool:
        """True where an earlier day is asked."""
        return self.position is not None


def as_of(store: Store, clock: Clock, typed: str | None) -> AsOf:
    """`typed` (YYYY-MM-DD; empty: now) as the end of that day in the depot's zone.

    Raises EntryRefused beside the field "as_of" for what is no date, lies ahead, or was before the first record.
    """
    if typed is None or not typed.strip():
        return AsOf(clock)
    day = parse_date(typed, field="as_of")
    with store.view() as view:
        zone = zone_of(view)
        now = clock()
        today = now.astimezone(zone).date()
        if day > today:
            raise EntryRefused("as_of.ahead", field="as_of", asked_date=day, today_date=today)
        if day == today:
            return AsOf(clock)
        end = dt.datetime.combine(day, dt.time(23, 59, 59), zone)
        end = end.astimezone(dt.timezone(end.utcoffset() or dt.timedelta()))
        position = view.position_at(end)
        first = view.record_at(1)
    if position == 0 and first is not None:
        raise EntryRefused("as_of.before_start", field="as_of", asked_at=end, start_at=first.entered_at)
    return AsOf(lambda: end, position)
