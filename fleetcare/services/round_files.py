"""The round as a table: CSV after RFC 4180, or XLSX, with no cell that a spreadsheet could take for a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import say, word
from fleetcare.services.exporting import safe_cell
from fleetcare.services.rounds import Round, RoundItem
from fleetcare.services.writing_files import whole_file

HEADINGS = (
    "day", "person", "what", "item", "place", "model", "due", "why", "minutes", "may_do", "notes", "in_time",
)  # fmt: skip


def rows(found: Round) -> Iterator[tuple[str | int, ...]]:
    """One row a line of the round: today's, the days ahead, then what finds no day."""
    names = {one.person: one.name for one in found.hours}
    left = [one for short in found.short for one in short.items if one.day is None]
    for one in (*found.today, *found.ahead, *left, *(line for line in found.away if line.day is None)):
        yield _row(one, names)


def _row(one: RoundItem, names: dict[str, str]) -> tuple[str | int, ...]:
    item = one.item
    return (
        "" if one.day is None else one.day.isoformat(), names.get(one.person, one.person),
        word(f"plan_kind.{item.kind.value}"), item.subject, item.place, item.model, item.due_on.isoformat(),
        say(item.why), item.minutes, word(f"level.{item.level.value}"), "; ".join(say(note) for note in one.notes),
        word("round.in_time_no") if one.late else word("round.in_time_late" if one.day and one.day > item.due_on else "round.in_time_yes"),
    )  # fmt: skip


def write(found: Round, path: Path) -> int:
    """Write the round to `path` by its ending, .csv or .xlsx; returns the number of rows."""
    ending = path.suffix.lower()
    if ending not in (".csv", ".xlsx"):
        raise EntryRefused("round.ending", field="path", path=path.name)
    lines = [tuple(safe_cell(one) if isinstance(one, str) else one for one in row) for row in rows(found)]
    with whole_file(path) as fresh:
        if ending == ".csv":
            text = io.StringIO(newline="")
            csv.writer(text).writerows([HEADINGS, *lines])
            fresh.write_bytes(text.getvalue().encode("utf-8-sig"))
        else:
            _write_xlsx(lines, fresh)
    return len(lines)


def _write_xlsx(lines: list[tuple[str | int, ...]], path: Path) -> None:
    from openpyxl import Workbook  # not before a sheet is asked for
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = word("sheet.round")[:31]
    for number, row in enumerate([HEADINGS, *lines], 1):
        for column, value in enumerate(row, 1):
            cell = sheet.cell(number, column)
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"
            cell.alignment = Alignment(vertical="top", wrap_text=number > 1)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for column, width in enumerate((12, 14, 18, 12, 14, 18, 12, 52, 9, 22, 40, 9), 1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    with path.open("wb") as file:
        book.save(file)
