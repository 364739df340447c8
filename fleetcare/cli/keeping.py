"""Commands that keep a fleet's records: old spreadsheets in, backups out and back, everything exported."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from fleetcare.app import print_reentry
from fleetcare.cli.opening import author, opened, seldom
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.oldrows import FIELDS, DateOrder
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import backup, exporting, importing, oldsheets, parked
from fleetcare.services.oldsheets import OUTCOMES, Preview


def _writing(done: int, of: int) -> Message:
    return msg("oldsheet.settling", of=of) if done >= of else msg("oldsheet.writing", done=done, of=of)


def _looking(parts: int, of: int) -> Message:
    return msg("oldsheet.passing_over", share=100 * parts // of) if parts < of else msg("oldsheet.looking")


def add_imports(kinds: argparse._SubParsersAction) -> None:
    """`import sheet`, `import undo`, `import parked`."""
    sheet = kinds.add_parser("sheet", help="an old spreadsheet (CSV, XLSX, ODS): shown first, brought in with --yes")
    sheet.add_argument("file", type=Path, help="file to bring in")
    sheet.add_argument("--sheet", help="name of the sheet (default: the first)")
    sheet.add_argument(
        "--map", action="append", default=[], metavar="FIELD=HEADING", help="name a column: " + ", ".join(FIELDS)
    )
    sheet.add_argument("--dates", choices=[one.value for one in DateOrder], help="which is first in 3/4/2026")
    sheet.add_argument("--millivolts", choices=("yes", "no"), help="whether figures such as 41380 are millivolts")
    sheet.add_argument("--yes", action="store_true", help="bring it in (without it, nothing is written)")
    sheet.set_defaults(run=sheet_in)
    undo = kinds.add_parser("undo", help="take a whole import back; without IMPORT the imports are listed")
    undo.add_argument("batch", nargs="?", metavar="IMPORT", help="identifier of the import")
    undo.add_argument("--reason", default="", help="why")
    undo.set_defaults(run=undo_import)
    rows = kinds.add_parser("parked", help="rows of packs that are not on record; settle them with --pack or --none")
    rows.add_argument("written", nargs="?", help="the pack as it was written")
    rows.add_argument("--pack", help="the pack on record that it was")
    rows.add_argument("--none", action="store_true", help="it is no pack of this fleet")
    rows.add_argument("--reason", default="", help="why")
    rows.set_defaults(run=settle_parked)
    for one in (sheet, undo, rows):
        one.add_argument("--fleet", type=Path, help="fleet file (default: your own; `demo` for the demonstration)")
        one.add_argument("--as", dest="person", default="", help="code of the person")


def add_backups(commands: argparse._SubParsersAction) -> None:
    """`backup`, `restore`, `export`, `rebuild`."""
    made = commands.add_parser("backup", help="make a dated backup and read it through")
    made.add_argument("--fleet", type=Path, help="fleet file (default: your own; `demo` for the demonstration)")
    made.add_argument("--folder", type=Path, help="where (default: beside the fleet file)")
    made.add_argument("--second", type=Path, help="a second place for the same copy")
    made.set_defaults(run=make_backup)
    back = commands.add_parser("restore", help="look at a backup, and with --to put it in place as a new file")
    back.add_argument("backup", type=Path, help="backup file")
    back.add_argument("--to", type=Path, help="new fleet file; nothing is overwritten")
    back.add_argument("--fingerprint", default="", help="printed fingerprint to compare with, in quotes")
    back.add_argument("--reentry", type=Path, help="PDF to write: the list of what to enter again")
    back.set_defaults(run=restore_backup)
    out = commands.add_parser("export", help="write everything in open formats to one ZIP file")
    out.add_argument("--fleet", type=Path, help="fleet file (default: your own; `demo` for the demonstration)")
    out.add_argument("output", type=Path, help="ZIP file to make")
    out.set_defaults(run=export)
    again = commands.add_parser("rebuild", help="make a fleet file again from an export")
    again.add_argument("export", type=Path, help="ZIP file made by `export`")
    again.add_argument("fleet", type=Path, help="new fleet file")
    again.set_defaults(run=rebuild)


def make_backup(asked: argparse.Namespace) -> int:
    """Make one backup; exit code 1 when the second place has no copy."""
    app = opened(asked.fleet)
    done = backup.back_up(app.store, app.clock, asked.folder, asked.second)
    assert done.examined.head is not None
    print(say(msg("backup.made", records=done.examined.records, fingerprint=done.examined.head.short)))
    print(done.path)
    if done.second is not None:
        print(say(msg("backup.made_second", path=str(done.second))))
    if done.trouble is not None:
        print(say(msg("backup.trouble", why=done.trouble)), file=sys.stderr)
    return 1 if done.trouble is not None else 0


def restore_backup(asked: argparse.Namespace) -> int:
    """Say what a backup holds; with --to restore it.  Exit code 1 when it may not be restored."""
    found = backup.look(asked.backup, asked.fingerprint)
    held = found.examined
    if held.head is None:
        print(say(msg("backup.damaged", path=str(held.path), why=held.faults[0])), file=sys.stderr)
        return 1
    print(
        say(
            msg(
                "backup.holds", fleet=held.fleet_name, records=held.records, last_at=held.last_entered,
                fingerprint=held.head.short,
            )
        )
    )  # fmt: skip
    if found.proof is not None:
        print(say(found.proof))
    if not found.may_restore:
        return 1
    print(say(msg("backup.after", last_at=held.last_entered)))
    if asked.to is not None:
        backup.restore(asked.backup, asked.to, asked.fingerprint)
        print(say(msg("backup.restored", path=str(asked.to), records=held.records)))
        if asked.reentry is not None:
            print_reentry(None, asked.to, found.missing, asked.reentry)
            print(say(msg("cli.written", path=str(asked.reentry))))
    return 0


def export(asked: argparse.Namespace) -> int:
    """Export everything."""
    app = opened(asked.fleet)
    head = exporting.export_all(app.store, asked.output)
    print(say(msg("backup.exported", records=head.size, path=str(asked.output))))
    return 0


def rebuild(asked: argparse.Namespace) -> int:
    """Make a fleet file again from an export."""
    head = exporting.rebuild(asked.export, asked.fleet)
    print(say(msg("backup.rebuilt", records=head.size, path=str(asked.fleet), fingerprint=head.short)))
    return 0


def sheet_in(asked: argparse.Namespace) -> int:
    """Show what a sheet would become; with --yes and nothing open, bring it in.  Exit code 1 when asked or refused."""
    app = opened(asked.fleet)
    plan = oldsheets.survey(app.store, asked.file, asked.sheet, progress=seldom(_looking)).plan
    plan = oldsheets.with_columns(plan, _pairs(asked.map))
    plan = replace(
        plan,
        order=DateOrder(asked.dates) if asked.dates else None,
        millivolts=None if asked.millivolts is None else asked.millivolts == "yes",
    )
    shown = oldsheets.preview(
        app.store, app.clock, asked.file, plan, seldom(lambda done, _of: msg("oldsheet.reading", rows=done))
    )
    try:
        _print_preview(shown)
        if not asked.yes:
            return 1 if shown.counts["asked"] or shown.counts["refused"] else 0
        who = author(app, asked.person)
        done = oldsheets.bring_in(app.store, app.clock, who, shown, seldom(_writing))
    finally:
        shown.close()
    if done.recorded is None:
        print(
            say(msg("oldsheet.nothing_new", **{one: done.counts.get(one, 0) for one in ("known", "repeat", "refused")}))
        )
    else:
        print(say(done.recorded.message))
    return 1 if done.counts.get("refused") else 0


def _print_preview(shown: Preview) -> None:
    for name, number in shown.plan.columns.items():
        print(f"  {word(f'oldsheet.field_{name}')}: {shown.plan.headings[number]}")
    for question in (one for one in shown.questions if not one.answered):
        print(say(question.statement))
        for example in question.examples:
            print(f"  {say(example)}")
    for outcome in OUTCOMES:
        print(say(msg("oldsheet.count_row", outcome=msg(f"oldsheet.out_{outcome}"), rows=shown.counts[outcome])))
    print(say(msg("oldsheet.sum", rows=shown.rows, heading_row=shown.plan.heading_row)))
    for one in shown.examples:
        print(say(msg("import.row", file=shown.path.name, row=one.row, reason=one.reason)), file=sys.stderr)


def _pairs(given: list[str]) -> dict[str, str]:
    pairs = {}
    for pair in given:
        field, equals, heading = pair.partition("=")
        if not equals:
            raise EntryRefused("cli.map", typed=pair)
        pairs[field] = heading
    return pairs


def undo_import(asked: argparse.Namespace) -> int:
    """Take an import back, or list the imports."""
    app = opened(asked.fleet)
    if asked.batch is None:
        for one in parked.imports_so_far(app.store):
            state = word("oldsheet.state_back" if one.void_position is not None else "oldsheet.state_stands")
            print(f"{one.record_id}  {one.entered_at:%Y-%m-%d %H:%M}  {one.by}  {one.body.file_name}  {state}")
        return 0
    done = importing.take_back(
        app.store, app.clock, author(app, asked.person), asked.batch, asked.reason,
        seldom(lambda _done, _of: msg("oldsheet.striking")),
    )  # fmt: skip
    print(say(done.message))
    return 0


def settle_parked(asked: argparse.Namespace) -> int:
    """Settle parked rows, or list them."""
    app = opened(asked.fleet)
    if asked.written is None:
        for written, count in parked.parked_rows(app.store):
            print(f"{written}  {count}")
        return 0
    if (asked.pack is None) is not asked.none:
        raise EntryRefused("cli.parked_which")
    who = author(app, asked.person)
    pack = None if asked.none else asked.pack.upper()
    print(say(parked.settle(app.store, app.clock, who, asked.written.upper(), pack, asked.reason).message))
    return 0
