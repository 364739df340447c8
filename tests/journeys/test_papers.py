"""From a question by the insurer to the paper in hand, and from paper in a drawer to a yes or a no."""

import zipfile
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtPrintSupport import QPrinter, QPrinterInfo
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.services import history_checker, label_sheets, proving
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.papers import printing
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


@pytest.fixture
def chosen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The files that the person chooses in the save dialog, in order."""
    asked: list[Path] = []

    def choose(_parent: object, _title: str, start: str, kinds: str) -> tuple[str, str]:
        asked.append(tmp_path / Path(start).name)
        return str(asked[-1]), kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", choose)
    return asked


def papers_of(window: MainWindow, hands: Typist, person: str = "B-05") -> MainWindow:
    hands(person, ENTER)
    window.go("papers")
    return window


def test_a_history_is_made_looked_at_saved_and_exported(
    window: MainWindow, hands: Typist, qtbot: QtBot, chosen: list[Path], kestrel: Kestrel
) -> None:
    panel = papers_of(window, hands).papers.history
    qtbot.waitUntil(lambda: panel.code.edit.hasFocus())
    hands("eb-1", "2x", ENTER)
    told = panel.code.wrong.text()
    assert "eb-12x is neither a vehicle nor a pack" in told and "Did you mean EB-12? Nothing was assumed." in told
    hands(Qt.Key.Key_Backspace, ENTER)
    qtbot.waitUntil(lambda: panel.made is not None and panel.preview.pages is not None)
    assert panel.code.wrong.text() == "" and panel.preview.where.text().startswith("page 1 of ")
    assert not panel.preview.sheet.pixmap().isNull()
    qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    text = "".join("".join(page.extract_text() for page in pypdf.PdfReader(chosen[0]).pages).split())
    assert "EB-12" in text and "printedbyOrmond" in text and "P-1002" in text
    qtbot.mouseClick(panel.buttons["export"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(
        lambda: "Written" in panel.told.text() and chosen[-1].exists() and panel.buttons["export"].isEnabled()
    )
    assert zipfile.is_zipfile(chosen[-1]) and history_checker.check(history_checker.load(chosen[-1]))[0]
    kestrel.check("P-1002", "41.55", vehicle="EB-12")
    window.changes.poll()
    assert "recorded after this was made" in panel.told.text()


def test_mistakes_stand_beside_their_field_and_nothing_is_lost(window: MainWindow, hands: Typist) -> None:
    panel = papers_of(window, hands).papers.history
    panel.code.edit.setText("EB-12")
    panel.from_date.edit.setText("2 Nov")
    panel.make()
    assert "is not a date" in panel.from_date.wrong.text() and panel.from_date.text == "2 Nov"
    panel.from_date.edit.setText("2027-01-01")
    panel.make()
    assert "before it begins" in panel.to_date.wrong.text()
    panel.from_date.edit.setText("2026-01-01")
    panel.initials.edit.setText("NOBODY")
    panel.make()
    assert panel.initials.wrong.text() and panel.code.text == "EB-12"


def test_a_history_that_is_stopped_leaves_nothing(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    panel = papers_of(window, hands).papers.history
    panel.make()
    panel.stop()
    qtbot.waitUntil(lambda: panel.buttons["preview"].isEnabled())
    assert "nothing was written." in panel.told.text() and "Stopped at page" in panel.told.text() and panel.made is None


def test_the_paper_is_printed_page_by_page(
    window: MainWindow, hands: Typist, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = papers_of(window, hands).papers.history
    panel.code.edit.setText("P-1002")
    panel.make()
    qtbot.waitUntil(lambda: panel.made is not None)
    monkeypatch.setattr(QPrinterInfo, "availablePrinterNames", list)
    qtbot.mouseClick(panel.buttons["print"], Qt.MouseButton.LeftButton)
    assert "No printer is set up on this PC" in panel.told.text()
    pages = panel.preview.pages
    assert pages is not None
    printer = QPrinter()
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    printing.prepare(printer, pages, "history of P-1002")
    printing.draw(printer, pages, lambda _drawn, _of: True)
    printed = pypdf.PdfReader(tmp_path / "printed.pdf")
    assert len(printed.pages) == len(pages)
    assert [round(float(side)) for side in printed.pages[0].mediabox[2:]] == [595, 842]


def test_a_fingerprint_is_lodged_and_paper_compared(
    window: MainWindow, hands: Typist, qtbot: QtBot, chosen: list[Path], kestrel: Kestrel
) -> None:
    papers = papers_of(window, hands).papers
    papers.tabs.setCurrentWidget(papers.proof)
    panel = papers.proof
    qtbot.waitUntil(lambda: "never lodged" in panel.state.text())
    printed = panel.head.text()
    qtbot.mouseClick(panel.mail, Qt.MouseButton.LeftButton)
    assert printed in QGuiApplication.clipboard().text()
    qtbot.mouseClick(panel.slip, Qt.MouseButton.LeftButton)
    slip = panel.paper
    assert slip is not None
    qtbot.waitUntil(slip.buttons["save"].isEnabled)
    qtbot.mouseClick(slip.buttons["save"], Qt.MouseButton.LeftButton)
    slip.close()
    qtbot.waitUntil(window.isActiveWindow)
    assert panel.means.currentData() == "slip" and panel.paper is None
    assert "".join(printed.split()) in "".join(pypdf.PdfReader(chosen[-1]).pages[0].extract_text().split())
    qtbot.mouseClick(panel.stamp, Qt.MouseButton.LeftButton)
    assert chosen[-1].exists() and panel.means.currentData() == "time_stamp"
    qtbot.mouseClick(panel.lodge, Qt.MouseButton.LeftButton)
    assert "Say who keeps" in panel.recipient.wrong.text()
    panel.recipient.edit.setFocus()
    hands("the broker", ENTER)
    qtbot.waitUntil(lambda: panel.lodgings.rowCount() == 1)
    assert proving.lodgings(kestrel.store, kestrel.clock).lines[0].means == "time_stamp"
    panel.typed.edit.setFocus()
    hands("12 34", ENTER)
    qtbot.waitUntil(lambda: "is not a fingerprint" in panel.typed.wrong.text())
    panel.typed.edit.clear()
    hands(printed, ENTER)
    qtbot.waitUntil(lambda: panel.answer.text().startswith("Yes: it matches the record as of"))


def test_a_mechanic_may_compare_but_not_lodge(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    papers = papers_of(window, hands, "B-03").papers
    papers.tabs.setCurrentWidget(papers.proof)
    qtbot.waitUntil(lambda: papers.proof.head.text() != "")
    papers.proof.recipient.edit.setFocus()
    hands("broker", ENTER)
    assert "for a manager; Farrow" in papers.proof.said.text() and papers.proof.recipient.text == "broker"


def test_labels_are_made_looked_at_and_saved_and_their_issue_recorded(
    window: MainWindow, hands: Typist, qtbot: QtBot, chosen: list[Path], kestrel: Kestrel
) -> None:
    papers = papers_of(window, hands, "B-01").papers
    papers.tabs.setCurrentWidget(papers.labels)
    panel = papers.labels
    panel.copies.edit.setText("many")
    panel.make()
    assert "1 to 20" in panel.copies.wrong.text() and panel.copies.text == "many"
    panel.copies.edit.setText("2")
    panel.codes.edit.setText("P-1001 Z-9")
    panel.make()
    qtbot.waitUntil(lambda: "Z-9 is not on record" in panel.codes.wrong.text())
    panel.codes.edit.setText("P-1001, P-1002")
    panel.make()
    qtbot.waitUntil(lambda: panel.made is not None)
    assert "Labels: 4, pages: 1" in panel.told.text()
    qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    assert "P-1001*X" in pypdf.PdfReader(chosen[0]).pages[0].extract_text()
    assert label_sheets.labels_for(kestrel.store, "pack", ["P-1001"])[0].issue == 1, "printing again is a copy"
    with kestrel.store.view() as view:
        recorded = view.position
    qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    with kestrel.store.view() as view:
        assert view.position == recorded, "one making of labels is recorded once"
    panel.stock.setCurrentIndex(panel.stock.count() - 1)
    panel.measures.edit.setText("20x10")
    panel.make()
    qtbot.waitUntil(lambda: "hand scanners fail" in panel.measures.wrong.text())


def test_working_sheets_are_chosen_looked_at_and_saved(
    window: MainWindow, hands: Typist, qtbot: QtBot, chosen: list[Path], kestrel: Kestrel
) -> None:
    papers = papers_of(window, hands, "B-01").papers
    papers.tabs.setCurrentWidget(papers.sheets)
    panel = papers.sheets
    for kind in ("round", "handover", "layup", "quarantine", "board", "blank"):
        panel.choose(kind)
        panel.make()
        qtbot.waitUntil(lambda: panel.made is not None)
        assert panel.preview.pages is not None and len(panel.preview.pages) >= 1, kind
    panel.count.edit.setText("0")
    panel.make()
    assert "from 1 to 100" in panel.count.wrong.text()
    panel.choose("tag")
    panel.make()
    assert "Name the pack" in panel.code.wrong.text()
    panel.code.edit.setFocus()
    hands("P-1002", ENTER)
    qtbot.waitUntil(lambda: "not in quarantine" in panel.code.wrong.text())
    panel.choose("pack")
    panel.make()
    qtbot.waitUntil(lambda: panel.made is not None)
    with kestrel.store.view() as view:
        before = view.position
    for _ in range(2):
        qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    assert chosen[-1].name == "pack-P-1002.pdf" and chosen[-1].exists()
    with kestrel.store.view() as view:
        assert view.position > before and view.record_at(view.position).kind == "told"
        first = view.position
    qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    with kestrel.store.view() as view:
        assert view.position == first


def test_a_condition_of_the_policy_is_typed_in_changed_and_printed_against_the_record(
    window: MainWindow, hands: Typist, qtbot: QtBot, chosen: list[Path]
) -> None:
    papers = papers_of(window, hands).papers
    papers.tabs.setCurrentWidget(papers.policy)
    panel = papers.policy
    qtbot.mouseClick(panel.save, Qt.MouseButton.LeftButton)
    assert "No date is typed. Type it as YYYY-MM-DD" in panel.from_date.wrong.text()
    panel.from_date.edit.setText("2026-01-01")
    panel.text.edit.setText("packs are checked every week")
    qtbot.mouseClick(panel.save, Qt.MouseButton.LeftButton)
    assert "Say which policy" in panel.policy.wrong.text() and panel.text.text == "packs are checked every week"
    panel.policy.edit.setText("12-3")
    qtbot.mouseClick(panel.save, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: panel.rows.rowCount() == 1)
    panel.table.selectRow(0)
    panel.table.setFocus()
    hands(ENTER)
    assert panel.text.text == "packs are checked every week"
    panel.text.edit.setText("packs are checked every 7 days")
    qtbot.mouseClick(panel.save, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: panel.rows.rowCount() == 1 and "7 days" in panel.rows.shown_row(0).body.text)
    papers.tabs.setCurrentWidget(papers.history)
    papers.history.code.edit.setText("EB-12")
    papers.history.make()
    qtbot.waitUntil(lambda: papers.history.made is not None)
    qtbot.mouseClick(papers.history.buttons["save"], Qt.MouseButton.LeftButton)
    text = "".join("".join(page.extract_text() for page in pypdf.PdfReader(chosen[0]).pages).split())
    assert "packsarecheckedevery7days(12-3,from1Jan2026)Record:1done;felldue:" in text
