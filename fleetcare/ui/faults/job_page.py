"""The guided reset: one pause at a time, large, by keyboard; leaving half-way keeps a draft."""

from __future__ import annotations

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
from fleetcare.domain.reset_job import Pause, Stop, normal_words, refuse_unticked, step_keys
from fleetcare.domain.spare_parts import PartKind
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import resetting
from fleetcare.services.resetting import JobReadings, JobState
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, line
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.stock_choice import StockChoice


class JobPage(FaultPage):
    """Begin, four pauses, the readings; every tick is kept at once."""

    asked_sheet = Signal(object)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.state: JobState | None = None
        self.boxes: list[QCheckBox] = []
        self.pages = QStackedWidget()
        self.pages.addWidget(words(word("faults.job_about"), size=1.1))
        self.pages.addWidget(self._pause_card())
        self.pages.addWidget(self._result_card())
        outer = QVBoxLayout(self)
        outer.addLayout(self._top())
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self.pages)
        outer.addWidget(self._foot())
        outer.addStretch(1)
        self._show()

    def _top(self) -> QBoxLayout:
        row = line()
        row.addWidget(self.add_field("pack", word("faults.pack")))
        self.begin_button = QPushButton(word("faults.job_begin"))
        self.begin_button.clicked.connect(self.begin)
        self.sheet_button = QPushButton(word("faults.job_sheet"))
        self.sheet_button.clicked.connect(self._sheet)
        for button in (self.begin_button, self.sheet_button):
            button.setMinimumHeight(40)
            row.addWidget(button)
        row.addStretch(1)
        return row

    def _pause_card(self) -> Card:
        card = Card()
        self.heading = words(size=1.4, bold=True)
        self.normal = words()
        self._steps = QVBoxLayout()
        self.next_button = QPushButton(word("faults.job_next"))
        self.next_button.setMinimumHeight(52)
        self.next_button.setFont(sized(1.2, bold=True))
        self.next_button.clicked.connect(self.next)
        card.column.addWidget(self.heading)
        card.column.addLayout(self._steps)
        card.column.addWidget(self.normal)
        card.column.addWidget(self.next_button)
        return card

    def _result_card(self) -> Card:
        card = Card(word("job.result"))
        row = line()
        row.addWidget(self.add_field("rested_v", word("bench.rested"), "V", number=True), 1)
        self.lit, self.dark = QRadioButton(word("faults.job_lit")), QRadioButton(word("faults.job_dark"))
        row.addWidget(self.lit)
        row.addWidget(self.dark)
        row.addWidget(self.add_field("loaded_v", word("bench.loaded"), "V", number=True), 1)
        row.addWidget(self.add_field("load_a", word("bench.amps"), "A", number=True), 1)
        row.addWidget(self.add_field("badge", word("faults.badge")), 1)
        card.column.addLayout(row)
        self.stocked = StockChoice(PartKind.FUSE, PartKind.SEAL)
        card.column.addWidget(self.stocked)
        self.finish_button = QPushButton(word("faults.job_finish"))
        self.finish_button.setMinimumHeight(52)
        self.finish_button.clicked.connect(self.finish)
        card.column.addWidget(self.finish_button)
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
        number = list(Pause).index(pause) + 1
        self.heading.setText(say(msg("faults.job_pause", number=number, what=msg(f"job_pause.{pause.value}"))))
        self.normal.setText("\n".join(say(one) for one in normal_words(pause, state.notes)))
        while self._steps.count():
            old = self._steps.takeAt(0).widget()
            if isinstance(old, QWidget):
                old.hide()
                old.deleteLater()
        done = dict(state.ticks).get(pause.value, 0)
        self.boxes = []
        for place, step in enumerate(step_keys(pause)):
            box = QCheckBox(word(step))
            box.setFont(sized(1.15))
            box.setMinimumHeight(36)
            box.setChecked(place < done)
            self.boxes.append(box)
            self._steps.addWidget(box)
            box.show()
        first = next((box for box in self.boxes if not box.isChecked()), self.boxes[0])
        first.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: Enter on a step goes on to the next pause."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and QApplication.focusWidget() in self.boxes:
            self.next()
            return
        super().keyPressEvent(event)

    def _keep_ticks(self) -> None:
        """Keep the steps ticked in their order up to the first that is not."""
        assert self.state is not None and self.state.pause is not None
        count = next((n for n, box in enumerate(self.boxes) if not box.isChecked()), len(self.boxes))
        self.state = resetting.keep_ticks(
            self._app.store, self._app.clock, self.author(), self.state, self.state.pause, count
        )

    def next(self) -> None:
        """On to the next pause when every step is ticked."""
        self.quiet()
        assert self.state is not None
        pause = self.state.pause
        assert pause is not None
        try:
            self._keep_ticks()
            refuse_unticked(self.state.ticks, pause)
        except FleetcareError as error:
            self.refuse(error)
            return
        self._show()

    def leave(self) -> None:
        """Leave half-way: the draft and the hold stay."""
        try:
            assert self.state is not None
            if self.state.pause is not None:
                self._keep_ticks()
        except FleetcareError as error:
            self.refuse(error)
            return
        told = msg("record.job_draft", pack=self.state.pack)
        self.state = None
        self._show()
        self.result.setText(say(told))

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
        self._finish(done)

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
        self._finish(done)

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
