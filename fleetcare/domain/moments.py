"""A day and a time of day as typed, to a moment in the depot's zone; a time that came twice is asked about."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

from fleetcare.domain.errors import EntryRefused

SHOWN = 40
"""Letters of what was typed that a refusal repeats."""
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_TIME = re.compile(r"(\d{1,2})[:.h](\d{2})(?:\+([12]))?")


def parse_date(text: str, *, field: str) -> dt.date:
    """A date typed as YYYY-MM-DD (ISO 8601); raises EntryRefused beside `field` otherwise."""
    typed = text.strip()
    if not typed:
        raise EntryRefused("date.needed", field=field)
    try:
        if _DATE.fullmatch(typed):
            return dt.date.fromisoformat(typed)
    except ValueError:
        pass  # such as 2026-02-30
    raise EntryRefused("date.not_a_date", field=field, typed=typed[:SHOWN])


def date_if_typed(text: str, *, field: str) -> dt.date | None:
    """The same, and None for an empty field."""
    return parse_date(text, field=field) if text.strip() else None


def parse_moment(day: dt.date, text: str, zone: ZoneInfo, *, field: str) -> dt.datetime:
    """The moment of `text` ("06:40") on `day` in `zone`, with its offset.

    An hour that came twice needs "+1" or "+2" behind it; one that never was is refused.
    """
    found = _TIME.fullmatch(text.strip())
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise EntryRefused("date.not_a_time", field=field, typed=text.strip())
    wall = dt.datetime.combine(day, dt.time(int(found[1]), int(found[2])))
    first, second = (wall.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    shown = f"{wall:%H:%M}"
    if first.utcoffset() == second.utcoffset():
        chosen = first
    elif first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != wall:
        raise EntryRefused("date.never", field=field, day_date=day, typed=shown)
    elif found[3] is None:
        raise EntryRefused("date.twice", field=field, day_date=day, typed=shown)
    else:
        chosen = first if found[3] == "1" else second
    offset = chosen.utcoffset()
    assert offset is not None
    return wall.replace(tzinfo=dt.timezone(offset))
