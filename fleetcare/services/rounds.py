"""The round: today's list per depot and person, and the working days ahead under everybody's hours.

Built from the plan's items: packs that are finished charging and rested first, never so many from the rack at once
that it is empty.  What cannot be kept is said with the count, and what a new record changed can be shown.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.inspection_plans import DESK, Kind
from fleetcare.domain.levelling import Given, Hands, Task, spread
from fleetcare.domain.packs import Level, PackStanding, Role, Roster
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import Message, msg
from fleetcare.domain.working_days import SATURDAY, WorkingDays
from fleetcare.services import facts as read
from fleetcare.services import pace as own_pace
from fleetcare.services.absences import absences, vehicles_away
from fleetcare.services.facts import FleetFacts
from fleetcare.services.pace import Pace
from fleetcare.services.plan import PlanItem, plan_items
from fleetcare.services.session import Clock
from fleetcare.store.store import Store, View

AHEAD = 10
"""Working days planned ahead."""

EARLY_DAYS = 3
"""A check may be done so many days before its day, so that weekends and full days can be planned around (proposal)."""

DEFAULT_MINUTES = 240
"""Minutes for checks on each working day of a mechanic whose hours nobody recorded (proposal)."""

SLOW = 7
"""Items of this rank and below (output tests, yearly inspections, visual inspections) that are overdue are caught up over
the days ahead, the oldest first, instead of all today: on the day a plan begins nobody has done any."""

_WEIGHT = {0: 12, 1: 9, 2: 5, 3: 7, 4: 6, 5: 4, 6: 2, 7: 2, 8: 1}
"""How grave a day that is not kept is, by the rank of an item."""


@dataclass(frozen=True, slots=True)
class RoundItem:
    """One line of a round: what, on which day, by whom; `note` says what to mind before it (resting, with look)."""

    item: PlanItem
    day: dt.date | None
    person: str
    late: bool
    notes: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True)
class Hour:
    """One person on one day: minutes there are, and minutes of the round."""

    person: str
    name: str
    day: dt.date
    room: int
    used: int
    count: int
    why: Message | None = None


@dataclass(frozen=True, slots=True)
class Short:
    """What cannot be done by a day with the hours there are."""

    by: dt.date
    minutes: int
    items: tuple[RoundItem, ...]
    told: Message


@dataclass(frozen=True, slots=True)
class Round:
    """The round of one depot as of a record position.

    `today` is the list of the first working day from today on, `ahead` that of the days after it; `short` what
    cannot be kept, soonest first; `away` what cannot be reached; `charge` the packs to put on charge for the next day.
    """

    depot: str
    depot_name: str
    as_of: dt.datetime
    position: int
    day: dt.date | None
    days: tuple[dt.date, ...]
    today: tuple[RoundItem, ...]
    ahead: tuple[RoundItem, ...]
    short: tuple[Short, ...]
    away: tuple[RoundItem, ...]
    hours: tuple[Hour, ...]
    charge: tuple[str, ...]
    pace: Message
    calendar: Message
    notes: tuple[Message, ...]
    proven: bool

    def minutes(self, person: str = "") -> int:
        """Minutes of today's list, of one person only when given."""
        return sum(one.item.minutes for one in self.today if not person or one.person == person)


def told(found: Round) -> tuple[Message, ...]:
    """What stands above a round on screen, paper and terminal: what cannot be kept first, then hours and basis."""
    lines = list(cannot(found))
    if found.day is None:
        return (*lines, msg("round.head_none", depot=found.depot_name), *found.notes)
    if not lines:
        lines.append(kept(found))
    room = sum(one.room for one in found.hours if one.day == found.day)
    head = msg(
        "round.head", depot=found.depot_name, day=found.day, count=len(found.today), number_minutes=found.minutes(),
        room=hours_text(room),
    )  # fmt: skip
    charge = (msg("round.charge", these=found.charge),) if found.charge else ()
    return (*lines, head, *person_lines(found), *charge, *found.notes, found.pace, found.calendar)


def kept(found: Round) -> Message:
    """That everything can be done in time, where nothing cannot: after a word about what was due before and is caught up."""
    told = msg("round.all_kept", count=len(found.days))
    late = [one for one in (*found.today, *found.ahead) if found.day is not None and one.item.due_on < found.day]
    if not late:
        return told
    now = sum(1 for one in late if one in found.today)
    last = max((one.day for one in late if one.day is not None), default=found.day)
    key = "round.overdue_today" if now == len(late) else "round.overdue_ahead"
    return msg(key, overdue=len(late), now=now, last_date=last, told=msg("round.falls_due", count=len(found.days)))


