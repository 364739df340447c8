"""Cases that a person answers for: decisions, makers' recalls, incidents; one tab each."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.incidents import ITEM_CLASSES
from fleetcare.domain.wording import word
from fleetcare.services.identify import identify
from fleetcare.ui.cases.decisions_tab import DecisionsTab
from fleetcare.ui.cases.incidents_tab import IncidentsTab
from fleetcare.ui.cases.recalls_tab import RecallsTab
from fleetcare.ui.cases.tab import CaseTab
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session


class CasesScreen(QWidget):
    """The tab in view is read again whenever it is shown or something changed."""

    open_pack = Signal(str)
    asked_recall_sheet = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app = app
        self.decisions = DecisionsTab(app, session, changes)
        self.recalls = RecallsTab(app, session, changes)
        self.incidents = IncidentsTab(app, session, changes)
        self._parts: tuple[CaseTab, ...] = (self.decisions, self.recalls, self.incidents)
        self.tabs = QTabWidget()
        for part, key in zip(self._parts, ("decisions", "recalls", "incidents"), strict=True):
            self.tabs.addTab(part, word(f"{key}.heading"))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(8, 8, 8, 4)
        outer.addWidget(self.tabs)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        self.decisions.open_pack.connect(self.open_pack.emit)
        self.recalls.open_pack.connect(self.open_pack.emit)
        self.recalls.asked_sheet.connect(self.asked_recall_sheet.emit)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self._parts[self.tabs.currentIndex()].reread())

    @property
    def first(self) -> QWidget | None:
        """What takes the focus: the list of what waits for a decision; None where the tab's first field does."""
        return self.decisions.table if self.tabs.currentWidget() is self.decisions else None

    def show_tab(self, part: CaseTab) -> None:
        """Bring one tab to the front."""
        self.tabs.setCurrentIndex(self._parts.index(part))

    def refresh(self) -> None:
        """Read the tab in view again."""
        self._parts[self.tabs.currentIndex()].refresh()

    def take_scan(self, text: str) -> bool:
        """A scan on the incidents tab names one more thing; True when it was taken."""
        if self._parts[self.tabs.currentIndex()] is not self.incidents:
            return False
        try:
            found = identify(self._app.store, text)
        except FleetcareError:
            return False
        if found.thing_class not in ITEM_CLASSES:
            return False
        self.incidents.take_code(found.code)
        return True
