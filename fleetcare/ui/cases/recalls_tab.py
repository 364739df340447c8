"""Makers' notices: what one means for the fleet before it is entered, its packs, and how they get out again."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.recalls import Match, RecallNotice
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import recalling
from fleetcare.services.recalling import RecallLine, RecallPage
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.cases.tab import CaseTab, across
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import DeedCard, proof_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table

_MARK = {Match.MATCHED: colours.DANGER, Match.NOT_RULED_OUT: colours.UNKNOWN, Match.OUT: colours.FAULT}


def _state(page: RecallPage) -> str:
    return say(page.withdrawn) if page.withdrawn is not None else ", ".join(page.notice.models)


NOTICES = (
    Column(word("recalls.notice"), lambda p: p.notice.number, width=20,
           mark=lambda p: colours.DANGER if p.open else None),
    Column(word("recalls.open"), lambda p: str(p.open), sort=lambda p: p.open, width=7),
    Column(word("recalls.matched"), lambda p: str(p.matched), sort=lambda p: p.matched, width=7),
    Column(word("recalls.unsure"), lambda p: str(p.not_ruled_out), sort=lambda p: p.not_ruled_out, width=14),
    Column(word("recalls.entered"),
           lambda p: say(msg("recalls.entered_by", at=p.notice.done_at, person=p.entered_by)), width=30),
    Column(word("list.model"), _state, width=30, tip=True),
)  # fmt: skip
PACKS = (
    Column(word("window.pack"), lambda r: r.pack.code, width=10),
    Column(word("recalls.found"), lambda r: word(f"recall_match.{r.found.value}"), mark=lambda r: _MARK[r.found], width=22),
    Column(word("recalls.serial"), lambda r: r.pack.serial or "—", width=16),
    Column(word("recalls.date_code"), lambda r: r.pack.date_code or "—", width=12),
    Column(word("recalls.where"), lambda r: word(f"recall_where.{r.where.value}"), width=16),
    Column(word("recalls.place"), lambda r: r.place or "—", width=26, tip=True),
    Column(word("recalls.state"), lambda r: say(r.state), width=40, tip=True),
)  # fmt: skip
ENTRY = (
    ("number", "recalls.number"), ("maker", "recalls.maker"), ("models", "recalls.models"),
    ("serial_from", "recalls.serial_from"), ("serial_to", "recalls.serial_to"), ("model_text", "recalls.model_text"),
    ("date_code_from", "recalls.date_from"), ("date_code_to", "recalls.date_to"), ("hazard", "recalls.hazard"),
    ("remedy", "recalls.remedy"),
)  # fmt: skip


class RecallsTab(CaseTab):
    """A notice is shown first and entered by a second button; a pack gets out by the maker's remedy only."""

    open_pack = Signal(str)
    asked_sheet = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._tried: RecallNotice | None = None
        self.notices, self.packs = RowModel(NOTICES), RowModel(PACKS)
        self.table = Table(self.notices, word("recalls.notices"), stretch=5)
        self.pack_table = Table(self.packs, word("recalls.heading"), stretch=5)
        self.pack_table.sort_by_headings()
        height = self.table.verticalHeader().defaultSectionSize()
        self.table.setFixedHeight(round(height * 4.3))
        self.pack_table.setMinimumHeight(height * 8)
        self.empty = words(word("recalls.empty"), quiet=True)
        self.told = words(bold=True)
        self.told.hide()
        self.heading = words(bold=True)
        self.print = QPushButton(word("recalls.print"))
        self.go_enter = QPushButton(word("recalls.go_enter"))
        self.go_enter.clicked.connect(self.begin_entry)
        self.entry = DeedCard(
            word("recalls.enter_heading"), {name: Field(word(key)) for name, key in ENTRY}, word("recalls.try"), self._try,
            columns=3,
        )  # fmt: skip
        self.enter = QPushButton(word("recalls.enter"))
        self.enter.setMinimumHeight(40)
        self.enter.setEnabled(False)
        self.entry.column.addWidget(self.enter)
        for field in self.entry.fields.values():
            field.edit.textChanged.connect(lambda _t: self._changed())
        self.clear = DeedCard(
            word("recalls.answer_heading"),
            {"number": Field(word("recalls.number_again")), "remedy": Field(word("recalls.remedy_done")),
             "reference": Field(word("recalls.reference")), "badge": proof_field()},
            word("recalls.do_clear"), self._clear, columns=2,
        )  # fmt: skip
        self.read = DeedCard(
            " ",
            {"serial": Field(word("recalls.serial_read")), "date_code": Field(word("recalls.date_read")),
             "badge": proof_field()},
            word("recalls.do_rule_out"), self._rule_out,
        )  # fmt: skip
        self.back = DeedCard(
            " ", {"reason": Field(word("recalls.reason")), "badge": proof_field()}, word("recalls.do_withdraw"),
            self._withdraw,
        )  # fmt: skip
        self._lay_out()
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._show_packs())
        self.pack_table.selectionModel().selectionChanged.connect(lambda _a, _b: self._pack_chosen())
        self.pack_table.opened.connect(lambda row: self.open_pack.emit(row.pack.code))
        self.enter.clicked.connect(self._enter)
        self.print.clicked.connect(self._print)

    def _lay_out(self) -> None:
        top = across()
        top.addWidget(words(word("recalls.note"), quiet=True), 1)
        top.addWidget(self.go_enter)
        self.column.addLayout(top)
        self.column.addWidget(self.told)
        self.column.addWidget(self.empty)
        self.column.addWidget(self.table)
        row = QHBoxLayout()
        row.addWidget(self.heading, 1)
        row.addWidget(self.print)
        self.column.addLayout(row)
        self.column.addWidget(self.pack_table, 2)
        cards = across()
        for card, part in ((self.clear, 5), (self.read, 3), (self.back, 3)):
            card.column.addStretch(1)
            cards.addWidget(card, part)
        self.column.addLayout(cards)
        self.column.addWidget(self.entry)
        self.column.addStretch(1)

    @property
    def page(self) -> RecallPage | None:
        """The notice in view."""
        row = self.table.selected_row()
        return row if isinstance(row, RecallPage) else None

    def refresh(self) -> None:
        """Read the notices again, off the GUI thread; the chosen one stays chosen."""
        app = self._app
        self._background.ask(lambda: recalling.recall_pages(app.store, app.clock), self._show)

    def _show(self, pages: tuple[RecallPage, ...]) -> None:
        kept = self.page.notice.number if self.page is not None else None
        pack = self.pack_table.selected_row()
        self.notices.set_rows(pages)
        self.empty.setVisible(not pages)
        for part in (self.table, self.heading, self.pack_table, self.print, self.clear, self.read, self.back):
            part.setVisible(bool(pages))
        numbers = [one.notice.number for one in pages]
        if numbers:
            self.table.selectRow(numbers.index(kept) if kept in numbers else 0)
        self._show_packs()
        self.choose_pack(pack.pack.code if isinstance(pack, RecallLine) else "")
        self.go_enter.setVisible(bool(pages))

    def _show_packs(self) -> None:
        page = self.page
        self.packs.set_rows(() if page is None else page.lines)
        if self.packs.rowCount():
            self.pack_table.selectRow(0)
        self.heading.setText("" if page is None else say(msg("recalls.packs", number=page.notice.number)))
        self._pack_chosen()

    def choose_pack(self, code: str) -> None:
        """Select a pack of the notice in view."""
        codes = [line.pack.code for line in self.packs.rows]
        if codes:
            self.pack_table.selectRow(codes.index(code) if code in codes else 0)

    def _pack_chosen(self) -> None:
        row = self.pack_table.selected_row()
        held = isinstance(row, RecallLine) and row.held
        self.clear.setEnabled(held)
        self.read.setEnabled(held)
        name = row.pack.code if isinstance(row, RecallLine) else word("recalls.answer_heading")
        self.clear.heading.setText(f"{name} · {word('recalls.remedy_done')}")
        self.read.heading.setText(f"{name} · {word('recalls.serial_read')}")
        self.back.heading.setText("" if self.page is None else self.page.notice.number)
        self.back.setEnabled(self.page is not None and self.page.withdrawn is None)

    # entering

    def begin_entry(self) -> None:
        """Bring the card for a new notice into view."""
        self.scroll.ensureWidgetVisible(self.enter, 0, 20)
        self.entry.fields["number"].edit.setFocus()

    def _notice(self) -> RecallNotice:
        typed = {name: field.text.strip() for name, field in self.entry.fields.items()}
        with self._app.store.view() as view:
            models = recalling.models_of(view, typed.pop("models"))
        return RecallNotice(models=models, done_at=self._app.clock(), **typed)

    def _try(self) -> None:
        notice = self._notice()
        page = recalling.preview_notice(self._app.store, self._app.clock, notice)
        self._tried = notice
        self.enter.setEnabled(True)
        vehicles = len({one.place for one in page.lines if one.where is recalling.Where.VEHICLE})
        told = msg("recalls.preview", matched=page.matched, unsure=page.not_ruled_out, vehicles=vehicles)
        self.entry.tell(say(told))

    def _changed(self) -> None:
        self._tried = None
        self.enter.setEnabled(False)
        self.entry.tell("")

    def _enter(self) -> None:
        try:
            notice = self._notice()
            entered = recalling.enter_notice(self._app.store, self._app.clock, self.author(), notice)
        except FleetcareError as error:
            self.entry.refuse(error)
            return
        for field in self.entry.fields.values():
            field.clear()
        self.told.setText(say(entered.recorded.message))
        self.told.show()
        self.scroll.ensureVisible(0, 0)
        self.tell(entered.recorded)

    # answering

    def _line(self) -> tuple[RecallPage, RecallLine]:
        page, row = self.page, self.pack_table.selected_row()
        if page is None:
            raise EntryRefused("recalls.chosen_none")
        if not isinstance(row, RecallLine):
            raise EntryRefused("recalls.choose_pack")
        return page, row

    def _done(self, done: Recorded) -> Message:
        self.tell(done)
        return done.message

    def _clear(self) -> Message:
        page, row = self._line()
        fields = self.clear.fields
        typed = fields["number"].text.strip()
        if typed and typed.casefold() != page.notice.number.casefold():
            raise EntryRefused("recalls.another_number", field="number", number=page.notice.number)
        return self._done(
            recalling.clear_recall(
                self._app.store, self._app.clock, self.author(), typed, row.pack.code, fields["remedy"].text,
                fields["reference"].text, fields["badge"].text,
            )
        )  # fmt: skip

    def _rule_out(self) -> Message:
        page, row = self._line()
        fields = self.read.fields
        return self._done(
            recalling.rule_out(
                self._app.store, self._app.clock, self.author(), page.notice.number, row.pack.code, fields["serial"].text,
                fields["date_code"].text, fields["badge"].text,
            )
        )  # fmt: skip

    def _withdraw(self) -> Message:
        page = self.page
        if page is None:
            raise EntryRefused("recalls.chosen_none")
        fields = self.back.fields
        return self._done(
            recalling.withdraw_notice(
                self._app.store, self._app.clock, self.author(), page.notice.number, fields["reason"].text,
                fields["badge"].text,
            )
        )  # fmt: skip

    def _print(self) -> None:
        if self.page is not None:
            self.asked_sheet.emit(self.page.notice.number)
