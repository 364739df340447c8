"""A clock that is not believed when it contradicts the record, until a person has answered.

Behind the last record, or so far ahead that every check would have run out: then nothing is read as of
now and nothing is saved, because a wrong clock would make overdue vehicles ready or ground them all.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.identity import ClockAnswer, ClockAnswered
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import Message, msg, show_day_time
from fleetcare.services.session import CORRECTED_SOURCE, Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.zones import local

GRACE = dt.timedelta(minutes=2)
"""How far behind the last record a clock may be (clocks of two PCs are never equal)."""


class DepotClock:
    """The PC's clock told in the depot's zone, so that "today" is the depot's day on every PC.

    While no depot is on record the PC's own zone stands; while the file cannot be read, the zone known last.
    """

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._zone: ZoneInfo | None = None

    def __call__(self) -> dt.datetime:
        """Now, with the offset that holds at the depot."""
        now = self._clock()
        with suppress(FileRefused), self._store.view() as view:
            self._zone = view.zone if view.things("depot") else None
        return now if self._zone is None else local(now, self._zone)


@dataclass(frozen=True, slots=True)
class ZonesApart:
    """At this moment the PC's clock shows another time of day than the depot's: its name, its zone, both times."""

    depot: str
    zone: str
    depot_at: dt.datetime
    pc_at: dt.datetime

    @property
    def statement(self) -> Message:
        """Both times, whose zone the program follows, and where that is changed."""
        both = (self.depot_at, self.pc_at)
        if self.depot_at.date() == self.pc_at.date():
            there, here = (f"{at:%H:%M}" for at in both)
        else:
            there, here = (show_day_time(at) for at in both)
        return msg("clock.apart", depot=self.depot, zone=self.zone, there=there, here=here)


def zones_apart(view: View, pc_clock: Clock) -> ZonesApart | None:
    """Whether the PC and the fleet's first depot differ in their offset from UTC now; None where they do not.

    `pc_clock` is the PC's own, with the PC's offset.  None too while no depot is on record: the PC's zone stands then.
    """
    depots = view.things("depot")
    if not depots:
        return None
    pc_at = pc_clock()
    depot_at = view.local(pc_at)
    if depot_at.utcoffset() == pc_at.utcoffset():
        return None
    return ZonesApart(depots[min(depots)].name, view.zone.key, depot_at, pc_at)


class DoubtKind(StrEnum):
    """Why the clock is not believed."""

    BEHIND = "behind"
    AHEAD = "ahead"


@dataclass(frozen=True, slots=True)
class Doubt:
    """The clock contradicts the record: what it shows, and when the last record was entered."""

    kind: DoubtKind
    shown_at: dt.datetime
    last_at: dt.datetime

    @property
    def statement(self) -> Message:
        """The doubt in one sentence."""
        return msg(f"clock.{self.kind.value}", shown_at=self.shown_at, last_at=self.last_at)


class TrustedClock:
    """The PC's clock, held against the record; call it for the time.

    While it is in doubt a call raises EntryRefused, so that no screen, sheet or deed goes on with a
    wrong date.  Once believed (or corrected) it runs on for the whole session: a step backwards, or one
    so far ahead that everything would run out, is not followed but counted through.
    """

    def __init__(self, store: Store, clock: Clock, steady: Callable[[], float] = time.monotonic) -> None:
        self._store = store
        self._clock = clock
        self._steady = steady
        self._offset = dt.timedelta(0)
        self._trusted: dt.datetime | None = None
        self._trusted_steady = 0.0
        self.corrected_by = ""

    def __call__(self) -> dt.datetime:
        """The time, corrected where somebody corrected it; EntryRefused while in doubt."""
        if self._trusted is None:
            doubt = self.doubt()
            if doubt is not None:
                raise EntryRefused(doubt.statement.key, field="clock", **dict(doubt.statement.values))
            return self._believe(self._running())
        now = self._running()
        passed_s = self._steady() - self._trusted_steady
        counted = self._trusted + dt.timedelta(seconds=round(passed_s))
        leap = now - counted
        if leap < -GRACE or (leap > dt.timedelta(days=1) and leap > self._far()):
            return counted.astimezone(now.tzinfo)
        return self._believe(now)

    def _believe(self, now: dt.datetime) -> dt.datetime:
        self._trusted, self._trusted_steady = now, self._steady()
        return now

    def _running(self) -> dt.datetime:
        return self._clock() + self._offset

    def doubt(self) -> Doubt | None:
        """Why the clock is not believed, or None; once believed it is not asked about again.

        Behind: more than two minutes before the last record.  Ahead: later than the last record by
        more than the days after which every vehicle is grounded (at exactly that it is believed).
        """
        if self._trusted is not None:
            return None
        now = self._running()
        with self._store.view() as view:
            last = view.last_entered()
        if now < last - GRACE:
            return Doubt(DoubtKind.BEHIND, now, last)
        if now - last > self._far() and self._has_checks():
            return Doubt(DoubtKind.AHEAD, now, last)
        return None

    def _far(self) -> dt.timedelta:
        with self._store.view() as view:
            site: SiteRules = view.thing("site_rules", "SITE") or SiteRules()
        return dt.timedelta(days=site.grounded_after_days)

    def _has_checks(self) -> bool:
        with self._store.view() as view:
            return bool(view.latest_checks())

    def answer_right(self, author: Author) -> Recorded:
        """The clock is right after all; the answer is a record."""
        doubt = self.doubt()
        shown = self._running()
        last = shown if doubt is None else doubt.last_at
        return self._answer(author, ClockAnswered(shown, last, shown, ClockAnswer.RIGHT))

    def answer_corrected(self, author: Author, true_at: dt.datetime, *, last_was_wrong: bool = False) -> Recorded:
        """The clock is wrong, and `true_at` is the true time.

        EntryRefused when that is still behind the last record, unless `last_was_wrong`: then the last
        record's own time was wrong, which the answer keeps; the order of records stays as entered.
        """
        doubt = self.doubt()
        shown = self._running()
        last = shown if doubt is None else doubt.last_at
        if true_at < last - GRACE and not last_was_wrong:
            raise EntryRefused("clock.still_behind", field="true_at", true_at=true_at, last_at=last)
        if true_at - last > self._far() and true_at > shown:
            raise EntryRefused("clock.still_ahead", field="true_at", true_at=true_at, last_at=last)
        self._offset += true_at - shown
        self.corrected_by = author.person.code
        return self._answer(author, ClockAnswered(shown, last, true_at, ClockAnswer.CORRECTED))

    def _answer(self, author: Author, answered: ClockAnswered) -> Recorded:
        self._believe(answered.true_at)
        with self._store.transaction() as tx:
            writer = Writer(tx, author, answered.true_at)
            writer.add("clock_answered", answered, answered.true_at)
            return writer.recorded(msg(f"clock.was_{answered.answer.value}", true_at=answered.true_at))


def source_now(clock: Clock) -> str:
    """The source of what is typed now: "typed", or with who corrected the clock."""
    by = clock.corrected_by if isinstance(clock, TrustedClock) else ""
    return f"{CORRECTED_SOURCE}{by}" if by else "typed"
