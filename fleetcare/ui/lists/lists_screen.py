"""Lists of packs and vehicles: search, sort, open."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.status import pack_words
from fleetcare.domain.wording import msg, say, show_date, show_value, word
from fleetcare.services import summary
from fleetcare.services.shown import FleetSummary, VehicleSummary, elsewhere_told
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.empty_notice import EmptyNotice
from fleetcare.ui.widgets.tables import Column, Prepared, RowModel, Table, prepare, without_code

PACKS = (
    Column(word("window.pack"), lambda r: r.pack.code, width=9),
    Column(word("list.model"), lambda r: r.model_name, width=18),
    Column(word("list.where"), lambda r: r.vehicle or r.shelf or "", width=16),
    Column(word("list.state"), lambda r: say(pack_words(r.status)),
           mark=lambda r: colours.of_pack(r.status), width=19),
    Column(word("list.rested"), lambda r: "" if r.rested_v is None else show_value("rested_v", r.rested_v),
           sort=lambda r: r.rested_v, right=True, width=9),
    Column(word("list.ohm"), lambda r: "" if r.resistance_ohm is None else f"{r.resistance_ohm:.4f} Ω",
           sort=lambda r: r.resistance_ohm, right=True, width=13),
    Column(word("list.checked"), lambda r: "" if r.last_check is None else show_date(r.last_check.date()),
           sort=lambda r: None if r.last_check is None else r.last_check.timestamp(), width=12),
    Column(word("list.due"), lambda r: "" if r.status.check_on is None else show_date(r.status.check_on),
           sort=lambda r: r.status.check_on, width=12),
    Column(word("list.reason"),
           lambda r: "; ".join(without_code(say(one.text), r.pack.code) for one in r.status.reasons), width=40, tip=True),
)  # fmt: skip


def _where(row: Any) -> str:
    """The model, and where it is."""
    return ", ".join(filter(None, (row.model_name, row.vehicle or row.shelf or "")))


def _read(row: Any) -> str:
    """What the last check read, and its day."""
    if row.rested_v is None:
        return ""
    told = [show_value("rested_v", row.rested_v)]
    if row.resistance_ohm is not None:
        told.append(f"{row.resistance_ohm:.4f} Ω")
    if row.last_check is not None:
        told.append(show_date(row.last_check.date()))
    return ", ".join(told)


LARGE_PACKS = (
    Column(word("window.pack"), PACKS[0].text, mark=PACKS[3].mark, width=9),
    Column(word("list.model_where"), _where, width=18, tip=True),
    Column(word("list.state"), PACKS[3].text, width=12),
    Column(word("list.checked"), _read, sort=lambda r: r.rested_v, width=18, tip=True),
    *PACKS[-2:],
)
"""For large letters: what belongs together stands in one column, so that no row scrolls sideways."""


def _vehicle_state(line: VehicleSummary) -> str:
    elsewhere = elsewhere_told(line)
    return word(f"board_state.{line.status.state.value}") if elsewhere is None else elsewhere[0]


def _vehicle_why(line: VehicleSummary) -> str:
    elsewhere = elsewhere_told(line)
    first = () if elsewhere is None else (elsewhere[1],)
    return "; ".join(filter(None, (*first, *(say(one.text) for one in line.status.reasons))))


VEHICLES = (
    Column(word("list.vehicle"), lambda v: v.vehicle.code, width=9),
    Column(word("list.kind"), lambda v: word(f"vehicle_kind.{v.vehicle.kind.value}"), width=12),
    Column(word("list.state"), _vehicle_state,
           mark=lambda v: colours.of_vehicle(v.status) if elsewhere_told(v) is None else colours.UNKNOWN, width=21),
    Column(word("list.packs"), lambda v: ", ".join(p.code for p in v.packs), width=20, tip=True),
    Column(word("list.due"), lambda v: "" if v.status.due_on is None else show_date(v.status.due_on),
           sort=lambda v: v.status.due_on, width=12),
    Column(word("list.reason"), _vehicle_why, width=50, tip=True),
)  # fmt: skip


class ListScreen(QWidget):
    """One list; `code_of` gives the code that a row opens."""

    opened = Signal(str)

    def __init__(
        self,
        app: App,
        changes: Changes,
        heading: str,
        columns: tuple[Column, ...],
        read: Callable[[App], tuple[Any, ...]],
        code_of: Callable[[Any], str],
        nothing: str,
    ) -> None:
        super().__init__()
        self._app, self._read = app, read
        self.empty = EmptyNotice(app, nothing)
        self.empty.hide()
        self._background = Background(self)
        self.model = RowModel(columns)
        self.table = Table(self.model, heading, wraps=False)
        self.table.sort_by_headings()
        self.count = words(quiet=True)
        self.search = QLineEdit()
        self.search.setPlaceholderText(word("screen.search"))
        self.search.setAccessibleName(word("screen.search"))
        self.search.setMaximumWidth(280)
        top = QHBoxLayout()
        top.addWidget(words(heading, size=1.4, bold=True))
        top.addWidget(self.search)
        top.addWidget(self.count, 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addLayout(top)
        outer.addWidget(self.table, 1)
        outer.addWidget(self.empty, 1)
        self.table.opened.connect(lambda row: self.opened.emit(code_of(row)))
        self.search.textChanged.connect(self._filter)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def refresh(self) -> None:
        """Read the list again, off the GUI thread."""
        app = self._app
        columns = self.model.columns
        self._background.ask(lambda: prepare(columns, self._read(app)), self._show)

    def _show(self, prepared: Prepared) -> None:
        self.model.set_prepared(prepared)
        self._filter()
        if not prepared.rows:
            self.empty.refresh()
        self.empty.setVisible(not prepared.rows)
        self.table.setVisible(bool(prepared.rows))

    def _filter(self) -> None:
        typed = self.search.text().strip().lower()
        self.model.set_keep((lambda _row, told: typed in told) if typed else None)
        shown, of = self.model.rowCount(), len(self.model.rows)
        self.count.setText(say(msg("screen.rows", shown=shown, of=of)))


def pack_list(app: App, changes: Changes) -> ListScreen:
    """The list of packs."""
    return ListScreen(
        app, changes, word("window.packs"), LARGE_PACKS if large_text() else PACKS,
        lambda a: summary.pack_rows(a.store, a.clock), lambda r: r.pack.code,
        word("screen.empty_packs"),
    )  # fmt: skip


def on_record(fleet: FleetSummary) -> tuple[VehicleSummary, ...]:
    """Every vehicle on record: as on the board, then those that are not here."""
    return (*fleet.vehicles, *fleet.elsewhere)


def vehicle_list(app: App, changes: Changes) -> ListScreen:
    """The list of vehicles."""
    return ListScreen(
        app, changes, word("window.vehicles"), VEHICLES,
        lambda a: on_record(summary.fleet_summary(a.store, a.clock)), lambda v: v.vehicle.code, word("screen.empty_board"),
    )  # fmt: skip
