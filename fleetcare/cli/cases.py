"""Commands of cases: recalls, incidents, decisions, competence."""

from __future__ import annotations

import argparse
import getpass
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fleetcare.app import App
from fleetcare.cli.opening import author, opened
from fleetcare.cli.tables import FORMATS, table
from fleetcare.domain.decisions import Choice
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.incidents import IncidentOpened
from fleetcare.domain.labels import normalise
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.recalls import RecallNotice
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import competence, deciding, decisions, extending, incident_deeds, incidents, recalling
from fleetcare.services.competence_words import cell_text, firm_text, granted_text, level_text, next_text
from fleetcare.services.recalling import RecallPage


def add_commands(commands: Any, fleet: Callable[[argparse.ArgumentParser], None]) -> None:
    """Add the commands of this module; `fleet` adds the option that names the fleet file."""
    recall = commands.add_parser(
        "recall", help="makers' notices: list them, enter one, show its packs, its action sheet"
    )
    fleet(recall)
    recall.add_argument("number", nargs="?", help="number of a notice (all notices when left out)")
    recall.add_argument("--models", help="enter the notice: codes of the pack models, with commas")
    recall.add_argument("--serials", nargs=2, metavar=("FIRST", "LAST"), default=("", ""), help="both included")
    recall.add_argument("--date-codes", nargs=2, metavar=("FIRST", "LAST"), default=("", ""), help="both included")
    recall.add_argument("--maker", default="", help="who issued it")
    recall.add_argument("--hazard", default="", help="the hazard in the notice's words")
    recall.add_argument(
        "--remedy", default="", help="the remedy the maker offers, or with --cleared the one that was done"
    )
    recall.add_argument("--preview", action="store_true", help="show what it would mean and write nothing")
    recall.add_argument("--cleared", metavar="PACK", help="the maker's remedy was done on PACK (asks for badge or PIN)")
    recall.add_argument("--reference", default="", help="the maker's paper of the remedy")
    recall.add_argument("--sheet", type=Path, metavar="PDF", help="write the action sheet")
    recall.add_argument("--page", choices=("A4", "Letter"), help="paper (default: your preference)")
    recall.add_argument("--as", dest="person", default="", help="code of the person")
    _form(recall)
    recall.set_defaults(run=recalls)

    incident = commands.add_parser("incident", help="incidents: list them, open one, close one")
    fleet(incident)
    incident.add_argument("--open", metavar="WHAT", dest="what", help="what happened")
    incident.add_argument("--where", default="", help="where it happened")
    incident.add_argument("--at", help="when (YYYY-MM-DDTHH:MM; now when left out)")
    incident.add_argument("--items", default="", help="vehicles, packs and chargers, with commas")
    incident.add_argument("--persons", default="", help="colleagues who were there, with commas")
    incident.add_argument("--records-only", action="store_true", help="do not hold the named things themselves")
    incident.add_argument("--close", metavar="INCIDENT", help="close it (asks for badge or PIN)")
    incident.add_argument("--reason", default="", help="why it is closed")
    incident.add_argument("--as", dest="person", default="", help="code of the person")
    _form(incident)
    incident.set_defaults(run=incident_command)

    decide = commands.add_parser("decide", help="list what waits for a decision, or decide about a pack")
    fleet(decide)
    decide.add_argument("pack", nargs="?", help="pack code (the list when left out)")
    decide.add_argument("choice", nargs="?", choices=[one.value for one in Choice], help="what is decided")
    decide.add_argument("--until", help="last day on which it stands (YYYY-MM-DD)")
    decide.add_argument("--reason", default="", help="why")
    decide.add_argument("--put-off", action="store_true", help="put the pack's due check off to --until instead")
    decide.add_argument("--no-projections", action="store_true", help="list verdicts and holds only (quick)")
    decide.add_argument("--as", dest="person", default="", help="code of the person")
    _form(decide)
    decide.set_defaults(run=decide_command)

    matrix = commands.add_parser(
        "competence", help="people, levels and trainings with what runs out; or the sheet of it"
    )
    fleet(matrix)
    matrix.add_argument("--sheet", type=Path, metavar="PDF", help="write the sheet")
    matrix.add_argument("--page", choices=("A4", "Letter"), help="paper (default: your preference)")
    matrix.add_argument("--as", dest="person", default="", help="code of the person who prints")
    _form(matrix)
    matrix.set_defaults(run=competence_command)


