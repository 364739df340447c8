"""Safety signs drawn as vectors from their description, with their number; legible without colour.

Only signs whose number could be verified in a public source are here: P003, a lit match in a
prohibition sign, and M021, a plug pulled from its socket in a mandatory sign (ISO 7010).  Shapes and
colours are those of ISO 3864: prohibition a red ring and bar, mandatory a blue disc.
"""

from __future__ import annotations

from collections.abc import Callable

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fleetcare.reports.text import BOLD, register

LEAST = 15 * mm
"""Smallest side of a sign on paper (proposal of this program)."""

_RED, _BLUE = (0.70, 0.05, 0.10), (0.0, 0.25, 0.55)


def draw(canvas: Canvas, number: str, x: float, y: float, side: float) -> None:
    """Draw sign `number` ("P003") into a square of `side` points at (x, y), its number below it.

    ValueError for a side below LEAST or a sign that is not here.
    """
    if side < LEAST or number not in _SIGNS:
        raise ValueError(number)
    register()
    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(side, side)
    canvas.setLineCap(0)
    _SIGNS[number](canvas)
    canvas.restoreState()
    canvas.setFillGray(0)
    canvas.setFont(BOLD, 7)
    canvas.drawCentredString(x + side / 2, y - 8, f"ISO 7010-{number}")


def _open_flame(canvas: Canvas) -> None:
    canvas.setFillGray(0)
    canvas.saveState()
    canvas.translate(0.5, 0.24)
    canvas.rect(-0.035, 0, 0.07, 0.26, stroke=0, fill=1)
    canvas.restoreState()
    flame = canvas.beginPath()
    flame.moveTo(0.5, 0.49)
    flame.curveTo(0.36, 0.53, 0.40, 0.66, 0.50, 0.80)
    flame.curveTo(0.55, 0.70, 0.65, 0.58, 0.5, 0.49)
    flame.close()
    canvas.drawPath(flame, stroke=0, fill=1)
    canvas.setStrokeColorRGB(*_RED)
    canvas.setLineWidth(0.09)
    canvas.circle(0.5, 0.5, 0.445, stroke=1, fill=0)
    reach = 0.445 * 0.7071
    canvas.line(0.5 - reach, 0.5 + reach, 0.5 + reach, 0.5 - reach)


def _disconnect(canvas: Canvas) -> None:
    canvas.setFillColorRGB(*_BLUE)
    canvas.circle(0.5, 0.5, 0.49, stroke=0, fill=1)
    canvas.setFillGray(1)
    canvas.setStrokeGray(1)
    canvas.roundRect(0.18, 0.36, 0.16, 0.28, 0.04, stroke=0, fill=1)
    canvas.setLineWidth(0.045)
    canvas.line(0.06, 0.5, 0.20, 0.5)
    for height in (0.43, 0.57):
        canvas.line(0.33, height, 0.46, height)
    canvas.roundRect(0.60, 0.33, 0.18, 0.34, 0.04, stroke=0, fill=1)
    canvas.line(0.77, 0.5, 0.94, 0.5)
    canvas.setStrokeColorRGB(*_BLUE)
    for height in (0.43, 0.57):
        canvas.line(0.59, height, 0.68, height)


_SIGNS: dict[str, Callable[[Canvas], None]] = {"P003": _open_flame, "M021": _disconnect}
