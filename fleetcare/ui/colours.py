"""State to colour and shape.  The word always stands beside; red is kept for danger alone.

Colour meanings follow IEC 60073: red danger, yellow abnormal, green normal, blue an action that
is due, grey without a special meaning (here: unknown or stale).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.status import BoardState, PackState, PackStatus, VehicleStatus
from fleetcare.domain.verdicts import VerdictLevel


@dataclass(frozen=True, slots=True)
class Mark:
    """A fill colour, the ink that is readable on it (4.5:1 or more), and a shape."""

    fill: str
    ink: str
    shape: str


DANGER = Mark("#b3261e", "#ffffff", "cross")
ACTION = Mark("#0b57b0", "#ffffff", "diamond")
CAUTION = Mark("#f2c53d", "#1c1a10", "triangle")
FAULT = Mark("#f2c53d", "#1c1a10", "square")
GOOD = Mark("#1a7038", "#ffffff", "circle")
UNKNOWN = Mark("#656d69", "#ffffff", "ring")

_BY_CLASS = {
    HoldClass.DANGER: DANGER,
    HoldClass.FAULT: FAULT,
    HoldClass.ACTION_DUE: ACTION,
    HoldClass.UNKNOWN: UNKNOWN,
}


def of_vehicle(status: VehicleStatus) -> Mark:
    """The mark of a vehicle: grounded takes the colour of its leading reason."""
    if status.state is BoardState.READY:
        return GOOD
    if status.state is BoardState.READY_BUT_DUE:
        return ACTION
    if status.state is BoardState.LIMITED:
        return CAUTION
    return of_class(status.reasons[0].hold_class) if status.reasons else UNKNOWN


def of_class(hold_class: HoldClass) -> Mark:
    """The mark of a class of reason."""
    return _BY_CLASS[hold_class]


def of_pack(status: PackStatus) -> Mark:
    """The mark of a pack."""
    match status.state:
        case PackState.QUARANTINED:
            return DANGER
        case PackState.HELD:
            return of_class(status.reasons[0].hold_class)
        case PackState.DUE | PackState.OVERDUE:
            return ACTION
        case PackState.NEVER_CHECKED | PackState.RETIRED | PackState.AWAY | PackState.LAID_UP | PackState.SILENT:
            return UNKNOWN
    return CAUTION if status.level is VerdictLevel.WATCH else GOOD


def of_verdict(level: VerdictLevel) -> Mark:
    """The mark of a verdict."""
    return {
        VerdictLevel.PASS: GOOD,
        VerdictLevel.NOT_JUDGED: UNKNOWN,
        VerdictLevel.WATCH: CAUTION,
        VerdictLevel.TOO_NEAR: ACTION,
        VerdictLevel.PULL: FAULT,
        VerdictLevel.DANGER: DANGER,
    }[level]


def on_dark(mark: Mark) -> Mark:
    """The mark for a shape that stands unfilled on a dark ground: lighter, so that it stands off 3:1."""
    return replace(mark, fill=QColor(mark.fill).lighter(175).name())


def draw_shape(painter: QPainter, mark: Mark, box: QRectF, *, inked: bool = False) -> None:
    """Draw the shape of `mark` into `box`; `inked` draws it in the ink colour, for a filled ground."""
    colour = QColor(mark.ink if inked else mark.fill)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(colour, max(1.5, box.width() / 9)))
    painter.setBrush(Qt.BrushStyle.NoBrush if mark.shape == "ring" else colour)
    inner = box.adjusted(1.5, 1.5, -1.5, -1.5)
    if mark.shape in ("circle", "ring"):
        painter.drawEllipse(inner)
    else:
        painter.drawPolygon(_polygon(mark.shape, inner))
    painter.restore()


_UNIT = {
    "square": ((0.08, 0.08), (0.92, 0.08), (0.92, 0.92), (0.08, 0.92)),
    "diamond": ((0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5)),
    "triangle": ((0.5, 0.02), (1.0, 0.95), (0.0, 0.95)),
    "cross": (
        (0.2, 0),
        (0.5, 0.3),
        (0.8, 0),
        (1, 0.2),
        (0.7, 0.5),
        (1, 0.8),
        (0.8, 1),
        (0.5, 0.7),
        (0.2, 1),
        (0, 0.8),
        (0.3, 0.5),
        (0, 0.2),
    ),
    "octagon": ((0.3, 0), (0.7, 0), (1, 0.3), (1, 0.7), (0.7, 1), (0.3, 1), (0, 0.7), (0, 0.3)),
}


def _polygon(shape: str, box: QRectF) -> QPolygonF:
    return QPolygonF([QPointF(box.x() + x * box.width(), box.y() + y * box.height()) for x, y in _UNIT[shape]])
