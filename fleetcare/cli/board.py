"""Commands about the board and the manager's overview: a copy as a page, the overview, the renewal summary."""

from __future__ import annotations

import argparse
from pathlib import Path

from fleetcare.cli.opening import author, opened
from fleetcare.cli.tables import table
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import summary


def write_copy(asked: argparse.Namespace, folder: Path) -> int:
    """Write the board as one HTML page into a folder."""
    from fleetcare.reports import board_page

    app = opened(asked.fleet)
    path = board_page.write(summary.fleet_summary(app.store, app.clock), folder, made_at=app.clock())
    print(say(msg("cli.written", path=str(path))))
    return 0


def overview(asked: argparse.Namespace) -> int:
    """Print the manager's overview."""
    from fleetcare.services import overview as read
    from fleetcare.services.renewal import renewal as whole

    app = opened(asked.fleet)
    ahead = whole(app.store, app.clock)
    sections = list(read.overview(app.store, app.clock, dict(ahead.early)).sections)
    sections.insert(2, read.replacing(ahead))
    rows = [
        (word(f"overview.{section.name}"), line.subject[1], say(line.text))
        for section in sections
        for line in section.lines
    ]
    print(table(("section", "about", "what"), rows, asked.format), end="")
    return 0


def renewal(asked: argparse.Namespace) -> int:
    """Write the one-page renewal summary as PDF."""
    from fleetcare.reports import renewal_sheet
    from fleetcare.services.renewal_summary import renewal_summary

    app = opened(asked.fleet)
    printed_by = author(app, asked.person).person.name if asked.person else ""
    found = renewal_summary(app.store, app.clock)
    renewal_sheet.write(
        found, asked.output, page=asked.page or app.settings.page, printed_by=printed_by, printed_at=app.clock()
    )
    print(say(msg("cli.written", path=str(asked.output))))
    return 0


def add_commands(commands: argparse._SubParsersAction) -> None:
    """`overview` and `renewal`."""
    from fleetcare.cli.tables import FORMATS

    one = commands.add_parser(
        "overview", help="the manager's overview: decisions, quarantine, done and due, what runs out"
    )
    one.add_argument("--fleet", type=Path, help="fleet file (default: your own; `demo` for the demonstration)")
    one.add_argument("--format", choices=FORMATS, default="text", help="how tables are printed")
    one.set_defaults(run=overview)
    sheet = commands.add_parser("renewal", help="one page for a renewal talk: what the record of a year shows, as PDF")
    sheet.add_argument("--fleet", type=Path, help="fleet file (default: your own; `demo` for the demonstration)")
    sheet.add_argument("--output", type=Path, required=True, help="PDF to write")
    sheet.add_argument("--page", choices=("A4", "Letter"), help="paper (default: your preference)")
    sheet.add_argument("--as", dest="person", default="", help="code of the person who prints")
    sheet.set_defaults(run=renewal)