def _form(command: argparse.ArgumentParser) -> None:
    command.add_argument("--format", choices=FORMATS, default="text", help="how tables are printed")


def _proof() -> str:
    """The own badge or PIN: typed unseen at a terminal, else the first line of what is piped in."""
    if sys.stdin.isatty():
        return getpass.getpass(f"{word('faults.badge')}: ")
    return sys.stdin.readline().strip()


def _print_words(app: App, asked: argparse.Namespace) -> dict[str, Any]:
    name = author(app, asked.person).person.name if asked.person else ""
    return {"page": asked.page or app.settings.page, "printed_by": name, "printed_at": app.clock()}


def recalls(asked: argparse.Namespace) -> int:
    """List notices, or enter, show, clear or print one."""
    app = opened(asked.fleet)
    if asked.models:
        return _enter(app, asked)
    if asked.number is None:
        rows = [
            (
                page.notice.number, ", ".join(page.notice.models), str(page.matched), str(page.not_ruled_out),
                str(page.open), ", ".join(page.vehicles), show_moment(page.notice.done_at),
                say(page.withdrawn) if page.withdrawn is not None else "",
            )
            for page in recalling.recall_pages(app.store, app.clock)
        ]  # fmt: skip
        if not rows and asked.format == "text":
            print(word("recalls.empty"))
            return 0
        headings = ("notice", "models", "meant", "not ruled out", "held", "grounded", "entered", "taken back")
        print(table(headings, rows, asked.format), end="")
        return 0
    if asked.cleared:
        done = recalling.clear_recall(
            app.store, app.clock, author(app, asked.person), asked.number, normalise(asked.cleared), asked.remedy,
            asked.reference, _proof(),
        )  # fmt: skip
        print(say(done.message))
        return 0
    page = recalling.recall_page(app.store, app.clock, asked.number)
    if asked.sheet is not None:
        from fleetcare.reports import every_sheet

        order = every_sheet.Order("recall", code=asked.number, **_print_words(app, asked))
        every_sheet.write(order, app.store, app.clock, asked.sheet)
        print(say(msg("cli.written", path=str(asked.sheet))))
        return 0
    _print_packs(page, asked.format)
    return 0


def _enter(app: App, asked: argparse.Namespace) -> int:
    with app.store.view() as view:
        models = recalling.models_of(view, asked.models)
    (serial_from, serial_to), (code_from, code_to) = asked.serials, asked.date_codes
    notice = RecallNotice(
        asked.number or "", models, serial_from, serial_to, app.clock(), code_from, code_to, maker=asked.maker,
        hazard=asked.hazard, remedy=asked.remedy,
    )  # fmt: skip
    if asked.preview:
        _print_packs(recalling.preview_notice(app.store, app.clock, notice), asked.format)
        return 0
    entered = recalling.enter_notice(app.store, app.clock, author(app, asked.person), notice)
    print(say(entered.recorded.message))
    _print_packs(entered.page, asked.format)
    return 0


def _print_packs(page: RecallPage, form: str) -> None:
    rows = [
        (
            line.pack.code, word(f"recall_match.{line.found.value}"), line.pack.serial, line.pack.date_code,
            word(f"recall_where.{line.where.value}"), line.place, say(line.state),
        )
        for line in page.lines
    ]  # fmt: skip
    if not rows and form == "text":
        print(word("paper.recall_none"))
        return
    print(table(("pack", "match", "serial", "date code", "where", "place", "state"), rows, form), end="")


