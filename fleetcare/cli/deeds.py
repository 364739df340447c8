"""Commands that write: demo, new, import, check, sheet."""

from __future__ import annotations

import argparse
import datetime as dt
import os
import sys
from decimal import Decimal
from pathlib import Path

from fleetcare import app as builder
from fleetcare.app import App
from fleetcare.cli import review, shows
from fleetcare.cli.opening import author, opened, refuse_clock_behind, say_progress
from fleetcare.domain.checks import CheckKind, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.units import parse_celsius, parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import importing, record, summary
from fleetcare.services.importing import ImportReport
from fleetcare.services.shown import PackSummary, headline_now, step_now


def demo(asked: argparse.Namespace) -> int:
    """Make the demonstration fleet; open it in a window, or report on it without one."""
    app = builder.open_demo(say_progress)
    if asked.headless or not has_display():
        return demo_report(app, asked.output or shows.default_output(app))
    app.store.close()
    print(say(msg("cli.demo_window")))
    return OPEN_WINDOW


OPEN_WINDOW = -1
"""What `demo` returns when the window is to be opened; `__main__` alone may do that."""


def has_display() -> bool:
    """True where a window can be shown: always on Windows and macOS, with a display elsewhere."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def demo_report(app: App, folder: Path) -> int:
    """Board, worst projections and papers of the demonstration fleet, with no window."""
    fleet = summary.fleet_summary(app.store, app.clock)
    print(say(msg("demo.notice")), "\n")
    print(shows.board_text(fleet, "text"))
    _headings, rows = shows.worst_projections(app, 6)
    print(word("cli.worst_heading"))
    for row in rows:
        print(f"  {row[0]}  {row[1]}: {row[-1]}")
    folder.mkdir(parents=True, exist_ok=True)
    worst = rows[0][0]
    sheet_path, board_path = folder / f"sheet-{worst}.pdf", folder / "board.pdf"
    write_pack_sheet(app, worst, sheet_path, "A4", "")
    write_board(app, board_path, "A4", "")
    print()
    for key, path in (("cli.fleet_at", app.store.path), ("cli.sheet_at", sheet_path), ("cli.board_at", board_path)):
        print(say(msg(key, path=str(path))))
    report = app.store.verify()
    print(say(msg("verify.good", count=report.records, fingerprint=report.root_hex[:16])))
    return 0 if report.good else 1


def new(asked: argparse.Namespace) -> int:
    """Found an empty fleet with its first person and the default settings."""
    code = builder.found_fleet(asked.fleet, asked.name, asked.person)
    print(say(msg("cli.founded", path=str(asked.fleet), person=code)))
    return 0


def import_checks(asked: argparse.Namespace) -> int:
    """Import a table of checks; exit code 1 when rows were refused."""
    app = opened(asked.fleet)
    mapping = {}
    for pair in asked.map:
        field, equals, heading = pair.partition("=")
        if not equals:
            raise EntryRefused("cli.map", typed=pair)
        mapping[field] = heading
    who = author(app, asked.person)
    return _report(importing.import_checks(app.store, app.clock, who, asked.file, mapping, _rows_done))


def import_fleet(asked: argparse.Namespace) -> int:
    """Record what a TOML file describes; the same file again adds nothing."""
    from fleetcare.services import describing

    app = opened(asked.fleet)
    done = describing.import_fleet(app.store, app.clock, author(app, asked.person), asked.file)
    print(say(done.message))
    return 0


def import_measured(asked: argparse.Namespace) -> int:
    """Import measured cell histories; rows of other kinds are listed as refused, with exit code 0."""
    from fleetcare.services import measured

    app = opened(asked.fleet)
    who = author(app, asked.person)
    report = measured.import_measured(app.store, app.clock, who, asked.file, series=asked.series, progress=_rows_done)
    _report(report)
    return 0 if report.taken or report.known else 1


def _rows_done(done: int, of: int) -> None:
    say_progress(say(msg("demo.rows", done=done, of=of)))


def _report(report: ImportReport) -> int:
    for refused in report.refused:
        print(say(msg("import.row", file=report.file_name, row=refused.row, reason=refused.reason)), file=sys.stderr)
    print(
        say(
            msg(
                "import.report", file=report.file_name, rows=report.rows, taken=report.taken,
                refused=len(report.refused), known=report.known,
            )
        )
    )  # fmt: skip
    return 1 if report.refused else 0


def check(asked: argparse.Namespace) -> int:
    """Record one check; questioned readings need --sure."""
    app = opened(asked.fleet)
    who = author(app, asked.person)
    now = app.clock()
    typed = _typed_check(app, asked, now)
    look_over = LookOver(typed.pack, now, typed.vehicle) if asked.looks_good else None
    preview = record.preview_check(app.store, app.clock, typed, look_over)
    if preview.questions and not asked.sure:
        raise EntryRefused("cli.questioned", field=preview.questions[0].field, question=preview.questions[0].statement)
    done = record.record_check(app.store, app.clock, who, typed, look_over)
    assert done.verdict is not None
    print(say(headline_now(done.verdict, done.held, done.stays)))
    for finding in done.verdict.findings:
        print(f"  {say(finding.statement)}")
    if preview.comparison is not None:
        print(f"  {say(preview.comparison.statement)}")
    print(say(msg("cli.next_step", step=step_now(done.verdict, done.held, done.stays))))
    if done.next_due is not None:
        print(say(msg("cli.next_due", due_date=done.next_due)))
    asked_now = summary.pack_summary(app.store, app.clock, typed.pack).decision
    if asked_now is not None and asked_now.question is not None:
        kind = msg(f"decision_kind.{asked_now.question.kind.value}")
        print(say(msg("decisions.open_on_page", kind=kind, statement=asked_now.question.statement)))
    return 0


def _typed_check(app: App, asked: argparse.Namespace, now: dt.datetime) -> VoltageCheck:
    load = None
    if asked.loaded is not None:
        with app.store.view() as view:
            load = view.thing("test_load", (asked.load or "").upper())
        if load is None:
            raise EntryRefused("entry.unknown_load", field="load", code=asked.load or "—")
    for field, kinds in (("kind", CheckKind), ("rest", RestBand)):
        if getattr(asked, field) not in list(kinds):
            raise EntryRefused("cli.choose", option=f"--{field}", typed=getattr(asked, field), kinds=", ".join(kinds))
    bench: Decimal | None = None if asked.bench is None else parse_celsius(asked.bench, field="bench_c")
    return VoltageCheck(
        pack=asked.pack.upper(), kind=CheckKind(asked.kind), rest=RestBand(asked.rest),
        rested_v=parse_volts(asked.rested, field="rested_v"), done_at=now, meter=asked.meter.upper(),
        vehicle=None if asked.vehicle is None else asked.vehicle.upper(),
        loaded_v=None if load is None else parse_volts(asked.loaded, field="loaded_v"),
        load_a=None if load is None else load.load_a, hold_s=None if load is None else load.hold_s,
        bench_c=bench, test_load=None if load is None else load.code,
        questioned=(("sure", "measured again"),) if asked.sure else (),
    )  # fmt: skip


def sheet(asked: argparse.Namespace) -> int:
    """Write one PDF."""
    from fleetcare.reports import every_sheet

    app = opened(asked.fleet)
    refuse_clock_behind(app)
    who = author(app, asked.person) if asked.person else None
    kind = _kind_of(asked)
    numbers: tuple[str, ...] = ()
    if kind == "blank":
        from fleetcare.services import sheets

        numbers = sheets.issue(app.store, app.clock, asked.blank, who, app.station)
        print(say(msg("sheet.issued", count=len(numbers), first=numbers[0], last=numbers[-1])))
    if kind == "claim":
        review.say_clause(app, asked.pack.strip().upper())
    order = every_sheet.Order(
        kind, asked.page or app.settings.page, who.person.name if who else "", app.clock(),
        (asked.pack or "").strip().upper(), tuple(numbers),
    )  # fmt: skip
    told = every_sheet.write(order, app.store, app.clock, asked.output)
    if told is not None and who is not None:
        record.record_told(app.store, app.clock, who, word("paper.pack_title"), told)
    print(say(msg("cli.written", path=str(asked.output))))
    return 0


def _kind_of(asked: argparse.Namespace) -> str:
    """Which sheet is asked for; EntryRefused when none is."""
    if asked.blank is not None:
        return "blank"
    if asked.list in ("van", "recall") and not asked.pack:
        raise EntryRefused(f"sheet.needs_{asked.list}")
    if asked.list:
        return str(asked.list)
    if asked.board:
        return "board"
    if asked.plan:
        return "plan"
    if not asked.pack:
        raise EntryRefused("cli.sheet_needs")
    if asked.quarantine:
        return "quarantine_pack"
    if asked.claim:
        return "claim"
    if asked.trip:
        return "trip"
    return "job" if asked.job else "pack"


def write_pack_sheet(app: App, code: str, path: Path, page: str, printed_by: str) -> PackSummary:
    """The maintenance sheet of one pack; returns what was put on paper."""
    from fleetcare.reports import pack_sheet

    page_of = summary.pack_summary(app.store, app.clock, code)
    pack_sheet.write(page_of, path, page=page, printed_by=printed_by, printed_at=app.clock())
    return page_of


def write_board(app: App, path: Path, page: str, printed_by: str) -> None:
    """The board for the wall."""
    from fleetcare.reports import board_sheet

    board_sheet.write(
        summary.fleet_summary(app.store, app.clock), path, page=page, printed_by=printed_by, printed_at=app.clock()
    )
