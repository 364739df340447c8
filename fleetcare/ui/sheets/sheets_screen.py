"""Paper sheets: print numbered blanks, and enter what was written on them while the PC was down."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QMessageBox,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.paper_sheets import MOST_SHEETS
from fleetcare.domain.wording import say, show_moment, word
from fleetcare.services import sheets
from fleetcare.services.identify import Identified
from fleetcare.services.session import Author
from fleetcare.services.sheets import SheetRow
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.sheets.line_form import LineForm
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.dialogs import AskDialog
from fleetcare.ui.widgets.tables import Column, RowModel, Table

NARROW_LETTERS = 130
"""Below this many letters of width the list stands below the form."""

SHEETS = (
    Column(word("sheets.column_sheet"), lambda r: r.number, width=16),
    Column(word("sheets.column_issued"), lambda r: word("sheets.unissued") if r.issued_at is None else show_moment(r.issued_at),
           width=17),
    Column(word("sheets.column_lines"), lambda r: ", ".join(map(str, r.lines)) or word("sheets.none_entered"), width=14),
    Column(word("sheets.column_packs"), lambda r: ", ".join(r.packs), width=12, tip=True),
)  # fmt: skip


class SheetsScreen(QWidget):
    """The form for one line, and the sheets with what became of them."""

    def __init__(
        self, app: App, session: Session, changes: Changes, printed: Callable[[tuple[str, ...]], None]
    ) -> None:
        super().__init__()
        self._app, self._session, self._changes, self._printed = app, session, changes, printed
        self._background = Background(self)
        self.form = LineForm(app)
        self.save = QPushButton(word("sheets.save"))
        self.clear = QPushButton(word("sheets.clear"))
        self.issue = QPushButton(word("sheets.issue"))
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        self.query = Card()
        self.query_text = words(bold=True)
        self.query_reason = Field(word("sheets.query_reason"))
        self.query_do = QPushButton(word("sheets.queried"))
        self.badge = Badge()
        self.said = words(bold=True)
        self.model = RowModel(SHEETS)
        self.table = Table(self.model, word("sheets.lines"))
        self._lay_out()
        self.form.asked_save.connect(self.enter)
        self.form.sheet_typed.connect(self._sheet_typed)
        self.save.clicked.connect(self.enter)
        self.clear.clicked.connect(self._clear)
        self.query_do.clicked.connect(lambda: self.enter(queried=self.query_reason.text))
        self.query_reason.edit.returnPressed.connect(lambda: self.enter(queried=self.query_reason.text))
        self.issue.clicked.connect(self._issue)
        self.table.opened.connect(lambda row: self.begin(row.number))
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def _lay_out(self) -> None:
        for part in (self.query_text, self.query_reason, self.query_do):
            self.query.column.addWidget(part)
        self.query.hide()
        buttons = QHBoxLayout()
        for button in (self.save, self.clear):
            button.setMinimumHeight(44)
            buttons.addWidget(button)
        buttons.addWidget(self.wrong, 1)
        left = QVBoxLayout()
        left.addWidget(words(word("sheets.heading"), size=1.4, bold=True))
        left.addWidget(words(word("sheets.hint"), quiet=True))
        left.addWidget(self.form)
        left.addLayout(buttons)
        left.addStretch(1)
        right = QVBoxLayout()
        result = QHBoxLayout()
        result.addWidget(self.badge, 0, Qt.AlignmentFlag.AlignTop)
        result.addWidget(self.said, 1)
        right.addWidget(self.query)
        right.addLayout(result)
        top = QHBoxLayout()
        top.addWidget(words(word("sheets.lines"), bold=True), 1)
        top.addWidget(self.issue)
        right.addLayout(top)
        right.addWidget(self.table, 1)
        self.table.setMinimumHeight(180)
        self.badge.hide()
        holder = QWidget()
        self._both = QBoxLayout(QBoxLayout.Direction.LeftToRight, holder)
        self._both.setContentsMargins(12, 10, 12, 8)
        self._both.setSpacing(14)
        self._both.addLayout(left, 7)
        self._both.addLayout(right, 5)
        self.scroll = QScrollArea()
        self.scroll.setWidget(holder)
        self.scroll.setWidgetResizable(True)
        self.scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.scroll)
        QApplication.instance().focusChanged.connect(self._follow)  # type: ignore[union-attr]

    def _follow(self, _old: QWidget | None, new: QWidget | None) -> None:
        """Keep what has the focus in view."""
        if new is not None and self.isAncestorOf(new):
            self.scroll.ensureWidgetVisible(new, 0, 40)
            if new is self.form.sheet.edit:
                self.scroll.verticalScrollBar().setValue(0)  # the heading with it

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook: with large letters or a narrow window the list stands below the form."""
        narrow = self.width() < NARROW_LETTERS * self.fontMetrics().averageCharWidth()
        self._both.setDirection(QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight)
        self.form.arrange(narrow=narrow)
        super().resizeEvent(event)

    def refresh(self) -> None:
        """Read the list again, and begin with today and the meter of the shift."""
        meter = self._session.meter
        self.form.fill(self._app.clock().date(), meter.code if meter else "", self._session.load)
        store = self._app.store
        self._background.ask(lambda: sheets.sheet_rows(store), self._show)

    def _show(self, rows: tuple[SheetRow, ...]) -> None:
        self.model.set_rows(rows)

    def begin(self, number: str) -> None:
        """Enter the next free line of this sheet."""
        if self.form.begun:
            self.form.sheet.edit.setFocus()
            return
        self.form.next_line(number, sheets.next_line(self._app.store, number))
        self.form.vehicle.edit.setFocus()

    def take_scan(self, found: Identified) -> bool:
        """A scanned vehicle, pack or meter goes into its field; False for anything else."""
        field = {"vehicle": self.form.vehicle, "pack": self.form.pack, "meter": self.form.meter}.get(found.thing_class)
        if field is None:
            return False
        field.edit.setText(found.code)
        field.clear_refusal()
        return True

    def _sheet_typed(self) -> None:
        """With a number that is known, offer its next free line."""
        known = sheets.known_sheet(self._app.store, self.form.sheet.text)
        if known is not None and not self.form.line.text.strip():
            self.form.line.edit.setText(str(sheets.next_line(self._app.store, known)))

    def enter(self, *, queried: str = "") -> None:
        """Save the line, or say beside the field what is missing; a number in question is asked about."""
        author = self._author()
        if author is None:
            return
        self.form.clear_refusals()
        self.wrong.hide()
        self._unsure()
        try:
            entry = self.form.entry(sheets.zone_of(self._app.store), queried)
            done = sheets.enter_line(self._app.store, self._app.clock, author, entry)
        except FleetcareError as error:
            self._refuse(error)
            return
        self.query.hide()
        self.query_reason.clear()
        self.badge.setVisible(done.verdict is not None)
        if done.verdict is not None:
            self.badge.show_state(colours.of_verdict(done.verdict.level), word(f"verdict.{done.verdict.level.value}"))
        self.said.setText(say(done.message))
        self.form.next_line(entry.sheet, sheets.next_line(self._app.store, entry.sheet))
        self.form.vehicle.edit.setFocus()
        self._changes.tell(done)
        self.refresh()

    def _refuse(self, error: FleetcareError) -> None:
        if error.field == "queried":
            self.query_text.setText(say(error.message))
            self.query.show()
            self.query_reason.edit.setFocus()
        elif not self.form.refuse(error):
            self.wrong.setText(say(error.message))
            self.wrong.show()

    def _clear(self) -> None:
        """Nothing typed is thrown away without a second press."""
        if self.form.begun and not self.clear.property("sure"):
            self.clear.setProperty("sure", True)
            self.clear.setText(word("sheets.clear_sure"))
            return
        self._unsure()
        self.query.hide()
        self.query_reason.clear()
        self.wrong.hide()
        self.form.next_line("", 0)
        self.form.sheet.edit.setFocus()

    def _unsure(self) -> None:
        self.clear.setProperty("sure", False)
        self.clear.setText(word("sheets.clear"))

    def _issue(self) -> None:
        """Ask how many, record their numbers, and print them."""
        count = Field(word("sheets.issue_count"), width=120)
        count.setObjectName("count")
        count.edit.setText("10")
        issued: list[tuple[str, ...]] = []

        def deed() -> None:
            typed = count.text.strip()
            if not (typed.isascii() and typed.isdigit() and len(typed) <= len(str(MOST_SHEETS)) + 1):
                raise EntryRefused("sheet.not_a_count", field="count", typed=typed)
            author = self._session.author(self._changes.position)
            issued.append(sheets.issue(self._app.store, self._app.clock, int(typed), author, self._app.station))

        AskDialog(self, word("sheets.issue_heading"), (count,), word("sheets.issue_do"), deed).exec()
        if issued:
            self._changes.poll()
            self.refresh()
            self._printed(issued[0])

    def _author(self) -> Author | None:
        author = self._session.author(self._changes.position)
        if author is None:
            QMessageBox.information(self, word("program.title"), word("screen.sign_first"))
        return author
