"""The order in which Tab goes from part to part, where it is not the order in which they were made."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget


def stops(part: QWidget) -> list[QWidget]:
    """Where Tab stops within `part`: itself, or what it holds, in the order in which that was made."""
    if part.focusPolicy() & Qt.FocusPolicy.TabFocus and part.focusProxy() is None:
        return [part]
    held = part.findChildren(QWidget, options=Qt.FindChildOption.FindDirectChildrenOnly)
    return [stop for one in held for stop in stops(one)]


def tab_through(*parts: QWidget) -> None:
    """Let Tab go through `parts` in this order; they stand in one window."""
    for first, second in pairwise([stop for part in parts for stop in stops(part)]):
        QWidget.setTabOrder(first, second)
