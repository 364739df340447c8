"""When a pack must next be checked, and why on that day."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import Message, msg


class Strain(StrEnum):
    """What happens to a pack and asks for a check before its week is over."""

    TRIP = "trip"
    RESET = "reset"
    FUSE = "fuse"
    DAMAGE = "damage"


@dataclass(frozen=True, slots=True)
class Edge:
    """The early edge of a projection as it was last read into the plan: where the 80 % range of the crossing date begins."""

    quantity: str
    early_date: dt.date
    noted_on: dt.date


@dataclass(frozen=True, slots=True)
class Condition:
    """What tightens the interval of one pack.

    `watches` counts the newest valid checks in a row that said watch; `trips` and `resets` those from the trip
    window before the last valid check on; `strains` what happened after it, oldest first; `near_on` is the day
    of a reading too near to call that is the newest, `misfit_on` that of one that does not fit its pack and has no valid
    one after it, `doubt_on` the day of a check whose meter was found out, `strained_at` the moment of the first of the strains.
    """

    watches: int = 0
    trips: int = 0
    resets: int = 0
    strains: tuple[tuple[Strain, dt.date], ...] = ()
    edge: Edge | None = None
    near_on: dt.date | None = None
    misfit_on: dt.date | None = None
    doubt_on: dt.date | None = None
    strained_at: dt.datetime | None = None


ORDINARY = Condition()
"""Nothing that tightens."""


@dataclass(frozen=True, slots=True)
class DueDay:
    """`due_on` is the day the check is due and `why` the one reason; after `good_through` it may not go out.

    `tightened` is True where condition brought the day forward.
    """

    due_on: dt.date
    good_through: dt.date
    why: Message
    tightened: bool = False


def due_after(last_valid: dt.date, site: SiteRules, condition: Condition = ORDINARY) -> DueDay:
    """The due day after a valid check: by default on the 7th day it is due, after the 14th it has passed.

    Condition only ever brings the day forward, and only what is recorded moves it, never the passing of time.
    Where several reasons name the same day, the one found first here is told.
    """
    weekly = last_valid + dt.timedelta(days=site.check_due_days)
    good = last_valid + dt.timedelta(days=site.grounded_after_days)
    best, why = weekly, msg("due.weekly", every_days=site.check_due_days, last_date=last_valid)
    for day, reason in _tightened(last_valid, site, condition):
        if day < best:
            best, why = day, reason
    return DueDay(best, good, why, best < weekly)


def _tightened(last: dt.date, site: SiteRules, condition: Condition) -> Iterator[tuple[dt.date, Message]]:
    """Each reason for an earlier day, the gravest first."""

    def after(days: int) -> dt.date:
        return last + dt.timedelta(days=days)

    for strain, day in condition.strains[:1]:
        yield day, msg(f"due.after_{strain.value}", on_date=day)
    if condition.near_on is not None:
        yield condition.near_on, msg("due.too_near", on_date=condition.near_on)
    if condition.misfit_on is not None:
        yield condition.misfit_on, msg("due.misfit", on_date=condition.misfit_on)
    if condition.doubt_on is not None:
        yield condition.doubt_on, msg("due.doubted", on_date=condition.doubt_on)
    window = {"window_days": site.trip_window_days, "last_date": last}
    if condition.trips > 1:
        yield (
            after(site.trips_due_days),
            msg("due.trips", number=condition.trips, every_days=site.trips_due_days, **window),
        )
    if condition.trips == 1:
        yield after(site.trip_due_days), msg("due.trip", every_days=site.trip_due_days, **window)
    if condition.resets:
        yield after(site.trip_due_days), msg("due.reset", every_days=site.trip_due_days, **window)
    edge = condition.edge
    if edge is not None and edge.early_date <= after(site.edge_near_days):
        yield (
            after(site.edge_due_days),
            msg(
                "due.edge", quantity=msg(f"quantity.{edge.quantity}"), early_date=edge.early_date,
                noted_date=edge.noted_on, every_days=site.edge_due_days, last_date=last,
            ),
        )  # fmt: skip
    if condition.watches > 1:
        yield (
            after(site.second_watch_due_days),
            msg(
                "due.watches", number=condition.watches, every_days=site.second_watch_due_days, last_date=last
            ),
        )  # fmt: skip
    if condition.watches == 1:
        yield after(site.watch_due_days), msg("due.watch", every_days=site.watch_due_days, last_date=last)


class Fared(StrEnum):
    """How a check that fell due fared; `open`: not done yet, and its last good day has not passed."""

    ON_TIME = "on_time"
    LATE = "late"
    OPEN = "open"
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class FellDue:
    """One check that fell due on `due_on`, when the next valid check was done (None: not yet), and how it fared.

    After a long gap several in a row have the same `done_on`.  `every_days` is the interval it was counted by, the one
    that held when the check before it was done.
    """

    due_on: dt.date
    done_on: dt.date | None
    fared: Fared
    every_days: int


def each_due(
    start: dt.date, checked: Iterable[dt.date], until: dt.date, site: SiteRules, period: tuple[dt.date, dt.date]
) -> Iterator[FellDue]:
    """Checks due from `start` (when the pack came into use) to `until`, of those due within `period`, oldest first.

    A valid check makes the next one due after `check_due_days`; done on the due day is in time, after it is late, and
    not done by its last good day is missed, whenever the next one was done.  A missed check makes one more fall due
    `check_due_days` after its own day, so that every due day which passed unmet counts.  A check that is done answers
    the oldest one not yet missed.
    """
    every = dt.timedelta(days=site.check_due_days)
    grace = dt.timedelta(days=site.grounded_after_days) - every
    days: list[dt.date | None] = [start, *sorted(one for one in set(checked) if start < one <= until), None]
    for last, following in itertools.pairwise(days):
        assert last is not None
        end, due_on = following or until, last + every
        while due_on < end or (due_on == last + every and following is not None):
            if end > due_on + grace:
                fared = Fared.MISSED
            elif following is None:
                fared = Fared.OPEN
            else:
                fared = Fared.ON_TIME if following <= due_on else Fared.LATE
            if period[0] <= due_on <= period[1]:
                yield FellDue(due_on, following, fared, site.check_due_days)
            if fared is not Fared.MISSED:
                break
            due_on += every
