"""The plan as iCalendar files (RFC 5545): whole days, one stable UID for each thing, newer files replace older ones.

A calendar that reads a newer file changes what it knows, because UID stays and SEQUENCE grows with the record. What
the file it replaces had and this plan has no more is in it as cancelled, so that it leaves the calendar too: a day's round
that went to somebody else, an inspection that is no longer asked for. A first file cancels nothing.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.inspection_plans import DESK, Kind
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import facts as read
from fleetcare.services.plan import PlanItem, plan_items
from fleetcare.services.rounds import RoundItem, round_of
from fleetcare.services.session import Clock
from fleetcare.services.writing_files import whole_file
from fleetcare.store.store import Store

if TYPE_CHECKING:
    from icalendar import Event

LISTED = 60
"""Most things that one event lists; the rest is counted."""

AHEAD_DAYS = 400
"""How far ahead single things (calibrations, training, yearly inspections) are written."""


@dataclass(frozen=True, slots=True)
class _Entry:
    uid: str
    day: dt.date
    title: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Kept:
    """An event of the file that is replaced."""

    day: dt.date
    sequence: int


@dataclass(frozen=True, slots=True)
class Written:
    """A calendar that was written: how many events are planned in it.

    `unread`: there was a file and it could not be read as a calendar.  `skipped`: so many events of this fleet in it
    could not be read.  What either had and this plan has no more is not cancelled.
    """

    count: int
    unread: bool = False
    skipped: int = 0

    @property
    def not_cancelled(self) -> Message | None:
        """What the replaced file could not tell, in a sentence; None where all of it was read, or there was none."""
        if self.unread:
            return msg("calendar.unread")
        return msg("calendar.skipped", count=self.skipped) if self.skipped else None


@dataclass(frozen=True, slots=True)
class _Old:
    """What the file that is replaced had."""

    events: dict[str, _Kept]
    unread: bool = False
    skipped: int = 0


def write_person(store: Store, clock: Clock, person: str, path: Path, *, depot: str = "") -> Written:
    """The rounds of one person on the working days ahead, as a calendar file.

    `depot` "" is where the person's hours are, else the main one.  EntryRefused for somebody who is not on record.
    """
    with store.view() as view:
        people, rosters = view.people(), view.things("roster")
    if person not in people:
        raise EntryRefused("entry.unknown_person", field="person", code=person)
    if not depot and person in rosters:
        depot = rosters[person].depot
    found = round_of(store, clock, depot, person=person)
    by_day: dict[dt.date, list[RoundItem]] = defaultdict(list)
    for one in (*found.today, *found.ahead):
        if one.day is not None:
            by_day[one.day].append(one)
    entries = []
    for day, own in by_day.items():
        minutes = sum(one.item.minutes for one in own)
        title = say(msg("calendar.round", count=len(own), number_minutes=minutes))
        lines = [
            f"{one.item.subject} ({one.item.place or word('screen.where_unknown')}): {say(one.item.why)}" for one in own
        ]
        entries.append(_Entry(f"round-{day.isoformat()}-{person}", day, title, tuple(lines)))
    with store.view() as view:
        items = plan_items(view, read.read_facts(view), clock())
        position = view.position
    entries += [_single(item) for item in items if item.kind is Kind.TRAINING and item.subject == person]
    title = say(msg("calendar.of_person", person=people[person].name, fleet=store.fleet_name))
    return _write(store, clock, path, title, entries, position, _ends_with(f"-{person}"))


def write_depot(store: Store, clock: Clock, depot: str, path: Path) -> Written:
    """Everything due at one depot as a calendar file: each day's checks as one event, rare things singly.

    A rare thing that is overdue stands on the day the round plans it for.  EntryRefused for a depot that is not on
    record.
    """
    now = clock()
    planned = round_of(store, clock, depot)
    days = {one.item.key: one.day for one in (*planned.today, *planned.ahead)}
    with store.view() as view:
        facts = read.read_facts(view)
        items = plan_items(view, facts, now)
        position = view.position
        today = now.astimezone(facts.zone).date()
        chosen = depot or next(iter(facts.depots), "")
        if chosen and chosen not in facts.depots:
            raise EntryRefused("entry.unknown_depot", field="depot", code=chosen)
        name = facts.depots[chosen].name if chosen in facts.depots else chosen
    entries = [*_by_day(items, chosen, today)]
    for item in items:
        rare = item.kind in _SINGLY and item.depot in ("", chosen)
        if rare and item.due_on <= today + dt.timedelta(days=AHEAD_DAYS):
            entries.append(_single(item) if item.due_on >= today else _overdue(item, days.get(item.key) or today))
    title = say(msg("calendar.of_depot", depot=name, fleet=store.fleet_name))
    return _write(store, clock, path, title, entries, position, _of_depot(chosen))


_SINGLY = frozenset({*DESK, Kind.YEARLY, Kind.VEHICLE_LOOK, Kind.CHARGER_TEST, Kind.LAY_UP_LOOK})
_TOGETHER = frozenset({Kind.CHECK, Kind.COMMISSIONING, Kind.LOOK_OVER, Kind.QUARANTINE_LOOK})
DAYS_AHEAD = 21


def _ends_with(ending: str) -> Callable[[str], bool]:
    return lambda uid: uid.startswith(("round-", f"{Kind.TRAINING.value}-")) and uid.endswith(ending)


def _of_depot(depot: str) -> Callable[[str], bool]:
    singly = tuple(f"{kind.value}-" for kind in _SINGLY)
    return lambda uid: uid.startswith(singly) or (uid.startswith("due-") and uid.endswith(f"-{depot}"))


def _by_day(items: Sequence[PlanItem], depot: str, today: dt.date) -> list[_Entry]:
    """One event for each day on which anything of many is due."""
    due: dict[dt.date, list[PlanItem]] = defaultdict(list)
    for item in items:
        if item.kind in _TOGETHER and item.depot == depot:
            due[max(item.due_on, today)].append(item)
    entries = []
    for day, found in due.items():
        if (day - today).days < DAYS_AHEAD:
            own = sorted(found, key=lambda one: one.worst_first)
            lines = [f"{one.subject} ({one.place or word('screen.where_unknown')}): {say(one.why)}" for one in own]
            title = say(msg("calendar.due", count=len(own)))
            entries.append(_Entry(f"due-{day.isoformat()}-{depot}", day, title, tuple(lines)))
    return entries


def _single(item: PlanItem) -> _Entry:
    title = say(msg("calendar.single", what=msg(f"plan_kind.{item.kind.value}"), subject=item.subject))
    return _Entry(f"{item.kind.value}-{item.subject}", item.due_on, title, (say(item.why),))


def _overdue(item: PlanItem, day: dt.date) -> _Entry:
    known = _single(item)
    return _Entry(known.uid, day, known.title, (say(msg("calendar.overdue", due_date=item.due_on)), *known.lines))


def _write(
    store: Store,
    clock: Clock,
    path: Path,
    title: str,
    entries: list[_Entry],
    position: int,
    mine: Callable[[str], bool],
) -> Written:
    """Write the file; `mine` tells which events of the file it replaces are this calendar's to cancel."""
    from icalendar import Calendar  # not before a calendar is asked for

    fleet_id = store.fleet_id
    now = clock()
    today = now.astimezone(dt.UTC).date() - dt.timedelta(days=1)
    old = _old(path, fleet_id)
    kept = old.events
    planned = {entry.uid for entry in entries}
    gone = {uid: one for uid, one in kept.items() if uid not in planned and one.day >= today and mine(uid)}
    cancelled = [_Entry(uid, one.day, word("calendar.nothing")) for uid, one in gone.items()]
    calendar = Calendar()
    calendar.add("prodid", f"-//{word('program.title')}//{word('calendar.language')}")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", title)
    stamp = now.astimezone(dt.UTC).replace(microsecond=0)
    for entry in sorted((*entries, *cancelled), key=lambda one: (one.day, one.uid)):
        before, number = kept.get(entry.uid), position
        if before is not None:  # a passing day changes a plan too, without any record
            number = max(position, before.sequence + (entry.uid in gone or before.day != entry.day))
        calendar.add_component(_event(entry, fleet_id, number, stamp, cancelled=entry.uid in gone))
    with whole_file(path) as fresh:
        fresh.write_bytes(calendar.to_ical(sorted=True))
    return Written(len(entries), old.unread, old.skipped)


