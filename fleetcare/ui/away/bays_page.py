"""Bays: covers of empty ones, packs that cannot be taken out, and what the maker asks of two packs side by side."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.bays import BayCover, PackStuck, Stuck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PairRule
from fleetcare.domain.units import parse_volts
from fleetcare.domain.wording import say, show_moment, word
from fleetcare.services import bays
from fleetcare.services.bays import EmptyBay
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line, tick
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _cover(bay: EmptyBay) -> str:
    if bay.covered is None:
        return word("bay.not_noted")
    return word("bay.is_covered" if bay.covered else "bay.is_open")


BAYS = (
    Column(word("faults.vehicle"), lambda b: b.vehicle, width=12),
    Column(word("bay.bay"), lambda b: str(b.bay), right=True, width=6),
    Column(word("bay.state"), _cover, width=20, mark=lambda b: colours.GOOD if b.covered else colours.ACTION),
    Column(word("parts.when"), lambda b: show_moment(b.noted_at) if b.noted_at else "", width=20),
)


class BaysPage(DeedPage):
    """Nothing here moves a pack; the bench does."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.none = words(word("bay.none_empty"), quiet=True)
        self.model = RowModel(BAYS)
        self.table = Table(self.model, word("bay.cover_heading"))
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.cover_button, self.open_button = QPushButton(word("bay.do_cover")), QPushButton(word("bay.do_open"))
        buttons = line()
        for button, covered in ((self.cover_button, True), (self.open_button, False)):
            button.setMinimumHeight(40)
            button.clicked.connect(lambda _on=False, c=covered: self.attempt(lambda: self._note(c)))
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.rules = words()
        outer = QVBoxLayout(self)
        outer.addWidget(words(word("bay.cover_heading"), bold=True))
        outer.addWidget(self.none)
        outer.addWidget(self.table, 1)
        outer.addLayout(buttons)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self._stuck_card())
        outer.addWidget(self._rule_card())

    def _stuck_card(self) -> Card:
        card = Card(word("bay.stuck_heading"))
        self.why = Choice(word("bay.why"), "stuck", Stuck)
        row = line()
        row.addWidget(self.add_field("pack", word("faults.pack")), 1)
        row.addWidget(self.add_field("vehicle", word("faults.vehicle")), 1)
        row.addWidget(self.why, 1)
        row.addWidget(self.add_field("remark", word("bench.remark")), 2)
        self.stuck_button = QPushButton(word("bay.keep_stuck"))
        self.stuck_button.setMinimumHeight(40)
        row.addWidget(self.stuck_button)
        card.column.addLayout(row)
        self.stuck_button.clicked.connect(lambda: self.attempt(self._stuck, "pack", "vehicle", "remark"))
        return card

    def _rule_card(self) -> Card:
        card = Card(word("bay.rule_heading"))
        card.column.addWidget(self.rules)
        self.same_model = tick(word("bay.same_model"))
        row, second = line(), line()
        row.addWidget(self.add_field("rule_for", word("bay.rule_for")), 1)
        row.addWidget(self.same_model, 1)
        row.addWidget(self.add_field("age_months", word("bay.age_months"), number=True), 2)
        second.addWidget(self.add_field("match_v", word("bay.match_v"), "V", number=True), 2)
        second.addWidget(self.add_field("source", word("bay.source")), 2)
        self.rule_button = QPushButton(word("bay.keep_rule"))
        self.rule_button.setMinimumHeight(40)
        second.addWidget(self.rule_button)
        card.column.addLayout(row)
        card.column.addLayout(second)
        self.rule_button.clicked.connect(self.keep_rule)
        return card

    def refresh(self) -> None:
        """Read empty bays and rules again."""
        chosen: EmptyBay | None = self.table.selected_row()
        empty = bays.empty_bays(self._app.store)
        self.model.set_rows(empty)
        self.none.setVisible(not empty)
        for part in (self.table, self.cover_button, self.open_button):
            part.setVisible(bool(empty))
        keys = [(one.vehicle, one.bay) for one in empty]
        if keys:
            kept = (chosen.vehicle, chosen.bay) if chosen is not None else keys[0]
            self.table.selectRow(keys.index(kept) if kept in keys else 0)
        told = [say(bays.rule_words(code, rule)) for code, rule in bays.rules(self._app.store)]
        self.rules.setText("\n".join(told))
        self.rules.setVisible(bool(told))

    def _note(self, covered: bool) -> Recorded:
        row: EmptyBay | None = self.table.selected_row()
        if row is None:
            raise EntryRefused("bay.not_in", pack="—", vehicle="—")
        cover = BayCover(row.vehicle, row.bay, self._app.clock(), covered)
        return bays.record_cover(self._app.store, self._app.clock, self.author(), cover)

    def _stuck(self) -> Recorded:
        if not self.code("pack"):
            raise EntryRefused("faults.need_pack", field="pack")
        if not self.code("vehicle"):
            raise EntryRefused("replace.needs_vehicle", field="vehicle")
        stuck = PackStuck(
            self.code("pack"), self.code("vehicle"), self._app.clock(), self.why.chosen(Stuck) or Stuck.JAMMED,
            self.text("remark"),
        )  # fmt: skip
        return bays.record_stuck(self._app.store, self._app.clock, self.author(), stuck)

    def keep_rule(self) -> None:
        """Keep the maker's rule for a vehicle or a pack model."""

        def deed() -> Recorded:
            months = self.text("age_months")
            if months and not months.isdecimal():
                raise EntryRefused("bay.bad_months", field="age_months", typed=months)
            rule = PairRule(
                self.same_model.isChecked(), int(months) if months else None,
                parse_volts(self.text("match_v"), field="match_v") if self.text("match_v") else None, self.text("source"),
            )  # fmt: skip
            return bays.put_rule(self._app.store, self._app.clock, self.author(), self.text("rule_for").upper(), rule)

        if self.attempt(deed, "rule_for", "age_months", "match_v", "source"):
            self.same_model.setChecked(False)
