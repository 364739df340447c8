"""A manager says which rules the depot follows and adds to a procedure; a mechanic keeps a pack's passport."""

from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.domain.procedures import RuleSet, Work
from fleetcare.services import in_force, proving
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import MONDAY, Kestrel
from tests.window_fixtures import Typist, put_away, shown_paper

ENTER, CLICK = Qt.Key.Key_Return, Qt.MouseButton.LeftButton


def test_rules_and_texts_are_recorded_in_the_window_and_printed_on_the_next_sheet(
    window: MainWindow, hands: Typist, qtbot: QtBot, kestrel: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands("B-05", ENTER)
    window.go("papers")
    window.papers.tabs.setCurrentWidget(window.papers.rules)
    panel = window.papers.rules
    qtbot.waitUntil(lambda: panel.shown is not None)
    assert "Voltage check, version 1, written" in panel.heading.text() and "1. Look the pack over" in panel.steps.text()
    panel.rules.setCurrentIndex(panel.rules.findData(RuleSet.EU))
    panel.rules_text.setFocus()
    hands("Two people after 20:00.")
    qtbot.mouseClick(panel.record_rules, CLICK)
    qtbot.waitUntil(lambda: "Fire: call 112." in panel.statements.text())
    assert (
        panel.told.text() == "rules of KW are on record" and panel.rules_text.toPlainText() == "Two people after 20:00."
    )
    panel.work.setCurrentIndex(panel.work.findData(Work.QUARANTINE_LOOK))
    qtbot.waitUntil(lambda: panel.shown is not None and panel.shown.procedure.work is Work.QUARANTINE_LOOK)
    panel.own.setFocus()
    hands("Take the lamp.")
    qtbot.mouseClick(panel.record_text, CLICK)
    qtbot.waitUntil(lambda: "Added by Kestrel Wharf, version 1" in panel.own_heading.text())
    qtbot.mouseClick(panel.record_text, CLICK)
    assert "on record already" in panel.told.text() and panel.own.toPlainText() == "Take the lamp."
    with kestrel.store.view() as view:
        assert in_force.in_force(view, Work.QUARANTINE_LOOK, None, "P-1002") == "quarantine_look 1 + KW 1"

    window.open_pack("P-1002")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_a: (str(tmp_path / "p.pdf"), ""))
    qtbot.waitUntil(lambda: window.pack.page is not None)
    window.orders.print_pack(window.pack.page)
    paper = shown_paper(window, qtbot)
    qtbot.mouseClick(paper.buttons["save"], CLICK)
    assert "Written" in paper.told.text()
    put_away(window, qtbot)
    text = "".join("".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "p.pdf").pages).split())
    assert "KestrelWharffollowstherulesof:EuropeanUnion" in text and "Twopeopleafter20:00." in text
    with kestrel.store.view() as view:
        assert view.record_at(view.position).kind == "told", "what a sheet told is kept when it is given out"


def test_a_mechanic_may_not_record_rules_but_keeps_a_passport(
    window: MainWindow, hands: Typist, qtbot: QtBot, kestrel: Kestrel
) -> None:
    hands("B-03", ENTER)
    window.go("papers")
    window.papers.tabs.setCurrentWidget(window.papers.rules)
    panel = window.papers.rules
    qtbot.waitUntil(lambda: panel.shown is not None)
    panel.rules_text.setPlainText("mine")
    qtbot.mouseClick(panel.record_rules, CLICK)
    assert "by a manager; Farrow" in panel.told.text() and panel.rules_text.toPlainText() == "mine"
    window.papers.tabs.setCurrentWidget(window.papers.labels)
    labels = window.papers.labels
    labels.passport_pack.edit.setFocus()
    hands("P-99", ENTER, "https://id.example/x", ENTER)
    assert labels.passport_pack.wrong.text() and labels.passport.text == "https://id.example/x"
    labels.passport_pack.edit.selectAll()
    hands("P-1002", ENTER)
    qtbot.waitUntil(labels.passport.edit.hasFocus)
    hands(ENTER)
    assert labels.kept.text() == "the passport text is kept with P-1002" and labels.passport.text == ""
    labels.what.setCurrentIndex(labels.what.findData("passport"))
    qtbot.mouseClick(labels.buttons["preview"], CLICK)
    qtbot.waitUntil(lambda: labels.made is not None)
    assert labels.made is not None and [one.text for one in labels.made.labels] == ["https://id.example/x"]
    assert "no issue is recorded" in labels.told.text()


def test_lodging_is_offered_to_a_manager_and_to_nobody_else(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    assert "lodged" not in window.status.fingerprint.text()
    hands("B-05", ENTER)
    assert "never lodged outside (Papers, Fingerprint)" in window.status.fingerprint.text()
    known = proving.lodgings(kestrel.store, kestrel.clock)
    done = proving.lodge(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), known.head, "mail", "the broker")
    window.changes.tell(done)
    assert "lodg" not in window.status.fingerprint.text()
    kestrel.now = MONDAY.replace(day=9)
    kestrel.check("P-1002", "41.50", vehicle="EB-12")
    window.changes.poll()
    assert "lodging due since 9 Nov 2026" in window.status.fingerprint.text()
