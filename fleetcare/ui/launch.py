"""Start the window: on a fleet file, on the demonstration, or with the first question."""

from __future__ import annotations

import argparse
import logging
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from PySide6.QtCore import QThreadPool
from PySide6.QtWidgets import QApplication, QMessageBox

from fleetcare import app as builder
from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui import crash, theme
from fleetcare.ui.background import search_here
from fleetcare.ui.first_start import FirstStart
from fleetcare.ui.main_window import MainWindow, first_focus
from fleetcare.ui.paper_orders import show_reentry
from fleetcare.ui.widgets.literal import literal


def asked_for(words: Sequence[str]) -> tuple[Path | None, bool]:
    """The fleet file that the words after `window` name, None for the own one, and whether the demonstration is meant.

    The file may stand bare or behind `--fleet`, as with every other command; `--fleet demo` is the demonstration.
    Two files, or a file and the demonstration, are refused (SystemExit 2, the sentence on stderr).
    """
    asked = argparse.ArgumentParser(prog="fleetcare window")
    which = asked.add_mutually_exclusive_group()
    which.add_argument("bare", nargs="?", type=Path, metavar="FLEET", help="fleet file")
    which.add_argument("--fleet", type=Path, help="the same, named as for other commands (demo: the demonstration)")
    which.add_argument("--demo", action="store_true", help="open the demonstration fleet")
    given = asked.parse_args(list(words))
    demo = given.demo or str(given.fleet) == "demo"
    return None if demo else given.fleet or given.bare, demo


def launch(words: Sequence[str]) -> int:
    """Open the window and stay until it closes; returns the exit code."""
    fleet, demo = asked_for(words)
    qt = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(qt, QApplication)
    qt.setApplicationDisplayName("")
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl+C ends at once: Python's way raises inside Qt, which crashes it
    crash.install()
    search_here()
    kept = preferences.load()
    theme.apply(qt, kept.theme, kept.text_percent)
    founder, path = "", builder.default_fleet_path()
    if fleet is None and not demo and not path.exists():
        asked = FirstStart(path)
        app = asked.app if asked.exec() else None
        founder = asked.founder
    else:
        app = _app(fleet, demo=demo)
    if app is None:
        return 2
    code = _worked_in(qt, app, founder)
    if not QThreadPool.globalInstance().waitForDone(0):
        end_now(code)
    app.store.close()
    return code


def _worked_in(qt: QApplication, app: App, founder: str) -> int:
    """Show the window until it closes, anew each time the preferences of this PC were changed in it."""
    while True:
        window = MainWindow(app)
        window.show()
        first_focus(window, founder)
        code = qt.exec()
        if not window.opens_again:
            return code
        window.deleteLater()
        founder, app = "", builder.as_preferred(app)
        theme.apply(qt, app.settings.theme, app.settings.text_percent)


def end_now(code: int) -> NoReturn:
    """Leave while a reading is still under way: what is not committed by now is as if it had not been begun."""
    logging.shutdown()
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    os._exit(code)


def _app(fleet: Path | None, *, demo: bool) -> App | None:
    """The fleet to show; None where it cannot be opened.  A file that another program holds may be tried again."""
    path = fleet or builder.default_fleet_path()
    while True:
        try:
            if demo:
                return builder.open_demo(lambda line: print(line, file=sys.stderr, flush=True))
            return builder.open_app(path)
        except FleetcareError as error:
            if error.message.key == "file.locked" and _again(error):
                continue
            if error.message.key != "file.locked":
                if not demo and error.message.key in DAMAGED:
                    return _offer_restore(path, error)
                QMessageBox.warning(None, word("program.title"), literal(say(error.message)))
            return None


def _again(error: FleetcareError) -> bool:
    """Whether the person wants it tried once more."""
    both = QMessageBox.StandardButton.Retry | QMessageBox.StandardButton.Close
    pressed = QMessageBox.warning(None, word("program.title"), literal(say(error.message)), both)
    return pressed == QMessageBox.StandardButton.Retry


DAMAGED = {
    f"file.{why}"
    for why in (
        "damaged",
        "truncated",
        "foreign",
        "no_founding",
        "log_damaged",
        "deeds_missing",
        "missing",
        "unreadable",
        "disk_error",
    )
}
"""Refusals after which a backup helps."""


def _offer_restore(path: Path, error: FleetcareError) -> App | None:
    """The file cannot be opened or is not there: a backup goes beside it, and only when it is whole takes its place and name.

    The damaged file is kept under another name.
    """
    from fleetcare.services import backup
    from fleetcare.ui.keeping.restore_panel import RestoreDialog

    box = QMessageBox(QMessageBox.Icon.Warning, word("program.title"), literal(say(error.message)))
    restore = box.addButton(word("window.restore"), QMessageBox.ButtonRole.AcceptRole)
    box.addButton(QMessageBox.StandardButton.Close)
    box.exec()
    if box.clickedButton() is not restore:
        return None
    target = path.with_name(f"{path.stem}-restored.fleet")
    asked = RestoreDialog(target, show_reentry)
    asked.offer(backup.newest_backup(path))
    if not asked.exec() or asked.restored_to is None:
        return None
    was_there = path.exists()
    kept = backup.take_place(asked.restored_to, path, builder.system_clock)
    if was_there:
        told = msg("backup.took_place", path=str(path), kept=str(kept))
        QMessageBox.information(None, word("program.title"), literal(say(told)))
    return builder.open_app(path)
