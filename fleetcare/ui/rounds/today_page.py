"""Today's round: what cannot be kept on top, the list worst first, hours beside it, the shift's end below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import Message, msg, say, show_date, word
from fleetcare.services import edges, inspecting, rounds
from fleetcare.services.edges import EdgesRead
from fleetcare.services.inspecting import ShiftEnd
from fleetcare.services.rounds import Round, RoundItem
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text, sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.tables import MOST_WRAPPED, Column, Prepared, RowModel, Table, prepare


def mark_of(one: RoundItem) -> colours.Mark:
    """The mark of a line: danger is red, what may not go out or is due is an action, the rest is neutral."""
    if one.item.grave == 0:
        return colours.DANGER
    return colours.ACTION if one.item.grave <= 5 else colours.UNKNOWN


def why_text(one: RoundItem) -> str:
    """Why it is due on its day, and what to mind before it."""
    return "; ".join([say(one.item.why), *(say(note) for note in one.notes)])


def columns() -> tuple[Column, ...]:
    """The columns of today's list."""
    return (
        Column(word("round.item"), lambda r: r.item.subject, width=12, mark=mark_of),
        Column(word("list.where"), lambda r: r.item.place or word("screen.where_unknown"), width=14, tip=True),
        Column(word("round.what"), lambda r: word(f"plan_kind.{r.item.kind.value}"), width=17),
        Column(word("list.due"), lambda r: show_date(r.item.due_on), sort=lambda r: r.item.due_on, width=11),
        Column(word("list.why"), why_text, width=44, tip=True),
        Column(
            word("round.minutes"), lambda r: str(r.item.minutes), sort=lambda r: r.item.minutes, right=True, width=4
        ),
        Column(word("round.who"), lambda r: r.person, width=8),
    )


