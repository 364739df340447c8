"""Start the window: on a fleet file, on the demonstration, or with the first question."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtWidgets import QApplication, QFileDialog, QInputDialog, QMessageBox

from fleetcare import app as builder
from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui import crash, theme
from fleetcare.ui.main_window import MainWindow, first_focus
from fleetcare.ui.widgets.literal import literal


def launch(words: Sequence[str]) -> int:
    """Open the window and stay until it closes; returns the exit code."""
    asked = argparse.ArgumentParser(prog="fleetcare window")
    asked.add_argument("fleet", nargs="?", type=Path)
    asked.add_argument("--demo", action="store_true")
    given = asked.parse_args(list(words))
    qt = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(qt, QApplication)
    qt.setApplicationDisplayName("")
    crash.install()
    kept = preferences.load()
    theme.apply(qt, kept.theme, kept.text_percent)
    app = _app(given.fleet, demo=given.demo)
    if app is None:
        return 2
    window = MainWindow(app)
    window.show()
    first_focus(window)
    code = qt.exec()
    app.store.close()
    return code


def _app(fleet: Path | None, *, demo: bool) -> App | None:
    """The fleet to show; None when nobody chose one."""
    path = fleet or builder.default_fleet_path()
    try:
        if demo:
            return builder.open_demo(lambda line: print(line, file=sys.stderr, flush=True))
        if path.exists() or fleet is not None:
            return builder.open_app(path)
        return _first_question(path)
    except FleetcareError as error:
        if not demo and error.message.key in DAMAGED:
            return _offer_restore(path, error)
        QMessageBox.warning(None, word("program.title"), literal(say(error.message)))
        return None


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
    asked = RestoreDialog(target, lambda fleet, missing, out: builder.print_reentry(None, fleet, missing, out))
    asked.offer(backup.newest_backup(path))
    if not asked.exec() or asked.restored_to is None:
        return None
    was_there = path.exists()
    kept = backup.take_place(asked.restored_to, path, builder.system_clock)
    if was_there:
        told = msg("backup.took_place", path=str(path), kept=str(kept))
        QMessageBox.information(None, word("program.title"), literal(say(told)))
    return builder.open_app(path)


def _first_question(path: Path) -> App | None:
    """There is no fleet yet: found one, open one, or look at the demonstration."""
    box = QMessageBox(
        QMessageBox.Icon.Question, word("window.open_fleet"), literal(say(msg("window.no_fleet", path=str(path))))
    )
    found = box.addButton(word("window.found_fleet"), QMessageBox.ButtonRole.AcceptRole)
    choose = box.addButton(word("window.choose_fleet"), QMessageBox.ButtonRole.ActionRole)
    restore = box.addButton(word("window.restore"), QMessageBox.ButtonRole.ActionRole)
    demo = box.addButton(word("window.see_demo"), QMessageBox.ButtonRole.ActionRole)
    box.addButton(QMessageBox.StandardButton.Cancel)
    box.exec()
    if box.clickedButton() is found:
        name, ok = QInputDialog.getText(None, word("window.found_fleet"), word("window.fleet_name"))  # type: ignore[arg-type]
        who, ok2 = (
            QInputDialog.getText(None, word("window.found_fleet"), word("window.first_person")) if ok else ("", False)
        )  # type: ignore[arg-type]
        if ok and ok2 and name.strip() and who.strip():
            builder.found_fleet(path, name.strip(), who.strip())
            return builder.open_app(path)
    elif box.clickedButton() is choose:
        chosen, _ = QFileDialog.getOpenFileName(None, word("window.choose_fleet"), "", "Fleet (*.fleet)")
        return builder.open_app(Path(chosen)) if chosen else None
    elif box.clickedButton() is restore:
        from fleetcare.services import backup
        from fleetcare.ui.keeping.restore_panel import RestoreDialog

        asked = RestoreDialog(path, lambda fleet, missing, out: builder.print_reentry(None, fleet, missing, out))
        asked.offer(backup.newest_backup(path))
        return builder.open_app(asked.restored_to) if asked.exec() and asked.restored_to is not None else None
    elif box.clickedButton() is demo:
        return builder.open_demo(lambda line: print(line, file=sys.stderr, flush=True))
    return None
