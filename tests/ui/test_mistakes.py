"""Whatever a person types into whichever field, the screen says so itself; nothing of it is a fault of the program.

An exception that leaves a slot fails the test (pytest-qt), so the crash dialog would have come.
"""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from fleetcare.ui.main_window import MORE, SCREENS, MainWindow
from tests.kestrel import Kestrel
from tests.services.test_injection import NASTY
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
MISTAKES = (
    *NASTY,
    "P-1002/x",
    "P 1002*K",
    "9" * 60,
    "1e5",
    "31/2/2026",
    "25:99",
    "\N{REPLACEMENT CHARACTER}*4",
    "½",
    "٤١",
)


def fields(window: MainWindow) -> list[QLineEdit]:
    """The fields that can be typed into just now."""
    return [
        one for one in window.findChildren(QLineEdit) if one.isVisible() and one.isEnabled() and not one.isReadOnly()
    ]


def pages(window: MainWindow, screen: str) -> list[object]:
    """The screen, page by page where it has several."""
    from PySide6.QtWidgets import QTabWidget

    shown = getattr(window, screen)
    for tabs in shown.findChildren(QTabWidget):
        if tabs.isVisible():
            return [lambda t=tabs, n=n: t.setCurrentIndex(n) for n in range(tabs.count())]
    return [lambda: None]


def test_nonsense_in_every_field_of_every_screen_is_no_fault(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    tried = 0
    for text in MISTAKES[:6]:
        window.bench.sign_in.name.edit.setFocus()
        window.bench.sign_in.name.edit.setText(text)
        hands(ENTER)
    window.bench.sign_in.name.edit.clear()
    hands("B-01", ENTER)
    window.bench.sign_in.name.edit.clear()
    window.session.sign_in(kestrel.people["DUNN"])
    for screen in (*SCREENS, *MORE):
        window.go(screen)
        for turn in pages(window, screen):
            turn()  # type: ignore[operator]
            for number in range(len(fields(window))):
                here = fields(window)
                if number >= len(here):
                    break
                text = MISTAKES[tried % len(MISTAKES)]
                here[number].setText(text)
                qtbot.keyClick(here[number], ENTER)
                tried += 1
                dialog = QApplication.activeModalWidget()
                if dialog is not None:
                    dialog.close()
                if window.session.person is None:
                    window.session.sign_in(kestrel.people["DUNN"])
    qtbot.wait(1)
    assert tried > 30, tried
    assert kestrel.store.verify().good
