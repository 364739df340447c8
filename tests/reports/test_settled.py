"""Papers as a designer would set them: no nearly empty last page, no head alone at a foot, no sentence that contradicts."""

import datetime as dt
import io
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from fleetcare import app
from fleetcare.cli import commands
from fleetcare.domain.packs import Depot
from fleetcare.domain.procedures import RuleSet
from fleetcare.domain.recalls import RecallNotice
from fleetcare.domain.wording import msg, say
from fleetcare.reports import every_sheet
from fleetcare.reports.every_sheet import Order
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.settling import settled
from fleetcare.services import recalling, record, renewal_summary, site_texts, van_lists
from tests.kestrel import MONDAY, Kestrel

RUNNING = Running("Sheet", "P-1", "Kestrel Wharf", False, MONDAY, "", "Dunn", MONDAY)


def pages_of(path: Path) -> list[str]:
    return ["".join(one.extract_text().split()) for one in pypdf.PdfReader(path).pages]


def words(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("over", [1, 3, 6])
def test_a_few_lines_over_a_page_are_brought_back_on_it(tmp_path: Path, page: str, over: int) -> None:
    def put(flow: Flow) -> None:
        flow.heading("Sheet", 15)
        fitting = int((flow.left - 10) // 11.7)
        flow.text(*(Text(f"line {number}", 9) for number in range(fitting + over)))

    assert settled(tmp_path / "s.pdf", RUNNING, page=page, put=put) == 1
    assert len(pages_of(tmp_path / "s.pdf")) == 1


def test_what_needs_two_pages_keeps_the_size_of_its_letters(tmp_path: Path) -> None:
    def put(flow: Flow) -> None:
        flow.text(*(Text(f"line {number}", 9) for number in range(100)))

    assert settled(tmp_path / "s.pdf", RUNNING, page="A4", put=put) == 2
    sizes: set[float] = set()
    pypdf.PdfReader(tmp_path / "s.pdf").pages[0].extract_text(
        visitor_text=lambda text, _cm, _tm, _font, size: sizes.add(size) if text.startswith("line") else None
    )
    assert sizes == {9}


def near_the_foot(left: int) -> tuple[Flow, io.BytesIO]:
    """A page of which only `left` points are left."""
    file = io.BytesIO()
    flow = Flow(file, RUNNING, page="A4")
    while flow.left > left:
        flow.space(min(5, flow.left - left))
    return flow, file


@pytest.mark.parametrize("left", range(20, 120, 9))
def test_a_heading_and_a_tables_head_stand_with_the_first_row(left: int) -> None:
    flow, file = near_the_foot(left)
    flow.heading("Readings", 11)
    flow.table((0.5, "Done"), (0.5, "Rested"))
    flow.row([Text("2 Nov 2026", 8)], [Text("41.60 V", 8), Text("as typed", 8)])
    flow.end_table()
    flow.finish()
    pages = [one.extract_text() for one in pypdf.PdfReader(file).pages]
    assert sum("Readings" in one for one in pages) == 1
    assert any("Readings" in one and "Done" in one and "41.60 V" in one for one in pages), pages


@pytest.mark.parametrize("left", range(20, 120, 5))
def test_a_tables_head_stands_with_the_note_below_its_first_row_too(left: int) -> None:
    flow, file = near_the_foot(left)
    flow.table((0.5, "Done"), (0.5, "Rested"))
    flow.row([Text("2 Nov 2026", 8)], [Text("41.60 V", 8)], below=tuple(Text(f"note {n}", 7) for n in range(4)))
    flow.end_table()
    flow.finish()
    pages = [one.extract_text() for one in pypdf.PdfReader(file).pages]
    assert sum("Done" in one for one in pages) == 1, pages


def test_a_sentence_within_a_sentence_ends_with_its_full_stop() -> None:
    told = msg("paper.reason_and_step", reason_sentence=msg("sheet.none"), step_sentence=msg("next.back_to_work"))
    assert say(told) == f"none. {say(msg('next.back_to_work'))}"


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("dead", [False, True])
def test_the_sheet_of_a_pack_is_two_pages_whatever_it_reads(
    kestrel: Kestrel, tmp_path: Path, page: str, dead: bool
) -> None:
    for weeks in range(14, 0, -1):
        at = MONDAY - dt.timedelta(days=7 * weeks)
        kestrel.check("P-1010", "41.40", at=at, vehicle="EB-20", loaded=f"{39.80 - 0.03 * (14 - weeks):.2f}")
    if dead:
        kestrel.check("P-1010", "0.00", at=MONDAY, vehicle="EB-20")
    kestrel.now = MONDAY + dt.timedelta(hours=1)
    path = tmp_path / "s.pdf"
    every_sheet.write(Order("pack", page, "Dunn", kestrel.now, "P-1010"), kestrel.store, kestrel.clock, path)
    assert len(pages_of(path)) == 2


def test_a_due_check_is_not_told_to_go_back_to_work(kestrel: Kestrel, tmp_path: Path) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=9)
    path = tmp_path / "s.pdf"
    every_sheet.write(Order("pack", "A4", "Dunn", kestrel.now, "P-1002"), kestrel.store, kestrel.clock, path)
    whole = "".join(pages_of(path))
    assert words("Check it today.") in whole and words(say(msg("next.back_to_work"))) not in whole


def test_a_van_list_says_what_was_held_since_it_was_loaded(kestrel: Kestrel, tmp_path: Path) -> None:
    author = kestrel.author("ORMOND")
    record.put_things(kestrel.store, kestrel.clock, author, ("depot", Depot("HY", "Heron Yard")))
    loose = (van_lists.listed(kestrel.store, "P-1011", "KW", []),)
    given = van_lists.ToLoad("KW", "HY", "Pike", loose, True)
    van_lists.record_loaded(kestrel.store, kestrel.clock, kestrel.author("HALE"), given)
    path = tmp_path / "v.pdf"
    every_sheet.write(Order("van", "A4", "Dunn", kestrel.now, "V-0001"), kestrel.store, kestrel.clock, path)
    assert words("Held since it was loaded") not in pages_of(path)[0]
    notice = RecallNotice("SN-26-014", ("K36-A",), "2403-0503", "2403-0612", kestrel.now, maker="the maker")
    recalling.enter_notice(kestrel.store, kestrel.clock, author, notice)
    every_sheet.write(Order("van", "A4", "Dunn", kestrel.now, "V-0001"), kestrel.store, kestrel.clock, path)
    assert words("Held since it was loaded: P-1011: Recall SN-26-014") in pages_of(path)[0]


def test_the_renewal_summary_names_what_each_depot_follows(kestrel: Kestrel) -> None:
    author = kestrel.author("ORMOND")
    site_texts.record_rules(kestrel.store, kestrel.clock, author, "KW", RuleSet.UK, "No charging after 22:00.")
    with kestrel.store.view() as view:
        site = view.thing("site_rules", "SITE")
    record.put_things(kestrel.store, kestrel.clock, author, ("site_rules", replace(site, rules_followed="")))
    heads = {one.name: one for one in renewal_summary.renewal_summary(kestrel.store, kestrel.clock).heads}
    told = [say(one) for one in heads["procedure"].told]
    assert "Rules followed: Kestrel Wharf: United Kingdom." in told and not heads["procedure"].empty


PLAIN = [one for one in every_sheet.KINDS if one not in (*every_sheet.OF_ONE_PAPER, "job", "quarantine_pack", "tag")]
"""Kinds that need no further record; the others are written by the same writers."""


@pytest.mark.parametrize("kind", PLAIN)
def test_every_sheet_has_bookmarks_a_title_and_a_language(kestrel: Kestrel, tmp_path: Path, kind: str) -> None:
    """By pypdf, which shares no code with the writer."""
    numbers = ("S2611020630-01", "S2611020630-02") if kind == "blank" else ()
    path = tmp_path / "s.pdf"
    code = "P-1002" if kind in every_sheet.OF_ONE_PACK else ""
    every_sheet.write(Order(kind, "A4", "Dunn", kestrel.now, code, numbers), kestrel.store, kestrel.clock, path)
    reader = pypdf.PdfReader(path)
    assert reader.outline and reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.metadata is not None and reader.metadata.title and reader.metadata.author == "Kestrel Wharf"
    if kind == "blank":
        marked = [(one.title, reader.get_destination_page_number(one)) for one in reader.outline]
        assert [page for _, page in marked] == [0, 1] and "S2611020630-02" in marked[1][0]


@pytest.mark.parametrize("command", [["history", "EB-12"], ["sheet", "P-1002"], ["sheet", "--board"]])
def test_no_paper_is_dated_by_a_clock_that_is_behind_the_record(
    kestrel: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    command: list[str],
) -> None:  # fmt: skip
    path = tmp_path / "p.pdf"
    words_ = [*command, "--fleet", str(kestrel.store.path), "--output", str(path)]
    plain = app.open_app
    for_day = {"clock": lambda: MONDAY - dt.timedelta(days=300)}
    monkeypatch.setattr(app, "open_app", lambda path: plain(path, **for_day))
    assert commands.run(words_) == 2 and "The clock is behind." in capsys.readouterr().err and not path.exists()
    for_day["clock"] = lambda: MONDAY + dt.timedelta(days=1)
    assert commands.run(words_) == 0 and path.exists()
