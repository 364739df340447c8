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

from fleetcare.domain.wording import msg, say, word
from fleetcare.settings import data_folder

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


def _caught(kind: type[BaseException], error: BaseException | None, trace: TracebackType | None) -> None:
    logging.getLogger("fleetcare").critical("uncaught", exc_info=(kind, error or kind(), trace))
    if QApplication.instance() is None or threading.current_thread() is not threading.main_thread():
        return
    box = QMessageBox(QMessageBox.Icon.Critical, word("program.title"), say(msg("window.crash", what=repr(error))))
    box.setDetailedText("".join(traceback.format_exception(kind, error, trace)))
    box.exec()