def incident_command(asked: argparse.Namespace) -> int:
    """List incidents, open or close one."""
    app = opened(asked.fleet)
    if asked.what:
        with app.store.view() as view:
            items = incident_deeds.items_of(view, asked.items)
            persons = incident_deeds.persons_of(view, asked.persons)
            at = incident_deeds.happened_at(view, asked.at or "", app.clock())
        body = IncidentOpened("", asked.what, asked.where, at, items, persons)
        done = incident_deeds.open_incident(
            app.store, app.clock, author(app, asked.person), body, hold_items=not asked.records_only
        )
        print(say(done.message))
        return 0
    if asked.close:
        who = author(app, asked.person)
        done = incident_deeds.close_incident(app.store, app.clock, who, asked.close, asked.reason, _proof())
        print(say(done.message))
        return 0
    rows = [
        (
            line.incident.code, show_moment(line.incident.happened_at), line.incident.what, line.incident.where,
            ", ".join(code for _cls, code in line.incident.things), ", ".join(line.persons), str(line.since),
            word("incidents.is_open") if line.incident.open else line.incident.closed_reason,
        )
        for line in incidents.incident_lines(app.store, app.clock)
    ]  # fmt: skip
    if not rows and asked.format == "text":
        print(word("incidents.empty"))
        return 0
    headings = ("incident", "happened", "what", "where", "things", "persons", "entries since", "state")
    print(table(headings, rows, asked.format), end="")
    return 0


def decide_command(asked: argparse.Namespace) -> int:
    """List what waits for a decision, decide, or put a due check off."""
    app = opened(asked.fleet)
    until = date_if_typed(asked.until or "", field="until")
    if asked.pack is not None:
        pack, who = normalise(asked.pack), author(app, asked.person)
        if asked.put_off:
            if until is None:
                raise EntryRefused("decision.needs_date", field="until")
            done = extending.extend_due(app.store, app.clock, who, pack, until, asked.reason)
        else:
            if asked.choice is None:
                raise EntryRefused("decisions.choose_one", field="choice")
            done = deciding.decide(app.store, app.clock, who, pack, Choice(asked.choice), until, asked.reason)
        print(say(done.message))
        return 0
    early = {} if asked.no_projections else decisions.early_edges(app.store, app.clock)
    with app.store.view() as view:
        waiting = decisions.undecided(view, app.clock(), early)
    if not waiting and asked.format == "text":
        print(word("decisions.none"))
        return 0
    rows = [
        (
            one.pack, one.model_name, one.place, word(f"decision_kind.{one.kind.value}"), say(one.statement),
            show_moment(one.since),
            "" if one.ran_out is None else f"{say(decisions.what_was_decided(one.ran_out))}, {one.decided_by}",
        )
        for one in waiting
    ]  # fmt: skip
    print(table(("pack", "model", "where", "asked by", "question", "since", "ran out"), rows, asked.format), end="")
    return 0


def competence_command(asked: argparse.Namespace) -> int:
    """Print the matrix, or write its sheet."""
    app = opened(asked.fleet)
    matrix = competence.matrix(app.store, app.clock)
    if asked.sheet is not None:
        from fleetcare.reports import competence_sheet

        competence_sheet.write(matrix, asked.sheet, **_print_words(app, asked))
        print(say(msg("cli.written", path=str(asked.sheet))))
        return 0
    today = matrix.as_of.date()
    rows = [
        (row.person.name, firm_text(row), level_text(row), granted_text(row, today), next_text(row),
         *(cell_text(cell, today) for cell in row.cells))
        for row in matrix.rows
    ]  # fmt: skip
    headings = ("person", "firm", "today", "granted", "runs out next", *matrix.items)
    print(table(headings, rows, asked.format), end="")
    for one in matrix.meters if asked.format == "text" else ():
        print(f"{one.meter.code} ({one.meter.owner}): {say(one.why)}")
    return 0
