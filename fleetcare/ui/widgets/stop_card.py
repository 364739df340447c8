"""The stop card: what to do and not to do, before anything else is asked."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.domain.checks import LookItem
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.colours import DANGER, Mark, draw_shape
from fleetcare.ui.theme import large_text, sized
from fleetcare.ui.widgets.cards import Card, Field, words


class _StopSign(QWidget):
    """A red octagon with the word."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedSize(132, 132)
        self.setAccessibleName(word("stop.heading"))

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Qt's hook."""
        painter = QPainter(self)
        draw_shape(painter, Mark(DANGER.fill, DANGER.ink, "octagon"), QRectF(self.rect()).adjusted(2, 2, -2, -2))
        painter.setPen(QColor(DANGER.ink))
        font = self.font()
        font.setBold(True)
        font.setPixelSize(36)
        painter.setFont(font)
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, word("stop.heading"))


class StopCard(QWidget):
    """Shown the moment a danger is ticked; saving quarantines the pack."""

    quarantine = Signal(str)
    back = Signal()

    def __init__(self) -> None:
        super().__init__()
        card = Card()
        card.setFrameShape(QFrame.Shape.StyledPanel)
        top = QHBoxLayout()
        self.subject = words(size=1.5, bold=True)
        self.findings = words(size=1.25)
        told = QVBoxLayout()
        told.addStretch(1)
        told.addWidget(self.subject)
        told.addWidget(self.findings)
        told.addStretch(1)
        top.addWidget(_StopSign())
        top.addSpacing(16)
        top.addLayout(told, 1)
        card.column.addLayout(top)
        for key, size in (("stop.do_not", 1.45), ("stop.do_smoke", 1.3), ("stop.do_else", 1.15)):
            card.column.addWidget(words(word(key), size=size, bold=key != "stop.do_else"))
        card.column.addWidget(words(word("stop.defer"), quiet=True))
        self.place = Field(word("stop.place"))
        self.place.edit.returnPressed.connect(self._save)
        card.column.addWidget(self.place)
        row = QVBoxLayout() if large_text() else QHBoxLayout()
        self.save = QPushButton(word("stop.save_any"))
        self.save.setMinimumHeight(52)
        self.save.setFont(sized(1.2, bold=True))
        self.save.clicked.connect(self._save)
        back = QPushButton(word("stop.back"))
        back.setMinimumHeight(52)
        back.clicked.connect(self.back.emit)
        row.addWidget(self.save)
        row.addWidget(back)
        row.addStretch(1)
        card.column.addLayout(row)
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        card.column.addWidget(self.wrong)
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.addWidget(card)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(inner)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def ask(self, pack: str, found: tuple[LookItem, ...]) -> None:
        """Show the card for `pack`."""
        self.subject.setText(pack)
        self.findings.setText(", ".join(word(f"look.{item.value}") for item in found))
        self.save.setText(say(msg("stop.save", pack=pack)))
        self.place.clear()
        self.wrong.clear()
        self.place.edit.setFocus()

    def _save(self) -> None:
        self.quarantine.emit(self.place.text.strip())
