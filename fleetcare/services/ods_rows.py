"""The rows of an ODS sheet as a stream (OpenDocument 1.2 part 1: table:table, table:table-row, table:table-cell)."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.parsers import expat

from fleetcare.domain.errors import FileRefused
from fleetcare.services.sheet_xml import LARGEST_UNPACKED, LAST_ROW, PART, Heartbeat, Text, Told, fed, untold
from fleetcare.services.xlsx_rows import MOST_COLUMNS

Rows = Iterator[tuple[int, list[str]]]

_URN = "urn:oasis:names:tc:opendocument:xmlns:"
_TABLE, _OFFICE = f"{_URN}table:1.0|", f"{_URN}office:1.0|"
_NAMES = {
    **{f"{_TABLE}{name}": name for name in ("table", "table-row", "table-cell", "covered-table-cell")},
    **{f"{_URN}text:1.0|{name}": f"text:{name}" for name in ("p", "s", "tab", "line-break")},
    f"{_OFFICE}annotation": "annotation",
}
_CELLS = ("table-cell", "covered-table-cell")
_MEMBER = "content.xml"


def sheet_names(path: Path, heartbeat: Heartbeat, told: Told = untold) -> tuple[str, ...]:
    """The tables in their order; the whole file has to be passed over for that."""
    found: list[str] = []
    parser = expat.ParserCreate(namespace_separator="|")
    depth = 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        if name == f"{_TABLE}table":
            if not depth:
                found.append(attributes.get(f"{_TABLE}name", ""))
            depth += 1

    def end(name: str) -> None:
        nonlocal depth
        depth -= name == f"{_TABLE}table"

    parser.StartElementHandler, parser.EndElementHandler = start, end
    _not_too_large(path)
    with zipfile.ZipFile(path) as packed:
        of = packed.getinfo(_MEMBER).file_size // PART + 1
        for done, _ in enumerate(fed(parser, packed, _MEMBER, heartbeat), start=1):
            told(done, of)
    return tuple(found)


def rows(path: Path, sheet: str, heartbeat: Heartbeat) -> Rows:
    """Row number and cells of every row of the table ("" for the first) that holds something."""
    _not_too_large(path)
    table = _Table(sheet)
    with zipfile.ZipFile(path) as packed:
        for _ in fed(table.parser, packed, _MEMBER, heartbeat):
            for first, repeated, cells in table.rows:
                for one in range(repeated):
                    yield first + one, list(cells)
            table.rows.clear()
            if table.done:
                return
    if not table.found:
        names = ", ".join(sheet_names(path, heartbeat))
        raise FileRefused("oldsheet.no_sheet", path=path.name, sheet=sheet, sheets=names)


def _not_too_large(path: Path) -> None:
    with zipfile.ZipFile(path) as packed:
        unpacked = sum(one.file_size for one in packed.infolist())
    if unpacked > LARGEST_UNPACKED:
        raise FileRefused(
            "oldsheet.too_large", path=path.name, unpacked_gib=unpacked >> 30, most=LARGEST_UNPACKED >> 30
        )


class _Table:
    """Rows of one table as the parser comes by them: the first row's number, how often it stands, its cells."""

    def __init__(self, wanted: str) -> None:
        self._wanted = wanted
        self.rows: list[tuple[int, int, list[str]]] = []
        self.found = self.done = False
        self._depth = 0
        self._number = 1
        self._row_repeated = self._cell_repeated = 1
        self._cells: list[str] = []
        self._blanks = 0
        self._cell: dict[str, str] | None = None
        self._paragraphs = 0
        self._collects = self._annotated = 0
        self._text = Text()
        self.parser = expat.ParserCreate(namespace_separator="|")
        self.parser.StartElementHandler, self.parser.EndElementHandler = self._start, self._end
        self.parser.CharacterDataHandler = self._data

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        name = _NAMES.get(name, "")
        if name == "table":
            if self._depth or (
                not self.done and not self.found and self._wanted in ("", attributes.get(f"{_TABLE}name", ""))
            ):
                self.found = True
                self._depth += 1
            return
        if self._depth != 1 or self.done or not name:
            return
        if name == "annotation":
            self._annotated += 1
        elif name in _CELLS:
            self._cell = attributes
            self._paragraphs = 0
            self._cell_repeated = int(attributes.get(f"{_TABLE}number-columns-repeated", "1"))
        elif name == "table-row":
            self._row_repeated = int(attributes.get(f"{_TABLE}number-rows-repeated", "1"))
            self._cells, self._blanks = [], 0
        elif self._cell is not None and not self._annotated:
            self._text_part(name, attributes)

    def _text_part(self, name: str, attributes: dict[str, str]) -> None:
        if name == "text:p":
            if self._paragraphs:
                self._text.add("\n")
            self._paragraphs += 1
            self._collects += 1
        elif name == "text:s":
            self._text.add(" " * min(int(attributes.get(f"{_URN}text:1.0|c", "1")), 1000))
        else:
            self._text.add("\t" if name == "text:tab" else "\n")

    def _data(self, piece: str) -> None:
        if self._collects and not self._annotated:
            self._text.add(piece)

    def _end(self, name: str) -> None:
        name = _NAMES.get(name, "")
        if name == "table" and self._depth:
            self._depth -= 1
            self.done = not self._depth
        elif self._depth != 1 or not name:
            return
        elif name == "annotation":
            self._annotated -= 1
        elif name == "text:p" and self._collects and not self._annotated:
            self._collects -= 1
        elif name in _CELLS and self._cell is not None:
            self._keep(_written(self._cell, self._text.taken()))
            self._cell = None
        elif name == "table-row":
            if self._number + self._row_repeated > LAST_ROW and self._cells:
                raise ValueError(f"more than {LAST_ROW} rows")
            if self._cells:
                self.rows.append((self._number, self._row_repeated, self._cells))
            self._number += self._row_repeated

    def _keep(self, text: str) -> None:
        if not text:
            self._blanks += self._cell_repeated
            return
        if len(self._cells) + self._blanks + self._cell_repeated > MOST_COLUMNS:
            raise ValueError(f"more than {MOST_COLUMNS} columns")
        self._cells += [""] * self._blanks + [text] * self._cell_repeated
        self._blanks = 0


def _written(cell: dict[str, str], text: str) -> str:
    kind = cell.get(f"{_OFFICE}value-type", "")
    if kind in ("float", "percentage", "currency"):
        return f"{float(cell.get(f'{_OFFICE}value', '')):.15g}"
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "").replace("T00:00:00", "")
    if kind == "time":
        clock = cell.get(f"{_OFFICE}time-value", "")
        return clock.removeprefix("PT").replace("H", ":").replace("M", ":").split("S")[0]
    return text
