"""Our own faults reach the log and one dialog; a person's mistake is no fault of the program."""

import os
import signal
import sqlite3
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import say
from fleetcare.services import backup, places
from fleetcare.store import opening
from fleetcare.ui import launch
from fleetcare.ui.keeping.restore_panel import RestoreDialog
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel

PROGRAM = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox
from fleetcare.domain.errors import EntryRefused
from fleetcare.ui import crash
from fleetcare.ui.background import Background

qt = QApplication([])
qt.setQuitOnLastWindowClosed(False)
crash.install(Path(sys.argv[1]))
shown = []

def close():
    box = QApplication.activeModalWidget()
    if isinstance(box, QMessageBox):
        shown.append((box.icon().name, box.text()))
        box.accept()
        QTimer.singleShot(150, (second, mistake, qt.quit)[len(shown) - 1])

def fault(what):
    raise RuntimeError(what)

def mistake():
    raise EntryRefused("entry.unknown_pack", field="pack", code="P-9")

background = Background(qt)
looking = QTimer()
looking.timeout.connect(close)
looking.start(30)
again = QTimer()
again.timeout.connect(lambda: fault("in a timer"))
again.start(10)

def second():
    again.stop()
    background.ask(lambda: 1 / 0, print)

QTimer.singleShot(20_000, qt.quit)
qt.exec()
for icon, text in shown:
    print(icon, text)
