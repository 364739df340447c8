"""Stored instants in the depot's own zone, so that the day of a moment is the day on the depot's wall."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_QUARTER_S = 15 * 60
_QUARTER_US = _QUARTER_S * 1_000_000
"""Clocks are put forward and back on a quarter of an hour of UTC (the zones in use, from memory)."""


@cache
def _offsets(_zone: str) -> dict[int, dt.timezone]:
    """The offsets of a zone that were asked for, by quarters of an hour since the epoch."""
    return {}


def _offset(zone: ZoneInfo, quarter: int) -> dt.timezone:
    at = _EPOCH + dt.timedelta(0, quarter * _QUARTER_S)
    found = _offsets(zone.key)[quarter] = dt.timezone(at.astimezone(zone).utcoffset() or dt.timedelta())
    return found


def local(at: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    """An instant in `zone` with its fixed offset, so that two of them compare as instants."""
    quarter = int(at.timestamp() // _QUARTER_S)
    return at.astimezone(_offsets(zone.key).get(quarter) or _offset(zone, quarter))


class Zoned:
    """A reader that knows the zone of the fleet's first depot."""

    _zone: ZoneInfo | None = None
    _known: dict[int, dt.timezone] | None = None

    def things(self, thing_class: str) -> dict[str, Any]:
        """All things of a class at the position, by code."""
        raise NotImplementedError

    @property
    def zone(self) -> ZoneInfo:
        """The depot's time zone: that of the first depot by code; UTC while there is none."""
        if self._zone is None:
            depots = self.things("depot")
            self._zone = ZoneInfo(depots[min(depots)].time_zone if depots else "UTC")
        return self._zone

    def moment(self, us: int) -> dt.datetime:
        """A stored instant in the depot's zone, with a fixed offset."""
        known = self._known
        if known is None:
            known = self._known = _offsets(self.zone.key)
        quarter = us // _QUARTER_US
        return (_EPOCH + dt.timedelta(0, 0, us)).astimezone(known.get(quarter) or _offset(self.zone, quarter))

    def local(self, at: dt.datetime) -> dt.datetime:
        """An instant in the depot's zone, whatever offset it was written with."""
        return local(at, self.zone)

    def day(self, at: dt.datetime) -> dt.date:
        """The depot's own day of an instant, whatever offset it was written with."""
        return at.astimezone(self.zone).date()
