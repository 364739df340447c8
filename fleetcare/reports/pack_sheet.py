"""The maintenance sheet of one pack: identity, last checks, verdict, projection, checklist, safety."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from fleetcare.domain.checks import LookItem
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.status import pack_words
from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.reports.chart import projection_chart
from fleetcare.reports.marks import ChartFlowable
from fleetcare.reports.page import Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.reasons_section import measure_again, why
from fleetcare.reports.safety import NOTES, note_paras
from fleetcare.reports.text import FONT, para
from fleetcare.services.decision_words import decision_words
from fleetcare.services.in_force import DepotRules
from fleetcare.services.incidents import incident_words
from fleetcare.services.shown import CheckLine, EventLine, PackSummary
from fleetcare.services.telling import entry_note, line_text

CHECKS_SHOWN = 12
NOTE_LETTERS = 600
"""A longer note is set in several rows, so that a table can break within it."""
EVENTS_SHOWN = 8
_RULE = Color(0.6, 0.6, 0.6)
_SHADE = Color(0.93, 0.93, 0.93)


def write(
    page_of: PackSummary, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime,
    rules: Sequence[DepotRules] = (),
) -> None:  # fmt: skip
    """Write the sheet of `page_of` to `path` on A4 or Letter paper, with the rules of the pack's depot."""
    running = Running(
        word("paper.pack_title"), page_of.pack.code, page_of.fleet_name, page_of.demo, page_of.as_of,
        Head(page_of.position, page_of.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    write_pages(path, story(page_of, inner_width(page), rules), running, page=page)


def story(page_of: PackSummary, width: float, rules: Sequence[DepotRules] = ()) -> list[Any]:
    """The sheet's parts in order."""
    parts: list[Any] = [*_identity(page_of, width), *_state(page_of, width)]
    parts += measure_again(page_of, width)
    parts += [
        para(one, 9, bold=True) for one in (*decision_words(page_of.decision), *incident_words(page_of.incidents))
    ]
    parts += _checks(page_of, width)
    parts += _projection(page_of, width)
    parts += _events(page_of, width)
    parts.append(KeepTogether(_to_fill(width)))
    parts += note_paras(NOTES, rules, width)
    return parts


def _heading(text: str) -> list[Any]:
    return [Spacer(1, 9), para(text, 11, bold=True, after=3)]


def _identity(page_of: PackSummary, width: float) -> list[Any]:
    pack, model = page_of.pack, page_of.model
    if page_of.vehicle is not None:
        where = say(msg("screen.where_vehicle", vehicle=page_of.vehicle, bay=page_of.bay))
    elif page_of.shelf:
        where = say(msg("screen.where_shelf", shelf=page_of.shelf))
    else:
        where = word("screen.where_unknown")
    pairs = (
        (word("paper.pack"), pack.code), (word("paper.where"), where),
        (word("paper.model"), f"{model.name} ({model.code})"), (word("paper.serial"), pack.serial or "—"),
        (word("paper.cells"), say(msg("paper.cells_line", chemistry=model.chemistry.value, series=model.series_count,
                                     full_v=model.full_v))),
        (word("paper.capacity"), show_value("capacity_ah", model.capacity_ah)),
        (word("paper.in_service"), show_date(pack.in_service_on) if pack.in_service_on else "—"),
        (word("paper.notes"), " ".join(n for n in (model.wake_note, model.reset_note, pack.note) if n) or "—"),
    )  # fmt: skip
    if pack.passport:
        pairs = (*pairs, (word("passport.on_paper"), pack.passport), ("", ""))
    cells = [[para(k, 8, quiet=True), para(v, 9)] for k, v in pairs]
    rows = [cells[i] + cells[i + 1] for i in range(0, len(cells), 2)]
    table = Table(rows, colWidths=[width * f for f in (0.13, 0.34, 0.13, 0.40)])
    table.setStyle(TableStyle([FONT, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 2),
                               ("BOTTOMPADDING", (0, 0), (-1, -1), 2), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))  # fmt: skip
    return [para(f"{pack.code} · {where}", 15, bold=True, after=5), table]


def _state(page_of: PackSummary, width: float) -> list[Any]:
    status = page_of.status
    lines: list[Any] = [para(say(pack_words(status)).capitalize(), 13, bold=True)]
    lines += [para(f"{say(one.text)} {say(one.next_step)}", 9) for one in status.reasons]
    if status.due_on is not None:
        lines.append(para(say(msg("bench.next_due", due_date=status.due_on)), 9))
    newest = next((one for one in page_of.checks if not one.struck), None)
    if newest is not None:
        told = say(newest.verdict.headline)
        lines.append(para(say(msg("paper.last_verdict", done_at=newest.done_at, verdict=told)), 9, bold=True))
        lines += [para("– " + say(one.statement), 9) for one in newest.verdict.findings]
        lines.append(para(say(msg("bench.next_step", step=newest.verdict.next_step)), 9))
    box = Table([[lines]], colWidths=[width])
    box.setStyle(TableStyle([FONT, ("BOX", (0, 0), (-1, -1), 1, Color(0, 0, 0)), ("LEFTPADDING", (0, 0), (-1, -1), 8),
                             ("TOPPADDING", (0, 0), (-1, -1), 5), ("BOTTOMPADDING", (0, 0), (-1, -1), 7)]))  # fmt: skip
    return [Spacer(1, 6), box]


_CHECK_HEADS = ("list.done", "list.rest", "list.rested", "list.loaded", "list.amps", "list.ohm", "list.bench", "list.meter",
                "list.verdict", "list.who")  # fmt: skip
_CHECK_WIDTHS = (0.165, 0.105, 0.085, 0.085, 0.065, 0.115, 0.075, 0.07, 0.125, 0.11)


def _checks(page_of: PackSummary, width: float) -> list[Any]:
    shown = page_of.checks[:CHECKS_SHOWN]
    parts = _heading(word("paper.checks"))
    if not shown:
        return [*parts, para(word("screen.no_checks"), 9, quiet=True)]
    rows: list[list[Any]] = [[para(word(key), 8, bold=True) for key in _CHECK_HEADS]]
    spans = []
    for line in shown:
        rows.append(_check_row(line))
        for note in textwrap.wrap(_row_note(line), NOTE_LETTERS):
            spans.append(("SPAN", (0, len(rows)), (-1, len(rows))))
            rows.append([para(note, 7.5, quiet=True), *[""] * (len(_CHECK_HEADS) - 1)])
    table = Table(rows, colWidths=[width * f for f in _CHECK_WIDTHS], repeatRows=1)
    table.setStyle(_grid_style(spans))
    parts.append(table)
    if len(page_of.checks) > len(shown):
        parts.append(para(say(msg("paper.more_checks", shown=len(shown), of=len(page_of.checks))), 8, quiet=True))
    return parts


def _grid_style(more: list[Any]) -> TableStyle:
    return TableStyle(
        [
            FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE), ("BACKGROUND", (0, 0), (-1, 0), _SHADE),
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5), ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3), *more,
        ]
    )  # fmt: skip