def large_columns() -> tuple[Column, ...]:
    """The columns in large letters: what is to be done, how long it takes and whose it is stand together, so do place and due
    day; the reason then has the room."""
    item, where, _what, due, why, minutes, _who = columns()

    def what(line: RoundItem) -> str:
        told = say(msg("round.takes", what=word(f"plan_kind.{line.item.kind.value}"), minutes=str(line.item.minutes)))
        return f"{told}, {line.person}" if line.person else told

    def place(line: RoundItem) -> str:
        return say(msg("round.place_due", place=where.text(line), due_date=line.item.due_on))

    return (
        item, Column(word("round.what"), what, sort=minutes.sort, width=22),
        Column(where.heading, place, sort=due.sort, width=16), why,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """One reading of the page."""

    round: Round
    table: Prepared
    names: dict[str, str]
    depots: tuple[tuple[str, str], ...]
    edges: EdgesRead
    shift: ShiftEnd


class TodayPage(QWidget):
    """Enter on a line opens what it asks for."""

    start = Signal(object)
    asked_print = Signal()
    read = Signal(object)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._writing = Background(self)
        self.round: Round | None = None
        self._large = large_text()
        self.model = RowModel(large_columns() if self._large else columns())
        self.table = Table(self.model, word("round.today"), stretch=3 if self._large else 4, wraps=not self._large)
        self.table.setFont(sized(1.0 if self._large else 1.12))
        self.heading = words(size=1.2 if self._large else 1.4, bold=True)
        self.cannot = words(size=1.15, bold=True)
        self.kept = words(quiet=True)
        self.depot, self.person = QComboBox(), QComboBox()
        self.by_bay = QCheckBox(word("round.by_bay"))
        self.start_button = QPushButton(word("round.start"))
        self.print_button = QPushButton(word("round.print"))
        self.table_button = QPushButton(word("round.save_table"))
        self.calendar_button = QPushButton(word("round.save_calendar"))
        self.edges_button = QPushButton(word("round.read_edges"))
        self.empty = words(word("round.empty"), quiet=True)
        self.detail = words()
        self.hours = QGridLayout()
        self.charge = words()
        self.basis = words(quiet=True)
        self.shift = words(size=1.15, bold=True)
        self.edges = words(quiet=True)
        self.said = words(quiet=True)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.addWidget(self.heading, 1)
        for box, label in ((self.depot, "round.depot"), (self.person, "round.person")):
            box.setAccessibleName(word(label))
            box.setMinimumHeight(34)
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
            top.addWidget(box)
        top.addWidget(self.by_bay)
        row = QHBoxLayout()
        self.start_button.setMinimumHeight(48)
        self.start_button.setFont(sized(1.12, bold=True))
        row.addWidget(self.start_button)
        row.addStretch(1)
        for button in (self.print_button, self.table_button, self.calendar_button):
            button.setMinimumHeight(40)
            row.addWidget(button)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.addLayout(top)
        outer.addWidget(self._scrolled(self.cannot))
        if not self._large:
            outer.addWidget(self.kept)
        outer.addLayout(self._below_each_other(row) if self._large else self._side_by_side(row), 1)
        outer.addWidget(self.said)
        for part in (self.room, self.said, self.empty):
            part.hide()

    def _side_by_side(self, buttons: QHBoxLayout) -> QHBoxLayout:
        """The list with its buttons, hours and what they rest on beside it."""
        left = QVBoxLayout()
        left.addWidget(self.table, 1)
        left.addWidget(self.empty)
        left.addWidget(self.detail)
        left.addLayout(buttons)
        body = QHBoxLayout()
        body.addLayout(left, 5)
        body.addWidget(_unframed(self._side()), 2)
        return body

    def _below_each_other(self, buttons: QHBoxLayout) -> QVBoxLayout:
        """Large letters: the list has the whole width, how it is kept, hours and what they rest on follow below; the buttons
        stay in sight.

        Nothing of a row is cut off here, so none is said again in full.
        """
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        for part in (self.table, self.empty, self.kept, self._side()):
            column.addWidget(part)
        column.addStretch(1)
        self.detail.hide()
        self.body = _unframed(holder)
        self.body.viewport().installEventFilter(self)
        both = QVBoxLayout()
        both.addWidget(self.body, 1)
        both.addLayout(buttons)
        return both

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Qt's hook: in large letters the list fills what is in sight, but for the heading of what follows."""
        if event.type() == QEvent.Type.Resize and watched is self.body.viewport():
            line = self.table.verticalHeader().defaultSectionSize()
            self.table.setFixedHeight(max(self.body.viewport().height() - round(line * 0.9), line * 4))
        return super().eventFilter(watched, event)

    def _scrolled(self, told: QLabel) -> QScrollArea:
        """What cannot be kept may be long: it scrolls, so that the list below keeps its room."""
        self.room = _unframed(told)
        self.room.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        return self.room

    def _make_room(self) -> None:
        """As high as the sentences are, and at most a quarter of the page."""
        width = self.width() - self.room.verticalScrollBar().sizeHint().width() - 8
        self.room.setFixedHeight(min(max(self.cannot.heightForWidth(width), 1), max(self.height() // 4, 60)))
        self.room.setVisible(bool(self.cannot.text()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook."""
        super().resizeEvent(event)
        self._make_room()

    def _side(self) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        done = Card(word("round.done_today"))
        done.column.addWidget(self.shift)
        hours = Card(word("round.hours"))
        self.hours.setHorizontalSpacing(12)
        hours.column.addLayout(self.hours)
        hours.column.addWidget(self.charge)
        basis = Card(word("round.basis"))
        basis.column.addWidget(self.basis)
        basis.column.addWidget(self.edges)
        basis.column.addWidget(self.edges_button)
        for card in (done, hours, basis):
            column.addWidget(card)
        column.addStretch(1)
        return holder

    def _connect(self) -> None:
        self.table.opened.connect(self._open)
        self.table.selectionModel().currentChanged.connect(lambda _a, _b: self._show_detail())
        self.start_button.clicked.connect(self._start)
        self.by_bay.toggled.connect(lambda _on: self.refresh())
        self.depot.activated.connect(lambda _i: self._other_depot())
        self.person.activated.connect(lambda _i: self.refresh())
        self.print_button.clicked.connect(self.asked_print.emit)
        self.table_button.clicked.connect(self.save_table)
        self.calendar_button.clicked.connect(self.save_calendar)
        self.edges_button.clicked.connect(self.read_edges)

    @property
    def chosen_depot(self) -> str:
        """The code of the depot in view, "" before one was read."""
        return str(self.depot.currentData() or "")

    @property
    def chosen_person(self) -> str:
        """The code of the person in view, "" for everybody."""
        return str(self.person.currentData() or "")

    def _other_depot(self) -> None:
        self.person.setCurrentIndex(0)
        self.refresh()

    def refresh(self) -> None:
        """Plan again, off the GUI thread."""
        app, depot, person, by_bay = self._app, self.chosen_depot, self.chosen_person, self.by_bay.isChecked()

        def work() -> Shown:
            found = rounds.round_of(app.store, app.clock, depot, person=person, by_bay=by_bay)
            names = {one.person: one.name for one in found.hours}
            listed = [_named(one, names) for one in found.today]
            return Shown(
                found, prepare(self.model.columns, listed), names, rounds.depots(app.store), edges.edges_read(app.store),
                inspecting.shift_end(app.store, app.clock, person, found),
            )  # fmt: skip

        self._background.ask(work, self._show)

    def _show(self, shown: Shown) -> None:
        self.round = shown.round
        found = shown.round
        self._offer(self.depot, shown.depots, found.depot)
        self._offer(self.person, (("", word("round.everybody")), *sorted(shown.names.items(), key=lambda p: p[1])),
                    self.chosen_person)  # fmt: skip
        self.depot.setVisible(len(shown.depots) > 1)
        key = "round.heading" if found.day is not None else "round.heading_none"
        if self._large and found.day is not None:
            key = "round.heading_day"  # of several depots the one in view stands in the box beside it
        day = "" if found.day is None else f"{found.day:%A} {show_date(found.day)}"
        self.heading.setText(say(msg(key, depot=found.depot_name, day=day)))
        lines = [say(one) for one in rounds.cannot(found)]
        self.cannot.setText("\n".join(lines))
        self.cannot.setVisible(bool(lines))
        self._make_room()
        self.kept.setText("" if lines else say(rounds.kept(found)))
        self.kept.setVisible(not lines and bool(found.days))
        self.model.set_prepared(shown.table)
        self.table.setVisible(bool(found.today))
        self.empty.setVisible(not found.today)
        self.start_button.setEnabled(bool(found.today))
        self._show_detail()
        self._show_hours(found)
        self.charge.setText(say(msg("round.charge", these=found.charge)) if found.charge else "")
        self.charge.setVisible(bool(found.charge))
        basis = [say(one) for one in (*found.notes, found.pace, found.calendar)]
        self.basis.setText("\n\n".join(one[:1].upper() + one[1:] + "." * (not one.endswith(".")) for one in basis))
        self.shift.setText(say(shown.shift.told))
        read_in = shown.edges
        key = "round.edges_never" if read_in.on is None else "round.edges_on"
        self.edges.setText(say(msg(key, number=read_in.newer, on_date=read_in.on)))
        self.read.emit(found)

    @staticmethod
    def _offer(box: QComboBox, choices: tuple[tuple[str, str], ...], chosen: str) -> None:
        now = [(box.itemData(n), box.itemText(n)) for n in range(box.count())]
        if now != list(choices):
            box.clear()
            for code, name in choices:
                box.addItem(name, code)
        box.setCurrentIndex(max(box.findData(chosen), 0))

    def _show_hours(self, found: Round) -> None:
        while (item := self.hours.takeAt(0)) is not None:
            part = item.widget()
            if part is not None:
                part.deleteLater()
        today = [one for one in found.hours if one.day == found.day]
        for number, one in enumerate(today):
            name = QLabel(one.name)
            name.setTextFormat(Qt.TextFormat.PlainText)
            name.setFont(sized(1.0, bold=True))
            if not one.room:
                told = words(say(one.why or msg("round.no_hours")), quiet=True)
            else:
                room = rounds.hours_text(one.room)
                told = words(say(msg("round.of_hours", count=one.count, number_minutes=one.used, room=room)))
            self.hours.addWidget(name, number, 0, Qt.AlignmentFlag.AlignTop)
            self.hours.addWidget(told, number, 1)
        self.hours.setColumnStretch(1, 1)

    def _show_detail(self) -> None:
        """The chosen line's reason in full where the table cuts it: of so many lines that it keeps one for each."""
        index = self.table.currentIndex()
        line = self.table.row_of(index) if index.isValid() and index.row() < self.model.rowCount() else None
        self.detail.setText("" if line is None else f"{line.item.subject}: {why_text(line)}")
        self.detail.setVisible(not self._large and self.model.rowCount() > MOST_WRAPPED)

    def _open(self, line: RoundItem) -> None:
        self.start.emit(line)

    def _start(self) -> None:
        line = self.table.selected_row()
        if line is None and self.model.rowCount():
            line = self.model.shown_row(0)
        if line is not None:
            self.start.emit(line)

    # files

    def save_table(self) -> None:
        """Write the round as CSV or XLSX."""
        from fleetcare.services import round_files

        if self.round is not None:
            found = self.round

            def write(path: Path) -> None:
                round_files.write(found, path)

            self._save("round.save_table", f"round-{found.depot}.xlsx", "*.xlsx *.csv", write)

    def save_calendar(self) -> None:
        """Write the calendar of the person in view, or of the depot."""
        app, person, depot = self._app, self.chosen_person, self.chosen_depot

        def write(path: Path) -> Message | None:
            from fleetcare.services import calendar_out

            if person:
                return calendar_out.write_person(app.store, app.clock, person, path, depot=depot).not_cancelled
            return calendar_out.write_depot(app.store, app.clock, depot, path).not_cancelled

        self._save("round.save_calendar", f"round-{person or depot}.ics", "*.ics", write)

    def _save(self, title: str, name: str, kinds: str, write: Callable[[Path], Message | None]) -> None:
        suggested = str(Path.home() / name)
        chosen, _ = QFileDialog.getSaveFileName(self, word(title), suggested, f"({kinds})")
        if not chosen:
            return
        path = Path(chosen)
        saved = say(msg("round.saved", path=str(path)))

        def told(more: Message | None) -> None:
            self.tell(saved if more is None else f"{saved} {say(more)}")

        self._writing.ask(lambda: write(path), told, self._failed)

    def read_edges(self) -> None:
        """Read the projections of the whole fleet into the plan."""
        author = self._session.author(self._changes.position)
        if author is None:
            self.tell(word("round.sign_in_first"))
            return
        store, clock = self._app.store, self._app.clock
        self.edges_button.setEnabled(False)
        self.tell(word("renewal.busy"))
        self._writing.ask(lambda: edges.read_edges(store, clock, author), self._edges_read, self._failed)

    def _edges_read(self, done: Recorded) -> None:
        self.edges_button.setEnabled(True)
        self.tell(say(done.message))
        self._changes.tell(done)
        self.refresh()

    def _failed(self, error: Exception) -> None:
        self.edges_button.setEnabled(True)
        if not isinstance(error, FleetcareError):
            raise error
        self.tell(say(error.message))

    def tell(self, sentence: str) -> None:
        """Say something at the foot of the page."""
        self.said.setText(sentence)
        self.said.setVisible(bool(sentence))


def _unframed(part: QWidget) -> QScrollArea:
    """`part` in an area that scrolls up and down alone."""
    area = QScrollArea()
    area.setWidget(part)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFrameShape(QScrollArea.Shape.NoFrame)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area


def _named(one: RoundItem, names: dict[str, str]) -> RoundItem:
    return replace(one, person=names.get(one.person, one.person))
