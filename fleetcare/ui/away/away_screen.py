"""What comes back, gets wet, goes missing, goes to the maker, on a van, or for good: one tab each."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

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
from fleetcare.ui.widgets.deed_page import DeedPage
from fleetcare.ui.widgets.paged import PagedScreen


class AwayScreen(PagedScreen):
    """The pages along a pack's life that happen away from the bench."""

    asked_sheet = Signal(str)
    """A quarantine sheet is wanted for this pack, in one action."""

    asked_van_sheet = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        self._with_all = (app, session, changes)
        makers: dict[str, Callable[[], DeedPage]] = {
            "away.tab_returns": self._returns,
            "away.tab_water": self._water,
            "away.tab_missing": lambda: MissingPage(app, session, changes),
            "away.tab_maker": lambda: MakerPage(app, session, changes),
            "away.tab_vans": self._vans,
            "away.tab_bays": lambda: BaysPage(app, session, changes),
            "away.tab_disposal": lambda: DisposalPage(app, session, changes),
        }
        super().__init__(app, changes, makers)

    def _returns(self) -> ReturnsPage:
        page = ReturnsPage(*self._with_all)
        page.quarantined.connect(self.asked_sheet.emit)
        return page

    def _water(self) -> WaterPage:
        page = WaterPage(*self._with_all)
        page.quarantined.connect(self.asked_sheet.emit)
        return page

    def _vans(self) -> VanPage:
        page = VanPage(*self._with_all)
        page.asked_sheet.connect(self.asked_van_sheet.emit)
        return page

    @property
    def returns(self) -> ReturnsPage:
        """Packs back from hire."""
        return cast(ReturnsPage, self.made("away.tab_returns"))

    @property
    def water(self) -> WaterPage:
        """Water on packs and vehicles."""
        return cast(WaterPage, self.made("away.tab_water"))

    @property
    def missing(self) -> MissingPage:
        """Lost and stolen."""
        return cast(MissingPage, self.made("away.tab_missing"))

    @property
    def maker(self) -> MakerPage:
        """At the maker."""
        return cast(MakerPage, self.made("away.tab_maker"))

    @property
    def vans(self) -> VanPage:
        """Van lists."""
        return cast(VanPage, self.made("away.tab_vans"))

    @property
    def bays(self) -> BaysPage:
        """Bays and pairing."""
        return cast(BaysPage, self.made("away.tab_bays"))

    @property
    def disposal(self) -> DisposalPage:
        """Disposal."""
        return cast(DisposalPage, self.made("away.tab_disposal"))
