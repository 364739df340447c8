"""Sign in by badge or by name, and the bench conditions of the shift."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Level, Meter, Person, TestLoad
from fleetcare.domain.units import parse_celsius
from fleetcare.domain.wording import msg, say, word
from fleetcare.services.people import PinGate, find_person
from fleetcare.services.summary import meter_state
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.empty_notice import EmptyNotice


class SignIn(QWidget):
    """One field: a badge or a name, and Enter."""

    def __init__(self, app: App, session: Session) -> None:
        super().__init__()
        self._app = app
        self._session = session
        card = Card()
        card.column.addWidget(words(word("sign.heading"), size=1.8, bold=True))
        card.column.addWidget(words(word("sign.hint"), quiet=True))
        self.name = Field(word("sign.name"))
        self.name.edit.setProperty(SCAN_FIELD, True)
        self.name.edit.setMinimumHeight(48)
        self.name.edit.returnPressed.connect(self._try)
        card.column.addWidget(self.name)
        self._gate = PinGate(app.store, app.clock)
        self._named: Person | None = None
        self.pin = Field(word("sign.pin"))
        self.pin.edit.setEchoMode(QLineEdit.EchoMode.Password)
        self.pin.edit.setProperty(SCAN_FIELD, True)
        self.pin.edit.setMinimumHeight(48)
        self.pin.edit.returnPressed.connect(self._try_pin)
        self.pin.hide()
        card.column.addWidget(self.pin)
        self.notice = words(quiet=True)
        card.column.addWidget(self.notice)
        self.name.edit.textEdited.connect(self._unnamed)
        session.pin_asked.connect(self.ask_pin)
        across = QHBoxLayout()
        for part, stretch in ((None, 2), (card, 3), (None, 2)):
            across.addStretch(stretch) if part is None else across.addWidget(part, stretch)
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        outer.addLayout(across)
        outer.addStretch(3)

    def showEvent(self, event: object) -> None:
        """Qt's hook: known names for completion."""
        completer = QCompleter([person.name for person in self._people()], self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.name.edit.setCompleter(completer)
        super().showEvent(event)  # type: ignore[arg-type]

    def _people(self) -> list[Person]:
        with self._app.store.view() as view:
            return sorted(view.things("person").values(), key=lambda p: p.name)

    def _try(self) -> None:
        try:
            self._session.arrive(find_person(self._app.store, self.name.text))
        except EntryRefused as error:
            self.name.refuse(error)
        else:
            if self._session.person is not None:
                self.name.clear()

    def ask_pin(self, person: Person) -> None:
        """A person with a PIN was named: ask for it."""
        self._named = person
        self.name.edit.setText(person.name)
        self.name.clear_refusal()
        self.pin.clear()
        self.pin.show()
        self.pin.edit.setFocus()

    def _unnamed(self, _text: str) -> None:
        self._named = None
        self.pin.clear()
        self.pin.hide()

    def _try_pin(self) -> None:
        if self._named is None:
            return
        try:
            self._gate.check(self._named, self.pin.text)
        except EntryRefused as error:
            self.pin.edit.clear()
            self.pin.refuse(error)
            return
        person = self._named
        self._unnamed("")
        self.name.clear()
        self._session.sign_in(person)


class Conditions(QWidget):
    """Meter, test load and bench temperature, once per shift."""

    chosen = Signal()
    elsewhere = Signal(str)
    """Somebody who may not check goes to another screen."""

    def __init__(self, app: App, session: Session) -> None:
        super().__init__()
        self._app = app
        self._session = session
        self.meter = _choice(word("bench.meter"))
        self.load = _choice(word("bench.load"))
        self.temperature = Field(word("bench.temperature"), word("bench.temperature_hint"))
        self.temperature.edit.setMaximumWidth(max(140, self.temperature.edit.fontMetrics().averageCharWidth() * 12))
        self.temperature.edit.returnPressed.connect(self._use)
        use = QPushButton(word("bench.set"))
        use.setMinimumHeight(48)
        use.clicked.connect(self._use)
        card = Card()
        self.may_not = Card()
        self.why_not = words(size=1.15, bold=True)
        self.may_not.column.addWidget(self.why_not)
        ways = QHBoxLayout()
        for screen in ("board", "overview"):
            way = QPushButton(word(f"window.{screen}"))
            way.setMinimumHeight(44)
            way.clicked.connect(lambda _on=False, to=screen: self.elsewhere.emit(to))
            ways.addWidget(way)
        self.may_not.column.addLayout(ways)
        self.may_not.setMaximumWidth(max(720, card.fontMetrics().averageCharWidth() * 64))
        self.may_not.hide()
        card.column.addWidget(words(word("bench.conditions"), size=1.6, bold=True))
        grid = QGridLayout()
        grid.setVerticalSpacing(10)
        for row, (key, box) in enumerate((("bench.meter", self.meter), ("bench.load", self.load))):
            label = QLabel(word(key))
            label.setBuddy(box)
            grid.addWidget(label, row, 0)
            grid.addWidget(box, row, 1)
        grid.setColumnStretch(1, 1)
        card.column.addLayout(grid)
        card.column.addWidget(self.temperature)
        card.column.addWidget(use)
        card.setMinimumWidth(560)
        card.setMaximumWidth(max(720, card.fontMetrics().averageCharWidth() * 64))
        self.empty = EmptyNotice(app, word("bench.no_meter"))
        self.empty.hide()
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        for shown, share in ((self.empty, 3), (self.may_not, 100), (card, 100)):
            across = QHBoxLayout()
            for part, stretch in ((None, 2), (shown, share), (None, 2)):
                across.addStretch(stretch) if part is None else across.addWidget(part, stretch)
            outer.addLayout(across)
        outer.addStretch(3)

    def fill(self) -> None:
        """Offer the meters that are not refused, and the loads; the current choice stays chosen."""
        today = self._app.clock().date()
        with self._app.store.view() as view:
            meters: list[Meter] = [
                m for m in view.things("meter").values() if m.refused_from is None or m.refused_from > today
            ]
            loads: list[TestLoad] = list(view.things("test_load").values())
        self.meter.clear()
        for meter in sorted(meters, key=lambda m: m.code):
            line = msg("bench.meter_line", code=meter.code, name=meter.name, state=meter_state(meter, today))
            self.meter.addItem(say(line), meter)
        self.load.clear()
        for load in sorted(loads, key=lambda one: one.code):
            text = say(msg("bench.load_line", code=load.code, load_a=load.load_a, hold_seconds=load.hold_s))
            self.load.addItem(text, load)
        self.load.addItem(word("bench.no_load"), None)
        for box, kept in ((self.meter, self._session.meter), (self.load, self._session.load)):
            for number in range(box.count()):
                if kept is not None and box.itemData(number) == kept:
                    box.setCurrentIndex(number)
        person = self._session.person
        level = person.level_on(today) if person is not None else Level.MAY_CHECK
        self.may_not.setVisible(not level.covers(Level.MAY_CHECK))
        if person is not None:
            held = msg(f"level.{level.value}")
            self.why_not.setText(say(msg("bench.may_not_check", person=person.name, level=held)))
        if not meters:
            self.empty.refresh()
        self.empty.setVisible(not meters)
        self.temperature.edit.setFocus()

    def _use(self) -> None:
        typed = self.temperature.text.strip()
        try:
            bench_c = None if typed.lower().startswith("u") else parse_celsius(typed, field="bench_c")
        except EntryRefused as error:
            self.temperature.refuse(error)
            return
        if self.meter.currentData() is None:
            self.temperature.refuse(EntryRefused("bench.no_meter"))
            return
        self._session.set_bench(self.meter.currentData(), self.load.currentData(), bench_c)
        self.chosen.emit()


def _choice(name: str) -> QComboBox:
    box = QComboBox()
    box.setAccessibleName(name)
    box.setMinimumHeight(max(44, box.sizeHint().height()))
    return box
