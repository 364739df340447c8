"""The label of a pack: code, issue, check character and a QR code; two alike, for case and handle."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from fleetcare.domain.label_stock import QUIET_MODULES
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports.label_sheet import code_for, draw_code
from fleetcare.reports.page import Running
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.text import BOLD, REGULAR, para, printable
from fleetcare.reports.text import draw as draw_text
from fleetcare.services.labelling import Label
from fleetcare.services.work_lists import Stamp

WIDTH, HEIGHT = 255.0, 92.0
"""A label of 90 by 32 mm, in points."""


class _LabelBox(Flowable):
    """One label inside its cutting line."""

    def __init__(self, label: Label) -> None:
        super().__init__()
        self._label = label

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return WIDTH, HEIGHT

    def draw(self) -> None:
        canvas: Canvas = self.canv
        canvas.setStrokeGray(0)
        canvas.setLineWidth(0.5)
        canvas.setDash(3, 3)
        canvas.rect(0, 0, WIDTH, HEIGHT)
        canvas.setDash()
        code = code_for(self._label.text)
        modules = code.symbol_size(border=0)[1]
        module = HEIGHT / (modules + 2 * QUIET_MODULES)
        draw_code(canvas, code, QUIET_MODULES * module, QUIET_MODULES * module, module)
        x = HEIGHT + 2
        shown = printable(self._label.pack.code)
        size = 30.0
        while canvas.stringWidth(shown, BOLD, size) > WIDTH - x - 10 and size > 10:
            size -= 1
        canvas.setFont(BOLD, size)
        canvas.drawString(x, HEIGHT - 42, shown)
        canvas.setFont(REGULAR, 10)
        canvas.drawString(x, HEIGHT - 58, printable(self._label.text))
        canvas.drawString(x, HEIGHT - 72, printable(say(msg("label.line", issue=self._label.issue))))
        draw_text(canvas, x, HEIGHT - 84, printable(self._label.model_name), REGULAR, 8)


def write(label: Label, path: Path, *, page: str, stamp: Stamp, printed_by: str, printed_at: dt.datetime) -> None:
    """Write the sheet with two labels to `path`."""
    running = Running(
        word("label.sheet_title"), label.pack.code, stamp.fleet_name, stamp.demo, stamp.as_of, stamp.head.short,
        printed_by, printed_at,
    )  # fmt: skip
    serial = label.pack.serial or "—"
    told = para(say(msg("label.sheet_hint", pack=label.pack.code, issue=label.issue, serial=serial)), 11, after=10)
    story: list[Any] = [told, _LabelBox(label), Spacer(1, 14), _LabelBox(label)]
    write_pages(path, story, running, page=page)
