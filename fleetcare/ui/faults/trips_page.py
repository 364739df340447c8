"""Trips of one pack with both tallies, their judgement, and the reset with its rule."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.checks import TripCause
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.trips import TripSeen
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import reporting, trip_facts
from fleetcare.services.reporting import Judgement
from fleetcare.services.trip_facts import PackTrips
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, abreast, line, tick
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

TRIPS = (
    Column(word("faults.date"), lambda t: show_moment(t.done_at), width=20),
    Column(word("faults.vehicle"), lambda t: t.vehicle or "—", width=10),
    Column(word("faults.cause"), lambda t: word(f"trip_cause.{t.cause.value}"), width=26),
    Column(word("faults.explained").capitalize(), lambda t: word("event.explained" if t.explained else "event.not_explained"), width=14),
    Column(word("faults.last_charger"), lambda t: t.charger or "—", width=14),
    Column(word("faults.reported_by"), lambda t: t.reported_by, width=10),
    Column(word("faults.by"), lambda t: t.judged_by or "—", width=10),
)  # fmt: skip


_JUDGED = ("reason", "found_outside", "mended")
"""Fields of a judgement that are words."""


class TripsPage(FaultPage):
    """Scan a pack: its trips, whether it may be reset, by which rule and number."""

    follows_changes = False

    asked_job = Signal(str)
    """The guided reset of this pack is wanted: its maker's way."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._page: PackTrips | None = None
        self._begun_at: TripSeen | None = None
        self.show_button = QPushButton(word("faults.show"))
        self.badge = Badge()
        self.badge.setFont(sized(1.2, bold=True))
        self.badge.hide()
        self.rule = words(size=1.15, bold=True)
        self.notes = words(quiet=True)
        self.tallies = words()
        self.model = RowModel(TRIPS)
        self.table = Table(self.model, word("faults.tab_trips"), stretch=2)
        self._lay_out()
        self.show_button.clicked.connect(self.refresh)
        self.fields["pack"].edit.returnPressed.connect(self.refresh)
        session.person_changed.connect(lambda: self.code("pack") and self.refresh())
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._chosen())
        self._able()

    def _lay_out(self) -> None:
        top = abreast(line(), (self.add_field("pack", word("faults.pack")), 0), (self.show_button, 0))
        top.addStretch(1)
        verdict = line()
        verdict.addWidget(self.badge)
        verdict.addWidget(self.rule, 1)
        judge = Card(word("faults.do_judge"))
        self.explained = tick(word("faults.explained"))
        self.cause = Choice(word("faults.cause"), "trip_cause", TripCause)
        self.judge_button = QPushButton(word("faults.do_judge"))
        self.judge_button.clicked.connect(self.judge)
        judge.column.addLayout(abreast(line(), (self.cause, 1), (self.explained, 0)))
        why = self.add_field("reason", word("faults.why")), self.add_field("found_outside", word("faults.outside"))
        judge.column.addLayout(abreast(line(), *((one, 1) for one in why)))
        judge.column.addWidget(self.add_field("mended", word("faults.mended")))
        judge.column.addWidget(self.judge_button)
        reset = Card(word("faults.do_reset"))
        self.worked = tick(word("faults.worked"))
        self.reset_button = QPushButton(word("faults.do_reset"))
        self.reset_button.clicked.connect(self.reset)
        badge = self.add_field("badge", word("faults.badge"))
        reset.column.addLayout(abreast(line(), (self.worked, 0), (badge, 1)))
        reset.column.addWidget(self.add_field("reset", word("bench.remark")))
        reset.column.addStretch(1)
        reset.column.addWidget(self.reset_button)
        outer = QVBoxLayout(self)
        outer.setSpacing(4)
        outer.addLayout(top)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addLayout(verdict)
        outer.addWidget(self.notes)
        outer.addWidget(self.tallies)
        outer.addWidget(self.table, 1)
        heading = self.table.horizontalHeader().sizeHint().height()
        rows = 3 * self.table.verticalHeader().defaultSectionSize()
        self.table.setFixedHeight(heading + rows + 2 * self.table.frameWidth())
        cards = line()
        cards.addWidget(judge, 3)
        cards.addWidget(reset, 2)
        outer.addLayout(cards)
        outer.addStretch(1)

    def taken(self, thing_class: str) -> None:
        """A scanned pack is shown at once."""
        self.refresh()

    def refresh(self) -> None:
        """Read the pack's trips and the rule again."""
        self.quiet()
        code = self.code("pack")
        if not code:
            self.fields["pack"].edit.setFocus()
            return
        try:
            self._page = trip_facts.pack_trips(self._app.store, self._app.clock, code, self._session.person)
        except FleetcareError as error:
            self._page = None
            self.refuse(error)
        self._show()

    def _show(self) -> None:
        page = self._page
        self._able()
        self.badge.setVisible(page is not None)
        if page is None:
            self.rule.clear()
            self.notes.clear()
            self.tallies.clear()
            self.model.set_rows(())
            return  # a code that was refused: what is typed stays until another pack is shown
        allowed = page.allowance.allowed
        self.badge.show_state(
            colours.GOOD if allowed else colours.FAULT, word("faults.may" if allowed else "faults.may_not")
        )
        self.rule.setText(say(page.allowance.statement))
        missing = word("faults.no_note")
        self.notes.setText(
            f"{say(msg('faults.method', note=page.reset_note or missing))}\n"
            f"{say(msg('faults.wake', note=page.wake_note or missing))}"
            + (f"\n{say(msg('reset.by_job', pack=page.pack))}" if page.by_job and allowed else "")
        )
        self.tallies.setText("\n".join(say(t.reading) for t in page.tallies if t.reading is not None))
        self.model.set_rows(
            [
                replace(
                    t,
                    judged_by=page.names.get(t.judged_by, t.judged_by),
                    reported_by=page.names.get(t.reported_by, t.reported_by),
                )
                for t in page.trips
            ]
        )
        if not page.trips:
            self._nothing_chosen()
            return
        chosen = self._begun_at
        again = (n for n, one in enumerate(page.trips) if chosen is not None and one.record_id == chosen.record_id)
        self.table.selectRow(next(again, 0))

    def _chosen(self) -> None:
        """The judgement begins at what stands: a trip judged again keeps all of it unless somebody changes it.

        Read again, what somebody has changed stays, also where a colleague judged the same trip meanwhile.
        """
        row = self.table.selected_row()
        if not isinstance(row, TripSeen):
            return
        begun, self._begun_at = self._begun_at, row
        same = begun is not None and begun.record_id == row.record_id
        if begun is None or not same or self.cause.chosen(TripCause) is begun.cause:
            self.cause.choose(row.cause)
        if begun is None or not same or self.explained.isChecked() == begun.explained:
            self.explained.setChecked(row.explained)
        for name in _JUDGED:
            if begun is None or not same or self.text(name) == getattr(begun, name):
                self.fields[name].edit.setText(getattr(row, name))

    def _nothing_chosen(self) -> None:
        """No trip to judge: the words about another pack's trip go."""
        self._begun_at = None
        self.cause.choose(None)
        self.explained.setChecked(False)
        for name in _JUDGED:
            self.fields[name].clear()

    def _able(self) -> None:
        page = self._page
        self.judge_button.setEnabled(page is not None and bool(page.trips))
        by_job = page is not None and page.by_job
        self.reset_button.setEnabled(page is not None and page.allowance.allowed)
        self.reset_button.setText(word("faults.go_job" if by_job else "faults.do_reset"))
        for part in (self.worked, self.fields["badge"], self.fields["reset"]):
            part.setEnabled(not by_job)

    def judge(self) -> None:
        """Judge the chosen trip."""
        self.quiet()
        row = self.table.selected_row()
        judgement = Judgement(
            self.cause.chosen(TripCause) or TripCause.UNKNOWN, self.explained.isChecked(),
            self.text("reason"), self.text("found_outside"), self.text("mended"),
        )  # fmt: skip
        try:
            if not isinstance(row, TripSeen):
                raise EntryRefused("faults.choose_trip")
            done = reporting.judge_trip(self._app.store, self._app.clock, self.author(), row.record_id, judgement)
        except FleetcareError as error:
            self.refuse(error)
            return
        for name in _JUDGED:
            self.fields[name].clear()
        self._begun_at = None  # also where the judgement is the one that stood, its words are put back
        self._finish(done)

    def reset(self) -> None:
        """Note that the pack was reset, or go where its maker's way is done step by step."""
        self.quiet()
        if self._page is not None and self._page.by_job:
            self.asked_job.emit(self._page.pack)
            return
        try:
            done = reporting.record_reset(
                self._app.store, self._app.clock, self.author(), self.code("pack"), self.fields["badge"].text,
                self.worked.isChecked(), self.fields["reset"].text,
            )  # fmt: skip
        except FleetcareError as error:
            self.refuse(error)
            return
        for name in ("badge", "reset"):
            self.fields[name].clear()
        self.worked.setChecked(False)
        self._finish(done)
        self.fields["pack"].edit.setFocus()

    def _finish(self, done: object) -> None:
        self.refresh()
        self.result.setText(say(done.message))  # type: ignore[attr-defined]
        self._changes.tell(done)  # type: ignore[arg-type]
