"""The quarantine sheet and the job sheet of the guided reset, read by an independent reader."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.procedures import RuleSet
from fleetcare.domain.quarantine import QuarantineLook, TransportHead
from fleetcare.domain.recalls import RecallNotice
from fleetcare.domain.reset_job import Pause, step_keys
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports import every_sheet, quarantine_sheet, reset_job_sheet
from fleetcare.services import in_force, quarantine, recalling, record, resetting, site_texts, stock
from tests.kestrel import K36, MONDAY, Kestrel


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


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("remark", ["smoke in the yard", "smoke in the yard, " * 500, "עשן בחצר " * 100])
def test_sheet_and_tag_say_what_was_seen_and_stay_one_page_however_much_was_written(
    kestrel: Kestrel, tmp_path: Path, page: str, remark: str
) -> None:
    hold = Hold("pack", "P-1004", HoldClass.DANGER, kestrel.now, msg("ground.by_person"), remark, "Q-1")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("FARROW"), hold)
    for kind in ("quarantine_pack", "tag"):
        path = tmp_path / f"{kind}.pdf"
        order = every_sheet.Order(kind, page, "Farrow", kestrel.now, "P-1004")
        every_sheet.write(order, kestrel.store, kestrel.clock, path)
        text = text_of(path)
        assert (remark.split(",")[0] in text) is remark.isascii() and "U+20" not in text
        assert ("the whole of it is on record" in text) is (len(remark) > 300)


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("rules", [RuleSet.NONE, RuleSet.UK, RuleSet.EU, RuleSet.US, RuleSet.AU])
@pytest.mark.parametrize(
    "own", ["", "Tell the duty manager before anybody moves it. ", "Key to the shelves in the office. " * 60]
)
def test_a_quarantined_pack_that_is_recalled_twice_stays_on_one_page(
    kestrel: Kestrel, tmp_path: Path, page: str, rules: RuleSet, own: str
) -> None:
    """Least size of a sign is 15 mm (proposal of this program), of a letter 6.5 points."""
    smell = LookOver("P-1009", MONDAY, "EB-19", (LookItem.SMELL, LookItem.SWOLLEN))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), smell, (), "Q-2")
    for number in ("KM-2026-11", "KM-2026-12, second wording"):
        notice = RecallNotice(number, ("K36-A",), "2403-0500", "2403-0899", kestrel.now)
        recalling.enter_notice(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), notice)
    with kestrel.store.view() as view:
        depot = replace(view.thing("depot", "KW"), rules=rules.value, rules_text=own)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", depot))
    for _ in range(9):
        kestrel.now += dt.timedelta(days=1)
        look = QuarantineLook("P-1009", kestrel.now, False)
        quarantine.record_look(kestrel.store, kestrel.clock, kestrel.author("FARROW"), look)
    path = tmp_path / "q.pdf"
    said = in_force.sheet_rules(kestrel.store, "quarantine", pack="P-1009")
    quarantine_sheet.write(
        quarantine.quarantine_page(kestrel.store, kestrel.clock, "P-1009"), path, page=page, printed_by="Farrow",
        printed_at=kestrel.now, rules=said,
    )  # fmt: skip
    text = text_of(path)
    for words in (
        "sweet or burning smell",
        "KM-2026-11",
        "KM-2026-12, second",
        "Q-2",
        "W001",
        "ADR special provision 376",
        "Weight",
    ):
        assert words in text
    sizes: set[float] = set()
    PdfReader(path).pages[0].extract_text(visitor_text=lambda _t, _c, _m, _f, size: sizes.add(round(size, 2)))
    assert min(size for size in sizes if size > 1) >= 6.5
    if rules is not RuleSet.NONE:
        assert all(one.source in text for one in said[0].statements)
    assert ("whole text: Papers, Rules and procedures" in text) is (len(own) > 1000)


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


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("rules", list(RuleSet))
def test_the_job_sheet_stays_one_page_with_parts_and_rules(
    kestrel: Kestrel, tmp_path: Path, page: str, rules: RuleSet
) -> None:
    author = kestrel.author("ORMOND")
    notes = ServiceNotes("K36-A", reset_by_fuse=True, bleed_note="Wait two minutes after switching off.")
    model = replace(K36, reset_note="Draw and re-seat the charge fuse under the cover, as the maker's sheet describes.")
    record.put_things(kestrel.store, kestrel.clock, author, ("service_notes", notes), ("pack_model", model))
    for number, kind in enumerate((PartKind.FUSE, PartKind.SEAL)):
        part = Part(f"S-0{number}", kind, "a part of the drawer", "FB-30-58", ("K36-A",), location="drawer 2")
        stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), part)
    site_texts.record_rules(kestrel.store, kestrel.clock, author, "KW", rules, "Two people, never alone after 22:00.")
    path = tmp_path / "j.pdf"
    order, refusal = every_sheet.Order("job", page, "Dunn", MONDAY, "P-1002"), say(msg("reset.danger", pack="P-1002"))
    every_sheet.write(order, kestrel.store, kestrel.clock, path)
    text = text_of(path)
    assert text.count("fitted from the stock") == 2 and word("safety.defer") in text and refusal not in text
    smell = LookOver("P-1002", MONDAY, "EB-12", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), smell)
    every_sheet.write(order, kestrel.store, kestrel.clock, path)
    held = text_of(path)
    assert refusal in held, "as the trip sheet says, and as the job on screen refuses to begin"
    assert "fitted from the stock" not in held and word("safety.defer") in held
    for pause in Pause:
        assert all(word(step)[:40] in text for step in step_keys(pause))
