"""The history on paper and as an archive: read back by independent tools, altered, and found out."""

import csv
import io
import json
import re
import subprocess
import sys
import tracemalloc
import zipfile
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports import archive, history_sheet
from fleetcare.reports.flow import Flow, Text, wrap
from fleetcare.reports.page import Running
from fleetcare.reports.text import REGULAR, register
from fleetcare.services import history, history_checker, record
from tests.kestrel import MONDAY, Kestrel
from tests.services.test_history import YEAR, with_a_fire

COMMON = {"printed_by": "Ormond", "printed_at": MONDAY}
NASTY = '=1+1 <b>bold</b> & </para> \x07 \u202eabc "quoted", 漢字\nnew ' + "x" * 10_000


@pytest.fixture(scope="module")
def fire(tmp_path_factory: pytest.TempPathFactory) -> Kestrel:
    made = with_a_fire(tmp_path_factory.mktemp("fire") / "fire.fleet")
    note = Hold("vehicle", "EB-14", HoldClass.FAULT, made.now, msg("ground.by_person"), NASTY)
    record.set_hold(made.store, made.clock, made.author("PIKE"), note)
    return made


def paper(fire: Kestrel, path: Path, page: str = "A4") -> int:
    with history.reading(fire.store, fire.clock, YEAR) as reading:
        return history_sheet.write(reading, reading.whole(), path, page=page, **COMMON)


