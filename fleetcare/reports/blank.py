"""Blank numbered check sheets, in the order of the bench screen, for when the PC is down."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepTogether, PageBreak, Spacer

from fleetcare.domain.checks import LookItem, RestBand
from fleetcare.domain.labels import with_check
from fleetcare.domain.paper_sheets import CHECKS_A_SHEET
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports.page import Mark, Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.text import BOLD, QUIET, REGULAR, para
from fleetcare.services.work_lists import Stamp

HEIGHTS = {"A4": 188.0, "Letter": 172.0}
"""Height of one check, so that three of them fill the page."""


class BlankCheck(Flowable):
    """One check to fill in by hand: codes, inspection, rest, readings with a box per digit, initials."""

    def __init__(self, width: float, height: float, line: int) -> None:
        super().__init__()
        self._width, self._high = width, height
        self._line = line

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self._width, self._high

    def draw(self) -> None:
        canvas: Canvas = self.canv
        canvas.setStrokeGray(0)
        canvas.setLineWidth(0.8)
        canvas.rect(0, 0, self._width, self._high)
        y = self._high - 26
        canvas.setFont(BOLD, 9)
        canvas.drawRightString(self._width - 8, 14, say(msg("paper.sheet_line", line=self._line)))
        x = 8.0
        for key, boxes in (("list.vehicle", 6), ("window.pack", 7)):
            x = self._boxes(word(key), x, y, boxes)
        x = self._boxes(word("list.done"), x, y, 4, gaps={2: ":"})
        self._boxes(word("paper.initials"), x, y, 2)
        self._looks(y - 20)
        y -= 88
        x = self._label(word("bench.rest"), 8, y + 4) + 8
        for band in RestBand:
            if band is not RestBand.UNKNOWN:
                x = self._tick(word(f"rest.{band.value}"), x, y) + 10
        y -= 28
        x = 8.0
        for key in ("bench.rested", "bench.loaded"):
            x = self._boxes(word(key), x, y, 4, gaps={2: "."}, unit="V")
        x = self._boxes(word("bench.amps"), x, y, 3, gaps={2: "."}, unit="A")
        self._boxes(word("bench.meter"), x, y, 4)
        self._label(word("bench.remark"), 8, 12)
        canvas.line(60, 10, self._width - 56, 10)

    def _label(self, text: str, x: float, y: float) -> float:
        canvas: Canvas = self.canv
        canvas.setFont(REGULAR, 8)
        canvas.setFillGray(QUIET)
        canvas.drawString(x, y, text)
        canvas.setFillGray(0)
        return x + canvas.stringWidth(text, REGULAR, 8)

    def _boxes(
        self, label: str, x: float, y: float, count: int, gaps: dict[int, str] | None = None, unit: str = ""
    ) -> float:
        canvas: Canvas = self.canv
        x = self._label(label, x, y + 4) + 4
        canvas.setLineWidth(0.6)
        for number in range(count):
            sign = (gaps or {}).get(number)
            if sign:
                canvas.setFont(BOLD, 12)
                canvas.drawString(x + 0.5, y + 1, sign)
                x += 6
            canvas.rect(x, y - 1, 13, 17)
            x += 14.5
        if unit:
            x = self._label(unit, x + 1, y + 4)
        return x + 11

    def _tick(self, text: str, x: float, y: float) -> float:
        canvas: Canvas = self.canv
        canvas.setLineWidth(0.6)
        canvas.rect(x, y + 1, 9, 9)
        canvas.setFont(REGULAR, 8.5)
        canvas.setFillGray(0)
        canvas.drawString(x + 12, y + 3, text)
        return x + 12 + canvas.stringWidth(text, REGULAR, 8.5)

    def _looks(self, y: float) -> None:
        """Every item to tick when it is not good, then one box for all good."""
        column = self._width / 4
        names = [word(f"look.{item.value}") for item in LookItem] + [word("paper.all_good")]
        for number, name in enumerate(names):
            self._tick(name, 8 + (number % 4) * column, y - (number // 4) * 15)


def write(
    fleet_name: str,
    numbers: Sequence[str],
    path: Path,
    *,
    page: str,
    printed_by: str,
    printed_at: dt.datetime,
    demo: bool,
    procedure: str = "",
    stamp: Stamp | None = None,
) -> None:
    """Write one sheet for each of the issued `numbers`, with its check character behind it.

    `procedure` is the version of the written procedure in force, as a line; `stamp` the record at that time.
    """
    running = Running(
        word("paper.blank_title"), "", fleet_name, demo, stamp.as_of if stamp else None,
        stamp.head.short if stamp else "", printed_by, printed_at,
    )  # fmt: skip
    write_pages(path, story(numbers, inner_width(page), HEIGHTS[page], procedure), running, page=page)


def story(numbers: Sequence[str], width: float, height: float, procedure: str = "") -> list[Any]:
    """The sheets, one after the other."""
    parts: list[Any] = []
    for sheet in numbers:
        if parts:
            parts.append(PageBreak())
        parts.append(Mark(say(msg("paper.sheet_number", number=with_check(sheet)))))
        parts.append(para(say(msg("paper.sheet_number", number=with_check(sheet))), 14, bold=True, after=2))
        parts.append(para(word("paper.blank_hint"), 8.5, quiet=True, after=6))
        parts.append(para(word("paper.sheet_head"), 9.5, after=6))
        for line in range(1, CHECKS_A_SHEET + 1):
            parts.append(KeepTogether([BlankCheck(width, height, line), Spacer(1, 4)]))
        told = f"{procedure}. " if procedure else ""
        parts.append(para(f"{told}{word('paper.blank_safety')} {word('safety.defer')}", 7.5, bold=True))
    return parts
