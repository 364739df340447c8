"""Another program holds the fleet file: the window goes on, says so, tries again, and nothing typed is lost."""

import subprocess
import sys
import threading
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QDialog, QMessageBox
from pytestqt.qtbot import QtBot

from fleetcare.domain.errors import FileRefused
from fleetcare.services import drafts, summary
from fleetcare.store import store as store_module
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
HOLD = """
import sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("BEGIN EXCLUSIVE")
print("held", flush=True)
sys.stdin.readline()
raw.execute("ROLLBACK")
"""


class Other:
    """Another program in a process of its own that holds the file until it is told to let go."""

    def __init__(self, kestrel: Kestrel) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", HOLD, str(kestrel.store.path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout is not None and self._process.stdout.readline() == "held\n"

    def let_go(self) -> None:
        """Let go, if it was not told before."""
        if self._process.returncode is None:
            self._process.communicate("\n")


@pytest.fixture
def other(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], Other]]:
    monkeypatch.setattr(store_module, "SOON_S", 0.2)
    made: list[Other] = []

    def hold() -> Other:
        made.append(Other(kestrel))
        return made[-1]

    yield hold
    for one in made:
        one.let_go()


def typed_check(hands: Typist) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "41.38", ENTER)


def when_waiting(window: MainWindow, then: Callable[[QDialog], None]) -> list[str]:
    """Do something as soon as the window waits; returns where the sentences of the dialog will be."""
    said: list[str] = []
    timer = QTimer(window)

    def look() -> None:
        if window.held.dialog is None or not window.held.dialog.isVisible():
            return
        timer.stop()
        said.extend(label.text() for label in window.held.dialog.findChildren(type(window.held.dialog.trying)))
        then(window.held.dialog)

    timer.timeout.connect(look)
    timer.start(20)
    return said


def checks(kestrel: Kestrel) -> list[str]:
    return [str(line.rested_v) for line in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks]


def test_a_save_waits_in_sight_and_is_saved_once_when_the_file_is_free(
    window: MainWindow, hands: Typist, kestrel: Kestrel, other: Callable[[], Other]
) -> None:
    typed_check(hands)
    before = checks(kestrel)
    holder = other()
    said = when_waiting(window, lambda _dialog: holder.let_go())
    hands(ENTER)
    assert any("Another program is writing to the fleet file" in one for one in said)
    assert any("Still trying" in one for one in said) and any("Nothing is lost" in one for one in said)
    assert checks(kestrel) == ["41.38", *before]
    assert "41.38" in window.bench.work.verdict.text() and window.held.dialog is None
    assert kestrel.store.verify().good


def test_who_stops_keeps_the_entry_and_saves_it_later(
    window: MainWindow, hands: Typist, kestrel: Kestrel, other: Callable[[], Other], qtbot: QtBot
) -> None:
    typed_check(hands)
    before = checks(kestrel)
    holder = other()
    when_waiting(window, lambda _dialog: window.held.dialog.stop.click())  # type: ignore[union-attr]
    hands(ENTER)
    work = window.bench.work
    assert checks(kestrel) == before
    assert work.rested.text == "41.38" and "P-1002" in work.subject.text()
    assert "locked by another program" in work.wrong.text() and work.wrong.isVisible()
    holder.let_go()
    qtbot.waitUntil(window.isActiveWindow)
    assert work.loaded.edit.hasFocus()
    hands(ENTER)
    assert checks(kestrel) == ["41.38", *before]


def test_what_is_typed_meanwhile_is_kept_as_soon_as_the_file_is_free(
    window: MainWindow, hands: Typist, kestrel: Kestrel, other: Callable[[], Other], qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3")
    holder = other()
    hands("41.38")
    work = window.bench.work
    qtbot.waitUntil(work.wrong.isVisible, timeout=20_000)
    assert "cannot be kept on the disk" in work.wrong.text() and window.held.dialog is None
    holder.let_go()
    qtbot.waitUntil(lambda: not work.wrong.isVisible(), timeout=20_000)
    (kept,) = drafts.offered(kestrel.store, "DUNN", None)
    assert kept.typed is not None and kept.typed.rested == "41.38"


def test_closing_asks_before_it_loses_what_could_not_be_kept(
    window: MainWindow, hands: Typist, kestrel: Kestrel, other: Callable[[], Other], qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3")
    holder = other()
    hands("41.38")
    asked: list[str] = []

    def stay() -> None:
        box = QApplication.activeModalWidget()
        if isinstance(box, QMessageBox):
            asked.append(box.text())
            box.defaultButton().click()
        else:
            QTimer.singleShot(20, stay)

    QTimer.singleShot(20, stay)
    assert not window.close() and window.isVisible()
    assert "cannot be kept" in asked[0] and "Close all the same?" in asked[0]
    assert window.bench.work.rested.text == "41.38"
    holder.let_go()
    assert window.close()
    (kept,) = drafts.offered(kestrel.store, "DUNN", None)
    assert kept.typed is not None and kept.typed.rested == "41.38"


def test_a_write_refused_in_the_background_is_not_taken_for_kept(
    window: MainWindow, hands: Typist, kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3")
    begun, end, free = threading.Event(), threading.Event(), threading.Event()
    keep = drafts.keep

    def refused(*state: object) -> None:
        if free.is_set():
            keep(*state)  # type: ignore[arg-type]
            return
        begun.set()
        end.wait()
        raise FileRefused("file.locked", path="held")

    monkeypatch.setattr(drafts, "keep", refused)
    hands("41.38")
    qtbot.waitUntil(begun.is_set)  # the pool has taken what is typed and is about to be refused
    monkeypatch.setattr(window.bench, "_keep", lambda: None)  # nothing newer is typed
    threading.Timer(0.1, end.set).start()
    assert not window.bench.put_aside()
    assert window.bench.work.rested.text == "41.38" and "cannot be kept on the disk" in window.bench.work.wrong.text()
    free.set()
    assert window.bench.put_aside()
    (kept,) = drafts.offered(kestrel.store, "DUNN", None)
    assert kept.typed is not None and kept.typed.rested == "41.38"


def test_the_next_person_does_not_find_what_another_typed_and_could_not_be_kept(
    window: MainWindow, hands: Typist, other: Callable[[], Other], qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3")
    holder = other()
    hands("41.38", Qt.Key.Key_F12)
    sign = window.bench.sign_in
    hands("B-02", ENTER)
    assert window.session.person is None and "cannot be kept" in sign.notice.text()
    holder.let_go()
    hands(ENTER)
    assert window.session.person is not None and window.session.person.name == "Pike"
    assert window.bench.work.rested.text == ""


def test_this_programs_own_long_deed_is_called_by_its_name(
    window: MainWindow, hands: Typist, kestrel: Kestrel, other: Callable[[], Other]
) -> None:
    typed_check(hands)
    begun, end = threading.Event(), threading.Event()

    def long_deed() -> None:
        with kestrel.store.transaction():
            begun.set()
            end.wait()

    thread = threading.Thread(target=long_deed)
    thread.start()
    begun.wait()
    said = when_waiting(window, lambda _dialog: end.set())
    hands(ENTER)
    thread.join()
    assert any("Fleetcare itself is still writing" in one for one in said)
    assert checks(kestrel)[0] == "41.38"
