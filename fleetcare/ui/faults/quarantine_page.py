"""The quarantine list with its day counter, the daily look, and the collection."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.quarantine import Collected, HeadAnswer, QuarantineLook, TransportHead
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import quarantine
from fleetcare.services.quarantine import QuarantineCase
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, abreast, line, tick
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def day_words(case: QuarantineCase) -> str:
    """The day counter in words, with the alarm once its day has come."""
    if case.alarm:
        return say(msg("quarantine.alarm", number=case.days, alarm_date=case.alarm_on))
    return say(msg("quarantine.day", number=case.days))


def look_words(case: QuarantineCase) -> str:
    """Whether somebody looked today, and on which days nobody did."""
    missed = case.missed_told
    return say(case.today_told) if missed is None else f"{say(case.today_told)}; {say(missed)}"


LEAST_ROWS, MOST_ROWS = 2, 5
"""How many lines the list shows at least and at most; what is more scrolls inside it."""

CASES = (
    Column(word("faults.pack"), lambda c: c.pack.code, width=10, mark=lambda c: colours.DANGER),
    Column(word("quarantine.days"), day_words, sort=lambda c: c.days, width=33, tip=True),
    Column(word("quarantine.since"), lambda c: show_moment(c.since), width=18),
    Column(word("quarantine.place"), lambda c: c.place or word("quarantine.no_place"), width=13, tip=True),
    Column(word("faults.vehicle"), lambda c: c.vehicle or "—", width=9),
    Column(word("quarantine.looks"), look_words, width=45, tip=True),
    Column(word("quarantine.reason"), lambda c: "; ".join(say(r) for r in c.reasons), width=40, tip=True),
)  # fmt: skip


class QuarantinePage(FaultPage):
    """Choose a pack in the list; the deeds below are about it."""

    asked_sheet = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.empty = words(word("quarantine.empty"), quiet=True)
        self.model = RowModel(CASES)
        self.table = Table(self.model, word("faults.tab_quarantine"), stretch=6)
        outer = QVBoxLayout(self)
        outer.addWidget(self.empty)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self.table)
        self.cards = (self._look_card(), self._collect_card())
        for card in self.cards:
            outer.addWidget(card)
        outer.addStretch(1)
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._name_chosen())

    def _look_card(self) -> Card:
        card = Card(word("quarantine.look_heading"))
        self.changed = tick(word("quarantine.changed"))
        self.look = QPushButton(word("quarantine.do_look"))
        self.print = QPushButton(word("quarantine.print"))
        row = line()
        abreast(
            row,
            (self.changed, 0),
            (self.add_field("place", word("quarantine.place")), 1),
            (self.add_field("remark", word("bench.remark")), 2),
            (self.look, 0),
            (self.print, 0),
        )
        card.column.addLayout(row)
        self.look.clicked.connect(self.note_look)
        self.print.clicked.connect(self._print)
        return card

    def _collect_card(self) -> Card:
        card = Card(word("quarantine.collect_heading"))
        card.column.addWidget(words(word("quarantine.heads_note"), quiet=True))
        grid = QGridLayout()
        self.heads = {
            head: Choice(word(f"head.{head.value}"), "head_answer", HeadAnswer, blank=True) for head in TransportHead
        }
        across = 1 if large_text() else 3
        for number, choice in enumerate(self.heads.values()):
            grid.addWidget(choice, number // across, number % across)
        card.column.addLayout(grid)
        row = line()
        for name, unit in (("carrier", ""), ("consignment", ""), ("weight", "kg"), ("receipt", "")):
            row.addWidget(self.add_field(name, word(f"quarantine.{name}"), unit, number=name == "weight"), 2)
        row.addWidget(self.add_field("badge", word("faults.badge")), 1)
        card.column.addLayout(row)
        self.collect = QPushButton(word("quarantine.do_collect"))
        self.collect.clicked.connect(self.note_collection)
        card.column.addWidget(self.collect)
        return card

    def refresh(self) -> None:
        """Read the list again; the chosen pack stays chosen."""
        chosen = self.table.selected_row()
        cases = quarantine.quarantine_cases(self._app.store, self._app.clock)
        self.model.set_rows(cases)
        self.empty.setVisible(not cases)
        rows_high(self.table, min(max(len(cases), LEAST_ROWS), MOST_ROWS))
        for part in (self.table, *self.cards):
            part.setVisible(bool(cases))
        codes = [case.pack.code for case in cases]
        if codes:
            kept = chosen.pack.code if chosen is not None and chosen.pack.code in codes else codes[0]
            self.table.selectRow(codes.index(kept))

    def _name_chosen(self) -> None:
        """The pack that a deed is about stands above its form."""
        row = self.table.selected_row()
        if row is not None:
            for card, key in zip(self.cards, ("quarantine.look_of", "quarantine.collect_of"), strict=True):
                card.heading.setText(say(msg(key, pack=row.pack.code)))

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned pack that is in quarantine is chosen in the list."""
        codes = [case.pack.code for case in self.model.rows]
        if thing_class != "pack" or code not in codes:
            return super().take(thing_class, code)
        self.table.selectRow(codes.index(code))
        return True

    def _chosen(self) -> str:
        row = self.table.selected_row()
        if row is None:
            raise EntryRefused("quarantine.choose")
        return str(row.pack.code)

    def note_look(self) -> None:
        """Keep the daily look."""
        self.quiet()
        try:
            look = QuarantineLook(
                self._chosen(), self._app.clock(), self.changed.isChecked(), self.fields["place"].text.strip(),
                self.fields["remark"].text.strip(),
            )  # fmt: skip
            done = quarantine.record_look(self._app.store, self._app.clock, self.author(), look)
        except FleetcareError as error:
            self.refuse(error)
            return
        self.changed.setChecked(False)
        for name in ("place", "remark"):
            self.fields[name].clear()
        self._finish(done)

    def note_collection(self) -> None:
        """Write the pack off with its carrier and consignment."""
        self.quiet()
        try:
            answers = {head: choice.chosen(HeadAnswer) for head, choice in self.heads.items()}
            collected = Collected(
                self._chosen(), self._app.clock(), self.fields["carrier"].text.strip(),
                self.fields["consignment"].text.strip(),
                tuple((head.value, answer.value) for head, answer in answers.items() if answer is not None),
                self._weight(), self.fields["receipt"].text.strip(),
            )  # fmt: skip
            done = quarantine.record_collection(
                self._app.store, self._app.clock, self.author(), self.fields["badge"].text, collected
            )
        except FleetcareError as error:
            self.refuse(error)
            return
        for choice in self.heads.values():
            choice.choose(None)
        for name in ("carrier", "consignment", "weight", "receipt", "badge"):
            self.fields[name].clear()
        self._finish(done)

    def _weight(self) -> Decimal | None:
        typed = self.fields["weight"].text.strip()
        if not typed:
            return None
        try:
            weight = Decimal(typed.replace(",", "."))
        except InvalidOperation:
            weight = Decimal(-1)
        if not weight.is_finite() or weight <= 0:
            raise EntryRefused("quarantine.bad_weight", field="weight", typed=typed)
        return weight

    def _finish(self, done: object) -> None:
        self.refresh()
        self.result.setText(say(done.message))  # type: ignore[attr-defined]
        self._changes.tell(done)  # type: ignore[arg-type]

    def _print(self) -> None:
        try:
            self.asked_sheet.emit(self._chosen())
        except FleetcareError as error:
            self.refuse(error)
