"""Small questions that need a reason before a deed is done."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QApplication, QDialog, QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say, word
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.screens import screen_of

FRAME_HIGH = 48
"""Pixels kept free for the frame that the desktop puts round a window."""


class AskDialog(QDialog):
    """A heading, fields, and one button that does the deed; a refusal keeps everything typed.

    It is as high as what it says, and grows with a refusal; where the screen is too low, what is above the buttons scrolls.
    """

    def __init__(self, parent: QWidget, heading: str, fields: tuple[Field, ...], button: str,
                 deed: Callable[[], None]) -> None:  # fmt: skip
        super().__init__(parent)
        self.setWindowTitle(heading.partition("\n")[0])
        self.setMinimumWidth(460)
        self._deed = deed
        self._fields = fields
        self._inner = QWidget()
        column = QVBoxLayout(self._inner)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        self._column = column
        self._scroll = QScrollArea()
        self._scroll.setWidget(self._inner)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setSpacing(10)
        outer.addWidget(self._scroll, 1)
        column.addWidget(words(heading, size=1.2, bold=True))
        for field in fields:
            column.addWidget(field)
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        column.addWidget(self.wrong)
        column.addStretch(1)
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
        outer.addLayout(row)
        self._fresh, self._follows = True, False

    def tell(self, *sentences: str) -> None:
        """Say something between the heading and the fields."""
        for number, text in enumerate(sentences, start=1):
            self._column.insertWidget(number, words(text))

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

    def showEvent(self, event: QShowEvent) -> None:
        """Qt's hook: at first as wide as its fields and as high as what it says."""
        super().showEvent(event)
        if self._fresh:
            self._fresh = False
            self.resize(max(self.minimumWidth(), self.sizeHint().width()), 1)
        self.fit()
        if not self._follows:
            self._follows = True
            QApplication.instance().focusChanged.connect(self._follow)  # type: ignore[union-attr]

    def hideEvent(self, event: QHideEvent) -> None:
        """Qt's hook: an answered question stays a part of its window for long, and follows the cursor no more."""
        if self._follows:
            self._follows = False
            QApplication.instance().focusChanged.disconnect(self._follow)  # type: ignore[union-attr]
        super().hideEvent(event)

    def fit(self) -> None:
        """Grow, never shrink, to what is to be read now, as far as the screen allows."""
        self._column.activate()
        outer = self.layout()
        assert outer is not None
        margins = outer.contentsMargins()
        across, down = margins.left() + margins.right(), margins.top() + margins.bottom()
        room = screen_of(self).availableSize()
        needed = self._inner.minimumSizeHint().width() + across
        width = min(max(self.width(), needed), room.width())
        below = max(self.cancel.sizeHint().height(), self.cancel.minimumHeight()) + outer.spacing() + down
        high = max(self.height(), self._column.totalHeightForWidth(width - across) + below)
        if high > room.height() - FRAME_HIGH:  # it will scroll, and the bar stands beside, not over, what is typed
            high = room.height() - FRAME_HIGH
            width = min(max(width, needed + self._scroll.verticalScrollBar().sizeHint().width()), room.width())
        self.resize(width, high)
        place = screen_of(self).availableGeometry()
        over = self.frameGeometry().bottom() - place.bottom()
        if over > 0:  # it stood low: it grows upwards
            self.move(self.x(), max(self.y() - over, place.top()))

    def _reveal(self, part: QWidget) -> None:
        """Make room for `part`, and scroll to it once the room is laid out."""
        self.fit()
        QTimer.singleShot(0, self, lambda: self._scroll.ensureWidgetVisible(part, 0, 20))

    def _follow(self, _old: QWidget | None, new: QWidget | None) -> None:
        """Keep what has the focus in view."""
        if new is not None and self._inner.isAncestorOf(new):
            self._scroll.ensureWidgetVisible(new, 0, 40)

    def attempt(self) -> None:
        """Do the deed; a person's mistake is said beside its field and nothing is lost."""
        self.clear_refusals()
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
            (field.focusProxy() or field.edit).setFocus()
            self._reveal(field.wrong)
        else:
            self.say_wrong(say(error.message))

    def say_wrong(self, text: str) -> None:
        """Say below the fields what is wrong with none of them."""
        self.wrong.setText(text)
        self.wrong.show()
        self._reveal(self.wrong)

    def clear_refusals(self) -> None:
        """Take all sentences of a refusal away."""
        self.wrong.hide()
        for field in self._fields:
            field.clear_refusal()


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
