"""A screen of pages of deeds, one tab each: the page in view is read again, and takes scans into its fields."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import word
from fleetcare.services.identify import identify
from fleetcare.ui.changes import Changes
from fleetcare.ui.widgets.deed_page import DeedPage


class PagedScreen(QWidget):
    """`pages` by the key of their tab's words; all scroll, so that nothing is cut off at large text."""

    def __init__(self, app: App, changes: Changes, pages: dict[str, DeedPage]) -> None:
        super().__init__()
        self._app = app
        self._pages = tuple(pages.values())
        self.tabs = QTabWidget()
        for key, page in pages.items():
            scroll = QScrollArea()
            scroll.setWidgetResizable(True)
            scroll.setFrameShape(QFrame.Shape.NoFrame)
            scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
            scroll.setWidget(page)
            self.tabs.addTab(scroll, word(key))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 8)
        outer.addWidget(self.tabs)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.page.refresh())

    @property
    def page(self) -> DeedPage:
        """The page in view."""
        return self._pages[self.tabs.currentIndex()]

    def show_page(self, page: DeedPage) -> None:
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
