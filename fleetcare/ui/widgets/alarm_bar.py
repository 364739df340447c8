"""An alarm over every screen: it stays until somebody has answered that they saw it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from fleetcare.domain.wording import word
from fleetcare.ui import colours
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words


class AlarmBar(QFrame):
    """Red edge, shape and words; never red alone.  It does not take the focus, so that typing goes on where it was."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("alarm")
        fill = colours.DANGER.fill
        self.setStyleSheet(f"QFrame#alarm {{ border: 3px solid {fill}; background: palette(base); }}")
        badge = Badge()
        badge.show_state(colours.DANGER, word("window.alarm"))
        self.told = words(size=1.1, bold=True)
        self.seen = QPushButton(word("window.alarm_seen"))
        self.seen.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.seen.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 8, 12, 8)
        row.setSpacing(12)
        row.addWidget(badge)
        row.addWidget(self.told, 1)
        row.addWidget(self.seen)
        self.hide()

    def raise_alarm(self, text: str) -> None:
        """Show `text` until the button is pressed; a later alarm takes its place."""
        self.told.setText(text)
        self.setAccessibleName(text)
        self.show()
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))