def _check_row(line: CheckLine) -> list[Any]:
    values = (
        show_moment(line.done_at),
        word(f"rest.{line.rest.value}"),
        show_value("rested_v", line.rested_v),
        "" if line.loaded_v is None else show_value("loaded_v", line.loaded_v),
        "" if line.load_a is None else show_value("load_a", line.load_a),
        "" if line.resistance_ohm is None else f"{line.resistance_ohm:.4f} Ω",
        "" if line.bench_c is None else show_value("bench_c", line.bench_c),
        line.meter,
        word(f"verdict.{line.verdict.level.value}"),
        line.person_name,
    )
    return [para(text, 8, struck=line.struck) for text in values]


def _row_note(line: CheckLine) -> str:
    """What must be said below a line: what is special about the entry, and the person's remark."""
    return "; ".join(one for one in (entry_note(line), line.remark) if one)


def _projection(page_of: PackSummary, width: float) -> list[Any]:
    parts: list[Any] = []
    for projection in page_of.projections:
        block: list[Any] = _heading(word(f"quantity.{projection.quantity}"))
        block.append(para(say(projection.sentence), 9, after=2))
        block.append(why(projection))
        if projection.used or projection.left_out:
            block.append(ChartFlowable(projection_chart(projection, width, 122, 7.5), 7.5))
        parts.append(KeepTogether(block))
    parts.append(para(word("paper.not_health"), 8, quiet=True))
    return parts


def _events(page_of: PackSummary, width: float) -> list[Any]:
    shown = page_of.events[:EVENTS_SHOWN]
    if not shown:
        return []
    rows: list[list[Any]] = [[para(word(k), 8, bold=True) for k in ("list.done", "list.what", "list.who")]]
    rows += [_event_row(line) for line in shown]
    table = Table(rows, colWidths=[width * f for f in (0.19, 0.67, 0.14)], repeatRows=1, splitInRow=1)
    table.setStyle(_grid_style([]))
    return [*_heading(word("screen.events")), table]


def _event_row(line: EventLine) -> list[Any]:
    return [para(show_moment(line.done_at), 8), para(line_text(line), 8), para(line.person_name, 8)]


def _to_fill(width: float) -> list[Any]:
    """The visual inspection to be filled in by hand, in the order of the screen."""
    items = [para(f"☐ {word(f'look.{item.value}')}", 9) for item in LookItem]
    items.append(para(f"☐ {word('paper.all_good')}", 9, bold=True))
    while len(items) % 3:
        items.append(para("", 9))
    rows = [items[i : i + 3] for i in range(0, len(items), 3)]
    table = Table(rows, colWidths=[width / 3] * 3)
    table.setStyle(TableStyle([FONT, ("BOX", (0, 0), (-1, -1), 0.6, _RULE), ("TOPPADDING", (0, 0), (-1, -1), 3)]))
    line = para(word("paper.by_hand"), 9)
    return [*_heading(word("paper.look_heading")), table, Spacer(1, 8), line]
