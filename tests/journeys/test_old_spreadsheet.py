"""A manager's old log in a real window: looked at, asked about, brought in, parked rows settled, taken back."""

import time
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.oldrows import DateOrder
from fleetcare.services import importing, oldsheets, summary
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.dialogs import ChoiceDialog
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
LOG = """Workshop log
Battery no;Date;Volts;Rest (min);Meter;Notes
P-1002;03/04/2026;41,52;90;M-01;
P-1002;03/05/2026;41480;90;M-01;
P-1002;03/06/2026;ok;90;M-01;
P-77;03/07/2026;41,20;90;M-01;
P-1002;03/04/2026;41,52;90;M-01;
"""


def position(kestrel: Kestrel) -> int:
    with kestrel.store.view() as view:
        return view.position


def test_an_old_log_comes_in_after_its_questions_and_goes_back_whole(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    path = tmp_path / "log.csv"
    path.write_text(LOG, "utf-8")
    hands("B-01", ENTER, "18", ENTER)
    qtbot.keyClick(window, Qt.Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    page = window.keeping.sheets
    page.file.edit.setFocus()
    hands(str(tmp_path / "none.csv"), ENTER)
    qtbot.waitUntil(lambda: "cannot be read" in page.file.wrong.text())
    page.file.edit.selectAll()
    page.file.edit.setFocus()
    hands(str(path), ENTER)
    qtbot.waitUntil(page.show_rows.hasFocus)
    assert page.boxes["pack"].currentText() == "Battery no" and page.boxes["rest"].currentText() == "Rest (min)"
    before = position(kestrel)
    hands(ENTER)
    qtbot.waitUntil(lambda: page.preview is not None)
    assert page.preview is not None and page.preview.rows == 5 and not page.confirm.isEnabled()
    assert sum(int(page.counts.shown_row(n).rows) for n in range(page.counts.rowCount())) == 5
    for answer in (("order", DateOrder.DAY_FIRST), ("millivolts", True)):
        qtbot.waitUntil(lambda one=answer: page.answers[one].isVisible() and page.answers[one].width() > 60)
        page.answers[answer].setFocus()
        hands(Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: page.preview is not None)
    assert position(kestrel) == before
    assert page.confirm.isEnabled() and page.confirm.text() == "Bring in 4 rows"
    page.confirm.setFocus()
    hands(ENTER)
    qtbot.waitUntil(lambda: "Brought in: 2 checks, 1 kept only, 1 parked; 1 repeats" in page.said.text())
    listed = window.keeping.imports
    window.keeping.pages.setCurrentWidget(listed)
    listed.parked_table.selectRow(0)
    qtbot.mouseClick(listed.settle, Qt.MouseButton.LeftButton)
    asked = listed.asked
    assert asked is not None
    qtbot.waitUntil(lambda: asked._fields[0].edit.hasFocus())
    hands("P-9", ENTER)
    qtbot.waitUntil(lambda: "no pack P-9" in asked._fields[0].wrong.text())
    assert asked.isVisible() and asked._fields[0].edit.hasFocus()
    asked._fields[0].edit.selectAll()
    hands("P-1002", ENTER)
    qtbot.waitUntil(lambda: not asked.isVisible())
    assert "now belong to P-1002" in listed.said.text()
    imported = [c for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed"]
    assert [f"{c.done_at:%d %b}" for c in imported] == ["03 Jul", "03 May", "03 Apr"]
    listed.imports_table.selectRow(0)
    qtbot.mouseClick(listed.back, Qt.MouseButton.LeftButton)
    back = listed.asked
    assert back is not None and back is not asked
    qtbot.waitUntil(lambda: back._fields[0].edit.hasFocus())
    hands(ENTER)
    assert back.isVisible()
    hands("another depot's log", ENTER)
    qtbot.waitUntil(lambda: not back.isVisible())
    page_of = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert all(c.struck for c in page_of.checks if c.source != "typed")
    assert kestrel.store.verify().good


def test_stop_while_a_large_file_is_looked_at(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "large.ods"
    write_sheet(path, ([f"P-{n}", "2026-10-05", "41.5"] for n in range(40_000)))
    window.go("keeping")
    page = window.keeping.sheets
    page.file.edit.setText(str(path))
    page.look()
    assert page.stop.isVisible()
    page.stop.click()
    qtbot.waitUntil(lambda: page.said.text() == "Stopped. Nothing was written.")
    assert page.survey is None and not page.stop.isVisible() and page.file.isEnabled()


def test_closing_while_rows_come_in_asks_and_then_leaves_nothing(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.csv"
    path.write_text("pack,date,volts,rest min,meter\n" + "P-1002,2026-10-05,41.5,90,M-01\n", "utf-8")
    window.session.sign_in(kestrel.author().person)
    window.go("keeping")
    page = window.keeping.sheets
    page.file.edit.setText(str(path))
    page.look()
    qtbot.waitUntil(lambda: page.survey is not None)
    page.show_what()
    qtbot.waitUntil(page.confirm.isEnabled)
    before = position(kestrel)
    bring_in = oldsheets.bring_in

    def slowly(store, clock, author, shown, progress, cancelled):  # type: ignore[no-untyped-def]
        while not cancelled():
            time.sleep(0.001)
        return bring_in(store, clock, author, shown, progress, cancelled)

    monkeypatch.setattr(oldsheets, "bring_in", slowly)
    page.bring_in()
    for _ in range(2):
        assert not window.close() and window.isVisible()
        asked = window.question
        assert isinstance(asked, ChoiceDialog) and "of 1 rows is being brought in" in asked.told
        asked.stay.click()
        assert page.writing and not asked.isVisible()
    window.opens_again = True
    window.close()
    asked = window.question
    assert isinstance(asked, ChoiceDialog)
    page._tell(1, 1)  # the last row came in meanwhile
    assert page.settling and not asked.isVisible() and not window.opens_again
    page.settling = False
    window.close()
    asked = window.question
    assert isinstance(asked, ChoiceDialog)
    asked.go_on.click()
    qtbot.waitUntil(lambda: not window.isVisible())
    assert position(kestrel) == before


def test_stop_while_an_import_is_taken_back_keeps_the_reason_and_changes_nothing(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.csv"
    path.write_text("pack,date,volts,rest min,meter\nP-1002,2026-10-05,41.5,90,M-01\n", "utf-8")
    shown = oldsheets.preview(kestrel.store, kestrel.clock, path, oldsheets.survey(kestrel.store, path).plan)
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    shown.close()
    before = position(kestrel)
    window.session.sign_in(kestrel.author().person)
    window.go("keeping")
    listed = window.keeping.imports
    window.keeping.pages.setCurrentWidget(listed)
    listed.refresh()
    listed.imports_table.selectRow(0)
    qtbot.mouseClick(listed.back, Qt.MouseButton.LeftButton)
    asked = listed.asked
    assert asked is not None
    qtbot.waitUntil(lambda: asked._fields[0].edit.hasFocus())
    take_back = importing.take_back

    def slowly(store, clock, author, batch, reason, progress, cancelled):  # type: ignore[no-untyped-def]
        while not cancelled():
            time.sleep(0.001)
        return take_back(store, clock, author, batch, reason, progress, cancelled)

    monkeypatch.setattr("fleetcare.store.heard.LOOK_EVERY", 10)
    with monkeypatch.context() as patch:
        patch.setattr(importing, "take_back", slowly)
        hands("another depot's", ENTER)
        assert asked.progress.isVisible() and asked.cancel.text() == "Stop" and asked.cancel.hasFocus()
        qtbot.keyClick(asked, Qt.Key.Key_Escape)
        qtbot.waitUntil(lambda: asked.wrong.text() == "Stopped. Nothing was written.")
    assert asked.isVisible() and asked._fields[0].text == "another depot's" and position(kestrel) == before
    assert not asked.progress.isVisible() and asked.cancel.text() == "Cancel (Esc)" and asked.do.hasFocus()
    hands(ENTER)
    qtbot.waitUntil(lambda: not asked.isVisible())
    assert position(kestrel) == before + 1 and "taken back" in listed.said.text()


def test_who_may_bring_in_is_said_before_any_work(kestrel: Kestrel, window: MainWindow) -> None:
    window.go("keeping")
    page = window.keeping.sheets
    assert page.may_not.isVisible() and "Nobody is signed in" in page.may_not.text()
    window.session.sign_in(kestrel.author("ORMOND").person)
    assert page.may_not.isVisible() and page.may_not.text().startswith("Ormond may look, but may not bring in")
    window.session.sign_in(kestrel.author().person)
    assert not page.may_not.isVisible()
