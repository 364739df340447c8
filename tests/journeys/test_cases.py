"""Recall, decision and incident in a real window, down to the PDF, and the command line agrees."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from fleetcare.cli.commands import run
from fleetcare.domain.checks import FoundIn, LookItem, LookOver
from fleetcare.domain.decisions import Choice, Kind
from fleetcare.domain.quarantine import Collected, TransportHead
from fleetcare.services import decisions, quarantine, record, summary
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.dialogs import AskDialog
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist, put_away, shown_paper

ENTER, TAB = Qt.Key.Key_Return, Qt.Key.Key_Tab
CONTROL = Qt.KeyboardModifier.ControlModifier


def open_cases(window: MainWindow, tab: str, qtbot: QtBot) -> None:
    window.go("cases")
    part = getattr(window.cases, tab)
    window.cases.show_tab(part)
    qtbot.waitUntil(part.isVisible)


def prepare(kestrel: Kestrel) -> None:
    """Of S36-F 2501-0021 … 0026: one collected last year, one quarantined, one without a serial in a scooter."""
    store, clock = kestrel.store, kestrel.clock
    for pack, vehicle in (("P-1024", "SC-34"), ("P-1025", "SC-35")):
        look = LookOver(pack, kestrel.now, vehicle, (LookItem.CRACK,))
        record.record_look_over(store, clock, kestrel.author(), look, (), "Q-7")
        record.record_found_in(store, clock, kestrel.author(), FoundIn(pack, None, kestrel.now, shelf="Q-7"))
    heads = tuple((head.value, "found") for head in TransportHead)
    gone = Collected("P-1024", kestrel.now, "Northfield Carriers", "NC-4471", heads)
    quarantine.record_collection(store, clock, kestrel.author("ORMOND"), "B-05", gone)
    with store.view() as view:
        bare = replace(view.thing("pack", "P-1021"), serial="")
    record.put_things(store, clock, kestrel.author("ORMOND"), ("pack", bare))
    kestrel.now += dt.timedelta(minutes=10)


def test_a_notice_comes_in_and_a_pack_gets_out_by_the_remedy_only(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, capsys: pytest.CaptureFixture[str]
) -> None:
    prepare(kestrel)
    hands("B-05", ENTER)
    open_cases(window, "recalls", qtbot)
    tab = window.cases.recalls
    typed = {"number": "MB/26-3", "maker": "the maker", "models": "s36-f", "serial_from": "2501-0023",
             "serial_to": "2501-0025", "hazard": "cells may overheat"}  # fmt: skip
    for name, text in typed.items():
        tab.entry.fields[name].edit.setFocus()
        hands(text)
    assert not tab.enter.isEnabled()
    tab.entry.do.click()
    assert "3 packs meant, 1 cannot be ruled out; 2 vehicles would be grounded" in tab.entry.said.text()
    tab.entry.fields["serial_to"].edit.setText("2501-0022")
    assert not tab.enter.isEnabled()
    tab.entry.do.click()
    assert "2501-0023 comes after 2501-0022" in tab.entry.fields["serial_to"].wrong.text()
    tab.entry.fields["serial_to"].edit.setText("2501-0025")
    tab.entry.do.click()
    tab.enter.click()
    assert "3 packs meant, 1 cannot be ruled out. Held now: 2. Vehicles grounded: 2." in tab.told.text()
    qtbot.waitUntil(lambda: tab.packs.rowCount() == 4)
    codes = {line.pack.code: (line.found.value, line.where.value, line.place) for line in tab.packs.rows}
    assert codes["P-1021"] == ("not_ruled_out", "vehicle", "SC-31") and codes["P-1023"][:2] == ("matched", "vehicle")
    assert codes["P-1025"][1] == "quarantine" and "NC-4471" in codes["P-1024"][2]
    tab.print.click()
    paper = shown_paper(window, qtbot)
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(paper.path).pages)
    put_away(window, qtbot)
    for words in ("MB/26-3", "P-1023", "SC-33", "Northfield Carriers", "Read serial and date code", "2501-0025, both"):
        assert words in " ".join(text.split())
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    grounded = {line.vehicle.code for line in window.board.model.rows if line.status.state.value == "grounded"}
    assert {"SC-31", "SC-33"} <= grounded and "SC-32" not in grounded and "SC-36" not in grounded

    window.session.sign_in(kestrel.people["DUNN"])
    open_cases(window, "recalls", qtbot)
    qtbot.waitUntil(lambda: tab.packs.rowCount() == 4)
    tab.choose_pack("P-1023")
    for name, text in (("remedy", "new pack fitted by the maker"), ("badge", "B-01")):
        tab.clear.fields[name].edit.setFocus()
        hands(text)
    tab.clear.do.click()
    assert "number of the notice" in tab.clear.fields["number"].wrong.text()
    tab.clear.fields["number"].edit.setText("mb/26-3")
    tab.clear.do.click()
    assert "P-1023 has the maker's remedy" in tab.clear.said.text()
    assert run(["recall", "MB/26-3", "--fleet", str(kestrel.store.path), "--format", "csv"]) == 0
    printed = capsys.readouterr().out
    assert "new pack fitted by the maker" in printed and printed.count("held since") == 2


def test_a_watch_is_decided_with_one_key_and_later_stays_on_the_list(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "21", ENTER)
    bench = window.bench

    def check(vehicle: str, pack: str) -> None:
        hands(vehicle, ENTER, pack, ENTER)
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_F8)
        hands("3", "41.55", ENTER, "39.70", ENTER, ENTER)
        qtbot.waitUntil(lambda: pack in bench.work.verdict.headline.text())

    check("EB-13", "P-1003")
    panel = bench.work.decision
    assert panel.isVisible() and "P-1003 says watch" in panel.question.text()
    assert bench.work.scan.edit.hasFocus(), "the next scan goes on as ever"
    qtbot.keyClick(bench.work.scan.edit, Qt.Key.Key_1, CONTROL)
    assert not panel.isVisible()
    with kestrel.store.view() as view:
        assert decisions.undecided(view, kestrel.now) == ()
        (made,) = decisions.standing_decisions(view, kestrel.now)
    assert made.person == "Dunn" and made.decision.choice is Choice.CARRY_ON
    check("EB-15", "P-1005")
    assert panel.isVisible()
    qtbot.keyClick(bench.work.scan.edit, Qt.Key.Key_0, CONTROL)
    assert not panel.isVisible()

    open_cases(window, "decisions", qtbot)
    tab = window.cases.decisions
    qtbot.waitUntil(lambda: tab.waiting.rowCount() == 1)
    assert (tab.waiting.rows[0].pack, tab.waiting.rows[0].kind) == ("P-1005", Kind.WATCH)
    assert [row.decision.pack for row in tab.made.rows] == ["P-1003"]
    tab.choice.box.setFocus()
    tab.choice.choose("recheck")
    tab.choice.box.activated.emit(tab.choice.box.currentIndex())
    assert tab.card.fields["until"].text == "2026-11-03"
    tab.card.fields["until"].edit.setText("next week")
    tab.card.do.click()
    assert "is not a date" in tab.card.fields["until"].wrong.text()
    tab.card.fields["until"].edit.setText("2026-11-05")
    tab.card.do.click()
    qtbot.waitUntil(lambda: tab.waiting.rowCount() == 0)
    assert "re-check by 5 Nov 2026" in tab.card.said.text()
    window.open_pack("P-1005")
    qtbot.waitUntil(lambda: window.pack.page is not None and window.pack.page.pack.code == "P-1005")
    assert "Decided by Dunn on 2 Nov 2026: re-check by 5 Nov 2026." in window.pack.decision.text()
    kestrel.now += dt.timedelta(days=4)
    window.pack.refresh()
    qtbot.waitUntil(lambda: "has run out" in window.pack.decision.text())


def test_a_pull_is_not_offered_to_carry_on_and_the_usual_date_is_typed_over_after_a_click(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.check("P-1003", "38.90", vehicle="EB-13")
    kestrel.check("P-1005", "41.55", loaded="39.70", vehicle="EB-15")
    hands("B-01", ENTER, "21", ENTER)
    open_cases(window, "decisions", qtbot)
    tab = window.cases.decisions
    qtbot.waitUntil(lambda: tab.waiting.rowCount() == 2)

    def offered(pack: str) -> list[str]:
        tab.choose(pack)
        return [tab.choice.box.itemText(row) for row in range(1, tab.choice.box.count())]

    assert offered("P-1005") == ["carry on", "re-check", "pull", "replace"]
    tab.choice.choose("carry_on")
    assert offered("P-1003") == ["re-check", "pull", "replace"] and not tab.choice.code
    tab.choice.choose("recheck")
    tab.choice.box.activated.emit(tab.choice.box.currentIndex())
    until = tab.card.fields["until"].edit
    assert until.text() == "2026-11-03"
    tab.choice.box.setFocus()
    click = Qt.MouseButton.LeftButton
    qtbot.mouseClick(until, click)
    hands("2026-11-04")
    assert until.text() == "2026-11-04"
    qtbot.mouseClick(until, click)
    assert not until.hasSelectedText(), "what was typed is not marked"


def answer(qtbot: QtBot, deed) -> None:  # type: ignore[no-untyped-def]
    def when_open() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, AskDialog)
        deed(dialog)

    QTimer.singleShot(0, when_open)


def test_an_incident_holds_the_records_and_a_release_asks_for_a_look_and_the_badge(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-04", ENTER)
    open_cases(window, "incidents", qtbot)
    tab = window.cases.incidents
    tab.opening.do.click()
    assert "Say what happened" in tab.opening.said.text() or tab.opening.fields["what"].wrong.isVisible()
    for name, text in (("what", "rider fell, pack out of its seat"), ("where", "Mill Hill"), ("when", "2026-11-02 06:05"),
                       ("items", "EB-17, P-1007"), ("persons", "Pike")):  # fmt: skip
        tab.opening.fields[name].edit.setFocus()
        hands(text)
    tab.opening.do.click()
    assert "I-2026-001 is open: the records of 2 named things are held" in tab.opening.said.text()
    qtbot.waitUntil(lambda: tab.model.rowCount() == 1)
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1007", "41.60", vehicle="EB-17")
    window.open_pack("P-1007")
    qtbot.waitUntil(lambda: window.pack.page is not None and len(window.pack.page.checks) == 2)
    assert "Records held: incident I-2026-001" in window.pack.decision.text()
    assert "entered after incident I-2026-001" in window.pack.checks.index(0, 11).data()

    window.session.sign_in(kestrel.people["DUNN"])
    window.open_vehicle("EB-17")
    qtbot.waitUntil(lambda: window.vehicle.page is not None)
    said: list[str] = []

    def fill(dialog: AskDialog, *texts: str, stays: bool = False) -> None:
        for edit, text in zip(dialog.findChildren(QLineEdit), texts, strict=False):
            edit.setText(text)
        dialog.attempt()
        said.extend(field.wrong.text() for field in dialog._fields)
        said.append(dialog.wrong.text())
        assert dialog.isVisible() is stays
        if stays:
            dialog.reject()

    answer(qtbot, lambda d: fill(d, "straightened and tried", "B-01", stays=True))
    window.vehicle.release.click()
    assert any("nobody has inspected it since" in one for one in said)
    answer(qtbot, lambda d: fill(d, "frame, brakes, seat and latch", ""))
    window.vehicle.look_over.click()
    answer(qtbot, lambda d: fill(d, "straightened and tried", "B-02", stays=True))
    window.vehicle.release.click()
    assert any("own badge or PIN" in one for one in said)
    answer(qtbot, lambda d: fill(d, "straightened and tried", "B-01"))
    window.vehicle.release.click()
    with kestrel.store.view() as view:
        assert view.open_holds(("vehicle", "EB-17")) == []
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1007").status.state.value == "held"

    window.session.sign_in(kestrel.people["ORMOND"])
    open_cases(window, "incidents", qtbot)
    qtbot.waitUntil(lambda: tab.closing.isEnabled())
    tab.closing.fields["reason"].edit.setText("insurer has the file")
    tab.closing.fields["badge"].edit.setText("B-05")
    tab.closing.do.click()
    assert "I-2026-001 is closed" in tab.closing.said.text()


def test_a_badge_scanned_into_the_badge_field_stays_there(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    from fleetcare.domain.checks import Hold, HoldClass
    from fleetcare.domain.wording import msg

    hold = Hold("vehicle", "EB-17", HoldClass.ACTION_DUE, kestrel.now, msg("ground.by_person"), "lamp")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    hands("B-01", ENTER)
    window.go("faults")
    page = window.faults.holds
    window.faults.show_page(page)
    page.table.selectRow(0)
    page.fields["reason"].edit.setFocus()
    hands("lamp changed")
    page.release_button.click()
    assert "own badge or PIN" in page.fields["badge"].wrong.text()
    page.fields["badge"].edit.setFocus()
    hands("B-01", ENTER)
    assert page.fields["badge"].text == "B-01" and window.session.person is not None
    assert page.fields["badge"].edit.displayText() != "B-01"
    page.release_button.click()
    assert page.model.rowCount() == 0


def test_a_training_that_ran_out_stands_in_the_matrix_and_on_paper(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    from fleetcare.reports import competence_sheet

    hands("B-05", ENTER)
    window.go("identity")
    window.identity.tabs.setCurrentIndex(4)
    tab = window.identity.competence
    qtbot.waitUntil(lambda: tab.matrix is not None)
    tab.choose("PIKE")
    tab.item.box.setEditText("Fuse work")
    for name, text in (("done_on", "2025-11-20"), ("expires_on", "2026-11-10"), ("reference", "course 12")):
        tab.training.fields[name].edit.setFocus()
        hands(text)
    tab.level.choose("may_release")
    tab.training.do.click()
    assert "Pike: Fuse work recorded" in tab.training.said.text()
    qtbot.waitUntil(lambda: tab.matrix is not None and tab.matrix.items == ("Fuse work",))
    assert tab.line.text().endswith("within 60 days: 1.")
    kestrel.now += dt.timedelta(days=8)
    tab.refresh()
    qtbot.waitUntil(lambda: any(row.expired for row in tab.matrix.rows))  # type: ignore[union-attr]
    assert tab.matrix is not None
    competence_sheet.write(tab.matrix, tmp_path / "c.pdf", page="A4", printed_by="Ormond", printed_at=kestrel.now)
    text = " ".join(pypdf.PdfReader(tmp_path / "c.pdf").pages[0].extract_text().split())
    assert "RAN OUT 10 Nov 2026" in text and "may check (granted: may reset and release)" in text
