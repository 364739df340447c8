"""Who and which: labels, new packs, packs to find, people; one tab each."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QScrollArea, QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import word
from fleetcare.services.competence import Matrix
from fleetcare.services.labelling import Label
from fleetcare.ui.changes import Changes
from fleetcare.ui.identity.competence_tab import CompetenceTab
from fleetcare.ui.identity.find_tab import FindTab
from fleetcare.ui.identity.label_tab import LabelTab
from fleetcare.ui.identity.new_pack_tab import NewPackTab
from fleetcare.ui.identity.people_tab import PeopleTab
from fleetcare.ui.session import Session


class IdentityScreen(QWidget):
    """The tab in view is read again whenever it is shown or something changed."""

    open_pack = Signal(str)

    def __init__(
        self, app: App, session: Session, changes: Changes, printed: Callable[[Label], None],
        printed_matrix: Callable[[Matrix], None],
    ) -> None:  # fmt: skip
        super().__init__()
        self.labels = LabelTab(app, session, changes, printed)
        self.new_pack = NewPackTab(app, session, changes)
        self.find = FindTab(app)
        self.people = PeopleTab(app, session, changes)
        self.tabs = QTabWidget()
        self.competence = CompetenceTab(app, session, changes, printed_matrix)
        self._parts = (self.labels, self.new_pack, self.find, self.people, self.competence)
        keys = (
            "identity.tab_labels",
            "identity.tab_new",
            "identity.tab_find",
            "identity.tab_people",
            "competence.heading",
        )
        for part, key in zip(self._parts, keys, strict=True):
            self.tabs.addTab(part if part is self.new_pack else _scrolled(part), word(key))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(8, 8, 8, 4)
        outer.addWidget(self.tabs)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        self.find.open_pack.connect(self.open_pack.emit)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def refresh(self) -> None:
        """Read the tab in view again."""
        self._parts[self.tabs.currentIndex()].refresh()

    def show_tab(self, part: QWidget) -> None:
        """Bring one tab to the front, with the cursor in its first field."""
        self.tabs.setCurrentIndex(self._parts.index(part))  # type: ignore[arg-type]
        form = getattr(part, "form", None)
        if form is not None:
            next(iter(form.fields.values())).edit.setFocus()

    def take_pack(self, code: str) -> bool:
        """A scan while labels are in view: the pack whose label is asked for."""
        if self.tabs.currentIndex() != 0:
            return False
        self.labels.take_pack(code)
        return True


def _scrolled(part: QWidget) -> QScrollArea:
    scroll = QScrollArea()
    scroll.setWidget(part)
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    return scroll
