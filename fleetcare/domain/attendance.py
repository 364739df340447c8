"""Who is at work on a day, as somebody noted it; a later note of the same day takes the earlier one's place."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AtWork:
    """The codes of all who are at work on `day`; an empty tuple says that nobody is."""

    day: dt.date
    people: tuple[str, ...]
    done_at: dt.datetime
