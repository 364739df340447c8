"""From "it cut out" to a decision that stands up later: the pages of a fault, one tab each."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QScrollArea, QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import word
from fleetcare.services.identify import identify
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.charger_page import ChargerPage
from fleetcare.ui.faults.forms import FaultPage
from fleetcare.ui.faults.fuse_page import FusePage
from fleetcare.ui.faults.holds_page import HoldsPage
from fleetcare.ui.faults.job_page import JobPage
from fleetcare.ui.faults.quarantine_page import QuarantinePage
from fleetcare.ui.faults.report_page import ReportPage
from fleetcare.ui.faults.tallies_page import TalliesPage
from fleetcare.ui.faults.tree_page import TreePage
from fleetcare.ui.faults.trips_page import TripsPage
from fleetcare.ui.session import Session


class FaultsScreen(QWidget):
    """The pages share scans: a code goes into the field of its class on the page in view."""

    open_pack = Signal(str)
    open_vehicle = Signal(str)
    asked_sheet = Signal(str)
    """A quarantine sheet is wanted for this pack, in one action."""

    asked_job_sheet = Signal(object)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app = app
        self.report = ReportPage(app, session, changes)
        self.trips = TripsPage(app, session, changes)
        self.tallies = TalliesPage(app, session, changes)
        self.quarantine = QuarantinePage(app, session, changes)
        self.fuse = FusePage(app, session, changes)
        self.tree = TreePage(app, session, changes)
        self.job = JobPage(app, session, changes)
        self.chargers = ChargerPage(app, session, changes)
        self.holds = HoldsPage(app, session, changes)
        self.tabs = QTabWidget()
        self._pages: list[FaultPage] = []
        pages = {
            "report": self.report, "trips": self.trips, "tallies": self.tallies, "tree": self.tree, "job": self.job, "fuse": self.fuse,
            "quarantine": self.quarantine, "chargers": self.chargers, "holds": self.holds,
        }  # fmt: skip
        for key, page in pages.items():
            self._add(key, page)
        self._living = (self.tallies, self.quarantine, self.holds)
        """Pages that follow what others record."""
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 8)
        outer.addWidget(self.tabs)
        self.report.quarantined.connect(self.asked_sheet.emit)
        self.report.reported.connect(self.trips.fields["pack"].edit.setText)
        self.quarantine.asked_sheet.connect(self.asked_sheet.emit)
        self.job.asked_sheet.connect(self.asked_job_sheet.emit)
        self.job.quarantined.connect(self.asked_sheet.emit)
        self.tree.quarantined.connect(self.asked_sheet.emit)
        self.job.asked_tree.connect(self._find_fault)
        self.tree.danger.connect(self._danger)
        self.trips.asked_job.connect(self.begin_job)
        self.tallies.open_pack.connect(self.open_pack.emit)
        self.tallies.open_vehicle.connect(self.open_vehicle.emit)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.page in self._living and self.refresh())

    def _add(self, key: str, page: FaultPage) -> None:
        self._pages.append(page)
        if page is self.report:
            self.tabs.addTab(page, word(f"faults.tab_{key}"))
            return
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(page)
        self.tabs.addTab(scroll, word(f"faults.tab_{key}"))

    @property
    def page(self) -> FaultPage:
        """The page in view."""
        return self._pages[self.tabs.currentIndex()]

    def begin_report(self, vehicle: str, pack: str) -> None:
        """A new report about this vehicle and pack ("" for one that is not known yet)."""
        self._danger(pack, vehicle)

    def _danger(self, pack: str, vehicle: str) -> None:
        """The gate of the tree: the report's stop card takes over, with what was typed."""
        self.report.clear()
        self.report.take("pack", pack)
        self.report.take("vehicle", vehicle)
        self.show_page(self.report)

    def _find_fault(self, pack: str, row: str) -> None:
        """On to the tree with the pack of a job, at the row that its readings point to."""
        self.show_page(self.tree)
        self.tree.take("pack", pack)
        if row:
            self.tree.seen.setCurrentIndex(self.tree.seen.findData(row))

    def begin_job(self, pack: str) -> None:
        """The maker's way of resetting is the guided one; the job of another pack is left half-way, as it stands."""
        self.show_page(self.job)
        if self.job.state is not None and self.job.state.pack != pack:
            self.job.leave()
        if self.job.state is None:
            self.job.take("pack", pack)
            self.job.begin()

    def show_page(self, page: FaultPage) -> None:
        """Bring one page to the front."""
        self.tabs.setCurrentIndex(self._pages.index(page))

    def refresh(self) -> None:
        """Read the page in view again."""
        if self.isVisible():
            self.page.refresh()

    def take_scan(self, text: str) -> bool:
        """A scan: True when the page in view has a field for it."""
        try:
            found = identify(self._app.store, text)
        except FleetcareError:
            return False
        return self.page.take(found.thing_class, found.code)
