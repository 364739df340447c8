"""Long papers, written page by page: text and tables that break anywhere, heads repeated, flat memory.

A finished page is packed at once and only its bytes are kept.  "Page x of y" is packed behind each page when the
last one is known.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, BinaryIO

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.wording import msg as message
from fleetcare.domain.wording import say, show_moment, word
from fleetcare.reports.page import FOOT, HEAD, MARGIN, PAGES, Running, dated, draw_frame
from fleetcare.reports.text import BOLD, QUIET, REGULAR, draw, lacking, printable, register, visible, width, wrap

_CLOSER = 0.7
"""What is left of a space between parts when the letters are smaller."""
_KEEP_LINES = 8
"""A row of up to so many lines is not broken over two pages."""
_HEAD_HIGH, _KEEP_LEADING = 14.0, 14.0
"""Height of a table's head, and of a line that is kept with it, in points."""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph: plain text and how it is set."""

    words: str
    size: float = 8
    bold: bool = False
    quiet: bool = False
    struck: bool = False


class _Packed(pdfdoc.PDFObject):
    """The content of a finished page, deflated, and what is drawn on it when all pages are known."""

    __PDFObject__ = True

    def __init__(self, text: str) -> None:
        content = text.encode("latin-1")
        packer = zlib.compressobj(6, wbits=-15)
        self._data = packer.compress(content) + packer.flush(zlib.Z_FULL_FLUSH)
        self._sum = zlib.adler32(content)
        self.last = ""

    def format(self, _document: Any) -> bytes:
        """One zlib stream (RFC 1950) of both parts: nothing in the second refers back across the full flush."""
        content = ("\n" + self.last).encode("latin-1")
        packer = zlib.compressobj(6, wbits=-15)
        end = packer.compress(content) + packer.flush() + zlib.adler32(content, self._sum).to_bytes(4, "big")
        data = b"\x78\x9c" + self._data + end
        return f"<< /Filter /FlateDecode /Length {len(data)} >>\nstream\n".encode() + data + b"\nendstream"


class _PagedCanvas(Canvas):
    """Packs every page as soon as it is finished."""

    def showPage(self) -> None:
        super().showPage()
        page = self._doc.Pages.pages[-1]
        page.Contents, page.stream = _Packed(page.stream), None

    def add_to_pages(self, draw: Callable[[int], None]) -> None:
        """`draw(number)` something more on every finished page."""
        for number, page in enumerate(self._doc.Pages.pages, start=1):
            self._code: list[str] = []
            draw(number)
            page.Contents.last = "\n".join(self._code)
        self._code = []


class TooLong(Exception):
    """A paper that needs more pages than it may have."""


