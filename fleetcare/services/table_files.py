"""Open CSV, XLSX and ODS as streams of rows of text; every cell as it is written, nothing converted.

CSV is read by RFC 4180 (quotes doubled inside quotes, CRLF or LF), with comma, semicolon or tab.
Blank rows are passed over; a row keeps the number it has in the file, counted from 1.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from hashlib import sha256
from itertools import islice
from pathlib import Path
from typing import TextIO

from fleetcare.domain.errors import FileRefused
from fleetcare.services import ods_rows, xlsx_rows
from fleetcare.services.sheet_xml import Heartbeat, Told, no_heartbeat, untold
from fleetcare.services.xlsx_rows import MOST_COLUMNS, Rows

PART = 1 << 20
LONGEST_LINE = 1 << 22
BEAT_EVERY = 200
"""Rows between two heartbeats, blank ones too."""
_SPREADSHEETS = (".xlsx", ".xlsm")


Progress = Callable[[int, int], None]
"""Called with rows done and rows in all (0 while nobody knows yet)."""


class Cancelled(Exception):
    """The person stopped it; nothing was written."""


def never() -> bool:
    """Nobody presses Stop."""
    return False


class Pulse:
    """A heartbeat: raises Cancelled once the person has pressed Stop, and otherwise tells how far it is."""

    def __init__(self, cancelled: Callable[[], bool], progress: Progress | None) -> None:
        self._cancelled, self._progress = cancelled, progress
        self.done = self.of = 0

    def __call__(self) -> None:
        if self._cancelled():
            raise Cancelled
        if self._progress is not None:
            self._progress(self.done, self.of)

    def at(self, done: int, of: int) -> None:
        """So far it is; to be told at the next beat."""
        self.done, self.of = done, of


def parts_of(path: Path, heartbeat: Heartbeat = no_heartbeat) -> Iterator[bytes]:
    """The bytes of a file in parts of one MiB, with a heartbeat between them."""
    try:
        with path.open("rb") as stream:
            part = stream.read(PART)
            while part:
                yield part
                if part := stream.read(PART):
                    heartbeat()
    except OSError as error:
        raise FileRefused("import.unreadable", path=str(path), why=str(error.strerror or error)) from error


def digest_of(path: Path, heartbeat: Heartbeat = no_heartbeat) -> tuple[str, int]:
    """SHA-256 and size of a file."""
    read, size = sha256(), 0
    for part in parts_of(path, heartbeat):
        read.update(part)
        size += len(part)
    return read.hexdigest(), size


def sheet_names(path: Path, heartbeat: Heartbeat = no_heartbeat, told: Told = untold) -> tuple[str, ...]:
    """The sheets of a spreadsheet in their order; a CSV file has one without a name.

    `told` is called where the whole file has to be passed over for them.
    """
    suffix = path.suffix.lower()
    with refusals(path):
        if suffix in _SPREADSHEETS:
            return xlsx_rows.sheet_names(path)
        if suffix == ".ods":
            return ods_rows.sheet_names(path, heartbeat, told)
    next(parts_of(path), b"")
    return ("",)


def is_slow(path: Path) -> bool:
    """True for files that take long to unpack, so that they are better read once."""
    return path.suffix.lower() in (*_SPREADSHEETS, ".ods")


def rows(path: Path, sheet: str = "", heartbeat: Heartbeat = no_heartbeat) -> Rows:
    """Row number and cells of every row that is not blank; FileRefused for what cannot be read.

    `heartbeat` is called many times a second, also while a spreadsheet is unpacked and no row is ready, or all are blank.
    """
    suffix = path.suffix.lower()
    reader = xlsx_rows.rows if suffix in _SPREADSHEETS else ods_rows.rows if suffix == ".ods" else _csv_rows
    with refusals(path):
        for read, (number, cells) in enumerate(reader(path, sheet, heartbeat), start=1):
            if read % BEAT_EVERY == 0:
                heartbeat()
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
        if isinstance(error, Exception) and not isinstance(error, (FileRefused, Cancelled)):
            why = (str(error) or type(error).__name__).splitlines()[0][:200]
            raise FileRefused("import.unreadable", path=str(self._path), why=why) from error


# CSV


def _csv_rows(path: Path, _sheet: str, heartbeat: Heartbeat) -> Rows:
    encoding = _encoding(path, heartbeat)
    with path.open(encoding=encoding, newline="") as stream:
        start = stream.read(1 << 16)
        if not start.strip():
            raise FileRefused("oldsheet.empty", path=path.name)
        stream.seek(0)
        yield from enumerate(csv.reader(_lines(stream), delimiter=_separator(start), strict=True), start=1)


def _lines(stream: TextIO) -> Iterator[str]:
    """Line by line; a line longer than any sheet's would otherwise be read into memory as a whole."""
    while line := stream.readline(LONGEST_LINE):
        if len(line) == LONGEST_LINE:
            raise ValueError(f"a line of more than {LONGEST_LINE} letters")
        yield line


def text_rows(text: str) -> Rows:
    """Row number and cells of pasted text that are not blank; copied cells of a spreadsheet are apart by tabs."""
    for number, cells in enumerate(csv.reader(io.StringIO(text), delimiter=_separator(text)), start=1):
        if any(cell.strip() for cell in cells):
            yield number, cells


def _encoding(path: Path, heartbeat: Heartbeat) -> str:
    """UTF-8 or UTF-16 where the bytes say so, otherwise the Western code page of old spreadsheets."""
    with path.open("rb") as stream:
        start = stream.read(4)
    if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    try:
        with path.open(encoding="utf-8-sig") as text:
            while text.read(PART):
                heartbeat()
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
