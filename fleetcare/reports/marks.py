"""Shapes of states on paper, told apart without colour; and charts from their primitives."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import FILL_NON_ZERO, Canvas
from reportlab.platypus import Flowable

from fleetcare.reports.chart import OUTLINES, Area, Chart, Line, Marker, Text
from fleetcare.reports.text import BOLD, REGULAR, printable
from fleetcare.reports.text import draw as draw_text
from fleetcare.reports.text import width as text_width

_GREY = {
    "grid": 0.82,
    "axis": 0.2,
    "today": 0.45,
    "limit": 0.0,
    "watch": 0.4,
    "band": 0.80,
    "middle": 0.15,
    "crossing": 0.0,
    "likely": 0.0,
    "quiet": 0.35,
}
_EDGE = 0.7
"""Width of a marker's outline."""
_WEIGHT = {"middle": 1.4, "crossing": 2.4, "likely": 2.4, "limit": 1.0, "grid": 0.4}


class StateMark(Flowable):
    """A shape and the state's word, large enough to be read across a room."""

    def __init__(self, shape: str, text: str, size: float) -> None:
        super().__init__()
        self._shape, self._text, self._size = shape, printable(text), size
        self.width = size * 1.15 + text_width(self._text, BOLD, size)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self.width, self._size * 1.3

    def draw(self) -> None:
        size = self._size
        canvas: Canvas = self.canv
        draw_shape(canvas, self._shape, 0, size * 0.1, size * 0.85)
        canvas.setFillGray(0)
        draw_text(canvas, size * 1.15, size * 0.18, self._text, BOLD, size)


def draw_shape(canvas: Canvas, shape: str, x: float, y: float, size: float) -> None:
    """Draw a shape into a square; filled black, a ring open."""
    canvas.saveState()
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    if shape in ("circle", "ring"):
        canvas.setLineWidth(size * 0.14)
        canvas.circle(x + size / 2, y + size / 2, size * 0.43, fill=int(shape == "circle"))
    else:
        points = {
            "square": ((0, 0), (1, 0), (1, 1), (0, 1)),
            "diamond": ((0.5, 0), (1, 0.5), (0.5, 1), (0, 0.5)),
            "triangle": ((0, 0.05), (1, 0.05), (0.5, 0.98)),
            "cross": ((0.2, 0), (0.5, 0.3), (0.8, 0), (1, 0.2), (0.7, 0.5), (1, 0.8), (0.8, 1), (0.5, 0.7), (0.2, 1),
                      (0, 0.8), (0.3, 0.5), (0, 0.2)),
        }[shape]  # fmt: skip
        path = canvas.beginPath()
        path.moveTo(x + points[0][0] * size, y + points[0][1] * size)
        for px, py in points[1:]:
            path.lineTo(x + px * size, y + py * size)
        path.close()
        canvas.drawPath(path, stroke=0, fill=1)
    canvas.restoreState()


def draw_chart(canvas: Canvas, chart: Chart, left: float, low: float, size: float) -> None:
    """A chart's primitives as vectors, in greys, its lower left corner at (left, low); letters are `size` high.

    Markers of one look that follow each other are one path.
    """
    top = low + chart.height
    canvas.saveState()
    for marker, group in groupby(chart.primitives, _look):
        if marker is None:
            for one in group:
                _draw(canvas, one, left, top, size)
        else:
            _markers(canvas, marker[1], group, left, top)
    canvas.restoreState()


def _look(one: Any) -> tuple[str, bool] | None:
    return (one.shape, one.hollow) if isinstance(one, Marker) else None


def _draw(canvas: Canvas, one: Any, left: float, top: float, size: float) -> None:
    match one:
        case Area() | Line():
            path = canvas.beginPath()
            path.moveTo(left + one.points[0][0], top - one.points[0][1])
            for x, y in one.points[1:]:
                path.lineTo(left + x, top - y)
            grey = _GREY[one.role]
            if isinstance(one, Area):
                path.close()
                canvas.setFillGray(grey)
                canvas.drawPath(path, stroke=0, fill=1)
                return
            canvas.setStrokeGray(grey)
            canvas.setLineWidth(_WEIGHT.get(one.role, 0.7))
            canvas.setDash((4, 2.5) if one.dashed else ())
            canvas.drawPath(path, stroke=1, fill=0)
            canvas.setDash(())
        case Text():
            x, y = left + one.at[0], top - one.at[1] - size * 0.35
            if one.plate:
                _plate(canvas, one, x, y, size)
            canvas.setFillGray(_GREY.get(one.role, 0.2))
            draw_text(canvas, x, y, printable(one.text), REGULAR, size, one.side)


def _plate(canvas: Canvas, one: Text, x: float, y: float, size: float) -> None:
    wide = stringWidth(printable(one.text), REGULAR, size)
    start = {"left": x, "right": x - wide, "middle": x - wide / 2}[one.side]
    canvas.setFillGray(1)
    canvas.rect(start - 1.5, y - size * 0.25, wide + 3, size * 1.15, stroke=0, fill=1)


def _markers(canvas: Canvas, hollow: bool, markers: Iterable[Any], left: float, top: float) -> None:
    """Markers of one look.  A full disc is a line without length and with round ends, which is a dot as wide as the line
    (ISO 32000-1, 8.5.3.2), and much shorter than four curves.
    """
    canvas.setStrokeGray(0)
    canvas.setFillGray(1 if hollow else 0)
    path, dots, across = canvas.beginPath(), canvas.beginPath(), 0.0
    for marker in markers:
        x, y, r = left + marker.at[0], top - marker.at[1], marker.size / 2
        if marker.shape == "disc" and hollow:
            path.circle(x, y, r)
        elif marker.shape == "disc":
            dots.moveTo(x, y)
            dots.lineTo(x, y)
            across = 2 * r + _EDGE
        else:
            points = [(x + px * r, y - py * r) for px, py in OUTLINES[marker.shape]]
            path.moveTo(*points[0])
            for point in points[1:]:
                path.lineTo(*point)
            path.close()
    if across:
        canvas.setLineCap(1)
        canvas.setLineWidth(across)
        canvas.drawPath(dots, stroke=1, fill=0)
        canvas.setLineCap(0)
    else:
        canvas.setLineWidth(_EDGE)
        canvas.drawPath(path, stroke=1, fill=1, fillMode=FILL_NON_ZERO)
