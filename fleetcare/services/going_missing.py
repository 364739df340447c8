"""Packs and vehicles that are lost or stolen, what is known of them, and their return."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from fleetcare.domain import away
from fleetcare.domain.away import Missing, MissingNoted, Recovered, WentMissing
from fleetcare.domain.checks import FoundIn, Hold
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import AWAY, Pack, PackStanding, Vehicle, VehicleStanding
from fleetcare.domain.wording import msg
from fleetcare.services import record
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View

_GONE = (PackStanding.LOST, PackStanding.STOLEN)
_VEHICLE_GONE = (VehicleStanding.LOST, VehicleStanding.STOLEN)


@dataclass(frozen=True, slots=True)
class MissingLine:
    """One lost or stolen thing with everything noted about it."""

    subject_class: str
    code: str
    standing: str
    since: dt.datetime
    days: int
    last_place: str
    police: tuple[str, ...]
    insurer: tuple[str, ...]
    remarks: tuple[str, ...]
    person: str
    """Who put it on record as missing; what was noted later stands in its history with who did."""


def record_missing(store: Store, clock: Clock, author: Author, gone: WentMissing) -> Recorded:
    """Put a pack or a vehicle on record as lost or stolen.  Anyone may.  A vehicle's packs go with it."""
    now = clock()
    with store.transaction() as tx:
        record.refuse_future(gone.done_at, now)
        writer = Writer(tx, author, now)
        also: tuple[str, ...] = ()
        if gone.vehicle is not None and gone.pack is None:
            vehicle: Vehicle = known(tx, "vehicle", gone.vehicle)
            if vehicle.standing in _VEHICLE_GONE:
                raise _already(gone.vehicle, f"vehicle_standing.{vehicle.standing.value}")
            also = tuple(code for code, _bay in tx.packs_in(gone.vehicle) if _may_go(tx.thing("pack", code)))
            writer.add("went_missing", gone, gone.done_at)
            writer.add_thing("vehicle", replace(vehicle, standing=VehicleStanding(gone.kind.value)))
            for code in also:
                _lose(tx, writer, replace(gone, pack=code, vehicle=None), tx.thing("pack", code))
        elif gone.pack is not None and gone.vehicle is None:
            pack: Pack = known(tx, "pack", gone.pack)
            if pack.standing in _GONE:
                raise _already(gone.pack, f"standing.{pack.standing.value}")
            if not _may_go(pack):
                raise EntryRefused(f"entry.{pack.standing.value}", field="pack", pack=gone.pack)
            _lose(tx, writer, gone, pack)
            writer.move(FoundIn(gone.pack, None, gone.done_at))
        else:
            raise EntryRefused("away.one_only" if gone.pack else "away.needs_subject", field="subject")
        subject = gone.pack or gone.vehicle
        told = msg("away.also", packs=also) if also else ""
        return writer.recorded(msg("away.gone", code=subject, kind=msg(f"missing.{gone.kind.value}"), also=told))


def _already(code: str, standing: str) -> EntryRefused:
    return EntryRefused("away.already", field="subject", code=code, standing=msg(standing))


def _may_go(pack: Pack) -> bool:
    return pack.standing is PackStanding.IN_SERVICE or pack.standing in AWAY


def _lose(tx: Transaction, writer: Writer, gone: WentMissing, pack: Pack) -> None:
    writer.add("went_missing", gone, gone.done_at)
    writer.add_thing("pack", replace(pack, standing=PackStanding(gone.kind.value)))


def note_missing(store: Store, clock: Clock, author: Author, noted: MissingNoted) -> Recorded:
    """Add a police or insurer's reference, or what became known, about something missing.  Anyone may."""
    now = clock()
    if not (noted.police.strip() or noted.insurer.strip() or noted.remark.strip()):
        raise EntryRefused("away.nothing_noted", field="police")
    with store.transaction() as tx:
        _gone_thing(tx, noted.pack, noted.vehicle)
        writer = Writer(tx, author, now)
        writer.add("missing_noted", noted, noted.done_at)
        return writer.recorded(msg("away.noted", code=noted.pack or noted.vehicle))


