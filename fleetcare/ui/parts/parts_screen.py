"""The small stock of parts, and the jobs that use it beside fuse change and guided reset."""

from __future__ import annotations

from fleetcare.app import App
from fleetcare.ui.changes import Changes
from fleetcare.ui.parts.replace_page import ReplacePage
from fleetcare.ui.parts.stock_page import StockPage
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.paged import PagedScreen


class PartsScreen(PagedScreen):
    """Stock, and the replacement of a display board or connector."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        self.stock = StockPage(app, session, changes)
        self.replace = ReplacePage(app, session, changes)
        super().__init__(app, changes, {"parts.tab_stock": self.stock, "parts.tab_replace": self.replace})
