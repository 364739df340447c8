"""Were the checks done?  Done, due and missed per week, depot and person, from the record alone.

Counted by `owed.py` and `domain/due.py` exactly as a maintenance history counts: by the ordinary interval that held, in
time up to the due day, late up to the last good day, missed after it, and every due day that passed unmet counts.  A
missed check stays missed in its week, whenever the next one was done.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field

from fleetcare.domain import due
from fleetcare.domain.wording import word
from fleetcare.services import facts as read
from fleetcare.services import owed
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

    @property
    def missed_percent(self) -> float | None:
        """Missed, of those due; None where none was due."""
        return None if not self.due else 100.0 * self.missed / self.due

    def add(self, other: Tally) -> None:
        """Count another tally in."""
        self.on_time += other.on_time
        self.late += other.late
        self.open += other.open
        self.missed += other.missed


@dataclass(frozen=True, slots=True)
class MissedCheck:
    """One check that was due and not done by its last good day; `done_on` is when it was made up, or None.

    `every_days` is the interval it was counted by; a rule changed since moves what is due now, not what was missed.
    """

    pack: str
    depot: str
    due_on: dt.date
    done_on: dt.date | None
    every_days: int


@dataclass(frozen=True, slots=True)
class PersonWeek:
    """What one person did in a week: all valid checks, and how many of them were in time or late for their due day.

    `person` "" is nobody: the checks that fell due in the week and were `missed`.
    """

    week: dt.date
    person: str
    name: str
    checks: int
    on_time: int
    late: int
    missed: int = 0

    @property
    def on_time_percent(self) -> float | None:
        """In time, of those in time and late; None where there are none of either."""
        answered = self.on_time + self.late
        return None if not answered else 100.0 * self.on_time / answered


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
    every_days: int
    """The interval that holds now."""


@dataclass(slots=True)
class _Counts:
    weeks: dict[tuple[dt.date, str], Tally] = field(default_factory=lambda: defaultdict(Tally))
    depots: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    people: dict[tuple[dt.date, str], list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0, 0, 0]))
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
        rules = owed.rules_by_day(view, facts.site)
        away, starts = owed.breaks(view), owed.first_days(view, facts.packs)
        longest = max(site.check_due_days for _, site in rules)
        done = _done(view, facts, from_date - dt.timedelta(days=longest + 1))
        for code in sorted(facts.packs):
            place = read.depot_of(facts, code)
            if depot and place != depot:
                continue
            mine = done.get(code, {})
            for day, person in mine.items():
                if from_date <= day <= to_date:
                    counts.people[monday_of(day), person][0] += 1
            spans = owed.spans_in_use(starts[code], today, away.get(code, ())) if code in starts else ()
            for span in spans:
                for one in owed.fell_due(rules, mine, span, (from_date, to_date)):
                    _count(counts, code, place, one, mine, to_date)
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
            PersonWeek(week, person, names.get(person, person) if person else word("done.nobody"), *numbers)
            for (week, person), numbers in sorted(counts.people.items())
        ),
        tuple(sorted(counts.missed, key=lambda one: (one.due_on, one.pack))),
        facts.site.check_due_days,
    )


def _done(view: View, facts: FleetFacts, since: dt.date) -> dict[str, dict[dt.date, str]]:
    """The days of each pack's standing valid checks since a day, with who did the first of each day; and the last before."""
    moment = dt.datetime.combine(since, dt.time(), facts.zone)
    found: dict[str, dict[dt.date, str]] = defaultdict(dict)
    for pack, at in plan_reads.last_valid_before(view, moment).items():
        found[pack][at.astimezone(facts.zone).date()] = ""
    for pack, at, by, source in plan_reads.valid_checks_since(view, moment):
        person = source.split(":")[3] if source.startswith("paper:") and source.count(":") >= 3 else by
        found[pack].setdefault(at.astimezone(facts.zone).date(), person)
    return found


def _count(
    counts: _Counts, code: str, depot: str, one: due.FellDue, done: dict[dt.date, str], to_date: dt.date
) -> None:
    tally = Tally(**{one.fared.value: 1})
    counts.weeks[monday_of(one.due_on), depot].add(tally)
    counts.depots[depot].add(tally)
    if one.fared is due.Fared.MISSED:
        counts.missed.append(MissedCheck(code, depot, one.due_on, one.done_on, one.every_days))
        counts.people[monday_of(one.due_on), ""][3] += 1
    elif one.done_on is not None and one.done_on <= to_date:
        counted = 1 if one.fared is due.Fared.ON_TIME else 2
        counts.people[monday_of(one.done_on), done[one.done_on]][counted] += 1
