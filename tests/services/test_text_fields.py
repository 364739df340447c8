"""Every text that a deed takes, with text that could be taken for a command, out on every paper and table."""

import csv
import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import FoundIn, Hold, HoldClass, LookItem, LookOver, Release, Trip, TripCause
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.fuses import FuseWork, Position
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.label_stock import STOCKS
from fleetcare.domain.packs import Charger, Chemistry, Depot, Pack, Person, Role
from fleetcare.domain.proving import MeterProof
from fleetcare.domain.quarantine import QuarantineLook
from fleetcare.domain.wording import msg, say
from fleetcare.reports import (
    archive,
    board_page,
    board_sheet,
    history_sheet,
    label_sheet,
    pack_sheet,
    quarantine_sheet,
    reentry_sheet,
)
from fleetcare.services import (
    charging,
    commissioning,
    exporting,
    fusing,
    history,
    importing,
    label_sheets,
    labelling,
    meters,
    oldsheets,
    parked,
    people,
    policy,
    quarantine,
    record,
    releasing,
    reporting,
    sheets,
    summary,
)
from fleetcare.services.history import Asked
from tests.kestrel import MONDAY, D, Kestrel
from tests.services.test_injection import NASTY

Deed = Callable[[Kestrel, str, Path], object]
PAPER = {"page": "A4", "printed_at": MONDAY}


def _in(made: Kestrel):  # type: ignore[no-untyped-def]
    return made.store, made.clock, made.author()


def hold_and_release(made: Kestrel, text: str, _folder: Path) -> None:
    hold = Hold("vehicle", "EB-12", HoldClass.FAULT, MONDAY, msg("ground.by_person"), text, place=text)
    record.set_hold(*_in(made), hold)
    with made.store.view() as view:
        standing = view.open_holds(("vehicle", "EB-12"))[-1].hold_id
    releasing.record_inspection(*_in(made), Inspected("vehicle", "EB-12", MONDAY, True, text))
    record.release_hold(*_in(made), Release(standing, MONDAY, text))


def correct(made: Kestrel, text: str, _folder: Path) -> None:
    check = made.check("P-1002", "41.50", vehicle="EB-12")
    record.correct_check(*_in(made), check.record_ids[0], text, None)


def manager_lodges(made: Kestrel, text: str, _folder: Path) -> None:
    policy.record_condition(
        made.store, made.clock, made.author("ORMOND"), text=text, policy=text, from_date=MONDAY.date(), to_date=None,
        shown_by=policy.SHOWN_BY[0],
    )  # fmt: skip


def import_and_back(made: Kestrel, text: str, folder: Path) -> None:
    path = folder / "old.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([["pack", "date", "volts", "rest min", "meter", "vehicle", "notes"],
                                   ["P-1002", "2026-10-05", text, "90", "M-01", text, text],
                                   [text, "2026-10-05", "41.5", "90", text, "", text]])  # fmt: skip
    shown = oldsheets.preview(made.store, made.clock, path, oldsheets.survey(made.store, path).plan)
    done = oldsheets.bring_in(*_in(made), shown)
    shown.close()
    for written, _count in parked.parked_rows(made.store):
        parked.settle(*_in(made), written, None, text)
    if done.batch is not None:
        importing.take_back(*_in(made), done.batch, text)


def new_pack(made: Kestrel, text: str, _folder: Path) -> None:
    with made.store.view() as view:
        code = f"P-2{len(view.codes('pack')):03d}"
    new = commissioning.NewPack(code, "K36-A", text + code, (text,), text, None, text, "C-36-1", (), text, shelf=text)
    first = replace(_first(), pack=code)
    commissioning.commission(*_in(made), new, first, LookOver(code, MONDAY, None, (), text))


def _first():  # type: ignore[no-untyped-def]
    from tests.services.test_identity import FIRST

    return FIRST


