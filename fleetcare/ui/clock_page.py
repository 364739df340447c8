"""The first question when the PC's clock contradicts the record; nothing else can be done before it."""

from __future__ import annotations

import datetime as dt

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QLineEdit, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.packs import Person
from fleetcare.domain.wording import say, word
from fleetcare.services.clock import DoubtKind, TrustedClock
from fleetcare.services.people import PinGate, find_person
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words


class ClockPage(QWidget):
    """Who answers, the true time, and two buttons."""

    answered = Signal(str)

    def __init__(self, app: App, session: Session) -> None:
        super().__init__()
        assert isinstance(app.clock, TrustedClock)
        self._app, self._session, self._clock = app, session, app.clock
        self._gate = PinGate(app.store, lambda: dt.datetime.now(dt.UTC))
        card = Card()
        card.column.addWidget(words(word("clock.heading"), size=1.8, bold=True))
        self.statement = words(size=1.2, bold=True)
        card.column.addWidget(self.statement)
        card.column.addWidget(words(word("clock.hint")))
        self.who, self.pin = Field(word("clock.who")), Field(word("sign.pin"))
        self.pin.edit.setEchoMode(QLineEdit.EchoMode.Password)
        self.true_at = Field(word("clock.true_at"))
        for field in (self.who, self.pin, self.true_at):
            field.edit.setProperty(SCAN_FIELD, True)
            field.edit.setMinimumHeight(44)
            card.column.addWidget(field)
        self.last_wrong = QCheckBox(word("clock.last_wrong"))
        self.last_wrong.setMinimumHeight(32)
        card.column.addWidget(self.last_wrong)
        self.set, self.right = QPushButton(word("clock.set")), QPushButton(word("clock.right"))
        row = QHBoxLayout()
        for button in (self.set, self.right):
            button.setMinimumHeight(48)
            row.addWidget(button)
        card.column.addLayout(row)
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        card.column.addWidget(self.wrong)
        holder = QWidget()
        across, down = QHBoxLayout(), QVBoxLayout(holder)
        across.addStretch(1)
        across.addWidget(card, 4)
        across.addStretch(1)
        down.addStretch(1)
        down.addLayout(across)
        down.addStretch(2)
        scroll = QScrollArea()
        scroll.setWidget(holder)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)
        self.who.edit.returnPressed.connect(self._named)
        self.pin.edit.returnPressed.connect(self.true_at.edit.setFocus)
        self.true_at.edit.returnPressed.connect(self._correct)
        self.set.clicked.connect(self._correct)
        self.right.clicked.connect(self._is_right)

    def in_doubt(self) -> bool:
        """True while the clock is not believed."""
        return self._clock.doubt() is not None

    def ask(self) -> None:
        """Show the doubt; a clock behind the record cannot be right."""
        doubt = self._clock.doubt()
        if doubt is None:
            return
        self.statement.setText(say(doubt.statement))
        self.right.setVisible(doubt.kind is DoubtKind.AHEAD)
        self.last_wrong.setVisible(doubt.kind is DoubtKind.BEHIND)
        self.pin.hide()
        self.who.edit.setFocus()

    def take_scan(self, text: str) -> None:
        """A badge."""
        self.who.edit.setText(text)
        self._named()

    def _named(self) -> None:
        try:
            self._person()
        except FleetcareError as error:
            self._refuse(error)
        else:
            (self.pin if self.pin.isVisible() else self.true_at).edit.setFocus()

    def _person(self) -> Person:
        self.who.clear_refusal()
        person = find_person(self._app.store, self.who.text)
        with self._app.store.view() as view:
            self.pin.setVisible(view.pin_hash(person.code) is not None)
        return person

    def _answerer(self) -> Author:
        person = self._person()
        self._gate.check(person, self.pin.text)
        return Author(person, self._app.station)

    def _correct(self) -> None:
        try:
            author = self._answerer()
            done = self._clock.answer_corrected(author, self._typed(), last_was_wrong=self.last_wrong.isChecked())
        except FleetcareError as error:
            self._refuse(error)
            return
        self._done(author, done)

    def _is_right(self) -> None:
        try:
            author = self._answerer()
            done = self._clock.answer_right(author)
        except FleetcareError as error:
            self._refuse(error)
            return
        self._done(author, done)

    def _done(self, author: Author, done: Recorded) -> None:
        self._session.sign_in(author.person)
        self.answered.emit(say(done.message))

    def _typed(self) -> dt.datetime:
        """The typed time as the clock on the depot's wall shows it; the PC's own zone may be wrong too."""
        typed = self.true_at.text.strip()
        try:
            true = dt.datetime.strptime(typed, "%Y-%m-%d %H:%M")
        except ValueError:
            raise EntryRefused("clock.bad_time", field="true_at", typed=typed) from None
        with self._app.store.view() as view:
            zone = view.zone
        return true.replace(tzinfo=zone)

    def _refuse(self, error: FleetcareError) -> None:
        field = {"true_at": self.true_at, "pin": self.pin}.get(error.field)
        if field is None and error.message.key.startswith("sign."):
            field = self.who
        if field is not None:
            self.wrong.hide()
            field.refuse(error)
            field.edit.setFocus()
        else:
            self.wrong.setText(say(error.message))
            self.wrong.show()
