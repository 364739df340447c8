"""Where packs are: the to-find list, windows of doubt, and which pack was in a vehicle on a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.domain.checks import FoundIn, LookOver
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.whereabouts import (
    DayAnswer,
    Sighting,
    Sureness,
    Window,
    in_vehicle_on,
    windows_of_doubt,
)
from fleetcare.domain.wording import Message, msg
from fleetcare.services.session import Clock
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredCheck, StoredEvent


@dataclass(frozen=True, slots=True)
class ToFind:
    """A pack in service that nobody knows the place of; `last_at` and `last_place` are its last sighting."""

    pack: str
    model_name: str
    serial: str
    last_place: Message
    last_at: dt.datetime | None
    since: dt.datetime | None


def sightings_of(
    view: View, pack: str, events: Sequence[StoredEvent] | None = None, checks: Sequence[StoredCheck] | None = None
) -> tuple[Sighting, ...]:
    """Everything that says where one pack was: noted finds, checks and inspections in a vehicle.

    A pack found in its bay says that this one was no longer there; corrected checks say nothing.
    `events` and `checks` of the pack are read unless they are at hand.
    """
    known = []
    for event in view.events_of("pack", pack) if events is None else events:
        body = event.body
        if isinstance(body, FoundIn):
            here = body.vehicle if body.pack == pack else None
            known.append(Sighting(pack, here, event.done_at, event.position, event.record_id))
        elif isinstance(body, LookOver) and body.vehicle is not None:
            known.append(Sighting(pack, body.vehicle, event.done_at, event.position, event.record_id))
    for stored in view.checks_of(pack) if checks is None else checks:
        if stored.void_position is None and stored.check.vehicle is not None:
            check = stored.check
            known.append(Sighting(pack, check.vehicle, check.done_at, stored.position, stored.record_id))
    return tuple(known)


def on_day(store: Store, clock: Clock, vehicle: str, day: dt.date) -> DayAnswer:
    """Which pack was in `vehicle` on `day` of the depot; EntryRefused for a day to come.

    The answer names packs that were found in it, those that may have been, and "or unknown".
    """
    with store.view() as view:
        thing = view.thing("vehicle", vehicle)
        if thing is None:
            raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=vehicle)
        today = view.day(clock())
        if day > today:
            raise EntryRefused("day.to_come", field="day", asked_date=day, today_date=today)
        start = dt.datetime.combine(day, dt.time(), view.zone)
        end = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), view.zone)
        packs = {
            body.pack
            for event in view.events_of("vehicle", vehicle)
            if isinstance(body := event.body, FoundIn | LookOver) and body.vehicle == vehicle
        } | set(view.packs_checked_in(vehicle))
        known = {pack: sightings_of(view, pack) for pack in packs}
    return in_vehicle_on(known, vehicle, thing.bays, start, end)


def answer_words(answer: DayAnswer) -> tuple[Message, ...]:
    """The answer in sentences: the one that counts first, then what each pack rests on."""
    names = tuple(one.pack for one in answer.candidates)
    if not answer.candidates:
        lead = msg("day.nothing", vehicle=answer.vehicle, on_date=answer.day)
    elif answer.seen and not answer.unknown:
        lead = msg("day.seen", vehicle=answer.vehicle, on_date=answer.day, packs=answer.seen)
    else:
        lead = msg("day.or_unknown", vehicle=answer.vehicle, on_date=answer.day, packs=names)
    keys = {
        Sureness.SEEN: "day.was_seen",
        Sureness.BETWEEN: "day.was_between",
        Sureness.BEFORE: "day.was_before",
        Sureness.AFTER: "day.was_after",
    }
    return (
        lead,
        *(
            msg(keys[one.sureness], pack=one.pack, before_at=one.before, after_at=one.after)
            for one in answer.candidates
        ),
    )


def windows_of(store: Store, pack: str) -> tuple[Window, ...]:
    """The windows of doubt of one pack, oldest first."""
    with store.view() as view:
        return windows_of_doubt(sightings_of(view, pack))


def windows_by_record(
    view: View, pack: str, events: Sequence[StoredEvent], checks: Sequence[StoredCheck] | None
) -> dict[str, Window]:
    """The windows of doubt of one pack, by the record id of the find that closed each."""
    return {window.record_id: window for window in windows_of_doubt(sightings_of(view, pack, events, checks))}


def to_find(store: Store) -> tuple[ToFind, ...]:
    """Packs in service whose place nobody knows, those missed longest first."""
    lines = []
    with store.view() as view:
        placements = view.placements()
        models = view.things("pack_model")
        for code, pack in view.things("pack").items():
            if pack.standing is not PackStanding.IN_SERVICE:
                continue
            placed = placements.get(code)
            if (placed is None and pack.shelf) or (placed is not None and (placed.vehicle or placed.shelf)):
                continue
            seen = [s for s in sightings_of(view, code) if s.vehicle is not None]
            last = max(seen, key=lambda s: (s.at, s.position), default=None)
            place = msg("find.never") if last is None else msg("find.last_in", vehicle=last.vehicle)
            lines.append(
                ToFind(
                    code, models[pack.model].name, pack.serial, place, last.at if last else None,
                    placed.since if placed else None,
                )
            )  # fmt: skip
    epoch = dt.datetime.min.replace(tzinfo=dt.UTC)
    return tuple(sorted(lines, key=lambda one: (one.since or epoch, one.pack)))
