"""Preferences of one user on one PC, chosen in the window: kept in their file, shown by a window opened again."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from fleetcare import settings
from fleetcare.app import App
from fleetcare.ui import launch as launching
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.this_pc import ThisPcScreen
from tests.window_fixtures import Typist

CLICK = Qt.MouseButton.LeftButton


def page_of(window: MainWindow) -> ThisPcScreen:
    window.go("this_pc")
    return window.this_pc


def retype(qtbot: QtBot, page: ThisPcScreen, name: str, text: str) -> None:
    target = page.card.fields[name].edit
    target.setFocus()
    target.selectAll()
    qtbot.keyClicks(target, text) if text else target.clear()


def test_nobody_needs_to_be_signed_in_and_a_mistake_is_told_beside_its_field(window: MainWindow, qtbot: QtBot) -> None:
    page = page_of(window)
    assert page.theme.box.hasFocus() and page.lock.text == "10"
    qtbot.mouseClick(page.card.do, CLICK)
    assert page.card.said.text() == "Nothing is changed."
    for typed in ("ten", "241", "-1", "1.5", "", "²"):
        retype(qtbot, page, "lock_minutes", typed)
        qtbot.mouseClick(page.card.do, CLICK)
        assert page.lock.wrong.text() == (
            f"Minutes before the lock: a whole number from 0 to 240, 0 for never. “{typed}” is none."
        )
        assert page.lock.text == typed and settings.load() == settings.Settings()
    retype(qtbot, page, "lock_minutes", "240")
    retype(qtbot, page, "station", "x" * 41)
    qtbot.mouseClick(page.card.do, CLICK)
    assert page.station.wrong.text().startswith("Name of this PC: at most 40 letters")
    assert not window.opens_again and window.isVisible()


def test_what_is_kept_is_in_the_file_and_typed_set_up_text_is_asked_about_first(
    window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    hands("B-05", Qt.Key.Key_Return)
    window.go("setup")
    window.setup.go_to("charger")
    charger = window.setup.thing_page("charger")
    charger.form.entries["name"].target.setFocus()
    qtbot.keyClicks(charger.form.entries["name"].target, "by the door")
    page = page_of(window)
    page.text.choose("150")
    page.page.choose("Letter")
    retype(qtbot, page, "station", 'bench "2"\\ north')
    retype(qtbot, page, "lock_minutes", "0")
    qtbot.mouseClick(page.card.do, CLICK)
    assert settings.load() == settings.Settings(
        text_percent=150, page="Letter", station='bench "2"\\ north', lock_minutes=0
    )
    question = window.question
    assert question is not None and "a new charger" in " ".join(one.text() for one in question.findChildren(QLabel))
    assert window.isVisible()
    question.reject()
    qtbot.waitUntil(lambda: not window.opens_again)
    assert page.card.said.text() == "Kept on this PC. It holds from the next time the window opens."


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full disk to write on here")
def test_a_disk_that_takes_nothing_leaves_the_old_preferences(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = page_of(window)
    page.page.choose("Letter")
    path = settings.settings_file()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.with_suffix(".new").symlink_to("/dev/full")
    qtbot.mouseClick(page.card.do, CLICK)
    assert page.card.said.text() == (
        f"The preferences could not be written to {path}: No space left on device. The old ones stand."
    )
    assert settings.load() == settings.Settings() and page.page.code == "Letter"


def test_the_window_opens_again_with_larger_text(
    app: App, qapp: QApplication, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[float, str, str, int]] = []

    def shown() -> MainWindow:
        return next(one for one in qapp.topLevelWidgets() if isinstance(one, MainWindow) and one.isVisible())

    def first() -> None:
        page = page_of(shown())
        page.text.choose("200")
        page.page.choose("Letter")
        retype(qtbot, page, "station", "bench 2")
        later(second)
        qtbot.mouseClick(page.card.do, CLICK)

    def second() -> None:
        window = shown()
        seen.append(
            (qapp.font().pointSizeF(), window._app.settings.page, window._app.station, len(window.bar._tabs.buttons()))
        )
        page = page_of(window)
        assert page.text.code == "200" and page.station.text == "bench 2"
        window.close()

    timers = QObject()

    def later(step: Callable[[], None]) -> None:
        QTimer.singleShot(400, timers, step)

    theme.apply(qapp, "light", 100)
    later(first)
    assert launching._worked_in(qapp, app, "") == 0
    assert seen == [(21.0, "Letter", "bench 2", 8)]
    theme.apply(qapp, "light", 100)
