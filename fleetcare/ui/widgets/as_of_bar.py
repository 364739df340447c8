"""Asks for an earlier day: what was known at its end, and nothing recorded later."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say, word
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import words


class AsOfBar(QWidget):
    """A day, a button that shows it, and one that goes back to today."""

    asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        name = QLabel(word("review.as_of"))
        self.edit = QLineEdit()
        self.edit.setPlaceholderText(word("review.as_of_hint"))
        self.edit.setAccessibleName(word("review.as_of"))
        self.edit.setFixedWidth(QFontMetrics(self.font()).horizontalAdvance("2026-00-00-00-00") + 24)
        name.setBuddy(self.edit)
        self.show_day = QPushButton(word("review.as_of_show"))
        self.today = QPushButton(word("review.as_of_now"))
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        row = QHBoxLayout()
        row.setSpacing(6)
        for part in (name, self.edit, self.show_day, self.today):
            row.addWidget(part)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self.wrong)
        self.today.setVisible(False)
        self.edit.returnPressed.connect(self.asked)
        self.show_day.clicked.connect(self.asked)
        self.today.clicked.connect(self.back)

    @property
    def typed(self) -> str:
        """The day as typed; empty means now."""
        return self.edit.text().strip()

    def back(self) -> None:
        """Ask for now again."""
        self.edit.clear()
        self.asked.emit()

    def follow(self, session: Session) -> None:
        """An earlier day is asked by one person: it goes when they sign out or somebody else signs in.

        A window that locks keeps it, as it keeps everything typed, for the person who comes back.
        """
        asked_by = session.person

        def changed() -> None:
            nonlocal asked_by
            if session.locked is not None or session.person == asked_by:
                return
            asked_by = session.person
            if self.typed:
                self.back()

        session.person_changed.connect(changed)

    def answered(self, *, past: bool) -> None:
        """The day was shown."""
        self.wrong.hide()
        self.today.setVisible(past)

    def refuse(self, error: FleetcareError) -> None:
        """Say what is wrong with the day; it stays as typed."""
        self.wrong.setText(say(error.message))
        self.wrong.show()
        self.today.setVisible(True)
        self.edit.setFocus()
