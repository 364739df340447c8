"""Water on a pack or a vehicle: how it came, what that means, and what waits to be noted as dry."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.water import Dried, WaterKind, Wetted
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import watering
from fleetcare.services.shown import Recorded
from fleetcare.services.watering import WetLine
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line, tick
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table

WET = (
    Column(word("faults.pack"), lambda w: w.pack, width=10),
    Column(word("faults.vehicle"), lambda w: w.vehicle or "", width=10),
    Column(word("water.kind"), lambda w: word(f"water_kind.{w.wet.kind.value}"), width=32),
    Column(word("water.since"), lambda w: show_moment(w.since), width=20),
    Column(word("list.who"), lambda w: w.person, width=10),
)


class WaterPage(DeedPage):
    """Immersion and water inside quarantine; rain and dew are dried before a charge."""

    quarantined = Signal(str)
    """A pack was quarantined, and its sheet is wanted at once."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        card = Card(word("water.heading"))
        self.kind = Choice(word("water.kind"), "water_kind", WaterKind, blank=True)
        self.inside = tick(word("water.inside_tick"))
        first, second = line(), line()
        first.addWidget(self.add_field("pack", word("faults.pack")), 1)
        first.addWidget(self.add_field("vehicle", word("faults.vehicle")), 1)
        first.addWidget(self.kind, 2)
        first.addWidget(self.inside, 2, Qt.AlignmentFlag.AlignBottom)
        second.addWidget(self.add_field("where", word("water.where")), 2)
        second.addWidget(self.add_field("place", word("water.place")), 2)
        second.addWidget(self.add_field("remark", word("bench.remark")), 2)
        self.keep_button = QPushButton(word("water.keep"))
        self.keep_button.setMinimumHeight(44)
        for row in (first, second):
            card.column.addLayout(row)
        card.column.addWidget(words(word("water.hint"), quiet=True))
        card.column.addWidget(self.keep_button)
        self.steps = words(size=1.05)
        self.none = words(word("water.none_wet"), quiet=True)
        self.model = RowModel(WET)
        self.table = Table(self.model, word("water.wet_heading"))
        rows_high(self.table, 6)
        self.dry_button = QPushButton(word("water.dry_button"))
        self.dry_button.setMinimumHeight(44)
        outer = QVBoxLayout(self)
        outer.addWidget(card)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self.steps)
        outer.addWidget(words(word("water.wet_heading"), bold=True))
        outer.addWidget(self.none)
        outer.addWidget(self.table)
        outer.addWidget(self.dry_button)
        outer.addStretch(1)
        self.keep_button.clicked.connect(self.keep)
        self.dry_button.clicked.connect(lambda: self.attempt(self._dried))

    def refresh(self) -> None:
        """Read the wet packs again."""
        chosen: WetLine | None = self.table.selected_row()
        lines = watering.wet_lines(self._app.store)
        self.model.set_rows(lines)
        self.none.setVisible(not lines)
        self.table.setVisible(bool(lines))
        self.dry_button.setVisible(bool(lines))
        codes = [one.pack for one in lines]
        if codes:
            kept = chosen.pack if chosen is not None and chosen.pack in codes else codes[0]
            self.table.selectRow(codes.index(kept))

    def keep(self) -> None:
        """Keep how the water came, and show what is held, what comes next, and where that comes from."""
        self.quiet()
        self.steps.clear()
        try:
            kind = self.kind.chosen(WaterKind)
            if kind is None:
                raise EntryRefused("entry.choose_story")
            wet = Wetted(
                self.code("pack") or None, self.code("vehicle") or None, self._app.clock(), kind, self.inside.isChecked(),
                self.text("where"), self.text("place"), self.text("remark"),
            )  # fmt: skip
            done = watering.record_water(self._app.store, self._app.clock, self.author(), wet)
        except FleetcareError as error:
            self.result.clear()
            self.refuse(error)
            return
        for field in self.fields.values():
            field.clear()
        self.inside.setChecked(False)
        self.kind.choose(None)
        self.refresh()
        lines = [say(done.recorded.message), *(say(msg("faults.held_now", what=held)) for held in done.held)]
        self.result.setText("\n".join(lines))
        self.steps.setText("\n".join(say(step) for step in done.steps))
        self._changes.tell(done.recorded)
        if done.danger and wet.pack is not None:
            self.quarantined.emit(wet.pack)

    def _dried(self) -> Recorded:
        row: WetLine | None = self.table.selected_row()
        if row is None:
            raise EntryRefused("faults.need_pack", field="pack")
        self.steps.clear()
        dried = Dried(row.pack, self._app.clock())
        return watering.record_dried(self._app.store, self._app.clock, self.author(), dried)
