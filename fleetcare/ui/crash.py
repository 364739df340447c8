"""Our own faults: into the log, and into one dialog.  A person's mistake never comes here."""

from __future__ import annotations

import faulthandler
import logging
import sys
import threading
import traceback
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QMessageLogContext, QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QApplication, QMessageBox

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.settings import data_folder
from fleetcare.ui.widgets.literal import literal

_LEVELS = {
    QtMsgType.QtDebugMsg: logging.DEBUG,
    QtMsgType.QtInfoMsg: logging.INFO,
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}


def install(folder: Path | None = None) -> Path:
    """Send uncaught errors, Qt's messages and native faults to one log file; returns its path."""
    folder = folder or data_folder()
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "fleetcare.log"
    logging.basicConfig(
        filename=path, level=logging.INFO, format="%(asctime)s %(levelname)s %(threadName)s %(name)s %(message)s"
    )
    faulthandler.enable(path.open("a"))
    sys.excepthook = _caught
    threading.excepthook = lambda args: _caught(args.exc_type, args.exc_value, args.exc_traceback)
    qInstallMessageHandler(_qt_said)
    return path


def _qt_said(kind: QtMsgType, _context: QMessageLogContext, text: str) -> None:
    logging.getLogger("qt").log(_LEVELS.get(kind, logging.WARNING), text)


_shown: set[str] = set()
"""Faults that a person was told of, by where they arose: each has one dialog, however often it comes again."""


def _caught(kind: type[BaseException], error: BaseException | None, trace: TracebackType | None) -> None:
    if isinstance(error, FleetcareError):
        logging.getLogger("fleetcare").warning("a refusal that no screen showed: %s", error)
        if _may_show():
            QMessageBox.warning(None, word("program.title"), literal(say(error.message)))
        return
    logging.getLogger("fleetcare").critical("uncaught", exc_info=(kind, error or kind(), trace))
    place = "".join(traceback.format_tb(trace)[-1:]) + kind.__name__
    if not _may_show() or place in _shown:
        return
    _shown.add(place)
    box = QMessageBox(
        QMessageBox.Icon.Critical, word("program.title"), literal(say(msg("window.crash", what=repr(error))))
    )
    box.setDetailedText("".join(traceback.format_exception(kind, error, trace)))
    box.exec()


def _may_show() -> bool:
    """True where a dialog can be shown: in the window's own thread, and not while another one asks."""
    if QApplication.instance() is None or threading.current_thread() is not threading.main_thread():
        return False
    return not isinstance(QApplication.activeModalWidget(), QMessageBox)
