"""Which screen a window is on."""

from __future__ import annotations

from PySide6.QtGui import QGuiApplication, QScreen
from PySide6.QtWidgets import QWidget


def screen_of(window: QWidget) -> QScreen:
    """The screen that the middle of `window`, a window of its own, is on; the first one where it is on none.

    A widget itself must not be asked: PySide takes the screen that it answers for its child, and a search for garbage
    that finds the widget may then destroy the screen, which ends the program at the next look at it.
    """
    return QGuiApplication.screenAt(window.frameGeometry().center()) or QGuiApplication.primaryScreen()