def cannot(found: Round) -> tuple[Message, ...]:
    """What cannot be kept, in sentences; empty when everything can."""
    lines = [one.told for one in found.short]
    if found.away:
        lines.append(msg("round.away_head", these=tuple(one.item.subject for one in found.away)))
    if not found.proven:
        lines.append(msg("round.not_proven"))
    return tuple(lines)


def person_lines(found: Round) -> tuple[Message, ...]:
    """Each person's part of today's round, or why they have none."""
    lines = []
    for one in found.hours:
        if one.day != found.day:
            continue
        if not one.room:
            lines.append(msg("round.person_off", who=one.name, why=one.why or msg("round.no_hours")))
        else:
            lines.append(
                msg(
                    "round.person_line",
                    who=one.name,
                    count=one.count,
                    number_minutes=one.used,
                    room=hours_text(one.room),
                )
            )
    return tuple(lines)


def depots(store: Store) -> tuple[tuple[str, str], ...]:
    """Code and name of every depot, by code."""
    with store.view() as view:
        return tuple((code, depot.name) for code, depot in sorted(view.things("depot").items()))


def round_of(
    store: Store, clock: Clock, depot: str = "", *, person: str = "", by_bay: bool = False, position: int | None = None
) -> Round:
    """The round of one depot ("" for the main one), of one `person` only when given, as known at `position`.

    Worst first, or walked from bay to bay when asked.
    """
    now = clock()
    with store.view(position) as view:
        facts = read.read_facts(view)
        chosen = depot or next(iter(facts.depots), "")
        paces = own_pace.paces(view, facts)
        items = plan_items(view, facts, now, paces)
        return _round(_Ground(view, facts, now), items, chosen, paces, person, by_bay)


def rounds_of_all(store: Store, clock: Clock, position: int | None = None) -> tuple[Round, ...]:
    """The rounds of every depot; the record is read once."""
    now = clock()
    with store.view(position) as view:
        facts = read.read_facts(view)
        paces = own_pace.paces(view, facts)
        ground = _Ground(view, facts, now)
        by_depot: dict[str, list[PlanItem]] = defaultdict(list)
        for item in plan_items(view, facts, now, paces):
            by_depot[item.depot].append(item)
        return tuple(_round(ground, by_depot[one], one, paces, "", False) for one in facts.depots or ("",))


class _Ground:
    """What a plan of work rests on besides its items: hours, absences, vehicles away, chargers."""

    def __init__(self, view: View, facts: FleetFacts, now: dt.datetime) -> None:
        self.facts, self.now = facts, now
        self.local = now.astimezone(facts.zone)
        self.position = view.position
        self.absences: list[Absence] = absences(view)
        self.away: dict[str, list[Away]] = defaultdict(list)
        for one in vehicles_away(view):
            self.away[one.vehicle].append(one)
        self.rosters: Mapping[str, Roster] = view.things("roster")
        since = view.position_at(now - dt.timedelta(days=3))
        self.charged: dict[str, dt.datetime] = {
            event.body.pack: event.done_at  # type: ignore[attr-defined]
            for event in view.records_of("charged_on", after=since)
        }

    def hands(self, depot: str) -> tuple[list[Hands], dict[tuple[str, dt.date], Message], WorkingDays, bool]:
        """Who has how many minutes on each day here, why somebody has none, and whether hours were assumed."""
        facts, today = self.facts, self.local.date()
        closed = frozenset(
            today + dt.timedelta(days=n)
            for n in range(AHEAD * 3)
            for one in self.absences
            if not one.person and one.depot == depot and one.covers(today + dt.timedelta(days=n))
        )
        calendar = WorkingDays.of(facts.depots.get(depot), closed)
        found: list[Hands] = []
        why: dict[tuple[str, dt.date], Message] = {}
        assumed = False
        for code, person in sorted(facts.people.items()):
            roster = self.rosters.get(code)
            if Role.MECHANIC not in person.roles or (roster is not None and roster.depot != depot):
                continue
            if roster is None and depot != next(iter(facts.depots), depot):
                continue
            minutes: dict[dt.date, int] = {}
            level = Level.NONE
            for n in range(AHEAD * 2):
                day = today + dt.timedelta(days=n)
                off = next((one for one in self.absences if one.person == code and one.covers(day)), None)
                if off is not None:
                    why[code, day] = msg("round.absent", reason=off.reason, to_date=off.to_date)
                elif calendar.holiday(day):
                    why[code, day] = msg("round.holiday", holiday=calendar.holiday(day))
                elif day not in closed and person.level_on(day).covers(Level.MAY_CHECK):
                    usual = DEFAULT_MINUTES if calendar.is_working(day) else 0
                    minutes[day] = usual if roster is None else roster.minutes_on(day)
                    level = max(level, person.level_on(day), key=list(Level).index)
            if level is not Level.NONE or any(key[0] == code for key in why):
                found.append(Hands(code, minutes, level))
                assumed = assumed or roster is None
        return found, why, calendar, assumed

    def calendar_told(self, calendar: WorkingDays, depot: str) -> Message:
        """Which calendar this depot keeps, with the weekdays off in the time that is planned and why each is."""
        today = self.local.date()
        off = []
        for day in (today + dt.timedelta(days=n) for n in range(AHEAD * 2)):
            closed = next((a.reason for a in self.absences if not a.person and a.depot == depot and a.covers(day)), "")
            why = closed or (calendar.holiday(day) if day.weekday() < SATURDAY else "")
            if why:
                off.append(msg("plan.day_off", on_day=day, why=why))
        return msg("plan.days_off", told=calendar.told, these=tuple(off)) if off else calendar.told


