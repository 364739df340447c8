"""The board: what can go out, what cannot, why, and what would free it."""

from __future__ import annotations

import datetime as dt

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QPushButton, QStackedLayout, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import summary
from fleetcare.services.shown import FleetSummary, VehicleSummary
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Column, Prepared, RowModel, Table, prepare

STALE_CHECK_MS = 30_000
_ORDER = (BoardState.GROUNDED, BoardState.LIMITED, BoardState.READY_BUT_DUE, BoardState.READY)
_STATE_MARK = {
    BoardState.GROUNDED: colours.FAULT,
    BoardState.LIMITED: colours.CAUTION,
    BoardState.READY_BUT_DUE: colours.ACTION,
    BoardState.READY: colours.GOOD,
}


def _reasons(line: VehicleSummary) -> str:
    return "; ".join(say(reason.text) for reason in line.status.reasons)


def _class(line: VehicleSummary) -> str:
    return word(f"hold_class.{line.status.reasons[0].hold_class.value}") if line.status.reasons else ""


def _since(line: VehicleSummary) -> str:
    since = line.status.reasons[0].since if line.status.reasons else None
    return "" if since is None else f"{since:%d %b %H:%M}"


def _next(line: VehicleSummary) -> str:
    return say(line.status.reasons[0].next_step) if line.status.reasons else ""


COLUMNS = (
    Column(word("list.vehicle"), lambda v: v.vehicle.code, width=9),
    Column(word("list.state"), lambda v: word(f"board_state.{v.status.state.value}"),
           sort=lambda v: _ORDER.index(v.status.state), mark=lambda v: colours.of_vehicle(v.status), width=22),
    Column(word("list.class"), _class, width=11),
    Column(word("list.reason"), _reasons, width=38, tip=True),
    Column(word("list.since"), _since, width=13,
           sort=lambda v: v.status.reasons[0].since.timestamp() if v.status.reasons and v.status.reasons[0].since else None),
    Column(word("list.next"), _next, width=32, tip=True),
    Column(word("list.clears"), lambda v: ", ".join(v.may_clear), width=11, tip=True),
    Column(word("list.offers"), lambda v: ", ".join(offer.pack for offer in v.offers), width=21, tip=True),
    Column(word("list.due"), lambda v: f"{v.status.due_on:%d %b}" if v.status.due_on else "",
           sort=lambda v: v.status.due_on, width=7),
)  # fmt: skip


