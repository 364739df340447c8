"""Absences and vehicles away: recorded, taken back, and read as they stand."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Role
from fleetcare.domain.wording import msg
from fleetcare.services.facts import vehicles_away
from fleetcare.services.people import has_role, level_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View


def record_absence(store: Store, clock: Clock, author: Author, absence: Absence) -> Recorded:
    """Note that somebody, or with person "" a whole depot, does no checks on some days, or take that back.

    Everybody may note their own absence; a manager, a dispatcher or somebody who may release notes anybody's.
    """
    now = clock()
    with store.transaction() as tx:
        if absence.person:
            known(tx, "person", absence.person)
        else:
            known(tx, "depot", absence.depot)
        if absence.person != author.person.code:
            _may_plan(tx, author, now)
        if not absence.withdrawn and not absence.reason.strip():
            raise EntryRefused("absence.needs_reason", field="reason")
        if absence.withdrawn and absence.identity not in {one.identity for one in absences(tx)}:
            raise EntryRefused("absence.nothing", field="from_date", from_date=absence.from_date)
        writer = Writer(tx, author, now)
        writer.add("absence", absence, absence.done_at)
        who = tx.person_names().get(absence.person, absence.person) or tx.thing("depot", absence.depot).name
        key = "absence.withdrawn" if absence.withdrawn else "absence.saved"
        if key == "absence.saved" and absence.from_date == absence.to_date:
            key = "absence.saved_day"
        return writer.recorded(msg(key, who=who, from_date=absence.from_date, to_date=absence.to_date))


def record_away(store: Store, clock: Clock, author: Author, away: Away) -> Recorded:
    """Note that a vehicle is away with its packs until a day, or take that back."""
    now = clock()
    with store.transaction() as tx:
        known(tx, "vehicle", away.vehicle)
        _may_plan(tx, author, now)
        if not away.withdrawn and not away.reason.strip():
            raise EntryRefused("absence.needs_reason", field="reason")
        if away.withdrawn and away.identity not in {one.identity for one in vehicles_away(tx)}:
            raise EntryRefused("absence.nothing", field="from_date", from_date=away.from_date)
        writer = Writer(tx, author, now)
        writer.add("away", away, away.done_at)
        key = "away.withdrawn" if away.withdrawn else "away.saved"
        return writer.recorded(
            msg(key, vehicle=away.vehicle, from_date=away.from_date, back_date=away.back_date)
        )  # fmt: skip


def _may_plan(tx: View, author: Author, now: dt.datetime) -> None:
    allowed = has_role(tx, author, Role.MANAGER) or has_role(tx, author, Role.DISPATCHER)
    if not allowed and not level_of(tx, author, now).covers(Level.MAY_RELEASE):
        raise NotAllowed("absence.not_yours", person=author.person.name)


def absences(view: View) -> list[Absence]:
    """Absences as they stand, withdrawn ones left out."""
    newest: dict[tuple[str, str, dt.date], Absence] = {}
    for event in view.records_of("absence"):
        assert isinstance(event.body, Absence)
        newest[event.body.identity] = event.body
    return [one for one in newest.values() if not one.withdrawn]
