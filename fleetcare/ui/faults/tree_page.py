"""The fault-finding tree, walked step by step: one row at a time, its test, and an answer each."""

from __future__ import annotations

from decimal import Decimal

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QBoxLayout, QComboBox, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain import fault_tree
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.fault_tree import ROWS, Answer, FaultWalk, Outcome
from fleetcare.domain.units import parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import fault_finding
from fleetcare.services.fault_finding import TreeStart
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import FaultPage, line
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words

BY_VOLTS = ("r3", "r4", "r5", "r6")
"""Rows told apart by volts: the limits of the pack's own model stand beside their figures."""


class TreePage(FaultPage):
    """Gate, observation, then row after row; nothing is written before “Keep this walk”."""

    follows_changes = False

    danger = Signal(str, str)
    """Something of the gate is so: pack and vehicle as typed."""

    quarantined = Signal(str)
    """The walk ended in quarantine: this pack's sheet is wanted now."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._start: TreeStart | None = None
        self._row = ""
        self._steps: list[tuple[str, str]] = []
        self._readings: list[tuple[str, Decimal]] = []
        self._outcome: Outcome | None = None
        self.buttons: dict[str, QPushButton] = {}
        outer = QVBoxLayout(self)
        outer.addLayout(self._top())
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self._gate_card())
        middle = line()
        middle.addWidget(self._row_card(), 3)
        middle.addWidget(self._path_card(), 2)
        outer.addLayout(middle)
        outer.addWidget(words(word("faults.tree_never"), quiet=True))
        outer.addStretch(1)
        self._show()

    def _top(self) -> QBoxLayout:
        row = line()
        for name, label in (("pack", "pack"), ("vehicle", "vehicle"), ("charger", "last_charger_tree")):
            row.addWidget(self.add_field(name, word(f"faults.{label}")), 1)
        self.seen = QComboBox()
        self.seen.setAccessibleName(word("faults.observation"))
        for code in ROWS:
            self.seen.addItem(word(f"tree.{code}_see"), code)
        column = QVBoxLayout()
        above = QLabel(word("faults.observation"))
        above.setBuddy(self.seen)
        column.addWidget(above)
        column.addWidget(self.seen)
        row.addLayout(column, 2)
        return row

    def _gate_card(self) -> Card:
        self.gate = Card(word("faults.tree_gate"))
        self.gate.heading.setWordWrap(True)
        row = line()
        self.gate_no = QPushButton(word("faults.tree_gate_no"))
        self.gate_yes = QPushButton(word("faults.tree_gate_yes"))
        for button in (self.gate_no, self.gate_yes):
            button.setMinimumHeight(44)
            row.addWidget(button)
        self.gate_no.clicked.connect(self.begin)
        self.gate_yes.clicked.connect(lambda: self.danger.emit(self.code("pack"), self.code("vehicle")))
        self.gate.column.addLayout(row)
        return self.gate

    def _row_card(self) -> Card:
        self.card = Card()
        self.card.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.see = words(size=1.35, bold=True)
        self.note = words(bold=True)
        self.likely, self.test, self.do, self.who = words(), words(size=1.15, bold=True), words(), words(quiet=True)
        for label in (self.see, self.note, self.likely, self.test, self.do, self.who):
            self.card.column.addWidget(label)
        self.card.column.addWidget(self.add_field("reading", word("faults.reading"), "V", number=True))
        self._answers = QVBoxLayout()
        self.card.column.addLayout(self._answers)
        self.keep_button = QPushButton(word("faults.keep_walk"))
        self.keep_button.setMinimumHeight(48)
        self.keep_button.clicked.connect(self.keep)
        self.card.column.addWidget(self.keep_button)
        return self.card

    def _path_card(self) -> Card:
        self.path_card = Card(word("faults.path"))
        self.path = words()
        self.back = QPushButton(word("faults.back_step"))
        self.back.clicked.connect(self.step_back)
        self.path_card.column.addWidget(self.path)
        self.path_card.column.addWidget(self.back)
        self.path_card.column.addStretch(1)
        return self.path_card

    def taken(self, thing_class: str) -> None:
        """Another pack begins another walk."""
        if thing_class == "pack":
            self._forget()
            self._show()

    def begin(self) -> None:
        """Nothing of the gate is so: show the row of what is seen."""
        self.quiet()
        self.result.clear()
        try:
            if not self.code("pack"):
                raise EntryRefused("faults.need_pack", field="pack")
            self._start = fault_finding.tree_start(self._app.store, self._app.clock, self.code("pack"))
        except FleetcareError as error:
            self.refuse(error)
            return
        if not self.code("vehicle") and self._start.vehicle:
            self.fields["vehicle"].edit.setText(self._start.vehicle)
        self._steps, self._readings, self._outcome = [], [], None
        self._row = str(self.seen.currentData())
        self._show()

    def _forget(self) -> None:
        self._start, self._row, self._outcome = None, "", None
        self._steps, self._readings = [], []

    def answer(self, answer: Answer) -> None:
        """Take one answer: on to the next row, or to the end."""
        self.quiet()
        if answer.reading:
            try:
                volts = parse_volts(self.fields["reading"].text, field="reading")
            except FleetcareError as error:
                self.refuse(error)
                return
            self._readings.append((self._row, volts))
        self._steps.append((self._row, answer.name))
        self._row, self._outcome = answer.to, answer.outcome
        self.fields["reading"].clear()
        self._show()

    def step_back(self) -> None:
        """Take the last answer back; nothing was written."""
        self.quiet()
        self._row, _name = self._steps.pop()
        self._readings = [r for r in self._readings if r[0] != self._row]
        self._outcome = None
        self._show()

    def _show(self) -> None:
        walking = self._start is not None
        self.gate.setVisible(not walking)
        self.card.setVisible(walking)
        self.path_card.setVisible(walking)
        self._clear_answers()
        self.result.setVisible(not walking)
        if self._start is None:
            return
        told = [f"{word(f'tree.{row}_see')} → {word(f'tree_answer.{name}')}" for row, name in self._steps]
        self.path.setText("\n".join(told) or "—")
        self.back.setEnabled(bool(self._steps))
        ended = self._outcome is not None
        self.keep_button.setVisible(ended)
        self.fields["reading"].setVisible(False)
        for label in (self.likely, self.test, self.do, self.who, self.note):
            label.setVisible(not ended)
        if self._outcome is not None:
            outcome = msg(f"tree_outcome.{self._outcome.value}")
            self.see.setText(say(msg("faults.ends", what=outcome)))
            self.keep_button.setFocus()
            return
        self._show_row(self._start)

    def _show_row(self, start: TreeStart) -> None:
        row = ROWS[self._row]
        self.see.setText(word(f"tree.{row.code}_see"))
        test = fault_tree.test_of(row.code, charge_allowed=start.charge_allowed)
        keys = {"likely": f"tree.{row.code}_likely", "test": test, "do": f"tree.{row.code}_do"}
        for label, part in ((self.likely, "likely"), (self.test, "test"), (self.do, "do")):
            label.setText(say(msg(f"faults.{part}", what=word(keys[part]))))
        self.who.setText(say(msg("faults.who", who=msg(f"tree_who.{row.who.value}"))))
        silent = row.code.startswith("r1") and row.code in ("r1", "r1b", "r1c")
        notes = [say(start.note)] if silent else []
        if row.code in BY_VOLTS:
            notes.append(say(start.limits))
        if silent and start.no_charge is not None:
            notes.append(say(start.no_charge))
        elif row.code in fault_tree.CHARGER_ROWS:
            notes.append(say(start.chargers))
        self.note.setText("\n".join(notes))
        self.note.setVisible(bool(notes))
        answers = fault_tree.answers_of(row.code, charge_allowed=start.charge_allowed)
        self.fields["reading"].setVisible(any(one.reading for one in answers))
        for number, one in enumerate(answers, start=1):
            button = QPushButton(f"{number}  {word(f'tree_answer.{one.name}')}")
            button.setMinimumHeight(44)
            button.clicked.connect(lambda _checked=False, chosen=one: self.answer(chosen))
            self.buttons[one.name] = button
            self._answers.addWidget(button)
        before: QWidget = self.fields["reading"].edit
        for button in self.buttons.values():
            QWidget.setTabOrder(before, button)
            before = button
        (self.fields["reading"].edit if any(one.reading for one in answers) else self.card).setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: a digit gives the answer of that number; Enter in the volts goes on to the first answer."""
        in_words = isinstance(QApplication.focusWidget(), QLineEdit)
        answers = list(self.buttons.values())
        digit = event.text()
        if not in_words and digit.isdecimal() and 0 < int(digit) <= len(answers):
            answers[int(digit) - 1].click()
        elif in_words and answers and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            answers[0].setFocus()
        else:
            super().keyPressEvent(event)

    def _clear_answers(self) -> None:
        self.buttons.clear()
        while (item := self._answers.takeAt(0)) is not None:
            old = item.widget()
            if isinstance(old, QWidget):
                old.hide()
                old.deleteLater()

    def keep(self) -> None:
        """Keep the walk, and hold what its outcome says."""
        self.quiet()
        assert self._outcome is not None
        try:
            walk = FaultWalk(
                self.code("pack"), self.code("vehicle") or None, self._app.clock(), tuple(self._steps), self._outcome,
                self.code("charger"), tuple(self._readings),
            )  # fmt: skip
            done = fault_finding.record_walk(self._app.store, self._app.clock, self.author(), walk)
        except FleetcareError as error:
            self.refuse(error)
            if error.field not in self.fields:
                self.wrong.setText(say(error.message))
            return
        self._forget()
        for field in self.fields.values():
            field.clear()
        self._show()
        self.result.setText(say(done.message))
        self._changes.tell(done)
        self.fields["pack"].edit.setFocus()
        if walk.outcome is Outcome.QUARANTINE:
            self.quarantined.emit(walk.pack)

    def refresh(self) -> None:
        """Put the cursor where the walk begins, unless one is under way."""
        if self._start is None:
            self.fields["pack"].edit.setFocus()
