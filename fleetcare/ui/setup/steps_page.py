"""What the fleet still lacks before its first check: each step with its state and a button to the right place."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import say, word
from fleetcare.services import first_steps
from fleetcare.services.first_steps import STEPS, Step
from fleetcare.ui import colours
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.page import Page

AFTER = ("labels", "bench", "list", "hours")
"""What follows the steps."""


class StepsPage(Page):
    """`wanted` names the step or place whose button was pressed."""

    wanted = Signal(str)

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self.badges: dict[str, Badge] = {}
        self.told = {name: words() for name in STEPS}
        self.buttons: dict[str, QPushButton] = {}
        self.summary = words(quiet=True)
        card = Card()
        card.column.addWidget(words(word("steps.heading"), size=1.4, bold=True))
        card.column.addWidget(self.summary)
        grid = QGridLayout()
        grid.setHorizontalSpacing(18)
        grid.setVerticalSpacing(10)
        large = large_text()
        for number, name in enumerate(STEPS):
            title = words(word(f"steps.{name}"), bold=True)
            title.setWordWrap(False)
            badge = self.badges[name] = Badge()
            button = self._button(name)
            if large:
                for at, part in enumerate((title, badge, button)):
                    grid.addWidget(part, 2 * number, at)
                grid.addWidget(self.told[name], 2 * number + 1, 0, 1, 3)
                continue
            for at, part in enumerate((title, badge, self.told[name], button)):
                grid.addWidget(part, number, at, Qt.AlignmentFlag.AlignVCenter)
        grid.setColumnStretch(1 if large else 2, 1)
        card.column.addLayout(grid)
        after = QVBoxLayout() if large else QHBoxLayout()
        for name in AFTER:
            after.addWidget(self._button(name))
        if not large:
            after.addStretch(1)
        card.column.addSpacing(6)
        card.column.addWidget(words(word("steps.after"), quiet=True))
        card.column.addLayout(after)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.addWidget(card)
        outer.addStretch(1)

    def _button(self, name: str) -> QPushButton:
        button = self.buttons[name] = QPushButton(word(f"steps.open_{name}"))
        button.clicked.connect(lambda: self.wanted.emit(name))
        return button

    @property
    def first(self) -> QWidget:
        """The button of the first step that is missing."""
        name = next(
            (step.name for step in first_steps.first_steps(self._app.store, self._app.pc_clock) if not step.done),
            "bench",
        )
        return self.buttons[name]

    def refresh(self) -> None:
        """Read every step again."""
        steps = first_steps.first_steps(self._app.store, self._app.pc_clock)
        for step in steps:
            self._show(step)
        self.summary.setText(word("steps.all_done" if all(step.done for step in steps) else "steps.intro"))

    def _show(self, step: Step) -> None:
        mark, text = (colours.GOOD, word("steps.done")) if step.done else (colours.ACTION, word("steps.to_do"))
        self.badges[step.name].show_state(mark, text)
        self.told[step.name].setText(say(step.told))
