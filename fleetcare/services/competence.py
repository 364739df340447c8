"""Training and levels of people, the matrix of both, and contractors with their meters."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from fleetcare.domain.competence import RunsOut, State, meter_counts, runs_out, state_of
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.labels import is_code, normalise
from fleetcare.domain.packs import Level, Meter, Person, Role, Training
from fleetcare.domain.wording import Message, msg
from fleetcare.services import doubting
from fleetcare.services.people import has_role, person_on_record, refuse_stale
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

ITEMS = ("Bench check and meter", "Reset and release", "Fuse work", "Quarantine and fire alarm", "Safe handling")
"""Offered while a fleet has no items of its own (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One training of one person, or (`training` None) that it was never recorded."""

    training: Training | None
    state: State | None


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One person: the level as granted, the level today, and the trainings in the order of the matrix's items."""

    person: Person
    level: Level
    level_state: State
    cells: tuple[Cell, ...]
    next_end: RunsOut | None

    @property
    def expired(self) -> bool:
        """True when the person may do less today than was granted."""
        return self.level is not self.person.level


@dataclass(frozen=True, slots=True)
class ContractorMeter:
    """A contractor's meter and whether it may be used today, with the reason."""

    meter: Meter
    usable: bool
    why: Message


@dataclass(frozen=True, slots=True)
class Matrix:
    """People against training items, with what has run out or runs out soon first."""

    items: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    meters: tuple[ContractorMeter, ...]
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool

    @property
    def soon(self) -> tuple[MatrixRow, ...]:
        """People of whom something has run out or does within the days that count as soon."""
        return tuple(
            row
            for row in self.rows
            if row.level_state in (State.SOON, State.EXPIRED)
            or any(cell.state in (State.SOON, State.EXPIRED) for cell in row.cells)
        )


def matrix(store: Store, clock: Clock, position: int | None = None) -> Matrix:
    """The matrix on today's date, as known at `position`."""
    now = clock()
    today = now.date()
    with store.view(position) as view:
        people: list[Person] = sorted(view.people().values(), key=lambda p: (p.firm, p.name))
        items = tuple(sorted({one.item for person in people for one in person.current_trainings()}))
        rows = tuple(_row(person, items, today) for person in people)
        meters = tuple(_meter(view, one, now) for one in view.things("meter").values() if one.owner)
        return Matrix(items, rows, meters, now, view.position, view.head().root_hex, store.fleet_name, store.demo)


def _row(person: Person, items: tuple[str, ...], today: dt.date) -> MatrixRow:
    trained = {one.item: one for one in person.current_trainings()}
    cells = tuple(
        Cell(one, state_of(one.expires_on, today)) if (one := trained.get(item)) is not None else Cell(None, None)
        for item in items
    )
    level_state = state_of(person.level_until, today) if person.level is not Level.NONE else State.NO_END
    return MatrixRow(person, person.level_on(today), level_state, cells, runs_out(person, today))


def _meter(view: View, meter: Meter, now: dt.datetime) -> ContractorMeter:
    good = doubting.last_good(view, meter, now)
    usable = meter_counts(meter, now.date(), good)
    if meter.calibration_due is not None and now.date() < meter.calibration_due:
        return ContractorMeter(meter, usable, msg("competence.meter_calibrated", due_date=meter.calibration_due))
    key = "competence.meter_proved" if usable else "competence.meter_refused"
    return ContractorMeter(meter, usable, msg(key, good_at=good) if usable else msg(key))


def record_training(store: Store, clock: Clock, author: Author, person: str, training: Training) -> Recorded:
    """Record a training of somebody.  Only a manager may, and nobody their own."""
    now = clock()
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("people.manager_only", person=author.person.name)
        known = person_on_record(tx, person)
        if person == author.person.code:
            raise NotAllowed("competence.own", field="person", person=known.name)
        if not training.item.strip():
            raise EntryRefused("competence.needs_item", field="item")
        if training.done_on > now.date():
            raise EntryRefused("competence.future", field="done_on", done_date=training.done_on)
        if training.expires_on is not None and training.expires_on <= training.done_on:
            raise EntryRefused("competence.ends_first", field="expires_on", done_date=training.done_on)
        refuse_stale(tx, author, "person", person)
        kept = replace(training, item=training.item.strip(), reference=training.reference.strip())
        changed = replace(known, trainings=(*known.trainings, kept))
        writer = Writer(tx, author, now)
        writer.add_thing("person", changed)
        return writer.recorded(msg("record.training", person=known.name, item=kept.item))


def put_contractor_meter(store: Store, clock: Clock, author: Author, meter: Meter) -> Recorded:
    """Put a contractor's own meter on record; a manager or somebody who may release may.

    It is refused at the bench until its calibration is in date or it was proved good here.
    """
    from fleetcare.services.people import level_of

    now = clock()
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER) and not level_of(tx, author, now).covers(Level.MAY_RELEASE):
            raise NotAllowed("competence.meter_allow", person=author.person.name)
        code = normalise(meter.code)
        if not is_code(code):
            raise EntryRefused("competence.meter_code", field="meter", typed=meter.code)
        if not meter.owner.strip():
            raise EntryRefused("competence.needs_firm", field="owner")
        if meter.accuracy_percent <= 0 or meter.digit_v <= 0 or meter.accuracy_digits < 0:
            raise EntryRefused("competence.meter_accuracy", field="accuracy")
        before: Meter | None = tx.thing("meter", code)
        if before is not None and not before.owner:
            raise EntryRefused("competence.meter_ours", field="meter", code=code)
        refuse_stale(tx, author, "meter", code)
        writer = Writer(tx, author, now)
        refused = None if before is None else before.refused_from
        writer.add_thing("meter", replace(meter, code=code, owner=meter.owner.strip(), refused_from=refused))
        return writer.recorded(msg("record.contractor_meter", meter=code, firm=meter.owner.strip()))
