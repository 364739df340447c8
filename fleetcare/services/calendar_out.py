"""The plan as iCalendar files (RFC 5545): whole days, one stable UID for each thing, newer files replace older ones.

A calendar that reads a newer file changes what it knows, because UID stays and SEQUENCE grows with the record; what
is no longer planned is in the file as cancelled, so that it leaves the calendar too.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fleetcare.domain.inspection_plans import DESK, Kind
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.wording import msg, say, word
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
    cancelled: bool = False


def write_person(store: Store, clock: Clock, person: str, path: Path, *, depot: str = "") -> int:
    """The rounds of one person on the working days ahead, as a calendar file; returns the number of events."""
    found = round_of(store, clock, depot, person=person)
    by_day: dict[dt.date, list[RoundItem]] = defaultdict(list)
    for one in (*found.today, *found.ahead):
        if one.day is not None:
            by_day[one.day].append(one)
    name = next((one.name for one in found.hours if one.person == person), person)
    entries = []
    for day in found.days:
        own = by_day.get(day, [])
        minutes = sum(one.item.minutes for one in own)
        title = say(msg("calendar.round", count=len(own), number_minutes=minutes))
        lines = [
            f"{one.item.subject} ({one.item.place or word('screen.where_unknown')}): {say(one.item.why)}" for one in own
        ]
        entries.append(_Entry(f"round-{day.isoformat()}-{person}", day, title, tuple(lines), not own))
    with store.view() as view:
        items = plan_items(view, read.read_facts(view), clock())
        position = view.position
    for item in items:
        if item.kind is Kind.TRAINING and item.subject == person:
            entries.append(_single(item))
    title = say(msg("calendar.of_person", person=name, fleet=store.fleet_name))
    return _write(store, clock, path, title, entries, position)


def write_depot(store: Store, clock: Clock, depot: str, path: Path) -> int:
    """Everything due at one depot as a calendar file: each day's checks as one event, rare things singly."""
    now = clock()
    with store.view() as view:
        facts = read.read_facts(view)
        items = plan_items(view, facts, now)
        position = view.position
        today = now.astimezone(facts.zone).date()
        chosen = depot or next(iter(facts.depots), "")
        name = facts.depots[chosen].name if chosen in facts.depots else chosen
        out = [code for code in facts.laid_up if facts.packs[code].standing is not PackStanding.IN_SERVICE]
        gone_looks = [_Entry(f"lay_up_look-{code}", today, "", cancelled=True) for code in (*facts.returned, *out)]
    entries = [*_by_day(items, chosen, today), *gone_looks]
    for item in items:
        rare = item.kind in _SINGLY and item.depot in ("", chosen)
        if rare and item.due_on <= today + dt.timedelta(days=AHEAD_DAYS):
            entries.append(_single(item))
    title = say(msg("calendar.of_depot", depot=name, fleet=store.fleet_name))
    return _write(store, clock, path, title, entries, position)


_SINGLY = frozenset({*DESK, Kind.YEARLY, Kind.VEHICLE_LOOK, Kind.CHARGER_TEST, Kind.LAY_UP_LOOK})
_TOGETHER = frozenset({Kind.CHECK, Kind.COMMISSIONING, Kind.LOOK_OVER, Kind.QUARANTINE_LOOK})
DAYS_AHEAD = 21


def _by_day(items: Sequence[PlanItem], depot: str, today: dt.date) -> list[_Entry]:
    """One event a day for what is due in numbers; an empty day cancels what an earlier file said of it."""
    due: dict[dt.date, list[PlanItem]] = defaultdict(list)
    for item in items:
        if item.kind in _TOGETHER and item.depot == depot:
            due[max(item.due_on, today)].append(item)
    entries = []
    for number in range(DAYS_AHEAD):
        day = today + dt.timedelta(days=number)
        own = sorted(due.get(day, []), key=lambda one: one.worst_first)
        lines = tuple(f"{one.subject} ({one.place or word('screen.where_unknown')}): {say(one.why)}" for one in own)
        title = say(msg("calendar.due", count=len(own)))
        entries.append(_Entry(f"due-{day.isoformat()}-{depot}", day, title, lines, not own))
    return entries


def _single(item: PlanItem) -> _Entry:
    title = say(msg("calendar.single", what=msg(f"plan_kind.{item.kind.value}"), subject=item.subject))
    return _Entry(f"{item.kind.value}-{item.subject}", item.due_on, title, (say(item.why),))


def _write(store: Store, clock: Clock, path: Path, title: str, entries: list[_Entry], position: int) -> int:
    from icalendar import Calendar  # not before a calendar is asked for

    with store.view() as view:
        fleet_id = view.fleet_id
    calendar = Calendar()
    calendar.add("prodid", f"-//{word('program.title')}//{word('calendar.language')}")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", title)
    stamp = clock().astimezone(dt.UTC).replace(microsecond=0)
    for entry in sorted(entries, key=lambda one: (one.day, one.uid)):
        calendar.add_component(_event(entry, fleet_id, position, stamp))
    with whole_file(path) as fresh:
        fresh.write_bytes(calendar.to_ical(sorted=True))
    return len(entries)


def _event(entry: _Entry, fleet_id: str, position: int, stamp: dt.datetime) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", f"{entry.uid}@{fleet_id}")
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("sequence", position)
    event.add("dtstart", entry.day)
    event.add("dtend", entry.day + dt.timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    event.add("summary", entry.title or word("calendar.nothing"))
    if entry.lines:
        more = len(entry.lines) - LISTED
        lines = list(entry.lines[:LISTED]) + ([say(msg("calendar.more", count=more))] if more > 0 else [])
        event.add("description", "\n".join(lines))
    return event
