"""The overview in a window: cards fill, a line opens what it is about, the summary prints."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel


def test_the_overview_fills_and_opens_what_a_line_is_about(window: MainWindow, kestrel: Kestrel, qtbot: QtBot) -> None:
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.go("overview")
    cards = window.overview.cards
    assert next(iter(cards)) == "decisions"
    qtbot.waitUntil(lambda: window.overview.found is not None)
    assert "P-1002" in cards["decisions"].texts[0] and cards["decisions"].title.text() == "Waiting for a decision: 1"
    assert cards["incidents"].texts == ["No incident is open."]
    qtbot.waitUntil(lambda: cards["replace"].texts != ["Reading …"], timeout=60_000)
    button = cards["decisions"].findChild(QPushButton)
    assert button.text() == "P-1002" and button.accessibleName()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert window.stack.currentWidget() is window.pack


def test_it_follows_what_others_record(window: MainWindow, kestrel: Kestrel, qtbot: QtBot) -> None:
    window.go("overview")
    cards = window.overview.cards
    qtbot.waitUntil(lambda: window.overview.found is not None)
    qtbot.waitUntil(
        lambda: cards["decisions"].texts == ["Every watch, pull and early projection is decided."], timeout=60_000
    )
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.changes.poll()
    qtbot.waitUntil(lambda: "P-1002" in cards["decisions"].texts[0])
    qtbot.waitUntil(lambda: cards["replace"].texts != ["Reading …"], timeout=60_000)
