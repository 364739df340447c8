"""Commands that read faults: tallies, holds, quarantine."""

from __future__ import annotations

import argparse

from fleetcare.cli.opening import opened
from fleetcare.cli.tables import table
from fleetcare.domain.wording import msg, say, show_date, show_moment, word
from fleetcare.services import holding, trip_facts
from fleetcare.services import quarantine as services


def tallies(asked: argparse.Namespace) -> int:
    """Print the cross-table of trips."""
    app = opened(asked.fleet)
    page = trip_facts.tallies_page(app.store, app.clock)
    if not page.tallies and asked.format == "text":
        print(say(msg("cli.tallies_none", window_days=page.window_days)))
        return 0
    rows = [
        (
            word(f"class.{one.subject_class}"),
            one.subject,
            str(len(one.trips)),
            str(one.unexplained),
            ", ".join(one.partners),
            ", ".join(show_date(trip.day) for trip in one.trips),
            say(one.reading) if one.reading is not None else "",
        )
        for one in page.tallies
    ]
    headings = ("kind", "counted against", "trips", "unexplained", "shared with", "dates", "what that says")
    print(table(headings, rows, asked.format), end="")
    return 0


def holds(asked: argparse.Namespace) -> int:
    """Print every open hold."""
    app = opened(asked.fleet)
    lines = holding.hold_lines(app.store)
    if not lines and asked.format == "text":
        print(word("faults.holds_empty"))
        return 0
    rows = [
        (
            one.subject,
            word(f"class.{one.subject_class}"),
            word(f"hold_class.{one.hold_class.value}"),
            show_moment(one.since),
            one.person,
            say(one.text),
        )
        for one in lines
    ]
    print(table(("held", "kind", "class", "since", "by", "reason"), rows, asked.format), end="")
    return 0


def quarantine(asked: argparse.Namespace) -> int:
    """Print the quarantine list."""
    app = opened(asked.fleet)
    cases = services.quarantine_cases(app.store, app.clock)
    if not cases and asked.format == "text":
        print(word("quarantine.empty"))
        return 0
    rows = [
        (
            case.pack.code,
            str(case.days),
            "ALARM" if case.alarm else "",
            show_moment(case.since),
            case.place,
            case.vehicle or "",
            ", ".join(show_date(day) for day in case.missed),
            "; ".join(say(reason) for reason in case.reasons),
        )
        for case in cases
    ]
    headings = ("pack", "days", "alarm", "since", "place", "vehicle", "missed looks", "why")
    print(table(headings, rows, asked.format), end="")
    return 0
