"""What comes back, gets wet, goes missing, goes to the maker, on a van, or for good: one tab each."""

from __future__ import annotations

from PySide6.QtCore import Signal

from fleetcare.app import App
from fleetcare.ui.away.bays_page import BaysPage
from fleetcare.ui.away.disposal_page import DisposalPage
from fleetcare.ui.away.maker_page import MakerPage
from fleetcare.ui.away.missing_page import MissingPage
from fleetcare.ui.away.returns_page import ReturnsPage
from fleetcare.ui.away.van_page import VanPage
from fleetcare.ui.away.water_page import WaterPage
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.paged import PagedScreen


class AwayScreen(PagedScreen):
    """The pages along a pack's life that happen away from the bench."""

    asked_sheet = Signal(str)
    """A quarantine sheet is wanted for this pack, in one action."""

    asked_van_sheet = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        self.returns = ReturnsPage(app, session, changes)
        self.water = WaterPage(app, session, changes)
        self.missing = MissingPage(app, session, changes)
        self.maker = MakerPage(app, session, changes)
        self.vans = VanPage(app, session, changes)
        self.bays = BaysPage(app, session, changes)
        self.disposal = DisposalPage(app, session, changes)
        pages = {
            "away.tab_returns": self.returns, "away.tab_water": self.water, "away.tab_missing": self.missing,
            "away.tab_maker": self.maker, "away.tab_vans": self.vans, "away.tab_bays": self.bays,
            "away.tab_disposal": self.disposal,
        }  # fmt: skip
        super().__init__(app, changes, pages)
        self.returns.quarantined.connect(self.asked_sheet.emit)
        self.water.quarantined.connect(self.asked_sheet.emit)
        self.vans.asked_sheet.connect(self.asked_van_sheet.emit)