def _round(
    ground: _Ground, items: Iterable[PlanItem], depot: str, paces: Mapping[str, Pace], person: str, by_bay: bool
) -> Round:
    facts, today = ground.facts, ground.local.date()
    hands, why, calendar, assumed = ground.hands(depot)
    days = _days(hands, today)
    last = days[-1] if days else today
    own = [one for one in items if one.depot == depot and one.kind not in DESK and one.due_on <= last]
    own, joined = _joined(own)
    releases, limits, notes = _windows(ground, own, days)
    tasks = [_task(one, releases.get(one.key), limits.get(one.key), joined.get(one.key)) for one in own]
    by_key = {one.key: one for one in own}
    done = spread(tasks, hands, days)

    def line(task: Task, given: Given | None, late: bool) -> RoundItem:
        item = by_key[task.key]
        told = list(notes.get(task.key, ()))
        when = (given.day if given else today) + dt.timedelta(days=EARLY_DAYS)
        if task.key in joined and joined[task.key].due_on <= when:
            told.append(msg("round.with_look", due_date=joined[task.key].due_on))
        if given is None:
            return RoundItem(item, None, "", True, tuple(told))
        return RoundItem(item, given.day, given.person, late, tuple(told))

    def gone(one: Given) -> bool:
        """Late, and given to a day on which its vehicle is away."""
        return any(away.covers(one.day) for away in ground.away.get(by_key[one.task.key].vehicle or "", ()))

    given = [one for one in done.given if not gone(one)]
    lines = [line(one.task, one, one.late) for one in given]
    left = [*done.left, *(one.task for one in done.given if gone(one))]
    late = [one for one in lines if one.late] + [line(task, None, True) for task in left]
    unreachable = [one for one in late if _unreachable(one, releases)]
    short = _short([one for one in late if one not in unreachable], hands, days)
    day = days[0] if days else None
    mine = [one for one in lines if not person or one.person == person]
    order = _bay_order if by_bay else _worst_first
    tomorrow = [one for one in lines if len(days) > 1 and one.day == days[1] and one.item.subject_class == "pack"]
    remarks = [msg("round.hours_assumed", number_minutes=DEFAULT_MINUTES)] if assumed else []
    if not hands:
        remarks = [msg("round.nobody")]
    held = held_back(facts, depot, last, ground.now)
    if held:
        remarks.append(msg("round.held_back", these=held))
    return Round(
        depot=depot,
        depot_name=facts.depots[depot].name if depot in facts.depots else depot,
        as_of=ground.now,
        position=ground.position,
        day=day,
        days=days,
        today=tuple(sorted((one for one in mine if one.day == day), key=order)),
        ahead=tuple(sorted((one for one in mine if one.day != day), key=lambda one: (one.day, *order(one)))),
        short=short,
        away=tuple(sorted(unreachable, key=_worst_first)),
        hours=_hours(ground, hands, why, given, days),
        charge=tuple(sorted({one.item.subject for one in tomorrow if one.item.kind is Kind.CHECK})),
        pace=(paces.get(depot) or Pace(own_pace.CHECK_MINUTES, 0, True)).told,
        calendar=ground.calendar_told(calendar, depot),
        notes=tuple(remarks),
        proven=done.proven,
    )