def _gone_thing(view: View, pack: str | None, vehicle: str | None) -> Pack | Vehicle:
    thing: Pack | Vehicle = known(view, "pack", pack) if pack else known(view, "vehicle", vehicle or "")
    gone = thing.standing in _GONE if isinstance(thing, Pack) else thing.standing in _VEHICLE_GONE
    if not gone:
        raise EntryRefused("away.not_missing", field="subject", code=thing.code)
    return thing


def record_recovered(store: Store, clock: Clock, author: Author, back: Recovered) -> Recorded:
    """A missing thing is back: its history is unknown, so that it is held until somebody has inspected it.  Anyone may.

    Packs that were in a vehicle stay missing until each is recovered by itself.
    """
    now = clock()
    if not back.place.strip():
        raise EntryRefused("away.needs_place", field="place")
    with store.transaction() as tx:
        thing = _gone_thing(tx, back.pack, back.vehicle)
        record.refuse_future(back.done_at, now)
        subject_class = "pack" if isinstance(thing, Pack) else "vehicle"
        since = _since(tx, subject_class, thing.code)
        writer = Writer(tx, author, now)
        back_id = writer.add("recovered", back, back.done_at)
        left: tuple[str, ...] = ()
        if isinstance(thing, Pack):
            writer.add_thing("pack", replace(thing, standing=PackStanding.IN_SERVICE))
            writer.move(FoundIn(thing.code, None, back.done_at, shelf=back.place.strip()))
        else:
            writer.add_thing("vehicle", replace(thing, standing=VehicleStanding.IN_FLEET, bay_place=back.place.strip()))
            left = tuple(c for c, _ in tx.packs_in(thing.code) if tx.thing("pack", c).standing in _GONE)
            for code in left:
                writer.move(FoundIn(code, None, back.done_at))
        ruling = away.recovered_ruling(replace(back, done_at=tx.local(back.done_at)), since)
        hold = Hold(subject_class, thing.code, ruling.hold_class, back.done_at, ruling.reason, place=back.place.strip(),
                    cause=back_id)  # fmt: skip
        hold_by_rule(tx, writer, ruling, hold)
        told = msg("away.still_gone", packs=left) if left else ""
        return writer.recorded(msg("away.recovered", code=thing.code, also=told))


def _since(view: View, subject_class: str, code: str) -> dt.datetime | None:
    events = view.records_of("went_missing", (subject_class, code))
    return events[-1].done_at if events else None


def missing_lines(view: View, now: dt.datetime) -> tuple[MissingLine, ...]:
    """Everything lost or stolen, the newest first, vehicles before their packs."""
    lines, names = [], view.person_names()
    bodies: list[WentMissing] = [e.body for e in view.records_of("went_missing")]  # type: ignore[misc]
    ever = {("vehicle", b.vehicle) if b.pack is None else ("pack", b.pack) for b in bodies}
    for subject_class, code in ever:
        thing: Vehicle | Pack = view.thing(subject_class, code or "")
        if thing.standing.value not in (one.value for one in Missing):
            continue
        events = view.records_of("went_missing", (subject_class, thing.code))
        if not events:
            continue
        first: WentMissing = events[-1].body  # type: ignore[assignment]
        noted = [
            e.body
            for e in view.records_of("missing_noted", (subject_class, thing.code))
            if e.position > events[-1].position
        ]
        every = [first, *noted]
        lines.append(
            MissingLine(
                subject_class, thing.code, thing.standing.value, first.done_at, (view.day(now) - view.day(first.done_at)).days,
                first.last_place, *(tuple(getattr(one, name) for one in every if getattr(one, name)) for name in
                                    ("police", "insurer", "remark")),
                names.get(events[-1].by, events[-1].by),
            )
        )  # fmt: skip
    return tuple(sorted(lines, key=lambda one: (-one.since.timestamp(), one.subject_class != "vehicle", one.code)))
