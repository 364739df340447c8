"""Safety signs drawn as vectors from their description, with their number; legible without colour.

Only signs whose number and meaning were read in a public list of the registered signs of ISO 7010 are
here.  The drawings are this program's own; shapes and colours are those of ISO 3864: prohibition a red
ring and bar, mandatory a blue disc, warning a yellow triangle with a black edge.
"""

from __future__ import annotations

from collections.abc import Callable

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from fleetcare.domain.wording import word
from fleetcare.reports.text import BOLD, REGULAR, register

LEAST = 15 * mm
"""Smallest side of a sign on paper (proposal of this program)."""

_RED, _BLUE, _YELLOW = (0.70, 0.05, 0.10), (0.0, 0.25, 0.55), (0.98, 0.80, 0.0)


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


def _warning(canvas: Canvas) -> None:
    canvas.setFillColorRGB(*_YELLOW)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.07)
    canvas.setLineJoin(1)
    edge = canvas.beginPath()
    edge.moveTo(0.05, 0.08)
    edge.lineTo(0.95, 0.08)
    edge.lineTo(0.5, 0.86)
    edge.close()
    canvas.drawPath(edge, stroke=1, fill=1)
    canvas.setFillGray(0)


def _danger(canvas: Canvas) -> None:
    _warning(canvas)
    mark = canvas.beginPath()
    mark.moveTo(0.455, 0.62)
    mark.lineTo(0.545, 0.62)
    mark.lineTo(0.52, 0.32)
    mark.lineTo(0.48, 0.32)
    mark.close()
    canvas.drawPath(mark, stroke=0, fill=1)
    canvas.circle(0.5, 0.235, 0.048, stroke=0, fill=1)


def _electricity(canvas: Canvas) -> None:
    _warning(canvas)
    bolt = canvas.beginPath()
    for step, (x, y) in enumerate(((0.55, 0.66), (0.40, 0.40), (0.50, 0.42), (0.43, 0.18), (0.60, 0.46), (0.50, 0.44))):
        (bolt.lineTo if step else bolt.moveTo)(x, y)
    bolt.close()
    canvas.drawPath(bolt, stroke=0, fill=1)


def _disc(canvas: Canvas) -> None:
    canvas.setFillColorRGB(*_BLUE)
    canvas.circle(0.5, 0.5, 0.49, stroke=0, fill=1)
    canvas.setFillGray(1)
    canvas.setStrokeGray(1)


def _eyes(canvas: Canvas) -> None:
    """A head with spectacles."""
    _disc(canvas)
    canvas.ellipse(0.27, 0.14, 0.73, 0.86, stroke=0, fill=1)
    canvas.setStrokeColorRGB(*_BLUE)
    canvas.setFillColorRGB(*_BLUE)
    canvas.setLineWidth(0.045)
    for middle in (0.395, 0.605):
        canvas.circle(middle, 0.56, 0.078, stroke=1, fill=1)
    canvas.line(0.46, 0.57, 0.54, 0.57)
    canvas.line(0.27, 0.60, 0.33, 0.58)
    canvas.line(0.73, 0.60, 0.67, 0.58)


def _gloves(canvas: Canvas) -> None:
    """Two hands in gloves, the cuffs below."""
    _disc(canvas)
    for side in (-1, 1):
        canvas.saveState()
        canvas.translate(0.5 + side * 0.17, 0.5)
        canvas.scale(side, 1)
        canvas.roundRect(-0.10, -0.14, 0.20, 0.22, 0.04, stroke=0, fill=1)
        for finger in range(4):
            canvas.roundRect(
                -0.10 + finger * 0.052, 0.02, 0.042, 0.22 - abs(finger - 1.5) * 0.025, 0.02, stroke=0, fill=1
            )
        canvas.saveState()
        canvas.translate(-0.08, -0.08)
        canvas.rotate(38)
        canvas.roundRect(-0.03, 0, 0.055, 0.17, 0.025, stroke=0, fill=1)
        canvas.restoreState()
        canvas.rect(-0.10, -0.26, 0.20, 0.085, stroke=0, fill=1)
        canvas.restoreState()


_SIGNS: dict[str, Callable[[Canvas], None]] = {
    "W001": _danger, "W012": _electricity, "P003": _open_flame, "M004": _eyes, "M009": _gloves, "M021": _disconnect,
}  # fmt: skip
NUMBERS = tuple(_SIGNS)


class SignBox(Flowable):
    """A sign with its number and its meaning below it, for sheets that are laid out as a whole."""

    def __init__(self, number: str, side: float = 17 * mm, width: float = 76) -> None:
        super().__init__()
        self._number, self._side, self._width = number, side, width

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self._width, self._side + 20

    def draw(self) -> None:
        draw(self.canv, self._number, (self._width - self._side) / 2, 19, self._side)
        self.canv.setFont(REGULAR, 6.5)
        self.canv.drawCentredString(self._width / 2, 2, word(f"sign.{self._number}"))
