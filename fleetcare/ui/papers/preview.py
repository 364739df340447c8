"""A finished paper, page by page, before it is printed or saved."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPixmap, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.domain.wording import msg, say, word
from fleetcare.reports.raster import Pages, Picture
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import words

AROUND = 20
"""Pixels of air around a sentence that stands where a paper will be."""


def image_of(picture: Picture) -> QImage:
    """A page's picture for Qt; the bytes are copied."""
    return QImage(picture.data, picture.width, picture.height, picture.stride, QImage.Format.Format_RGB888).copy()


class Preview(QWidget):
    """Shows one page at a time, as wide as there is room."""

    def __init__(self) -> None:
        super().__init__()
        self._pages: Pages | None = None
        self.number = 0
        self.back = QPushButton(word("papers.previous"))
        self.on = QPushButton(word("papers.next"))
        self.where = words(quiet=True)
        self.where.setWordWrap(False)
        self.sheet = QLabel()
        self.area = QScrollArea()
        self.area.setWidget(self.sheet)
        self.area.setWidgetResizable(True)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setAccessibleName(word("papers.history"))
        row = QHBoxLayout()
        row.addWidget(self.back)
        row.addWidget(self.on)
        row.addWidget(self.where)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row)
        column.addWidget(self.area, 1)
        self.back.clicked.connect(lambda: self.turn(-1))
        self.on.clicked.connect(lambda: self.turn(1))
        self.clear(word("papers.nothing"))

    @property
    def pages(self) -> Pages | None:
        """The paper that is shown, or None."""
        return self._pages

    def clear(self, text: str) -> None:
        """Show a sentence instead of a page."""
        if self._pages is not None:
            self._pages.close()
        self._pages = None
        self.sheet.setPixmap(QPixmap())
        self._set_out(paper=False)
        self.sheet.setText(text)
        self.sheet.setWordWrap(True)
        self.where.clear()
        self._able()

    def _set_out(self, *, paper: bool) -> None:
        """A paper has the whole width, a sentence stands at the left with air around it."""
        self.sheet.setMargin(0 if paper else AROUND)
        self.sheet.setFont(sized(1.0 if paper else 1.12))
        side = Qt.AlignmentFlag.AlignHCenter if paper else Qt.AlignmentFlag.AlignLeft
        self.sheet.setAlignment(Qt.AlignmentFlag.AlignTop | side)
        always, needed = Qt.ScrollBarPolicy.ScrollBarAlwaysOn, Qt.ScrollBarPolicy.ScrollBarAsNeeded
        self.area.setVerticalScrollBarPolicy(always if paper else needed)

    def show_paper(self, path: Path) -> None:
        """Show the first page of the PDF at `path`."""
        if self._pages is not None:
            self._pages.close()
        self._pages = Pages(path)
        self.number = 0
        self._set_out(paper=True)
        self._draw()

    def turn(self, by: int) -> None:
        """Show another page, within the paper."""
        if self._pages is not None:
            self.number = max(0, min(len(self._pages) - 1, self.number + by))
            self._draw()
            self.area.verticalScrollBar().setValue(0)

    def _draw(self) -> None:
        if self._pages is None:
            return
        ratio = self.devicePixelRatioF()
        width = max(self.area.viewport().width() - 4, 300)
        dots = 72 * width * ratio / self._pages.size(self.number)[0]
        image = image_of(self._pages.picture(self.number, dots))
        image.setDevicePixelRatio(ratio)
        self.sheet.setPixmap(QPixmap.fromImage(image))
        self.where.setText(say(msg("papers.page", number=self.number + 1, total=len(self._pages))))
        self._able()

    def _able(self) -> None:
        count = 0 if self._pages is None else len(self._pages)
        self.back.setEnabled(count > 0 and self.number > 0)
        self.on.setEnabled(self.number + 1 < count)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook: the page follows the width."""
        super().resizeEvent(event)
        self._draw()