def squeezed(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize(("page", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_paper_holds_everything_on_pages_of_its_size(
    fire: Kestrel, tmp_path: Path, page: str, size: tuple[int, int]
) -> None:
    path = tmp_path / "h.pdf"
    count = paper(fire, path, page)
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) == count
    assert all((round(p.mediabox.width), round(p.mediabox.height)) == size for p in reader.pages)
    with fire.store.view() as view:
        head = view.head()
    for number, one in enumerate(reader.pages, start=1):
        said = squeezed(one.extract_text())
        for words in (word("safety.fire_line"), f"page {number} of {count}", head.short, "printed by Ormond",
                      "Maintenance history", "vehicle EB-14"):  # fmt: skip
            assert squeezed(words) in said, (number, words)
    text = squeezed("".join(p.extract_text() for p in reader.pages))
    for words in ("GAP. P-1004", "STRUCK by entry", "ENTERED AFTER THE STOP of 5 Nov 2026", "P-1011, bay 1",
                  "smoke in the yard", "place: Q-1", "<b>bold</b>", "[U+0007]", "[U+202E]",
                  "No lodging between"):  # fmt: skip
        assert squeezed(words) in text, words[:40]
    assert text.count("x") >= 10_000


def test_bookmarks_metadata_and_embedded_fonts(fire: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "h.pdf"
    paper(fire, path)
    reader = pypdf.PdfReader(path)
    assert reader.metadata is not None and reader.metadata.title == "Maintenance history vehicle EB-14"
    assert reader.metadata.author == "Kestrel Wharf" and reader.metadata.creation_date == MONDAY
    titles = [one.title for level in reader.outline for one in (level if isinstance(level, list) else [level])]
    order = [
        next(number for number, title in enumerate(titles) if title.endswith(word(key)))
        for key in ("history.summary", "history.lines", "history.procedure_texts")
    ]
    assert order == sorted(order)
    for one in reader.pages:
        for font in one["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_the_summary_is_one_page_whatever_the_fleet_and_nothing_is_lost(
    fire: Kestrel, tmp_path: Path, page: str
) -> None:
    path = tmp_path / "h.pdf"
    with history.reading(fire.store, fire.clock, YEAR) as reading:
        whole = reading.whole()
        gaps = tuple(
            msg("history.gap_open", pack=f"P-{5000 + n}", due_date=MONDAY.date(), until_date=MONDAY.date(), late_days=n)
            for n in range(300)
        )
        condition = msg("policy.open", text="word " * 900 + "lastword", policy="PC", from_date=MONDAY.date())
        people = "; ".join(f"Person{n} (may check)" for n in range(150))
        long = replace(
            whole, gaps=gaps, ends=gaps[:60], settings=gaps[:40], lodgings=gaps[:90], procedures=gaps[:30],
            recalls=gaps[:50], stays=gaps[:70], incidents=gaps[:20],
            conditions=((condition, msg("policy.not_measured")),) * 3,
            summary=tuple((name, people if name == word("history.people") else told) for name, told in whole.summary),
        )  # fmt: skip
        history_sheet.write(reading, long, path, page=page, **COMMON)
    pages = [squeezed(one.extract_text()) for one in pypdf.PdfReader(path).pages]
    for key in ("history.ends", "history.gaps", "history.settings", "history.lodgings", "policy.heading"):
        assert re.search(squeezed(word(key)) + r":\d+,seesection\d+", pages[0]), key
    assert squeezed(word("safety.defer")) in pages[0], "the last line of the summary stands on the first page"
    assert "2People" in pages[1] and "Person149(maycheck)" in pages[1]
    rest = "".join(pages[1:])
    sections = [rest.index(f"{n}{squeezed(word(key))}") for n, key in ((3, "history.ends"), (5, "history.gaps"))]
    assert sections == sorted(sections) and rest.count("lastword") == 3 and "P-5299" in rest


def test_a_short_summary_tells_everything_on_its_page(fire: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "h.pdf"
    paper(fire, path)
    pages = [squeezed(one.extract_text()) for one in pypdf.PdfReader(path).pages]
    assert "GAP.P-1004" in pages[0] and "seesection" not in pages[0] and pages[1].count("2Everyentry") == 1


def test_the_same_history_is_the_same_bytes(fire: Kestrel, tmp_path: Path) -> None:
    paper(fire, tmp_path / "a.pdf")
    paper(fire, tmp_path / "b.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_stopping_and_a_full_disk_leave_the_old_file(fire: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "h.pdf"
    path.write_bytes(b"old")

    class Stopped(Exception):
        pass

    def stop(_pages: int) -> None:
        raise Stopped

    def full(_pages: int) -> None:
        raise OSError(28, "No space left on device")

    for how, expected in ((stop, Stopped), (full, FileRefused)):
        with history.reading(fire.store, fire.clock, YEAR) as reading, pytest.raises(expected):
            history_sheet.write(reading, reading.whole(), path, page="A4", progress=how, **COMMON)
        assert path.read_bytes() == b"old" and [one.name for one in tmp_path.iterdir()] == ["h.pdf"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system offers a disk that is always full")
def test_a_disk_that_is_really_full_is_said_plainly(fire: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "h.pdf"
    (tmp_path / "h.pdf.new").symlink_to("/dev/full")
    with pytest.raises(FileRefused, match="No space left"):
        paper(fire, path)


def test_memory_stays_flat_over_many_pages(tmp_path: Path) -> None:
    running = Running("t", "s", "f", False, None, "", "", MONDAY)
    held: list[int] = []

    def look(pages: int) -> None:
        if pages in (50, 250):
            held.append(tracemalloc.get_traced_memory()[0])

    with (tmp_path / "long.pdf").open("wb") as file:
        tracemalloc.start()
        flow = Flow(file, running, page="A4", progress=look)
        flow.table((0.2, "a"), (0.8, "b"))
        for number in range(12_000):
            flow.row([Text(str(number))], [Text(f"entry {number} of a long history")])
        tracemalloc.stop()
        count = flow.finish()
    assert count > 250 and len(pypdf.PdfReader(tmp_path / "long.pdf").pages) == count
    # a page set here is some 15 kB of drawing; what is kept of it stays under a third of that
    assert (held[1] - held[0]) / 200 < 5_000


def test_wrapping_loses_no_letter_and_keeps_to_the_width() -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    from fleetcare.reports.text import REGULAR, register

    register()
    text = "some words and " + "long" * 100 + " again  with two spaces"
    lines = wrap(text, REGULAR, 8, 100)
    assert squeezed("".join(lines)) == squeezed(text)
    assert all(stringWidth(line, REGULAR, 8) <= 100.01 for line in lines)


# the archive


@pytest.fixture(scope="module")
def exported(fire: Kestrel, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("archive") / "h.zip"
    with history.reading(fire.store, fire.clock, YEAR) as reading:
        archive.write(reading, reading.whole(), path, page="A4", **COMMON)
    return path


def checked_elsewhere(folder: Path, *words: str) -> tuple[int, str]:
    """The checker in its own process, without this project's packages, on the unpacked folder."""
    done = subprocess.run(
        [sys.executable, "-I", "-S", str(folder / archive.CHECKER), *words], capture_output=True, text=True,
        encoding="utf-8", env={"PYTHONUTF8": "1"}, cwd=folder,
    )  # fmt: skip
    assert done.stderr == ""
    return done.returncode, done.stdout


@pytest.fixture
def folder(exported: Path, tmp_path: Path) -> Path:
    with zipfile.ZipFile(exported) as packed:
        packed.extractall(tmp_path / "out")
    return tmp_path / "out"


def test_the_archive_checks_out_with_nothing_but_the_standard_library(fire: Kestrel, folder: Path) -> None:
    with fire.store.view() as view:
        head = view.head()
    code, said = checked_elsewhere(folder)
    assert code == 0 and "Consistent with itself" in said and head.short in said
    code, said = checked_elsewhere(folder, "--fingerprint", head.short)
    assert code == 0 and said.startswith("Yes: every record here leads to the fingerprint")
    code, said = checked_elsewhere(folder, "--fingerprint", "0000 0000 0000 0000 · " + str(head.size))
    assert code == 1 and said.startswith("No:")
    assert head.root_hex in (folder / archive.BY_HAND).read_text("utf-8")


@pytest.mark.parametrize(("name", "old", "new"), [
    (history_checker.RECORDS, b"41.34", b"41.35"), (history_checker.TABLE, b"41.34", b"41.35"),
])  # fmt: skip
def test_one_changed_digit_is_found_and_its_line_named(folder: Path, name: str, old: bytes, new: bytes) -> None:
    lines = (folder / name).read_bytes().split(b"\n")
    number = next(i for i, line in enumerate(lines, start=1) if old in line)
    lines[number - 1] = lines[number - 1].replace(old, new, 1)
    (folder / name).write_bytes(b"\n".join(lines))
    code, said = checked_elsewhere(folder)
    assert code == 1 and f"{name}, line {number}" in said and f"{name} was changed after the export." in said


def test_a_changed_paper_and_a_left_out_line_are_found(folder: Path) -> None:
    with (folder / archive.PAPER).open("ab") as file:
        file.write(b"%")
    lines = (folder / history_checker.RECORDS).read_bytes().split(b"\n")
    (folder / history_checker.RECORDS).write_bytes(b"\n".join(lines[:3] + lines[4:]))
    code, said = checked_elsewhere(folder)
    assert code == 1 and "history.pdf was changed" in said and "the head says" in said


@pytest.mark.parametrize("damage", [b"", b"\xff\xfe", b"{}", b"[1]\n", b'{"records": "x"}'])
def test_a_ruined_file_gets_a_sentence_and_no_traceback(folder: Path, damage: bytes) -> None:
    (folder / history_checker.RECORDS).write_bytes(damage)
    code, said = checked_elsewhere(folder)
    assert code == 1 and "line 1" in said


def test_the_table_is_rfc_4180_and_harmless_in_a_spreadsheet(folder: Path) -> None:
    data = (folder / history_checker.TABLE).read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n") and data.endswith(b"\r\n")
    rows = list(csv.reader(io.StringIO(data.decode(), newline=""), strict=True))
    assert rows[0] == list(history_checker.HEADINGS) and all(len(row) == len(rows[0]) for row in rows)
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for row in rows for cell in row)
    assert not any(ord(c) < 32 for row in rows for cell in row for c in cell)
    records = [json.loads(line) for line in (folder / history_checker.RECORDS).read_text("utf-8").splitlines()[1:]]
    assert [row[0] for row in rows[1:]] == [str(one["position"]) for one in records]


@pytest.mark.parametrize("typed", ["=1+1", "+1", "-1", "@x", "\tx", "\rx"])
def test_formulas_become_text(typed: str) -> None:
    assert not history_checker.cell(typed).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_the_archive_of_initials_says_so_on_paper(fire: Kestrel, tmp_path: Path) -> None:
    asked = replace(YEAR, withheld=frozenset({"PIKE"}))
    with history.reading(fire.store, fire.clock, asked) as reading:
        history_sheet.write(reading, reading.whole(), tmp_path / "h.pdf", page="A4", **COMMON)
    text = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "h.pdf").pages)
    assert "Pike" not in text and squeezed(word("history.initials_note")) in squeezed(text)
    assert say(YEAR.title) == "vehicle EB-14"


def test_a_box_that_is_longer_than_a_page_loses_its_frame_and_no_line(tmp_path: Path) -> None:
    running = Running("t", "s", "f", False, None, "", "", MONDAY)
    with (tmp_path / "f.pdf").open("wb") as file:
        flow = Flow(file, running, page="Letter")
        flow.framed(*(Text(f"line {number} of many") for number in range(200)))
        flow.framed(Text("short"))
        count = flow.finish()
    pages = pypdf.PdfReader(tmp_path / "f.pdf").pages
    text = squeezed("".join(one.extract_text() for one in pages))
    assert len(pages) == count == 4 and all(f"line{n}ofmany" in text for n in range(200)) and "short" in text


def test_a_figure_stays_with_its_unit_and_a_paragraph_keeps_two_lines_together(tmp_path: Path) -> None:
    """SI Brochure 5.4.3 (from memory): a space stands between figure and unit, and the two are one expression."""
    register()
    text = "the last reading of this pack was 41.77 V and 8 A at 25 °C, 95 % of 14.0 Ah"
    for room in range(40, 200, 7):
        lines = wrap(text, REGULAR, 9, room)
        assert " ".join(lines) == text
        assert not any(line.split(" ")[0] in ("V", "A", "°C", "%", "Ah") for line in lines)
    running = Running("t", "s", "f", False, None, "", "", MONDAY)
    for start in range(30):
        with (tmp_path / "w.pdf").open("wb") as file:
            flow = Flow(file, running, page="A4")
            flow.space(560 + 4 * start)
            flow.text(Text("word " * 110 + "lastword", 9))
            flow.finish()
        for page in pypdf.PdfReader(tmp_path / "w.pdf").pages:
            words = [one for one in page.extract_text().splitlines() if one.startswith("word") or "lastword" in one]
            assert len(words) != 1, "neither a first nor a last line alone"
