"""By keyboard alone: Tab comes to every field and button of every tab of every screen, in the order of reading."""

from collections.abc import Iterator
from itertools import pairwise

import pytest
from PySide6.QtCore import QPoint, Qt, QThreadPool
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QTabBar,
    QTableView,
    QTabWidget,
    QWidget,
)
from pytestqt.qtbot import QtBot

from fleetcare.ui.main_window import LAST_SHOWN, MORE, SCREENS, MainWindow
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
PARTS = (QLineEdit, QAbstractButton, QComboBox, QPlainTextEdit, QTableView)
MOST_STOPS = 400


def parts_of(screen: QWidget) -> list[QWidget]:
    """Fields, buttons and tables in use, without those that Qt makes within others."""
    made_by_qt = (QComboBox, QTableView, QTabBar)
    return [
        one
        for one in screen.findChildren(QWidget)
        if isinstance(one, PARTS)
        and one.isVisible()
        and one.isEnabled()
        and not isinstance(one.parent(), made_by_qt)
        and one.focusProxy() is None
    ]


def name_of(part: QWidget, screen: QWidget) -> str:
    """What a screen reader says; a combo box gives its text for its name, so its label is asked for."""
    if isinstance(part, QComboBox):
        labels = (label.text() for label in screen.findChildren(QLabel) if label.buddy() is part)
        return part.accessibleName().strip() or next(labels, "")
    return QAccessible.queryAccessibleInterface(part).text(QAccessible.Text.Name).strip()


def walked(window: MainWindow, first: QWidget) -> list[QWidget]:
    """Where Tab stops from `first` on until it comes back."""
    first.setFocus()
    found: list[QWidget] = []
    while (there := QApplication.focusWidget()) not in found and len(found) < MOST_STOPS:
        assert there is not None
        found.append(there)
        window.focusNextChild()
    return found


def jumps(window: MainWindow, stops: list[QWidget]) -> list[str]:
    """Stops that lie above the one before without being to its right, as the head of a further column is."""
    found = []
    for before, after in pairwise(stops):
        a, b = before.mapTo(window, QPoint(0, 0)), after.mapTo(window, QPoint(0, 0))
        if b.y() + after.height() <= a.y() and b.x() < a.x() + before.width():
            found.append(f"{name_of(before, window)} -> {name_of(after, window)}")
    return found


def pages(window: MainWindow, qtbot: QtBot) -> Iterator[tuple[str, QWidget]]:
    """Every tab of every screen, shown."""

    def settle() -> None:
        qtbot.waitUntil(lambda: QThreadPool.globalInstance().activeThreadCount() == 0, timeout=30_000)
        QApplication.processEvents()

    for place in (*SCREENS, *MORE, *LAST_SHOWN):
        if place == "pack":
            window.open_pack("P-1010")
        elif place == "vehicle":
            window.open_vehicle("EB-18")
        else:
            window.go(place)
        settle()
        screen = getattr(window, place)
        tabs = screen.findChild(QTabWidget)
        for number in range(1 if tabs is None else tabs.count()):
            if tabs is not None:
                tabs.setCurrentIndex(number)
                settle()
            yield f"{place}, tab {number}", screen


@pytest.mark.parametrize("who", ["B-01", "B-05"])
def test_tab_comes_to_everything_in_the_order_of_reading_and_all_of_it_has_a_name(
    window: MainWindow, hands: Typist, qtbot: QtBot, who: str
) -> None:
    hands(who, ENTER)
    wrong: list[str] = []
    seen = 0
    for where, screen in pages(window, qtbot):
        parts = parts_of(screen)
        seen += len(parts)
        wrong += [f"{where}: no name for {type(one).__name__}" for one in parts if not name_of(one, screen)]
        wanted = [one for one in parts if one.focusPolicy() & Qt.FocusPolicy.TabFocus]
        unreachable = [one for one in parts if one not in wanted and not by_key(one)]
        wrong += [f"{where}: Tab passes by {name_of(one, screen)}" for one in unreachable]
        bar = next((one for one in screen.findChildren(QTabBar) if one.isVisible()), None)
        first = bar or (wanted[0] if wanted else None)
        if first is None:
            continue
        stops = walked(window, first)
        missed = [one for one in wanted if one not in stops and one.isEnabled() and not by_arrow(one)]
        wrong += [f"{where}: Tab never comes to {name_of(one, screen)}" for one in missed]
        tabs = screen.findChild(QTabWidget)
        if tabs is not None:
            own = [one for one in stops if one in wanted and tabs.currentWidget().isAncestorOf(one)]
            wrong += [f"{where}: Tab jumps up, {one}" for one in jumps(window, own)]
    assert not wrong, "\n".join(wrong)
    assert seen > 300, "the pages were there"


def by_arrow(part: QWidget) -> bool:
    """One of a group of which one is always chosen: Tab comes to that one, arrows go to the others."""
    return isinstance(part, QAbstractButton) and part.group() is not None and part.group().exclusive()


def by_key(part: QWidget) -> bool:
    """A button that its own key presses, which stands on it."""
    return isinstance(part, QAbstractButton) and (part.text()[:1].isdigit() or "(" in part.text())
