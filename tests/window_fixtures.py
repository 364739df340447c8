"""A real window, and hands that type into it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import QEvent, Qt, QThreadPool
from PySide6.QtPrintSupport import QPrinterInfo
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.papers.paper_dialog import PaperDialog

Typist = Callable[..., None]


@pytest.fixture
def window(app: App, qtbot: QtBot, qapp: QApplication, monkeypatch: pytest.MonkeyPatch) -> Iterator[MainWindow]:
    """The whole window on the depot, shown and active.  No test prints on a printer that this PC may have."""
    monkeypatch.setattr(QPrinterInfo, "defaultPrinter", QPrinterInfo)
    monkeypatch.setattr(QPrinterInfo, "availablePrinterNames", list)
    qapp.sendPostedEvents(
        None, QEvent.Type.DeferredDelete.value
    )  # windows of earlier tests, which would be dressed again
    theme.apply(qapp, "light", 100)
    made = MainWindow(app)
    # what a test typed and left asks nothing when the window closes
    qtbot.addWidget(made, before_close_func=lambda one: one.closing.ask_nothing())
    made.show()
    made.activateWindow()
    qtbot.waitExposed(made)
    qtbot.waitUntil(lambda: made.bench.sign_in.name.edit.hasFocus())
    yield made
    QThreadPool.globalInstance().waitForDone()
    qapp.processEvents()


def shown_paper(window: MainWindow, qtbot: QtBot) -> PaperDialog:
    """The paper that was asked for, once it is made."""
    paper = window.paper
    assert paper is not None
    qtbot.waitUntil(paper.buttons["save"].isEnabled)
    assert paper.preview.pages is not None
    return paper


def put_away(window: MainWindow, qtbot: QtBot) -> None:
    """Close the paper that is shown; the window is worked in again."""
    assert window.paper is not None
    window.paper.close()
    qtbot.waitUntil(window.isActiveWindow)


@pytest.fixture
def hands(qtbot: QtBot) -> Typist:
    """Types into whatever has the focus: text letter by letter, or one named key."""

    def type_in(*parts: str | Qt.Key) -> None:
        for part in parts:
            focus = QApplication.focusWidget()
            assert isinstance(focus, QWidget)
            if isinstance(part, str):
                for letter in part:
                    target = QApplication.focusWidget()
                    assert target is not None
                    qtbot.keyClicks(target, letter)
            else:
                qtbot.keyClick(focus, part)

    return type_in
