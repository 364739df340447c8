"""The command line: thin shells over services and reports, without Qt.

Exit codes: 0 done, 1 found something wrong (a fingerprint that does not match, rows refused),
2 a mistake in what was asked; the sentence is on stderr and nothing was written.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from fleetcare import __version__
from fleetcare.cli import board as boards
from fleetcare.cli import cases, deeds, faults, keeping, life, papers, planning, review, shows
from fleetcare.cli.tables import FORMATS
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import word


def parser() -> argparse.ArgumentParser:
    """All commands with their help."""
    top = argparse.ArgumentParser(
        prog="fleetcare",
        description=f"{word('program.title')}: without words the window opens; these commands do the same work "
        "without a window.",
        epilog="Exit codes: 0 done, 1 something was found or refused, 2 a mistake in what was asked.",
    )
    top.add_argument("--version", action="version", version=f"fleetcare {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    window = commands.add_parser("window", help="open the window (on FLEET, or on the demonstration with --demo)")
    window.add_argument("bare", nargs="?", type=Path, metavar="FLEET", help="fleet file")
    _fleet(window)
    window.add_argument("--demo", action="store_true", help="open the demonstration fleet")
    window.set_defaults(run=None)

    demo = commands.add_parser("demo", help="make the demonstration fleet, and show it or report on it")
    demo.add_argument("--headless", action="store_true", help="do not open a window, report to the terminal")
    demo.add_argument("--output", type=Path, help="folder for the sheet and the board (default: beside the demo fleet)")
    demo.set_defaults(run=deeds.demo)

    found = commands.add_parser("new", help="found a new, empty fleet file")
    found.add_argument("fleet", type=Path, help="file to make")
    found.add_argument("--name", required=True, help="name of the fleet")
    found.add_argument("--person", required=True, help="name of the first person, who may check and release")
    found.set_defaults(run=deeds.new)

    imports = commands.add_parser("import", help="bring in a table of checks, or the description of a fleet")
    kinds = imports.add_subparsers(dest="what", required=True, metavar="WHAT")
    checks = kinds.add_parser("checks", help="a CSV or XLSX table, one check a row")
    measured = kinds.add_parser("measured", help="measured cell histories, scaled to packs")
    described = kinds.add_parser("fleet", help="a TOML file of people, models, packs, vehicles and instruments")
    described.set_defaults(run=deeds.import_fleet)
    keeping.add_imports(kinds)
    for one in (checks, measured, described):
        _fleet(one)
        one.add_argument("file", type=Path, help="file to import")
        one.add_argument("--as", dest="person", required=True, help="code of the person who imports")
    checks.add_argument("--map", action="append", default=[], metavar="FIELD=HEADING", help="name a column")
    checks.set_defaults(run=deeds.import_checks)
    measured.add_argument("--series", type=int, default=13, help="cell groups in series (default 13)")
    measured.set_defaults(run=deeds.import_measured)

    check = commands.add_parser("check", help="record one voltage check and print its verdict")
    _fleet(check)
    check.add_argument("pack", help="pack code")
    check.add_argument("--vehicle", help="vehicle it is in")
    check.add_argument("--as", dest="person", required=True, help="code of the person")
    check.add_argument("--meter", required=True, help="meter code")
    check.add_argument("--rest", required=True, help="under_15_min, min_15_60, hours_1_3, over_3_h or overnight")
    check.add_argument("--rested", required=True, help="rested volts")
    check.add_argument("--loaded", help="loaded volts")
    check.add_argument("--load", help="test load code (with --loaded)")
    check.add_argument("--bench", help="bench temperature in °C (unknown when left out)")
    check.add_argument("--kind", default="rested_full", help="rested_full, stored or as_found")
    check.add_argument("--looks-good", action="store_true", help="the visual inspection found nothing")
    check.add_argument(
        "--sure", action="store_true", help="the readings were questioned, measured again, and are right"
    )
    check.set_defaults(run=deeds.check)

    board = commands.add_parser("board", help="print which vehicles may go out, and why the others may not")
    _fleet(board)
    _form(board)
    board.add_argument("--as-of", help="date (YYYY-MM-DD): the board as known at the end of that day")
    board.add_argument(
        "--html", type=Path, metavar="FOLDER", help="write the board as one page, board.html, into FOLDER"
    )
    board.set_defaults(
        run=lambda asked: shows.board(asked) if asked.html is None else boards.write_copy(asked, asked.html)
    )
    boards.add_commands(commands)

    project = commands.add_parser(
        "project", help="project packs: of a fleet file, or straight from CHECKS.csv with --models"
    )
    project.add_argument("checks", nargs="?", type=Path, help="CHECKS.csv")
    project.add_argument("--models", type=Path, help="MODELS.csv")
    project.add_argument("--as-of", help="date (YYYY-MM-DD); of a fleet file: only what was recorded by its end")
    project.add_argument("--pack", help="one pack of the fleet file, with its readings and reasons")
    project.add_argument("--horizons", default="28,91,182", help="days ahead (default 28,91,182)")
    project.add_argument("--output", type=Path, help="OUT.csv")
    project.add_argument(
        "--suspects", type=Path, help="SUSPECTS.csv: the readings of CHECKS.csv that do not fit their pack"
    )
    _fleet(project)
    _form(project)
    project.add_argument("--worst", type=int, default=10, help="how many packs to print (default 10)")
    project.set_defaults(run=shows.project)
    ahead = commands.add_parser("ahead", help="packs needed, what the fleet taught, how projections came true")
    _fleet(ahead)
    _form(ahead)
    ahead.add_argument("--as-of", help="date (YYYY-MM-DD): only what was recorded by the end of that day")
    ahead.set_defaults(run=review.ahead)
    remeasure = commands.add_parser("remeasure", help="print the readings that do not fit their pack, and what to do")
    _fleet(remeasure)
    _form(remeasure)
    remeasure.add_argument("--as-of", help="date (YYYY-MM-DD): only what was recorded by the end of that day")
    remeasure.set_defaults(run=review.remeasure)
    bought = commands.add_parser("purchase", help="record a pack's purchase and warranty, from its invoice")
    _fleet(bought)
    bought.add_argument("pack", help="pack code")
    bought.add_argument("--bought", default="", help="purchase date (YYYY-MM-DD)")
    bought.add_argument("--months", default="", help="months of warranty")
    bought.add_argument("--clause", default="", help="the clause in the seller's words")
    bought.add_argument("--invoice", default="", help="invoice reference")
    bought.add_argument("--price", default="", help="price paid")
    bought.add_argument("--as", dest="person", required=True, help="code of the manager who records")
    bought.set_defaults(run=review.purchase)

    sheet = commands.add_parser("sheet", help="write a sheet as PDF: a pack's, the board, or blank check sheets")
    _fleet(sheet)
    sheet.add_argument("pack", nargs="?", help="pack code, or number of a van list or notice")
    sheet.add_argument("--board", action="store_true", help="the board for the wall")
    sheet.add_argument("--blank", type=int, metavar="N", help="N blank numbered check sheets")
    sheet.add_argument("--quarantine", action="store_true", help="the pack's quarantine sheet")
    sheet.add_argument("--claim", action="store_true", help="the pack's warranty claim file")
    sheet.add_argument("--plan", action="store_true", help="the replacement plan")
    sheet.add_argument("--job", action="store_true", help="the job sheet of the guided reset by fuse, for the pack")
    sheet.add_argument("--trip", action="store_true", help="the job sheet of a trip and its reset, for the pack")
    sheet.add_argument("--list", choices=(*papers.LISTS, *papers.MORE_LISTS),
                       help="a sheet of the fleet (tag: with a code; van and recall: with the number)")  # fmt: skip
    sheet.add_argument("--output", type=Path, required=True, help="PDF to write")
    sheet.add_argument("--page", choices=("A4", "Letter"), help="paper (default: your preference)")
    sheet.add_argument("--as", dest="person", default="", help="code of the person who prints")
    sheet.set_defaults(run=deeds.sheet)

    for name, help_text, command in (
        ("tallies", "print trips counted against packs, vehicles and chargers, and what that says", faults.tallies),
        ("holds", "print everything that is held or grounded, danger first", faults.holds),
        ("quarantine", "print the quarantined packs with days, daily looks and alarm", faults.quarantine),
    ):
        one = commands.add_parser(name, help=help_text)
        _fleet(one)
        _form(one)
        one.set_defaults(run=command)

    chargers = commands.add_parser(
        "chargers", help="print the chargers, or the packs charged on one since it was last good"
    )
    _fleet(chargers)
    _form(chargers)
    chargers.add_argument("code", nargs="?", default="", help="code of a charger: its packs, worst first")
    chargers.set_defaults(run=faults.chargers)

    papers.add_commands(commands, _fleet)
    cases.add_commands(commands, _fleet)
    life.add_commands(commands, _fleet, _form)
    planning.add_commands(commands, _fleet)
    keeping.add_backups(commands)

    return top


def _fleet(command: argparse.ArgumentParser) -> None:
    command.add_argument("--fleet", type=Path, help="fleet file (default: your own; `demo` for the demonstration)")


def _form(command: argparse.ArgumentParser) -> None:
    command.add_argument("--format", choices=FORMATS, default="text", help="how tables are printed")


def run(words: Sequence[str]) -> int:
    """Run one command; a person's mistake becomes a sentence on stderr and exit code 2."""
    asked = parser().parse_args(words)
    command: Callable[[argparse.Namespace], int] = asked.run
    try:
        return command(asked)
    except FleetcareError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 0
