"""Another pack of the same class was scanned: has it replaced the recorded one, and where is that?"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QButtonGroup, QComboBox, QHBoxLayout, QPushButton, QRadioButton

from fleetcare.app import App
from fleetcare.domain.checks import FoundIn
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import msg, say, word
from fleetcare.services.identify import Pairing, identify
from fleetcare.ui.widgets.cards import Card, Field, words

SHELF, VEHICLE, UNKNOWN = range(3)


class PairingPanel(Card):
    """Answers are moves; until they are given no check of the pack is stored."""

    answered = Signal(tuple)
    cancelled = Signal()

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self._pack = self._vehicle = ""
        self._pairing: Pairing | None = None
        self.question = words(bold=True)
        self.column.addWidget(self.question)
        self.which = QComboBox()
        self.which.setAccessibleName(word("window.pack"))
        self.column.addWidget(self.which)
        self.where = words()
        self.column.addWidget(self.where)
        row = QHBoxLayout()
        self.choice = QButtonGroup(self)
        for number, key in enumerate(("bench.on_shelf", "bench.in_vehicle", "bench.not_known")):
            radio = QRadioButton(word(key))
            radio.setMinimumHeight(36)
            self.choice.addButton(radio, number)
            row.addWidget(radio)
        row.addStretch(1)
        self.column.addLayout(row)
        self.place = Field(word("bench.place"))
        self.place.edit.returnPressed.connect(self._answer)
        self.column.addWidget(self.place)
        buttons = QHBoxLayout()
        confirm, cancel = QPushButton(word("bench.confirm_move")), QPushButton(word("bench.cancel"))
        for button, deed in ((confirm, self._answer), (cancel, self.cancelled.emit)):
            button.setMinimumHeight(44)
            button.clicked.connect(deed)
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.column.addLayout(buttons)
        self.choice.idClicked.connect(self._chosen)
        self.which.currentTextChanged.connect(lambda code: self.where.setText(self._where(code)))
        self.hide()

    def ask(self, pack: str, vehicle: str, pairing: Pairing) -> None:
        """Ask about `pack` in `vehicle`."""
        self._pack, self._vehicle, self._pairing = pack, vehicle, pairing
        self.question.setText(say(pairing.statement) if pairing.statement else "")
        self.which.clear()
        self.which.addItems(list(pairing.occupants))
        self.which.setVisible(len(pairing.occupants) > 1)
        self.where.setText(self._where(pairing.occupants[0]))
        self.choice.button(SHELF).setChecked(True)
        self.place.clear()
        self.place.setEnabled(True)
        self.show()
        self.place.edit.setFocus()

    def _where(self, code: str) -> str:
        return say(msg("bench.where_question", pack=code)) if code else ""

    def _chosen(self, number: int) -> None:
        self.place.setEnabled(number != UNKNOWN)
        (self.place.edit if number != UNKNOWN else self.choice.button(number)).setFocus()

    def _answer(self) -> None:
        assert self._pairing is not None
        at = self._app.clock()
        gone = self.which.currentText()
        place = self.place.text.strip()
        try:
            match self.choice.checkedId():
                case _ if self.choice.checkedId() == SHELF:
                    if not place:
                        raise EntryRefused("bench.need_place")
                    moved = FoundIn(gone, None, at, shelf=place)
                case _ if self.choice.checkedId() == VEHICLE:
                    found = identify(self._app.store, place)
                    if found.thing_class != "vehicle":
                        raise EntryRefused(
                            "scan.not_a_vehicle", code=found.code, what=word(f"class.{found.thing_class}")
                        )
                    moved = FoundIn(gone, found.code, at)
                case _:
                    moved = FoundIn(gone, None, at)
        except EntryRefused as error:
            self.place.refuse(error)
            return
        bay = self._pairing.occupants.index(gone) + 1
        self.hide()
        self.answered.emit((moved, FoundIn(self._pack, self._vehicle, at, bay)))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: Esc cancels, Enter confirms."""
        if event.key() == Qt.Key.Key_Escape:
            self.cancelled.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._answer()
        else:
            super().keyPressEvent(event)
