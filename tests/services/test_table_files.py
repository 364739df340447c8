"""Spreadsheets as streams: cell for cell as a reference library reads them, bounded, and stopped at once."""

import datetime as dt
import random
import zipfile
from collections.abc import Callable, Iterator
from itertools import zip_longest
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from fleetcare.domain.errors import FileRefused
from fleetcare.services import importing, ods_rows, oldsheets, sheet_xml, table_files, xlsx_rows
from fleetcare.services.table_files import Cancelled
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import Kestrel

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def reference(path: Path) -> list[list[str]]:
    """The cells as openpyxl's own reader gives them, written as the program writes values."""
    book = openpyxl.load_workbook(path, data_only=True)
    read = [["" if v is None else _text(v) for v in row] for row in book.worksheets[0].iter_rows(values_only=True)]
    return [_trimmed(row) for row in read]


def _text(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ", timespec="seconds")
    return value.isoformat() if isinstance(value, dt.time) else str(value)


def _trimmed(row: list[str]) -> list[str]:
    while row and not row[-1]:
        row.pop()
    return row


def cells_of(path: Path) -> list[list[str]]:
    """The rows by number, gaps filled."""
    read = dict(table_files.rows(path))
    return [read.get(number, []) for number in range(1, max(read) + 1)]


@pytest.mark.parametrize("seed", range(6))
def test_every_sort_of_cell_is_read_as_a_reference_library_reads_it(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    book = openpyxl.Workbook()
    if seed % 2:
        book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    assert sheet is not None
    made: list[Callable[[], object]] = [
        lambda: rng.randint(-5, 10**15), lambda: rng.random() * 10 ** rng.randint(-8, 12), lambda: "ok",
        lambda: f"text {rng.random()}", lambda: dt.datetime(2020, 1, 1) + dt.timedelta(minutes=rng.randrange(3_000_000)),
        lambda: dt.date(2021, 3, rng.randint(1, 28)), lambda: dt.time(rng.randrange(24), rng.randrange(60)),
        lambda: dt.timedelta(minutes=rng.randrange(9000)), lambda: rng.random() < 0.5, lambda: "  two  spaces ",
        lambda: "a\nb\tc", lambda: "=1+1", lambda: "#N/A", lambda: "ž 電 \N{GRINNING FACE}",
        lambda: CellRichText("plain ", TextBlock(InlineFont(b=True), "bold"), " again"),
    ]  # fmt: skip
    for row in range(1, 60):
        if row % 7 == 0:
            continue
        for column in range(1, 12):
            if rng.random() < 0.7:
                sheet.cell(row, column).value = rng.choice(made)()  # type: ignore[assignment]
    book.save(tmp_path / "every.xlsx")
    assert cells_of(tmp_path / "every.xlsx") == reference(tmp_path / "every.xlsx")


def by_hand(path: Path, rows: str, texts: str = "", space: str = MAIN, before: str = "") -> Path:
    """A workbook whose sheet and table of texts are written out here."""
    write_sheet(path.with_suffix(".plain.xlsx"), [["x"]])
    with zipfile.ZipFile(path.with_suffix(".plain.xlsx")) as plain, zipfile.ZipFile(path, "w") as packed:
        for name in plain.namelist():
            data = plain.read(name)
            if name.endswith("sheet1.xml"):
                data = f'{before}<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'.encode()
            elif name.endswith("sharedStrings.xml"):
                data = f'<sst xmlns="{space}">{texts}</sst>'.encode()
            packed.writestr(name, data)
    return path


def test_texts_in_pieces_readings_and_escapes(tmp_path: Path) -> None:
    # ECMA-376 part 1: 18.4.8 si, 18.4.4 r, 18.4.6 rPh (a reading aid, no part of the text), 22.9.2.19 _xHHHH_
    texts = (
        "<si><t>one</t></si><si><r><t>two</t></r><r><t xml:space='preserve'> three</t></r></si><si/>"
        "<si><t>課</t><rPh sb='0' eb='1'><t>カ</t></rPh></si><si><t>a_x000D_b_x005F_x0041_ _x0000_</t></si>"
    )
    row = "".join(f'<c t="s"><v>{n}</v></c>' for n in range(5))
    inline = '<c r="B3" t="inlineStr"><is><r><t>in</t></r><r><t>line</t></r></is></c><c r="D3" t="str"><v>said</v></c>'
    for space in (MAIN, "http://purl.oclc.org/ooxml/spreadsheetml/main"):
        path = by_hand(tmp_path / "hand.xlsx", f"<row>{row}</row><row r='3'>{inline}</row>", texts, space)
        assert dict(table_files.rows(path)) == {
            1: ["one", "two three", "", "課", "a\rb_x0041_ _x0000_"], 3: ["", "inline", "", "said"],
        }  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "before", "says"),
    [
        ("<row r='2'><c><v>1</v></c></row><row r='1'><c><v>2</v></c></row>", "", "row 1 stands after row 2"),
        ("<row r='1'><c r='B1'><v>1</v></c><c r='A1'><v>2</v></c></row>", "", "A1 in row 1 stands twice or out of"),
        ("<row><c t='s'><v>7</v></c></row>", "", "names text 7, and there are 1"),
        ("<row><c t='s'><v>-1</v></c></row>", "", "names text -1"),
        (f"<row>{'<c><v>1</v></c>' * 1025}</row>", "", "row 1 has more than 1024 columns"),
        (f"<row><c t='str'><v>{'9' * (1 << 20)}9</v></c></row>", "", "a cell of more than 1048576 letters"),
        ("<row><c><v>1</v></c></row>", '<!DOCTYPE x [<!ENTITY a "aaaa">]>', "it has a document type"),
        ("<row><c><v>1</v></c>", "", "mismatched tag"),
    ],
)
def test_what_no_spreadsheet_program_writes_is_one_sentence(tmp_path: Path, rows: str, before: str, says: str) -> None:
    path = by_hand(tmp_path / "odd.xlsx", rows, "<si><t>one</t></si>", before=before)
    with pytest.raises(FileRefused, match=says):
        list(table_files.rows(path))


