"""Who is signed in at this window, and the bench conditions chosen for the shift."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from PySide6.QtCore import QObject, Signal

from fleetcare.app import App
from fleetcare.domain.packs import Meter, Person, TestLoad
from fleetcare.domain.wording import msg, say, show_value
from fleetcare.services import people
from fleetcare.services.clock import source_now
from fleetcare.services.session import Author
from fleetcare.services.summary import meter_state


class Session(QObject):
    """Changes are announced, so that every screen shows the same person and conditions."""

    person_changed = Signal()
    pin_asked = Signal(object)
    """A person who signs in with a PIN was named, by badge or by name."""

    bench_changed = Signal()

    def __init__(self, app: App, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._app = app
        self.locked: Person | None = None
        self.person: Person | None = None
        self.meter: Meter | None = None
        self.load: TestLoad | None = None
        self.bench_c: Decimal | None = None
        self.bench_known = False

    @property
    def bench_ready(self) -> bool:
        """True once the meter is chosen and the temperature typed or said to be unknown."""
        return self.meter is not None and self.bench_known

    def arrive(self, person: Person) -> None:
        """Somebody named themselves: signed in at once, or asked for the PIN first."""
        if people.has_pin(self._app.store, person.code):
            self.sign_in(None)
            self.pin_asked.emit(person)
        else:
            self.sign_in(person)

    def sign_in(self, person: Person | None) -> None:
        """Somebody signs in (None: nobody)."""
        self.locked = None
        self.person = person
        self.person_changed.emit()

    def lock(self) -> None:
        """Nobody was at the keys for a while: sign in again; what was typed stays."""
        if self.person is not None:
            gone = self.person
            self.person = None
            self.locked = gone
            self.person_changed.emit()

    def set_bench(self, meter: Meter, load: TestLoad | None, bench_c: Decimal | None) -> None:
        """The conditions of the shift."""
        self.meter, self.load, self.bench_c, self.bench_known = meter, load, bench_c, True
        self.bench_changed.emit()

    def leave_refused_meter(self) -> None:
        """When the chosen meter was found out, the conditions of the shift are asked for again."""
        if self.meter is None:
            return
        with self._app.store.view() as view:
            meter: Meter | None = view.thing("meter", self.meter.code)
        if meter is None or meter.refused_from is not None:
            self.meter, self.bench_known = None, False
            self.bench_changed.emit()

    def author(self, seen_position: int | None) -> Author | None:
        """The signed-in person as the author of a deed, or None."""
        if self.person is None:
            return None
        return Author(self.person, self._app.station, source_now(self._app.clock), seen_position)


def condition_line(session: Session, today: dt.date) -> str:
    """Meter, load and bench temperature of this shift."""
    meter, load = session.meter, session.load
    assert meter is not None
    return say(
        msg(
            "bench.condition_line",
            meter=msg("bench.meter_line", code=meter.code, name=meter.name, state=meter_state(meter, today)),
            load=msg("bench.load_line", code=load.code, load_a=load.load_a, hold_seconds=load.hold_s)
            if load
            else msg("bench.no_load"),
            temperature=show_value("bench_c", session.bench_c)
            if session.bench_c is not None
            else msg("bench.unknown_temperature"),
        )
    )
