"""Why a projection says what it says: reasons in sentences, and every reading, used or not."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QSplitter, QVBoxLayout, QWidget

from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services.reasons import ReadingLine, reading_lines, reasons
from fleetcare.services.suspects import as_read
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _as_read(line: ReadingLine) -> str:
    """As typed; an exact resistance is filled up, so that the figures stand under each other."""
    told = say(as_read(line.quantity, line.reading))
    read = line.reading.read
    return f"{read:.4f} Ω" if line.quantity == "resistance_ohm" and read is not None else told


def _value(line: ReadingLine) -> str:
    return f"{line.reading.value:.4f} Ω" if line.quantity == "resistance_ohm" else f"{line.reading.value:.2f} V"


def _told(line: ReadingLine) -> str:
    parts = [line.why, line.what_to_do]
    return " → ".join(say(one) for one in parts if one is not None)


READINGS = (
    Column(word("list.done"), lambda r: show_moment(r.reading.done_at), sort=lambda r: r.reading.done_at.timestamp(), width=20),
    Column(word("why.read"), _as_read,
           sort=lambda r: r.reading.value if r.reading.read is None else float(r.reading.read), right=True, width=11),
    Column(word("why.reading"), _value, sort=lambda r: r.reading.value, right=True, width=11),
    Column(word("list.meter"), lambda r: r.reading.meter, width=6),
    Column(word("why.state"), lambda r: word("why.used" if r.used else "why.left_short"), sort=lambda r: r.used, width=9),
    Column(word("why.told"), _told, width=60, tip=True),
)  # fmt: skip


class WhyPanel(QSplitter):
    """Sentences on the left, readings on the right."""

    def __init__(self) -> None:
        super().__init__()
        self.told = words()
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(6, 6, 10, 6)
        column.addWidget(self.told)
        column.addStretch(1)
        left = QScrollArea()
        left.setWidget(inner)
        left.setWidgetResizable(True)
        left.setFrameShape(QFrame.Shape.NoFrame)
        left.setAccessibleName(word("why.tab"))
        self.model = RowModel(READINGS)
        self.table = Table(self.model, word("why.tab"))
        self.table.sort_by_headings()
        self.addWidget(left)
        self.addWidget(self.table)
        self.setStretchFactor(0, 0)
        self.setStretchFactor(1, 1)
        letter, line = self.fontMetrics().averageCharWidth(), self.fontMetrics().height()
        left.setMinimumWidth(letter * 24)
        if large_text():
            self.setOrientation(Qt.Orientation.Vertical)
            left.setMinimumHeight(line * 6)
            self.table.setMinimumHeight(line * 9)
        self.setSizes([letter * 60, letter * 100])

    def show_projection(self, projection: Projection, limit_source: str = "") -> None:
        """Show what `projection` rests on, and where its limit comes from; readings in question lead."""
        lines = sorted(reading_lines(projection), key=lambda one: not one.suspect)
        self.model.set_rows(lines)
        told = [say(one) for one in reasons(projection, limit_source)]
        if not lines:
            told = [say(msg("why.counts_all", used=0))]
        self.told.setText("\n".join(f"– {one}" for one in told))

    def clear(self) -> None:
        """Show nothing."""
        self.model.set_rows([])
        self.told.clear()
