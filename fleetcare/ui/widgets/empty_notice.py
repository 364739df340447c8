"""Said where a screen has nothing to show because the fleet is not set up yet: what is missing, and the way there."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import first_steps
from fleetcare.ui.widgets.cards import Card, words


class EmptyNotice(QWidget):
    """`what` says what is not there; below it stands what the fleet lacks, read again by `refresh`."""

    setup_wanted = Signal()

    def __init__(self, app: App, what: str) -> None:
        super().__init__()
        self._app, self._what = app, what
        self.told = words()
        self.button = QPushButton(word("steps.to_setup"))
        self.button.setMinimumHeight(40)
        self.button.clicked.connect(self.setup_wanted.emit)
        card = Card()
        card.column.addWidget(words(what, size=1.15, bold=True))
        card.column.addWidget(self.told)
        card.column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)
        card.setMaximumWidth(760)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(card)
        outer.addStretch(1)

    def refresh(self) -> None:
        """Read again what is missing."""
        steps = first_steps.missing(self._app.store)
        names = ", ".join(word(f"steps.name_{step.name}") for step in steps)
        self.told.setText(say(msg("steps.empty", names=names)) if steps else word("steps.all_done"))
