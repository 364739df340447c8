"""Long papers, written page by page: text and tables that break anywhere, heads repeated, flat memory.

A finished page is packed at once and only its bytes are kept.  The number of pages stands in a form
that is drawn on every page and defined when the last page is known.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.wording import msg as message
from fleetcare.domain.wording import say, show_moment, word
from fleetcare.reports.page import FOOT, HEAD, MARGIN, PAGES, Running, draw_frame
from fleetcare.reports.text import BOLD, QUIET, REGULAR, draw, lacking, printable, register, visible, width, wrap

_TOTAL = "pages"
_KEEP_LINES = 8
"""A row of up to so many lines is not broken over two pages."""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph: plain text and how it is set."""

    words: str
    size: float = 8
    bold: bool = False
    quiet: bool = False
    struck: bool = False


class _Packed(pdfdoc.PDFObject):
    """The content of a finished page, deflated."""

    __PDFObject__ = True

    def __init__(self, text: str) -> None:
        self._data = zlib.compress(text.encode("latin-1"), 6)

    def format(self, _document: Any) -> bytes:
        head = f"<< /Filter /FlateDecode /Length {len(self._data)} >>\nstream\n".encode()
        return head + self._data + b"\nendstream"


class _PagedCanvas(Canvas):
    """Packs every page as soon as it is finished."""

    def showPage(self) -> None:
        super().showPage()
        page = self._doc.Pages.pages[-1]
        page.Contents, page.stream = _Packed(page.stream), None


