"""When a pack must next be checked, and why on that day."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable
from dataclasses import dataclass

from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import Message, msg


@dataclass(frozen=True, slots=True)
class DueDay:
    """`due_on` is the day the check is due; after `good_through` the pack may not go out."""

    due_on: dt.date
    good_through: dt.date
    why: Message


def due_after(last_valid: dt.date, site: SiteRules) -> DueDay:
    """The due day after a valid check: on the 7th day it is due, after the 14th it has passed."""
    due_on = last_valid + dt.timedelta(days=site.check_due_days)
    return DueDay(
        due_on,
        last_valid + dt.timedelta(days=site.grounded_after_days),
        msg("due.weekly", every_days=site.check_due_days, last_date=last_valid),
    )


@dataclass(frozen=True, slots=True)
class Missed:
    """A check that was due on `due_on` and not done by its last good day; `next_on` None: not at all."""

    due_on: dt.date
    next_on: dt.date | None


@dataclass(frozen=True, slots=True)
class DueCount:
    """How many checks fell due in a period, and how they fared; the three parts add up to `due`."""

    due: int
    on_time: int
    late: int
    missed: tuple[Missed, ...]


def count_due(
    start: dt.date, checked: Iterable[dt.date], until: dt.date, site: SiteRules, period: tuple[dt.date, dt.date]
) -> DueCount:
    """Due checks from `start` (when the pack came into use) to `until`, of those due within `period`.

    Every valid check makes the next one due after `check_due_days`; done on the due day is in time,
    after it is late, and not done by the last good day is missed.  A check that is due and may still
    be done in good time on `until` is late already, not missed.
    """
    every, good = dt.timedelta(days=site.check_due_days), dt.timedelta(days=site.grounded_after_days)
    days: list[dt.date | None] = [start, *sorted(one for one in set(checked) if start <= one <= until), None]
    on_time = late = 0
    missed = []
    for last, following in itertools.pairwise(days):
        assert last is not None
        due_on = last + every
        if (following is None and due_on >= until) or not period[0] <= due_on <= period[1]:
            continue
        done = following or until
        if following is not None and following <= due_on:
            on_time += 1
        elif done <= last + good:
            late += 1
        else:
            missed.append(Missed(due_on, following))
    return DueCount(on_time + late + len(missed), on_time, late, tuple(missed))
