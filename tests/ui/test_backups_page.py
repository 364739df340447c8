"""The page of backups: a click fills the field, no answer moves a button, and what was restored opens in a window."""

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QProcess, Qt
from pytestqt.qtbot import QtBot

from fleetcare.services import backup
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel


def test_a_backup_of_the_list_is_looked_at_restored_and_opened(
    kestrel: Kestrel, window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = backup.back_up(kestrel.store, kestrel.clock)
    window.go("keeping")
    window.keeping.pages.setCurrentWidget(window.keeping.backups)
    page = window.keeping.backups
    page.refresh()
    panel = page.restore
    at = page.table.visualRect(page.table.model().index(0, 0)).center()
    qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert Path(panel.file.text) == made.path
    qtbot.wait(100)  # the page that has just come into view takes its places
    buttons = (panel.look, panel.restore, panel.reentry, page.open_it)
    places = [one.mapTo(window, QPoint()) for one in buttons]
    qtbot.mouseClick(panel.look, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(panel.restore.isEnabled, timeout=20_000)
    assert "Every record matches" in panel.said.text() and not page.open_it.isEnabled()
    qtbot.mouseClick(panel.restore, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(page.open_it.isEnabled, timeout=20_000)
    # the sentences have been laid out anew when the window has gone through its events: then nothing stands elsewhere
    qtbot.waitUntil(lambda: [one.mapTo(window, QPoint()) for one in buttons] == places)
    assert "fleetcare window" not in panel.said.text() and panel.said.text().startswith("Restored to ")
    started: list[list[str]] = []
    monkeypatch.setattr(
        QProcess, "startDetached", lambda program, words: (started.append([program, *words]), (True, 1))[1]
    )
    qtbot.mouseClick(page.open_it, Qt.MouseButton.LeftButton)
    assert started[0][-2:] == ["window", panel.target.text]