FIELDS: dict[str, Deed] = {
    "hold, place, release": hold_and_release,
    "correction": correct,
    "inspection": lambda m, t, _f: record.record_look_over(
        *_in(m), LookOver("P-1002", MONDAY, "EB-12", (LookItem.CRACK,), t), (), t),
    "trip": lambda m, t, _f: record.record_trip(
        *_in(m), Trip("P-1002", "EB-12", MONDAY, TripCause.OVER_CURRENT, True, t)),
    "shelf": lambda m, t, _f: record.record_found_in(*_in(m), FoundIn("P-1012", None, MONDAY, shelf=t)),
    "report": lambda m, t, _f: reporting.record_report(
        *_in(m), Report("P-1002", "EB-12", MONDAY, Story.CUT_OUT_HILL, where=t, charged_where=t, remark=t)),
    "fuse": lambda m, t, _f: fusing.record_fuse(
        *_in(m), FuseWork("P-1002", "EB-12", MONDAY, Position.DISCHARGE, True, t, False, None), t),
    "charge": lambda m, t, _f: charging.record_charge(*_in(m), ChargedOn("P-1002", "C-36-1", MONDAY, t)),
    "label": lambda m, t, _f: labelling.reissue_label(*_in(m), "P-1002", t),
    "twin": lambda m, t, _f: labelling.report_twin(*_in(m), "P-1013", t, "K36-A", t),
    "unknown pack": lambda m, t, _f: labelling.take_in_unknown(*_in(m), "K36-A", t + "x", t),
    "new pack": new_pack,
    "meter proof": lambda m, t, _f: meters.record_proof(
        *_in(m), MeterProof("M-01", MONDAY, t, D("41.00"), D("0.01"), D("41.02"), None)),
    "quarantine look": lambda m, t, _f: quarantine.record_look(*_in(m), QuarantineLook("P-1009", MONDAY, True, t, t)),
    "person": lambda m, t, _f: people.put_person(
        m.store, m.clock, m.author("ORMOND"), Person("N" + str(abs(hash(t)) % 1000), t, (Role.MECHANIC,), badge=t)),
    "person named so": lambda m, t, _f: people.put_person(
        m.store, m.clock, m.author("ORMOND"), Person("N" + str(abs(hash(t)) % 1000), t, (Role.MECHANIC,))),
    "pack": lambda m, t, _f: record.put_things(
        *_in(m), ("pack", Pack("P-1002", "K36-A", t, note=t, shelf=t))),
    "depot and charger": lambda m, t, _f: record.put_things(
        *_in(m), ("depot", Depot("KW", t)), ("charger", Charger("C-36-1", t, D("42.0"), D("1"), "K2", Chemistry.NMC))),
    "policy": manager_lodges,
    "sheet number": lambda m, t, _f: sheets.sheet_number(t),
    "paper line": lambda m, t, _f: sheets.enter_line(*_in(m), sheets.SheetEntry(
        "S2611020630-01", 1, "P-1003", "PIKE", MONDAY, "M-01", queried=t, remark=t, as_written=t, vehicle=t)),
    "import": import_and_back,
    "draft": lambda m, t, _f: _draft(m, t),
}  # fmt: skip


def _draft(made: Kestrel, text: str) -> None:
    with made.store.transaction() as tx:
        tx.save_draft(text, "PIKE", text, text, MONDAY, text)
        tx.delete_draft(text)


@pytest.fixture
def filled(kestrel: Kestrel, tmp_path: Path) -> Kestrel:
    """Every text field with every hostile text, as far as the deed takes it; P-1009 is in quarantine."""
    record.record_look_over(*_in(kestrel), LookOver("P-1009", MONDAY, None, (LookItem.SMELL,)), (), "Q-2")
    taken = dict.fromkeys(FIELDS, 0)
    for name, deed in FIELDS.items():
        for text in NASTY:
            try:
                deed(kestrel, text, tmp_path)
                taken[name] += 1
            except FleetcareError as refused:
                assert str(refused)
    assert [name for name, count in taken.items() if not count] == ["person", "sheet number", "paper line"]
    return kestrel


def words_of(path: Path) -> str:
    return "".join("".join(page.extract_text() for page in PdfReader(path).pages).split())


def test_hostile_text_is_only_text_in_the_file_on_paper_and_in_tables(filled: Kestrel, tmp_path: Path) -> None:
    store = filled.store
    with store.view() as view:
        assert view.position > 400
    assert store.verify().good
    page = summary.pack_summary(store, filled.clock, "P-1002")
    told = " ".join(say(event.text) for event in page.events)
    pack_sheet.write(page, tmp_path / "pack.pdf", printed_by=NASTY[2], **PAPER)
    asked = Asked("vehicle", "EB-12", MONDAY.date().replace(year=2025), MONDAY.date())
    with history.reading(store, filled.clock, asked) as reading:
        history_sheet.write(reading, reading.whole(), tmp_path / "h.pdf", printed_by=NASTY[2], **PAPER)
        archive.write(reading, reading.whole(), tmp_path / "h.zip", printed_by=NASTY[2], **PAPER)
    board_sheet.write(summary.fleet_summary(store, filled.clock), tmp_path / "b.pdf", printed_by=NASTY[2], **PAPER)
    quarantine_sheet.write(
        quarantine.quarantine_page(store, filled.clock, "P-1009"), tmp_path / "q.pdf", printed_by=NASTY[3], **PAPER
    )
    reentry_sheet.write(
        summary.fleet_summary(store, filled.clock), MONDAY, 0, {}, tmp_path / "r.pdf", fingerprint="x", **PAPER
    )
    html = board_page.page(summary.fleet_summary(store, filled.clock), made_at=MONDAY)
    assert not re.search(r"<(?:b|img|para|font)\b", html) and html.count("<script") == html.count("</script") == 1
    labels = label_sheets.labels_for(store, "pack", ["P-1002"])
    label_sheet.write(labels, STOCKS[0], tmp_path / "l.pdf", copies=1, fleet_name=NASTY[2], demo=False)
    for text in ("'; DROP TABLE record; --", "<b>bold</b>", "<script>alert(1)</script>", "{unit} %s %(a)s"):
        assert text in told
        assert "".join(text.split()) in words_of(tmp_path / "h.pdf"), text
    exporting.export_all(store, tmp_path / "all.zip")
    for name in ("all.zip", "h.zip"):
        with zipfile.ZipFile(tmp_path / name) as packed:
            assert not [one for one in packed.namelist() if one.startswith(("/", "..")) or ".." in one.split("/")]
            for table in (one for one in packed.namelist() if one.endswith(".csv")):
                for row in csv.reader(io.StringIO(packed.read(table).decode("utf-8"))):
                    assert not [c for c in row if c.startswith(("=", "@", "+"))], (table, row)
    assert store.verify().good
