"""The round: today, the days ahead, who is away, lay-up, and what the plan rests on."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QScrollArea, QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.inspection_plans import InspectionDone, Kind
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import inspecting
from fleetcare.services.identify import identify
from fleetcare.services.rounds import Round, RoundItem
from fleetcare.ui.changes import Changes
from fleetcare.ui.rounds.ahead_page import AheadPage
from fleetcare.ui.rounds.away_page import AwayPage
from fleetcare.ui.rounds.layup_page import LayUpPage
from fleetcare.ui.rounds.plans_page import PlansPage
from fleetcare.ui.rounds.today_page import TodayPage
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog


class RoundsScreen(QWidget):
    """Five pages; a line's Enter opens the check, the look or the test that it asks for."""

    open_check = Signal(str, str)
    """Pack and vehicle ("" for none) for the bench."""

    open_quarantine = Signal(str)
    open_charger = Signal(str)
    asked_print = Signal()

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.today = TodayPage(app, session, changes)
        self.ahead = AheadPage()
        self._depot = ""
        self._made: dict[int, AwayPage | LayUpPage | PlansPage] = {}
        self._holders = {number: _holder() for number in _LATER}
        self.tabs = QTabWidget()
        self.tabs.addTab(self.today, word("round.today"))
        self.tabs.addTab(self.ahead, word("round.days_ahead"))
        for number, (key, _) in _LATER.items():
            self.tabs.addTab(self._holders[number], word(key))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 4)
        outer.addWidget(self.tabs)
        self.today.read.connect(self._read)
        self.today.start.connect(self.start)
        self.today.asked_print.connect(self.asked_print.emit)
        self.ahead.start.connect(self.start)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def _page(self, number: int) -> AwayPage | LayUpPage | PlansPage:
        """A page that is made when it is first opened: the window opens sooner without it."""
        page = self._made.get(number)
        if page is None:
            page = self._made[number] = _LATER[number][1](self._app, self._session, self._changes)
            self._holders[number].setWidget(page)
        if isinstance(page, AwayPage):
            page.depot = self._depot
        return page

    @property
    def away(self) -> AwayPage:
        """The page of who is away."""
        page = self._page(2)
        assert isinstance(page, AwayPage)
        return page

    @property
    def layup(self) -> LayUpPage:
        """The page of lay-up."""
        page = self._page(3)
        assert isinstance(page, LayUpPage)
        return page

    @property
    def table(self) -> QWidget:
        """The table in view, for the focus."""
        number = self.tabs.currentIndex()
        return (self.today, self.ahead)[number].table if number < 2 else self._page(number).table

    def show_plans(self) -> None:
        """Bring plans and hours to the front."""
        self.tabs.setCurrentIndex(4)

    def refresh(self) -> None:
        """Read the page in view again."""
        number = self.tabs.currentIndex()
        if number < 2:
            self.today.refresh()
        else:
            self._page(number).refresh()

    def _read(self, found: Round) -> None:
        self._depot = found.depot
        self.ahead.show_round(found)

    def start(self, line: RoundItem) -> None:
        """Open what a line asks for."""
        item = line.item
        match item.kind:
            case Kind.CHECK | Kind.COMMISSIONING | Kind.LOOK_OVER:
                self.open_check.emit(item.subject, item.vehicle or "")
            case Kind.LAY_UP_LOOK:
                self.tabs.setCurrentIndex(3)
                self.layup.take(item.subject)
            case Kind.QUARANTINE_LOOK:
                self.open_quarantine.emit(item.subject)
            case Kind.CHARGER_TEST:
                self.open_charger.emit(item.subject)
            case Kind.YEARLY | Kind.VEHICLE_LOOK:
                self.ask_inspection(line)

    def ask_inspection(self, line: RoundItem) -> None:
        """Ask what an inspection without a record of its own found, and keep it."""
        item = line.item
        author = self._session.author(self._changes.position)
        if author is None:
            self.today.tell(word("round.sign_in_first"))
            return
        found = Field(word("round.found_not_in_order"))
        heading = say(
            msg("round.done_question", what=msg(f"plan_kind.{item.kind.value}"), subject=item.subject)
        ).capitalize()  # fmt: skip

        def deed() -> None:
            store, clock = self._app.store, self._app.clock
            done = InspectionDone(item.kind.value, None, item.subject, clock(), found.text.strip())
            recorded = inspecting.record_inspection(store, clock, author, done)
            self.today.tell(say(recorded.message))
            self._changes.tell(recorded)

        AskDialog(self, heading, (found,), word("round.inspection_done"), deed).exec()

    def take_scan(self, text: str) -> bool:
        """A scan: a pack of the round opens its check, on the lay-up page its look; False when it is neither."""
        try:
            found = identify(self._app.store, text)
        except FleetcareError:
            return False
        if found.thing_class != "pack":
            return False
        if self.tabs.currentIndex() == 3:
            self.layup.take(found.code)
            return True
        if self.tabs.currentIndex() == 0 and self.today.round is not None:
            for line in self.today.round.today:
                if line.item.subject == found.code:
                    self.start(line)
                    return True
        return False


_LATER: dict[int, tuple[str, type[AwayPage] | type[LayUpPage] | type[PlansPage]]] = {
    2: ("round.away_tab", AwayPage),
    3: ("round.layup_tab", LayUpPage),
    4: ("plan.tab", PlansPage),
}


def _holder() -> QScrollArea:
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QScrollArea.Shape.NoFrame)
    return area
