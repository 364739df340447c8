"""The report: four questions, the danger gate in the first, on the phone or at the bench; Enter goes on."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

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
from fleetcare.ui.faults.forms import Choice, FaultPage, abreast, line, tick
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text, sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.stop_card import StopCard
from fleetcare.ui.widgets.tab_order import tab_through


class ReportPage(FaultPage):
    """One tick at the gate shows the stop card and asks nothing else."""

    scrolls_itself = True
    follows_changes = False

    quarantined = Signal(str)
    reported = Signal(str)
    """A report about this pack was kept."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._asked, self._filled = ("", ""), ""
        self._aboard: tuple[str, ...] = ()
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
        tab_through(self.fields["vehicle"], self.fields["pack"], self.none, *self.dangers.values(), self.story)
        session.person_changed.connect(self._who)
        self._who()

    def _lay_out(self, form: QWidget) -> None:
        column = QVBoxLayout(form)
        column.setSpacing(6)
        column.setContentsMargins(0, 0, 4, 0)
        for card in (self._gate(), self._happened(), self._under(), self._charged(), self._judging()):
            card.heading.setWordWrap(True)
            column.addWidget(card)
        column.addStretch(1)
        edits = {name: field.edit for name, field in self.fields.items()}
        self._stops: tuple[QWidget, ...] = (
            edits["vehicle"], edits["pack"], self.none, self.story.box, edits["where"], edits["remark"], self.level.box,
            edits["pack_c"], *self.ticks.values(), edits["charger"], edits["charged_where"],
        )  # fmt: skip
        for stop in self._stops:
            stop.installEventFilter(self)

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
        self.result.hide()
        column.addLayout(row)
        return foot

    def _gate(self) -> Card:
        card = Card(word("faults.gate"))
        grid = QGridLayout()
        which = QHBoxLayout()
        for name in ("vehicle", "pack"):
            which.addWidget(self.add_field(name, word(f"faults.{name}")))
        self.none = QPushButton(word("faults.gate_none"))
        self.none.setCheckable(True)
        self.none.setMinimumHeight(44)
        self.dangers = {item: tick(word(f"look.{item.value}")) for item in LookItem if item in DANGER_ITEMS}
        large = large_text()
        across, row, column = (2, 2, 0) if large else (3, 0, 1)
        for number, box in enumerate(self.dangers.values()):
            grid.addWidget(box, row + number // across, column + number % across)
            box.clicked.connect(self._ticked)
        grid.addLayout(which, 0, 0, 1 if large else 2, across if large else 1)
        grid.addWidget(self.none, 1 if large else 2, 0, 1, across if large else 1)
        for number in range(column + across):
            grid.setColumnStretch(number, 3 if number < column else 2)
        card.column.addLayout(grid)
        self.which_line = words()
        self.which_line.hide()
        self.choices = QHBoxLayout()
        card.column.addWidget(self.which_line)
        card.column.addLayout(self.choices)
        self.none.clicked.connect(lambda on: on and self.story.box.setFocus())
        for name in ("vehicle", "pack"):
            self.fields[name].edit.editingFinished.connect(self._which)
        return card

    def _charged(self) -> Card:
        card = Card(word("faults.about"))
        fields = (
            self.add_field("charger", word("faults.charger")),
            self.add_field("charged_where", word("faults.charged_where")),
        )
        card.column.addLayout(abreast(line(), *((one, 1) for one in fields)))
        self.last_line = words(quiet=True)
        self.charger_line = words(bold=True)
        self.charger_line.setProperty("role", "wrong")
        for told in (self.last_line, self.charger_line):
            told.hide()
            card.column.addWidget(told)
        self.fields["charger"].edit.editingFinished.connect(self._charger)
        return card

    def _happened(self) -> Card:
        card = Card(word("faults.story"))
        self.story = Choice(word("faults.happened"), "story", Story, blank=True)
        for number in range(1, self.story.box.count()):
            self.story.box.setItemText(number, f"{number}  {self.story.box.itemText(number)}")
        where, remark = self.add_field("where", word("faults.where")), self.add_field("remark", word("faults.remark"))
        card.column.addLayout(abreast(line(), (self.story, 3), (where, 2), (remark, 3)))
        return card

    def _under(self) -> Card:
        card = Card(word("faults.under"))
        self.level = Choice(word("faults.level"), "charge_level", ChargeLevel)
        self.level.choose(ChargeLevel.UNKNOWN)
        warmth = self.add_field("pack_c", word("faults.temperature"), number=True)
        self.ticks = {name: tick(word(f"faults.{name}")) for name in ("heavy", "hill", "rain", "knock", "works_again")}
        boxes = ((box, 0) for box in self.ticks.values())
        card.column.addLayout(abreast(line(), (self.level, 2), (warmth, 3), *boxes))
        return card

    def _judging(self) -> Card:
        self.judging = Card(word("faults.judge"))
        self.explained = tick(word("faults.explained"))
        self.cause = Choice(word("faults.cause"), "trip_cause", TripCause, blank=True)
        reason = self.add_field("reason", word("faults.why"))
        outside = self.add_field("found_outside", word("faults.outside"))
        parts = (self.explained, 0), (self.cause, 1), (reason, 2), (outside, 2)
        self.judging.column.addLayout(abreast(line(), *parts))
        self.judging.column.addWidget(words(word("faults.mended_where"), quiet=True))
        return self.judging

    def _who(self) -> None:
        person = self._session.person
        if person is None:  # nobody: the clock is not asked, which may not be believed yet
            self.judging.setVisible(False)
            return
        self.judging.setVisible(person.level_on(self._app.clock().date()).covers(Level.MAY_RELEASE))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Qt's hook: Enter goes on to the next field, as in every form for the keyboard."""
        enter = isinstance(event, QKeyEvent) and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and event.type() == QEvent.Type.KeyPress and isinstance(watched, QWidget) and watched in self._stops:
            if isinstance(watched, QLineEdit):
                watched.editingFinished.emit()
            self._after(watched)
            return True
        return super().eventFilter(watched, event)

    def _after(self, stop: QWidget) -> None:
        """Put the cursor on what comes after `stop`; the ticks of what was going on are one stop."""
        left = self._stops[self._stops.index(stop) + 1 :]
        if stop in self.ticks.values():
            left = tuple(one for one in left if one not in self.ticks.values())
        (left[0] if left else self.save).setFocus()

    def taken(self, thing_class: str) -> None:
        """A scanned vehicle or pack names the other; the cursor goes on."""
        if thing_class in ("vehicle", "pack"):
            self._which()
            if self.pages.currentIndex():
                return
            known = self.code("vehicle") and self.code("pack")
            (self.none if known else self.fields["pack" if self.code("vehicle") else "vehicle"].edit).setFocus()
        elif self.fields["charger"].edit.hasFocus():
            self._after(self.fields["charger"].edit)
        self._charger()

    def _charger(self) -> None:
        """With pack and charger known a foreign charger is warned of at once."""
        self.charger_line.hide()
        if self.code("pack") and self.code("charger"):
            try:
                wrong = charging.charge_warning(
                    self._app.store, self._app.clock, self.code("pack"), self.code("charger")
                )
            except FleetcareError as error:
                self.refuse(error)
                return
            self.charger_line.setText("" if wrong is None else say(msg("faults.warn", why=wrong)))
            self.charger_line.setVisible(wrong is not None)

    def _which(self) -> None:
        """Ask the record which pack is in the vehicle, or where the pack is; what it knows is filled in, never changed."""
        typed = self.code("vehicle"), self.code("pack")
        if typed == self._asked:
            return
        vehicle, pack = typed
        if pack and pack == self._filled and vehicle != self._asked[0]:
            pack = ""  # the record's own answer about the vehicle typed before
        try:
            found = reporting.meant(self._app.store, vehicle, pack)
        except FleetcareError as error:
            self._asked = typed
            self._offer(())
            self.which_line.hide()
            if error.field in self.fields:
                self.fields[error.field].refuse(error)
            return
        self._filled = found.pack if found.pack != pack else self._filled
        self._asked = found.vehicle, found.pack
        self.fields["vehicle"].edit.setText(found.vehicle)
        self.fields["pack"].edit.setText(found.pack)
        for name in ("vehicle", "pack"):
            self.fields[name].clear_refusal()
        self.which_line.setText("" if found.line is None else say(found.line))
        self.which_line.setVisible(found.line is not None)
        self.last_line.setText("" if found.last_charge is None else say(found.last_charge))
        self.last_line.setVisible(found.last_charge is not None)
        self._offer(found.choices)
        if self._found() and self.pages.currentIndex() == 0 and any(self._asked):
            self._ticked()

    def _offer(self, packs: Sequence[str]) -> None:
        """A button for each pack that it may have been."""
        self._aboard = tuple(packs)
        while (item := self.choices.takeAt(0)) is not None:
            old = item.widget()
            if isinstance(old, QWidget):
                old.hide()
                old.deleteLater()
        for code in packs:
            button = QPushButton(code)
            button.setMinimumHeight(40)
            button.clicked.connect(lambda _on=False, chosen=code: self.take("pack", chosen))
            self.choices.addWidget(button)

    # the gate

    def _ticked(self) -> None:
        self.none.setChecked(False)
        found = self._found()
        if found:
            self._which()
            aboard = ", ".join(self._aboard)
            vehicle = f"{self.code('vehicle')}: {aboard}" if aboard else self.code("vehicle")
            subject = self.code("pack") or vehicle or word("faults.pack")
            place = self.stop.place.text
            self.stop.ask(subject, found)
            self.stop.place.edit.setText(place)
            self.stop.save.setText(say(msg("faults.stop_print", pack=self.code("pack") or aboard or subject)))
            self.pages.setCurrentIndex(1)
            self.foot.hide()
            self.stop.place.edit.setFocus()

    def _found(self) -> tuple[LookItem, ...]:
        return tuple(item for item, box in self.dangers.items() if box.isChecked())

    def _back(self) -> None:
        self.stop.place.clear()
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
            if not pack and not self.code("vehicle"):
                raise EntryRefused("faults.need_which", field="vehicle")
            done = reporting.record_report(self._app.store, self._app.clock, self.author(), report)
        except FleetcareError as error:
            if error.field in ("pack", "vehicle"):
                self._form()
                self.refuse(error)
            else:
                self.stop.wrong.setText(say(error.message))
            return
        self.stop.place.clear()
        self.clear()
        self._form()
        self._say(done)
        self._changes.tell(done.recorded)
        for code in done.quarantined:
            self.quarantined.emit(code)

    # the other questions

    def report(self) -> Report:
        """The report as typed; EntryRefused names the field."""
        if not self.none.isChecked():
            self.none.setFocus()
            raise EntryRefused("faults.need_gate")
        if not self.code("pack"):
            raise EntryRefused("faults.need_pack", field="pack")
        story = self.story.chosen(Story)
        if story is None:
            self.story.box.setFocus()
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
        pack = self.code("pack")
        self.clear()
        self._say(done)
        self._changes.tell(done.recorded)
        self.reported.emit(pack)

    def _say(self, done: Reported) -> None:
        lines = [say(done.recorded.message)]
        lines += [say(msg("faults.held_now", what=held)) for held in done.held]
        lines += [] if done.held or done.danger else [word("faults.carry_on")]
        lines += [say(step) for step in done.steps]
        self.result.setText("\n".join(lines))
        self.result.show()

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
        self.result.hide()
        self._asked, self._filled = ("", ""), ""
        self._offer(())
        for told in (self.which_line, self.last_line, self.charger_line):
            told.clear()
            told.hide()
        self.fields["vehicle"].edit.setFocus()

    def refresh(self) -> None:
        """Put the cursor where the report begins."""
        self.fields["vehicle"].edit.setFocus()