def test_what_would_unpack_without_end_is_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = by_hand(tmp_path / "bomb.xlsx", f"<row><c><v>{'1' * 5000}</v></c></row>")
    write_sheet(tmp_path / "bomb.ods", [["x" * 5000]])
    for module in (xlsx_rows, ods_rows):
        monkeypatch.setattr(module, "LARGEST_UNPACKED", 4000)
    for name in ("bomb.xlsx", "bomb.ods"):
        with pytest.raises(FileRefused, match="would unpack to"):
            list(table_files.rows(tmp_path / name))
    monkeypatch.undo()
    monkeypatch.setattr(xlsx_rows, "LARGEST_WHOLE", 100)
    with pytest.raises(FileRefused, match="its list of sheets or of styles"):
        list(table_files.rows(path))
    monkeypatch.setattr(importing, "LARGEST_TABLE", 4000)
    with pytest.raises(FileRefused, match="would unpack to"):
        importing._table(path, path.read_bytes())


def far_texts(path: Path, count: int) -> Path:
    """A sheet whose first cell names the last of many texts."""
    texts = "".join(f"<si><t>text {number} {'x' * 40}</t></si>" for number in range(count))
    return by_hand(path, f"<row><c t='s'><v>{count - 1}</v></c></row>", texts)


def test_stop_is_obeyed_while_texts_are_read_and_no_row_is_ready(kestrel: Kestrel, tmp_path: Path) -> None:
    path = far_texts(tmp_path / "far.xlsx", 20_000)
    beats: list[int] = []

    def heartbeat() -> None:
        beats.append(1)
        if len(beats) == 5:
            raise Cancelled

    with pytest.raises(Cancelled):
        list(table_files.rows(path, "", heartbeat))
    write_sheet(tmp_path / "far.ods", ([f"P-{n}", "x" * 40] for n in range(20_000)))
    for name in ("far.xlsx", "far.ods"):
        asked = iter([False, False, True])
        with pytest.raises(Cancelled):
            oldsheets.survey(kestrel.store, tmp_path / name, None, lambda a=asked: next(a))  # type: ignore[misc]


