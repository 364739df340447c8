"""Fuses: what may be fitted, the look and the change, and the battery management's limit against the fuse."""

from __future__ import annotations

from decimal import Decimal

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain import fuses
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.fuses import COLOURS, Body, FuseSpec, FuseWork, Position
from fleetcare.domain.packs import PackModel, ServiceNotes
from fleetcare.domain.spare_parts import PartKind
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import msg, say, show_value, word
from fleetcare.services import fusing
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, abreast, line, tick
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.stock_choice import StockChoice
from fleetcare.ui.widgets.tables import Column, RowModel, Table

ROWS = (
    Column(word("faults.current"), lambda r: show_value("x_a", r[0].current_a), right=True, width=10),
    Column(word("faults.percent"), lambda r: show_value("x_percent", float(r[0].percent)), right=True, width=14),
    Column(word("faults.opens"), lambda r: say(r[0].words), width=34),
    Column(word("faults.acts"), lambda r: say(r[1]), width=50),
)


class FusePage(FaultPage):
    """Scan a pack; the rule of its model stands above the fields."""

    follows_changes = False

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._shown = ""
        self.rule = words(size=1.05, bold=True)
        self.gap = words()
        self.model = RowModel(ROWS)
        self.table = Table(self.model, word("faults.coordination"), stretch=3)
        self.show_button = QPushButton(word("faults.show"))
        asked = [self.add_field(name, word(f"faults.{name}")) for name in ("pack", "vehicle")]
        top = abreast(line(), *((one, 0) for one in asked), (self.show_button, 0))
        top.addStretch(1)
        outer = QVBoxLayout(self)
        outer.addLayout(top)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self.rule)
        outer.addWidget(words(word("faults.fuse_before")))
        outer.addWidget(self._card())
        outer.addWidget(words(word("faults.coordination"), bold=True))
        outer.addWidget(self.gap)
        outer.addWidget(self.table, 1)
        outer.addWidget(words(word("fuse.source"), quiet=True))
        self.table.setFixedHeight(self.table.verticalHeader().defaultSectionSize() * 9)
        self.show_button.clicked.connect(self.refresh)
        self.fields["pack"].edit.returnPressed.connect(self.refresh)
        self._fitting()

    def _card(self) -> Card:
        card = Card()
        self.position = Choice(word("faults.position"), "fuse_position", Position)
        self.blown, self.not_found = tick(word("faults.blown")), tick(word("faults.not_found"))
        cause = self.add_field("cause", word("faults.fuse_cause"))
        parts = (self.position, 1), (self.blown, 0), (cause, 3), (self.not_found, 0)
        card.column.addLayout(abreast(line(), *parts))
        self.fitted = tick(word("faults.fitted"))
        self.body = Choice(word("faults.body"), "fuse_body", Body)
        self.colour = Choice(word("faults.colour"), "fuse_colour", (), blank=True)
        for colour in COLOURS:
            self.colour.box.addItem(word(f"fuse_colour.{colour.replace('-', '_')}"), colour)
        self.stocked = StockChoice(PartKind.FUSE)
        card.column.addLayout(abreast(line(), (self.fitted, 0), (self.stocked, 1)))
        amps = self.add_field("rated_a", word("faults.rated_a"), "A", number=True)
        volts = self.add_field("dc_v", word("faults.dc_v"), "V", number=True)
        number = self.add_field("part_number", word("faults.part_number"))
        badge = self.add_field("badge", word("faults.badge"))
        figures = (amps, 3), (volts, 3), (self.body, 3), (number, 3), (self.colour, 2), (badge, 2)
        card.column.addLayout(abreast(line(), *figures))
        self.keep_button = QPushButton(word("faults.keep_fuse"))
        self.keep_button.setMinimumHeight(40)
        card.column.addWidget(self.keep_button)
        self.fitted.toggled.connect(lambda _on: self._fitting())
        self.position.box.activated.connect(lambda _i: self.code("pack") and self.refresh())
        self.keep_button.clicked.connect(self.keep)
        return card

    def _fitting(self) -> None:
        for part in (
            *(self.fields[n] for n in ("rated_a", "dc_v", "part_number", "badge")),
            self.body,
            self.colour,
            self.stocked,
        ):
            part.setEnabled(self.fitted.isChecked())

    def taken(self, thing_class: str) -> None:
        """A scanned pack shows its rule at once."""
        if thing_class == "pack":
            self.refresh()

    def refresh(self) -> None:
        """Read the rule and the coordination of the pack's model."""
        self.quiet()
        self.rule.clear()
        self.gap.clear()
        self.model.set_rows(())
        self.table.hide()
        self.stocked.offer(self._app.store, self._app.clock)
        code = self.code("pack")
        if not code:
            self.fields["pack"].edit.setFocus()
            return
        try:
            model, notes, vehicle = fusing.fuse_rule(self._app.store, code)
        except FleetcareError as error:
            self.refuse(error)
            return
        if code != self._shown:
            self.fields["vehicle"].edit.setText(vehicle)
        self._shown = code
        self._show_rule(model, notes)
        try:
            found = fusing.coordination_of(self._app.store, code)
        except FleetcareError as error:
            self.gap.setText(say(error.message))
            return
        self.gap.setText(say(found.gap))
        self.model.set_rows(found.rows)
        self.table.show()

    def _show_rule(self, model: PackModel, notes: ServiceNotes | None) -> None:
        position = self.position.chosen(Position) or Position.DISCHARGE
        where, maker = msg(f"fuse_position.{position.value}"), fuses.makers_fuse(model, notes, position)
        if maker is None:
            self.rule.setText(say(msg("fuse.no_rule", model=model.name, position=where)))
            return
        self.rule.setText(
            say(
                msg(
                    "faults.fuse_rule", model=model.name, position=where, maker_amp=maker.rated_a, maker_vdc=fuses.volts_words(maker.dc_v),
                    body=msg(f"fuse_body.{maker.body}"), part=fuses.part_words(maker.part), full_v=model.full_v,
                )
            )
        )  # fmt: skip

    def _spec(self) -> FuseSpec | None:
        if not self.fitted.isChecked():
            return None
        volts = self.fields["dc_v"].text.strip()
        rated: Decimal = parse_amps(self.fields["rated_a"].text, field="rated_a")
        return FuseSpec(
            rated, parse_volts(volts, field="dc_v") if volts else None, self.body.chosen(Body) or Body.OTHER,
            self.fields["part_number"].text.strip(), self.colour.box.currentData() or "",
        )  # fmt: skip

    def keep(self) -> None:
        """Keep the look and the change, or say beside the field what is wrong."""
        self.quiet()
        try:
            work = FuseWork(
                self.code("pack"), self.code("vehicle") or None, self._app.clock(),
                self.position.chosen(Position) or Position.DISCHARGE, self.blown.isChecked(),
                self.fields["cause"].text.strip(), self.not_found.isChecked(), self._spec(),
            )  # fmt: skip
            badge = self.fields["badge"].text
            part = self.stocked.code if self.fitted.isChecked() else ""
            done = fusing.record_fuse(self._app.store, self._app.clock, self.author(), work, badge, part)
        except FleetcareError as error:
            self.refuse(error)
            return
        for name in ("cause", "rated_a", "dc_v", "part_number", "badge"):
            self.fields[name].clear()
        for box in (self.blown, self.not_found, self.fitted):
            box.setChecked(False)
        self.stocked.offer(self._app.store, self._app.clock)
        self.stocked.reset()
        self.result.setText(say(done.message))
        self._changes.tell(done)