class BoardScreen(QWidget):
    """Counts on top that add up to the fleet; below, one line a vehicle, the worst first."""

    open_vehicle = Signal(str)
    asked_print = Signal()

    def __init__(self, app: App, changes: Changes) -> None:
        super().__init__()
        self._app = app
        self._background = Background(self)
        self._one = Background(self)
        self._fleet: FleetSummary | None = None
        self._numbers: dict[str, int] = {}
        self.as_of = words(size=1.7, bold=True)
        self.as_of.setWordWrap(False)
        self.total = words(size=1.3, bold=True)
        self.total.setWordWrap(False)
        self.badges: dict[BoardState, Badge] = {}
        self.drafts = words(quiet=True)
        self.search = QLineEdit()
        self.search.setPlaceholderText(word("screen.search"))
        self.search.setAccessibleName(word("screen.search"))
        self.search.setMaximumWidth(240)
        self.state = _choice(word("list.state"), word("screen.all_states"),
                             [(word(f"board_state.{s.value}"), s) for s in _ORDER])  # fmt: skip
        self.kind = _choice(word("list.class"), word("screen.all_classes"),
                            [(word(f"hold_class.{c.value}"), c) for c in HoldClass])  # fmt: skip
        self.printing = QPushButton(word("screen.print"))
        self.model = RowModel(COLUMNS)
        self.table = Table(self.model, word("window.board"), stretch=3)
        self.table.sort_by_headings()
        self.table.setFont(sized(1.05))
        self.empty = words(word("screen.empty_board"), quiet=True)
        self.away = words()
        self.away.hide()
        self._lay_out()
        self.table.opened.connect(lambda line: self.open_vehicle.emit(line.vehicle.code))
        self.search.textChanged.connect(lambda _t: self._filter())
        self.state.currentIndexChanged.connect(lambda _i: self._filter())
        self.kind.currentIndexChanged.connect(lambda _i: self._filter())
        self.printing.clicked.connect(self.asked_print.emit)
        changes.changed.connect(self._changed)
        self._timer = QTimer(self)
        self._timer.setInterval(STALE_CHECK_MS)
        self._timer.timeout.connect(self._tick)
        self._timer.start()

    def _lay_out(self) -> None:
        top, counts = QHBoxLayout(), QHBoxLayout()
        counts.setSpacing(10)
        top.addWidget(self.total)
        large = self._app.settings.text_percent > 125
        if not large:
            top.addLayout(counts)
        for state in _ORDER[::-1]:
            badge = self.badges[state] = Badge()
            badge.setFont(sized(1.2, bold=True))
            counts.addWidget(badge)
        counts.addStretch(1)
        top.addStretch(1)
        top.addWidget(self.as_of)
        tools = QHBoxLayout()
        for widget in (self.search, self.state, self.kind):
            tools.addWidget(widget)
        tools.addWidget(self.drafts, 1)
        tools.addWidget(self.printing)
        self._stack = QStackedLayout()
        self._stack.addWidget(self.table)
        self._stack.addWidget(self.empty)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addLayout(top)
        if large:
            outer.addLayout(counts)
        outer.addWidget(self.away)
        outer.addLayout(tools)
        outer.addLayout(self._stack, 1)

    @property
    def fleet(self) -> FleetSummary | None:
        """The board as last read."""
        return self._fleet

    def refresh(self) -> None:
        """Read the whole board again, off the GUI thread."""
        app = self._app

        def read() -> tuple[FleetSummary, Prepared]:
            fleet = summary.fleet_summary(app.store, app.clock)
            return fleet, prepare(COLUMNS, fleet.vehicles)

        self._background.ask(read, self._show)

    def _show(self, answer: tuple[FleetSummary, Prepared]) -> None:
        fleet, prepared = answer
        self._fleet = fleet
        self._numbers = {line.vehicle.code: number for number, line in enumerate(fleet.vehicles)}
        self.model.set_prepared(prepared)
        self.total.setText(say(msg("screen.counts_are", total=len(fleet.vehicles))))
        for state, badge in self.badges.items():
            badge.show_state(_STATE_MARK[state], f"{fleet.counts[state]} {word(f'board_state.{state.value}')}")
        drafts = ", ".join(say(msg("screen.draft", person=who, subject=what, at=at)) for who, what, at in fleet.drafts)
        self.drafts.setText(say(msg("screen.drafts", drafts=drafts)) if drafts else "")
        self.away.setText("" if fleet.away_told is None else say(fleet.away_told))
        self.away.setVisible(fleet.away_told is not None)
        self._stack.setCurrentWidget(self.table if fleet.vehicles else self.empty)
        self._tick()

    def _changed(self, packs: frozenset[str], vehicles: frozenset[str]) -> None:
        """Re-read the vehicles that were touched; new ones need the whole board."""
        if (
            self._fleet is None
            or not vehicles <= self._numbers.keys()
            or (packs and not vehicles)
            or len(vehicles) > 50
        ):
            self.refresh()
            return
        app, codes = self._app, sorted(vehicles)
        self._one.ask(lambda: summary.fleet_summary(app.store, app.clock), lambda fleet: self._replace(fleet, codes))

    def _replace(self, fleet: FleetSummary, codes: list[str]) -> None:
        """Show the new lines where the vehicles stand, and the new counts."""
        by_code = {line.vehicle.code: line for line in fleet.vehicles}
        self._fleet = fleet
        for code in codes:
            if code in self._numbers and code in by_code:
                self.model.replace_row(self._numbers[code], by_code[code])
        for state, badge in self.badges.items():
            badge.show_state(_STATE_MARK[state], f"{fleet.counts[state]} {word(f'board_state.{state.value}')}")
        self._tick()

    def _tick(self) -> None:
        """The time of the board; an old board turns grey and says so."""
        if self._fleet is None:
            return
        age = self._app.clock() - self._fleet.as_of
        stale = age > dt.timedelta(minutes=self._fleet.stale_after_minutes)
        text = say(msg("window.as_of", at_time=f"{self._fleet.as_of:%H:%M}"))
        if stale:
            text = f"{text} · {say(msg('screen.stale', old_minutes=age.total_seconds() // 60))}"
        self.as_of.setText(text)
        self.as_of.setToolTip(show_moment(self._fleet.as_of))
        self.table.setEnabled(not stale)

    def _filter(self) -> None:
        typed = self.search.text().strip().lower()
        state, kind = self.state.currentData(), self.kind.currentData()

        def keep(line: VehicleSummary, told: str) -> bool:
            if state is not None and line.status.state != state:
                return False
            if kind is not None and all(reason.hold_class != kind for reason in line.status.reasons):
                return False
            return typed in told or any(typed in pack.code.lower() for pack in line.packs)

        self.model.set_keep(keep)


def _choice(name: str, every: str, entries: list[tuple[str, object]]) -> QComboBox:
    box = QComboBox()
    box.setAccessibleName(name)
    box.addItem(every, None)
    for text, value in entries:
        box.addItem(text, value)
    return box
