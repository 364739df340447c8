"""Fleet set-up: the next steps, one page for each kind of thing, and many vehicles at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

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
from fleetcare.ui.widgets.page import Page
from fleetcare.ui.widgets.paged import PagedScreen

TABS = ("steps", "depot", "pack_model", "vehicle", "list", "charger", "meter", "test_load", "site_rules")
"""The pages in the order of the steps."""


class SetupScreen(PagedScreen):
    """`wanted` names a place outside of this screen."""

    area = "setup.tab_"
    wanted = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        self._session, self._changes = session, changes
        makers: dict[str, Callable[[], Page]] = {
            name: lambda name=name: ThingPage(app, session, changes, name) for name in TABS
        }
        super().__init__(app, changes, makers | {"steps": self._steps, "list": self._list})
        self.note = words(word("setup.manager_note"), quiet=True)
        outer = self.layout()
        assert isinstance(outer, QVBoxLayout)
        outer.setContentsMargins(12, 8, 12, 4)
        outer.insertWidget(0, self.note)
        session.person_changed.connect(self._show_note)
        self._show_note()

    def _show_note(self) -> None:
        person = self._session.person
        self.note.setVisible(person is None or Role.MANAGER not in person.roles)

    def _steps(self) -> StepsPage:
        steps = StepsPage(self._app)
        steps.wanted.connect(self._go)
        return steps

    def _list(self) -> VehicleListPage:
        many = VehicleListPage(self._app, self._session, self._changes)
        many.labels_wanted.connect(lambda: self.wanted.emit("labels"))
        return many

    def thing_page(self, kind: str) -> ThingPage:
        """The page of one kind of thing."""
        return cast(ThingPage, self.made(kind))

    @property
    def first(self) -> QWidget:
        """Where the focus goes."""
        return cast(StepsPage | ThingPage | VehicleListPage, self.page).first

    def go_to(self, name: str) -> None:
        """Bring a page to the front; an empty kind of thing begins with its form."""
        self.tabs.setCurrentIndex(TABS.index(name))
        self.first.setFocus()

    def _go(self, name: str) -> None:
        if name in TABS:
            self.go_to(name)
        else:
            self.wanted.emit(name)

    def unsaved(self) -> dict[str, tuple[str, ...]]:
        """By kind of thing the codes ("" for a new one) of what is typed and not recorded."""
        things = {kind: self._made.get(kind) for kind in KINDS}
        found = {kind: page.unsaved() for kind, page in things.items() if isinstance(page, ThingPage)}
        return {kind: codes for kind, codes in found.items() if codes}

    def take_scan(self, text: str) -> bool:
        """A scan of a thing that has a form opens it; False for anything else."""
        try:
            found = identify(self._app.store, text)
        except FleetcareError:
            return False
        if found.thing_class not in KINDS:
            return False
        self.go_to(found.thing_class)
        self.thing_page(found.thing_class).choose(found.code)
        return True
