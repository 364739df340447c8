"""Were the checks done?  Done, due and missed per week, depot and person, from the record alone.

Counted by `domain/due.py` exactly as a maintenance history counts: by the site's ordinary interval, in time up to the
due day, late up to the last good day, missed after it.  A missed check stays missed in its week, whenever the next one
was done.  Days in lay-up owe no weekly check, and a pack owes none after it left service.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from fleetcare.domain import due
from fleetcare.domain.laying_up import LaidUp, LayUpEnded
from fleetcare.domain.packs import PackStanding
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.services.session import Clock
from fleetcare.store import plan_reads
from fleetcare.store.store import Store, View


@dataclass(slots=True)
class Tally:
    """Checks that fell due and how they fared; `open` ones are not done yet and may still be.  `due` is the sum."""

    on_time: int = 0
    late: int = 0
    open: int = 0
    missed: int = 0

    @property
    def due(self) -> int:
        """How many fell due."""
        return self.on_time + self.late + self.open + self.missed

    @property
    def done_percent(self) -> float | None:
        """Done in time or late, of those due; None where none was due."""
        return None if not self.due else 100.0 * (self.on_time + self.late) / self.due

    @property
    def on_time_percent(self) -> float | None:
        """Done in time, of those due; None where none was due."""
        return None if not self.due else 100.0 * self.on_time / self.due

    def add(self, other: Tally) -> None:
        """Count another tally in."""
        self.on_time += other.on_time
        self.late += other.late
        self.open += other.open
        self.missed += other.missed


@dataclass(frozen=True, slots=True)
class MissedCheck:
    """One check that was due and not done by its last good day; `done_on` is when it was made up, or None."""

    pack: str
    depot: str
    due_on: dt.date
    done_on: dt.date | None


@dataclass(frozen=True, slots=True)
class PersonWeek:
    """What one person did in a week: all valid checks, and how many of them were in time or late for their due day."""

    week: dt.date
    person: str
    name: str
    checks: int
    on_time: int
    late: int


@dataclass(frozen=True, slots=True)
class DoneDue:
    """Done and due in [from_date, to_date]; weeks are named by their Monday.

    `by_week` and `by_depot` hold tallies of what fell due; `by_person` what each person did.  `total` is the sum.
    """

    from_date: dt.date
    to_date: dt.date
    total: Tally
    by_week: tuple[tuple[dt.date, str, Tally], ...]
    by_depot: tuple[tuple[str, Tally], ...]
    by_person: tuple[PersonWeek, ...]
    missed: tuple[MissedCheck, ...]


@dataclass(slots=True)
class _Counts:
    weeks: dict[tuple[dt.date, str], Tally] = field(default_factory=lambda: defaultdict(Tally))
    depots: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    people: dict[tuple[dt.date, str], list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0, 0]))
    missed: list[MissedCheck] = field(default_factory=list)


def monday_of(day: dt.date) -> dt.date:
    """The Monday of the week of `day` (ISO 8601 weeks)."""
    return day - dt.timedelta(days=day.weekday())


def done_due(
    store: Store, clock: Clock, from_date: dt.date, to_date: dt.date, *, depot: str = "", position: int | None = None
) -> DoneDue:
    """What fell due from `from_date` to `to_date`, at one depot only when given, as known at `position`."""
    with store.view(position) as view:
        facts = read.read_facts(view)
        today = clock().astimezone(facts.zone).date()
        counts = _Counts()
        away = lay_up_spans(view)
        done = _done(view, facts, from_date - dt.timedelta(days=facts.site.check_due_days + 1))
        for code in sorted(facts.packs):
            place = read.depot_of(facts, code)
            if depot and place != depot:
                continue
            start = facts.packs[code].in_service_on or _first_day(view, facts, code)
            spans = list(spans_in_use(start, today, away.get(code, ()))) if start is not None else []
            if facts.packs[code].standing is not PackStanding.IN_SERVICE:
                spans = []
            _count_pack(facts, code, place, done.get(code, {}), spans, (from_date, to_date), counts)
        names = view.person_names()
    total = Tally()
    for tally in counts.depots.values():
        total.add(tally)
    return DoneDue(
        from_date,
        to_date,
        total,
        tuple((week, place, tally) for (week, place), tally in sorted(counts.weeks.items())),
        tuple(sorted(counts.depots.items())),
        tuple(
            PersonWeek(week, person, names.get(person, person), *numbers)
            for (week, person), numbers in sorted(counts.people.items())
        ),
        tuple(sorted(counts.missed, key=lambda one: (one.due_on, one.pack))),
    )


def _done(view: View, facts: FleetFacts, since: dt.date) -> dict[str, dict[dt.date, str]]:
    """The days of each pack's standing valid checks since a day, with who did the first of each day."""
    moment = dt.datetime.combine(since, dt.time(), facts.zone)
    found: dict[str, dict[dt.date, str]] = defaultdict(dict)
    for pack, at, by, source in plan_reads.valid_checks_since(view, moment):
        person = source.split(":")[3] if source.startswith("paper:") and source.count(":") >= 3 else by
        found[pack].setdefault(at.astimezone(facts.zone).date(), person)
    return found


