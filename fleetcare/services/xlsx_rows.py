"""The rows of an XLSX sheet as a stream (ECMA-376 part 1, 18.3 worksheets and 18.4 shared texts).

openpyxl reads what is small: the list of sheets and which number formats are dates.  The sheet itself and the table
of texts that its cells share are read here, both only as far as they are needed, so that a million rows need the memory of a
few, and a Stop is obeyed at any place.
"""

from __future__ import annotations

import datetime as dt
import re
import sqlite3
import warnings
import zipfile
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any
from xml.parsers import expat

from fleetcare.domain.errors import FileRefused
from fleetcare.services.sheet_xml import LARGEST_UNPACKED, LAST_ROW, Heartbeat, Text, fed

Rows = Iterator[tuple[int, list[str]]]

MOST_COLUMNS = 1024
LARGEST_WHOLE = 64 << 20
"""The parts that openpyxl reads as a whole may not be larger than this."""

_MAIN = ("http://schemas.openxmlformats.org/spreadsheetml/2006/main", "http://purl.oclc.org/ooxml/spreadsheetml/main")
_NAMES = {f"{space}|{name}": name for space in _MAIN for name in ("sheetData", "row", "c", "v", "is", "si", "t", "rPh")}
_ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")


def sheet_names(path: Path) -> tuple[str, ...]:
    """The sheets in their order."""
    book = _Book(path)
    book.close()
    return tuple(book.sheets)


def rows(path: Path, sheet: str, heartbeat: Heartbeat) -> Rows:
    """Row number and cells of every row that the sheet ("" for the first) holds."""
    book = _Book(path)
    texts = None
    try:
        if not book.sheets:
            raise FileRefused("oldsheet.empty", path=path.name)
        if sheet and sheet not in book.sheets:
            raise FileRefused("oldsheet.no_sheet", path=path.name, sheet=sheet, sheets=", ".join(book.sheets))
        texts = SharedTexts(book.packed, book.shared, heartbeat)
        found = _Sheet(book, texts)
        for _ in fed(found.parser, book.packed, book.sheets[sheet or next(iter(book.sheets))], heartbeat):
            yield from found.rows
            found.rows.clear()
    finally:
        if texts is not None:
            texts.close()
        book.close()


class _Book:
    """What openpyxl says of the file: sheets, where they lie, which styles are dates."""

    def __init__(self, path: Path) -> None:
        from openpyxl.reader.excel import ExcelReader
        from openpyxl.styles.stylesheet import apply_stylesheet

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            reader = ExcelReader(path, read_only=True, data_only=True, keep_links=False)
            _not_too_large(path, reader.archive, lambda name: name.endswith((".rels", "[Content_Types].xml")))
            reader.read_manifest()
            kinds = {one.PartName.lstrip("/"): one.ContentType for one in reader.package.Override}
            _not_too_large(path, reader.archive, lambda name: kinds.get(name, "").endswith(("main+xml", "styles+xml")))
            reader.read_workbook()
            apply_stylesheet(reader.archive, reader.wb)
            self.sheets: dict[str, str] = {
                sheet.name: found.target
                for sheet, found in reader.parser.find_sheets()
                if "chartsheet" not in found.Type and found.target in reader.valid_files
            }
        self.packed: zipfile.ZipFile = reader.archive
        self.dates, self.spans = reader.wb._date_formats, reader.wb._timedelta_formats
        self.epoch: dt.datetime = reader.wb.epoch
        self.shared = next((name for name, kind in kinds.items() if kind.endswith("sharedStrings+xml")), "")

    def close(self) -> None:
        self.packed.close()


def _not_too_large(path: Path, packed: zipfile.ZipFile, whole: Callable[[str], bool]) -> None:
    """Refuse what unfolds to more than is believable, in all or in the parts that are read as a whole."""
    sizes = {one.filename: one.file_size for one in packed.infolist()}
    unpacked = sum(sizes.values())
    if unpacked > LARGEST_UNPACKED:
        raise FileRefused(
            "oldsheet.too_large", path=path.name, unpacked_gib=unpacked >> 30, most=LARGEST_UNPACKED >> 30
        )
    if sum(size for name, size in sizes.items() if whole(name)) > LARGEST_WHOLE:
        raise ValueError(f"its list of sheets or of styles is larger than {LARGEST_WHOLE >> 20} MiB")