class Flow:
    """Writes to a file from top to bottom; `finish` completes it.

    `progress(pages)` is called after every page and may raise to stop.  Letters are set in `scale` times their size.
    With `most` it only measures: nothing is drawn, and TooLong is raised as soon as a page beyond so many would begin.
    """

    def __init__(
        self, file: BinaryIO, running: Running, *, page: str, progress: Callable[[int], None] | None = None,
        scale: float = 1, most: int | None = None,
    ) -> None:  # fmt: skip
        register()
        self._most = most
        self._scale = scale
        self._size = PAGES[page]
        self._running, self._progress = running, progress
        self._canvas = _PagedCanvas(
            file, pagesize=self._size, invariant=1, pageCompression=0, initialFontName=REGULAR, lang="en"
        )
        self._canvas.setTitle(visible(f"{running.title} {running.subject}".strip()))
        self._canvas.setAuthor(visible(running.fleet_name))
        self._canvas.setSubject(visible(show_moment(running.printed_at)))
        self._canvas.setCreator(word("program.title"))
        self._canvas.showOutline()
        dated(self._canvas, running.printed_at)
        self._bottom = MARGIN + FOOT + 4
        self._columns: tuple[tuple[float, Text], ...] = ()
        self._head_waits = False
        self._marks = 0
        self._lacking: set[str] = set()
        self.pages = 0
        self._y = self._top = 0.0
        self._inset = 3.0
        self._open()

    def _set(self, parts: Sequence[Text]) -> Sequence[Text]:
        """Paragraphs in the size in which they are set."""
        return parts if self._scale == 1 else [replace(one, size=one.size * self._scale) for one in parts]

    @property
    def filled(self) -> float:
        """Which share of the page is filled."""
        return (self._top - self._y) / (self._top - self._bottom)

    @property
    def width(self) -> float:
        """Width between the margins, in points."""
        return self._size[0] - 2 * MARGIN

    def _open(self) -> None:
        self.pages += 1
        canvas = self._canvas
        if self._most is None:
            draw_frame(canvas, self._running, self._size, self.pages, None)
        self._y = self._top = self._size[1] - MARGIN - HEAD - 8
        if any(name.words for _, name in self._columns):
            self._head()

    def _close(self) -> None:
        self._canvas.showPage()
        if self._progress is not None:
            self._progress(self.pages)

    def _turn(self) -> None:
        if self.pages == self._most:
            raise TooLong
        self._close()
        self._open()

    def room(self, height: float) -> None:
        """Turn the page unless `height` points are left on it."""
        if self._y - height < self._bottom:
            self._turn()

    def space(self, height: float) -> None:
        """Leave some room, less of it in smaller letters, or nothing at the foot of a page."""
        self._y = max(self._y - height * (1 if self._scale == 1 else _CLOSER), self._bottom)

    def heading(self, text: str, size: float = 12, level: int = 0, below: float = 58) -> None:
        """A heading with its bookmark; it never stands alone at the foot of a page.

        `below` points must fit under it.
        """
        self.end_table()
        if self._y < self._top:
            self.space(8)
        self.room(size * 1.3 + 2 + below)
        self._marks += 1
        name = f"h{self._marks}"
        self._canvas.bookmarkPage(name, fit="XYZ", top=self._y + size)
        self._canvas.addOutlineEntry(visible(text), name, level)
        self.text(Text(text, size, bold=True))
        self.space(2)

    def text(self, *parts: Text, indent: float = 0) -> None:
        """Paragraphs over the whole width."""
        for one in self._set(parts):
            for line in self._kept(self._lines(one, self.width - indent), one.size * 1.3):
                self._draw(line, one, MARGIN + indent)

    def together(self, *parts: Text) -> None:
        """Paragraphs that stay on one page."""
        self.room(self.height(*parts))
        self.text(*parts)

    def _kept(self, lines: list[str], leading: float) -> Iterator[str]:
        """Lines of a paragraph, each a line lower; neither the first nor the last is parted from its neighbour."""
        for number, line in enumerate(lines):
            edge = number in (0, len(lines) - 2) and len(lines) > 1
            self.room(leading * (min(len(lines), 3) if edge and len(lines) < 4 else 2 if edge else 1))
            self._y -= leading
            yield line

    def points(self, *parts: Text, sign: str = "–") -> None:
        """Paragraphs of a list: a sign before each, its lines in one column behind it."""
        for one in self._set(parts):
            indent = _indent(one, sign)
            for number, line in enumerate(self._kept(self._lines(one, self.width - indent), one.size * 1.3)):
                if number == 0:
                    self._draw(sign, one, MARGIN)
                self._draw(line, one, MARGIN + indent)
            self.space(1.5)

    @property
    def left(self) -> float:
        """Height that is left on the page, in points."""
        return self._y - self._bottom

    def new_page(self) -> None:
        """Go on at the top of a page."""
        self.end_table()
        if self._y < self._top:
            self._turn()

    def height(self, *parts: Text, share: float = 1) -> float:
        """How high paragraphs over the whole width, or in a column of that share of it, are in points."""
        room = self.width if share == 1 else share * self.width - 6
        return sum(one.size * 1.3 * len(self._lines(one, room)) for one in self._set(parts))

    def points_height(self, *parts: Text, sign: str = "–") -> float:
        """How high the paragraphs of a list are, in points."""
        rooms = ((one, self.width - _indent(one, sign)) for one in self._set(parts))
        return sum(one.size * 1.3 * len(self._lines(one, room)) + 1.5 for one, room in rooms)

    def framed(self, *parts: Text) -> None:
        """Paragraphs in a box that stays together; without the box where they are more than a page."""
        lines = [(line, one) for one in self._set(parts) for line in self._lines(one, self.width - 16)]
        height = sum(one.size * 1.3 for _, one in lines) + 12
        if height > self._top - self._bottom:
            self.text(*parts)
            return
        self.space(6)
        self.room(height)
        canvas = self._canvas
        canvas.setStrokeGray(0)
        canvas.setLineWidth(1)
        canvas.rect(MARGIN, self._y - height, self.width, height)
        end = self._y - height
        self._y -= 4
        for line, one in lines:
            self._y -= one.size * 1.3
            self._draw(line, one, MARGIN + 8)
        self._y = end

    def drawing(self, height: float, draw: Callable[[Canvas, float, float, float], None]) -> None:
        """`draw(canvas, left, low, width)` into a strip of the page, `height` points high."""
        self.room(height)
        self._y -= height
        if self._most is not None:
            return
        self._canvas.saveState()
        self._canvas.setStrokeGray(0.4)
        self._canvas.setLineWidth(0.5)
        draw(self._canvas, MARGIN, self._y, self.width)
        self._canvas.restoreState()

    def table(self, *columns: tuple[float, str]) -> None:
        """Begin a table: shares of the width and headings, repeated on every page.

        The head is drawn with the first row, so that it never stands alone at the foot of a page.
        """
        self.space(4)
        self._columns = tuple((share * self.width, Text(name, 8, bold=True)) for share, name in columns)
        self._inset = 3.0
        self._head_waits = True

    def plain_table(self, *shares: float) -> None:
        """Begin a table without a head; its first column stands under the headings."""
        self._inset = 0.0
        self._columns = tuple((share * self.width, Text("")) for share in shares)
        self._head_waits = False

    def end_table(self) -> None:
        """The table is over; later pages have no head."""
        self._columns = ()
        self._head_waits = False

    def _head(self) -> None:
        canvas, x = self._canvas, MARGIN
        self._head_waits = False
        canvas.setFillGray(0.93)
        canvas.rect(MARGIN, self._y - 14, self.width, 14, stroke=0, fill=1)
        self._y -= 10.5
        for wide, name in self._columns:
            self._draw(printable(name.words), name, x + self._inset)
            x += wide
        self._y -= 3.5

    def row(self, *cells: Sequence[Text], below: Sequence[Text] = ()) -> None:
        """One row; each cell holds paragraphs, `below` stand under all of them over the whole width.

        A short row stays together, a long one breaks by lines.
        """
        columns: list[list[tuple[str, Text]]] = []
        for (wide, _), cell in zip(self._columns, cells, strict=True):
            columns.append([(line, one) for one in self._set(cell) for line in self._lines(one, wide - 6)])
        under = [(line, one) for one in self._set(below) for line in self._lines(one, self.width - 6)]
        height = max(sum(one.size * 1.3 for _, one in lines) for lines in columns)
        count = max(len(lines) for lines in columns)
        kept = count + len(under) <= _KEEP_LINES
        whole = height + 5 + sum(one.size * 1.3 for _, one in under)
        if self._head_waits:
            self.room(_HEAD_HIGH + (whole if kept else 2 * _KEEP_LEADING))
            if self._head_waits:
                self._head()
        if kept:
            self.room(whole)
        if self._y - height - 5 >= self._bottom:
            self._draw_row(columns, height)
        else:
            self._break_row(columns, count)
        for line, one in under:
            self.room(one.size * 1.3)
            self._y -= one.size * 1.3
            self._draw(line, one, MARGIN + self._inset)
        self._y -= 3
        self._canvas.setLineWidth(0.4)
        self._canvas.setStrokeGray(0.6)
        self._canvas.line(MARGIN, self._y, MARGIN + self.width, self._y)

    def line(self, *parts: Text, below: float = 0) -> None:
        """Paragraphs over the whole width within a table, kept with the `below` points that follow."""
        head = _HEAD_HIGH if self._head_waits else 0.0
        self.room(head + self.height(*parts) + 5 + below)
        if self._head_waits:
            self._head()
        self._y -= 2
        for one in self._set(parts):
            for line in self._lines(one, self.width - 6):
                self._y -= one.size * 1.3
                self._draw(line, one, MARGIN + self._inset)
        self._y -= 3

    def _draw_row(self, columns: list[list[tuple[str, Text]]], height: float) -> None:
        top = self._y - 2
        x = MARGIN
        for (wide, _), lines in zip(self._columns, columns, strict=True):
            self._y = top
            for line, one in lines:
                self._y -= one.size * 1.3
                self._draw(line, one, x + self._inset)
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
                    self._draw(*lines[number], x + self._inset)
                x += wide

    def _lines(self, one: Text, room: float) -> list[str]:
        shown = printable(one.words)
        if "[U+" in shown:
            self._lacking.update(lacking((shown,)))
        return wrap(shown, BOLD if one.bold else REGULAR, one.size, room)

    def _draw(self, line: str, one: Text, x: float) -> None:
        if self._most is not None:
            return
        canvas = self._canvas
        font = BOLD if one.bold else REGULAR
        canvas.setFillGray(QUIET if one.quiet else 0)
        draw(canvas, x, self._y, line, font, one.size)
        if one.struck and line:
            canvas.setStrokeGray(0)
            canvas.setLineWidth(0.7)
            middle = self._y + one.size * 0.28
            canvas.line(x, middle, x + width(line, font, one.size), middle)

    def _page_number(self, number: int) -> None:
        canvas = self._canvas
        canvas.setFillGray(0)
        canvas.setFont(REGULAR, 8)
        said = say(message("paper.page", number=number, total=self.pages))
        canvas.drawRightString(self._size[0] - MARGIN, MARGIN + 20, said)

    def end(self) -> None:
        """What stands last: letters that no shipped font has are named."""
        if self._lacking:
            self.end_table()
            self.space(6)
            found = ", ".join(one.strip("[]") for one in sorted(self._lacking))
            self.text(Text(say(message("paper.lacking", letters=found)), 7.5, quiet=True))

    def finish(self) -> int:
        """Write the file; returns the number of pages."""
        self.end()
        self._close()
        self._canvas.add_to_pages(self._page_number)
        self._canvas.save()
        return self.pages


def _indent(one: Text, sign: str) -> float:
    """How far the lines of a list stand in behind their sign."""
    return max(one.size * 1.15, width(sign, REGULAR, one.size) + one.size * 0.5)
