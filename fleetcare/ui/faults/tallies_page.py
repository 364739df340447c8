"""The cross-table: trips counted against packs, vehicles and chargers, what stands out first."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.trips import Tally
from fleetcare.domain.wording import msg, say, show_date, show_moment, word
from fleetcare.services import trip_facts
from fleetcare.services.trip_facts import TalliesPage as Read
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import FaultPage
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

TALLIES = (
    Column(word("faults.kind"), lambda t: word(f"class.{t.subject_class}"), width=10),
    Column(word("faults.subject"), lambda t: t.subject, width=19,
           mark=lambda t: colours.FAULT if t.reading is not None else None),
    Column(word("faults.says"), lambda t: word(f"tally_says.{t.subject_class}") if t.reading is not None else "", width=36),
    Column(word("faults.count"), lambda t: str(len(t.trips)), sort=lambda t: len(t.trips), right=True, width=7),
    Column(word("faults.unexplained"), lambda t: str(t.unexplained), sort=lambda t: t.unexplained, right=True, width=14),
    Column(word("faults.partners"), lambda t: ", ".join(t.partners), width=20, tip=True),
    Column(word("faults.date"), lambda t: ", ".join(show_date(one.day) for one in t.trips), width=30, tip=True),
)  # fmt: skip


class TalliesPage(FaultPage):
    """Above the tallies, below a table of packs against vehicles."""

    open_pack = Signal(str)
    open_vehicle = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._background = Background(self)
        self.window_line = words(quiet=True)
        self.model = RowModel(TALLIES)
        self.table = Table(self.model, word("faults.tab_tallies"), stretch=6)
        self.table.sort_by_headings()
        self.table.opened.connect(self._open)
        self.cross_heading = words(word("faults.cross_heading"), bold=True)
        self.cross_table: Table | None = None
        self._holder = QVBoxLayout()
        outer = QVBoxLayout(self)
        row = QHBoxLayout()
        row.addWidget(self.window_line, 1)
        outer.addLayout(row)
        outer.addWidget(self.table, 3)
        outer.addWidget(self.cross_heading)
        outer.addLayout(self._holder, 2)

    def refresh(self) -> None:
        """Count again, off the GUI thread."""
        app = self._app
        self._background.ask(lambda: trip_facts.tallies_page(app.store, app.clock), self.show_page)

    def show_page(self, page: Read) -> None:
        """Show what was counted."""
        as_of = say(msg("window.as_of", at_time=show_moment(page.as_of)))
        self.window_line.setText(f"{say(msg('faults.days', window_days=page.window_days))} · {as_of}")
        if not page.tallies:
            self.window_line.setText(say(msg("faults.no_trips", window_days=page.window_days)))
        self.model.set_rows(page.tallies)
        self._show_cross(page)

    def _show_cross(self, page: Read) -> None:
        """A table of its own each time, since its columns are the vehicles of the window."""
        while (item := self._holder.takeAt(0)) is not None:
            old = item.widget()
            old.hide()  # type: ignore[union-attr]
            old.deleteLater()  # type: ignore[union-attr]
        packs = sorted({t.pack for t in page.trips})
        vehicles = sorted({t.vehicle or "—" for t in page.trips})
        counts: dict[str, dict[str, int]] = {pack: dict.fromkeys(vehicles, 0) for pack in packs}
        for trip in page.trips:
            counts[trip.pack][trip.vehicle or "—"] += 1
        columns = [Column(word("faults.pack"), lambda row: row[0], width=10)]
        columns += [Column(code, lambda row, c=code: str(row[1][c] or "·"), right=True, width=8) for code in vehicles]
        columns.append(Column(word("faults.count"), lambda row: str(sum(row[1].values())), right=True, width=8))
        model = RowModel(columns)
        model.set_rows([(pack, counts[pack]) for pack in packs])
        self.cross_table = Table(model, word("faults.cross_heading"))
        self._holder.addWidget(self.cross_table)
        self.cross_heading.setVisible(bool(packs))
        self.cross_table.setVisible(bool(packs))

    def _open(self, row: Tally) -> None:
        if row.subject_class == "pack":
            self.open_pack.emit(row.subject)
        elif row.subject_class == "vehicle":
            self.open_vehicle.emit(row.subject)
