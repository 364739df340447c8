"""The visual inspection: every item in view, one key when all are good, a tick for what is not."""

from __future__ import annotations

import random

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QGridLayout, QHBoxLayout, QPushButton, QWidget

from fleetcare.domain.checks import LookItem
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.widgets.cards import Card, words

WIDE_COLUMNS, NARROW_COLUMNS = 4, 2

DANGERS = tuple(item for item in LookItem if item.danger)
"""What means stop, in the order of its keys: Alt+1 is the first."""


class LookPanel(Card):
    """`found` is None until somebody looked; then the items that were not good, often none."""

    changed = Signal()
    danger = Signal()
    asked_again = Signal()
    """All was noted as good, and the line asks for one item once more."""

    def __init__(self) -> None:
        super().__init__()
        self._good = False
        self._asked_from: QWidget | None = None
        self.boxes: dict[LookItem, QCheckBox] = {}
        top = QHBoxLayout()
        self.line = words(word("bench.look_hint"), quiet=True)
        self.all_good = QPushButton(word("bench.look_good"))
        self.all_good.setCheckable(True)
        self.all_good.setMinimumHeight(44)
        self.all_good.clicked.connect(self.press_good)
        top.addWidget(words(word("bench.look_heading"), bold=True))
        top.addWidget(self.line, 1)
        top.addWidget(self.all_good)
        self.column.addLayout(top)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(14)
        self._grid.setVerticalSpacing(2)
        for item in LookItem:
            name = word(f"look.{item.value}")
            number = DANGERS.index(item) + 1 if item in DANGERS else None
            box = QCheckBox(name if number is None else f"{number}  {name}")
            box.setAccessibleName(name)
            if number is not None:
                box.setToolTip(f"Alt+{number}")
            box.setMinimumHeight(28)
            box.clicked.connect(self._ticked)
            self.boxes[item] = box
        self.arrange(narrow=False)
        self.column.addLayout(self._grid)
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        self.column.addWidget(self.wrong)

    def arrange(self, *, narrow: bool) -> None:
        """Fewer columns where there is little room."""
        columns = NARROW_COLUMNS if narrow else WIDE_COLUMNS
        for number, box in enumerate(self.boxes.values()):
            self._grid.addWidget(box, number // columns, number % columns)

    @property
    def found(self) -> tuple[LookItem, ...] | None:
        """What was found, or None while nobody has looked."""
        ticked = tuple(item for item, box in self.boxes.items() if box.isChecked())
        return ticked if ticked or self._good else None

    def press_danger(self, number: int) -> None:
        """Tick the danger item with this number, from 1; a second press takes the tick away."""
        self.boxes[DANGERS[number - 1]].click()

    def press_good(self) -> None:
        """All items are good; one of them, by chance, is asked for again."""
        for box in self.boxes.values():
            box.setChecked(False)
        self._good = True
        self.all_good.setChecked(True)
        asked = random.choice(list(LookItem))
        self.line.setText(say(msg("bench.look_again", item=msg(f"look.{asked.value}"))))
        self.wrong.hide()
        self.changed.emit()
        back, self._asked_from = self._asked_from, None
        if back is not None:
            back.setFocus()
        self.asked_again.emit()

    def restore(self, found: tuple[LookItem, ...]) -> None:
        """What was found when somebody looked before; nothing is asked again."""
        for item, box in self.boxes.items():
            box.setChecked(item in found)
        self._good = not found
        self.all_good.setChecked(self._good)
        self.line.setText(word("bench.look_done" if self._good else "bench.look_hint"))

    def ask(self, asked_from: QWidget | None) -> None:
        """Say that the inspection comes first; once all is good the focus goes back to `asked_from`, whose Enter saves."""
        self._asked_from = asked_from
        self.wrong.setText(word("bench.need_look"))
        self.wrong.show()
        self.all_good.setFocus()

    def clear(self) -> None:
        """Nobody has looked yet."""
        for box in self.boxes.values():
            box.setChecked(False)
        self._good = False
        self._asked_from = None
        self.all_good.setChecked(False)
        self.line.setText(word("bench.look_hint"))
        self.wrong.hide()

    def _ticked(self) -> None:
        self._good = False
        self.all_good.setChecked(False)
        self.line.setText(word("bench.look_hint"))
        self.wrong.hide()
        if any(item.danger and box.isChecked() for item, box in self.boxes.items()):
            self.danger.emit()
        self.changed.emit()
