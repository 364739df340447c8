"""The danger gate as a row of ticks: what is so, or none of these."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QWidget

from fleetcare.domain.checks import DANGER_ITEMS, LookItem
from fleetcare.domain.wording import word
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.deed_page import tick


class Gate(QWidget):
    """`stopped` is sent the moment something is ticked."""

    stopped = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.boxes = {item: tick(word(f"look.{item.value}")) for item in LookItem if item in DANGER_ITEMS}
        self.none = tick(word("faults.gate_none"))
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        columns = 3 if large_text() else 5
        for number, box in enumerate((*self.boxes.values(), self.none)):
            grid.addWidget(box, number // columns, number % columns)
            box.clicked.connect(self._clicked)
        self.none.clicked.connect(self._none)

    def _clicked(self) -> None:
        if self.found():
            self.none.setChecked(False)
            self.stopped.emit()

    def _none(self) -> None:
        if self.none.isChecked():
            for box in self.boxes.values():
                box.setChecked(False)

    def found(self) -> tuple[LookItem, ...]:
        """The items that are ticked."""
        return tuple(item for item, box in self.boxes.items() if box.isChecked())

    @property
    def answered(self) -> bool:
        """True once something or "none of these" is ticked."""
        return self.none.isChecked() or bool(self.found())

    def clear(self) -> None:
        """Nobody has answered."""
        for box in (*self.boxes.values(), self.none):
            box.setChecked(False)
