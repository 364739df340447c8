"""A card that does one deed: fields, a button, and what came of it; a refusal keeps everything typed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QComboBox, QGridLayout, QLineEdit, QPushButton, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import Message, say, word
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.tab_order import tab_through

LARGE_LETTERS = 11
"""Above this many pixels an average letter, forms have a column less."""


def code_field(label: str) -> Field:
    """A field in which a code is scanned or typed on purpose: the scan stays in it."""
    field = Field(label)
    field.edit.setProperty(SCAN_FIELD, True)
    return field


def proof_field() -> Field:
    """The field that asks for the own badge or PIN: a scan stays in it, and what is typed is not shown."""
    field = code_field(word("faults.badge"))
    field.setObjectName("badge")
    field.edit.setEchoMode(QLineEdit.EchoMode.Password)
    return field


class Choice(Field):
    """A field in which one of several known things is chosen; `code` is "" while none is."""

    def __init__(self, label: str) -> None:
        super().__init__(label)
        self.box = QComboBox()
        self.box.setAccessibleName(label)
        self.box.setMinimumHeight(36)
        column = self.layout()
        assert column is not None
        row = column.itemAt(1).layout()
        assert row is not None
        row.replaceWidget(self.edit, self.box)
        self.edit.hide()
        self.setFocusProxy(self.box)
        self.box.activated.connect(lambda _i: self.put_right())

    def offer(self, choices: Sequence[tuple[str, str]]) -> None:
        """Offer (code, words) after an empty line; what was chosen stays chosen."""
        kept = self.code
        self.box.clear()
        self.box.addItem("", "")
        for code, text in choices:
            self.box.addItem(text, code)
        self.box.setCurrentIndex(max(self.box.findData(kept), 0))

    @property
    def code(self) -> str:
        """The code of what is chosen, or ""."""
        return str(self.box.currentData() or "")

    def choose(self, code: str) -> None:
        """Choose by code."""
        self.box.setCurrentIndex(max(self.box.findData(code), 0))

    def clear(self) -> None:
        """Choose nothing."""
        self.box.setCurrentIndex(0)
        self.clear_refusal()


class DeedCard(Card):
    """`fields` by the name that refusals use; the deed returns what to say, and then the fields are emptied.

    Fields named in `stays` keep what they hold, for the next one like it.  What came of a deed goes
    as soon as the form is typed in again; a refusal stays until the next attempt.
    """

    def __init__(
        self, heading: str, fields: dict[str, Field], button: str, deed: Callable[[], Message | None], columns: int = 1,
        stays: Collection[str] = (),
    ) -> None:  # fmt: skip
        super().__init__(heading)
        self.fields = fields
        self._deed = deed
        self._stays = frozenset(stays)
        self._added: list[QWidget] = []
        if columns > 1 and QFontMetrics(sized(1.0)).averageCharWidth() > LARGE_LETTERS:
            columns -= 1
        grid = QGridLayout()
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(8)
        for number, field in enumerate(fields.values()):
            grid.addWidget(field, number // columns, number % columns, Qt.AlignmentFlag.AlignTop)
        for column in range(columns):
            grid.setColumnStretch(column, 1)
        self.column.addLayout(grid)
        self.do = QPushButton(button)
        self.do.setMinimumHeight(40)
        self.do.clicked.connect(self.attempt)
        self.column.addWidget(self.do)
        self.said = words(bold=True)
        self.said.hide()
        self.column.addWidget(self.said)
        for field in fields.values():
            field.edit.returnPressed.connect(self.attempt)
            field.edit.textEdited.connect(lambda _text: self._typed())

    def add(self, part: QWidget) -> None:
        """Put something between the fields and the button; Tab comes to it there."""
        self.column.insertWidget(self.column.indexOf(self.do), part)
        self._added.append(part)
        tab_through(*self.fields.values(), *self._added, self.do)

    def attempt(self) -> None:
        """Do the deed, or say beside its field what is missing."""
        for field in self.fields.values():
            field.clear_refusal()
        try:
            message = self._deed()
        except FleetcareError as error:
            self.refuse(error)
            return
        if message is None:
            return
        for name, field in self.fields.items():
            if name not in self._stays:
                field.clear()
        self.tell(say(message))

    def _typed(self) -> None:
        if self.said.property("role") != "wrong":
            self.tell("")

    def tell(self, text: str, *, wrong: bool = False) -> None:
        """Say something below the button."""
        self.said.setProperty("role", "wrong" if wrong else "")
        self.said.style().unpolish(self.said)
        self.said.style().polish(self.said)
        self.said.setText(text)
        self.said.setVisible(bool(text))

    def refuse(self, error: FleetcareError) -> None:
        """Say what is wrong beside its field, or below the button."""
        field = self.fields.get(error.field)
        if field is None:
            self.tell(say(error.message), wrong=True)
            return
        self.said.hide()
        field.refuse(error)
        (field.box if isinstance(field, Choice) else field.edit).setFocus()