"""


def test_a_fault_has_one_dialog_and_stands_in_the_log_and_a_mistake_is_only_said(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(tmp_path)], capture_output=True, text=True,
        env=os.environ | {"QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip
    said = done.stdout.splitlines()
    assert len(said) == 3, done.stdout + done.stderr
    assert said[0].startswith("Critical") and "in a timer" in said[0]
    assert said[1].startswith("Critical") and "ZeroDivisionError" in said[1]
    assert said[2].startswith("Warning") and "P-9" in said[2] and "in the program itself" not in said[2]
    log = (tmp_path / "fleetcare.log").read_text("utf-8")
    assert log.count("CRITICAL") == log.count("Traceback") and "ZeroDivisionError" in log and "in a timer" in log
    assert "no screen showed" in log and "EntryRefused" not in log


def answered(button: str) -> None:
    """Press a button of the message box that is open."""
    box = QApplication.activeModalWidget()
    assert isinstance(box, QMessageBox)
    next(one for one in box.buttons() if one.text().replace("&", "") == button).click()


def test_a_damaged_file_at_the_start_offers_a_backup_and_is_kept(
    kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kestrel.store.path
    backup.back_up(kestrel.store, kestrel.clock)
    kestrel.store.close()
    damaged = path.read_bytes()[:20_000]
    path.write_bytes(damaged)
    said: list[str] = []

    def in_the_dialog() -> None:
        asked = QApplication.activeModalWidget()
        assert isinstance(asked, RestoreDialog)
        asked.panel.look.click()
        qtbot.waitUntil(asked.panel.restore.isEnabled, timeout=20_000)
        said.append(asked.panel.said.text())
        asked.panel.restore.click()
        qtbot.waitUntil(asked.open_it.isEnabled, timeout=20_000)
        QTimer.singleShot(200, lambda: (said.append(QApplication.activeModalWidget().text()), answered("OK")))
        asked.open_it.click()

    def at_first() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        said.append(box.text())
        QTimer.singleShot(300, in_the_dialog)
        answered("Restore a backup")

    QTimer.singleShot(100, at_first)
    app = launch._app(path, demo=False)
    assert app is not None and app.store.path == path
    assert "cut short" in said[0] and "156 records" in said[1] and "it is kept as" in said[2]
    (kept,) = path.parent.glob(f"{path.stem}-damaged-*.fleet")
    assert kept.read_bytes() == damaged and app.store.verify().good
    app.store.close()


def test_a_damaged_file_that_nobody_restores_stays_as_it_is(kestrel: Kestrel, qtbot: QtBot) -> None:
    path = kestrel.store.path
    kestrel.store.close()
    path.write_bytes(b"SQLite format 3\x00" + b"\x01" * 900)
    before = path.read_bytes()
    QTimer.singleShot(100, lambda: answered("Close"))
    assert launch._app(path, demo=False) is None and path.read_bytes() == before


def test_a_fleet_that_is_gone_from_its_place_is_restored_there(kestrel: Kestrel, qtbot: QtBot) -> None:
    path = kestrel.store.path
    backup.back_up(kestrel.store, kestrel.clock)
    kestrel.store.close()
    path.unlink()
    said: list[str] = []

    def in_the_dialog() -> None:
        asked = QApplication.activeModalWidget()
        assert isinstance(asked, RestoreDialog)
        asked.panel.look.click()
        qtbot.waitUntil(asked.panel.restore.isEnabled, timeout=20_000)
        asked.panel.restore.click()
        qtbot.waitUntil(asked.open_it.isEnabled, timeout=20_000)
        asked.open_it.click()

    def at_first() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        said.append(box.text())
        QTimer.singleShot(300, in_the_dialog)
        answered("Restore a backup")

    QTimer.singleShot(100, at_first)
    app = launch._app(path, demo=False)
    assert app is not None and app.store.path == path and app.store.verify().good
    assert said == [f"There is no file {path}."]
    app.store.close()


@pytest.mark.parametrize("key", ["file.newer", "file.locked", "file.read_only"])
def test_what_a_backup_would_not_mend_offers_none(
    kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    refused = FileRefused(key, path="x", file_version=9, program_version=1)
    monkeypatch.setattr(launch.builder, "open_app", lambda _path: (_ for _ in ()).throw(refused))
    told: list[str] = []
    monkeypatch.setattr(launch.QMessageBox, "warning", lambda _p, _t, text, *_buttons: told.append(text))
    assert launch._app(kestrel.store.path, demo=False) is None and told == [say(refused.message)]


def test_a_file_that_another_program_holds_at_the_start_is_tried_again_when_the_person_says_so(
    kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    kestrel.store.close()
    other = sqlite3.connect(kestrel.store.path, isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    other.execute("UPDATE file_info SET value = value")
    told: list[str] = []

    def press(_parent: object, _title: str, text: str, _buttons: object) -> QMessageBox.StandardButton:
        told.append(text)
        if len(told) == 2:
            other.close()
        return QMessageBox.StandardButton.Retry

    monkeypatch.setattr(launch.QMessageBox, "warning", press)
    monkeypatch.setattr(opening.sqlite3, "connect", partial(sqlite3.connect, timeout=0.2))
    app = launch._app(kestrel.store.path, demo=False)
    assert app is not None and len(told) == 2 and "is locked by another program" in told[0]
    assert app.store.verify().good
    app.store.close()


def test_a_fleet_file_on_a_network_drive_is_warned_of_on_every_screen(
    app: App, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(places, "network_kind", lambda _path: "cifs")
    window = MainWindow(app)
    qtbot.addWidget(window)
    window.show()
    for screen in ("bench", "board", "keeping"):
        window.go(screen)
        assert (
            window.status.on_network.isVisible()
            and "on a network drive (cifs), which is not safe" in window.status.on_network.text()
        )
    assert "locks may fail" in window.keeping.backups.warning.text()


INTERRUPTED = """
import os, signal, sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from fleetcare.ui.launch import launch

qt = QApplication([])
QTimer.singleShot(0, lambda: os.kill(os.getpid(), signal.SIGINT))
launch(sys.argv[1:])
"""


def test_ctrl_c_in_the_terminal_ends_the_window_without_a_crash(kestrel: Kestrel) -> None:
    """Python's own way is to raise in the midst of Qt, which ended in a segmentation fault more often than not."""
    ended = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, str(kestrel.store.path)], capture_output=True, text=True, timeout=120
    )
    assert ended.returncode == -signal.SIGINT and "Fatal" not in ended.stderr, ended.stderr
