"""The page of backups: a click fills the field, no answer moves a button, and what was restored opens in a window."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QObject, QPoint, QProcess, Qt
from PySide6.QtGui import QMoveEvent
from PySide6.QtWidgets import QApplication, QPushButton, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.services import backup
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel


class Moves(QObject):
    """Every move of some widgets, also one that the next pass of the layout takes back."""

    def __init__(self, *watched: QWidget) -> None:
        super().__init__()
        self.seen: list[tuple[str, QPoint, QPoint]] = []
        for one in watched:
            one.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Qt's hook."""
        if isinstance(event, QMoveEvent) and isinstance(watched, QWidget) and event.pos() != event.oldPos():
            name = watched.text() if isinstance(watched, QPushButton) else type(watched).__name__
            self.seen.append((name, event.oldPos(), event.pos()))
        return False


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
    moves = Moves(*buttons, panel)
    qtbot.mouseClick(panel.look, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(panel.restore.isEnabled, timeout=20_000)
    assert "Every record matches" in panel.said.text() and not page.open_it.isEnabled()
    qtbot.mouseClick(panel.restore, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(page.open_it.isEnabled, timeout=20_000)
    assert [one.mapTo(window, QPoint()) for one in buttons] == places
    assert moves.seen == []
    assert "fleetcare window" not in panel.said.text() and panel.said.text().startswith("Restored to ")
    started: list[list[str]] = []
    monkeypatch.setattr(
        QProcess, "startDetached", lambda program, words: (started.append([program, *words]), (True, 1))[1]
    )
    qtbot.mouseClick(page.open_it, Qt.MouseButton.LeftButton)
    assert started[0][-2:] == ["window", panel.target.text]


def test_in_large_letters_no_answer_moves_a_button_either(
    kestrel: Kestrel, app: App, qtbot: QtBot, qapp: QApplication
) -> None:
    backup.back_up(kestrel.store, kestrel.clock)
    theme.apply(qapp, "light", 200)
    window = MainWindow(replace(app, settings=replace(app.settings, text_percent=200)))
    qtbot.addWidget(window, before_close_func=lambda one: one.closing.ask_nothing())
    window.resize(1366, 768)
    window.show()
    window.activateWindow()
    qtbot.waitExposed(window)
    qtbot.waitUntil(lambda: window.bench.sign_in.name.edit.hasFocus())
    window.go("keeping")
    window.keeping.pages.setCurrentWidget(window.keeping.backups)
    page, panel = window.keeping.backups, window.keeping.backups.restore
    page.refresh()
    panel.take(page.table.row_of(page.table.model().index(0, 0))[1])
    qtbot.wait(100)  # the page that has just come into view takes its places
    scroll = page.findChild(QScrollArea)
    assert isinstance(scroll, QScrollArea)
    scroll.ensureWidgetVisible(panel.look)
    qtbot.wait(100)
    buttons = (panel.look, panel.restore, panel.reentry, page.open_it)
    places = [one.mapTo(window, QPoint()) for one in buttons]
    moves = Moves(*buttons, panel)
    qtbot.mouseClick(panel.look, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(panel.restore.isEnabled, timeout=20_000)
    qtbot.mouseClick(panel.restore, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(page.open_it.isEnabled, timeout=20_000)
    qtbot.wait(100)  # the sentences are laid out
    assert moves.seen == [] and [one.mapTo(window, QPoint()) for one in buttons] == places
    window.close()
    theme.apply(qapp, "light", 100)
