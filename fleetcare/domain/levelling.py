"""Work spread over the working days ahead: under each person's minutes, by each task's day, as evenly as can be.

Tasks with equal window, length and weight are counted, not listed, so that a plan for fifty thousand packs is as quick
as one for fifty.  First the days are filled backwards, each task as late as its day allows, at the smallest share of
everybody's hours at which all days can be kept; for tasks of one length this finds a plan whenever there is one
(earliest deadline first, read from the other end).  Where it finds none, an integer program (HiGHS, by SciPy) decides
which days cannot be kept: fewest and least grave first, then least late.  Its optimum can only gain by more hours.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fleetcare.domain.packs import Level

SHARES = tuple(one / 20 for one in range(1, 21))
"""Shares of everybody's hours that are tried, from the smallest."""

LATE_COST = 1000
"""A day that is not kept costs this for each point of weight, and 1 more for each working day it is late."""

NODES = 20_000
"""Most nodes that the solver may visit; a limit by time would make the plan depend on the PC."""


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do between `release` and `due`; `order` sorts worst first, `weight` is how grave a missed day is."""

    key: str
    release: dt.date
    due: dt.date
    minutes: int
    weight: int = 1
    level: Level = Level.MAY_CHECK
    order: tuple[Any, ...] = ()


@dataclass(frozen=True, slots=True)
class Hands:
    """One person: level, and minutes for checks on each day; a day that is not named has none."""

    person: str
    minutes: Mapping[dt.date, int]
    level: Level = Level.MAY_RELEASE


@dataclass(frozen=True, slots=True)
class Given:
    """A task given to a person on a day; `late`: its day, or for an overdue one today, cannot be kept."""

    task: Task
    day: dt.date
    person: str
    late: bool = False


@dataclass(frozen=True, slots=True)
class Spread:
    """A whole plan.  `given` holds every task that found a day, `left` those that found none within the days.

    `cost` is 0 when every day is kept; `share` is the part of everybody's hours that sufficed; `proven` is False
    only where the solver stopped before it could prove that nothing better exists.
    """

    days: tuple[dt.date, ...]
    given: tuple[Given, ...]
    left: tuple[Task, ...]
    cost: int
    share: float
    proven: bool = True

    @property
    def not_kept(self) -> tuple[Task, ...]:
        """Tasks whose day cannot be kept, worst first."""
        late = [one.task for one in self.given if one.late]
        return tuple(sorted([*late, *self.left], key=lambda t: (t.due, t.order, t.key)))


@dataclass(slots=True)
class _Group:
    """Tasks that are alike to the planner; `release` and `due` count days."""

    release: int
    due: int
    minutes: int
    weight: int
    level: Level
    tasks: list[Task] = field(default_factory=list)


_Counts = dict[tuple[int, int, int], int]
"""How many tasks of (group, person, day)."""


def spread(tasks: Sequence[Task], hands: Sequence[Hands], days: Sequence[dt.date]) -> Spread:
    """Give every task a day and a person.  The same input gives the same plan."""
    days = tuple(sorted(days))
    hands = sorted(hands, key=lambda one: one.person)
    groups = _grouped(tasks, days)
    room = [[max(0, one.minutes.get(day, 0)) for day in days] for one in hands]
    if not groups or not days:
        return Spread(days, (), tuple(sorted(tasks, key=_worst)), _cost_of_leaving(groups, len(days)), 0.0)
    if all(group.release <= group.due for group in groups):
        for share in SHARES:
            part = [[int(minutes * share + 1e-9) for minutes in row] for row in room]
            counts = _backwards(groups, hands, part)
            if counts is not None:
                return _told(groups, hands, days, counts, 0, share, True)
    counts, proven = _solved(groups, hands, room)
    return _told(groups, hands, days, counts, _cost(groups, counts, len(days)), 1.0, proven)


def _worst(task: Task) -> tuple[Any, ...]:
    return task.order, task.due, task.key


def _grouped(tasks: Sequence[Task], days: Sequence[dt.date]) -> list[_Group]:
    """Tasks by likeness.  What is due before the first day must be done on it; what is due between two on the earlier."""
    found: dict[tuple[Any, ...], _Group] = {}
    for task in tasks:
        release = bisect_left(days, task.release)
        due = max(bisect_right(days, task.due) - 1, 0)
        key = (due, release, task.minutes, task.weight, task.level)
        group = found.get(key)
        if group is None:
            group = found[key] = _Group(release, due, task.minutes, task.weight, task.level)
        group.tasks.append(task)
    for group in found.values():
        group.tasks.sort(key=_worst)
    return [found[key] for key in sorted(found, key=lambda k: (*k[:4], k[4].value))]


def _backwards(groups: Sequence[_Group], hands: Sequence[Hands], room: list[list[int]]) -> _Counts | None:
    """Every task on the latest day it can have, or None where this finds no place for one."""
    open_ = [len(group.tasks) for group in groups]
    room = [list(row) for row in room]
    counts: _Counts = {}
    last = max((len(row) for row in room), default=0) - 1
    order = sorted(range(len(groups)), key=lambda g: (-groups[g].release, -groups[g].minutes, groups[g].due, g))
    for day in range(last, -1, -1):
        for g in order:
            group = groups[g]
            if not open_[g] or not group.release <= day <= group.due:
                continue
            fitting = [p for p, one in enumerate(hands) if one.level.covers(group.level)]
            fitting.sort(key=lambda p, d=day: (-room[p][d], p))
            for turn, p in enumerate(fitting):
                fair = -(-open_[g] // (len(fitting) - turn))
                number = min(fair, room[p][day] // group.minutes if group.minutes else open_[g])
                if number:
                    counts[g, p, day] = counts.get((g, p, day), 0) + number
                    room[p][day] -= number * group.minutes
                    open_[g] -= number
            for p in fitting:
                number = min(open_[g], room[p][day] // group.minutes if group.minutes else open_[g])
                if number:
                    counts[g, p, day] = counts.get((g, p, day), 0) + number
                    room[p][day] -= number * group.minutes
                    open_[g] -= number
    return None if any(open_) else counts


def _late_cost(group: _Group, day: int) -> int:
    return 0 if day <= group.due else group.weight * LATE_COST + day - group.due


def _cost(groups: Sequence[_Group], counts: _Counts, days: int) -> int:
    done: dict[int, int] = defaultdict(int)
    cost = 0
    for (g, _, day), number in counts.items():
        done[g] += number
        cost += number * _late_cost(groups[g], day)
    return cost + sum((len(one.tasks) - done[g]) * _late_cost(one, days + one.due) for g, one in enumerate(groups))


def _cost_of_leaving(groups: Sequence[_Group], days: int) -> int:
    return _cost(groups, {}, days)


def _solved(groups: Sequence[_Group], hands: Sequence[Hands], room: list[list[int]]) -> tuple[_Counts, bool]:
    """The counts of the integer program, and whether they were proved to be best."""
    import numpy as np  # SciPy only where hours are short
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    places = [
        (g, p, day)
        for g, group in enumerate(groups)
        for p, one in enumerate(hands)
        for day, minutes in enumerate(room[p])
        if day >= group.release and one.level.covers(group.level) and group.minutes <= minutes and minutes
    ]
    if not places:
        return {}, True
    days = len(room[0])
    leave = [_late_cost(group, days + group.due) for group in groups]
    gain = np.array([_late_cost(groups[g], day) - leave[g] for g, _, day in places], dtype=float)
    rooms = sorted({(p, day) for _, p, day in places})
    row_of = {one: len(groups) + n for n, one in enumerate(rooms)}
    rows = [g for g, _, _ in places] + [row_of[p, day] for _, p, day in places]
    columns = [*range(len(places)), *range(len(places))]
    values = [1.0] * len(places) + [float(groups[g].minutes) for g, _, _ in places]
    matrix = csr_matrix((values, (rows, columns)), shape=(len(groups) + len(rooms), len(places)))
    most = [float(len(group.tasks)) for group in groups] + [float(room[p][day]) for p, day in rooms]
    highest = [
        min(len(groups[g].tasks), room[p][day] // groups[g].minutes) if groups[g].minutes else len(groups[g].tasks)
        for g, p, day in places
    ]
    found = milp(
        gain,
        integrality=np.ones(len(places)),
        bounds=Bounds(0, np.array(highest, dtype=float)),
        constraints=LinearConstraint(matrix, ub=np.array(most)),
        options={"mip_rel_gap": 0.0, "node_limit": NODES},
    )
    if found.x is None:
        return {}, False
    counts = {place: round(number) for place, number in zip(places, found.x, strict=True) if round(number)}
    return counts, found.status == 0


def _told(
    groups: Sequence[_Group], hands: Sequence[Hands], days: Sequence[dt.date], counts: _Counts, cost: int, share: float,
    proven: bool,
) -> Spread:  # fmt: skip
    """The counts with their tasks put back: the worst of each group on the earliest of its places."""
    given: list[Given] = []
    left: list[Task] = []
    by_group: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    for (g, p, day), number in counts.items():
        by_group[g].append((day, p, number))
    for g, group in enumerate(groups):
        tasks = iter(group.tasks)
        for day, p, number in sorted(by_group[g]):
            for _ in range(number):
                given.append(Given(next(tasks), days[day], hands[p].person, day > group.due))
        left += tasks
    given.sort(key=lambda one: (one.day, one.person, _worst(one.task)))
    return Spread(tuple(days), tuple(given), tuple(sorted(left, key=_worst)), cost, share, proven)
