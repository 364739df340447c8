"""A state as colour, shape and word: as a widget, and in a table cell."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from fleetcare.ui.colours import Mark, draw_shape
from fleetcare.ui.widgets.unbroken import unbroken_cell

MARK_ROLE = Qt.ItemDataRole.UserRole + 1
"""Model role under which a cell gives its `Mark`."""


class Badge(QWidget):
    """A filled pill with a shape and a word."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._mark: Mark | None = None
        self._word = ""
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def show_state(self, mark: Mark, word: str) -> None:
        """Show `word` on `mark`."""
        self._mark, self._word = mark, word
        self.setAccessibleName(word)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Qt's hook."""
        metrics = QFontMetrics(self.font())
        height = round(metrics.height() * 1.55)
        return QSize(metrics.horizontalAdvance(self._word) + round(height * 1.55), height)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Qt's hook."""
        if self._mark is not None:
            painter = QPainter(self)
            painter.setFont(self.font())
            draw_badge(painter, QRectF(self.rect()), self._mark, self._word)


def draw_badge(painter: QPainter, box: QRectF, mark: Mark, word: str) -> None:
    """Draw the pill with its shape in ink and the word."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(mark.fill))
    painter.drawRoundedRect(box.adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
    size = box.height() * 0.5
    shape = QRectF(box.x() + box.height() * 0.28, box.center().y() - size / 2, size, size)
    draw_shape(painter, mark, shape, inked=True)
    painter.setPen(QColor(mark.ink))
    text = box.adjusted(box.height() * 1.0, 0, -4, 0)
    painter.drawText(text, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, word)
    painter.restore()


CELL_MARGIN = 3
"""Left and right of a cell's text besides the style's own, so that a number does not touch the word beside it."""


def badge_width(metrics: QFontMetrics, word: str) -> int:
    """Pixels that a cell's badge with this word is wide."""
    return metrics.horizontalAdvance(word) + round(metrics.height() * 2.4)


class BadgeDelegate(QStyledItemDelegate):
    """Paints cells that have a `Mark` as badges, and text with some air to its sides."""

    def initStyleOption(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> None:
        """Qt's hook: where words wrap, a number keeps its unit."""
        super().initStyleOption(option, index)
        option.text = unbroken_cell(option.text)  # type: ignore[attr-defined]

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Qt's hook: room for the margins, for a badge also for its shape."""
        size = super().sizeHint(option, index)
        badge = 0 if index.data(MARK_ROLE) is None else QFontMetrics(option.font).height() * 2  # type: ignore[attr-defined]
        return QSize(size.width() + 2 * CELL_MARGIN + badge, size.height())

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Qt's hook."""
        mark = index.data(MARK_ROLE)
        if mark is None:
            inner = QStyleOptionViewItem(option)
            if option.state & QStyle.StateFlag.State_Selected:  # type: ignore[attr-defined]
                painter.fillRect(option.rect, option.palette.highlight())  # type: ignore[attr-defined]
            inner.state &= ~QStyle.StateFlag.State_HasFocus  # type: ignore[attr-defined]
            inner.rect = option.rect.adjusted(CELL_MARGIN, 0, -CELL_MARGIN, 0)  # type: ignore[attr-defined]
            super().paint(painter, inner, index)
            return
        self.initStyleOption(option, index)
        if option.state & QStyle.StateFlag.State_Selected:  # type: ignore[attr-defined]
            painter.fillRect(option.rect, option.palette.highlight())  # type: ignore[attr-defined]
        word = str(index.data(Qt.ItemDataRole.DisplayRole))
        box = QRectF(option.rect).adjusted(5, 3, -5, -3)  # type: ignore[attr-defined]
        metrics = QFontMetrics(option.font)  # type: ignore[attr-defined]
        spare = max(box.height() - metrics.height() * 1.45, 0) / 2
        box = box.adjusted(0, spare, 0, -spare)
        width = metrics.horizontalAdvance(word) + box.height() * 1.5
        box.setWidth(min(box.width(), width))
        painter.setFont(option.font)  # type: ignore[attr-defined]
        draw_badge(painter, box, mark, word)
