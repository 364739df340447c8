"""The small stock of parts, and the jobs that use it beside fuse change and guided reset."""

from __future__ import annotations

from typing import cast

from fleetcare.app import App
from fleetcare.ui.changes import Changes
from fleetcare.ui.parts.replace_page import ReplacePage
from fleetcare.ui.parts.stock_page import StockPage
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.paged import PagedScreen


class PartsScreen(PagedScreen):
    """Stock, and the replacement of a display board or connector."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        with_all = (app, session, changes)
        makers = {"parts.tab_stock": lambda: StockPage(*with_all), "parts.tab_replace": lambda: ReplacePage(*with_all)}
        super().__init__(app, changes, makers)

    @property
    def stock(self) -> StockPage:
        """The stock."""
        return cast(StockPage, self.made("parts.tab_stock"))

    @property
    def replace(self) -> ReplacePage:
        """Replacement of a display board or connector."""
        return cast(ReplacePage, self.made("parts.tab_replace"))
