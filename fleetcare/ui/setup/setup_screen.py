"""Fleet set-up: the next steps, one page for each kind of thing, and many vehicles at once."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.packs import Role
from fleetcare.domain.wording import word
from fleetcare.services.identify import identify
from fleetcare.services.setting_up import KINDS
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.setup.list_page import VehicleListPage
from fleetcare.ui.setup.steps_page import StepsPage
from fleetcare.ui.setup.thing_page import ThingPage
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.deed_page import large_text
from fleetcare.ui.widgets.paged import scrolled

Page = StepsPage | ThingPage | VehicleListPage
TABS = ("steps", "depot", "pack_model", "vehicle", "list", "charger", "meter", "test_load", "site_rules")
"""The pages in the order of the steps."""


class SetupScreen(QWidget):
    """Each page is made when it is first opened.  `wanted` names a place outside of this screen."""

    wanted = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._made: dict[str, Page] = {}
        self._holders: dict[str, QVBoxLayout] = {}
        self.note = words(word("setup.manager_note"), quiet=True)
        self.tabs = QTabWidget()
        for name in TABS:
            holder = QWidget()
            column = self._holders[name] = QVBoxLayout(holder)
            column.setContentsMargins(0, 0, 0, 0)
            self.tabs.addTab(holder, word(f"setup.tab_{name}"))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 4)
        outer.addWidget(self.note)
        outer.addWidget(self.tabs, 1)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        session.person_changed.connect(self._show_note)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())
        self._show_note()

    def _show_note(self) -> None:
        person = self._session.person
        self.note.setVisible(person is None or Role.MANAGER not in person.roles)

    def made(self, name: str) -> Page:
        """The page of that name, made now if it was not asked for before."""
        page = self._made.get(name)
        if page is None:
            page = self._made[name] = self._make(name)
            alone = isinstance(page, ThingPage) and not large_text()
            shown = page if alone else scrolled(page)
            self._holders[name].addWidget(shown)
            shown.show()
        return page

    def _make(self, name: str) -> Page:
        app, session, changes = self._app, self._session, self._changes
        if name == "steps":
            steps = StepsPage(app)
            steps.wanted.connect(self._go)
            return steps
        if name == "list":
            many = VehicleListPage(app, session, changes)
            many.labels_wanted.connect(lambda: self.wanted.emit("labels"))
            return many
        return ThingPage(app, session, changes, name)

    def thing_page(self, kind: str) -> ThingPage:
        """The page of one kind of thing."""
        page = self.made(kind)
        assert isinstance(page, ThingPage)
        return page

    @property
    def page(self) -> Page:
        """The page in view."""
        return self.made(TABS[self.tabs.currentIndex()])

    @property
    def first(self) -> QWidget:
        """Where the focus goes."""
        return self.page.first

    def show_page(self, name: str) -> None:
        """Bring a page to the front; an empty kind of thing begins with its form."""
        self.tabs.setCurrentIndex(TABS.index(name))
        self.first.setFocus()

    def _go(self, name: str) -> None:
        if name in TABS:
            self.show_page(name)
        else:
            self.wanted.emit(name)

    def refresh(self) -> None:
        """Read the page in view again."""
        if self.isVisible():
            self.page.refresh()

    def take_scan(self, text: str) -> bool:
        """A scan of a thing that has a form opens it; False for anything else."""
        try:
            found = identify(self._app.store, text)
        except FleetcareError:
            return False
        if found.thing_class not in KINDS:
            return False
        self.show_page(found.thing_class)
        self.thing_page(found.thing_class).choose(found.code)
        return True
