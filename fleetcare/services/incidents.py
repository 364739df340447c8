"""Incidents as they are read: which touch a thing, which entries were made after one, and what may not be changed.

The deeds are in `incident_deeds`; this module is read by histories, pages and the writer.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.incidents import Incident, IncidentClosed, IncidentOpened, IncidentWidened, Item
from fleetcare.domain.packs import Pack, PackStanding, Thing
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services.session import Clock
from fleetcare.store.store import Store, View

KINDS = ("incident_opened", "incident_widened", "incident_closed")


def all_incidents(view: View) -> tuple[Incident, ...]:
    """Every incident known at the view's position, oldest first."""
    found: dict[str, Incident] = {}
    for event in view.records_of("incident_opened"):
        body = event.body
        assert isinstance(body, IncidentOpened)
        items = tuple((cls, code, event.position) for cls, code in body.items)
        found[event.record_id] = Incident(
            event.record_id, body.code, body.what, body.where, event.done_at, event.entered_at, event.by, event.position,
            items, body.persons, body.others,
        )  # fmt: skip
    if not found:
        return ()
    for event in view.records_of("incident_widened"):
        more = event.body
        assert isinstance(more, IncidentWidened)
        known = found[more.incident]
        added = tuple((cls, code, event.position) for cls, code in more.items)
        found[more.incident] = replace(known, items=known.items + added)
    for event in view.records_of("incident_closed"):
        end = event.body
        assert isinstance(end, IncidentClosed)
        found[end.incident] = replace(
            found[end.incident], closed_at=end.done_at, closed_by=event.by, closed_reason=end.reason,
            closed_position=event.position,
        )  # fmt: skip
    return tuple(found.values())


def incidents_touching(view: View, subject: Item) -> tuple[Incident, ...]:
    """Incidents that name `subject` (class, code), open or closed, oldest first."""
    return tuple(one for one in all_incidents(view) if one.names(subject))


def made_after(incidents: Iterable[Incident], position: int, done_at: dt.datetime) -> Message | None:
    """The sentence that an entry was made after an incident, or None; of several the first speaks."""
    first = next((one for one in incidents if one.marks(position, done_at)), None)
    if first is None:
        return None
    key = "incident.entry_about_before" if done_at <= first.happened_at else "incident.entry_after"
    return msg(key, incident=first.code, happened_at=first.happened_at)


def incident_words(incidents: Iterable[Incident]) -> list[str]:
    """One sentence for each incident, for the page of a thing that it names."""
    return [
        say(msg("incident.on_page" if one.open else "incident.closed_on_page", incident=one.code,
                happened_at=one.happened_at))
        for one in incidents
    ]  # fmt: skip


def open_incident(view: View, subject: Item) -> Incident | None:
    """The first open incident that names `subject`, or None."""
    return next((one for one in incidents_touching(view, subject) if one.open), None)


def refuse_while_open(view: View, subjects: Iterable[Item], field: str = "") -> None:
    """Raises EntryRefused when the records of one of `subjects` are held by an open incident."""
    incidents = [one for one in all_incidents(view) if one.open]
    if not incidents:
        return
    for subject in subjects:
        for one in incidents:
            if one.names(subject):
                raise EntryRefused(
                    "incident.held", field=field, subject=subject[1], incident=one.code, happened_at=one.happened_at
                )


def refuse_identity_change(view: View, thing_class: str, before: Thing | None, after: Thing) -> None:
    """Raises EntryRefused when a thing under an open incident would be retired, written off or renamed in its marks.

    Notes and shelves may change, and that it was lost, stolen or recovered; who and what the thing is may not.
    """
    if not isinstance(before, Pack) or not isinstance(after, Pack):
        return
    kept = replace(after, shelf=before.shelf, note=before.note)
    missing = (PackStanding.LOST, PackStanding.STOLEN)
    if before.standing in missing or after.standing in missing:
        kept = replace(kept, standing=before.standing)
    same = kept == before
    if same:
        return
    field = "pack" if after.standing is not PackStanding.IN_SERVICE else "serial"
    refuse_while_open(view, [(thing_class, before.code)], field)


@dataclass(frozen=True, slots=True)
class IncidentLine:
    """One incident with names, and how many entries were made about its things since."""

    incident: Incident
    opened_by: str
    closed_by: str
    persons: tuple[str, ...]
    since: int


def incident_lines(store: Store, clock: Clock) -> tuple[IncidentLine, ...]:
    """Every incident, open ones first, the newest first among them."""
    with store.view() as view:
        names = view.person_names()
        lines = [
            IncidentLine(
                one, names.get(one.opened_by, one.opened_by), names.get(one.closed_by, one.closed_by),
                tuple(names.get(code, code) for code in one.persons), len(entries_since(view, one)),
            )
            for one in all_incidents(view)
        ]  # fmt: skip
        return tuple(sorted(lines, key=lambda line: (not line.incident.open, -line.incident.position)))


def entries_since(view: View, incident: Incident) -> tuple[int, ...]:
    """Positions of the entries about the incident's things that were made after it, in order."""
    found = set()
    for cls, code in incident.things:
        for event in view.events_of(cls, code):
            if event.kind not in KINDS and incident.marks(event.position, event.done_at):
                found.add(event.position)
        if cls == "pack":
            found |= {
                one.position for one in view.checks_of(code) if incident.marks(one.position, one.check.done_at)
            }  # fmt: skip
    return tuple(sorted(found))
