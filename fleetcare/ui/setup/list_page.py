"""Many vehicles at once: a pasted or opened list, shown row by row before anything is recorded."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLabel, QPlainTextEdit, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.wording import say, word
from fleetcare.services import setting_up, vehicle_lists
from fleetcare.services.vehicle_lists import ListRow, Shown, State
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import line
from fleetcare.ui.widgets.forms import Choice
from fleetcare.ui.widgets.page import Page
from fleetcare.ui.widgets.tables import Column, RowModel, Table

_MARKS = {State.NEW: colours.ACTION, State.CHANGED: colours.CAUTION, State.REFUSED: colours.FAULT}


def _takes(row: ListRow) -> str:
    vehicle = row.vehicle
    return row.cells.get("model", "") if vehicle is None else f"{vehicle.voltage_class_v} V, {vehicle.connector}"


ROWS = (
    Column(word("vehicle_list.row"), lambda r: str(r.number), sort=lambda r: r.number, right=True, width=5),
    Column(word("vehicle_list.state"), lambda r: word(f"vehicle_list.state_{r.state.value}"),
           mark=lambda r: _MARKS.get(r.state), width=16),
    Column(word("setup.code"), lambda r: r.cells["code"], width=10),
    Column(word("setup.vehicle_kind"), lambda r: r.cells.get("kind", ""), width=12),
    Column(word("setup.depot"), lambda r: r.cells.get("depot", "") if r.vehicle is None else r.vehicle.depot, width=8),
    Column(word("vehicle_list.serial"), lambda r: r.cells.get("serial", ""), width=16),
    Column(word("vehicle_list.takes"), _takes, width=12),
    Column(word("list.why"), lambda r: "" if r.why is None else say(r.why), width=40, tip=True),
)  # fmt: skip


class VehicleListPage(Page):
    """Nothing is recorded before the second button is pressed; refused rows are left out and listed."""

    labels_wanted = Signal()

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.shown: Shown | None = None
        self._path: Path | None = None
        self.text = QPlainTextEdit()
        self.text.setAccessibleName(word("vehicle_list.text"))
        self.text.setTabChangesFocus(True)
        self.text.setPlaceholderText("EB-12, e-bike, D1, WX44120\nCB-03, cargo bike, D1, WX44121")
        self.text.setFixedHeight(self.text.fontMetrics().lineSpacing() * (4 if large_text() else 7))
        self.takes = Choice(word("vehicle_list.model"))
        self.open, self.show_rows = QPushButton(word("vehicle_list.open")), QPushButton(word("vehicle_list.show"))
        self.save, self.labels = QPushButton(word("vehicle_list.record")), QPushButton(word("vehicle_list.labels"))
        self.counts, self.wrong = words(bold=True), words()
        self.wrong.setProperty("role", "wrong")
        self.model = RowModel(ROWS)
        self.table = Table(self.model, word("vehicle_list.heading"), stretch=7)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        card = Card(word("vehicle_list.heading"))
        card.column.addWidget(words(word("vehicle_list.hint"), quiet=True))
        name = QLabel(word("vehicle_list.text"))
        name.setBuddy(self.text)
        card.column.addWidget(name)
        card.column.addWidget(self.text)
        tools = line()
        tools.addWidget(self.takes, 2)
        for button in (self.open, self.show_rows):
            button.setMinimumHeight(38)
            tools.addWidget(button, 1, Qt.AlignmentFlag.AlignBottom)
        card.column.addLayout(tools)
        card.column.addWidget(self.wrong)
        done = QHBoxLayout()
        done.addWidget(self.counts, 1)
        done.addWidget(self.labels)
        done.addWidget(self.save)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.addWidget(card)
        outer.addWidget(self.table, 1)
        outer.addLayout(done)
        self.text.textChanged.connect(self._retyped)
        self.takes.box.activated.connect(lambda _i: self._again())
        self.open.clicked.connect(self._open)
        self.show_rows.clicked.connect(self.read_typed)
        self.save.clicked.connect(self.record)
        self.labels.clicked.connect(self.labels_wanted.emit)
        self._clear()

    @property
    def first(self) -> QWidget:
        """Where the focus goes."""
        return self.text

    def refresh(self) -> None:
        """Offer the pack models on record."""
        self.takes.offer([(one.code, f"{one.code} · {one.name}") for one in setting_up.offers(self._app.store).models])

    def _clear(self) -> None:
        self.shown = None
        self.model.set_rows(())
        self.counts.clear()
        self.wrong.hide()
        self.save.setEnabled(False)
        self.labels.hide()

    def _retyped(self) -> None:
        self._path = None
        self._clear()

    def _again(self) -> None:
        """Another model was chosen: what is shown is read again."""
        if self.shown is not None:
            self._read()

    def read_typed(self) -> None:
        """Show what is typed, or the file again that was opened last."""
        self._read()

    def _open(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(self, word("vehicle_list.open"), "", word("vehicle_list.file"))
        if chosen:
            self.text.clear()
            self._path = Path(chosen)
            self._read()

    def _read(self) -> None:
        store, clock, path = self._app.store, self._app.clock, self._path
        if path is None:
            self._show(lambda: vehicle_lists.read_text(store, clock, self.text.toPlainText(), self.takes.code))
        else:
            self._show(lambda: vehicle_lists.read_file(store, clock, path, self.takes.code))

    def _show(self, read: Callable[[], Shown]) -> None:
        self._clear()
        try:
            self.shown = read()
        except FleetcareError as error:
            self._refuse(error)
            return
        self.model.set_rows(self.shown.rows)
        self.counts.setText(say(self.shown.told))
        self.save.setEnabled(bool(self.shown.count(State.NEW) + self.shown.count(State.CHANGED)))
        if self.save.isEnabled():
            self.save.setFocus()

    def _refuse(self, error: FleetcareError) -> None:
        self.wrong.setText(say(error.message))
        self.wrong.show()

    def record(self) -> None:
        """Record what was shown."""
        if self.shown is None:
            return
        try:
            author = self._session.author(self.shown.position)
            if author is None:
                raise EntryRefused("screen.sign_first")
            done = vehicle_lists.record_list(self._app.store, self._app.clock, author, self.shown)
        except FleetcareError as error:
            self._refuse(error)
            return
        self._changes.tell(done)
        self._read()
        self.counts.setText(f"{say(done.message)} {self.counts.text()}")
        self.labels.show()
        self.labels.setFocus()
