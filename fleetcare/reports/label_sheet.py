"""Labels on paper: a QR code (ISO/IEC 18004) and the code large enough to be read and typed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import segno
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.label_stock import EDGE_MM, LEAST_MODULE_MM, QUIET_MODULES, LabelStock, fits, module_mm
from fleetcare.domain.wording import apart, msg, say, word
from fleetcare.reports.text import BOLD, REGULAR, draw, printable, register, visible
from fleetcare.reports.text import width as width_of
from fleetcare.services.label_sheets import PASSPORT, Label
from fleetcare.services.writing_files import whole_file

CORRECTION = "h"
"""Level H, of which about 30 % of the code words may be lost (ISO/IEC 18004)."""
PASSPORT_CORRECTION = "hqml"
"""Levels for a copy of a passport's code, the first that leaves modules large enough: its text is longer than our codes."""
ROOMY_VERSION = 3
"""A short code in version 1 has 26 code words, and a patch over a tenth of it can spoil all 8 that level H restores; version
3 has two blocks that restore 11 of 35 each (ISO/IEC 18004, table of error correction)."""
ROOMY_MODULE_MM = 0.5
"""The roomy version is used where its modules are at least so large (proposal of this program)."""

_ONE_SIZE = 0.8
"""Letters that would be larger by no more than this share are set as small as the smallest, so that a sheet looks even."""


def write(
    labels: Sequence[Label], stock: LabelStock, path: Path, *, copies: int, first: int = 1, fleet_name: str, demo: bool
) -> int:
    """Write the labels to `path`; returns the number of pages.  `first` is the first free place (from 1).

    EntryRefused when the code would be too small to scan on this stock.
    """
    register()
    codes = {one.text: (passport_code if one.thing_class == PASSPORT else code_for)(one.text, stock) for one in labels}
    sizes = _sizes(labels, stock, codes)
    width, height = (side * mm for side in stock.page_mm)
    with whole_file(path) as fresh, fresh.open("wb") as file:
        canvas = Canvas(file, pagesize=(width, height), invariant=1, initialFontName=REGULAR, lang="en")
        canvas.setTitle(word("labels.title"))
        canvas.setAuthor(visible(fleet_name))
        canvas.setCreator(word("program.title"))
        place, pages = (first - 1) % stock.per_page, 1
        for one in labels:
            for _ in range(copies):
                if place == stock.per_page:
                    canvas.showPage()
                    place, pages = 0, pages + 1
                left, top = stock.place_mm(place)
                canvas.saveState()
                canvas.translate(left * mm, height - (top + stock.height_mm) * mm)
                _label(canvas, one, stock, codes[one.text], sizes[one.text], fleet_name, demo)
                canvas.restoreState()
                place += 1
        canvas.showPage()
        canvas.save()
    return pages


def code_for(text: str, stock: LabelStock | None = None) -> segno.QRCode:
    """The QR code of a label's text: of the roomy version where its modules stay large enough, else the smallest.

    EntryRefused when even that would be too small to scan on this stock.
    """
    code = segno.make(text, error=CORRECTION, boost_error=False, micro=False)
    if int(code.version) < ROOMY_VERSION and (
        stock is None or fits(stock, 17 + 4 * ROOMY_VERSION + 2 * QUIET_MODULES, ROOMY_MODULE_MM)
    ):
        return segno.make(text, error=CORRECTION, boost_error=False, micro=False, version=ROOMY_VERSION)
    if stock is not None:
        module_mm(stock, _side(code))
    return code


def _side(code: segno.QRCode) -> int:
    """Modules a side, without the quiet zone."""
    return int(code.symbol_size(border=0)[0])


def passport_code(text: str, stock: LabelStock) -> segno.QRCode:
    """The QR code of a passport's text, to the letter, with as much correction as its modules leave room for.

    EntryRefused when even with the least they would be too small to scan.
    """
    made = [segno.make(text, error=level, boost_error=False, micro=False) for level in PASSPORT_CORRECTION]
    for least in (ROOMY_MODULE_MM, LEAST_MODULE_MM):
        for code in made:
            if fits(stock, _side(code) + 2 * QUIET_MODULES, least):
                return code
    module_mm(stock, _side(made[-1]))
    return made[-1]


def _sizes(labels: Sequence[Label], stock: LabelStock, codes: dict[str, segno.QRCode]) -> dict[str, float]:
    """The size of each label's large letters: one size for all whose own is near the smallest."""
    own = {one.text: _fitting(one.shown, BOLD, _beside(stock, codes[one.text])[1], 30) for one in labels}
    least = min(own.values(), default=0.0)
    return {
        text: min(least if size * _ONE_SIZE <= least else size, stock.height_mm * mm * 0.36)
        for text, size in own.items()
    }


def _beside(stock: LabelStock, code: segno.QRCode) -> tuple[float, float]:
    """Where the letters begin, right of the code, and how much room they have, in points."""
    modules = _side(code)
    left = EDGE_MM * mm + module_mm(stock, modules) * mm * (modules + 2 * QUIET_MODULES)
    return left, (stock.width_mm - stock.right_mm) * mm - left


def _label(
    canvas: Canvas, one: Label, stock: LabelStock, code: segno.QRCode, size: float, fleet_name: str, demo: bool
) -> None:
    modules = _side(code)
    module = module_mm(stock, modules) * mm
    side = module * (modules + 2 * QUIET_MODULES)
    height = stock.height_mm * mm
    draw_code(canvas, code, EDGE_MM * mm + QUIET_MODULES * module, (height - side) / 2 + QUIET_MODULES * module, module)
    left, room = _beside(stock, code)
    small = min(7.0, height * 0.12)
    canvas.setFillGray(0)
    canvas.setFont(BOLD, size)
    middle = height / 2 - size * 0.36
    canvas.drawString(left, middle, printable(one.shown))
    above = f"{apart(fleet_name)} · {word('program.demo')}" if demo else fleet_name
    below = f"{apart(one.line)} · {say(msg('labels.issue', issue=one.issue))}" if one.issue else one.line
    for text, y in ((above, middle + size * 0.75 + small * 0.9), (below, middle - small * 1.9)):
        shown = printable(text)
        while len(shown) > 1 and width_of(shown, REGULAR, small) > room:
            shown = shown[:-2] + "…" if shown.endswith("…") else shown[:-1] + "…"
        draw(canvas, left, y, shown, REGULAR, small)


def _fitting(text: str, font: str, width: float, most: float) -> float:
    return min(most, most * width / stringWidth(text, font, most))


def draw_code(canvas: Canvas, code: segno.QRCode, left: float, low: float, module: float) -> None:
    """Dark modules as one path; runs in a row are one bar, so that no hairline shows between them."""
    matrix = list(code.matrix)
    path = canvas.beginPath()
    for number, row in enumerate(matrix):
        start = None
        for column, dark in enumerate([*row, 0]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                y = low + (len(matrix) - 1 - number) * module
                path.rect(left + start * module, y, (column - start) * module, module)
                start = None
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)
