"""The guided reset: one pause at a time, large, by keyboard; leaving half-way keeps a draft."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QCheckBox,
    QPushButton,
    QRadioButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.reset_job import DANGERS, JOB_SIGNS, Pause, Stop, normal_words, refuse_unticked, step_keys
from fleetcare.domain.spare_parts import PartKind
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import resetting
from fleetcare.services.resetting import JobReadings, JobState
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, abreast, line
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.stock_choice import StockChoice

_ROWS = {"out_of_range": "r1", "collapsed": "r2", "display_dark": "r2"}
"""Rows of the tree that outcomes lead to; out of range, r1 is for 0 V and the person chooses otherwise."""


def _outcome(told: Message) -> str:
    """The outcome in what was said of a finished job, with or without the parts that it took."""
    inner = dict(told.values).get("told", told)
    assert isinstance(inner, Message)
    return str(getattr(inner.value("outcome"), "key", "")).removeprefix("job_outcome.")


class JobPage(FaultPage):
    """Begin, four pauses, the readings; every tick is kept at once."""

    follows_changes = False

    asked_sheet = Signal(object)
    quarantined = Signal(str)
    """The job was stopped by a danger: this pack's quarantine sheet is wanted now."""

    asked_tree = Signal(str, str)
    """Fault-finding is wanted for this pack, at this row ("" where the person chooses)."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.state: JobState | None = None
        self.boxes: list[QCheckBox] = []
        self._pause = Pause.PREPARE
        """The pause in view; the state names the next one as soon as its last step is ticked."""
        self._to_tree = ("", "")
        self.tree_button = QPushButton(word("faults.job_tree"))
        self.tree_button.setMinimumHeight(44)
        self.tree_button.clicked.connect(lambda: self.asked_tree.emit(*self._to_tree))
        self.tree_button.hide()
        self.pages = QStackedWidget()
        about = words(word("faults.job_about"), size=1.1)
        about.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.pages.addWidget(about)
        self.pages.addWidget(self._pause_card())
        self.pages.addWidget(self._result_card())
        outer = QVBoxLayout(self)
        outer.addLayout(self._top())
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self.tree_button)
        outer.addWidget(self.pages)
        outer.addWidget(self._foot())
        outer.addStretch(1)
        session.person_changed.connect(self._other_person)
        self._show()

    def _top(self) -> QBoxLayout:
        self.begin_button = QPushButton(word("faults.job_begin"))
        self.begin_button.clicked.connect(self.begin)
        self.sheet_button = QPushButton(word("faults.job_sheet"))
        self.sheet_button.clicked.connect(self._sheet)
        pack = self.add_field("pack", word("faults.pack"))
        row = abreast(line(), (pack, 0), (self.begin_button, 0), (self.sheet_button, 0))
        row.addStretch(1)
        return row

    def _pause_card(self) -> Card:
        card = Card()
        self.heading = words(size=1.4, bold=True)
        self.normal = words()
        self.signs = words(
            say(msg("faults.job_signs", signs=tuple(f"{one} {word(f'sign.{one}')}" for one in JOB_SIGNS))), quiet=True
        )
        self._steps = QVBoxLayout()
        self._steps.setSpacing(0)
        self.next_button = QPushButton(word("faults.job_next"))
        self.next_button.setMinimumHeight(52)
        self.next_button.setFont(sized(1.2, bold=True))
        self.next_button.clicked.connect(self.next)
        card.column.addWidget(self.heading)
        card.column.addLayout(self._steps)
        card.column.addWidget(self.normal)
        card.column.addWidget(self.signs)
        card.column.addWidget(self.next_button)
        card.column.addStretch(1)
        return card

    def _result_card(self) -> Card:
        card = Card(word("job.result"))
        rested = self.add_field("rested_v", word("bench.rested"), "V", number=True)
        self.lit, self.dark = QRadioButton(word("faults.job_lit")), QRadioButton(word("faults.job_dark"))
        loaded = self.add_field("loaded_v", word("bench.loaded"), "V", number=True)
        amps = self.add_field("load_a", word("bench.amps"), "A", number=True)
        badge = self.add_field("badge", word("faults.badge"))
        parts = (rested, 1), (self.lit, 0), (self.dark, 0), (loaded, 1), (amps, 1), (badge, 1)
        card.column.addLayout(abreast(line(), *parts))
        self.stocked = StockChoice(PartKind.FUSE, PartKind.SEAL)
        card.column.addWidget(self.stocked)
        self.finish_button = QPushButton(word("faults.job_finish"))
        self.finish_button.setMinimumHeight(52)
        self.finish_button.clicked.connect(self.finish)
        card.column.addWidget(self.finish_button)
        card.column.addStretch(1)
        return card

    def _foot(self) -> QWidget:
        self.foot = QWidget()
        column = QVBoxLayout(self.foot)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(words(word("job.stops"), bold=True))
        self.stop = Choice(word("faults.job_why"), "job_stop", Stop)
        self.stop_button = QPushButton(word("faults.job_stop"))
        self.stop_button.clicked.connect(self.stop_now)
        self.leave_button = QPushButton(word("faults.job_leave"))
        self.leave_button.clicked.connect(self.leave)
        row = line()
        row.addWidget(self.stop, 2)
        for button in (self.stop_button, self.leave_button):
            button.setMinimumHeight(40)
            row.addWidget(button, 1, Qt.AlignmentFlag.AlignBottom)
        column.addLayout(row)
        return self.foot

    def begin(self) -> None:
        """Begin the job or go on with its draft, where rule and maker allow it."""
        self.quiet()
        self.tree_button.hide()
        self.result.clear()
        try:
            if not self.code("pack"):
                raise EntryRefused("faults.need_pack", field="pack")
            self.state, begun = resetting.begin_job(self._app.store, self._app.clock, self.author(), self.code("pack"))
        except FleetcareError as error:
            self.state = None
            self.refuse(error)
            self._show()
            return
        if begun is not None:
            self._changes.tell(begun)
        self._show()

    def _show(self) -> None:
        state = self.state
        self.foot.setVisible(state is not None)
        self.result.setVisible(state is None)
        self.fields["pack"].setEnabled(state is None)
        self.begin_button.setEnabled(state is None)
        if state is None:
            self.pages.setCurrentIndex(0)
            return
        pause = state.pause
        self.pages.setCurrentIndex(2 if pause is None else 1)
        if pause is None:
            if self._session.load is not None and not self.fields["load_a"].text:
                self.fields["load_a"].edit.setText(str(self._session.load.load_a))
            self.stocked.offer(self._app.store, self._app.clock)
            self.fields["rested_v"].edit.setFocus()
            return
        self._show_pause(state, pause)

    def _show_pause(self, state: JobState, pause: Pause) -> None:
        self._pause = pause
        number = list(Pause).index(pause) + 1
        self.heading.setText(say(msg("faults.job_pause", number=number, what=msg(f"job_pause.{pause.value}"))))
        self.normal.setText("\n".join(say(one) for one in normal_words(pause, state.notes)))
        while (item := self._steps.takeAt(0)) is not None:
            old = item.widget()
            if isinstance(old, QWidget):
                old.hide()
                old.deleteLater()
        done = dict(state.ticks).get(pause.value, 0)
        self.boxes = []
        for place, step in enumerate(step_keys(pause)):
            box = QCheckBox(word(step))
            box.setFont(sized(1.25))
            box.setMinimumHeight(44)
            box.setChecked(place < done)
            box.clicked.connect(self._ticked)
            self.boxes.append(box)
            self._steps.addWidget(box)
            box.show()
        for before, after in pairwise((self.sheet_button, *self.boxes, self.next_button)):
            QWidget.setTabOrder(before, after)
        self.signs.setVisible(pause is Pause.PREPARE)
        self._first_open().setFocus()

    def _first_open(self) -> QWidget:
        """The first step that is not ticked, or what goes on."""
        return next((box for box in self.boxes if not box.isChecked()), self.next_button)

    def _ticked(self, on: bool) -> None:
        """A tick is kept at once, and the cursor goes to the next step."""
        self.quiet()
        try:
            self._keep_ticks()
        except FleetcareError as error:
            self.refuse(error)
            return
        if on:
            self._first_open().setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: Enter on a step goes on to the next pause, on a reading to the next one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            focus = QApplication.focusWidget()
            if focus in self.boxes:
                self.next()
                return
            if focus is self.fields["badge"].edit:
                self.finish_button.setFocus()
                return
            if focus in (self.lit, self.dark) or any(focus is field.edit for field in self.fields.values()):
                self.focusNextChild()
                return
        super().keyPressEvent(event)

    def _keep_ticks(self) -> None:
        """Keep the steps ticked in their order up to the first that is not."""
        assert self.state is not None
        count = next((n for n, box in enumerate(self.boxes) if not box.isChecked()), len(self.boxes))
        self.state = resetting.keep_ticks(
            self._app.store, self._app.clock, self.author(), self.state, self._pause, count
        )

    def next(self) -> None:
        """On to the next pause when every step is ticked."""
        self.quiet()
        assert self.state is not None
        try:
            self._keep_ticks()
            refuse_unticked(self.state.ticks, self._pause)
        except FleetcareError as error:
            self.refuse(error)
            return
        self._show()

    def leave(self) -> None:
        """Leave half-way: the draft and the hold stay."""
        assert self.state is not None
        told = msg("record.job_draft", pack=self.state.pack)
        self.state = None
        self._show()
        self.result.setText(say(told))

    def _other_person(self) -> None:
        """Somebody else signs in, or nobody: the job is left half-way, as it stands."""
        if self.state is not None:
            self.leave()

    def stop_now(self) -> None:
        """Something is wrong: stop, and hold or quarantine the pack."""
        self.quiet()
        assert self.state is not None
        try:
            done = resetting.stop_job(
                self._app.store, self._app.clock, self.author(), self.state, self.stop.chosen(Stop) or Stop.NONE
            )
        except FleetcareError as error:
            self.refuse(error)
            return
        pack, danger = self.state.pack, self.stop.chosen(Stop) in DANGERS
        self._finish(done)
        if danger:
            self.quarantined.emit(pack)

    def finish(self) -> None:
        """Keep the readings and what they mean."""
        self.quiet()
        assert self.state is not None
        try:
            done = resetting.finish_job(
                self._app.store, self._app.clock, self.author(), self.state, self._readings(),
                self.fields["badge"].text, self.stocked.code,
            )  # fmt: skip
        except FleetcareError as error:
            self.refuse(error)
            return
        pack, rested = self.state.pack, self._readings().rested_v
        self._finish(done)
        row = _ROWS.get(_outcome(done.message))
        self._to_tree = (pack, "" if row == "r1" and rested else row or "")
        self.tree_button.setVisible(row is not None)

    def _readings(self) -> JobReadings:
        rested = parse_volts(self.fields["rested_v"].text, field="rested_v")
        if not self.lit.isChecked() and not self.dark.isChecked():
            raise EntryRefused("job.needs_display")
        loaded = self.fields["loaded_v"].text.strip()
        meter = self._session.meter
        if meter is None:
            raise EntryRefused("job.needs_meter")
        return JobReadings(
            rested, self.lit.isChecked(), meter.code, parse_volts(loaded, field="loaded_v") if loaded else None,
            parse_amps(self.fields["load_a"].text, field="load_a") if loaded else None,
        )  # fmt: skip

    def _finish(self, done: Recorded) -> None:
        self.state = None
        self.stocked.reset()
        for field in self.fields.values():
            field.clear()
        self.stop.choose(Stop.NONE)
        self._show()
        self.result.setText(say(done.message))
        self._changes.tell(done)

    def _sheet(self) -> None:
        self.quiet()
        try:
            if not self.code("pack"):
                raise EntryRefused("faults.need_pack", field="pack")
            with self._app.store.view() as view:
                state = resetting.job_state(view, self.code("pack"))
        except FleetcareError as error:
            self.refuse(error)
            return
        self.asked_sheet.emit(state)

    def refresh(self) -> None:
        """Put the cursor where the job begins, unless one is under way."""
        if self.state is None:
            self.fields["pack"].edit.setFocus()
