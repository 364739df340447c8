"""Widgets side by side, going on in a further line where the width ends: for large letters on a small screen."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class Flow(QLayout):
    """Each widget in the width it asks for; a line is as high as the highest in it, and they stand in its middle."""

    def __init__(self, gap: int = 6, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)
        self.setSpacing(gap)

    def addItem(self, item: QLayoutItem) -> None:
        """Qt's hook."""
        self._items.append(item)

    def count(self) -> int:
        """Qt's hook."""
        return len(self._items)

    def itemAt(self, number: int) -> QLayoutItem | None:  # type: ignore[override]
        """Qt's hook."""
        return self._items[number] if 0 <= number < len(self._items) else None

    def takeAt(self, number: int) -> QLayoutItem | None:  # type: ignore[override]
        """Qt's hook."""
        return self._items.pop(number) if 0 <= number < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        """Qt's hook: none."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """Qt's hook."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Qt's hook."""
        return self._lay(QRect(0, 0, width, 0), place=False)

    def setGeometry(self, room: QRect) -> None:
        """Qt's hook."""
        super().setGeometry(room)
        self._lay(room, place=True)

    def sizeHint(self) -> QSize:
        """Qt's hook: all in one line."""
        shown = [item.sizeHint() for item in self._items if not item.isEmpty()]
        width = sum(one.width() for one in shown) + self.spacing() * max(len(shown) - 1, 0)
        return QSize(width, max((one.height() for one in shown), default=0))

    def minimumSize(self) -> QSize:
        """Qt's hook: the widest of them alone in its line."""
        least = QSize()
        for item in self._items:
            if not item.isEmpty():
                least = least.expandedTo(item.minimumSize())
        return least

    def _lay(self, room: QRect, *, place: bool) -> int:
        """The height that is needed in the width of `room`; puts the widgets there when asked."""
        lines: list[list[tuple[QLayoutItem, QSize]]] = [[]]
        x = 0
        for item in (one for one in self._items if not one.isEmpty()):
            size = item.sizeHint().boundedTo(QSize(room.width(), item.sizeHint().height()))
            if lines[-1] and x + size.width() > room.width():
                lines.append([])
                x = 0
            lines[-1].append((item, size))
            x += size.width() + self.spacing()
        y = room.y()
        for line in lines:
            x, tall = room.x(), max((size.height() for _, size in line), default=0)
            for item, size in line:
                if place:
                    item.setGeometry(QRect(QPoint(x, y + (tall - size.height()) // 2), size))
                x += size.width() + self.spacing()
            y += tall + self.spacing()
        return y - self.spacing() - room.y()
