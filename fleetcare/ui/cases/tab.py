"""What the tabs of the cases screen share: who acts, dates as typed, and a scrolled column."""

from __future__ import annotations

from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QBoxLayout, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.forms import LARGE_LETTERS


class CaseTab(QWidget):
    """A tab whose parts stand below each other and scroll together."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        holder = QWidget()
        self.column = QVBoxLayout(holder)
        self.column.setContentsMargins(4, 6, 10, 8)
        self.column.setSpacing(8)
        self.scroll = QScrollArea()
        self.scroll.setWidget(holder)
        self.scroll.setWidgetResizable(True)
        self.scroll.setFrameShape(QFrame.Shape.NoFrame)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.scroll)

    def author(self) -> Author:
        """The signed-in person; EntryRefused when there is none."""
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        return author

    def tell(self, done: Recorded) -> None:
        """Announce what a deed changed and read again."""
        self._changes.tell(done)
        self.refresh()

    def refresh(self) -> None:
        """Read again what the tab shows."""

    def reread(self) -> None:
        """Something changed while the tab was in view."""
        self.refresh()


def across() -> QBoxLayout:
    """A row of cards; a column where the text is large."""
    large = QFontMetrics(sized(1.0)).averageCharWidth() > LARGE_LETTERS
    return QVBoxLayout() if large else QHBoxLayout()
