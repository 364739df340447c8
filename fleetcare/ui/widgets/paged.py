"""A screen of pages, one tab each: the page in view is read again, and takes scans into its fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import word
from fleetcare.services.identify import identify
from fleetcare.ui.changes import Changes
from fleetcare.ui.widgets.page import Page
from fleetcare.ui.widgets.tables import Table


def rows_high(table: Table, rows: int) -> None:
    """Give a table the height of its headings and `rows` rows; what is more scrolls inside it."""
    table.keep_lines(rows)


def scrolled(part: QWidget) -> QScrollArea:
    """`part` in a scroll area without a frame."""
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
    scroll.setWidget(part)
    return scroll


class PagedScreen(QWidget):
    """Pages by the key of their tab's words, each made when it is first asked for, so that the window opens at once.

    All scroll, so that nothing is cut off at large text; a page whose `scrolls_itself` is true (it has a stop card)
    scrolls only its form.
    """

    area = ""
    """What stands before a page's key in the key of its tab's words."""

    def __init__(self, app: App, changes: Changes, makers: Mapping[str, Callable[[], Page]]) -> None:
        super().__init__()
        self._app = app
        self._makers = makers
        self._made: dict[str, Page] = {}
        self._holders: dict[str, QVBoxLayout] = {}
        self.tabs = QTabWidget()
        for key in makers:
            holder = QWidget()
            column = self._holders[key] = QVBoxLayout(holder)
            column.setContentsMargins(0, 0, 0, 0)
            self.tabs.addTab(holder, word(f"{self.area}{key}"))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 8)
        outer.addWidget(self.tabs)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        changes.changed.connect(lambda _p, _v: self._follow())

    def _follow(self) -> None:
        if self.isVisible() and self.page.follows_changes:
            self.page.refresh()

    def made(self, key: str) -> Page:
        """The page under `key`, made now if it was not asked for before."""
        page = self._made.get(key)
        if page is None:
            page = self._made[key] = self._makers[key]()
            shown = page if page.scrolls_itself else scrolled(page)
            self._holders[key].addWidget(shown)
            shown.show()
        return page

    @property
    def page(self) -> Page:
        """The page in view."""
        return self.made(list(self._makers)[self.tabs.currentIndex()])

    def show_page(self, page: Page) -> None:
        """Bring one page to the front."""
        key = next(key for key, one in self._made.items() if one is page)
        self.tabs.setCurrentIndex(list(self._makers).index(key))

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