class SharedTexts:
    """Texts by number, read from the file as far as the highest number asked for; kept in a scratch file."""

    def __init__(self, packed: zipfile.ZipFile, member: str, heartbeat: Heartbeat) -> None:
        self._raw = sqlite3.connect("", isolation_level=None, check_same_thread=False)
        for pragma in ("cache_size = -16000", "temp_store = FILE", "journal_mode = OFF"):
            self._raw.execute(f"PRAGMA {pragma}")
        self._raw.execute("CREATE TABLE shared (number INTEGER PRIMARY KEY, text TEXT)")
        self._raw.execute("BEGIN")
        self._found: list[tuple[int, str]] = []
        self._read = self._numbered = 0
        self._text = Text()
        self._in_text = self._in_phonetic = False
        parser = expat.ParserCreate(namespace_separator="|")
        parser.StartElementHandler, parser.EndElementHandler = self._start, self._end
        parser.CharacterDataHandler = self._data
        self._parts = fed(parser, packed, member, heartbeat) if member else iter(())
        self.text = lru_cache(maxsize=8192)(self._text_of)

    def _text_of(self, number: int) -> str:
        while number >= self._read:
            if next(self._parts, self) is self:
                raise ValueError(f"a cell names text {number}, and there are {self._read}")
            self._raw.executemany("INSERT INTO shared VALUES (?,?)", self._found)
            self._read += len(self._found)
            self._found.clear()
        found = self._raw.execute("SELECT text FROM shared WHERE number = ?", (number,)).fetchone()
        if found is None:
            raise ValueError(f"a cell names text {number}")
        text: str = found[0]
        return text

    def close(self) -> None:
        """Forget them."""
        self._parts = iter(())
        self._raw.close()

    def _start(self, name: str, _attributes: dict[str, str]) -> None:
        name = _NAMES.get(name, "")
        if name == "rPh":
            self._in_phonetic = True
        elif name == "t":
            self._in_text = not self._in_phonetic

    def _data(self, piece: str) -> None:
        if self._in_text:
            self._text.add(piece)

    def _end(self, name: str) -> None:
        name = _NAMES.get(name, "")
        if name == "si":
            self._found.append((self._numbered, _unescaped(self._text.taken())))
            self._numbered += 1
        elif name == "t":
            self._in_text = False
        elif name == "rPh":
            self._in_phonetic = False


class _Sheet:
    """Rows as the parser comes by them."""

    def __init__(self, book: _Book, texts: SharedTexts) -> None:
        self._book, self._texts = book, texts
        self.rows: list[tuple[int, list[str]]] = []
        self._cells: list[str] = []
        self._row = self._column = 0
        self._kind, self._style = "n", 0
        self._text = Text()
        self._collects = self._inside = self._in_phonetic = False
        self._letters: dict[str, int] = {}
        self.parser = expat.ParserCreate(namespace_separator="|")
        self.parser.StartElementHandler, self.parser.EndElementHandler = self._start, self._end
        self.parser.CharacterDataHandler = self._data

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        name = _NAMES.get(name, "")
        if name == "sheetData":
            self._inside = True
        elif not self._inside:
            return
        elif name == "c":
            self._begin_cell(attributes)
        elif name == "v":
            self._collects = self._kind != "inlineStr"
        elif name == "t":
            self._collects = self._kind == "inlineStr" and not self._in_phonetic
        elif name == "rPh":
            self._in_phonetic = True
        elif name == "row":
            number = int(attributes.get("r", self._row + 1))
            if not self._row < number <= LAST_ROW:
                raise ValueError(f"row {number} stands after row {self._row}")
            self._row, self._column, self._cells = number, 0, []

    def _begin_cell(self, attributes: dict[str, str]) -> None:
        self._kind, self._style = attributes.get("t", "n"), int(attributes.get("s", 0))
        place = attributes.get("r")
        column = self._column + 1 if place is None else self._number(place.rstrip("0123456789"))
        if column <= self._column:
            raise ValueError(f"cell {place} in row {self._row} stands twice or out of its order")
        self._column = column

    def _number(self, letters: str) -> int:
        """1 for A, 27 for AA."""
        known = self._letters.get(letters)
        if known is None:
            from openpyxl.utils import column_index_from_string

            known = self._letters[letters] = column_index_from_string(letters)
        return known

    def _data(self, piece: str) -> None:
        if self._collects:
            self._text.add(piece)

    def _end(self, name: str) -> None:
        name = _NAMES.get(name, "")
        if name in ("v", "t"):
            self._collects = False
        elif name == "rPh":
            self._in_phonetic = False
        elif name == "c" and self._inside:
            text = self._written(self._text.taken())
            if text and len(self._cells) <= MOST_COLUMNS:  # a row that is wider is refused by its reader
                self._cells += [""] * (min(self._column, MOST_COLUMNS + 1) - 1 - len(self._cells))
                self._cells.append(text)
        elif name == "row" and self._inside:
            self.rows.append((self._row, self._cells))
        elif name == "sheetData":
            self._inside = False

    def _written(self, value: str) -> str:
        """A cell's value as a person would read it; a number has the fifteen digits a spreadsheet keeps."""
        if not value:
            return ""
        kind = self._kind
        if kind == "s":
            return self._texts.text(int(value))
        if kind == "n":
            number: Any = float(value) if "." in value or "e" in value or "E" in value else int(value)
            if self._style in self._book.dates:
                return _moment(number, self._book.epoch, span=self._style in self._book.spans)
            return f"{number:.15g}" if isinstance(number, float) else str(number)
        if kind == "b":
            return str(bool(int(value)))
        if kind == "d":
            from openpyxl.utils.datetime import from_ISO8601

            return _plain(from_ISO8601(value))
        return _unescaped(value)


def _moment(number: float, epoch: dt.datetime, *, span: bool) -> str:
    """The date, time or span of time that a number is formatted as."""
    from openpyxl.utils.datetime import from_excel

    try:
        return _plain(from_excel(number, epoch, timedelta=span))
    except (OverflowError, ValueError):
        return "#VALUE!"


def _plain(value: object) -> str:
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ", timespec="seconds")
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    return str(value)


def _unescaped(text: str) -> str:
    """The letters that stand as _x000D_ (ST_Xstring, 22.9.2.19), where they are letters that XML may hold."""
    return _ESCAPED.sub(_letter, text) if "_x" in text else text


def _letter(found: re.Match[str]) -> str:
    letter = chr(int(found[1], 16))
    allowed = letter in "\t\n\r" or " " <= letter < "\ud800" or "\ue000" <= letter < "\ufffe"
    return letter if allowed else found[0]
