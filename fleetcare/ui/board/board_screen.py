"""The board: what can go out, what cannot, why, and what would free it."""

from __future__ import annotations

import time

from PySide6.QtCore import QSignalBlocker, QTimer, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QHBoxLayout,
    QLayout,
    QLineEdit,
    QMenu,
    QPushButton,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.packs import VehicleKind
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import since_seen
from fleetcare.services.shown import FleetSummary, VehicleSummary
from fleetcare.services.since_seen import SinceSeen
from fleetcare.ui.background import Background
from fleetcare.ui.board.at_work import AtWorkDialog
from fleetcare.ui.board.board_copy import BoardCopy, CopyDialog
from fleetcare.ui.board.columns import ORDER
from fleetcare.ui.board.feed import BoardFeed, Reading
from fleetcare.ui.board.header import Header
from fleetcare.ui.board.planned_days import PlannedDays
from fleetcare.ui.board.side import SidePanel
from fleetcare.ui.board.tiles import Tiles
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.empty_notice import EmptyNotice
from fleetcare.ui.widgets.flow import Flow
from fleetcare.ui.widgets.holding import Holding
from fleetcare.ui.widgets.tables import RowModel, Table

AGE_CHECK_MS = 10_000
LONGEST_WAIT_S = 60.0
"""After so long a reading of changes that never came back no longer holds up the next."""


