"""Packs at their maker: sent, back, and the first checks before one is fitted."""

from __future__ import annotations

from PySide6.QtWidgets import QGridLayout, QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.away import BackAs, CameBack, SentToMaker
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.quarantine import HeadAnswer, TransportHead
from fleetcare.domain.wording import msg, say, show_date, word
from fleetcare.services import maker_returns
from fleetcare.services.maker_returns import MakerLine
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.away.first_checks import FirstChecks
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table

LINES = (
    Column(word("faults.pack"), lambda m: m.pack, width=10),
    Column(word("list.model"), lambda m: m.model_name, width=18),
    Column(word("maker.maker"), lambda m: m.sent.maker, width=20, tip=True),
    Column(word("maker.return_number"), lambda m: m.sent.return_number, width=16),
    Column(word("returns.when"), lambda m: show_date(m.sent.done_at.date()), width=12),
    Column(word("list.who"), lambda m: m.person, width=10),
    Column(word("away.standing"), lambda m: say(m.expected), width=44,
           mark=lambda m: colours.ACTION if m.overdue_days else None),
    Column(word("maker.reason"), lambda m: m.sent.reason, width=24, tip=True),
)  # fmt: skip
_SENT = ("pack", "maker", "return_number", "carrier", "consignment", "expected_on", "reason")
_BACK = ("report", "work", "replacement", "replacement_serial", "shelf", "badge")
_WRITES_OFF = (BackAs.REPLACED, BackAs.KEPT)


class MakerPage(DeedPage):
    """Choose a pack in the list when it comes back."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.none = words(word("maker.none"), quiet=True)
        self.waiting = words(bold=True)
        self.model = RowModel(LINES)
        self.table = Table(self.model, word("maker.list"), stretch=6)
        rows_high(self.table, 4)
        self.first = FirstChecks(app, session, changes)
        outer = QVBoxLayout(self)
        outer.addWidget(self.none)
        outer.addWidget(self.table)
        outer.addWidget(self.waiting)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self._back_card())
        outer.addWidget(self.first)
        outer.addWidget(self._send_card())
        outer.addStretch(1)
        self.back_button.clicked.connect(lambda: self.attempt(self._came_back, *_BACK))
        self.send_button.clicked.connect(self.send)

    def _send_card(self) -> Card:
        card = Card(word("maker.send_heading"))
        rows = [line(), line()]
        for number, name in enumerate(_SENT):
            label = word("faults.pack") if name == "pack" else word(f"maker.{name}")
            rows[number // 4].addWidget(self.add_field(name, label), 1)
        for row in rows:
            card.column.addLayout(row)
        card.column.addWidget(words(word("maker.heads_heading"), bold=True))
        card.column.addWidget(words(word("quarantine.heads_note"), quiet=True))
        grid = QGridLayout()
        self.heads = {
            head: Choice(word(f"head.{head.value}"), "head_answer", HeadAnswer, blank=True) for head in TransportHead
        }
        columns = 1 if large_text() else 3
        for number, choice in enumerate(self.heads.values()):
            grid.addWidget(choice, number // columns, number % columns)
        card.column.addLayout(grid)
        self.send_button = QPushButton(word("maker.do_send"))
        self.send_button.setMinimumHeight(40)
        card.column.addWidget(self.send_button)
        return card

    def _back_card(self) -> Card:
        card = Card(word("maker.back_heading"))
        self.outcome = Choice(word("maker.outcome"), "back_as", BackAs)
        rows = [line(), line()]
        rows[0].addWidget(self.outcome, 1)
        rows[0].addWidget(self.add_field("report", word("maker.report")), 1)
        rows[0].addWidget(self.add_field("work", word("maker.work")), 2)
        rows[1].addWidget(self.add_field("replacement", word("maker.replacement")), 1)
        rows[1].addWidget(self.add_field("replacement_serial", word("maker.replacement_serial")), 1)
        rows[1].addWidget(self.add_field("shelf", word("identity.shelf")), 1)
        rows[1].addWidget(self.add_field("badge", word("faults.badge")), 1)
        for row in rows:
            card.column.addLayout(row)
        self.back_button = QPushButton(word("maker.do_back"))
        self.back_button.setMinimumHeight(40)
        card.column.addWidget(self.back_button)
        self.outcome.box.currentIndexChanged.connect(lambda _i: self._show_outcome())
        self._show_outcome()
        return card

    def _show_outcome(self) -> None:
        replaced = self.outcome.chosen(BackAs) is BackAs.REPLACED
        self.fields["badge"].setEnabled(self.outcome.chosen(BackAs) in _WRITES_OFF)
        self.fields["work"].setEnabled(not replaced)
        for name in ("replacement", "replacement_serial"):
            self.fields[name].setEnabled(replaced)

    def refresh(self) -> None:
        """Read the list again; the chosen pack stays chosen."""
        chosen: MakerLine | None = self.table.selected_row()
        with self._app.store.view() as view:
            lines = maker_returns.maker_lines(view, self._app.clock())
            waiting = maker_returns.waiting_for_checks(view)
        self.model.set_rows(lines)
        self.none.setVisible(not lines)
        self.table.setVisible(bool(lines))
        self.waiting.setText(say(msg("maker.to_check", packs=waiting)) if waiting else "")
        self.waiting.setVisible(bool(waiting))
        self.first.offer(waiting)
        codes = [one.pack for one in lines]
        if codes:
            kept = chosen.pack if chosen is not None and chosen.pack in codes else codes[0]
            self.table.selectRow(codes.index(kept))
        self.back_button.setEnabled(bool(codes))

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned pack: chosen when it is at its maker, else the one that is sent."""
        if thing_class != "pack":
            return False
        codes = [one.pack for one in self.model.rows]
        if code in codes:
            self.table.selectRow(codes.index(code))
        elif not self.first.take_pack(code):
            self.fields["pack"].edit.setText(code)
        return True

    def send(self) -> None:
        """The pack left for its maker."""

        def deed() -> Recorded:
            if not self.code("pack"):
                raise EntryRefused("faults.need_pack", field="pack")
            expected = self.day("expected_on")
            if expected is None:
                raise EntryRefused("maker.needs_expected", field="expected_on")
            answers = {head: choice.chosen(HeadAnswer) for head, choice in self.heads.items()}
            sent = SentToMaker(
                self.code("pack"), self._app.clock(), self.text("maker"), self.text("return_number"),
                self.text("carrier"), expected, self.text("consignment"), self.text("reason"),
                tuple((head.value, answer.value) for head, answer in answers.items() if answer is not None),
            )  # fmt: skip
            return maker_returns.record_sent(self._app.store, self._app.clock, self.author(), sent)

        if self.attempt(deed, *_SENT):
            for choice in self.heads.values():
                choice.choose(None)

    def _came_back(self) -> Recorded:
        row: MakerLine | None = self.table.selected_row()
        if row is None:
            raise EntryRefused("maker.not_there", pack="—")
        outcome = self.outcome.chosen(BackAs) or BackAs.REPAIRED
        replaced = outcome is BackAs.REPLACED
        back = CameBack(
            row.pack, self._app.clock(), outcome, self.text("report"), "" if replaced else self.text("work"),
            (self.text("replacement").upper() or None) if replaced else None,
            self.text("replacement_serial") if replaced else "",
        )  # fmt: skip
        return maker_returns.record_back(
            self._app.store, self._app.clock, self.author(), back, self.text("shelf"), badge=self.text("badge")
        )
