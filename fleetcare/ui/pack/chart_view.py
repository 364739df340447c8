"""Draws a chart's primitives with the palette in force."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import msg, say
from fleetcare.reports.chart import OUTLINES, Area, Chart, Line, Marker, Text, projection_chart
from fleetcare.ui.theme import current

_ROLES = {
    "light": {"grid": "#dfe3e0", "axis": "#4c5652", "today": "#7b8580", "limit": "#8a4b00", "watch": "#6f6200", "band": "#31576b",
              "middle": "#31576b", "crossing": "#8a4b00", "likely": "#8a4b00", "quiet": "#59625e", "reading": "#1c2321"},
    "dark": {"grid": "#2f3735", "axis": "#c3ccc7", "today": "#8a948f", "limit": "#f0b35a", "watch": "#d8cf7a", "band": "#7fb2cc",
             "middle": "#7fb2cc", "crossing": "#f0b35a", "likely": "#f0b35a", "quiet": "#a7b1ac", "reading": "#eef1ef"},
}  # fmt: skip
_WEIGHT = {"middle": 2.0, "crossing": 3.0, "likely": 3.0, "limit": 1.4}


class ChartView(QWidget):
    """One projection; the sentence above it is shown elsewhere."""

    def __init__(self) -> None:
        super().__init__()
        self._projection: Projection | None = None
        self._watch: float | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(320, 190)

    def sizeHint(self) -> QSize:
        """Qt's hook."""
        return QSize(640, self.minimumHeight())

    def show_projection(self, projection: Projection, pack: str, watch: float | None = None) -> None:
        """Draw `projection` of `pack`, with the line from where a verdict says watch."""
        self._projection, self._watch = projection, watch
        name = msg("screen.chart_name", quantity=msg(f"quantity.{projection.quantity}"), pack=pack)
        self.setAccessibleName(say(name))
        self.setAccessibleDescription(say(projection.sentence))
        self.update()

    def clear(self) -> None:
        """Draw nothing."""
        self._projection = None
        self.setAccessibleName("")
        self.setAccessibleDescription("")
        self.update()

    def chart(self) -> Chart | None:
        """The primitives at the present size."""
        if self._projection is None:
            return None
        text = QFontMetricsF(self.font()).height() * 0.72
        return projection_chart(self._projection, float(self.width()), float(self.height()), text, self._watch)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Qt's hook."""
        chart = self.chart()
        if chart is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = _ROLES[current()]
        for one in chart.primitives:
            match one:
                case Area():
                    fill = QColor(colours[one.role])
                    fill.setAlpha(55)
                    painter.setPen(Qt.PenStyle.NoPen)
                    painter.setBrush(fill)
                    painter.drawPolygon(QPolygonF([QPointF(*p) for p in one.points]))
                case Line():
                    pen = QPen(QColor(colours[one.role]), _WEIGHT.get(one.role, 1.0))
                    pen.setStyle(Qt.PenStyle.DashLine if one.dashed else Qt.PenStyle.SolidLine)
                    painter.setPen(pen)
                    painter.drawPolyline(QPolygonF([QPointF(*p) for p in one.points]))
                case Marker():
                    _draw_marker(painter, one, QColor(colours["reading"]))
                case Text():
                    _draw_text(
                        painter, one, QColor(colours.get(one.role, colours["axis"])), self.palette().window().color()
                    )


def _draw_marker(painter: QPainter, marker: Marker, colour: QColor) -> None:
    painter.setPen(QPen(colour, 1.2))
    painter.setBrush(Qt.BrushStyle.NoBrush if marker.hollow else colour)
    x, y = marker.at
    r = marker.size / 2
    if marker.shape == "disc":
        painter.drawEllipse(QPointF(x, y), r, r)
    else:
        painter.drawPolygon(QPolygonF([QPointF(x + px * r, y + py * r) for px, py in OUTLINES[marker.shape]]))


def _draw_text(painter: QPainter, text: Text, colour: QColor, ground: QColor) -> None:
    metrics = QFontMetricsF(painter.font())
    width = metrics.horizontalAdvance(text.text) + 2
    x, y = text.at
    left = {"left": x, "right": x - width, "middle": x - width / 2}[text.side]
    box = QRectF(left, y - metrics.height() / 2, width, metrics.height())
    if text.plate:
        ground.setAlpha(215)
        painter.fillRect(box.adjusted(-2, 2, 2, -2), ground)
    painter.setPen(colour)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text.text)
