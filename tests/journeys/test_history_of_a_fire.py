"""The insurer asks for one bike's year: from the scan to the text of the paper, and to the adjuster's PC."""

import datetime as dt
import re
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import CheckKind, FoundIn, RestBand, Trip, TripCause, VoltageCheck
from fleetcare.domain.fuses import FuseWork, Position
from fleetcare.domain.incidents import IncidentOpened
from fleetcare.domain.procedures import Work
from fleetcare.services import (
    charging,
    fusing,
    incident_deeds,
    policy,
    proving,
    record,
    site_texts,
    summary,
)
from fleetcare.settings import Settings
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import MONDAY, D, Kestrel, build
from tests.window_fixtures import Typist

WEEK, DAY = dt.timedelta(days=7), dt.timedelta(days=1)
START = MONDAY
END = START + 50 * WEEK
FIRE = END + dt.timedelta(days=2, hours=14)
"""21:30 on the depot's clock, in summer time."""
MISSED = (9, 10, 11, 30, 31, 32)


@pytest.fixture
def kestrel(tmp_path: Path) -> Kestrel:
    """EB-14's year: weekly checks, two gaps, a second pack for three weeks, a typo, a lapsed training, a fire."""
    made = build(tmp_path / "fire.fleet", checked_days_ago=0)
    dunn, ormond = made.author("DUNN"), made.author("ORMOND")
    policy.record_condition(
        made.store, lambda: START, ormond, text="each battery is checked at least weekly", policy="PC-7731",
        from_date=START.date(), to_date=None, shown_by="checks",
    )  # fmt: skip
    for week in range(1, 50):
        at = START + week * WEEK
        made.now = at
        if week == 20:
            record.record_found_in(made.store, made.clock, dunn, FoundIn("P-1004", None, at, shelf="Rack 2"))
            record.record_found_in(made.store, made.clock, dunn, FoundIn("P-1011", "EB-14", at))
        if week == 23:
            record.record_found_in(made.store, made.clock, dunn, FoundIn("P-1011", None, at, shelf="Store"))
            record.record_found_in(made.store, made.clock, dunn, FoundIn("P-1004", "EB-14", at))
        if week == 25:
            site_texts.record_site_text(made.store, made.clock, ormond, "KW", Work.CHECK, "Wipe the contacts first.")
        if week == 40:
            lapsed = replace(made.people["FARROW"], level_until=at.date())
            record.put_things(made.store, made.clock, ormond, ("person", lapsed))
            made.people["FARROW"] = lapsed
        if week in MISSED:
            continue
        pack = "P-1011" if 20 <= week < 23 else "P-1004"
        made.check(pack, f"{41.60 - week / 200:.2f}", at=at, vehicle="EB-14", by="FARROW" if week < 40 else "DUNN")
        if week == 33:
            wrong = summary.pack_summary(made.store, made.clock, "P-1004").checks[0]
            right = VoltageCheck("P-1004", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.34"), at, "M-01", "EB-14")
            record.correct_check(made.store, made.clock, dunn, wrong.record_id, "digits swapped", right)
    made.now = END - 3 * DAY
    record.record_trip(
        made.store, made.clock, dunn, Trip("P-1004", "EB-14", made.now, TripCause.OVER_CURRENT, True, "steep ramp")
    )  # fmt: skip
    fusing.record_fuse(
        made.store, made.clock, dunn,
        FuseWork("P-1004", "EB-14", made.now, Position.DISCHARGE, True, "lead pinched under the cover"),
    )  # fmt: skip
    made.now = END - 2 * DAY
    charging.record_charge(made.store, made.clock, dunn, ChargedOn("P-1004", "C-36-3", made.now, "charging shed"))
    made.now = END - DAY
    proving.lodge(
        made.store, made.clock, ormond, proving.lodgings(made.store, made.clock).head, "mail", "the broker"
    )  # fmt: skip
    made.now = FIRE
    fire = IncidentOpened(
        "", "smoke and flames from the pack", "yard, bay 3", FIRE, (("vehicle", "EB-14"), ("pack", "P-1004"))
    )  # fmt: skip
    incident_deeds.open_incident(made.store, made.clock, made.author("FARROW"), fire)
    made.now = FIRE + 3 * dt.timedelta(hours=1)
    late = VoltageCheck(
        "P-1004", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.31"), FIRE - 2 * DAY, "M-02", "EB-14"
    )  # fmt: skip
    record.record_check(made.store, made.clock, dunn, late)
    return made


@pytest.fixture
def app(kestrel: Kestrel) -> App:
    return App(kestrel.store, kestrel.clock, "OFFICE", Settings())


def squeezed(text: str) -> str:
    return "".join(text.split())


def test_from_the_scan_to_the_paper_and_to_the_adjusters_pc(
    window: MainWindow, hands: Typist, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kestrel: Kestrel
) -> None:
    saved: list[Path] = []

    def choose(_parent: object, _title: str, start: str, kinds: str) -> tuple[str, str]:
        saved.append(tmp_path / Path(start).name)
        return str(saved[-1]), kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", choose)
    hands("B-05", Qt.Key.Key_Return)
    window.go("papers")
    panel = window.papers.history
    qtbot.waitUntil(lambda: panel.code.edit.hasFocus())
    hands("eb-14", Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: panel.made is not None and panel.preview.pages is not None, timeout=20_000)
    qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    pages = [page.extract_text() for page in pypdf.PdfReader(saved[0]).pages]
    text = squeezed("".join(pages))
    with kestrel.store.view() as view:
        head = view.head()
    for words in (
        "Packs in it P-1004, P-1011",
        "Corrections 1 struck",
        "Trips 1, of them 0 not explained",
        "Incidents 1; entries made after one and marked: 1",
        "I-2027-001, 20 Oct 2027 21:30, yard, bay 3: smoke and flames from the pack. Records held of EB-14, P-1004",
        "each battery is checked at least weekly (PC-7731",
        "Voltage check, version 1: jobs", "Voltage check, version 1 + KW 1: jobs", "KW changed its text",
        "Farrow (may check, no competence recorded; level until 9 Aug 2027)", "Dunn (may reset and release)",
        "GAP. P-1004: a check was due",
        "STRUCK by entry", "digits swapped",
        "steep ramp", "lead pinched under the cover", "P-1004 charged on C-36-3",
        "last charge on C-36-3",
        "entered after incident I-2027-001 of 20 Oct 2027 21:30, about the time before it",
        "No lodging between", "the broker (mail)",
        "Wipe the contacts first.",
        "It says nothing about cause or fault",
        f"fingerprint {head.short} records",
    ):  # fmt: skip
        assert squeezed(words) in text, words
    assert squeezed("Summary") in squeezed(pages[0]) and all(head.short.split()[0] in page for page in pages)
    assert len(re.findall(r"GAP\.P-1004:(?:acheckwasdue|\d+checksinarowweremissed)", text)) == 6, (
        "each gap stands in the summary and among the entries"
    )
    assert not re.search(r"negligen|atfault|causedby|blame", text)

    qtbot.mouseClick(panel.buttons["export"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "Written" in panel.told.text() and panel.buttons["export"].isEnabled(), timeout=20_000)
    with zipfile.ZipFile(saved[-1]) as packed:
        packed.extractall(tmp_path / "adjuster")
    done = subprocess.run(
        [sys.executable, "-I", "-S", "check_history.py", "--fingerprint", head.short], capture_output=True, text=True,
        cwd=tmp_path / "adjuster", env={"PYTHONUTF8": "1"},
    )  # fmt: skip
    assert done.returncode == 0 and "Yes: every record here leads to the fingerprint" in done.stdout
