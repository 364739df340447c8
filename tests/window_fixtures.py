"""A real window, and hands that type into it."""

from __future__ import annotations

import gc
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


@pytest.fixture(autouse=True)
def searches_for_garbage(request: pytest.FixtureRequest) -> None:
    """Python searches for garbage by itself in tests without a window only, and meets none of a window there."""
    if "qapp" in request.fixturenames:
        search_no_more()
    elif not gc.isenabled():
        search_again()


def search_again() -> None:
    """Have Python search for garbage by itself again, in whatever thread, after tests with windows.

    First all that windows left behind has come to its end here: readings under way, answers on their way, widgets to be
    deleted.  What is there now is not searched again until the next window: a search in another thread that meets a
    widget ends the process.
    """
    qt, pool = QApplication.instance(), QThreadPool.globalInstance()
    while qt is not None:
        qt.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        pool.waitForDone()
        qt.processEvents()
        if not pool.activeThreadCount():
            break
    gc.collect()
    gc.freeze()
    gc.enable()


def search_no_more() -> None:
    """Leave the search to the windows: from here on Python begins none by itself, and what stood apart is searched too."""
    gc.disable()
    gc.unfreeze()


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
