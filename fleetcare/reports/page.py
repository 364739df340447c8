"""The frame of every sheet: running head, page x of y, as-of, printed by, fingerprint, fire line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepTogether, PageTemplate

from fleetcare.domain.wording import apart, msg, say, show_moment, word
from fleetcare.reports.text import BOLD, QUIET, REGULAR, draw, lacking, para, printable, register, visible
from fleetcare.services.writing_files import whole_file

PAGES = {"A4": A4, "Letter": LETTER}
MARGIN = 15 * mm
HEAD = 7 * mm
FOOT = 17 * mm


@dataclass(frozen=True, slots=True)
class Running:
    """What stands on every page.  `fingerprint` is its printed form, or "" for a sheet without data."""

    title: str
    subject: str
    fleet_name: str
    demo: bool
    as_of: dt.datetime | None
    fingerprint: str
    printed_by: str
    printed_at: dt.datetime


class _Pages(Canvas):
    """Keeps pages until the end, so that each can say how many there are."""

    running: Running
    size: tuple[float, float]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"initialFontName": REGULAR, "lang": "en"})
        self._kept: list[dict[str, Any]] = []
        self._marks: list[tuple[int, str]] = []
        self.showOutline()
        dated(self, self.running.printed_at)

    def mark(self, text: str) -> None:
        """A bookmark for the page that is being drawn."""
        self._marks.append((len(self._kept), text))

    def showPage(self) -> None:
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        total = len(self._kept)
        for number, page in enumerate(self._kept, start=1):
            self.__dict__.update(page)
            draw_frame(self, self.running, self.size, number, total)
            for place, (at, text) in enumerate(self._marks):
                if at == number - 1:
                    self.bookmarkPage(f"m{place}")
                    self.addOutlineEntry(text, f"m{place}")
            super().showPage()
        super().save()


def dated(canvas: Canvas, at: dt.datetime) -> None:
    """Let the file say when it was printed, instead of reportlab's fixed day for files that are the same bytes again."""
    stamp = canvas._doc._timeStamp
    stamp.YMDhms = at.astimezone(dt.UTC).timetuple()[:6]


class Mark(Flowable):
    """A bookmark where it stands in a story; it takes no room."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = visible(text)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return 0, 0

    def draw(self) -> None:
        self.canv.mark(self._text)


def draw_frame(canvas: Canvas, running: Running, size: tuple[float, float], number: int, total: int | None) -> None:
    """Head and foot of one page; with `total` None the caller writes how many pages there are."""
    width, height = size
    canvas.saveState()
    canvas.setFillGray(0)
    top = height - MARGIN
    draw(canvas, MARGIN, top - 8, printable(f"{apart(running.fleet_name)} · {running.title}"), BOLD, 10)
    right = printable(running.subject)
    if running.demo:
        label = word("program.demo")
        box = canvas.stringWidth(label, BOLD, 9) + 10
        x = width - MARGIN - box
        canvas.setLineWidth(1)
        canvas.rect(x, top - 11.5, box, 13)
        canvas.setFont(BOLD, 9)
        canvas.drawString(x + 5, top - 8, label)
        draw(canvas, x - 8, top - 8, right, BOLD, 10, "right")
    else:
        draw(canvas, width - MARGIN, top - 8, right, BOLD, 10, "right")
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, top - 15, width - MARGIN, top - 15)
    low = MARGIN + 22
    canvas.line(MARGIN, low + 8, width - MARGIN, low + 8)
    canvas.setFont(BOLD, 8)
    canvas.drawString(MARGIN, low - 2, word("safety.fire_line"))
    after = MARGIN + canvas.stringWidth(word("safety.fire_line"), BOLD, 8) + 4
    canvas.setFont(REGULAR, 7.5)
    canvas.setFillGray(QUIET)
    canvas.drawString(after, low - 2, word("safety.fire_source"))
    left = []
    if running.as_of is not None:
        left.append(say(msg("paper.as_of", at=running.as_of)))
    by = running.printed_by or "—"
    left.append(say(msg("paper.printed", by=by, at=running.printed_at)))
    draw(canvas, MARGIN, low - 13, printable(" · ".join(left)), REGULAR, 7.5)
    canvas.setFont(REGULAR, 7.5)
    if running.fingerprint:
        canvas.drawString(MARGIN, low - 23, say(msg("paper.fingerprint", fingerprint=running.fingerprint)))
    canvas.setFillGray(0)
    canvas.setFont(REGULAR, 8)
    if total is not None:
        canvas.drawRightString(width - MARGIN, low - 2, say(msg("paper.page", number=number, total=total)))
    canvas.restoreState()


def write(path: Path, story: list[Any], running: Running, *, page: str, wide: bool = False) -> tuple[int, float]:
    """Lay `story` out on pages and write the file; an old file stays whole until the new one is complete.

    The same content printed at the same moment gives the same bytes.  Returns the number of pages, and which share of the
    last one is filled.
    """
    register()
    size = landscape(PAGES[page]) if wide else PAGES[page]
    missing = lacking(_texts(story))
    if missing:
        found = ", ".join(one.strip("[]") for one in missing)
        story = [*story, para(say(msg("paper.lacking", letters=found)), 7.5, quiet=True)]
    if not any(isinstance(one, Mark) for one in story):
        story = [Mark(f"{running.title} {running.subject}".strip()), *story]
    pages = type("Pages", (_Pages,), {"running": running, "size": size})
    with whole_file(path) as fresh, fresh.open("wb") as file:
        template = BaseDocTemplate(
            file, pagesize=size, leftMargin=MARGIN, rightMargin=MARGIN, invariant=1,
            title=visible(f"{running.title} {running.subject}".strip()), author=visible(running.fleet_name),
            subject=visible(show_moment(running.printed_at)), creator=word("program.title"),
        )  # fmt: skip
        frame = Frame(
            MARGIN, MARGIN + FOOT, size[0] - 2 * MARGIN, size[1] - 2 * MARGIN - HEAD - FOOT,
            leftPadding=0, rightPadding=0, topPadding=4, bottomPadding=2,
        )  # fmt: skip
        template.addPageTemplates(PageTemplate("sheet", [frame]))
        template.build(story, canvasmaker=pages)
    return template.page, (frame._y2 - frame._y) / (frame._y2 - frame._y1)


def _texts(parts: Any) -> Iterator[str]:
    """Every paragraph's text in a story, in tables too."""
    for one in parts:
        if isinstance(one, (list, tuple)):
            yield from _texts(one)
        elif hasattr(one, "getPlainText"):
            yield one.getPlainText()
        else:
            yield from _texts(getattr(one, "_cellvalues", None) or getattr(one, "_content", None) or ())


_PADDING = 6.0


def inner_height(page: str) -> float:
    """Height between running head and foot of an upright page, in points."""
    return PAGES[page][1] - 2 * MARGIN - HEAD - FOOT - _PADDING


def height_of(story: list[Any], width: float) -> float:
    """How high `story` stands when laid out `width` wide, in points; never less than it takes."""
    total = 0.0
    for one in story:
        if isinstance(one, KeepTogether):
            total += height_of(one._content, width)
        else:
            total += one.wrap(width, 1e6)[1] + one.getSpaceBefore() + one.getSpaceAfter()
    return total


def inner_width(page: str, *, wide: bool = False) -> float:
    """Width between the margins, in points."""
    width, height = PAGES[page]
    return (height if wide else width) - 2 * MARGIN
