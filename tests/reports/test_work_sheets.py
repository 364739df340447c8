"""Working sheets, safety notes and signs, read back and rasterised by independent tools."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdf
import pytest
from reportlab.pdfgen.canvas import Canvas

from fleetcare.cli import papers
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Depot
from fleetcare.domain.procedures import RuleSet
from fleetcare.domain.wording import msg, word
from fleetcare.reports import safety, signs, work_sheets
from fleetcare.reports.raster import Pages
from fleetcare.services import quarantine, record, site_texts, work_lists
from tests.kestrel import MONDAY, SITE, Kestrel

COMMON = {"page": "A4", "printed_by": "Dunn", "printed_at": MONDAY}


def squeezed(text: str) -> str:
    return "".join(text.split())


def said(kestrel: Kestrel, kind: str, path: Path, code: str = "", page: str = "A4") -> str:
    words = {**COMMON, "page": page}
    work_sheets.write(kind, kestrel.store, kestrel.clock, path, code=code, **words)
    return squeezed("".join(one.extract_text() for one in pypdf.PdfReader(path).pages))


@pytest.fixture
def held(kestrel: Kestrel) -> Kestrel:
    """P-1003 in quarantine for nine days, P-1002 not checked for weeks."""
    hold = Hold(
        "pack", "P-1003", HoldClass.DANGER, MONDAY - dt.timedelta(days=9), msg("ground.by_person"), "swollen", "Q-2"
    )
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("FARROW"), hold)
    return kestrel


def test_the_round_is_that_of_the_screen_with_boxes_to_fill(kestrel: Kestrel, tmp_path: Path) -> None:
    assert squeezed(word("sheet.nothing_due")) in said(kestrel, "round", tmp_path / "r.pdf")
    kestrel.now += dt.timedelta(days=20)
    text = said(kestrel, "round", tmp_path / "r.pdf", page="Letter")
    assert (
        "Todo:38,worstfirst" in text
        and "P-1002" in text
        and "__.__" in text
        and squeezed(word("sheet.looked_fill")) in text
    )


def test_the_quarantine_sheet_counts_days_and_says_when_it_is_too_long(held: Kestrel, tmp_path: Path) -> None:
    text = said(held, "quarantine", tmp_path / "q.pdf")
    for words in ("P-1003", "swollen", "Q-2", "ALARM", "P-1003 collected", "ISO 7010-P003"):
        assert squeezed(words) in text, words
    assert squeezed(word("sheet.nothing_held")) not in text


@pytest.mark.parametrize(("days", "late"), [(6, False), (7, True)])
def test_paper_and_screen_alarm_on_the_same_day(kestrel: Kestrel, tmp_path: Path, days: int, late: bool) -> None:
    hold = Hold("pack", "P-1003", HoldClass.DANGER, MONDAY - dt.timedelta(days=days), msg("ground.by_person"), "hot")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    assert ("ALARM" in said(kestrel, "quarantine", tmp_path / "q.pdf")) is late
    (case,) = quarantine.quarantine_cases(kestrel.store, kestrel.clock)
    assert (case.days, case.alarm) == (days, late)


def test_days_in_quarantine_are_those_of_the_screen_whatever_the_hour(kestrel: Kestrel, tmp_path: Path) -> None:
    evening = (MONDAY - dt.timedelta(days=7)).replace(hour=18)
    hold = Hold("pack", "P-1003", HoldClass.DANGER, evening, msg("ground.by_person"), "hot")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    (case,) = quarantine.quarantine_cases(kestrel.store, kestrel.clock)
    ((line,), _alarm) = work_lists.quarantined(kestrel.store, kestrel.clock)
    assert line.days == case.days == 7 and case.alarm
    assert "ALARM" in said(kestrel, "quarantine", tmp_path / "q.pdf")


def test_the_rules_of_the_site_stand_with_the_safety_notes(held: Kestrel, tmp_path: Path) -> None:
    site = replace(SITE, rules_followed="UK; no charging after 22:00 in bay 3")
    record.put_things(held.store, held.clock, held.author("ORMOND"), ("site_rules", site))
    for kind in ("round", "quarantine", "layup", "handover"):
        assert squeezed("This site follows: UK; no charging after 22:00 in bay 3") in said(
            held, kind, tmp_path / "s.pdf"
        )


def test_depots_that_follow_the_same_rules_are_named_together_and_a_round_names_its_own(
    held: Kestrel, tmp_path: Path
) -> None:
    author = held.author("ORMOND")
    record.put_things(held.store, held.clock, author, ("depot", Depot("HY", "Heron Yard")))
    for depot in ("KW", "HY"):
        site_texts.record_rules(held.store, held.clock, author, depot, RuleSet.UK, f"Key of {depot} in the office.")
    for kind in ("quarantine", "layup", "handover"):
        text = said(held, kind, tmp_path / "s.pdf")
        assert squeezed("Heron Yard, Kestrel Wharf follow the rules of: United Kingdom") in text, kind
        assert text.count(squeezed("Fire: call 999 or 112.")) == 1
        assert all(squeezed(f"Key of {depot} in the office.") in text for depot in ("KW", "HY"))
    text = said(held, "round", tmp_path / "s.pdf")
    assert squeezed("Kestrel Wharf follows the rules of: United Kingdom") in text and "HeronYard" not in text


def test_a_tag_is_for_what_is_in_quarantine_and_for_nothing_else(held: Kestrel, tmp_path: Path) -> None:
    text = said(held, "tag", tmp_path / "t.pdf", "p-1003")
    for words in ("QUARANTINE", "P-1003", word("sheet.tag_text"), "Place: Q-2", word("sheet.tag_who")):
        assert squeezed(words) in text
    for code in ("P-1002", ""):
        with pytest.raises(EntryRefused, match="not in quarantine"):
            said(held, "tag", tmp_path / "u.pdf", code)
    assert not (tmp_path / "u.pdf").exists()


def test_the_lay_up_list_starts_with_the_pack_read_longest_ago(kestrel: Kestrel, tmp_path: Path) -> None:
    kestrel.check("P-1011", "41.40")
    packs = work_lists.laid_up(kestrel.store, kestrel.clock)
    assert [one.pack for one in packs] == ["P-1012", "P-1013", "P-1014", "P-1317", "P-1318", "P-1011"]
    assert packs[0].days == 3 and packs[-1].days == 0
    text = said(kestrel, "layup", tmp_path / "l.pdf")
    assert text.index("P-1012") < text.index("P-1011") and "Onshelves:6" in text


def test_the_handover_tells_what_is_open_and_what_the_shift_did(held: Kestrel, tmp_path: Path) -> None:
    held.check("P-1002", "41.50", vehicle="EB-12")
    text = said(held, "handover", tmp_path / "h.pdf")
    for words in ("24 vehicles = 23 ready", "EB-13: ", "Dunn: checks 1, visual inspections 1",
                  "Farrow: holds 1", word("sheet.handover_sign")):  # fmt: skip
        assert squeezed(words) in text, words


def test_every_statement_has_its_source_and_every_kind_of_work_the_fire_advice() -> None:
    for work in safety.WORK:
        notes = safety.notes_for(work)
        assert notes and all(note.statement and note.source for note in notes)
        assert any("call the fire service" in note.statement for note in notes)
        assert not any("extinguish" in note.statement.lower() for note in notes)
    assert papers.LISTS == work_sheets.KINDS


@pytest.mark.parametrize("number", signs.NUMBERS)
def test_a_sign_is_large_numbered_and_legible_without_colour(tmp_path: Path, number: str) -> None:
    path = tmp_path / "s.pdf"
    canvas = Canvas(str(path), pagesize=(100, 100), initialFontName="Helvetica")
    signs.draw(canvas, number, 20, 30, signs.LEAST)
    canvas.save()
    assert f"ISO 7010-{number}" in pypdf.PdfReader(path).pages[0].extract_text()
    pages = Pages(path)
    made = pages.picture(0, 300, grey=True)
    pages.close()
    grey = np.frombuffer(made.data, np.uint8).reshape(made.height, made.stride)[:, : made.width]
    # WCAG 2.2 criterion 1.4.11 asks 3:1 of shapes against what they touch; grey 140 on white gives 3.4:1.
    assert (grey < 140).mean() > 0.05 and (grey > 250).mean() > 0.3
    with pytest.raises(ValueError, match=number):
        signs.draw(canvas, number, 0, 0, signs.LEAST - 1)
