"""What the papers' panels share: a form that scrolls on the left, what it makes on the right, and a copy saved of it."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QFileDialog, QHBoxLayout, QLabel, QLayout, QLineEdit, QScrollArea, QWidget

from fleetcare.domain.wording import msg, say
from fleetcare.services.writing_files import write_whole
from fleetcare.ui.widgets.cards import Card

HINT_AIR = 28
"""What a field needs beside the hint that stands in it while it is empty, in pixels."""


def form_beside(panel: QWidget, card: Card, shown: QWidget | QLayout) -> None:
    """Lay `panel` out: the form in `card`, never narrower than its words and the hints in its fields, and `shown` with the most room."""
    for edit in card.findChildren(QLineEdit):
        edit.setMinimumWidth(edit.fontMetrics().horizontalAdvance(edit.placeholderText()) + HINT_AIR)
    left = QScrollArea()
    left.setWidget(card)
    left.setWidgetResizable(True)
    left.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    left.setMinimumWidth(card.minimumSizeHint().width() + left.verticalScrollBar().sizeHint().width())
    left.setFrameShape(QScrollArea.Shape.NoFrame)
    row = QHBoxLayout(panel)
    row.addWidget(left, 2)
    if isinstance(shown, QLayout):
        row.addLayout(shown, 5)
    else:
        row.addWidget(shown, 5)


def add_choice(card: Card, label: str, choice: QComboBox, letters: int) -> None:
    """Put a choice with its label on the form; long words in it are cut rather than the form widened."""
    name = QLabel(label)
    name.setBuddy(choice)
    choice.setAccessibleName(label)
    choice.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    choice.setMinimumContentsLength(letters)
    card.column.addWidget(name)
    card.column.addWidget(choice)


def save_copy(panel: QWidget, title: str, name: str, made: Path) -> str | None:
    """Ask where to, and write what was looked at there, byte for byte; what to say of it, or None where nobody chose.

    FileRefused where it cannot be written; an older file of that name stays whole.
    """
    chosen, _ = QFileDialog.getSaveFileName(panel, title, str(Path.home() / name), "PDF (*.pdf)")
    if not chosen:
        return None
    write_whole(Path(chosen), made.read_bytes())
    return say(msg("screen.written", path=chosen))