def _first_day(view: View, facts: FleetFacts, code: str) -> dt.date | None:
    first = plan_reads.first_check(view, code)
    return None if first is None else first.astimezone(facts.zone).date()


def _count_pack(
    facts: FleetFacts,
    code: str,
    depot: str,
    done: dict[dt.date, str],
    spans: list[tuple[dt.date, dt.date]],
    period: tuple[dt.date, dt.date],
    counts: _Counts,
) -> None:
    for day, person in done.items():
        if period[0] <= day <= period[1]:
            counts.people[monday_of(day), person][0] += 1
    for begin, end in spans:
        start = max((day for day in done if day <= begin), default=begin)
        for one in due.each_due(start, done, end, facts.site, period):
            tally = Tally(**{one.fared.value: 1})
            counts.weeks[monday_of(one.due_on), depot].add(tally)
            counts.depots[depot].add(tally)
            if one.fared is due.Fared.MISSED:
                counts.missed.append(MissedCheck(code, depot, one.due_on, one.done_on))
            elif one.done_on is not None and one.done_on <= period[1]:
                counted = 1 if one.fared is due.Fared.ON_TIME else 2
                counts.people[monday_of(one.done_on), done[one.done_on]][counted] += 1


def spans_in_use(
    start: dt.date, until: dt.date, away: Iterable[tuple[dt.date, dt.date | None]]
) -> Iterator[tuple[dt.date, dt.date]]:
    """The days from `start` to `until` without those in lay-up (its first and last day excluded from use)."""
    begin = start
    for first, last in sorted(away):
        if last is not None and last <= begin:
            continue
        if first > begin:
            yield begin, min(first, until)
        if last is None or last >= until:
            return
        begin = max(begin, last)
    if begin <= until:
        yield begin, until


def lay_up_spans(view: View) -> dict[str, tuple[tuple[dt.date, dt.date | None], ...]]:
    """The lay-ups of each pack as (first day, day it came back or None)."""
    entries = [*view.records_of("laid_up"), *view.records_of("lay_up_ended")]
    open_: dict[str, dt.date] = {}
    found: dict[str, list[tuple[dt.date, dt.date | None]]] = defaultdict(list)
    for event in sorted(entries, key=lambda one: one.position):
        if isinstance(event.body, LaidUp):
            open_.setdefault(event.body.pack, event.body.done_at.date())
        elif isinstance(event.body, LayUpEnded) and event.body.pack in open_:
            found[event.body.pack].append((open_.pop(event.body.pack), event.body.done_at.date()))
    for pack, first in open_.items():
        found[pack].append((first, None))
    return {pack: tuple(spans) for pack, spans in found.items()}
