"""Tell scans from typing, whatever field has the focus.

A code starts with a letter and ends with Enter.  In a number field a letter therefore begins a scan:
its characters are kept aside until Enter.  If what came is no code, the text goes into the field as
typed, so that the refusal can be shown and nothing is lost.  In a field for words the characters go
in as usual; at Enter, words that are exactly one code of this fleet are taken out again as a scan.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QLineEdit, QPlainTextEdit, QPushButton, QWidget

from fleetcare.domain.labels import is_code

NUMBER_FIELD = "number_field"
"""Dynamic property that marks a field for numbers."""

SCAN_FIELD = "scan_field"
"""Dynamic property that marks the field in which codes are typed on purpose."""


class Scanner(QObject):
    """An event filter on the application; install it once for a window."""

    scanned = Signal(str)
    entered = Signal(str)
    """What stood in a field for codes at Enter; the field itself deals with it."""

    def __init__(self, window: QWidget, known: Callable[[str], bool]) -> None:
        super().__init__(window)
        self._window = window
        self._known = known
        self._kept = ""
        self._field: QWidget | None = None
        self._stray: QWidget | None = None
        QApplication.instance().installEventFilter(self)  # type: ignore[union-attr]

    @property
    def kept(self) -> str:
        """The characters of a scan that has not ended yet."""
        return self._kept

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Qt's hook: keys that belong to a scan are taken out of the stream."""
        if event.type() == QEvent.Type.FocusOut and watched is self._field and self._kept:
            self._give_back(self._field)
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        focus = QApplication.focusWidget()
        if focus is None and self._window.isActiveWindow():
            focus = self._window
        if focus is None or watched is not focus or focus.window() is not self._window:
            return False
        if focus is not self._field:
            self._drop()
        if isinstance(focus, QLineEdit) and focus.property(SCAN_FIELD):
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.entered.emit(focus.text())
            return False
        if isinstance(focus, QPlainTextEdit) or (isinstance(focus, QLineEdit) and not focus.property(NUMBER_FIELD)):
            return self._in_words(focus, event)
        return self._aside(focus, event)

    def _aside(self, focus: QWidget, event: QKeyEvent) -> bool:
        """Number fields, buttons and tables: a letter begins a scan, Enter ends it."""
        text = event.text()
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if self._kept and enter:
            return self._end(focus)
        if enter and isinstance(focus, QPushButton):
            return self._press(focus, event)
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            return False
        if self._kept and event.key() == Qt.Key.Key_Escape:
            self._drop()
            return True
        begins = text.isascii() and text.isalpha()
        self._stray = focus if text.isdigit() and isinstance(focus, QPushButton) else None
        continues = bool(self._kept) and bool(text) and text.isprintable() and text != " "
        if not (begins or continues):
            if self._kept and text.isprintable() and text:
                self._give_back(focus)
            return False
        self._field = focus
        self._kept += text
        return True

    def _press(self, focus: QPushButton, event: QKeyEvent) -> bool:
        """Enter presses the button, unless it ends digits: those of a bar code that is none of ours press nothing."""
        stray, self._stray = self._stray is focus, None
        if not stray and not event.isAutoRepeat():
            focus.click()
        return True

    def _end(self, focus: QWidget) -> bool:
        code = self._kept
        if is_code(code):
            self._drop()
            self.scanned.emit(code)
            return True
        self._give_back(focus)
        return False

    def _give_back(self, focus: QWidget) -> None:
        kept = self._kept
        self._drop()
        if isinstance(focus, QLineEdit) and focus.property(NUMBER_FIELD):
            focus.insert(kept)

    def _drop(self) -> None:
        self._kept = ""
        self._field = None

    def _in_words(self, focus: QLineEdit | QPlainTextEdit, event: QKeyEvent) -> bool:
        """Fields for words: at Enter, a last word that is a known code was a scan."""
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            return False
        text = focus.text() if isinstance(focus, QLineEdit) else focus.toPlainText()
        rest, _, last = text.rpartition(" ")
        code, kept = self._split(last, rest)
        if code is None:
            return False
        if isinstance(focus, QLineEdit):
            focus.setText(kept)
        else:
            focus.setPlainText(kept)
        self.scanned.emit(code)
        return True

    def _split(self, last: str, rest: str) -> tuple[str | None, str]:
        """The code at the end of the last word, and the words before it."""
        if is_code(last) and self._known(last):
            return last, rest
        for start in range(1, len(last)):
            tail = last[start:]
            if tail[0].isalpha() and is_code(tail) and self._known(tail):
                return tail, f"{rest} {last[:start]}".strip()
        return None, rest
