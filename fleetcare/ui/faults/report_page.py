"""The report: the danger gate, then three questions, on the phone or at the bench."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QScrollArea, QStackedWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import DANGER_ITEMS, LookItem, TripCause
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.intake import ChargeLevel, Report, Story
from fleetcare.domain.packs import Level
from fleetcare.domain.units import parse_celsius
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import charging, reporting
from fleetcare.services.reporting import Judgement, Reported
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, large_text, line, tick
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.stop_card import StopCard


class ReportPage(FaultPage):
    """One tick at the gate shows the stop card and asks nothing else."""

    quarantined = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.stop = StopCard()
        self.stop.quarantine.connect(self._quarantine)
        self.stop.back.connect(self._back)
        self.pages = QStackedWidget()
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        form = QWidget()
        self._lay_out(form)
        scroll.setWidget(form)
        self.pages.addWidget(scroll)
        self.pages.addWidget(self.stop)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 6, 0, 0)
        outer.addWidget(self.pages)
        self.foot = self._foot()
        outer.addWidget(self.foot)
        session.person_changed.connect(self._who)
        self._who()

    def _lay_out(self, form: QWidget) -> None:
        column = QVBoxLayout(form)
        column.setSpacing(8)
        column.setContentsMargins(0, 0, 4, 0)
        column.addWidget(self._gate())
        column.addWidget(self._about())
        column.addWidget(self._happened())
        column.addWidget(self._judging())
        column.addStretch(1)

    def _foot(self) -> QWidget:
        """Always in view: what was kept or is wrong, and the two buttons."""
        foot = QWidget()
        column = QVBoxLayout(foot)
        column.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        self.save = QPushButton(word("faults.save_report"))
        self.save.setMinimumHeight(44)
        self.save.setFont(sized(1.1, bold=True))
        self.save.clicked.connect(self.keep)
        self.new = QPushButton(word("faults.new_report"))
        self.new.setMinimumHeight(44)
        self.new.clicked.connect(self.clear)
        row.addWidget(self.save, 2)
        row.addWidget(self.new, 1)
        column.addWidget(self.wrong)
        column.addWidget(self.result)
        column.addLayout(row)
        return foot

    def _gate(self) -> Card:
        card = Card(word("faults.gate"))
        grid = QGridLayout()
        self.dangers = {item: tick(word(f"look.{item.value}")) for item in LookItem if item in DANGER_ITEMS}
        across = 2 if large_text() else 3
        for number, box in enumerate(self.dangers.values()):
            grid.addWidget(box, number // across, 1 + number % across)
            box.clicked.connect(self._ticked)
        self.none = QPushButton(word("faults.gate_none"))
        self.none.setCheckable(True)
        self.none.setMinimumHeight(36)
        grid.addWidget(self.none, 2, 0)
        grid.addWidget(self.add_field("pack", word("faults.pack")), 0, 0, 2, 1)
        for number in range(across + 1):
            grid.setColumnStretch(number, 1)
        card.column.addLayout(grid)
        return card

    def _about(self) -> Card:
        card = Card(word("faults.about"))
        row = line()
        for name in ("vehicle", "charger"):
            row.addWidget(self.add_field(name, word(f"faults.{name}")), 1)
        row.addWidget(self.add_field("charged_where", word("faults.charged_where")), 1)
        card.column.addLayout(row)
        self.charger_line = words(bold=True)
        self.charger_line.setProperty("role", "wrong")
        card.column.addWidget(self.charger_line)
        self.fields["charger"].edit.editingFinished.connect(lambda: self.taken("charger"))
        return card

    def _happened(self) -> Card:
        card = Card(word("faults.story"))
        self.story = Choice(word("faults.happened"), "story", Story, blank=True)
        self.level = Choice(word("faults.level"), "charge_level", ChargeLevel)
        self.level.choose(ChargeLevel.UNKNOWN)
        first = line()
        first.addWidget(self.story, 3)
        first.addWidget(self.add_field("where", word("faults.where")), 2)
        first.addWidget(self.level, 1)
        first.addWidget(self.add_field("pack_c", word("faults.temperature"), number=True), 2)
        card.column.addLayout(first)
        self.ticks = {name: tick(word(f"faults.{name}")) for name in ("heavy", "hill", "rain", "knock", "works_again")}
        second = line()
        for box in self.ticks.values():
            second.addWidget(box)
        second.addStretch(1)
        card.column.addLayout(second)
        card.column.addWidget(self.add_field("remark", word("faults.remark")))
        return card

    def _judging(self) -> Card:
        self.judging = Card(word("faults.judge"))
        self.explained = tick(word("faults.explained"))
        self.cause = Choice(word("faults.cause"), "trip_cause", TripCause, blank=True)
        row = line()
        row.addWidget(self.explained)
        row.addWidget(self.cause, 1)
        row.addWidget(self.add_field("reason", word("faults.why")), 2)
        row.addWidget(self.add_field("found_outside", word("faults.outside")), 2)
        self.judging.column.addLayout(row)
        return self.judging

    def _who(self) -> None:
        person = self._session.person
        if person is None:  # nobody: the clock is not asked, which may not be believed yet
            self.judging.setVisible(False)
            return
        self.judging.setVisible(person.level_on(self._app.clock().date()).covers(Level.MAY_RELEASE))

    def taken(self, thing_class: str) -> None:
        """With pack and charger known, a charger that is not the pack's own is warned of at once."""
        self.charger_line.clear()
        if self.code("pack") and self.code("charger"):
            try:
                wrong = charging.charge_warning(
                    self._app.store, self._app.clock, self.code("pack"), self.code("charger")
                )
            except FleetcareError as error:
                self.refuse(error)
                return
            self.charger_line.setText("" if wrong is None else say(msg("faults.warn", why=wrong)))

    # the gate

    def _ticked(self) -> None:
        self.none.setChecked(False)
        found = self._found()
        if found:
            self.stop.ask(self.code("pack") or word("faults.pack"), found)
            self.stop.save.setText(say(msg("faults.stop_print", pack=self.code("pack") or word("faults.pack"))))
            self.pages.setCurrentIndex(1)
            self.foot.hide()
            self.stop.place.edit.setFocus()

    def _found(self) -> tuple[LookItem, ...]:
        return tuple(item for item, box in self.dangers.items() if box.isChecked())

    def _back(self) -> None:
        for box in self.dangers.values():
            box.setChecked(False)
        self._form()

    def _form(self) -> None:
        self.pages.setCurrentIndex(0)
        self.foot.show()

    def _quarantine(self, place: str) -> None:
        pack = self.code("pack")
        report = Report(
            pack, self.code("vehicle") or None, self._app.clock(), self.story.chosen(Story) or Story.WORKS_HERE,
            self._found(), charger=self.code("charger"), place=place, remark=self.fields["remark"].text.strip(),
        )  # fmt: skip
        try:
            if not pack:
                raise EntryRefused("faults.need_pack", field="pack")
            done = reporting.record_report(self._app.store, self._app.clock, self.author(), report)
        except FleetcareError as error:
            if error.field in ("pack", "vehicle"):
                self._form()
                self.refuse(error)
            else:
                self.stop.wrong.setText(say(error.message))
            return
        self.clear()
        self._form()
        self._say(done)
        self._changes.tell(done.recorded)
        self.quarantined.emit(pack)

    # the other questions

    def report(self) -> Report:
        """The report as typed; EntryRefused names the field."""
        if not self.none.isChecked():
            raise EntryRefused("faults.need_gate")
        if not self.code("pack"):
            raise EntryRefused("faults.need_pack", field="pack")
        story = self.story.chosen(Story)
        if story is None:
            raise EntryRefused("entry.choose_story")
        cold = self.fields["pack_c"].text.strip()
        on = {name: box.isChecked() for name, box in self.ticks.items()}
        return Report(
            pack=self.code("pack"), vehicle=self.code("vehicle") or None, done_at=self._app.clock(), story=story,
            where=self.fields["where"].text.strip(), heavy_load=on["heavy"], hill=on["hill"], rain=on["rain"],
            knock=on["knock"], pack_c=parse_celsius(cold, field="pack_c") if cold else None,
            charge_level=self.level.chosen(ChargeLevel) or ChargeLevel.UNKNOWN, charger=self.code("charger"),
            charged_where=self.fields["charged_where"].text.strip(), works_again=on["works_again"],
            remark=self.fields["remark"].text.strip(),
        )  # fmt: skip

    def _judgement(self) -> Judgement | None:
        cause = self.cause.chosen(TripCause)
        if cause is None and not self.explained.isChecked():
            return None
        return Judgement(
            cause or TripCause.UNKNOWN, self.explained.isChecked(), self.fields["reason"].text.strip(),
            self.fields["found_outside"].text.strip(),
        )  # fmt: skip

    def keep(self) -> None:
        """Keep the report, or say what is missing."""
        self.quiet()
        try:
            done = reporting.record_report(
                self._app.store, self._app.clock, self.author(), self.report(), self._judgement()
            )
        except FleetcareError as error:
            self.refuse(error)
            return
        self.clear()
        self._say(done)
        self._changes.tell(done.recorded)

    def _say(self, done: Reported) -> None:
        lines = [say(done.recorded.message)]
        lines += [say(msg("faults.held_now", what=held)) for held in done.held]
        lines += [say(msg("bench.next_step", step=step)) for step in done.steps]
        self.result.setText("\n".join(lines))

    def clear(self) -> None:
        """Nothing is typed, nobody has answered."""
        self.quiet()
        for field in self.fields.values():
            field.clear()
        for box in (*self.dangers.values(), *self.ticks.values(), self.explained, self.none):
            box.setChecked(False)
        self.story.choose(None)
        self.cause.choose(None)
        self.level.choose(ChargeLevel.UNKNOWN)
        self.result.clear()
        self.charger_line.clear()
        self.fields["pack"].edit.setFocus()

    def refresh(self) -> None:
        """Put the cursor where the report begins."""
        self.fields["pack"].edit.setFocus()
