"""The quarantine sheet and the job sheet of the guided reset, read by an independent reader."""

from pathlib import Path

from pypdf import PdfReader

from fleetcare.domain.checks import LookItem, LookOver
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.quarantine import TransportHead
from fleetcare.domain.reset_job import Pause, step_keys
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import word
from fleetcare.reports import quarantine_sheet, reset_job_sheet
from fleetcare.services import quarantine, record, resetting, stock
from tests.kestrel import MONDAY, Kestrel


def text_of(path: Path) -> str:
    reader = PdfReader(path)
    assert len(reader.pages) == 1
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_the_quarantine_sheet_says_what_not_to_do_by_which_authority_and_leaves_the_place_blank(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    smell = LookOver("P-1009", MONDAY, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), smell)
    page = quarantine.quarantine_page(kestrel.store, kestrel.clock, "P-1009")
    path = tmp_path / "q.pdf"
    quarantine_sheet.write(page, path, page="A4", printed_by="Farrow", printed_at=MONDAY)
    text = text_of(path)
    for words in (
        "P-1009",
        "sweet or burning smell",
        "W001",
        "P003",
        "________",
        word("safety.fire_line"),
        "Local codes",
    ):
        assert words in text
    statements = [*quarantine_sheet.DO_NOT, *quarantine_sheet.DO]
    assert all(note.source for note in statements) and text.count("[") >= len(statements)
    assert all(word(f"head.{head.value}")[:20] in text for head in TransportHead)


def test_the_job_sheet_prints_every_step_of_the_screen(kestrel: Kestrel, tmp_path: Path) -> None:
    notes = ServiceNotes("K36-A", reset_by_fuse=True, bleed_note="wait two minutes")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("service_notes", notes))
    fuse = Part("S-01", PartKind.FUSE, "blade fuse 30 A", "FB-30-58", ("K36-A",), location="drawer 2")
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), fuse)
    with kestrel.store.view() as view:
        state = resetting.job_state(view, "P-1002")
    path = tmp_path / "sheets" / "j.pdf"
    reset_job_sheet.write(
        state, path, fleet_name="Kestrel Wharf", demo=False, page="A4", printed_by="", printed_at=MONDAY
    )
    text = text_of(path)
    for pause in Pause:
        assert word(f"job_pause.{pause.value}") in text
        assert all(word(step)[:40] in text for step in step_keys(pause))
    for words in (
        "M004",
        "M009",
        "wait two minutes",
        "IEC 60903",
        "S-01 blade fuse 30 A, FB-30-58 (0 on hand, drawer 2)",
        word("safety.fire_line"),
        "Local codes",
    ):
        assert words in text
