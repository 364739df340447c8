"""Where no line may end on screen: between a figure and its unit, within a date, in a table also at a word's hyphen.

Only what is drawn has the other characters; a label, a cell and a search give the sentence as it was said.
"""

from __future__ import annotations

import re

from PySide6.QtCore import QModelIndex, QPersistentModelIndex
from PySide6.QtWidgets import QLabel, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from fleetcare.domain.wording import BEFORE_UNIT

_COUNTED = re.compile(r"(?<=[0-9]) (?=(?:day|week|month|year|hour|minute|second)s?\b|GBP\b)")
_BEFORE_YEAR = re.compile(r"(?<=[0-9][ \u00a0](?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)) (?=[0-9]{4}\b)")
_IN_WORD = re.compile(r"(?<=\w)-(?=[^\W\d])")


def unbroken(text: str) -> str:
    """`text` in which no line ends between a figure and its unit or what it counts, or within a date."""
    for space in (BEFORE_UNIT, _BEFORE_YEAR, _COUNTED):
        text = space.sub("\N{NO-BREAK SPACE}", text)
    return text


def unbroken_cell(text: str) -> str:
    """`unbroken`, and no line ends at the hyphen of a word either: columns are as wide as their longest words."""
    return _IN_WORD.sub("\N{NON-BREAKING HYPHEN}", unbroken(text))


class Words(QLabel):
    """A label whose lines end where they may; `text` gives what it was given."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setText(text)

    def setText(self, text: str) -> None:
        """Qt's hook."""
        self._said = text
        super().setText(unbroken(text))

    def text(self) -> str:
        """Qt's hook: the text as it was given."""
        return self._said

    def clear(self) -> None:
        """Qt's hook."""
        self.setText("")


class UnbrokenDelegate(QStyledItemDelegate):
    """Draws the lines of a list, which wrap, so that they end where they may."""

    def initStyleOption(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> None:
        """Qt's hook."""
        super().initStyleOption(option, index)
        option.text = unbroken(option.text)  # type: ignore[attr-defined]
