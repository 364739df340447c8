"""From "it cut out" to a decision that stands up later: the pages of a fault, one tab each."""

from __future__ import annotations

from PySide6.QtCore import Signal

from fleetcare.app import App
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
from fleetcare.ui.widgets.paged import PagedScreen


class FaultsScreen(PagedScreen):
    """The pages share scans: a code goes into the field of its class on the page in view."""

    area = "faults.tab_"
    open_pack = Signal(str)
    open_vehicle = Signal(str)
    asked_sheet = Signal(str)
    """A quarantine sheet is wanted for this pack, in one action."""

    asked_job_sheet = Signal(object)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        with_all = (app, session, changes)
        self.report, self.trips, self.tallies = ReportPage(*with_all), TripsPage(*with_all), TalliesPage(*with_all)
        self.tree, self.job, self.fuse = TreePage(*with_all), JobPage(*with_all), FusePage(*with_all)
        self.quarantine, self.chargers = QuarantinePage(*with_all), ChargerPage(*with_all)
        self.holds = HoldsPage(*with_all)
        pages: dict[str, FaultPage] = {
            "report": self.report, "trips": self.trips, "tallies": self.tallies, "tree": self.tree, "job": self.job,
            "fuse": self.fuse, "quarantine": self.quarantine, "chargers": self.chargers, "holds": self.holds,
        }  # fmt: skip
        super().__init__(app, changes, {key: lambda page=page: page for key, page in pages.items()})
        for key in pages:
            self.made(key)
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