class Flow:
    """Writes to a file from top to bottom; `finish` completes it.

    `progress(pages)` is called after every page and may raise to stop.
    """

    def __init__(
        self, file: BinaryIO, running: Running, *, page: str, progress: Callable[[int], None] | None = None
    ) -> None:
        register()
        self._size = PAGES[page]
        self._running, self._progress = running, progress
        self._canvas = _PagedCanvas(
            file, pagesize=self._size, invariant=1, pageCompression=0, initialFontName=REGULAR, lang="en"
        )
        self._canvas.setTitle(visible(f"{running.title} {running.subject}"))
        self._canvas.setAuthor(visible(running.fleet_name))
        self._canvas.setSubject(visible(show_moment(running.printed_at)))
        self._canvas.setCreator(word("program.title"))
        self._canvas.showOutline()
        self._bottom = MARGIN + FOOT + 4
        self._columns: tuple[tuple[float, Text], ...] = ()
        self._marks = 0
        self._lacking: set[str] = set()
        self.pages = 0
        self._y = 0.0
        self._open()

    @property
    def width(self) -> float:
        """Width between the margins, in points."""
        return self._size[0] - 2 * MARGIN

    def _open(self) -> None:
        self.pages += 1
        canvas = self._canvas
        draw_frame(canvas, self._running, self._size, self.pages, None)
        canvas.setFont(REGULAR, 8)
        said = say(message("paper.page", number=self.pages, total=0)).removesuffix("0")
        canvas.drawRightString(self._size[0] - MARGIN - 11, MARGIN + 20, said.rstrip() + " ")
        canvas.doForm(_TOTAL)
        self._y = self._size[1] - MARGIN - HEAD - 12
        if any(name.words for _, name in self._columns):
            self._head()

    def _close(self) -> None:
        self._canvas.showPage()
        if self._progress is not None:
            self._progress(self.pages)

    def _turn(self) -> None:
        self._close()
        self._open()

    def room(self, height: float) -> None:
        """Turn the page unless `height` points are left on it."""
        if self._y - height < self._bottom:
            self._turn()

    def space(self, height: float) -> None:
        """Leave some room, or nothing at the foot of a page."""
        self._y = max(self._y - height, self._bottom)

    def heading(self, text: str, size: float = 12, level: int = 0) -> None:
        """A heading with its bookmark; it never stands alone at the foot of a page."""
        self.end_table()
        self.space(8)
        self.room(size * 1.3 + 40)
        self._marks += 1
        name = f"h{self._marks}"
        self._canvas.bookmarkPage(name, fit="XYZ", top=self._y + size)
        self._canvas.addOutlineEntry(visible(text), name, level)
        self.text(Text(text, size, bold=True))
        self.space(2)

    def text(self, *parts: Text, indent: float = 0) -> None:
        """Paragraphs over the whole width."""
        for one in parts:
            for line in self._lines(one, self.width - indent):
                self.room(one.size * 1.3)
                self._y -= one.size * 1.3
                self._draw(line, one, MARGIN + indent)

    def points(self, *parts: Text, sign: str = "–") -> None:
        """Paragraphs of a list: a sign before each, its lines in one column behind it."""
        for one in parts:
            indent = max(one.size * 1.15, width(sign, REGULAR, one.size) + one.size * 0.5)
            for number, line in enumerate(self._lines(one, self.width - indent)):
                self.room(one.size * 1.3)
                self._y -= one.size * 1.3
                if number == 0:
                    self._draw(sign, one, MARGIN)
                self._draw(line, one, MARGIN + indent)
            self.space(1.5)

    def drawing(self, height: float, draw: Callable[[Canvas, float, float, float], None]) -> None:
        """`draw(canvas, left, low, width)` into a strip of the page, `height` points high."""
        self.room(height)
        self._y -= height
        self._canvas.saveState()
        self._canvas.setStrokeGray(0.4)
        self._canvas.setLineWidth(0.5)
        draw(self._canvas, MARGIN, self._y, self.width)
        self._canvas.restoreState()

    def table(self, *columns: tuple[float, str]) -> None:
        """Begin a table: shares of the width and headings, repeated on every page."""
        self.room(44)
        self.space(4)
        self._columns = tuple((share * self.width, Text(name, 8, bold=True)) for share, name in columns)
        self._head()

    def plain_table(self, *shares: float) -> None:
        """Begin a table without a head."""
        self._columns = tuple((share * self.width, Text("")) for share in shares)

    def end_table(self) -> None:
        """The table is over; later pages have no head."""
        self._columns = ()

    def _head(self) -> None:
        canvas, x = self._canvas, MARGIN
        canvas.setFillGray(0.93)
        canvas.rect(MARGIN, self._y - 14, self.width, 14, stroke=0, fill=1)
        self._y -= 10.5
        for wide, name in self._columns:
            self._draw(printable(name.words), name, x + 3)
            x += wide
        self._y -= 3.5

    def row(self, *cells: Sequence[Text]) -> None:
        """One row; each cell holds paragraphs.  A short row stays together, a long one breaks by lines."""
        columns: list[list[tuple[str, Text]]] = []
        for (wide, _), cell in zip(self._columns, cells, strict=True):
            columns.append([(line, one) for one in cell for line in self._lines(one, wide - 6)])
        height = max(sum(one.size * 1.3 for _, one in lines) for lines in columns)
        count = max(len(lines) for lines in columns)
        if count <= _KEEP_LINES:
            self.room(height + 5)
        if self._y - height - 5 >= self._bottom:
            self._draw_row(columns, height)
        else:
            self._break_row(columns, count)
        self._y -= 3
        self._canvas.setLineWidth(0.4)
        self._canvas.setStrokeGray(0.6)
        self._canvas.line(MARGIN, self._y, MARGIN + self.width, self._y)

    def _draw_row(self, columns: list[list[tuple[str, Text]]], height: float) -> None:
        top = self._y - 2
        x = MARGIN
        for (wide, _), lines in zip(self._columns, columns, strict=True):
            self._y = top
            for line, one in lines:
                self._y -= one.size * 1.3
                self._draw(line, one, x + 3)
            x += wide
        self._y = top - height

    def _break_row(self, columns: list[list[tuple[str, Text]]], count: int) -> None:
        """Line by line, over as many pages as it takes."""
        leading = 1.3 * max(one.size for lines in columns for _, one in lines)
        self.room(2 * leading + 5)
        self._y -= 2
        for number in range(count):
            self.room(leading)
            self._y -= leading
            x = MARGIN
            for (wide, _), lines in zip(self._columns, columns, strict=True):
                if number < len(lines):
                    self._draw(*lines[number], x + 3)
                x += wide

    def _lines(self, one: Text, room: float) -> list[str]:
        shown = printable(one.words)
        if "[U+" in shown:
            self._lacking.update(lacking((shown,)))
        return wrap(shown, BOLD if one.bold else REGULAR, one.size, room)

    def _draw(self, line: str, one: Text, x: float) -> None:
        canvas = self._canvas
        font = BOLD if one.bold else REGULAR
        canvas.setFillGray(QUIET if one.quiet else 0)
        draw(canvas, x, self._y, line, font, one.size)
        if one.struck and line:
            canvas.setStrokeGray(0)
            canvas.setLineWidth(0.7)
            middle = self._y + one.size * 0.28
            canvas.line(x, middle, x + width(line, font, one.size), middle)

    def finish(self) -> int:
        """Write the file; returns the number of pages.  Letters that no shipped font has are named at the end."""
        if self._lacking:
            self.end_table()
            self.space(6)
            found = ", ".join(one.strip("[]") for one in sorted(self._lacking))
            self.text(Text(say(message("paper.lacking", letters=found)), 7.5, quiet=True))
        self._close()
        canvas = self._canvas
        canvas.beginForm(_TOTAL, 0, 0, *self._size)
        canvas.setFont(REGULAR, 8)
        canvas.setFillGray(0)
        canvas.drawString(self._size[0] - MARGIN - 11, MARGIN + 20, str(self.pages))
        canvas.endForm()
        canvas.save()
        return self.pages
