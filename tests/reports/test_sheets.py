"""Sheets: their text, fonts and pages by an independent reader; and nothing typed is taken for markup."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from fleetcare.domain.checks import LookItem
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import say, word
from fleetcare.reports import blank, board_sheet, pack_sheet
from fleetcare.reports.safety import NOTES
from fleetcare.services import record, summary
from fleetcare.services.shown import PackSummary
from tests.kestrel import MONDAY, Kestrel

COMMON = {"printed_by": "Dunn", "printed_at": MONDAY}
NASTY = '<b>bold</b> <img src="/etc/hostname"/> R&D </para> 5<6&7>3 \x07 \u202eabc 漢字 ' + "long " * 2000


def text_of(path: Path) -> str:
    """All text with white space folded away, for comparison."""
    return "".join("".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages)


def has(path: Path, words: str) -> bool:
    return "".join(words.split()) in text_of(path)


@pytest.fixture
def page_of(kestrel: Kestrel) -> PackSummary:
    for weeks in range(8, 0, -1):
        at = MONDAY - dt.timedelta(days=7 * weeks)
        kestrel.check("P-1010", "41.40", at=at, vehicle="EB-20", loaded=f"{41.40 - 1.60 - 0.03 * (8 - weeks):.2f}")
    first = summary.pack_summary(kestrel.store, kestrel.clock, "P-1010").checks[2]
    with kestrel.store.view() as view:
        stored = view.check(first.record_id)
    assert stored is not None
    record.correct_check(
        kestrel.store,
        kestrel.clock,
        kestrel.author(),
        first.record_id,
        "digits swapped",
        replace(stored.check, rested_v=stored.check.rested_v),
    )
    return summary.pack_summary(kestrel.store, kestrel.clock, "P-1010")


@pytest.mark.parametrize(("page", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_pack_sheet_says_what_the_screen_says(
    page_of: PackSummary, tmp_path: Path, page: str, size: tuple[int, int]
) -> None:
    path = tmp_path / "sheet.pdf"
    pack_sheet.write(page_of, path, page=page, **COMMON)
    pages = pypdf.PdfReader(path).pages
    assert all((round(p.mediabox.width), round(p.mediabox.height)) == size for p in pages)
    for words in ("P-1010 · in EB-20, bay 1", "K36-A", "NMC, 10 groups, full 42.00 V", "41.40 V", "Dunn", "M-01",
                  "digits swapped", word("safety.fire_line"), word("safety.defer"), f"page 1 of {len(pages)}",
                  "printed by Dunn, 2 Nov 2026 06:30", Head(page_of.position, page_of.fingerprint).short,
                  "comparable checks", word("paper.not_health")):  # fmt: skip
        assert has(path, words), words
    for item in LookItem:
        assert has(path, word(f"look.{item.value}"))
    for note in NOTES:
        assert has(path, note.statement) and has(path, note.source)


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_what_is_said_of_the_rested_voltage_stands_under_its_chart(
    page_of: PackSummary, tmp_path: Path, page: str
) -> None:
    """However far down the page the chart comes to stand; it was found alone at the head of the next page."""
    path, model = tmp_path / "sheet.pdf", page_of.model
    sentence, note = (
        "".join(words.split()) for words in (say(page_of.projections[-1].sentence), word("paper.not_health"))
    )
    for words in range(0, 360, 15):
        told = replace(page_of, projections=page_of.projections[-1:], model=replace(model, reset_note="Wait. " * words))
        pack_sheet.write(told, path, page=page, **COMMON)
        pages = ["".join(one.extract_text().split()) for one in pypdf.PdfReader(path).pages]
        assert [sentence in one for one in pages] == [note in one for one in pages], words


def test_too_few_checks_are_told_in_a_whole_sentence(kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    pack_sheet.write(summary.pack_summary(kestrel.store, kestrel.clock, "P-1010"), path, page="A4", **COMMON)
    assert "Notenoughcomparablechecks(0of6)." in text_of(path)
    assert "Notenoughcomparablechecks(1of6)." in text_of(path), "one check without load is on record"


@pytest.mark.parametrize("key", ["suspect.blank_v", "suspect.blank_ohm"])
def test_a_blank_to_be_filled_in_is_never_broken_over_two_lines(key: str) -> None:
    """UAX 14: a no-break space is of class GL, at which a line is not broken."""
    assert all(part in ("rested", "loaded") or part.count("_") == 4 for part in word(key).split(" "))


def test_all_fonts_are_embedded_and_the_same_sheet_is_the_same_bytes(page_of: PackSummary, tmp_path: Path) -> None:
    a, b = tmp_path / "a.pdf", tmp_path / "b.pdf"
    pack_sheet.write(page_of, a, page="A4", **COMMON)
    pack_sheet.write(page_of, b, page="A4", **COMMON)
    assert a.read_bytes() == b.read_bytes()
    for page in pypdf.PdfReader(a).pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object()["/FontDescriptor"].get_object()
            assert "/FontFile2" in descriptor


def test_what_people_typed_is_never_markup_and_nothing_is_dropped_silently(
    page_of: PackSummary, tmp_path: Path
) -> None:
    line = replace(page_of.checks[0], remark=NASTY)
    nasty = replace(
        page_of, fleet_name=NASTY[:60], checks=(line, *page_of.checks[1:]), pack=replace(page_of.pack, note=NASTY[:80])
    )
    path = tmp_path / "nasty.pdf"
    pack_sheet.write(nasty, path, page="A4", **COMMON)
    assert has(path, "<b>bold</b>") and has(path, "5<6&7>3") and has(path, "[U+0007]") and has(path, "[U+202E]")
    assert has(path, "漢字")
    assert "/XObject" not in pypdf.PdfReader(path).pages[0]["/Resources"]


def test_the_board_for_the_wall_adds_up_and_needs_no_colour(kestrel: Kestrel, tmp_path: Path) -> None:
    kestrel.check("P-1002", "39.1", vehicle="EB-12")
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    path = tmp_path / "board.pdf"
    board_sheet.write(fleet, path, page="A4", **COMMON)
    assert has(path, "24 vehicles = 23 ready + 0 ready, check due + 0 limited + 1 grounded")
    assert has(path, "EB-12") and has(path, "below the pull line of 40.00 V") and has(path, "Dunn, Pike")
    assert has(path, "as of 2 Nov 2026 06:30")
    content = b"".join(p.get_contents().get_data() for p in pypdf.PdfReader(path).pages)
    assert b" rg" not in content.replace(b"0 0 0 rg", b"").replace(b".35 .35 .35 rg", b"")


@pytest.mark.parametrize(("page", "most"), [("A4", 3), ("Letter", 3)])
def test_a_fleet_that_stands_still_is_told_whole_on_few_pages(
    kestrel: Kestrel, tmp_path: Path, page: str, most: int
) -> None:
    """Twenty-four vehicles, none ready: code and state in 14 points, no other letters below 8."""
    kestrel.now = MONDAY + dt.timedelta(days=40)
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    assert len(fleet.vehicles) == 24 and all(line.status.reasons for line in fleet.vehicles)
    path = tmp_path / "board.pdf"
    board_sheet.write(fleet, path, page=page, **COMMON)
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) <= most
    said = text_of(path)
    sizes: set[float] = set()
    for one in reader.pages:
        one.extract_text(
            visitor_text=lambda text, _c, _m, _f, size: sizes.add(round(size, 1)) if text.strip() else None
        )
    assert sizes >= {14.0} and min(sizes) == 7.5 and min(sizes - {7.5}) >= 8, "as of and fingerprint alone are smaller"
    for line in fleet.vehicles:
        assert line.vehicle.code in said
        told = {say(one.text).split(": ", 1)[1] for one in line.status.reasons}
        assert all("".join(one.split()) in said for one in told)
        assert all(one.code in said for one in line.packs), "a reason that several packs share names each of them"
    assert said.count("lastvalidcheck") == 24, "once a vehicle"


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_blank_sheets_are_numbered_and_in_the_order_of_the_bench(tmp_path: Path, page: str) -> None:
    path = tmp_path / "blank.pdf"
    issued = [f"S2611020630-{n:02d}" for n in (1, 2, 3)]
    blank.write("Kestrel Wharf", issued, path, page=page, demo=False, procedure="Procedure: check, version 1", **COMMON)
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) == 3
    said = text_of(path)
    numbers = [f"SheetS2611020630-{n:02d}" for n in (1, 2, 3)]
    assert all(number in said for number in numbers)
    assert all(f"Line{line}" in said for line in (1, 2, 3))
    one = "".join(reader.pages[0].extract_text().split())
    order = [one.index("".join(word(key).split())) for key in ("list.vehicle", "window.pack", "look.hot", "bench.rest", "bench.rested",
                                                               "bench.loaded", "bench.amps", "bench.remark")]  # fmt: skip
    assert order == sorted(order)


def test_a_folder_that_is_not_there_is_refused_and_an_old_file_stays(page_of: PackSummary, tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="cannot be written"):
        pack_sheet.write(page_of, tmp_path / "none" / "a.pdf", page="A4", **COMMON)


def test_only_one_place_makes_paragraphs() -> None:
    folder = Path(pack_sheet.__file__).parent
    makers = [p.name for p in folder.glob("*.py") if "Paragraph(" in p.read_text("utf-8")]
    assert makers == ["text.py"]
