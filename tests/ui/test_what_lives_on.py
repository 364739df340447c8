"""What Qt owns outlives the windows that asked for it, and nobody calls a window that is gone."""

from pathlib import Path

from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shiboken6 import delete

from fleetcare.app import App
from fleetcare.ui.main_window import MainWindow, first_focus
from tests.ui.test_background import run_apart

ASKED_AND_GONE = """
import gc
from PySide6.QtWidgets import QApplication, QWidget
from fleetcare.ui.widgets.dialogs import AskDialog

qt = QApplication([])

class Window(QWidget):
    def __init__(self):
        super().__init__()
        self.myself = self  # a ring, as every window with its screens is: only a search ends it
        self.asked = AskDialog(self, "Ask?", (), "Do", lambda: None)
        self.asked.open()
        self.asked.reject()

first, second = Window(), Window()
del second
gc.collect()
QWidget().show()
qt.processEvents()
print(qt.primaryScreen().size().width() > 0)
"""


def test_a_window_that_asked_something_leaves_the_screen_where_it_is() -> None:
    done = run_apart(ASKED_AND_GONE)
    assert (done.returncode, done.stdout) == (0, "True\n")


def test_a_window_that_is_gone_at_once_is_not_asked_for_its_first_field(
    app: App, qtbot: QtBot, qapp: QApplication
) -> None:
    window = MainWindow(app)
    first_focus(window)
    delete(window)
    with qtbot.captureExceptions() as caught:
        qapp.processEvents()
        qtbot.wait(20)
    assert caught == []


def test_a_paper_that_comes_after_the_window_was_closed_is_not_shown(window: MainWindow, qtbot: QtBot) -> None:
    """The window waits five seconds at most and then takes the folder away in which the paper lies."""
    panel = window.papers.history
    panel._background.ask(lambda: None, lambda _made: panel.preview.show_paper(Path("gone")), panel._failed)
    with qtbot.captureExceptions() as caught:
        window.close()
        qtbot.wait(20)
    assert caught == []
