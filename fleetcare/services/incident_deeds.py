"""Deeds of an incident: opening it, naming more things, closing it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.incidents import (
    ITEM_CLASSES,
    Incident,
    IncidentClosed,
    IncidentOpened,
    IncidentWidened,
    Item,
    code_for,
)
from fleetcare.domain.labels import normalise
from fleetcare.domain.packs import Role
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import msg
from fleetcare.services.incidents import all_incidents
from fleetcare.services.people import has_role
from fleetcare.services.record import refuse_future
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, own_badge
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View


def items_of(view: View, typed: str) -> tuple[Item, ...]:
    """The things named in `typed` (codes with commas or spaces between); EntryRefused for what is not on record."""
    found: list[Item] = []
    for part in typed.replace(",", " ").replace(";", " ").split():
        code = normalise(part)
        thing_class = next((cls for cls in ITEM_CLASSES if view.thing(cls, code) is not None), None)
        if thing_class is None:
            raise EntryRefused("incident.unknown_item", field="items", code=code)
        if (thing_class, code) not in found:
            found.append((thing_class, code))
    return tuple(found)


def persons_of(view: View, typed: str) -> tuple[str, ...]:
    """Codes of the colleagues named in `typed` by code, badge or name; EntryRefused for somebody unknown."""
    people = view.things("person").values()
    found = []
    for part in filter(None, (one.strip() for one in typed.replace(";", ",").split(","))):
        wanted = part.casefold()
        person = next((p for p in people if wanted in (p.code.casefold(), p.badge.casefold(), p.name.casefold())), None)
        if person is None:
            raise EntryRefused("incident.unknown_person", field="persons", typed=part)
        found.append(person.code)
    return tuple(dict.fromkeys(found))


def happened_at(view: View, typed: str, now: dt.datetime) -> dt.datetime:
    """When it happened: `typed` as the depot's clock showed it on that day (ISO 8601, with an offset: as written); "" is now.

    Of an hour that came twice it is the first.  EntryRefused beside "when" for what is no date and time.
    """
    if not typed.strip():
        return now
    try:
        at = dt.datetime.fromisoformat(typed.strip())
    except ValueError:
        raise EntryRefused("incidents.bad_when", field="when", typed=typed.strip()) from None
    return view.local(at if at.tzinfo is not None else at.replace(tzinfo=view.zone))


def next_code(view: View, year: int) -> str:
    """The code of the next incident."""
    return code_for(len(view.records_of("incident_opened")) + 1, year)


def open_incident(
    store: Store, clock: Clock, author: Author, opened: IncidentOpened, *, hold_items: bool = True
) -> Recorded:
    """Open an incident.  Anyone may; its code is given here, and the named things are held as well when asked."""
    now = clock()
    with store.transaction() as tx:
        refuse_future(opened.done_at, now)
        for cls, code in opened.items:
            if cls not in ITEM_CLASSES or tx.thing(cls, code) is None:
                raise EntryRefused("incident.unknown_item", field="items", code=code)
        opened = IncidentOpened(
            next_code(tx, opened.done_at.year), opened.what.strip(), opened.where.strip(), opened.done_at, opened.items,
            opened.persons, opened.others.strip(),
        )  # fmt: skip
        writer = Writer(tx, author, now)
        opened_id = writer.add("incident_opened", opened, opened.done_at)
        if hold_items:
            _hold(tx, writer, opened.code, opened.items, opened_id)
        return writer.recorded(msg("record.incident_opened", incident=opened.code, count=len(opened.items)))


def _hold(tx: Transaction, writer: Writer, code: str, items: Iterable[Item], cause: str) -> None:
    ruling = Ruling(HoldClass.UNKNOWN, msg("incident.hold", incident=code))
    for cls, subject in items:
        hold_by_rule(tx, writer, ruling, Hold(cls, subject, ruling.hold_class, writer.now, ruling.reason, cause=cause))


def widen_incident(
    store: Store, clock: Clock, author: Author, code: str, items: tuple[Item, ...], reason: str
) -> Recorded:
    """Name more things of an open incident; anyone may, with a reason."""
    now = clock()
    if not reason.strip():
        raise EntryRefused("incident.needs_reason", field="reason")
    with store.transaction() as tx:
        one = _open(tx, code)
        fresh = tuple(item for item in items if not one.names(item))
        if not fresh:
            raise EntryRefused("incident.needs_items", field="items")
        writer = Writer(tx, author, now)
        made = writer.add("incident_widened", IncidentWidened(one.record_id, one.code, fresh, reason.strip(), now), now)
        _hold(tx, writer, one.code, fresh, made)
        return writer.recorded(msg("record.incident_widened", incident=one.code, count=len(fresh)))


def close_incident(store: Store, clock: Clock, author: Author, code: str, reason: str, badge: str) -> Recorded:
    """End the hold on the records.  Only a manager may, with a reason and the own badge or PIN."""
    now = clock()
    with store.transaction() as tx:
        one = _open(tx, code)
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("incident.manager_only", person=author.person.name)
        if not reason.strip():
            raise EntryRefused("incident.needs_reason", field="reason")
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        body = IncidentClosed(one.record_id, one.code, one.things, reason.strip(), now)
        writer.add("incident_closed", body, now)
        return writer.recorded(msg("record.incident_closed", incident=one.code))


def _open(view: View, code: str) -> Incident:
    wanted = normalise(code)
    one = next((one for one in all_incidents(view) if one.code == wanted), None)
    if one is None:
        raise EntryRefused("incident.unknown", field="incident", incident=wanted)
    if not one.open:
        raise EntryRefused("incident.closed_already", field="incident", incident=wanted, closed_at=one.closed_at)
    return one
