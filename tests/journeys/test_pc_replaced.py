"""The PC died: a backup of Sunday evening goes onto an empty one, and says exactly what it holds and what not."""

import datetime as dt
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.app import App, open_app
from fleetcare.reports import pack_sheet
from fleetcare.services import backup, oldsheets, summary
from fleetcare.services.clock import TrustedClock
from fleetcare.settings import Settings
from fleetcare.ui.keeping.backups_page import BackupsPage
from fleetcare.ui.keeping.restore_panel import RestoreDialog
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.paper_orders import show_reentry
from fleetcare.ui.papers.paper_dialog import PaperDialog
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
LAST = dt.datetime(2026, 11, 1, 19, 52, tzinfo=dt.UTC)


def filled(kestrel: Kestrel, tmp_path: Path, records: int) -> None:
    """Records up to `records`, the last entered on Sunday at 19:52."""
    kestrel.now = LAST
    with kestrel.store.view() as view:
        rows = records - view.position - 1
    log = tmp_path / "log.csv"
    lines = (
        f"P-10{1 + n % 14:02d},2026-0{1 + n % 9}-11 {n // 60 % 24:02d}:{n % 60:02d},41.{n % 100:02d},,{n}"
        for n in range(rows)
    )
    log.write_text("pack,date,volts,meter,notes\n" + "\n".join(lines) + "\n", "utf-8")
    plan = oldsheets.survey(kestrel.store, log).plan
    shown = oldsheets.preview(kestrel.store, kestrel.clock, log, plan)
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)


def sheet_text(app: App, path: Path, at: dt.datetime) -> str:
    page = summary.pack_summary(app.store, lambda: LAST, "P-1002")
    pack_sheet.write(page, path, page="A4", printed_by="Ormond", printed_at=at)
    return "\n".join(one.extract_text() for one in PdfReader(path).pages)


def test_a_backup_is_restored_on_an_empty_pc(
    kestrel: Kestrel,
    app: App,
    qtbot: QtBot,
    hands: Typist,
    qapp: QApplication,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    filled(kestrel, tmp_path, 3412)
    kestrel.now = dt.datetime(2026, 11, 1, 20, 0, tzinfo=dt.UTC)
    made = backup.back_up(kestrel.store, kestrel.clock, tmp_path / "stick")
    with kestrel.store.view() as view:
        printed = view.head().short
    first = sheet_text(app, tmp_path / "first.pdf", kestrel.now)
    kestrel.now = dt.datetime(2026, 11, 2, 9, 0, tzinfo=dt.UTC)
    for n in range(9):
        kestrel.check("P-1002", f"41.5{n}")
    kestrel.store.close()

    target = tmp_path / "empty pc" / "fleet.fleet"
    lists: list[PaperDialog] = []
    asked = RestoreDialog(target, lambda *order: lists.append(show_reentry(*order)))
    qtbot.addWidget(asked)
    asked.show()
    asked.activateWindow()
    qtbot.waitExposed(asked)
    panel = asked.panel

    spoiled = tmp_path / "spoiled.fleet"
    data = made.path.read_bytes()
    at = data.index(b'"rested_v":"41.60"') + len('"rested_v":"4')
    spoiled.write_bytes(data[:at] + b"7" + data[at + 1 :])
    panel.file.edit.setFocus()
    qtbot.waitUntil(panel.file.edit.hasFocus)
    hands(str(spoiled), ENTER)
    qtbot.waitUntil(lambda: "is damaged and was not loaded" in panel.said.text())
    assert "Record " in panel.said.text() and not panel.restore.isEnabled() and not target.exists()

    panel.file.edit.setFocus()
    panel.file.edit.selectAll()
    hands(str(made.path))
    panel.printed.edit.setFocus()
    hands("not a fingerprint", ENTER)
    qtbot.waitUntil(lambda: "is no fingerprint" in panel.printed.wrong.text())
    panel.printed.edit.selectAll()
    hands(printed, ENTER)
    qtbot.waitUntil(panel.restore.isEnabled, timeout=20_000)
    said = panel.said.text()
    assert "3,412 records, the last entered 1 Nov 2026 19:52. Every record matches." in said
    assert "equals the printed fingerprint" in said
    assert "Anything done after 1 Nov 2026 19:52 is NOT in this backup" in said
    assert not target.exists()
    panel.restore.setFocus()
    hands(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: asked.restored_to == target, timeout=30_000)
    panel.reentry.setFocus()
    hands(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: bool(lists) and lists[0].preview.pages is not None, timeout=20_000)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "list.pdf"), ""))
    qtbot.mouseClick(lists[0].buttons["save"], Qt.MouseButton.LeftButton)
    listed = "\n".join(one.extract_text() for one in PdfReader(tmp_path / "list.pdf").pages)
    lists[0].close()
    assert "1 Nov 2026 19:52" in listed and "P-1002" in listed and "EB-12" in listed and "P-1317" in listed

    again = open_app(target, clock=kestrel.clock)
    window = MainWindow(again)
    qtbot.addWidget(window)
    window.show()
    assert printed.split(" · ")[0] in window.status.fingerprint.text()
    assert sheet_text(again, tmp_path / "second.pdf", dt.datetime(2026, 11, 1, 20, 0, tzinfo=dt.UTC)) == first
    window.close()
    again.store.close()


def test_a_manager_backs_up_and_exports_in_the_window(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    page = window.keeping.backups
    window.go("keeping")
    window.keeping.pages.setCurrentWidget(page)
    page.set_second(tmp_path / "stick")
    page.now.setFocus()
    hands(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: "read through: 156 records" in page.said.text(), timeout=20_000)
    assert page.backups.rowCount() == 1 and len(list((tmp_path / "stick").glob("*.fleet"))) == 1
    page.export_to(tmp_path / "all.zip")
    qtbot.waitUntil(lambda: "Exported 156 records" in page.said.text(), timeout=20_000)
    page.export_to(tmp_path / "all.zip")
    qtbot.waitUntil(lambda: "nothing was overwritten" in page.said.text(), timeout=20_000)


def test_no_backup_is_tried_while_the_clock_is_asked_about_and_one_is_made_once_it_is_believed(
    kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.now = LAST + dt.timedelta(days=400)
    page = BackupsPage(App(kestrel.store, TrustedClock(kestrel.store, kestrel.clock), "BENCH-1", Settings()))
    qtbot.addWidget(page)
    page.back_up_if_due()
    assert page.said.text() == "" and page.now.isEnabled() and page.backups.rowCount() == 0
    kestrel.now = LAST
    page.back_up_if_due()
    qtbot.waitUntil(lambda: "read through: 156 records" in page.said.text(), timeout=20_000)
    assert page.backups.rowCount() == 1
