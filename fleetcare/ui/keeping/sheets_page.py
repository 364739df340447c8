"""An old spreadsheet on its way in: which column is what, what must be asked, what every row becomes."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.oldrows import FIELDS, DateOrder
from fleetcare.domain.packs import Level
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import oldsheets, refused_rows
from fleetcare.services.oldsheets import OUTCOMES, Brought, Example, Preview, Question, Survey
from fleetcare.services.refused_rows import RefusedRow
from fleetcare.services.table_files import Cancelled
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.dialogs import ChoiceDialog
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table


@dataclass(frozen=True, slots=True)
class CountLine:
    """One outcome with its rows and what it means."""

    outcome: str
    rows: int


COUNTS = (
    Column(word("oldsheet.outcome"), lambda c: word(f"oldsheet.out_{c.outcome}"), width=16),
    Column(word("oldsheet.rows"), lambda c: f"{c.rows:,}", right=True, width=9),
    Column(word("oldsheet.meaning"), lambda c: word(f"oldsheet.says_{c.outcome}"), width=60, tip=True),
)
EXAMPLES = (
    Column(word("oldsheet.row"), lambda e: f"{e.row}", right=True, width=7),
    Column(word("oldsheet.outcome"), lambda e: word(f"oldsheet.out_{e.outcome}"), width=16),
    Column(word("oldsheet.reason"), lambda e: say(e.reason), width=60, tip=True),
)
_ANSWERS: dict[str, tuple[tuple[str, object], ...]] = {
    "order": (("oldsheet.day_first", DateOrder.DAY_FIRST), ("oldsheet.month_first", DateOrder.MONTH_FIRST)),
    "millivolts": (("oldsheet.milli_yes", True), ("oldsheet.milli_no", False)),
}


class SheetsPage(QWidget):
    """Choose, look, answer, bring in.  Nothing is written before the last button."""

    brought = Signal()

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._stop = threading.Event()
        self.writing = False
        """True while rows are put on record; closing the window then asks."""
        self.settling = False
        """True from the last row on: it cannot be stopped any more."""
        self._closing: ChoiceDialog | None = None
        self.survey: Survey | None = None
        self.preview: Preview | None = None
        self._answers: dict[str, Any] = {}
        self._left: QScrollArea | None = None
        self.may_not = words()
        self.may_not.setProperty("role", "wrong")
        self.file = Field(word("oldsheet.file"))
        self.choose = QPushButton(word("oldsheet.choose"))
        self.sheet = QComboBox()
        self.sheet.setAccessibleName(word("oldsheet.sheet"))
        self.columns = Card(word("oldsheet.columns"))
        self.columns.column.addWidget(words(word("oldsheet.columns_note"), quiet=True))
        self._form = QGridLayout()
        self._form.setColumnStretch(1, 1)
        self._form.setColumnStretch(3, 1)
        self.columns.column.addLayout(self._form)
        self.boxes: dict[str, QComboBox] = {}
        self.first_rows = words(quiet=True)
        self.columns.column.addWidget(words(word("oldsheet.first_rows"), bold=True))
        self.columns.column.addWidget(self.first_rows)
        self.questions = Card(word("oldsheet.questions"))
        self.answers: dict[tuple[str, object], QRadioButton] = {}
        self.show_rows = QPushButton(word("oldsheet.show"))
        self.counts = RowModel(COUNTS)
        self.counts_table = Table(self.counts, word("oldsheet.outcome"))
        self.examples = RowModel(EXAMPLES)
        self.examples_table = Table(self.examples, word("oldsheet.reason"))
        self.sum = words()
        self.save_refused = QPushButton(word("oldsheet.save_refused"))
        self._refused: tuple[list[RefusedRow], tuple[str, ...], int] = ([], (), 0)
        self.said = words(bold=True)
        self.progress = QProgressBar()
        self.stop = QPushButton(word("oldsheet.stop"))
        self.confirm = QPushButton(word("oldsheet.confirm_none"))
        self._arrange()
        self._clear()
        self.choose.clicked.connect(self._choose)
        self.file.edit.returnPressed.connect(self.look)
        self.sheet.activated.connect(lambda _n: self.look(self.sheet.currentText()))
        self.show_rows.clicked.connect(self.show_what)
        self.confirm.clicked.connect(self.bring_in)
        self.save_refused.clicked.connect(self._save_refused)
        self.stop.clicked.connect(lambda: self._stop.set())
        session.person_changed.connect(self._show_who)
        self._show_who()

    def _arrange(self) -> None:
        for button in (self.choose, self.show_rows, self.stop, self.confirm, self.save_refused):
            button.setMinimumHeight(38)
            button.setAutoDefault(True)
        top = QHBoxLayout()
        top.addWidget(self.file, 1)
        top.addWidget(self.choose, 0, Qt.AlignmentFlag.AlignBottom)
        top.addWidget(self.sheet, 0, Qt.AlignmentFlag.AlignBottom)
        large = self._app.settings.text_percent > 125
        left = QVBoxLayout()
        left.addWidget(self.questions)
        left.addWidget(self.columns)
        left.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(self.counts_table, 4)
        right.addWidget(self.sum)
        right.addWidget(self.examples_table, 4)
        right.addWidget(self.save_refused, 0, Qt.AlignmentFlag.AlignLeft)
        if large:
            for table in (self.counts_table, self.examples_table):
                table.setMinimumHeight(table.verticalHeader().defaultSectionSize() * 9)
        foot = QHBoxLayout()
        foot.addWidget(self.progress, 1)
        foot.addWidget(self.stop)
        foot.addWidget(self.confirm)
        right.addWidget(self.said)
        right.addLayout(foot)
        inside = QWidget()
        inside.setLayout(left)
        left.setContentsMargins(0, 0, 6, 0)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        if large:
            whole = QWidget()
            column = QVBoxLayout(whole)
            for one in self._intro():
                column.addWidget(one)
            column.addLayout(top)
            column.addWidget(inside)
            column.addWidget(self.show_rows)
            column.addLayout(right)
            outer.addWidget(_scrolled(whole))
            return
        rows_high(self.counts_table, len(OUTCOMES))
        self._left = _scrolled(inside)
        lefts = QVBoxLayout()
        lefts.addWidget(self._left, 1)
        lefts.addWidget(self.show_rows)
        body = QHBoxLayout()
        body.addLayout(lefts, 2)
        body.addLayout(right, 3)
        for one in self._intro():
            outer.addWidget(one)
        outer.addLayout(top)
        outer.addLayout(body, 1)

    def _intro(self) -> tuple[QWidget, ...]:
        told = words(f"{word('oldsheet.intro')} {word('oldsheet.who')}", quiet=True)
        return told, self.may_not

    def _show_who(self) -> None:
        """Say before any work is done that the person signed in may not bring it in."""
        person = self._session.person
        may = person is not None and person.level_on(self._app.clock().date()).covers(Level.MAY_CHECK)
        self.may_not.setVisible(not may)
        if person is None:
            self.may_not.setText(word("oldsheet.nobody"))
        elif not may:
            level = msg(f"level.{Level.MAY_CHECK.value}")
            self.may_not.setText(say(msg("oldsheet.may_not", person=person.name, level=level)))

    # choose and look

    def _choose(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(
            self, word("oldsheet.choose"), str(Path.home()), "CSV, XLSX, ODS (*.csv *.tsv *.txt *.xlsx *.xlsm *.ods)"
        )
        if chosen:
            self.file.edit.setText(chosen)
            self.look()

    def look(self, sheet: str | None = None) -> None:
        """Read the beginning of the file and show how it would be understood."""
        self._clear()
        self.file.clear_refusal()
        typed = self.file.text.strip()
        if not typed:
            self.file.refuse(FleetcareError("oldsheet.no_file"))
            return
        store = self._app.store
        self._busy(known=False)
        stop, tell = self._stop, self._background.teller(self._tell_look)
        self.said.setText(word("oldsheet.looking"))
        self._background.ask(
            lambda: oldsheets.survey(store, Path(typed), sheet, stop.is_set, tell),
            self._show_survey,
            lambda error: self._survey_failed(error, stop),
        )

    def _survey_failed(self, error: Exception, stop: threading.Event) -> None:
        if isinstance(error, Cancelled):
            self._failed(error, stop)
            return
        self.said.clear()
        self._idle()
        if not isinstance(error, FleetcareError):
            raise error
        self.file.refuse(error)

    def _show_survey(self, found: Survey) -> None:
        self.survey = found
        self.said.clear()
        self._idle()
        plan = found.plan
        self.sheet.clear()
        self.sheet.addItems(list(found.sheets))
        self.sheet.setCurrentText(plan.sheet)
        self.sheet.setVisible(len(found.sheets) > 1)
        for number, name in enumerate(FIELDS):
            box = QComboBox()
            box.setAccessibleName(word(f"oldsheet.field_{name}"))
            box.addItems([word("oldsheet.no_such_column"), *plan.headings])
            box.setCurrentIndex(plan.columns[name] + 1 if name in plan.columns else 0)
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            box.setMinimumContentsLength(6)
            box.activated.connect(lambda _n: self._show_questions(()))
            row, column = divmod(number, 2)
            self._form.addWidget(QLabel(word(f"oldsheet.field_{name}")), row, 2 * column)
            self._form.addWidget(box, row, 2 * column + 1)
            self.boxes[name] = box
        self.first_rows.setText("\n".join(" | ".join(cells)[:160] for _, cells in found.samples[:4]))
        self.columns.show()
        if self._left is not None:
            bar = self._left.verticalScrollBar().sizeHint().width()
            self._left.setMinimumWidth(self._left.widget().minimumSizeHint().width() + bar)
        self.show_rows.setEnabled(True)
        self.show_rows.setFocus()

    def _clear(self) -> None:
        while item := self._form.takeAt(0):
            item.widget().deleteLater()
        self.boxes.clear()
        self._answers.clear()
        self.columns.hide()
        self.sheet.hide()
        self.survey = None
        self.show_rows.setEnabled(False)
        self._show_questions(())
        self._forget_preview()
        self.said.clear()

    def _forget_preview(self) -> None:
        if self.preview is not None:
            self.preview.close()
        self.preview = None
        self.counts.set_rows([])
        self.examples.set_rows([])
        self.sum.clear()
        self._offer_refused([], (), 0)
        self._idle()

    def _idle(self) -> None:
        self.progress.hide()
        self.stop.hide()
        taken = self.preview.taken if self.preview is not None else 0
        ready = taken > 0 and self.preview is not None and not self.preview.counts["asked"]
        if self.preview is not None and self.preview.counts["asked"]:
            self.confirm.setText(word("oldsheet.confirm_asked"))
        else:
            key = "oldsheet.confirm_one" if taken == 1 else "oldsheet.confirm" if taken else "oldsheet.confirm_none"
            self.confirm.setText(say(msg(key, rows=taken)))
        self.confirm.setEnabled(ready)
        self.show_rows.setEnabled(self.survey is not None)
        for part in (self.file, self.choose, self.sheet, self.columns, self.questions):
            part.setEnabled(True)

    def _busy(self, *, known: bool) -> None:
        self._stop.set()  # an older count that still runs is of no use any more
        self._stop = threading.Event()
        self.progress.setRange(0, 100 if known else 0)
        self.progress.setValue(0)
        self.progress.show()
        self.stop.show()
        self.confirm.setEnabled(False)
        self.show_rows.setEnabled(False)

    def _tell_look(self, parts: int, of: int) -> None:
        """The whole of an ODS is passed over for the list of its sheets."""
        if parts < of:
            self.progress.setRange(0, of)
            self.progress.setValue(parts)
            self.said.setText(say(msg("oldsheet.passing_over", share=100 * parts // of)))
        else:
            self.progress.setRange(0, 0)
            self.said.setText(word("oldsheet.looking"))

    def _tell(self, done: int, of: int) -> None:
        if of and done >= of:
            self._past_stopping(settling=True)
            self.progress.setRange(0, 0)
            self.stop.hide()
            self.said.setText(say(msg("oldsheet.settling", of=of)))
        elif of:
            self.progress.setValue(100 * done // of)
            self.said.setText(say(msg("oldsheet.writing", done=done, of=of)))
        else:
            self.said.setText(say(msg("oldsheet.reading", rows=done)))

    # questions

    def _show_questions(self, asked: tuple[Question, ...]) -> None:
        while self.questions.column.count() > 1:
            item = self.questions.column.takeAt(1).widget()
            if item is not None:
                item.hide()
                item.deleteLater()
        self.answers.clear()
        for question in asked:
            self.questions.column.addWidget(words(say(question.statement), bold=True))
            self.questions.column.addWidget(words("\n".join(say(one) for one in question.examples)))
            choices = QWidget()
            row = QHBoxLayout(choices)
            row.setContentsMargins(0, 0, 0, 0)
            group = QButtonGroup(choices)
            for key, value in _ANSWERS[question.about]:
                button = QRadioButton(word(key))
                button.setChecked(self._answers.get(question.about) == value)
                group.addButton(button)
                row.addWidget(button)
                button.clicked.connect(lambda _on=False, a=question.about, v=value: self._answer(a, v))
                self.answers[question.about, value] = button
            row.addStretch(1)
            self.questions.column.addWidget(choices)
        self.questions.setVisible(bool(asked))

    def _answer(self, about: str, value: object) -> None:
        self._answers[about] = value
        self.show_what()

    # the preview

    def show_what(self) -> None:
        """Count in the background what every row would become."""
        if self.survey is None:
            return
        self._forget_preview()
        self.said.clear()
        plan = replace(
            self.survey.plan,
            columns={name: box.currentIndex() - 1 for name, box in self.boxes.items() if box.currentIndex() > 0},
            order=self._answers.get("order"),
            millivolts=self._answers.get("millivolts"),
        )  # type: ignore[arg-type]
        app, path = self._app, self.survey.path
        self._busy(known=False)
        stop, tell = self._stop, self._background.teller(self._tell)
        self._background.ask(
            lambda: oldsheets.preview(app.store, app.clock, path, plan, tell, stop.is_set),
            self._show_preview,
            lambda error: self._failed(error, stop),
        )

    def _show_preview(self, made: Preview) -> None:
        self.preview = made
        self.counts.set_rows(
            [CountLine(one, made.counts[one]) for one in OUTCOMES if one != "asked" or made.counts[one]]
        )
        self.examples.set_rows(made.examples)
        self._offer_refused(made.refused, made.plan.headings, made.counts["refused"])
        self.sum.setText(say(msg("oldsheet.sum", rows=made.rows, heading_row=made.plan.heading_row)))
        for question in made.questions:
            if question.answered:  # also by an earlier import of this very file
                self._answers.setdefault(question.about, getattr(made.plan, question.about))
        self._show_questions(made.questions)
        self.said.clear()
        self._idle()
        if self.confirm.isEnabled():
            self.confirm.setFocus()

    def _failed(self, error: Exception, stop: threading.Event) -> None:
        if isinstance(error, Cancelled) and stop is not self._stop:
            return
        self._past_stopping(settling=False)
        self._idle()
        if isinstance(error, Cancelled):
            self.said.setText(word("oldsheet.stopped"))
            self.show_rows.setFocus()
        elif isinstance(error, FleetcareError):
            self.said.setText(say(error.message))
        else:
            raise error

    # the refused rows stay after the import, for whoever must mend them

    def _offer_refused(self, rows: list[RefusedRow], headings: tuple[str, ...], of: int) -> None:
        self._refused = (rows, headings, of)
        self.save_refused.setVisible(bool(rows))

    def _save_refused(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self, word("oldsheet.save_refused"), str(Path.home() / "refused.csv"), "CSV (*.csv)"
        )
        if name:
            self.save_refused_as(Path(name))

    def save_refused_as(self, path: Path) -> None:
        """Write the refused rows with their reasons, as a table that can be mended and brought in."""
        rows, headings, of = self._refused
        try:
            refused_rows.write(rows, headings, path)
        except FleetcareError as error:
            self.said.setText(say(error.message))
            return
        key = "oldsheet.refused_saved" if len(rows) == of else "oldsheet.refused_saved_first"
        self.said.setText(say(msg(key, count=len(rows), of=of, path=str(path))))

    # bring in

    def bring_in(self) -> None:
        """Write the whole sheet in one act, in the background."""
        author = self._session.author(self._changes.position)
        shown = self.preview
        if shown is None or not self.confirm.isEnabled():
            return
        if author is None:
            self.said.setText(word("keeping.sign_in_first"))
            return
        app = self._app
        self._busy(known=True)
        for part in (self.file, self.choose, self.sheet, self.columns, self.questions):
            part.setEnabled(False)
        stop, tell = self._stop, self._background.teller(self._tell)
        self.writing = True
        self._background.ask(
            lambda: oldsheets.bring_in(app.store, app.clock, author, shown, tell, stop.is_set),
            self._show_brought,
            lambda error: self._failed(error, stop),
        )

    def ask_before_closing(self, window: QWidget, close: Callable[[], None]) -> ChoiceDialog | None:
        """A question where rows are being put on record that closing would leave out; None where it would not."""
        if not self.writing or self.settling:
            return None
        ask = ChoiceDialog(
            window, word("oldsheet.close_title"), say(msg("oldsheet.close", rows=self.preview.taken if self.preview else 0)),
            stay=word("oldsheet.close_stay"), go_on=word("oldsheet.close_stop"),
        )  # fmt: skip
        ask.accepted.connect(close)
        ask.open()
        self._closing = ask
        return ask

    def _past_stopping(self, *, settling: bool) -> None:
        """All rows are in, or none will come: there is nothing left to ask before the window closes."""
        self.settling = settling
        self.writing = self.writing and settling
        if self._closing is not None:
            self._closing.reject()
            self._closing = None

    def let_go(self) -> None:
        """The window closes: what counts or writes still ends at its next look, and leaves nothing."""
        self._stop.set()

    def _show_brought(self, done: Brought) -> None:
        self._past_stopping(settling=False)
        refused = self._refused
        self._forget_preview()
        self._offer_refused(*refused)
        self.examples.set_rows([Example(one.row, "refused", one.reason) for one in refused[0]])
        if done.recorded is None:
            counts = {one: done.counts.get(one, 0) for one in ("known", "repeat", "refused")}
            self.said.setText(say(msg("oldsheet.nothing_new", **counts)))
            return
        self.said.setText(say(done.recorded.message))
        self._changes.tell(done.recorded)
        self.brought.emit()


def _scrolled(inside: QWidget) -> QScrollArea:
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QScrollArea.Shape.NoFrame)
    scroll.setWidget(inside)
    return scroll
