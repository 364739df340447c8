"""A line of text that gives way: cut with an ellipsis where there is no room, whole in its tip."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from fleetcare.ui.widgets.literal import literal

LEAST_LETTERS = 8


class Elided(QLabel):
    """A label on one line, aligned to the right, that may become narrower than its text."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)

    def setText(self, text: str) -> None:
        """Qt's hook: the whole text is the tip as well."""
        super().setText(text)
        self.setToolTip(literal(text))

    def minimumSizeHint(self) -> QSize:
        """Qt's hook: a name's first letters."""
        return QSize(self.fontMetrics().averageCharWidth() * LEAST_LETTERS, super().minimumSizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Qt's hook."""
        painter = QPainter(self)
        shown = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter.drawText(self.rect(), int(self.alignment()), shown)
