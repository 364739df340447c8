"""Open CSV, XLSX and ODS as streams of rows of text; every cell as it is written, nothing converted.

CSV is read by RFC 4180 (quotes doubled inside quotes, CRLF or LF), with comma, semicolon or tab.
Blank rows are passed over; a row keeps the number it has in the file, counted from 1.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Iterator
from hashlib import sha256
from itertools import islice
from pathlib import Path
from xml.etree import ElementTree

from fleetcare.domain.errors import FileRefused

Rows = Iterator[tuple[int, list[str]]]

PART = 1 << 20
LARGEST_UNPACKED = 4 << 30
MOST_COLUMNS = 1024
_SPREADSHEETS = (".xlsx", ".xlsm")


def parts_of(path: Path) -> Iterator[bytes]:
    """The bytes of a file in parts of one MiB."""
    try:
        with path.open("rb") as stream:
            while part := stream.read(PART):
                yield part
    except OSError as error:
        raise FileRefused("import.unreadable", path=str(path), why=str(error.strerror or error)) from error


def digest_of(path: Path) -> tuple[str, int]:
    """SHA-256 and size of a file."""
    read, size = sha256(), 0
    for part in parts_of(path):
        read.update(part)
        size += len(part)
    return read.hexdigest(), size


def sheet_names(path: Path) -> tuple[str, ...]:
    """The sheets of a spreadsheet in their order; a CSV file has one without a name."""
    suffix = path.suffix.lower()
    if suffix in _SPREADSHEETS:
        with refusals(path):
            book = _workbook(path)
            try:
                return tuple(book.sheetnames)
            finally:
                book.close()
    if suffix == ".ods":
        with refusals(path):
            return tuple(name for name, _ in _ods_tables(path, None))
    next(parts_of(path), b"")
    return ("",)


def is_slow(path: Path) -> bool:
    """True for files that take long to unpack, so that they are better read once."""
    return path.suffix.lower() in (*_SPREADSHEETS, ".ods")


def rows(path: Path, sheet: str = "") -> Rows:
    """Row number and cells of every row that is not blank; FileRefused for what cannot be read."""
    suffix = path.suffix.lower()
    reader = _xlsx_rows if suffix in _SPREADSHEETS else _ods_rows if suffix == ".ods" else _csv_rows
    with refusals(path):
        for number, cells in reader(path, sheet):
            if len(cells) > MOST_COLUMNS:
                raise FileRefused("oldsheet.too_wide", path=path.name, row=number, most=MOST_COLUMNS)
            if any(cell and not cell.isspace() for cell in cells):
                yield number, cells


class refusals:
    """A file of somebody else's making can break its reader in any way; each way is one sentence."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, Exception) and not isinstance(error, FileRefused):
            why = (str(error) or type(error).__name__).splitlines()[0][:200]
            raise FileRefused("import.unreadable", path=str(self._path), why=why) from error


# CSV


def _csv_rows(path: Path, _sheet: str) -> Rows:
    encoding = _encoding(path)
    with path.open(encoding=encoding, newline="") as stream:
        start = stream.read(1 << 16)
        if not start.strip():
            raise FileRefused("oldsheet.empty", path=path.name)
        stream.seek(0)
        yield from enumerate(csv.reader(stream, delimiter=_separator(start), strict=True), start=1)


def text_rows(text: str) -> Rows:
    """Row number and cells of pasted text that are not blank; copied cells of a spreadsheet are apart by tabs."""
    for number, cells in enumerate(csv.reader(io.StringIO(text), delimiter=_separator(text)), start=1):
        if any(cell.strip() for cell in cells):
            yield number, cells


def _encoding(path: Path) -> str:
    """UTF-8 or UTF-16 where the bytes say so, otherwise the Western code page of old spreadsheets."""
    with path.open("rb") as stream:
        start = stream.read(4)
    if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    try:
        with path.open(encoding="utf-8-sig") as text:
            while text.read(PART):
                pass
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _separator(start: str) -> str:
    """The separator that gives the first lines the most cells, and the same number in most of them."""

    def score(mark: str) -> tuple[int, int]:
        try:
            widths = [len(row) for row in islice(csv.reader(io.StringIO(start), delimiter=mark), 30) if row]
        except csv.Error:
            return 0, 0
        common = max(set(widths), key=widths.count, default=0)
        return (widths.count(common) if common > 1 else 0), common

    return max(",;\t", key=score)


