"""First checks of a pack from its maker: papers, inspection, a rested and a loaded reading with the bench's meter."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import word
from fleetcare.services import maker_returns
from fleetcare.services.maker_returns import FirstPapers
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line, tick
from fleetcare.ui.widgets.photo_field import PhotoField

_FIELDS = (
    "charger", "marks", "warranty_end", "warranty_clause", "photo", "no_photo_reason", "rested_v", "loaded_v", "load_a", "badge",
)  # fmt: skip


class FirstChecks(DeedPage):
    """Shown while a pack from the maker waits."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        card = Card(word("maker.first_heading"))
        self.pack = Choice(word("faults.pack"), "rest", ())
        self.rest = Choice(word("bench.rest"), "rest", [b for b in RestBand if b is not RestBand.UNKNOWN], blank=True)
        rows = [line() for _ in range(3)]
        rows[0].addWidget(self.pack, 1)
        rows[0].addWidget(self.add_field("charger", word("identity.charger")), 1)
        rows[0].addWidget(self.add_field("marks", word("identity.marks")), 2)
        rows[0].addWidget(self.add_field("warranty_end", word("identity.warranty_end")), 1)
        rows[1].addWidget(self.add_field("warranty_clause", word("identity.warranty_clause")), 2)
        self.photos = PhotoField(self.add_field("photo", word("identity.photo")))
        rows[1].addWidget(self.photos, 3)
        rows[1].addWidget(self.add_field("no_photo_reason", word("identity.no_photo")), 2)
        rows[2].addWidget(self.rest, 2)
        rows[2].addWidget(self.add_field("rested_v", word("bench.rested"), "V", number=True), 1)
        rows[2].addWidget(self.add_field("loaded_v", word("bench.loaded"), "V", number=True), 1)
        rows[2].addWidget(self.add_field("load_a", word("bench.amps"), "A", number=True), 1)
        rows[2].addWidget(self.add_field("badge", word("faults.badge")), 1)
        for row in rows:
            card.column.addLayout(row)
        self.good = tick(word("identity.all_good"))
        card.column.addWidget(self.good)
        card.column.addWidget(words(", ".join(word(f"look.{item.value}") for item in LookItem), quiet=True))
        self.keep_button = QPushButton(word("maker.do_first"))
        self.keep_button.setMinimumHeight(44)
        card.column.addWidget(self.keep_button)
        card.column.addWidget(self.wrong)
        card.column.addWidget(self.result)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(card)
        self.keep_button.clicked.connect(self.keep)

    def offer(self, packs: tuple[str, ...]) -> None:
        """Offer the packs that wait; what was chosen stays chosen.  The card hides when none waits and nothing was said."""
        kept = self.pack.box.currentData()
        self.pack.box.clear()
        for code in packs:
            self.pack.box.addItem(code, code)
        self.pack.box.setCurrentIndex(max(self.pack.box.findData(kept), 0))
        self.setVisible(bool(packs) or bool(self.result.text()))
        self.keep_button.setEnabled(bool(packs))
        load = self._session.load
        if load is not None and not self.text("load_a"):
            self.fields["load_a"].edit.setText(str(load.load_a))

    def take_pack(self, code: str) -> bool:
        """A scanned pack that waits is chosen."""
        at = self.pack.box.findData(code)
        if at >= 0:
            self.pack.box.setCurrentIndex(at)
        return at >= 0

    def _first(self) -> Recorded:
        code, session, now = str(self.pack.box.currentData() or ""), self._session, self._app.clock()
        if session.meter is None:
            raise EntryRefused("identity.need_bench")
        if not self.good.isChecked():
            raise EntryRefused("identity.need_look")
        rest = self.rest.chosen(RestBand)
        if rest is None:
            raise EntryRefused("bench.need_rest")
        load = session.load
        papers = FirstPapers(
            code, tuple(self.text("marks").split(";")), self.day("warranty_end"),
            self.text("warranty_clause"), self.code("charger"), self.photos.pictures(), self.text("no_photo_reason"),
        )  # fmt: skip
        check = VoltageCheck(
            code, CheckKind.RESTED_FULL, rest, parse_volts(self.text("rested_v"), field="rested_v"), now, session.meter.code,
            None, parse_volts(self.text("loaded_v"), field="loaded_v"), parse_amps(self.text("load_a"), field="load_a"),
            load.hold_s if load else None, session.bench_c, load.code if load else None,
        )  # fmt: skip
        return maker_returns.record_first_checks(
            self._app.store, self._app.clock, self.author(), self.text("badge"), papers, check, LookOver(code, now)
        )

    def keep(self) -> None:
        """Keep the first checks, or say what is missing."""
        if self.attempt(self._first, *_FIELDS):
            self.good.setChecked(False)
            self.rest.choose(None)
