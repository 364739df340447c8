"""Disposal: worn-out packs handed over, and the papers of every pack that is gone."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.disposing import Disposed, parse_weight
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import say, show_date, word
from fleetcare.services import disposal
from fleetcare.services.disposal import DisposalLine
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import DeedPage, line
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table

LINES = (
    Column(word("faults.pack"), lambda d: d.pack, width=10),
    Column(word("list.model"), lambda d: d.model_name, width=16),
    Column(word("disposal.gone_on"), lambda d: show_date(d.gone_at.date()), width=12),
    Column(word("quarantine.carrier"), lambda d: d.carrier, width=20, tip=True),
    Column(word("quarantine.consignment"), lambda d: d.consignment, width=19),
    Column(word("disposal.weight"), lambda d: f"{d.weight_kg} kg" if d.weight_kg else "", width=9),
    Column(word("disposal.receipt"), lambda d: d.receipt, width=12),
    Column(word("disposal.waste_chain"), lambda d: d.waste_chain, width=21, tip=True),
    Column(
        word("disposal.open_head"), disposal.open_words, width=30, mark=lambda d: colours.ACTION if d.open else None
    ),
)
_FIELDS = ("pack", "carrier", "consignment", "weight", "receipt", "plant", "waste_chain", "badge")


class DisposalPage(DeedPage):
    """Scan a pack: with carrier, consignment and weight it leaves for good; of one that is gone only papers are kept."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.none = words(word("disposal.none"), quiet=True)
        self.told = words(bold=True)
        self.model = RowModel(LINES)
        self.table = Table(self.model, word("away.tab_disposal"), stretch=8)
        rows_high(self.table, 8)
        card = Card(word("disposal.heading"))
        rows = [line(), line()]
        for number, (name, unit) in enumerate(
            (("pack", ""), ("carrier", ""), ("consignment", ""), ("weight", "kg"), ("receipt", ""), ("plant", ""),
             ("waste_chain", ""), ("badge", ""))
        ):  # fmt: skip
            label = {"pack": "faults.pack", "badge": "faults.badge", "carrier": "quarantine.carrier",
                     "consignment": "quarantine.consignment"}.get(name, f"disposal.{name}")  # fmt: skip
            rows[number // 4].addWidget(self.add_field(name, word(label), unit, number=name == "weight"), 1)
        for row in rows:
            card.column.addLayout(row)
        card.column.addWidget(words(word("disposal.note"), quiet=True))
        self.keep_button = QPushButton(word("disposal.do_keep"))
        self.keep_button.setMinimumHeight(44)
        card.column.addWidget(self.keep_button)
        outer = QVBoxLayout(self)
        outer.addWidget(self.none)
        outer.addWidget(self.told)
        outer.addWidget(self.table)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(card)
        outer.addStretch(1)
        self.keep_button.clicked.connect(lambda: self.attempt(self._keep, *_FIELDS))
        self.table.opened.connect(lambda row: self.fields["pack"].edit.setText(row.pack))

    def refresh(self) -> None:
        """Read what is gone again."""
        chosen: DisposalLine | None = self.table.selected_row()
        page = disposal.disposal_page(self._app.store)
        self.model.set_rows(page.lines)
        for part in (self.table, self.told):
            part.setVisible(bool(page.lines))
        self.none.setVisible(not page.lines)
        self.told.setText(say(page.told))
        codes = [one.pack for one in page.lines]
        if codes:
            self.table.selectRow(codes.index(chosen.pack) if chosen is not None and chosen.pack in codes else 0)

    def _keep(self) -> Recorded:
        if not self.code("pack"):
            raise EntryRefused("faults.need_pack", field="pack")
        given = Disposed(
            self.code("pack"), self._app.clock(), self.text("carrier"), self.text("consignment"),
            parse_weight(self.fields["weight"].text), self.text("receipt"), self.text("plant"), self.text("waste_chain"),
        )  # fmt: skip
        return disposal.record_disposed(self._app.store, self._app.clock, self.author(), self.text("badge"), given)