def test_texts_are_read_only_as_far_as_they_are_needed(kestrel: Kestrel, tmp_path: Path) -> None:
    write_sheet(
        tmp_path / "long.xlsx", [["pack", "date", "volts"], *([f"P-{n}", f"d{n}", "ok"] for n in range(20_000))]
    )
    parts: list[int] = []
    oldsheets.survey(kestrel.store, tmp_path / "long.xlsx", None, lambda: bool(parts.append(1)))
    whole: list[int] = []
    count = sum(1 for _ in table_files.rows(tmp_path / "long.xlsx", "", lambda: whole.append(1)))
    assert count == 20_001 and len(parts) * 5 < len(whole)


def test_spaces_notes_and_repeats_of_an_ods(tmp_path: Path) -> None:
    # OpenDocument 1.2 part 1: 6.1.3 text:s, 14.1 office:annotation (a note on the cell, no part of it), 19.675, 19.679
    write_sheet(tmp_path / "plain.ods", [["first"], ["CELL"], ["last"]])
    with zipfile.ZipFile(tmp_path / "plain.ods") as plain:
        content = plain.read("content.xml").decode()
    cell = (
        '<table:table-cell table:number-columns-repeated="2"><office:annotation><text:p>a note</text:p></office:annotation>'
        '<text:p>two<text:s text:c="2"/>spaces</text:p><text:p>next</text:p></table:table-cell>'
    )
    content = content.replace(
        '<table:table-cell office:value-type="string"><text:p>CELL</text:p></table:table-cell>', cell
    )
    content = content.replace("<table:table-row>" + cell, '<table:table-row table:number-rows-repeated="3">' + cell)
    with zipfile.ZipFile(tmp_path / "made.ods", "w") as packed:
        packed.writestr("content.xml", content)
    text = "two  spaces\nnext"
    assert list(table_files.rows(tmp_path / "made.ods")) == [
        (1, ["first"]), (2, [text, text]), (3, [text, text]), (4, [text, text]), (5, ["last"]),
    ]  # fmt: skip
    with zipfile.ZipFile(tmp_path / "many.ods", "w") as packed:
        packed.writestr("content.xml", content.replace('rows-repeated="3"', f'rows-repeated="{10**12}"'))
    with pytest.raises(FileRefused, match="more than 16777216 rows"):
        list(table_files.rows(tmp_path / "many.ods"))


def test_the_reference_reads_the_same_numbers_of_rows(tmp_path: Path) -> None:
    write_sheet(tmp_path / "log.xlsx", [["pack", n, n / 7, f"r{n}"] for n in range(500)])
    for mine, theirs in zip_longest(cells_of(tmp_path / "log.xlsx"), reference(tmp_path / "log.xlsx")):
        assert mine == theirs


