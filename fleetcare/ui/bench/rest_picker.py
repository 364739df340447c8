"""The rest band, by one key from 1 to 5."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from fleetcare.domain.checks import RestBand
from fleetcare.domain.wording import word
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import words

BANDS = tuple(band for band in RestBand if band is not RestBand.UNKNOWN)


class RestPicker(QWidget):
    """Five buttons of which one is chosen; the keys 1 to 5 choose and go on."""

    picked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(word("bench.rest"))
        self._group = QButtonGroup(self)
        row = QHBoxLayout()
        row.setSpacing(6)
        for number, band in enumerate(BANDS):
            button = QPushButton(f"{number + 1}  {word(f'rest.{band.value}')}")
            button.setCheckable(True)
            button.setMinimumHeight(44)
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._group.addButton(button, number)
            row.addWidget(button)
        row.addStretch(1)
        self._group.idClicked.connect(lambda _number: self._chosen())
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        self.heading = QLabel(word("bench.rest"))
        self.heading.setBuddy(self)
        column.addWidget(self.heading)
        column.addLayout(row)
        column.addWidget(self.wrong)

    @property
    def band(self) -> RestBand | None:
        """The chosen band, or None."""
        number = self._group.checkedId()
        return None if number < 0 else BANDS[number]

    @property
    def buttons(self) -> tuple[QAbstractButton, ...]:
        """The five buttons, in order."""
        return tuple(self._group.button(number) for number in range(len(BANDS)))

    def choose(self, band: RestBand) -> None:
        """Choose a band without going on."""
        self._group.button(BANDS.index(band)).setChecked(True)

    def clear(self) -> None:
        """Nothing chosen."""
        self._group.setExclusive(False)
        for button in self._group.buttons():
            button.setChecked(False)
        self._group.setExclusive(True)
        self.wrong.hide()

    def ask(self) -> None:
        """Say that a band must be chosen."""
        self.wrong.setText(word("bench.need_rest"))
        self.wrong.show()
        self.setFocus()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Qt's hook: the keys 1 to 5 are taken here now, and that is seen."""
        self._mark(chosen=True)
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Qt's hook."""
        self._mark(chosen=False)
        super().focusOutEvent(event)

    def _mark(self, *, chosen: bool) -> None:
        self.heading.setFont(sized(1.0, bold=chosen))
        self.heading.setText(f"▸ {word('bench.rest_now')}" if chosen else word("bench.rest"))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: 1 to 5 choose; Enter goes on with what is chosen."""
        number = event.key() - Qt.Key.Key_1
        if 0 <= number < len(BANDS):
            self._group.button(number).setChecked(True)
            self._chosen()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.band is not None:
            self.picked.emit()
        else:
            super().keyPressEvent(event)

    def _chosen(self) -> None:
        self.wrong.hide()
        self.picked.emit()
