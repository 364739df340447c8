"""Work spread over days: nobody's minutes exceeded, days kept wherever they can be, and more hours never worse."""

import datetime as dt
import itertools
from collections import Counter, defaultdict

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.levelling import Hands, Spread, Task, spread
from fleetcare.domain.packs import Level

DAY = dt.date(2026, 11, 2)
DAYS = [DAY + dt.timedelta(days=n) for n in range(4)]


def hands(*rows: tuple[int, ...], level: Level = Level.MAY_RELEASE) -> list[Hands]:
    return [Hands(f"P{n}", dict(zip(DAYS, row, strict=False)), level) for n, row in enumerate(rows)]


def task(key: object, release: int, due: int, minutes: int, weight: int = 1) -> Task:
    return Task(str(key), DAYS[0] + dt.timedelta(days=release), DAYS[0] + dt.timedelta(days=due), minutes, weight)


TASKS = st.lists(
    st.tuples(st.integers(0, 3), st.integers(-1, 3), st.sampled_from((2, 5, 6, 12, 30)), st.integers(1, 3)), max_size=9
).map(lambda rows: [task(n, min(r, max(d, 0)), d, m, w) for n, (r, d, m, w) in enumerate(rows)])
HOURS = st.lists(st.tuples(*[st.sampled_from((0, 4, 10, 25, 40))] * 4), min_size=1, max_size=2)


def used(plan: Spread) -> dict[tuple[str, dt.date], int]:
    minutes: dict[tuple[str, dt.date], int] = defaultdict(int)
    for one in plan.given:
        minutes[one.person, one.day] += one.task.minutes
    return minutes


@given(TASKS, HOURS)
def test_no_plan_exceeds_a_persons_minutes_and_every_task_stands_once(tasks: list[Task], rows: list) -> None:
    people = hands(*rows)
    plan = spread(tasks, people, DAYS)
    room = {one.person: one.minutes for one in people}
    assert all(minutes <= room[person].get(day, 0) for (person, day), minutes in used(plan).items())
    assert Counter(one.task.key for one in plan.given) + Counter(one.key for one in plan.left) == Counter(
        one.key for one in tasks
    )
    assert all(one.day >= one.task.release for one in plan.given)
    assert (plan.cost == 0) == (not plan.not_kept)


@given(TASKS, HOURS, st.integers(0, 3), st.sampled_from((5, 20, 60)))
def test_adding_hours_never_makes_a_plan_worse(tasks: list[Task], rows: list, day: int, more: int) -> None:
    before = spread(tasks, hands(*rows), DAYS)
    first = list(rows[0])
    first[day] += more
    after = spread(tasks, hands(tuple(first), *rows[1:]), DAYS)
    assert before.proven and after.proven and after.cost <= before.cost


@given(TASKS, HOURS)
def test_planning_again_gives_the_same_plan(tasks: list[Task], rows: list) -> None:
    assert spread(tasks, hands(*rows), DAYS) == spread(list(reversed(tasks)), list(reversed(hands(*rows))), DAYS)


def least_cost(tasks: list[Task], rows: list[tuple[int, ...]]) -> int:
    """The best of all plans, by trying every one."""
    places = [(p, d) for p in range(len(rows)) for d in range(3)]
    best = None
    for choice in itertools.product([None, *places], repeat=len(tasks)):
        minutes: Counter[tuple[int, int]] = Counter()
        cost = 0
        for one, place in zip(tasks, choice, strict=True):
            due = max((one.due - DAY).days, 0)
            if place is None:
                cost += one.weight * 1000 + 3
                continue
            minutes[place] += one.minutes
            if place[1] < (one.release - DAY).days:
                break
            cost += 0 if place[1] <= due else one.weight * 1000 + place[1] - due
        else:
            if all(minutes[p, d] <= rows[p][d] for p, d in places):
                best = cost if best is None else min(best, cost)
    assert best is not None
    return best


SMALL = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, 2), st.sampled_from((3, 5, 8)), st.integers(1, 2)), max_size=4
).map(lambda rows: [task(n, min(r, d), d, m, w) for n, (r, d, m, w) in enumerate(rows)])


@given(SMALL, st.lists(st.tuples(*[st.sampled_from((0, 5, 8, 11))] * 3), min_size=1, max_size=2))
def test_the_plan_is_as_good_as_the_best_of_all_plans(tasks: list[Task], rows: list) -> None:
    plan = spread(tasks, hands(*rows), DAYS[:3])
    assert plan.cost == least_cost(tasks, rows)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), max_size=14), st.tuples(*[st.integers(0, 5)] * 4))
def test_for_tasks_of_one_length_no_solver_is_needed_where_a_plan_exists(
    windows: list[tuple[int, int]], row: tuple[int, ...]
) -> None:
    # Earliest deadline first is optimal for unit tasks with release times on one person (Horn 1974, from memory).
    tasks = [task(n, min(r, d), max(r, d), 5) for n, (r, d) in enumerate(windows)]
    plan = spread(tasks, hands(tuple(5 * n for n in row)), DAYS)
    feasible = all(
        sum(1 for r, d in windows if a <= min(r, d) and max(r, d) <= b) <= sum(row[a : b + 1])
        for a in range(4)
        for b in range(a, 4)
    )
    assert (plan.cost == 0) == feasible


def test_a_peak_is_spread_over_the_days_before_it_and_no_further_than_asked() -> None:
    tasks = [task(n, 0, 3, 5) for n in range(40)]
    plan = spread(tasks, hands((60, 60, 60, 60)), DAYS)
    assert Counter(one.day for one in plan.given) == dict.fromkeys(DAYS, 10) and plan.not_kept == ()


def test_what_is_short_of_hours_is_named_and_the_gravest_is_kept() -> None:
    tasks = [task(n, 0, 0, 5, 9 if n < 3 else 1) for n in range(10)]
    plan = spread(tasks, hands((15, 10, 10, 10)), DAYS)
    assert {one.task.key for one in plan.given if one.day == DAYS[0]} == {"0", "1", "2"}
    assert len(plan.not_kept) == 7 and len(plan.left) == 1


def test_somebody_who_may_not_is_given_nothing() -> None:
    tasks = [Task("a", DAY, DAY, 5, level=Level.MAY_RELEASE)]
    assert spread(tasks, hands((60,), level=Level.MAY_CHECK), DAYS).left == tuple(tasks)