class _Ear:
    """For every part of a file that is read: how often Stop was looked at and how often something was told."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.told: list[tuple[int, int]] = []
        self.looks = 0
        self.parts: list[tuple[int, int]] = []
        fed = sheet_xml.fed

        def listened(*asked: Any) -> Iterator[None]:
            before = self.looks, len(self.told)
            for _ in fed(*asked):
                self.parts.append((self.looks - before[0], len(self.told) - before[1]))
                yield
                before = self.looks, len(self.told)
            self.parts.pop()  # the end, which is no part

        for module in (xlsx_rows, ods_rows):
            monkeypatch.setattr(module, "fed", listened)

    def tell(self, done: int, of: int) -> None:
        self.told.append((done, of))

    def stopped(self) -> bool:
        self.looks += 1
        return False


@pytest.mark.parametrize("name", ["far.xlsx", "long.xlsx", "long.ods"])
def test_progress_is_told_and_stop_heard_at_every_part_of_a_file(
    kestrel: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    path = tmp_path / name
    if name == "far.xlsx":  # the first row names the last text
        texts = "".join(f"<si><t>text {number} {'x' * 40}</t></si>" for number in range(20_000))
        first = "".join(f"<c t='inlineStr'><is><t>{one}</t></is></c>" for one in ("pack", "date", "volts"))
        by_hand(path, f"<row>{first}</row><row><c t='s'><v>19999</v></c></row>", texts)
    else:
        write_sheet(path, [["pack", "date", "volts"], *([f"P-{n}", f"d{n}", "ok"] for n in range(20_000))])
    with monkeypatch.context() as patch:
        ear = _Ear(patch)
        plan = oldsheets.survey(kestrel.store, path, None, ear.stopped, ear.tell).plan
        assert len(ear.parts) >= (2 if name == "long.xlsx" else 15)
        assert all(looks and told for looks, told in ear.parts)
    ear = _Ear(monkeypatch)
    oldsheets.preview(kestrel.store, kestrel.clock, path, plan, ear.tell, ear.stopped).close()
    assert len(ear.parts) > 15 and all(looks and told for looks, told in ear.parts)


def test_how_far_the_search_for_sheets_is(kestrel: Kestrel, tmp_path: Path) -> None:
    write_sheet(tmp_path / "long.ods", ([f"P-{n}", f"d{n}", "ok"] for n in range(20_000)))
    told: list[tuple[int, int]] = []
    oldsheets.survey(kestrel.store, tmp_path / "long.ods", None, lambda: False, lambda *one: told.append(one))
    parts = [one for one in told if one[1]]
    with zipfile.ZipFile(tmp_path / "long.ods") as packed:
        of = packed.getinfo("content.xml").file_size // sheet_xml.PART + 1
    assert of > 50 and parts == [(n, of) for n in range(1, of)]


@pytest.mark.parametrize("name", ["blank.csv", "blank.ods"])
def test_stop_is_heard_among_rows_that_are_blank(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    if name == "blank.csv":
        path.write_text("pack,date\n" + " , \n" * 10_000, "utf-8")
    else:  # OpenDocument 1.2 part 1, 19.679: one row said to stand there ten thousand times
        write_sheet(tmp_path / "plain.ods", [["pack"], [" "]])
        with zipfile.ZipFile(tmp_path / "plain.ods") as plain, zipfile.ZipFile(path, "w") as packed:
            content = plain.read("content.xml").decode()
            before, row, after = content.rpartition("<table:table-row>")
            packed.writestr("content.xml", f'{before}{row[:-1]} table:number-rows-repeated="10000">{after}')
    beats: list[int] = []
    assert [row for row, _ in table_files.rows(path, "", lambda: beats.append(1))] == [1]
    assert len(beats) >= 10_000 // table_files.BEAT_EVERY


def test_a_line_without_an_end_is_not_read_into_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table_files, "LONGEST_LINE", 5000)
    path = tmp_path / "one.csv"
    path.write_text("a,b\n" + "x," * 600 + "\n", "utf-8")
    assert len(dict(table_files.rows(path))[2]) == 601
    path.write_text("a,b\n" + "x," * 6000, "utf-8")
    with pytest.raises(FileRefused, match="a line of more than 5000 letters"):
        list(table_files.rows(path))


def test_a_large_csv_is_heard_while_its_letters_are_found_out_and_it_is_hashed(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    path.write_bytes(b"pack,date\n" + b"P-1,2026\n" * 500_000)
    beats: list[int] = []
    next(table_files.rows(path, "", lambda: beats.append(1)))
    assert len(beats) >= 4
    beats.clear()
    table_files.digest_of(path, lambda: beats.append(1))
    assert len(beats) == 4
