"""Scrolling a form with the mouse passes over its choices and leaves them as they were."""

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QComboBox, QTabBar, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.ui.main_window import MainWindow
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def turn(over: QWidget) -> QWheelEvent:
    """One notch down with the pointer over a choice, as far as Qt itself has it."""
    middle = QPointF(over.rect().center())
    event = QWheelEvent(
        middle, over.mapToGlobal(middle), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(over, event)
    return event


@pytest.mark.parametrize("screen", ["away", "bench", "papers", "round"])
def test_the_wheel_over_a_choice_changes_nothing(window: MainWindow, hands: Typist, qtbot: QtBot, screen: str) -> None:
    hands("B-01", ENTER, "19", ENTER)
    window.go(screen)
    qtbot.waitUntil(lambda: any(one.count() > 1 for one in window.stack.currentWidget().findChildren(QComboBox)))
    for choice in window.stack.currentWidget().findChildren(QComboBox):
        before = choice.currentIndex()
        assert not turn(choice).isAccepted(), "what lies around it gets the wheel"
        assert choice.currentIndex() == before
        assert not choice.isVisible() or choice.focusPolicy() is not Qt.FocusPolicy.WheelFocus


def test_the_wheel_over_tabs_leaves_the_page_that_is_shown(window: MainWindow, hands: Typist) -> None:
    hands("B-05", ENTER)
    window.go("ahead")
    bar = window.ahead.pages.findChild(QTabBar)
    assert bar is not None and bar.count() > 1
    assert not turn(bar).isAccepted() and bar.currentIndex() == 0
