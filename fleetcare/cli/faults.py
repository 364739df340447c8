"""Commands that read faults: tallies, holds, quarantine, chargers."""

from __future__ import annotations

import argparse

from fleetcare.cli.opening import opened
from fleetcare.cli.tables import table
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.labels import normalise
from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.services import charging, holding, trip_facts
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
            say(case.today_told) if case.missed_told is None else f"{say(case.today_told)}; {say(case.missed_told)}",
            "; ".join(say(reason) for reason in case.reasons),
        )
        for case in cases
    ]
    headings = ("pack", "days", "alarm", "since", "place", "vehicle", "daily look", "why")
    print(table(headings, rows, asked.format), end="")
    return 0


def chargers(asked: argparse.Namespace) -> int:
    """Print the chargers, or with a code the packs charged on it since it was last good, worst first."""
    app = opened(asked.fleet)
    lines = charging.charger_lines(app.store)
    if asked.code:
        code = normalise(asked.code)
        found = next((one for one in lines if one.charger.code == code), None)
        if found is None:
            raise EntryRefused("entry.unknown_charger", field="charger", code=code)
        rows = [
            (
                one.pack,
                show_moment(one.charged_at),
                "" if one.rested_v is None else show_value("rested_v", one.rested_v),
                say(msg("faults.beyond", query_v=one.query_v)) if one.beyond else "",
            )
            for one in found.since_good
        ]
        if not rows and asked.format == "text":
            print(say(msg("faults.since_none", charger=code)))
            return 0
        print(table(("pack", "charged", "rested", "state"), rows, asked.format), end="")
        return 0
    print(table(("charger", "rated", "good from, to", "for models", "last output test", "packs since good", "state"),
                [_charger(one) for one in lines], asked.format), end="")  # fmt: skip
    return 0


def _charger(one: charging.ChargerLine) -> tuple[str, ...]:
    return (
        one.charger.code,
        say(one.rated_told),
        say(one.band_told),
        ", ".join(one.models) or word("faults.fits_none"),
        say(one.test_told),
        str(len(one.since_good)),
        say(one.state_told),
    )
