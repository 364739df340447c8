"""Replace a display board or both halves of a connector: cautions, parts from the stock, readings before and after."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.replacing import FittedPart, PartReplaced, Replaced
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import say, show_moment, word
from fleetcare.services import replacing, stock
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.parts.stock_page import ratings
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, abreast, line, tick
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table

PAST = (
    Column(word("parts.when"), lambda r: show_moment(r.done_at), width=18),
    Column(word("parts.what"), lambda r: say(r.text), width=80, tip=True),
    Column(word("list.who"), lambda r: r.person, width=10),
)
_FIELDS = (
    "pack", "vehicle", "seal", "before_v", "after_v", "drop_before_mv", "drop_after_mv", "load_a", "badge", "remark",
)  # fmt: skip


class ReplacePage(DeedPage):
    """The parts offered are those of the right kind in the stock."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._stock: dict[str, Part] = {}
        self.model = RowModel(PAST)
        self.table = Table(self.model, word("replace.past"), stretch=1)
        rows_high(self.table, 6)
        self.none = words(word("replace.none_yet"), quiet=True)
        outer = QVBoxLayout(self)
        outer.addWidget(words(word("replace.before"), bold=True))
        outer.addWidget(self._card())
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(words(word("replace.past"), bold=True))
        outer.addWidget(self.none)
        outer.addWidget(self.table)
        outer.addStretch(1)

    def _card(self) -> Card:
        card = Card(word("replace.heading"))
        self.what = Choice(word("replace.what"), "replaced", Replaced)
        self.part = Choice(word("replace.part"), "parts", ())
        self.other = Choice(word("replace.part_other"), "parts", ())
        self.seal_part = Choice(word("replace.seal_part"), "parts", ())
        self.tried = tick(word("replace.tried_good"))
        rows = [line() for _ in range(4)]
        rows[0].addWidget(self.what, 2)
        rows[0].addWidget(self.add_field("pack", word("faults.pack")), 1)
        rows[0].addWidget(self.add_field("vehicle", word("faults.vehicle")), 1)
        rows[0].addWidget(self.add_field("before_v", word("replace.before_v"), "V", number=True), 1)
        rows[1].addWidget(self.part, 2)
        rows[1].addWidget(self.other, 2)
        rows[1].addWidget(self.seal_part, 2)
        rows[1].addWidget(self.add_field("seal", word("replace.seal_note")), 2)
        rows[2].addWidget(self.add_field("after_v", word("replace.after_v"), "V", number=True), 1)
        rows[2].addWidget(self.add_field("drop_before_mv", word("replace.drop_before"), "mV", number=True), 1)
        rows[2].addWidget(self.add_field("drop_after_mv", word("replace.drop_after"), "mV", number=True), 1)
        rows[2].addWidget(self.add_field("load_a", word("bench.amps"), "A", number=True), 1)
        remark, badge = self.add_field("remark", word("bench.remark")), self.add_field("badge", word("faults.badge"))
        abreast(rows[3], (self.tried, 3), (remark, 3), (badge, 1))
        for row in rows:
            card.column.addLayout(row)
        self.keep_button = QPushButton(word("replace.save"))
        self.keep_button.setMinimumHeight(44)
        card.column.addWidget(self.keep_button)
        self.keep_button.clicked.connect(self.keep)
        self.what.box.currentIndexChanged.connect(lambda _i: self._offer())
        return card

    def refresh(self) -> None:
        """Read the stock and what was replaced before."""
        store = self._app.store
        with store.view() as view:
            self._stock = view.things("part")
            past = replacing.replacements(view)
        self.model.set_rows(past)
        self.none.setVisible(not past)
        self.table.setVisible(bool(past))
        self._have = {one.part.code: one.have for one in stock.stock(store, self._app.clock)}
        self._offer()

    def _offer(self) -> None:
        connector = self.what.chosen(Replaced) is Replaced.CONNECTOR
        kind = PartKind.CONNECTOR if connector else PartKind.DISPLAY_BOARD
        for choice, wanted in ((self.part, kind), (self.other, kind), (self.seal_part, PartKind.SEAL)):
            kept = choice.box.currentData()
            choice.box.clear()
            choice.box.addItem("—", "")
            for code, part in sorted(self._stock.items()):
                if part.kind is wanted:
                    rated = ratings(part)
                    told = f"{code} {part.name}{', ' + rated if rated else ''} ({self._have.get(code, 0)})"
                    choice.box.addItem(told, code)
            choice.box.setCurrentIndex(max(choice.box.findData(kept), 0))
        self.other.setEnabled(connector)
        for name in ("drop_before_mv", "drop_after_mv", "load_a"):
            self.fields[name].setEnabled(connector)
        self.tried.setEnabled(not connector)

    def _millivolts(self, name: str) -> Decimal | None:
        typed = self.text(name)
        if not typed:
            return None
        try:
            value = Decimal(typed.replace(",", "."))
        except InvalidOperation:
            value = Decimal(-1)
        if not value.is_finite() or value < 0:
            raise EntryRefused("replace.bad_mv", field=name, typed=typed)
        return value

    def _work(self) -> PartReplaced:
        what = self.what.chosen(Replaced) or Replaced.CONNECTOR
        meter = self._session.meter
        if meter is None:
            raise EntryRefused("replace.needs_meter")
        connector = what is Replaced.CONNECTOR
        chosen = [str(one.box.currentData() or "") for one in ((self.part, self.other) if connector else (self.part,))]
        seal_code = str(self.seal_part.box.currentData() or "")
        seal = self._stock[seal_code].part_number if seal_code else self.text("seal")
        return PartReplaced(
            self.code("pack") or None, self.code("vehicle") or None, self._app.clock(), what,
            tuple(FittedPart(code, self._stock[code].part_number) for code in chosen if code), seal,
            parse_volts(self.text("before_v"), field="before_v"), parse_volts(self.text("after_v"), field="after_v"),
            meter.code, self._millivolts("drop_before_mv") if connector else None,
            self._millivolts("drop_after_mv") if connector else None,
            parse_amps(self.text("load_a"), field="load_a") if connector and self.text("load_a") else None,
            self.tried.isChecked(), self.text("remark"),
        )  # fmt: skip

    def keep(self) -> None:
        """Keep the replacement, or say what is missing."""
        seal_code = str(self.seal_part.box.currentData() or "")

        def deed() -> Recorded:
            return replacing.record_replacement(
                self._app.store, self._app.clock, self.author(), self._work(), self.text("badge"), seal_code
            )

        if self.attempt(deed, *_FIELDS):
            self.tried.setChecked(False)
            for choice in (self.part, self.other, self.seal_part):
                choice.box.setCurrentIndex(0)
