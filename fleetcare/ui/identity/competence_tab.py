"""The matrix of people, levels and trainings; a contractor's meter; the sheet of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal, InvalidOperation

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.competence import SOON_DAYS, State
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.packs import Level, Meter, Training
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import competence
from fleetcare.services.competence import ITEMS, Matrix, MatrixRow
from fleetcare.services.competence_words import cell_text, granted_text, next_text, person_text
from fleetcare.services.session import Author
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.colours import Mark
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field
from fleetcare.ui.widgets.tab_order import tab_through
from fleetcare.ui.widgets.tables import Column, RowModel, Table

_MARK = {State.EXPIRED: colours.FAULT, State.SOON: colours.ACTION}


def _cell_mark(row: MatrixRow, number: int) -> Mark | None:
    state = row.cells[number].state
    return None if state is None else _MARK.get(state)


def _columns(matrix: Matrix) -> tuple[Column, ...]:
    """The columns of the matrix: people first, then one for each training on record."""
    today = matrix.as_of.date()
    first = (
        Column(word("competence.person"), person_text, width=26, tip=True),
        Column(word("competence.level_now"), lambda r: word(f"level.{r.level.value}"), width=27,
               mark=lambda r: colours.FAULT if r.expired else None),
        Column(word("competence.granted"), lambda r: granted_text(r, today), width=47,
               mark=lambda r: _MARK.get(r.level_state)),
    )  # fmt: skip
    trained = tuple(
        Column(item, lambda r, n=n: cell_text(r.cells[n], matrix.as_of.date()), mark=lambda r, n=n: _cell_mark(r, n),
               width=max(34, len(item)))
        for n, item in enumerate(matrix.items)
    )  # fmt: skip
    return (*first, *trained, Column(word("competence.next"), next_text, width=44, tip=True))


METERS = (
    Column(word("competence.meter"), lambda m: m.meter.code, width=12),
    Column(word("competence.owner"), lambda m: m.meter.owner, width=20),
    Column(word("competence.meter_name"), lambda m: m.meter.name, width=20),
    Column(word("meters.state"), lambda m: say(m.why), mark=lambda m: None if m.usable else colours.FAULT, width=44),
)  # fmt: skip


class CompetenceTab(QWidget):
    """Choose a person in the matrix; a manager records a training of theirs."""

    def __init__(self, app: App, session: Session, changes: Changes, printed: Callable[[Matrix], None]) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._matrix: Matrix | None = None
        self.line = words(size=1.15, bold=True)
        self.print = QPushButton(word("competence.print"))
        self.table: Table | None = None
        self._holder = QVBoxLayout()
        self.meters = RowModel(METERS)
        self.meter_table = Table(self.meters, word("competence.meters"), stretch=3)
        self.meter_table.setFixedHeight(round(self.meter_table.verticalHeader().defaultSectionSize() * 3.3))
        self.meter_heading = words(word("competence.meters"), bold=True)
        self.item, self.level = Choice(word("competence.item")), Choice(word("competence.for_level"))
        self.item.box.setEditable(True)
        self.training = DeedCard(
            word("competence.training_heading"),
            {"item": self.item, "done_on": Field(word("competence.done_on")),
             "expires_on": Field(word("competence.expires_on")), "level": self.level,
             "reference": Field(word("competence.reference"))},
            word("competence.do"), self._record, columns=2,
        )  # fmt: skip
        self.meter = DeedCard(
            word("competence.meter_heading"),
            {"meter": code_field(word("competence.meter")), "name": Field(word("competence.meter_name")),
             "owner": Field(word("competence.owner")), "accuracy": Field(word("competence.accuracy"), "%", number=True),
             "digits": Field(word("competence.digits"), number=True),
             "digit_v": Field(word("competence.digit_v"), "V", number=True),
             "calibration": Field(word("competence.calibration"))},
            word("competence.meter_do"), self._put_meter, columns=2,
        )  # fmt: skip
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        head = QHBoxLayout()
        head.addWidget(self.line, 1)
        head.addWidget(self.print)
        outer.addLayout(head)
        outer.addWidget(words(word("competence.note"), quiet=True))
        outer.addLayout(self._holder, 1)
        outer.addWidget(self.meter_heading)
        outer.addWidget(self.meter_table)
        row = QHBoxLayout()
        for card in (self.training, self.meter):
            card.column.addStretch(1)
            row.addWidget(card, 1)
        outer.addLayout(row)
        self.print.clicked.connect(lambda: self._matrix and printed(self._matrix))
        self.level.offer([(one.value, word(f"level.{one.value}")) for one in Level if one is not Level.NONE])

    @property
    def matrix(self) -> Matrix | None:
        """The matrix as last read."""
        return self._matrix

    def refresh(self) -> None:
        """Read the matrix again, off the GUI thread."""
        app = self._app
        self._background.ask(lambda: competence.matrix(app.store, app.clock), self._show)

    def _show(self, matrix: Matrix) -> None:
        """A table of its own each time, since its columns are the trainings on record."""
        chosen = self.table.selected_row() if self.table is not None else None
        if self._matrix is None or self._matrix.items != matrix.items or self.table is None:
            if self.table is not None:
                self._holder.removeWidget(self.table)
                self.table.hide()
                self.table.deleteLater()
            self.table = Table(RowModel(_columns(matrix)), word("competence.heading"))
            self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 9)
            self._holder.addWidget(self.table)
            tab_through(self.print, self.table, self.meter_table, self.training, self.meter)
            self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._chosen())
        self._matrix = matrix
        self.table.rows_model.set_rows(matrix.rows)
        codes = [row.person.code for row in matrix.rows]
        if codes:
            kept = chosen.person.code if isinstance(chosen, MatrixRow) and chosen.person.code in codes else codes[0]
            self.table.selectRow(codes.index(kept))
        told = msg("competence.soon_line", count=len(matrix.soon), soon_days=SOON_DAYS)
        self.line.setText(say(told if matrix.soon else msg("competence.soon_none", soon_days=SOON_DAYS)))
        self.meters.set_rows(matrix.meters)
        self.meter_heading.setVisible(bool(matrix.meters))
        self.meter_table.setVisible(bool(matrix.meters))
        typed = self.item.box.currentText()
        self.item.offer([(one, one) for one in (matrix.items or ITEMS)])
        self.item.box.setEditText(typed)
        self._chosen()

    def _chosen(self) -> None:
        row = None if self.table is None else self.table.selected_row()
        name = row.person.name if isinstance(row, MatrixRow) else ""
        self.training.heading.setText(f"{name} · {word('competence.training_heading')}" if name else "")

    def choose(self, person: str) -> None:
        """Select a person in the matrix."""
        if self.table is not None and self._matrix is not None:
            self.table.selectRow([row.person.code for row in self._matrix.rows].index(person))

    def _author(self) -> Author:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        return author

    def _day(self, card: DeedCard, field: str) -> dt.date | None:
        return date_if_typed(card.fields[field].text, field=field)

    def _record(self) -> Message:
        row = None if self.table is None else self.table.selected_row()
        if not isinstance(row, MatrixRow):
            raise EntryRefused("competence.choose")
        training = Training(
            self.item.box.currentText(), self._day(self.training, "done_on") or self._app.clock().date(),
            self._day(self.training, "expires_on"), Level(self.level.code or Level.NONE),
            self.training.fields["reference"].text,
        )  # fmt: skip
        done = competence.record_training(self._app.store, self._app.clock, self._author(), row.person.code, training)
        self.item.box.setEditText("")
        self._changes.tell(done)
        self.refresh()
        return done.message

    def _figure(self, field: str) -> Decimal:
        typed = self.meter.fields[field].text.strip().replace(",", ".")
        try:
            value = Decimal(typed)
        except InvalidOperation:
            value = Decimal(0)
        if not value.is_finite() or value <= 0:
            raise EntryRefused("competence.meter_accuracy", field=field)
        return value

    def _put_meter(self) -> Message:
        fields = self.meter.fields
        digits = fields["digits"].text.strip()
        if not digits.isdecimal():
            raise EntryRefused("competence.meter_accuracy", field="digits")
        meter = Meter(
            fields["meter"].text.strip().upper(), fields["name"].text.strip(), self._figure("accuracy"), int(digits),
            self._figure("digit_v"), self._day(self.meter, "calibration"), owner=fields["owner"].text,
        )  # fmt: skip
        done = competence.put_contractor_meter(self._app.store, self._app.clock, self._author(), meter)
        self._changes.tell(done)
        self.refresh()
        return done.message
