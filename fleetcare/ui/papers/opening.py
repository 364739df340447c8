"""Opens a written paper in the desktop's own viewer, and says whether there was one to ask."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from PySide6.QtCore import QProcess, QUrl
from PySide6.QtGui import QDesktopServices


def opened(path: Path) -> bool:
    """Ask the desktop to show `path`; False where it has nothing to ask.

    On Linux the desktop's opener (freedesktop.org's xdg-utils) is started apart, with nothing to write to: without a
    viewer it would fill the terminal with every program that it tried.
    """
    if not sys.platform.startswith("linux"):
        return QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
    opener = shutil.which("xdg-open")
    if opener is None:
        return False
    process = QProcess()
    process.setProgram(opener)
    process.setArguments([str(path)])
    process.setStandardInputFile(QProcess.nullDevice())
    process.setStandardOutputFile(QProcess.nullDevice())
    process.setStandardErrorFile(QProcess.nullDevice())
    started = process.startDetached()
    return bool(started[0] if isinstance(started, tuple) else started)