class BoardScreen(QWidget):
    """Counts on top that add up to the fleet; tiles or a table below, and beside them the selected vehicle."""

    open_vehicle = Signal(str)
    report_wanted = Signal(str, str)
    """A rider's report about this vehicle and the pack in it ("" where there is none, or two)."""

    asked_print = Signal()
    asked_second = Signal(bool)
    """A window for a second screen is wanted; True: over the full screen."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.feed = BoardFeed(app, changes, self)
        self._since, self._before = Background(self), since_seen.Before()
        self.planned = PlannedDays(app, self)
        self._since_free = 0.0
        self._since_timer = QTimer(self)
        self._since_timer.setSingleShot(True)
        self._holding = Holding(self, app, session, changes)
        self._numbers: dict[str, int] = {}
        self._chosen = ""
        large = app.settings.text_percent > 125
        self.header = Header(self.feed, large=large)
        self.as_of, self.total, self.badges = self.header.as_of, self.header.total, self.header.badges
        self.search = QLineEdit()
        self.search.setPlaceholderText(word("screen.search"))
        self.search.setAccessibleName(word("screen.search"))
        self.search.setMaximumWidth(220)
        self.depot = _choice(word("list.depot"), word("board.all_depots"), [])
        self.vehicle_kind = _choice(word("list.kind"), word("board.all_kinds"),
                                    [(word(f"vehicle_kind.{k.value}"), k) for k in VehicleKind])  # fmt: skip
        self.state = _choice(word("list.state"), word("screen.all_states"),
                             [(word(f"board_state.{s.value}"), s) for s in ORDER])  # fmt: skip
        self.kind = _choice(word("list.class"), word("screen.all_classes"),
                            [(word(f"hold_class.{c.value}"), c) for c in HoldClass])  # fmt: skip
        self.shown = words(quiet=True)
        self.shown.setWordWrap(False)
        self.views = QButtonGroup(self)
        self.printing = QPushButton(word("screen.print"))
        self.more = QPushButton(word("board.show"))
        self.model = RowModel(self.feed.columns)
        self.tiles = Tiles(self.model, large=large)
        self.table = Table(self.model, word("window.board"), stretch=3, wraps=not large)
        self.table.sort_by_headings()
        self.table.setFont(sized(1.05))
        self.empty = EmptyNotice(app, word("screen.empty_board"))
        self.none_fits = words(word("screen.empty_filter"), quiet=True)
        self.side = SidePanel(large=large)
        self.filters = QPushButton(word("board.filter"))
        self.at_work = QPushButton(word("board.at_work_unknown"))
        self.copy = BoardCopy(self.feed, app, self)
        self._lay_out(large=large)
        self._connect()
        self._timer = QTimer(self)
        self._timer.setInterval(AGE_CHECK_MS)
        self._timer.timeout.connect(self._tick)
        self._timer.start()

    def _lay_out(self, *, large: bool) -> None:
        first: QLayout = Flow() if large else QHBoxLayout()
        first.addWidget(self.search)
        if large:
            first.addWidget(self.filters)
        else:
            self._add_filters(first)
        for number, name in enumerate(("tiles", "table")):
            button = QPushButton(word(f"board.{name}"))
            button.setCheckable(True)
            button.setChecked(number == 0)
            self.views.addButton(button, number)
            first.addWidget(button)
        first.addWidget(self.printing)
        menu = QMenu(self.more)
        for key, act in (("second", lambda: self.asked_second.emit(False)), ("full", lambda: self.asked_second.emit(True)),
                         ("copy", self.ask_copy)):  # fmt: skip
            action = QAction(word(f"board.{key}"), self)
            action.triggered.connect(lambda _on=False, a=act: a())
            menu.addAction(action)
        self.more.setMenu(menu)
        first.addWidget(self.more)
        self._stack = QStackedLayout()
        for widget in (self.tiles, self.table, self.empty, self.none_fits):
            self._stack.addWidget(widget)
        self._beside = QWidget()
        right = QVBoxLayout(self._beside)
        right.setContentsMargins(0, 0, 0, 0)
        right.addWidget(self.side, 1)
        if large:
            first.addWidget(self.at_work)
        else:
            right.addWidget(self.at_work)
            self.at_work.setFixedWidth(self.side.width())
        body = QHBoxLayout()
        body.setSpacing(10)
        body.addLayout(self._stack, 1)
        body.addWidget(self._beside)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 6)
        outer.setSpacing(6)
        outer.addWidget(self.header)
        if large:
            outer.addLayout(self._lists_row())
        outer.addLayout(first)
        if large:
            outer.addWidget(self._filter_row())
        outer.addLayout(body, 1)

    def _add_filters(self, row: QLayout) -> None:
        for box in (self.depot, self.vehicle_kind, self.state, self.kind):
            row.addWidget(box)
        row.addWidget(self.shown)
        if isinstance(row, QHBoxLayout):
            row.setStretchFactor(self.shown, 1)

    def _lists_row(self) -> Flow:
        """Large letters: how fresh the board is and the four lists, over its whole width."""
        row = Flow()
        row.addWidget(self.header.as_of)
        for chip in self.side.chips.values():
            chip.setProperty("role", "small")
            row.addWidget(chip)
        return row

    def _filter_row(self) -> QWidget:
        """Large letters: the filters are shown when they are asked for."""
        part = QWidget()
        self._add_filters(Flow(parent=part))
        self.filters.setCheckable(True)
        self.filters.toggled.connect(part.setVisible)
        self.filters.toggled.connect(lambda on: on or self._show_all())
        part.hide()
        return part

    def _connect(self) -> None:
        for view in (self.tiles, self.table):
            view.opened.connect(lambda line: self.open_vehicle.emit(line.vehicle.code))
        self.tiles.chosen.connect(self._choose)
        self.table.selectionModel().currentRowChanged.connect(
            lambda index, _old: self._choose(self.model.shown_row(index.row()) if index.isValid() else None)
        )
        self.search.textChanged.connect(lambda _t: self._filter())
        for box in (self.depot, self.vehicle_kind, self.state, self.kind):
            box.currentIndexChanged.connect(lambda _i: self._filter())
        self.views.idClicked.connect(self.show_view)
        self.printing.clicked.connect(self.asked_print.emit)
        self.side.vehicle_wanted.connect(self.choose)
        self.side.seen.connect(self._seen)
        self.side.details.asked.connect(self._asked)
        self.planned.found.connect(self.side.details.take_plan)
        self.planned.doubted.connect(self.side.details.take_doubts)
        self.at_work.clicked.connect(self.ask_at_work)
        self.feed.glimpsed.connect(self._arrived)
        self.feed.arrived.connect(self._arrived)
        self.feed.failed.connect(lambda _why: self._tick())
        self._session.person_changed.connect(self._read_changes_now)
        self._since_timer.timeout.connect(self._read_changes)

    @property
    def fleet(self) -> FleetSummary | None:
        """The board as last read."""
        return self.feed.fleet

    @property
    def first(self) -> QWidget:
        """The view that takes the keys: tiles or table."""
        return self.tiles if self.views.checkedId() == 0 else self.table

    def refresh(self) -> None:
        """Read what changed, off the GUI thread."""
        self.feed.refresh()

    def show_view(self, number: int) -> None:
        """Tiles (0) with the chosen vehicle beside them, or the table (1) in full width with all its columns."""
        self.views.button(number).setChecked(True)
        self._beside.setVisible(number == 0)
        # in large letters these stand elsewhere, and their lists are beside the tiles
        for chip in self.side.chips.values():
            chip.setVisible(number == 0)
        self._stack_right()

    # readings

    def _arrived(self, reading: Reading) -> None:
        fleet = reading.fleet
        if reading.moved:
            kept = self._chosen
            self.model.set_prepared(reading.rows)
            self._numbers = reading.numbers
            self._offer_depots(fleet)
            self.tiles.arrange()
            self._count_shown()
            if kept:
                self._keep_chosen(kept)
            elif self.tiles.hasFocus() and not self.side.shows_list:
                self.tiles.setCurrentIndex(self.model.index(0, 0))
        else:
            for number, line in reading.changed:
                self.model.replace_row(number, line)
        self.side.take(reading)
        if self._chosen in self._numbers and not self.side.shows_list:
            self._choose(fleet.vehicles[self._numbers[self._chosen]])
        if fleet.at_work is None:
            self.at_work.setText(word("board.at_work_unknown"))
        else:
            self.at_work.setText(say(msg("board.at_work", names=fleet.at_work or msg("board.nobody"))))
        self.at_work.setToolTip(word("board.change_at_work"))
        self._stack_right()
        self._tick()
        self._read_changes()

    def _keep_chosen(self, code: str) -> None:
        """Select the same vehicle again in another order: a list in view stays, and so does the place scrolled to."""
        place = self.tiles.verticalScrollBar().value()
        with QSignalBlocker(self.tiles):
            self.tiles.choose(code)
        self.tiles.verticalScrollBar().setValue(place)

    def _offer_depots(self, fleet: FleetSummary) -> None:
        offered = [self.depot.itemData(n) for n in range(1, self.depot.count())]
        if offered != [code for code, _name in fleet.depots]:
            kept = self.depot.currentData()
            self.depot.blockSignals(True)
            while self.depot.count() > 1:
                self.depot.removeItem(1)
            for code, name in fleet.depots:
                self.depot.addItem(name, code)
            self.depot.setCurrentIndex(max(self.depot.findData(kept), 0))
            self.depot.blockSignals(False)
            self.depot.setVisible(len(fleet.depots) > 1)

    def _stack_right(self) -> None:
        if not self.model.rows:
            self.empty.refresh()
            self._stack.setCurrentWidget(self.empty)
        elif not self.model.rowCount():
            self._stack.setCurrentWidget(self.none_fits)
        else:
            self._stack.setCurrentIndex(self.views.checkedId())

    def _tick(self) -> None:
        """The time of the board; an old board turns grey and says so."""
        stale = self.header.renew()
        if stale != self.tiles.stale:
            self.tiles.set_stale(stale)
            self.table.setEnabled(not stale)
            if self._chosen in self._numbers and self.fleet is not None:
                self.side.details.show_line(self.fleet.vehicles[self._numbers[self._chosen]], self.fleet, stale=stale)

    # the selected vehicle

    def _choose(self, line: VehicleSummary | None) -> None:
        if line is not None:
            self._chosen = line.vehicle.code
            self.side.show_vehicle(line, self.fleet, stale=self.feed.stale)
            self.planned.ask(line)

    def _show_all(self) -> None:
        for box in (self.depot, self.vehicle_kind, self.state, self.kind):
            box.setCurrentIndex(0)

    def choose(self, code: str) -> None:
        """Select a vehicle; a filter that hides it is taken away."""
        if code not in self._numbers:
            return
        self.tiles.choose(code)
        if self._chosen != code:
            self._show_all()
            self.search.clear()
            self.tiles.choose(code)
        assert self.fleet is not None
        self._choose(self.fleet.vehicles[self._numbers[code]])

    def _asked(self, what: str, code: str) -> None:
        line = self.side.details.line
        assert line is not None
        if what == "open":
            self.open_vehicle.emit(code)
        elif what == "report":
            self.report_wanted.emit(code, line.packs[0].code if len(line.packs) == 1 else "")
        elif what == "ground":
            self._holding.hold("vehicle", code)
        else:
            self.wanted_anyway(line)

    def wanted_anyway(self, line: VehicleSummary) -> None:
        """Say what stands in the way of each reason, and what may be done about it."""
        from fleetcare.ui.board.anyway import AnywayDialog

        assert self.fleet is not None
        AnywayDialog(self, self._app, self._session, self._changes, line, self.fleet).exec()

    def ask_at_work(self) -> None:
        """Ask who is at work today."""
        AtWorkDialog(self, self._app, self._session, self._changes).exec()

    def ask_copy(self) -> None:
        """Ask for the folder that a copy of the board is written to."""
        CopyDialog(self, self.copy).exec()

    # since last seen

    def _read_changes_now(self) -> None:
        """Another person: their own list at once."""
        self._since_free = 0.0
        self._read_changes()

    def _read_changes(self) -> None:
        """Ask what changed since this person looked; not more often than a tenth of the time may go into it."""
        fleet, facts, app = self.fleet, self.feed.board.facts, self._app
        if fleet is None or facts is None:
            return
        wait = self._since_free - time.monotonic()
        if wait > 0:
            self._since_timer.start(round(wait * 1000) + 1)
            return
        person = self._session.person.code if self._session.person else ""
        began = time.monotonic()
        self._since_free = began + LONGEST_WAIT_S

        def take(found: SinceSeen) -> None:
            now = time.monotonic()
            self._since_free = now + 9 * (now - began)
            self.side.take_changes(found)

        self._since.ask(
            lambda: since_seen.since_seen(app.store, app.clock, person, fleet, facts, self._before),
            take,
            self._no_changes,
        )

    def _no_changes(self, error: Exception) -> None:
        """The file could not be read: the board's age tells it."""
        self._since_free = 0.0
        if not isinstance(error, FleetcareError):
            raise error

    def _seen(self, position: int) -> None:
        if self._session.person is None:
            self.side.heading.setText(word("screen.sign_first"))
            return
        since_seen.mark_seen(self._app.store, self._app.clock, self._session.person.code, position)
        self._since_free = 0.0
        self._read_changes()

    # filters

    def _filter(self) -> None:
        typed = self.search.text().strip().lower()
        state, kind = self.state.currentData(), self.kind.currentData()
        depot, vehicle_kind = self.depot.currentData(), self.vehicle_kind.currentData()

        def keep(line: VehicleSummary, told: str) -> bool:
            if state is not None and line.status.state != state:
                return False
            if depot is not None and line.vehicle.depot != depot:
                return False
            if vehicle_kind is not None and line.vehicle.kind != vehicle_kind:
                return False
            if kind is not None and all(reason.hold_class != kind for reason in line.status.reasons):
                return False
            return not typed or typed in told or any(typed in pack.code.lower() for pack in line.packs)

        asked = typed or any(one is not None for one in (state, depot, vehicle_kind, kind))
        self.model.set_keep(keep if asked else None)
        self.tiles.arrange()
        self._count_shown()
        self._stack_right()

    def _count_shown(self) -> None:
        shown, of = self.model.rowCount(), len(self.model.rows)
        unread = 0 if self.fleet is None else self.fleet.unread
        told = [] if shown == of else [say(msg("board.shown", shown=shown, of=of))]
        told += [say(msg("board.unread", count=unread))] if unread else []
        self.shown.setText(" · ".join(told))


def _choice(name: str, every: str, entries: list[tuple[str, object]]) -> QComboBox:
    box = QComboBox()
    box.setAccessibleName(name)
    box.addItem(every, None)
    for text, value in entries:
        box.addItem(text, value)
    return box
