"""Small parts that all screens share: cards, headings, quiet lines, fields with their refusal beside them."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFocusEvent, QFontMetrics, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say
from fleetcare.ui.scanning import NUMBER_FIELD
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.unbroken import Words


class Card(QFrame):
    """A bordered group with an optional heading; in a steady one what is said last never moves what stands above it."""

    def __init__(self, heading: str = "", parent: QWidget | None = None, *, steady: bool = False) -> None:
        super().__init__(parent)
        self.setProperty("card", True)
        self.column = SteadyColumn(self) if steady else QVBoxLayout(self)
        self.column.setContentsMargins(14, 10, 14, 12)
        self.column.setSpacing(8)
        if heading:
            self.heading = Words(heading)
            self.heading.setTextFormat(Qt.TextFormat.PlainText)
            self.heading.setFont(sized(1.0, bold=True))
            self.column.addWidget(self.heading)


def words(text: str = "", *, size: float = 1.0, bold: bool = False, quiet: bool = False) -> Words:
    """A label of plain text that wraps; text is never taken for markup."""
    label = Words(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setFont(sized(size, bold=bold))
    if quiet:
        label.setProperty("role", "quiet")
    return label


class LineEdit(QLineEdit):
    """A line that marks what the program filled in when it is gone into by a click too, so that typing replaces it."""

    def __init__(self) -> None:
        super().__init__()
        self._filled, self._gone_into = "", False

    def fill_in(self, text: str) -> None:
        """Fill `text` in, to be typed over."""
        self.setText(text)
        self._filled = text

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Qt's hook."""
        super().focusInEvent(event)
        self._gone_into = event.reason() is Qt.FocusReason.MouseFocusReason and self.text() == self._filled

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Qt's hook: a second click puts the cursor where it is clicked."""
        super().mouseReleaseEvent(event)
        if self._gone_into and not self.hasSelectedText():
            self.selectAll()
        self._gone_into = False


class NumberEdit(LineEdit):
    """A line for a number: a space, which belongs to no number, never replaces what is chosen in it."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook."""
        if event.text() == " " and (self.hasSelectedText() or not self.text()):
            return
        super().keyPressEvent(event)


class TopColumn(QVBoxLayout):
    """A column whose parts stand at the top of its room, each as high as its text wraps.

    Qt's own alignment of a layout at the top gives it no more height than before anything wrapped, and cuts the rest off.
    """

    def setGeometry(self, room: QRect) -> None:
        """Qt's hook."""
        needed = self.heightForWidth(room.width()) if self.hasHeightForWidth() else self.sizeHint().height()
        super().setGeometry(QRect(room.x(), room.y(), room.width(), min(room.height(), needed)))


class SteadyColumn(QVBoxLayout):
    """A column whose parts are never pressed together: what has no room goes on below the edge until there is some.

    Qt lays a column out in the room it had before the page learns that a sentence in it has grown, and so moves what
    stands above that sentence for one pass.  A column at its page's own height, or in one that scrolls, may be steady.
    """

    def setGeometry(self, room: QRect) -> None:
        """Qt's hook."""
        needed = self.heightForWidth(room.width()) if self.hasHeightForWidth() else self.sizeHint().height()
        super().setGeometry(QRect(room.x(), room.y(), room.width(), max(room.height(), needed)))


class Field(QWidget):
    """An entry with its label above, its unit beside, and what is wrong below; the text is never altered."""

    def __init__(self, label: str, unit: str = "", *, number: bool = False, width: int = 0) -> None:
        super().__init__()
        self.edit = NumberEdit() if number else LineEdit()
        self.edit.setAccessibleName(f"{label} ({unit})" if unit else label)
        if number:
            self.edit.setProperty(NUMBER_FIELD, True)
            self.edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        if width:
            self.edit.setMaximumWidth(max(width, QFontMetrics(sized(1.3)).averageCharWidth() * 12))
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        name = QLabel(label)
        name.setBuddy(self.edit)
        row = QHBoxLayout()
        row.setSpacing(6)
        row.addWidget(self.edit)
        if unit:
            row.addWidget(QLabel(unit))
        column = TopColumn(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        column.addWidget(name)
        column.addLayout(row)
        column.addWidget(self.wrong)
        self.edit.textEdited.connect(self.put_right)

    @property
    def text(self) -> str:
        """What is typed, as typed."""
        return self.edit.text()

    def fill_in(self, text: str) -> None:
        """Fill in what is usual; typing replaces it."""
        self.edit.fill_in(text)

    def refuse(self, error: FleetcareError) -> None:
        """Show the sentence beside the field and put the cursor there."""
        self._keep_place(0)
        self.wrong.setText(say(error.message))
        self.wrong.show()
        self.edit.setAccessibleDescription(say(error.message))

    def put_right(self) -> None:
        """Take the sentence away, but not its place: nothing below moves under a hand that is on its way there."""
        kept = self.wrong.height() if self.wrong.isVisible() else self.wrong.minimumHeight()
        self._take_away()
        self._keep_place(kept)

    def clear_refusal(self) -> None:
        """Take the sentence and its place away."""
        self._take_away()
        self._keep_place(0)

    def _take_away(self) -> None:
        self.wrong.clear()
        self.wrong.hide()
        self.edit.setAccessibleDescription("")

    def _keep_place(self, high: int) -> None:
        policy = self.wrong.sizePolicy()
        policy.setRetainSizeWhenHidden(high > 0)
        self.wrong.setSizePolicy(policy)
        self.wrong.setMinimumHeight(high)

    def clear(self) -> None:
        """Empty the field."""
        self.edit.clear()
        self.clear_refusal()
