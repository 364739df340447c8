"""Readings off the GUI thread: what comes back, to whom, and where it is let go of."""

import gc
import os
import subprocess
import sys
import threading
import weakref
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from PySide6.QtCore import QObject, QThreadPool
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.ui.background import Background
from fleetcare.ui.main_window import MainWindow
from tests.window_fixtures import search_again


def run_apart(program: str) -> subprocess.CompletedProcess[str]:
    """Run a program with windows of its own: what ends it, ends no test."""
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(Path(__file__).parents[2])}
    return subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, env=environment)


def test_an_answer_comes_back_on_the_gui_thread(qtbot: QtBot) -> None:
    screen, got = QObject(), []
    Background(screen).ask(threading.get_ident, lambda there: got.append((there, threading.get_ident())))
    qtbot.waitUntil(lambda: bool(got))
    ((there, here),) = got
    assert there != here == threading.get_ident()


def test_a_newer_request_makes_an_older_answer_void(qtbot: QtBot) -> None:
    screen, got, go = QObject(), [], threading.Event()
    reader = Background(screen)
    reader.ask(lambda: go.wait(10) and "old", got.append)
    reader.ask(lambda: "new", got.append)
    go.set()
    QThreadPool.globalInstance().waitForDone()
    qtbot.waitUntil(lambda: bool(got))
    qtbot.wait(20)
    assert got == ["new"]


def test_one_that_fails_takes_no_other_answer_with_it(qtbot: QtBot) -> None:
    screen, got, failed = QObject(), [], []
    readers = [Background(screen) for _ in range(20)]
    for number, reader in enumerate(readers):
        reader.ask(lambda n=number: 1 // (n % 2), got.append, failed.append)
    qtbot.waitUntil(lambda: len(got) == len(failed) == 10)
    assert {type(error) for error in failed} == {ZeroDivisionError}


def test_a_failure_that_nobody_takes_is_raised_here(qtbot: QtBot) -> None:
    screen = QObject()
    with qtbot.captureExceptions() as caught:
        Background(screen).ask(lambda: 1 // 0, print)
        qtbot.waitUntil(lambda: bool(caught))
    assert [kind for kind, *_ in caught] == [ZeroDivisionError]


def test_nobody_is_told_once_the_screen_is_gone(qtbot: QtBot) -> None:
    screen, got, go = QObject(), [], threading.Event()
    Background(screen).ask(lambda: go.wait(10), got.append, got.append)
    screen.deleteLater()
    qtbot.waitSignal(screen.destroyed, timeout=1000)
    go.set()
    QThreadPool.globalInstance().waitForDone()
    qtbot.wait(30)
    assert got == []


@pytest.mark.parametrize("fails", [False, True])
def test_what_a_reading_holds_is_let_go_of_on_the_gui_thread(qtbot: QtBot, fails: bool) -> None:
    """A widget that another thread lets go of last would be destroyed there, which ends the program."""
    screen, where, got = QObject(), [], []

    class Held:
        pass

    for _ in range(50):
        held = Held()
        weakref.finalize(held, lambda: where.append(threading.get_ident()))

        def work(held: Held = held) -> Held:
            if fails:
                raise LookupError(held)
            return held

        del held
        Background(screen).ask(work, lambda _got: got.append(1), lambda _error: got.append(1))
        del work
    qtbot.waitUntil(lambda: len(got) == len(where) == 50)
    assert set(where) == {threading.get_ident()}


class Ring:
    """Something that only a search for garbage ends."""

    def __init__(self) -> None:
        self.myself = self


def make_rings(where: list[int]) -> None:
    """So many that a search begins in whatever thread makes them; `where` is told in which each one ended."""
    for _ in range(20 * gc.get_threshold()[0]):
        weakref.finalize(Ring(), lambda: where.append(threading.get_ident()))


def test_garbage_is_searched_for_on_the_gui_thread_only(qtbot: QtBot) -> None:
    gc.enable()  # as before the first window
    screen, done, where = QObject(), [], []
    Background(screen).ask(lambda: make_rings(where), done.append)
    qtbot.waitUntil(lambda: bool(done) and bool(where))
    assert set(where) == {threading.get_ident()}


def test_from_the_first_window_on_no_other_thread_searches_whoever_began_it(app: App, qtbot: QtBot) -> None:
    """A projection counts in two threads of its own, also where no reader asks for it."""
    gc.enable()  # as before the first window
    qtbot.addWidget(MainWindow(app))
    where: list[int] = []
    with ThreadPoolExecutor(1) as pool:
        pool.submit(make_rings, where).result()
    gc.collect()
    assert len(where) == 20 * gc.get_threshold()[0] and set(where) == {threading.get_ident()}


def test_a_window_that_closes_leaves_the_search_where_it_was(window: MainWindow, qtbot: QtBot) -> None:
    """Another window may be open, or a reading under way that took longer than the window waited."""
    assert not gc.isenabled()
    window.close()
    assert not gc.isenabled()


CLOSED_WHILE_IT_TELLS = """
import threading
from PySide6.QtCore import QThreadPool
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import delete
from fleetcare.ui.background import share_fairly
from fleetcare.ui.widgets.slow_dialog import SlowDialog

qt = QApplication([])
share_fairly()
told = 0
for _ in range(400):
    begun, gone = threading.Event(), threading.Event()

    def work(tell, stopped):
        global told
        while not gone.is_set():
            tell(1, 4000)
            told += 1
            begun.set()

    window = QWidget()
    SlowDialog(window, "Take it back?", (), "Take back", lambda: work, lambda _brought: None).attempt()
    begun.wait()
    delete(window)
    gone.set()
    QThreadPool.globalInstance().waitForDone()
    qt.processEvents()
print("told" if told >= 400 else told)
"""


def test_a_window_that_is_destroyed_while_a_reading_tells_how_far_it_is_ends_nothing() -> None:
    done = run_apart(CLOSED_WHILE_IT_TELLS)
    assert (done.returncode, done.stdout, done.stderr) == (0, "told\n", "")


LEFT_WHILE_IT_READS = """
import sys, time
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QDialog
from fleetcare.ui.background import Background

def ask():
    qt, dialog = QApplication([]), QDialog()
    for _ in range(4):
        Background(dialog).ask(lambda: time.sleep(0.4), print, print)
    QTimer.singleShot(100, dialog.reject)
    return dialog.exec() + 2

sys.exit(ask())
"""


def test_a_program_that_is_left_while_it_reads_ends_when_the_reading_has_ended() -> None:
    done = run_apart(LEFT_WHILE_IT_READS)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", "")


def test_a_test_without_windows_has_nothing_of_a_window_in_reach_of_its_threads(qtbot: QtBot) -> None:
    """A reading still under way, its answer on the way, and a ring that became garbage only with the answer."""
    screen, go, on, where = QObject(), threading.Event(), [], []
    ring = Ring()
    weakref.finalize(ring, lambda: where.append(threading.get_ident()))
    kept = [Ring()]
    weakref.finalize(kept[0], lambda: where.append(threading.get_ident()))

    def reading(held: Ring = ring) -> None:
        go.wait(10)
        on.append(gc.isenabled())

    Background(screen).ask(reading, lambda _none: None)
    del ring, reading
    threading.Timer(0.3, go.set).start()
    search_again()
    assert on == [False] and where == [threading.get_ident()] and gc.isenabled()
    kept.clear()
    with ThreadPoolExecutor(1) as pool:
        pool.submit(make_rings, []).result()
    assert len(where) == 1