# XLSX


def _workbook(path: Path):  # type: ignore[no-untyped-def]
    import openpyxl

    _not_too_large(path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return openpyxl.load_workbook(path, read_only=True, data_only=True)


def _xlsx_rows(path: Path, sheet: str) -> Rows:
    book = _workbook(path)
    try:
        if sheet and sheet not in book.sheetnames:
            raise FileRefused("oldsheet.no_sheet", path=path.name, sheet=sheet, sheets=", ".join(book.sheetnames))
        page = book[sheet] if sheet else book[book.sheetnames[0]]
        page.reset_dimensions()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for number, values in enumerate(page.iter_rows(values_only=True), start=1):
                yield number, _trimmed([_cell_text(value) for value in values])
    finally:
        book.close()


def _cell_text(value: object) -> str:
    """A cell's value as a person would read it; a number has the fifteen digits a spreadsheet keeps."""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ", timespec="seconds")
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    return str(value)


def _trimmed(cells: list[str]) -> list[str]:
    while cells and not cells[-1]:
        cells.pop()
    return cells


# ODS (OpenDocument 1.2, part 1: table:table, table:table-row, table:table-cell)

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def _ods_tables(path: Path, wanted: str | None) -> Iterator[tuple[str, Rows]]:
    """Names of the tables; with `wanted` the rows of that one ("" for the first) as well."""
    _not_too_large(path)
    with zipfile.ZipFile(path) as packed, packed.open("content.xml") as stream:
        steps = ElementTree.iterparse(stream, events=("start", "end"))
        table = None
        for event, element in steps:
            if event == "start" and element.tag == f"{_TABLE}table":
                table = element
                name = element.get(f"{_TABLE}name", "")
                if wanted is not None and wanted in ("", name):
                    yield name, _ods_table(steps, element)
                    return
                if wanted is None:
                    yield name, iter(())
            elif event == "end" and element.tag == f"{_TABLE}table-row" and table is not None:
                table.clear()


def _ods_rows(path: Path, sheet: str) -> Rows:
    for _, found in _ods_tables(path, sheet):
        yield from found
        return
    raise FileRefused("oldsheet.no_sheet", path=path.name, sheet=sheet, sheets=", ".join(sheet_names(path)))


def _ods_table(steps: Iterator[tuple[str, ElementTree.Element]], table: ElementTree.Element) -> Rows:
    number = 1
    for event, element in steps:
        if event != "end":
            continue
        if element.tag == f"{_TABLE}table":
            return
        if element.tag == f"{_TABLE}table-row":
            repeated = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
            cells = _ods_cells(element)
            if cells:
                for one in range(repeated):
                    yield number + one, list(cells)
            number += repeated
            element.clear()
            table.clear()


def _ods_cells(row: ElementTree.Element) -> list[str]:
    cells: list[str] = []
    blanks = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        repeated = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
        text = _ods_text(cell)
        if not text:
            blanks += repeated
            continue
        if len(cells) + blanks + repeated > MOST_COLUMNS:
            raise ValueError(f"more than {MOST_COLUMNS} columns")
        cells += [""] * blanks + [text] * repeated
        blanks = 0
    return cells


def _ods_text(cell: ElementTree.Element) -> str:
    kind = cell.get(f"{_OFFICE}value-type", "")
    if kind in ("float", "percentage", "currency"):
        return f"{float(cell.get(f'{_OFFICE}value', '')):.15g}"
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "").replace("T00:00:00", "")
    if kind == "time":
        clock = cell.get(f"{_OFFICE}time-value", "")
        return clock.removeprefix("PT").replace("H", ":").replace("M", ":").split("S")[0]
    return "\n".join("".join(line.itertext()) for line in cell.findall(f"{_TEXT}p"))


def _not_too_large(path: Path) -> None:
    with zipfile.ZipFile(path) as packed:
        unpacked = sum(one.file_size for one in packed.infolist())
    if unpacked > LARGEST_UNPACKED:
        raise FileRefused(
            "oldsheet.too_large", path=path.name, unpacked_gib=unpacked >> 30, most=LARGEST_UNPACKED >> 30
        )
