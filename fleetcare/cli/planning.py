"""Commands of the plan: what is due when, the round, who is away, lay-up, done and due, and the calendar."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.cli.opening import author, opened
from fleetcare.cli.tables import FORMATS, table
from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.moments import parse_date
from fleetcare.domain.units import parse_volts
from fleetcare.domain.wording import msg, say, show_date, show_value, word
from fleetcare.services import absences as away_services
from fleetcare.services import done_due as counting
from fleetcare.services import edges, laying_up, round_changes, rounds
from fleetcare.services import plan as plan_services


def add_commands(commands: Any, fleet: Callable[[argparse.ArgumentParser], None]) -> None:
    """Add the commands of this module; `fleet` adds the option that names the fleet file."""

    def command(name: str, told: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = commands.add_parser(name, help=told)
        fleet(made)
        made.set_defaults(run=run)
        return made

    def form(made: argparse.ArgumentParser) -> None:
        made.add_argument("--format", choices=FORMATS, default="text", help="how tables are printed")

    one = command("plan", "print everything that is planned, each with its one due day and the reason", plan)
    form(one)
    one.add_argument("--days", type=int, default=14, help="days ahead (default 14)")
    one.add_argument("--depot", default="", help="one depot only")
    one.add_argument("--read-projections", action="store_true", help="read the projections into the plan (with --as)")
    one.add_argument("--as", dest="person", default="", help="code of the person who reads them in")

    one = command("round", "print today's round of a depot, and what cannot be kept", round_)
    form(one)
    one.add_argument("--depot", default="", help="depot (the one with the most vehicles when left out)")
    one.add_argument("--person", default="", help="code of one person: their part only")
    one.add_argument("--by-bay", action="store_true", help="walk from bay to bay instead of worst first")
    one.add_argument("--ahead", action="store_true", help="the working days ahead too")
    one.add_argument("--since", type=int, metavar="POSITION", help="what changed since this record position")
    one.add_argument("--output", type=Path, help="write the round as .csv or .xlsx instead")

    one = command("absent", "record that a person or depot does no checks, or that a vehicle is away", away)
    one.add_argument("who", help="code of a person, depot or vehicle")
    one.add_argument("--from", dest="from_day", required=True, help="first day (YYYY-MM-DD)")
    one.add_argument("--to", dest="to_day", help="last day; for a vehicle the day it is back")
    one.add_argument("--because", default="", help="off sick, on leave, on hire …")
    one.add_argument("--withdraw", action="store_true", help="take back what begins on that day")
    one.add_argument("--as", dest="person", required=True, help="code of the person who records it")

    one = command("layup", "print what is laid up, or put packs away, read them or take them out", layup)
    form(one)
    one.add_argument("packs", nargs="*", help="pack codes")
    one.add_argument("--group", default="", help="group to put them away in, or to print")
    one.add_argument("--shelf", default="", help="where they lie")
    one.add_argument("--read", metavar="V", help="one pack's storage reading in volts (with --meter)")
    one.add_argument("--meter", default="", help="meter code")
    one.add_argument("--bench", help="bench temperature in °C")
    one.add_argument("--out", action="store_true", help="take them out of lay-up")
    one.add_argument("--as", dest="person", default="", help="code of the person")

    one = command("done", "print checks done, due and missed per week, depot and person", done)
    form(one)
    one.add_argument("--weeks", type=int, default=4, help="weeks back (default 4)")
    one.add_argument("--depot", default="", help="one depot only")
    one.add_argument("--by", choices=("week", "depot", "person", "missed"), default="week", help="how it is counted")

    one = command("calendar", "write an iCalendar file of a depot, or of one person's rounds", calendar)
    one.add_argument("--depot", default="", help="depot (the one with the most vehicles when left out)")
    one.add_argument("--person", default="", help="code of one person")
    one.add_argument("--output", type=Path, required=True, help=".ics file to write")


def plan(asked: argparse.Namespace) -> int:
    """Print the plan."""
    app = opened(asked.fleet)
    if asked.read_projections:
        print(say(edges.read_edges(app.store, app.clock, author(app, asked.person)).message))
    until = app.clock().date() + dt.timedelta(days=asked.days)
    items = plan_services.plan(app.store, app.clock, until=until, depot=asked.depot.upper())
    rows = [
        (one.due_on.isoformat(), one.subject, word(f"plan_kind.{one.kind.value}"), one.place, say(one.why))
        for one in items
    ]
    print(table(("due", "item", "what", "place", "why"), rows, asked.format), end="")
    return 0


def round_(asked: argparse.Namespace) -> int:
    """Print or write the round."""
    app = opened(asked.fleet)
    depot, person = asked.depot.upper(), asked.person.upper()
    found = rounds.round_of(app.store, app.clock, depot, person=person, by_bay=asked.by_bay)
    if asked.output is not None:
        from fleetcare.services import round_files

        print(say(msg("round.written", count=round_files.write(found, asked.output), path=str(asked.output))))
        return 0
    if asked.since is not None:
        before = rounds.round_of(app.store, app.clock, depot, person=person, position=asked.since)
        moved = round_changes.changes(before, found)
        print("\n".join(say(one.told) for one in moved) or word("round.unchanged"))
        return 0
    if asked.format == "text":
        for line in rounds.told(found):
            print(say(line))
    names = {one.person: one.name for one in found.hours}
    listed = (*found.today, *found.ahead) if asked.ahead else found.today
    rows = [
        (
            "" if one.day is None else one.day.isoformat(), names.get(one.person, one.person), one.item.subject,
            word(f"plan_kind.{one.item.kind.value}"), one.item.place, one.item.due_on.isoformat(),
            str(one.item.minutes), say(one.item.why), "; ".join(say(note) for note in one.notes),
        )
        for one in listed
    ]  # fmt: skip
    headings = ("day", "person", "item", "what", "place", "due", "minutes", "why", "notes")
    print(table(headings, rows, asked.format), end="")
    return 1 if found.short else 0


def away(asked: argparse.Namespace) -> int:
    """Record an absence and say what it moved."""
    app = opened(asked.fleet)
    who, code = author(app, asked.person), asked.who.strip().upper()
    first = parse_date(asked.from_day, field="from_day")
    last = parse_date(asked.to_day, field="to_day") if asked.to_day else first
    now = app.clock()
    with app.store.view() as view:
        vehicle = view.thing("vehicle", code)
        depot = view.thing("depot", code)
        before = view.position
    if vehicle is not None:
        body = Away(code, first, last, now, asked.because, asked.withdraw)
        done_ = away_services.record_away(app.store, app.clock, who, body)
    else:
        person = "" if depot is not None else code
        body_ = Absence(person, code if depot is not None else "", first, last, now, asked.because, asked.withdraw)
        done_ = away_services.record_absence(app.store, app.clock, who, body_)
    print(say(done_.message))
    for place, _ in rounds.depots(app.store):
        then = rounds.round_of(app.store, app.clock, place, position=before)
        moved = round_changes.changes(then, rounds.round_of(app.store, app.clock, place))
        for line in round_changes.told(moved, code if vehicle is not None else ""):
            print(say(line))
    return 0


def layup(asked: argparse.Namespace) -> int:
    """Lay-up: print, put away, read, take out."""
    app = opened(asked.fleet)
    packs = [code.strip().upper() for code in asked.packs]
    if not packs:
        _print_lay_up(app, asked)
        return 0
    who = author(app, asked.person)
    if asked.out:
        result = laying_up.take_out(app.store, app.clock, who, packs)
    elif asked.read is not None:
        check = VoltageCheck(
            packs[0], CheckKind.STORED, RestBand.OVERNIGHT, parse_volts(asked.read, field="rested_v"), app.clock(),
            asked.meter.upper(), bench_c=None if asked.bench is None else Decimal(asked.bench),
        )  # fmt: skip
        result = laying_up.record_storage_look(app.store, app.clock, who, check)
    else:
        result = laying_up.lay_up(app.store, app.clock, who, asked.group, packs, shelf=asked.shelf)
    print(say(result.message))
    return 0


def _print_lay_up(app: Any, asked: argparse.Namespace) -> None:
    rows = [
        (
            one.group, one.pack.code, one.shelf, one.model_name,
            "" if one.rested_v is None else show_value("rested_v", one.rested_v),
            "" if one.read_on is None else one.read_on.isoformat(),
            "" if one.standing is None else word(f"storage_standing.{one.standing.value}"), one.next_look.isoformat(),
            say(one.held or one.why), "" if one.stored is None else say(one.stored.sentence),
        )
        for one in laying_up.laid_up_lines(app.store, app.clock, asked.group)
    ]  # fmt: skip
    headings = ("group", "pack", "shelf", "model", "read", "on", "stands", "next look", "why", "self-discharge")
    print(table(headings, rows, asked.format), end="")


def done(asked: argparse.Namespace) -> int:
    """Print done, due and missed."""
    app = opened(asked.fleet)
    today = app.clock().date()
    first = counting.monday_of(today) - dt.timedelta(weeks=max(asked.weeks - 1, 0))
    found = counting.done_due(app.store, app.clock, first, today, depot=asked.depot.upper())
    rows: list[tuple[str, ...]]
    if asked.by == "person":
        rows = [
            (
                one.week.isoformat(), one.name, str(one.checks), str(one.on_time), str(one.late), str(one.missed),
                _percent(one.on_time_percent),
            )
            for one in found.by_person
        ]  # fmt: skip
        print(table(("week", "person", "checks", "in time", "late", "missed", "in time %"), rows, asked.format), end="")
        return 0
    if asked.by == "missed":
        rows = [
            (one.pack, one.depot, one.due_on.isoformat(), "" if one.done_on is None else one.done_on.isoformat())
            for one in found.missed
        ]
        print(table(("pack", "depot", "due", "made up"), rows, asked.format), end="")
        return 0
    lines = (
        [(week.isoformat(), depot, tally) for week, depot, tally in found.by_week]
        if asked.by == "week"
        else [("", depot, tally) for depot, tally in found.by_depot]
    )
    rows = [
        (
            week, depot, str(tally.due), str(tally.on_time), str(tally.late), str(tally.open), str(tally.missed),
            _percent(tally.done_percent), _percent(tally.missed_percent),
        )
        for week, depot, tally in lines
    ]  # fmt: skip
    headings = ("week", "depot", "due", "in time", "late", "open", "missed", "done %", "missed %")
    print(table(headings, rows, asked.format), end="")
    return 1 if found.missed else 0


def _percent(share: float | None) -> str:
    return "" if share is None else f"{share:.0f} %"


def calendar(asked: argparse.Namespace) -> int:
    """Write a calendar file."""
    from fleetcare.services import calendar_out

    app = opened(asked.fleet)
    if asked.person:
        written = calendar_out.write_person(
            app.store, app.clock, asked.person.upper(), asked.output, depot=asked.depot.upper()
        )
    else:
        written = calendar_out.write_depot(app.store, app.clock, asked.depot.upper(), asked.output)
    today = show_date(app.clock().date())
    print(say(msg("calendar.written", count=written.count, path=str(asked.output), today=today)))
    if written.not_cancelled is not None:
        print(say(written.not_cancelled))
    return 0
