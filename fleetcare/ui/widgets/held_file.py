"""A deed that has to wait because another program is writing to the fleet file: said at once, tried on, given up at will."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.widgets.cards import words

TRY_EVERY_MS = 200


class HeldDialog(QDialog):
    """Tries again and again without stopping the window; closes itself when the lock was got."""

    def __init__(self, parent: QWidget, try_again: Callable[[], bool], *, own: bool) -> None:
        super().__init__(parent)
        self.setWindowTitle(word("program.title"))
        self.setMinimumWidth(520)
        self._try_again = try_again
        self._began = time.monotonic()
        self.error: BaseException | None = None
        heading = words(word("held.own" if own else "held.another"), size=1.2, bold=True)
        self.trying = words()
        self.stop = QPushButton(word("held.stop"))
        self.stop.setMinimumHeight(40)
        self.stop.clicked.connect(self.reject)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.stop)
        column = QVBoxLayout(self)
        column.setSpacing(10)
        for part in (heading, self.trying, words(word("held.kept"))):
            column.addWidget(part)
        column.addLayout(row)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._try)
        self._timer.start(TRY_EVERY_MS)
        self._tell()

    def _tell(self) -> None:
        self.trying.setText(say(msg("held.trying", seconds=round(time.monotonic() - self._began) + 1)))

    def _try(self) -> None:
        try:
            got = self._try_again()
        except BaseException as error:  # goes on where the deed was begun
            self.error, got = error, False
            self.reject()
        if got:
            self.accept()
        else:
            self._tell()

    def done(self, result: int) -> None:
        """Qt's hook: nothing is tried any more."""
        self._timer.stop()
        super().done(result)


class HeldFile:
    """Asked by the store, in the window's own thread, when a deed has to wait."""

    def __init__(self, window: QWidget) -> None:
        self._window = window
        self.dialog: HeldDialog | None = None

    def wait(self, try_again: Callable[[], bool], own: bool) -> bool:
        """True once the lock was got; False when the person stopped it, or while another deed waits already."""
        if self.dialog is not None:
            return False
        over = QApplication.activeWindow() or self._window
        self.dialog = HeldDialog(over, try_again, own=own)
        try:
            got = self.dialog.exec() == QDialog.DialogCode.Accepted
            if self.dialog.error is not None:
                raise self.dialog.error
            return got
        finally:
            self.dialog.deleteLater()
            self.dialog = None
            over.activateWindow()