def _old(path: Path, fleet_id: str) -> _Old:
    """The events of this fleet in the file that is replaced, each by itself; none where there is no file at `path`."""
    from icalendar import Calendar

    try:
        calendar = Calendar.from_ical(path.read_bytes())
    except FileNotFoundError:
        return _Old({})
    except (OSError, ValueError, KeyError):
        return _Old({}, unread=True)
    ending = f"@{fleet_id}"
    events: dict[str, _Kept] = {}
    skipped = 0
    for event in calendar.walk("VEVENT"):
        uid = str(event.get("uid", ""))
        if not uid.endswith(ending):
            continue
        try:
            events[uid.removesuffix(ending)] = _Kept(_day_of(event), int(event.get("sequence", 0)))
        except (ValueError, KeyError, TypeError, AttributeError):  # whatever another program made of a day or a number
            skipped += 1
    return _Old(events, skipped=skipped)


def _day_of(event: Event) -> dt.date:
    """The day of an event, which another program may have given a time of day; ValueError where it has none."""
    day = event.decoded("dtstart")
    if not isinstance(day, dt.date):
        raise ValueError(f"no day: {day}")
    return day.date() if isinstance(day, dt.datetime) else day


def _event(entry: _Entry, fleet_id: str, sequence: int, stamp: dt.datetime, *, cancelled: bool) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", f"{entry.uid}@{fleet_id}")
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("sequence", sequence)
    event.add("dtstart", entry.day)
    event.add("dtend", entry.day + dt.timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    event.add("status", "CANCELLED" if cancelled else "CONFIRMED")
    event.add("summary", entry.title)
    if entry.lines:
        more = len(entry.lines) - LISTED
        lines = list(entry.lines[:LISTED]) + ([say(msg("calendar.more", count=more))] if more > 0 else [])
        event.add("description", "\n".join(lines))
    return event