def held_back(facts: FleetFacts, depot: str, last: dt.date, now: dt.datetime) -> tuple[str, ...]:
    """Packs of a depot whose check is due by `last` and that are in no round because something else holds them."""
    found = []
    for code in sorted(facts.pack_holds.keys() & facts.packs.keys()):
        if facts.packs[code].standing is not PackStanding.IN_SERVICE or code in facts.laid_up:
            continue
        if read.depot_of(facts, code) != depot:
            continue
        status = read.pack_status(facts, code, now)
        held = status.state is PackState.HELD and status.reasons[0].hold_class is not HoldClass.ACTION_DUE
        if held and status.due_on is not None and status.due_on <= last:
            found.append(code)
    return tuple(found)


def _days(hands: Sequence[Hands], today: dt.date) -> tuple[dt.date, ...]:
    """The next days on which anybody has minutes."""
    found = sorted({day for one in hands for day, minutes in one.minutes.items() if minutes > 0 and day >= today})
    return tuple(found[:AHEAD])


def _joined(items: list[PlanItem]) -> tuple[list[PlanItem], dict[str, PlanItem]]:
    """A visual inspection that falls due no sooner than the pack's check is part of it: (items, look by check)."""
    checks = {one.subject: one for one in items if one.kind is Kind.CHECK}
    joined = {
        checks[one.subject].key: one
        for one in items
        if one.kind is Kind.LOOK_OVER and one.subject in checks and checks[one.subject].due_on <= one.due_on
    }
    taken = {one.key for one in joined.values()}
    return [one for one in items if one.key not in taken], joined


