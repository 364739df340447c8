"""The mouse wheel moves the page and chooses nothing: a choice that lies under the pointer stays as it was."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QApplication, QComboBox, QTabBar, QWidget

WHEEL = Qt.FocusPolicy.WheelFocus


class WheelScrolls(QObject):
    """Whoever scrolls a page passes over its choices and tabs; Qt would change each one that comes under the pointer."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        QApplication.instance().installEventFilter(self)  # type: ignore[union-attr]

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Qt's hook: the page around a closed choice or a row of tabs gets the wheel; an open list scrolls as ever.

        Nor does the wheel move the focus, which would take the next key or scan into the choice.
        """
        kind = event.type()
        if kind == QEvent.Type.Wheel and isinstance(watched, QComboBox | QTabBar):
            event.ignore()
            return True
        if kind == QEvent.Type.Polish and isinstance(watched, QComboBox) and watched.focusPolicy() is WHEEL:
            watched.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        return False
