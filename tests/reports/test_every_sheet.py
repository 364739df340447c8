"""What every sheet must carry, whatever it is of: one table, from the program and from the command line."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from fleetcare.cli import commands
from fleetcare.cli import papers as cli_papers
from fleetcare.domain.checks import LookItem, LookOver, Trip, TripCause
from fleetcare.domain.packs import Depot, ServiceNotes
from fleetcare.domain.procedures import RuleSet, Work
from fleetcare.domain.recalls import RecallNotice
from fleetcare.domain.wording import word
from fleetcare.reports import every_sheet, work_sheets
from fleetcare.reports.every_sheet import KINDS, OF_ONE_PACK, Order
from fleetcare.services import recalling, record, site_texts, van_lists
from fleetcare.ui.papers import sheets_panel
from tests.kestrel import K36, MONDAY, Kestrel

TITLES = {"pack": "paper.pack_title", "board": "paper.board_title", "blank": "paper.blank_title",
          "job": "sheet.job_title", "quarantine_pack": "sheet.quarantine_title"}  # fmt: skip
WITHOUT_RULES = ("board", "blank", "claim", "plan", "van", "recall", "renewal", "reentry")
"""The board is read at a glance, a blank sheet is filled in, the others are read at a desk: the fire line is on them.

Van list and recall print which rules are followed, but no statement of a set is about carriage or recall."""
WITHOUT_WORK = ("plan", "renewal", "reentry")
"""Nothing is done to a pack by this paper."""


def squeezed(text: str) -> str:
    return "".join(text.split())


def code_of(kind: str) -> str:
    return {"quarantine_pack": "P-1009", "tag": "P-1009", "van": "V-0001", "recall": "SN-26-014"}.get(
        kind, "P-1002" if kind in OF_ONE_PACK else ""
    )


@pytest.fixture
def busy(kestrel: Kestrel) -> Kestrel:
    """A depot under UK rules with its own text, a pack in quarantine, a model with a guided reset, names of all scripts."""
    author = kestrel.author("ORMOND")
    record.put_things(
        kestrel.store, kestrel.clock, author,
        ("pack_model", replace(K36, reset_note="Draw the charge fuse.")),
        ("service_notes", ServiceNotes("K36-A", reset_by_fuse=True)),
        ("person", replace(kestrel.people["PIKE"], name="李 Pike")),
    )  # fmt: skip
    site_texts.record_rules(kestrel.store, kestrel.clock, author, "KW", RuleSet.UK, "No charging after 22:00.")
    for work in (Work.CHECK, Work.GUIDED_JOB):
        site_texts.record_site_text(kestrel.store, kestrel.clock, author, "KW", work, "Two people at the bench.")
    smell = LookOver("P-1009", MONDAY - dt.timedelta(days=9), "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("PIKE"), smell)
    trip = Trip("P-1002", "EB-12", MONDAY - dt.timedelta(days=2), TripCause.OVER_CURRENT, True, "hill")
    record.record_trip(kestrel.store, kestrel.clock, kestrel.author("PIKE"), trip)
    kestrel.now = MONDAY + dt.timedelta(days=9)
    return kestrel


def number_papers(kestrel: Kestrel) -> None:
    """A van list to a second depot, and a maker's notice."""
    author = kestrel.author("ORMOND")
    record.put_things(kestrel.store, kestrel.clock, author, ("depot", Depot("HY", "Heron Yard")))
    loose = (van_lists.listed(kestrel.store, "P-1011", "KW", []),)
    given = van_lists.ToLoad("KW", "HY", "Pike", loose, True)
    van_lists.record_loaded(kestrel.store, kestrel.clock, kestrel.author("HALE"), given)
    notice = RecallNotice("SN-26-014", ("K36-A",), "2403-0503", "2403-0612", kestrel.now, maker="the maker")
    recalling.enter_notice(kestrel.store, kestrel.clock, author, notice)


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("kind", KINDS)
def test_every_sheet_carries_what_it_should(busy: Kestrel, tmp_path: Path, kind: str, page: str) -> None:
    path = tmp_path / "s.pdf"
    if kind in every_sheet.OF_ONE_PAPER:
        number_papers(busy)
    numbers = ("S2611020630-01", "S2611020630-02") if kind == "blank" else ()
    order = Order(kind, page, "李 Dunn", busy.now, code_of(kind), numbers)
    every_sheet.write(order, busy.store, busy.clock, path)
    first = path.read_bytes()
    every_sheet.write(order, busy.store, busy.clock, path)
    assert path.read_bytes() == first, "the same sheet is the same bytes"
    reader = pypdf.PdfReader(path)
    said = [squeezed(one.extract_text()) for one in reader.pages]
    with busy.store.view() as view:
        short = view.head().short
    if kind in ("job", "quarantine_pack", "tag", "blank"):
        assert len(said) == max(1, len(numbers)), "hangs on a wall or lies on a bench: one page"
    title = word(TITLES.get(kind, f"sheet.{kind}"))
    for number, text in enumerate(said, start=1):
        for words in (
            f"Kestrel Wharf · {title}",
            f"page {number} of {len(said)}",
            f"{word('safety.fire_line')} {word('safety.fire_source')}",
            "printed by 李 Dunn",
        ):
            assert squeezed(words) in text, (number, words)
        assert squeezed(f"fingerprint {short}") in text
        assert kind == "reentry" or "asof11Nov2026" in text, "the re-entry list is as of the last record"
    whole = "".join(said)
    assert kind in WITHOUT_WORK or "comefirst" in whole, "local codes and the maker come first"
    if kind not in WITHOUT_RULES:
        for words in (
            "Kestrel Wharf follows the rules of: United Kingdom",
            "Fire: call 999 or 112.",
            "No charging after 22:00.",
        ):
            assert squeezed(words) in whole, words
    if kind == "blank":
        assert squeezed("no rings or watch (common practice, no source).") in whole
    if kind in ("van", "recall"):
        assert squeezed("Kestrel Wharf follows the rules of: United Kingdom") in whole
        assert squeezed(code_of(kind)) in whole and squeezed("ADR 2025") in whole
    if kind in ("job", "blank"):
        assert "version1+KW1" in whole
    if kind == "trip":
        for words in ("Procedure: Reset after a trip, version 1", "over-current", "no reset on record", "hill"):
            assert squeezed(words) in whole, words
    low = [round(float(side)) for side in reader.pages[0].mediabox[2:]]
    assert sorted(low) == {"A4": [595, 842], "Letter": [612, 792]}[page]
    assert reader.metadata is not None and reader.metadata.title.startswith(title)
    assert reader.metadata.creation_date == busy.now, "when it was printed"
    for one in reader.pages:
        for font in one["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()


@pytest.mark.parametrize("kind", KINDS)
def test_every_sheet_comes_from_the_command_line_too(
    busy: Kestrel, tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: str
) -> None:
    path = tmp_path / "s.pdf"
    if kind in every_sheet.OF_ONE_PAPER:
        number_papers(busy)
    how = {"blank": ["--blank", "2"], "board": ["--board"], "job": ["P-1002", "--job"], "pack": ["p-1002"],
           "quarantine_pack": ["P-1009", "--quarantine"], "tag": ["P-1009", "--list", "tag"],
           "claim": ["P-1002", "--claim"], "trip": ["P-1002", "--trip"], "plan": ["--plan"],
           "van": ["v-0001", "--list", "van"], "recall": ["sn-26-014", "--list", "recall"]}  # fmt: skip
    words = ["sheet", *how.get(kind, ["--list", kind]), "--fleet", str(busy.store.path), "--output", str(path)]
    assert commands.run(words) == 0 and "Written" in capsys.readouterr().out
    text = squeezed("".join(one.extract_text() for one in pypdf.PdfReader(path).pages))
    assert squeezed(word(TITLES.get(kind, f"sheet.{kind}"))) in text


def test_window_and_command_line_offer_every_kind() -> None:
    assert set(KINDS) <= set(sheets_panel.KINDS) and set(OF_ONE_PACK) <= set(sheets_panel.OF_ONE_PACK)
    assert sheets_panel.OF_ONE_PAPER == every_sheet.OF_ONE_PAPER and set(cli_papers.MORE_LISTS) < set(KINDS)
    assert set(work_sheets.KINDS) < set(KINDS) and cli_papers.LISTS == work_sheets.KINDS


@pytest.mark.parametrize("kind", every_sheet.OF_ONE_PAPER)
def test_a_number_that_is_missing_or_unknown_is_said(
    busy: Kestrel, tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: str
) -> None:
    path = tmp_path / "s.pdf"
    words = ["sheet", "--list", kind, "--fleet", str(busy.store.path), "--output", str(path)]
    assert commands.run(words) == 2 and "by its number" in capsys.readouterr().err
    assert commands.run([*words, "X-99"]) == 2 and "X-99" in capsys.readouterr().err and not path.exists()


def test_a_file_is_not_written_where_there_is_no_folder(busy: Kestrel, tmp_path: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    for words in (["P-1002"], ["--board"], ["--list", "handover"]):
        path = tmp_path / "none" / "s.pdf"
        assert commands.run(["sheet", *words, "--fleet", str(busy.store.path), "--output", str(path)]) == 2
        assert "cannot be written" in capsys.readouterr().err and not path.parent.exists()
