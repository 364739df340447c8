"""Small questions that need a reason before a deed is done."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import word
from fleetcare.ui.widgets.cards import Field, words


class AskDialog(QDialog):
    """A heading, fields, and one button that does the deed; a refusal keeps everything typed."""

    def __init__(self, parent: QWidget, heading: str, fields: tuple[Field, ...], button: str,
                 deed: Callable[[], None]) -> None:  # fmt: skip
        super().__init__(parent)
        self.setWindowTitle(heading.partition("\n")[0])
        self.setMinimumWidth(460)
        self._deed = deed
        self._fields = fields
        column = QVBoxLayout(self)
        column.setSpacing(10)
        self._column = column
        column.addWidget(words(heading, size=1.2, bold=True))
        for field in fields:
            column.addWidget(field)
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        column.addWidget(self.wrong)
        self.do = QPushButton(button)
        self.do.setMinimumHeight(40)
        self.do.setDefault(True)
        self.cancel = QPushButton(word("bench.cancel"))
        self.cancel.setMinimumHeight(40)
        self.do.clicked.connect(self.attempt)
        self.cancel.clicked.connect(self.reject)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.cancel)
        row.addWidget(self.do)
        column.addLayout(row)

    def add(self, part: QWidget) -> None:
        """Put something below the fields."""
        self._column.insertWidget(self._column.indexOf(self.wrong), part)

    def abreast(self, *fields: Field) -> None:
        """Put these fields side by side where the first of them stands."""
        place = self._column.indexOf(fields[0])
        row = QHBoxLayout()
        row.setSpacing(14)
        for field in fields:
            self._column.removeWidget(field)
            row.addWidget(field, 1)
        self._column.insertLayout(place, row)

    def attempt(self) -> None:
        """Do the deed; a person's mistake is said beside its field and nothing is lost."""
        self.wrong.hide()
        try:
            self._deed()
        except FleetcareError as error:
            self.refused(error)
            return
        self.accept()

    def refused(self, error: FleetcareError) -> None:
        """Say a refusal beside its field, or below all of them."""
        field = next((f for f in self._fields if f.objectName() == error.field and error.field), None)
        if field is not None:
            field.refuse(error)
            field.edit.setFocus()
        else:
            self.wrong.setText(str(error))
            self.wrong.show()


class ChoiceDialog(QDialog):
    """A sentence and two ways on; Enter and Esc both take the safe one, which rejects."""

    def __init__(self, parent: QWidget, title: str, told: str, *, stay: str, go_on: str) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setMinimumWidth(520)
        self.told = told
        self.stay, self.go_on = QPushButton(stay), QPushButton(go_on)
        column = QVBoxLayout(self)
        column.setSpacing(12)
        column.addWidget(words(title, size=1.2, bold=True))
        column.addWidget(words(told))
        row = QHBoxLayout()
        row.addStretch(1)
        for button, slot in ((self.go_on, self.accept), (self.stay, self.reject)):
            button.setMinimumHeight(40)
            button.clicked.connect(slot)
            row.addWidget(button)
        column.addLayout(row)
        self.go_on.setAutoDefault(False)
        self.stay.setDefault(True)
        self.stay.setFocus()


def reason_field() -> Field:
    """The field for a reason, named as the deeds name it."""
    field = Field(word("screen.reason"))
    field.setObjectName("reason")
    return field