def _windows(
    ground: _Ground, items: list[PlanItem], days: Sequence[dt.date]
) -> tuple[dict[str, dt.date], dict[str, dt.date], dict[str, list[Message]]]:
    """The first and the last day each item can be done, where not its own window, and what to mind."""
    facts, today = ground.facts, ground.local.date()
    releases: dict[str, dt.date] = {}
    limits: dict[str, dt.date] = {}
    notes: dict[str, list[Message]] = defaultdict(list)
    late = sorted((one for one in items if one.grave >= SLOW and one.due_on < today), key=lambda one: one.worst_first)
    for number, item in enumerate(late if days else ()):
        limits[item.key] = days[number * len(days) // len(late)]
        notes[item.key].append(msg("round.catching_up", count=len(late), span=len(days)))
    rest = dt.timedelta(minutes=facts.site.charge_minutes + facts.site.minimum_rest_minutes)
    for item in items:
        last = max(limits.get(item.key, item.due_on), today)
        for away in ground.away.get(item.vehicle or "", ()):
            here_now = not away.covers(today)
            touched = away.from_date <= last and away.back_date > max(_early(item), today)
            if here_now and not touched:
                continue
            told = msg("round.away", vehicle=away.vehicle, reason=away.reason, back_date=away.back_date)
            notes[item.key].append(told)
            if here_now and not any(away.back_date <= one <= last for one in days):
                limits[item.key] = min(last, away.from_date - dt.timedelta(days=1))
            else:
                releases[item.key] = max(away.back_date, releases.get(item.key, today))
        began = ground.charged.get(item.subject) if item.kind is Kind.CHECK else None
        if began is None:
            continue
        ready = (began + rest).astimezone(facts.zone)
        if ready > ground.local:
            notes[item.key].append(msg("round.resting", ready_at=ready))
            releases[item.key] = max(ready.date(), releases.get(item.key, today))
    for key, day in _kept_on_rack(facts, items, {**releases, **limits}, days).items():
        notes[key].append(msg("round.rack", keep=facts.site.keep_on_rack))
        limits[key] = day
    return releases, limits, notes


def _kept_on_rack(
    facts: FleetFacts, items: list[PlanItem], bound: Mapping[str, dt.date], days: Sequence[dt.date]
) -> dict[str, dt.date]:
    """Checks of usable rack packs that come sooner than on their day, so that on no day all of a kind are taken.

    Each goes on the latest working day up to its own on which some of its voltage class and connector stay free; one
    that finds none keeps its day: what is due is done.
    """
    rack: dict[tuple[int, str], list[PlanItem]] = defaultdict(list)
    free: dict[tuple[int, str], int] = defaultdict(int)
    checks = {one.subject: one for one in items if one.kind is Kind.CHECK}
    for code, pack in facts.packs.items():
        placed = facts.placements.get(code)
        on_shelf = (placed is None or placed.vehicle is None) and bool(facts.shelf_of(code))
        if not on_shelf or code in facts.laid_up or pack.standing is not PackStanding.IN_SERVICE:
            continue
        model = facts.models[pack.model]
        item = checks.get(code)
        usable = (PackState.READY, PackState.DUE)
        if item is not None and item.status is not None and item.status.state not in usable:
            continue
        free[model.voltage_class_v, model.connector] += 1
        if item is not None and item.key not in bound and not item.at_once:
            rack[model.voltage_class_v, model.connector].append(item)
    moved: dict[str, dt.date] = {}
    for kind, found in rack.items():
        room = dict.fromkeys(days, max(free[kind] - facts.site.keep_on_rack, 0))
        for item in sorted(found, key=lambda one: (one.due_on, one.subject)):
            early = item.due_on - dt.timedelta(days=EARLY_DAYS)
            own = [day for day in days if early <= day <= item.due_on]
            day = next((one for one in reversed(own) if room[one] > 0), None)
            if day is None:
                continue
            room[day] -= 1
            if day != own[-1]:
                moved[item.key] = day
    return moved


def _early(item: PlanItem) -> dt.date:
    """The first day on which it counts for its due day."""
    return item.due_on - dt.timedelta(days=EARLY_DAYS if item.kind is not Kind.QUARANTINE_LOOK else 0)


def _task(item: PlanItem, release: dt.date | None, limit: dt.date | None, look: PlanItem | None) -> Task:
    early = _early(item)
    first = early if release is None else max(early, release)
    minutes = item.minutes if look is None or item.minutes >= look.minutes else look.minutes
    last = item.due_on if limit is None else limit
    return Task(
        item.key,
        min(first, last) if release is None else first,
        last,
        minutes,
        _WEIGHT[item.grave],
        item.level,
        (item.grave, item.due_on, item.subject),
    )


def _unreachable(one: RoundItem, releases: Mapping[str, dt.date]) -> bool:
    """True for what cannot be kept because it is away or not ready, however many hours there are."""
    release = releases.get(one.item.key)
    return release is not None and release > one.item.due_on and (one.day is None or one.day >= release)


def _short(late: list[RoundItem], hands: Sequence[Hands], days: Sequence[dt.date]) -> tuple[Short, ...]:
    """What cannot be kept, by its day: overdue things count for the first day."""
    by_day: dict[dt.date, list[RoundItem]] = defaultdict(list)
    for one in late:
        kept = [day for day in days if day <= one.item.due_on]
        by_day[kept[-1] if kept else (days[0] if days else one.item.due_on)].append(one)
    found = []
    for by, items in sorted(by_day.items()):
        minutes = sum(m for one in hands for day, m in one.minutes.items() if days and days[0] <= day <= by)
        items.sort(key=_worst_first)
        of_checks = all(one.item.kind in (Kind.CHECK, Kind.COMMISSIONING) for one in items)
        key = "round.cannot" if of_checks else "round.cannot_mixed"
        told = msg(
            key if len(items) > 1 else f"{key}_one",
            count=len(items), by_day=by, hours=hours_text(minutes), these=tuple(one.item.subject for one in items),
        )  # fmt: skip
        found.append(Short(by, minutes, tuple(items), told))
    return tuple(found)


def hours_text(minutes: int) -> str:
    """Minutes as hours: "4 h", "1 h 30", "45 min"."""
    whole, rest = divmod(minutes, 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest:02d}" if rest else f"{whole} h"


def _hours(
    ground: _Ground, hands: Sequence[Hands], why: Mapping[tuple[str, dt.date], Message],
    given: Sequence[Given], days: Sequence[dt.date],
) -> tuple[Hour, ...]:  # fmt: skip
    minutes: Counter[tuple[str, dt.date]] = Counter()
    count: Counter[tuple[str, dt.date]] = Counter()
    for part in given:
        minutes[part.person, part.day] += part.task.minutes
        count[part.person, part.day] += 1
    names = {code: person.name for code, person in ground.facts.people.items()}
    return tuple(
        Hour(one.person, names[one.person], day, one.minutes.get(day, 0), minutes[one.person, day], count[one.person, day],
             why.get((one.person, day)))
        for day in days
        for one in sorted(hands, key=lambda h: names[h.person])
    )  # fmt: skip


def _worst_first(one: RoundItem) -> tuple[int, dt.date, str]:
    return one.item.worst_first


def _bay_order(one: RoundItem) -> tuple[object, ...]:
    return bool(one.item.place), bay_key(one.item.place), one.item.worst_first


def bay_key(place: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts places as one walks past them: "Rack 2" before "Rack 10"."""
    import re

    return tuple(
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold()) for part in re.split(r"(\d+)", place)
    )
