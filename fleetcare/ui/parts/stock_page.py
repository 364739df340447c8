"""The stock: what lies where, what to order, and every piece in and out."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fuses import Body
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import msg, say, show_date, show_moment, word
from fleetcare.services import stock
from fleetcare.services.identify import identify
from fleetcare.services.shown import Recorded
from fleetcare.services.stock import StockLine
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line, tick
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table

HALVES = ("", "pack", "vehicle")


def ratings(part: Part) -> str:
    """Amps, DC volts and body of a fuse, or the half of a connector, in words."""
    told = []
    if part.rated_a is not None:
        told.append(f"{part.rated_a} A")
    if part.dc_v is not None:
        told.append(f"{part.dc_v} V DC")
    if part.fuse_body:
        told.append(word(f"fuse_body.{part.fuse_body}"))
    if part.kind is PartKind.CONNECTOR:
        told.append(word(f"parts.half_{part.half}"))
    return ", ".join(told)


def _reorder(line: StockLine) -> str:
    """The level, and how many to order where it is reached."""
    level = str(line.part.reorder_level)
    return say(msg("parts.level_order", level=level, order=line.order)) if line.order else level


def _used(line: StockLine) -> str:
    """How many in 90 days, and the last day."""
    used = str(line.used_90_days)
    return say(msg("parts.used_last", used=used, on_date=line.last_out.date())) if line.last_out else used


LINES = (
    Column(word("parts.name"), lambda s: s.part.name, width=26, tip=True),
    Column(word("parts.code"), lambda s: s.part.code, width=8),
    Column(word("parts.part_number"), lambda s: s.part.part_number, width=14),
    Column(word("parts.ratings"), lambda s: ratings(s.part), width=20, tip=True),
    Column(word("parts.fits_short"), lambda s: ", ".join(s.part.fits) or word("parts.any"), width=9, tip=True),
    Column(word("parts.have"), lambda s: str(s.have), sort=lambda s: s.have, width=9,
           mark=lambda s: colours.ACTION if s.order else None),
    Column(word("parts.level"), lambda s: str(s.part.reorder_level), right=True, width=10),
    Column(word("parts.order"), lambda s: str(s.order) if s.order else "", sort=lambda s: s.order, right=True, width=7),
    Column(word("parts.used_90"), lambda s: str(s.used_90_days), right=True, width=11),
    Column(word("parts.last_out"), lambda s: show_date(s.last_out.date()) if s.last_out else "", width=12),
    Column(word("parts.location"), lambda s: s.part.location, width=10, tip=True),
    Column(word("parts.price"), lambda s: "" if s.part.price is None else f"{s.part.price:.2f} {s.part.currency}".strip(), right=True,
           width=12),
)  # fmt: skip
LARGE_LINES = (
    Column(word("parts.name"), lambda s: f"{s.part.name} ({s.part.code})", width=22, tip=True),
    *LINES[2:6],
    Column(word("parts.level"), _reorder, sort=lambda s: s.part.reorder_level, width=10),
    Column(word("parts.used_90"), _used, sort=lambda s: s.used_90_days, width=11),
    *LINES[-2:],
)
"""For large letters: what belongs together stands in one column, so that no row scrolls sideways."""
MOVES = (
    Column(word("parts.when"), lambda m: show_moment(m.moved.done_at), width=18),
    Column(word("parts.what"), lambda m: say(m.text), width=60, tip=True),
    Column(word("parts.after"), lambda m: str(m.after), right=True, width=15),
    Column(word("list.who"), lambda m: m.person, width=10),
)


class StockPage(DeedPage):
    """Choose a part in the list; the deeds below are about it."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.order = words(bold=True)
        self.empty = words(word("parts.empty"), quiet=True)
        self.model, self.moves = RowModel(LARGE_LINES if large_text() else LINES), RowModel(MOVES)
        self.table = Table(self.model, word("parts.tab_stock"), stretch=0)
        rows_high(self.table, 8)
        self.move_table = Table(self.moves, word("parts.moves"), stretch=1)
        rows_high(self.move_table, 5)
        outer = QVBoxLayout(self)
        outer.addWidget(self.order)
        outer.addWidget(self.empty)
        outer.addWidget(self.table)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self._book_card())
        outer.addWidget(words(word("parts.moves"), bold=True))
        outer.addWidget(self.move_table)
        outer.addWidget(self._part_card())
        outer.addStretch(1)
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._show_moves())

    def _book_card(self) -> Card:
        card = Card(word("parts.move_heading"))
        row = line()
        row.addWidget(self.add_field("pieces", word("parts.pieces"), number=True), 1)
        row.addWidget(self.add_field("supplier", word("parts.supplier")), 2)
        row.addWidget(self.add_field("reason", word("parts.use_for")), 3)
        row.addWidget(self.add_field("subject", word("parts.on_pack")), 2)
        card.column.addLayout(row)
        buttons = line()
        self.buttons = {key: QPushButton(word(f"parts.do_{key}")) for key in ("in", "out", "count")}
        for button in self.buttons.values():
            button.setMinimumHeight(40)
            buttons.addWidget(button)
        buttons.addStretch(1)
        card.column.addLayout(buttons)
        self.buttons["in"].clicked.connect(lambda: self.attempt(self._book_in, "pieces", "supplier"))
        self.buttons["out"].clicked.connect(lambda: self.attempt(self._book_out, "pieces", "reason", "subject"))
        self.buttons["count"].clicked.connect(lambda: self.attempt(self._count, "pieces", "reason"))
        return card

    def _part_card(self) -> Card:
        card = Card(word("parts.add_heading"))
        self.kind = Choice(word("parts.kind"), "part_kind", PartKind)
        self.body = Choice(word("faults.body"), "fuse_body", Body, blank=True)
        self.half = Choice(word("parts.half"), "parts", ())
        for half in HALVES:
            self.half.box.addItem(word(f"parts.half_{half}"), half)
        first, second, third = line(), line(), line()
        first.addWidget(self.add_field("code", word("parts.code")), 1)
        first.addWidget(self.kind, 1)
        first.addWidget(self.add_field("name", word("parts.name")), 2)
        first.addWidget(self.add_field("part_number", word("parts.part_number")), 1)
        second.addWidget(self.add_field("fits", word("parts.fits")), 3)
        second.addWidget(self.add_field("location", word("parts.location")), 2)
        second.addWidget(self.add_field("reorder_level", word("parts.reorder_level"), number=True), 1)
        second.addWidget(self.add_field("price", word("parts.price"), number=True), 1)
        third.addWidget(self.add_field("rated_a", word("faults.rated_a"), "A", number=True), 1)
        third.addWidget(self.add_field("dc_v", word("faults.dc_v"), "V", number=True), 1)
        third.addWidget(self.body, 2)
        third.addWidget(self.half, 2)
        for row in (first, second, third):
            card.column.addLayout(row)
        self.save = QPushButton(word("parts.do_save"))
        self.save.setMinimumHeight(40)
        self.save.clicked.connect(self._save)
        self.stocked = tick(word("parts.show_chosen"))
        self.stocked.toggled.connect(self._fill)
        foot = line()
        foot.addWidget(self.save)
        foot.addWidget(self.stocked)
        foot.addStretch(1)
        card.column.addLayout(foot)
        return card

    def refresh(self) -> None:
        """Read the stock again; the chosen part stays chosen."""
        chosen = self.table.selected_row()
        lines = stock.stock(self._app.store, self._app.clock)
        self.model.set_rows(lines)
        self.empty.setVisible(not lines)
        self.table.setVisible(bool(lines))
        short = sum(bool(one.order) for one in lines)
        self.order.setText(say(msg("parts.order_heading", number=short)) if short else word("parts.order_none"))
        self.order.setVisible(bool(lines))
        codes = [one.part.code for one in lines]
        if codes:
            kept = chosen.part.code if chosen is not None and chosen.part.code in codes else codes[0]
            self.table.selectRow(codes.index(kept))
        self._show_moves()

    def choose(self, code: str) -> None:
        """Choose a part by its code."""
        codes = [one.part.code for one in self.model.rows]
        if code in codes:
            self.table.selectRow(codes.index(code))

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned part is chosen; a scanned pack or vehicle is what it is used on."""
        if thing_class == "part":
            self.choose(code)
            return True
        if thing_class not in ("pack", "vehicle"):
            return False
        self.fields["subject"].edit.setText(code)
        return True

    def _show_moves(self) -> None:
        row: StockLine | None = self.table.selected_row()
        self.moves.set_rows(() if row is None else stock.move_lines(self._app.store, row.part.code))
        if row is not None and self.stocked.isChecked():
            self._fill(True)

    def _chosen(self) -> str:
        row: StockLine | None = self.table.selected_row()
        if row is None:
            raise EntryRefused("parts.choose")
        return row.part.code

    def whole(self, name: str) -> int:
        """A whole number typed into a field; EntryRefused beside it otherwise."""
        typed = self.text(name)
        if not typed.isdecimal():
            raise EntryRefused("parts.bad_number", field=name, typed=typed)
        return int(typed)

    def _book_in(self) -> Recorded:
        return stock.book_in(
            self._app.store, self._app.clock, self.author(), self._chosen(), self.whole("pieces"), self.text("supplier")
        )

    def _book_out(self) -> Recorded:
        on: dict[str, str] = {}
        if self.text("subject"):
            found = identify(self._app.store, self.text("subject"))
            on = {found.thing_class: found.code} if found.thing_class in ("pack", "vehicle") else {}
        return stock.use(
            self._app.store, self._app.clock, self.author(), self._chosen(), self.whole("pieces"), self.text("reason"),
            pack=on.get("pack"), vehicle=on.get("vehicle"),
        )  # fmt: skip

    def _count(self) -> Recorded:
        return stock.count(
            self._app.store, self._app.clock, self.author(), self._chosen(), self.whole("pieces"), self.text("reason")
        )

    def _part(self) -> Part:
        body = self.body.chosen(Body)
        price = self.text("price").replace(",", ".")
        try:
            cost = Decimal(price) if price else None
        except InvalidOperation:
            raise EntryRefused("parts.bad_price", field="price", typed=self.text("price")) from None
        return Part(
            self.text("code").upper(), self.kind.chosen(PartKind) or PartKind.OTHER, self.text("name"),
            self.text("part_number"), tuple(one.strip().upper() for one in self.text("fits").split(",") if one.strip()),
            parse_amps(self.text("rated_a"), field="rated_a") if self.text("rated_a") else None,
            parse_volts(self.text("dc_v"), field="dc_v") if self.text("dc_v") else None,
            "" if body is None else body.value, str(self.half.box.currentData() or ""),
            self.whole("reorder_level") if self.text("reorder_level") else 0, self.text("location"), cost,
        )  # fmt: skip

    def _save(self) -> None:
        cleared = ("code", "name", "part_number", "fits", "rated_a", "dc_v", "reorder_level", "location", "price")
        made: list[Part] = []

        def deed() -> Recorded:
            made.append(self._part())
            return stock.put_part(self._app.store, self._app.clock, self.author(), made[0])

        if self.attempt(deed, *cleared):
            self.stocked.setChecked(False)
            self.choose(made[0].code)

    def _fill(self, on: bool) -> None:
        row: StockLine | None = self.table.selected_row()
        if not on or row is None:
            return
        part = row.part
        self.kind.choose(part.kind)
        self.body.choose(Body(part.fuse_body) if part.fuse_body else None)
        self.half.box.setCurrentIndex(HALVES.index(part.half))
        shown = {
            "code": part.code, "name": part.name, "part_number": part.part_number, "fits": ", ".join(part.fits),
            "location": part.location, "reorder_level": str(part.reorder_level),
            "price": "" if part.price is None else str(part.price),
            "rated_a": "" if part.rated_a is None else str(part.rated_a), "dc_v": "" if part.dc_v is None else str(part.dc_v),
        }  # fmt: skip
        for name, text in shown.items():
            self.fields[name].edit.setText(text)
