"""Water on packs and vehicles, and the packs that wait to be noted as dry."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from fleetcare.domain import water
from fleetcare.domain.checks import Hold
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Level, PackModel, PackStanding
from fleetcare.domain.water import Dried, Wetted
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.people import may
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, said
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredEvent


@dataclass(frozen=True, slots=True)
class Watered:
    """What water led to: the record, what is held now, and what comes next with its source."""

    recorded: Recorded
    held: tuple[Message, ...]
    steps: tuple[Message, ...]
    danger: bool


@dataclass(frozen=True, slots=True)
class WetLine:
    """A pack that came in wet or cold and was not noted as dry since."""

    pack: str
    vehicle: str | None
    wet: Wetted
    since: dt.datetime
    model: PackModel
    person: str
    """Who noted the water."""


def record_water(store: Store, clock: Clock, author: Author, wet: Wetted) -> Watered:
    """Keep how water came on a pack or a vehicle, and hold what the rule says.  Anyone may."""
    now = clock()
    with store.transaction() as tx:
        model: PackModel | None = None
        if wet.pack is not None:
            model = tx.thing("pack_model", known_pack(tx, wet.pack).model)
        if wet.vehicle is not None:
            known(tx, "vehicle", wet.vehicle)
        record.refuse_future(wet.done_at, now)
        writer = Writer(tx, author, now)
        wet_id = writer.add("wetted", wet, wet.done_at)
        held = []
        for subject_class, ruling in water.rulings(wet).items():
            place = wet.place if subject_class == "pack" else ""
            hold = Hold(subject_class, getattr(wet, subject_class), ruling.hold_class, wet.done_at, ruling.reason,
                        place=place, cause=wet_id)  # fmt: skip
            if hold_by_rule(tx, writer, ruling, hold):
                held.append(said(hold))
        done = writer.recorded(msg("water.kept", subject=wet.pack or wet.vehicle))
        return Watered(done, tuple(held), water.next_steps(wet, model), "pack" in water.rulings(wet))


def open_water(view: View, pack: str) -> Wetted | None:
    """The rain or dew after which nobody has noted the pack as dry, or None."""
    wet = [e.body for e in view.records_of("wetted", ("pack", pack))]
    dried = [e.body for e in view.records_of("dried", ("pack", pack))]
    return water.needs_drying(wet, dried) if wet else None  # type: ignore[arg-type]


def record_dried(store: Store, clock: Clock, author: Author, dried: Dried) -> Recorded:
    """Note that a pack is dry, at room temperature, and its contacts were looked at; needs the level that may check."""
    now = clock()
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        known_pack(tx, dried.pack)
        record.refuse_future(dried.done_at, now)
        if open_water(tx, dried.pack) is None:
            raise EntryRefused("water.not_wet", field="pack", pack=dried.pack)
        writer = Writer(tx, author, now)
        writer.add("dried", dried, dried.done_at)
        return writer.recorded(msg("water.dried", pack=dried.pack))


LISTED = 2_000
"""So many newest records of water are listed; whether a pack may be charged is asked of all of its own."""


def wet_lines(store: Store) -> tuple[WetLine, ...]:
    """Packs in service that wait to be noted as dry, the longest first."""
    with store.view() as view:
        names = view.person_names()
        wetted: dict[str, list[StoredEvent]] = defaultdict(list)
        dried: dict[str, list[Dried]] = defaultdict(list)
        for event in view.records_of("wetted", newest=LISTED):
            assert isinstance(event.body, Wetted)
            if event.body.pack is not None:
                wetted[event.body.pack].append(event)
        for event in view.records_of("dried", newest=LISTED):
            assert isinstance(event.body, Dried)
            dried[event.body.pack].append(event.body)
        lines = []
        for code, events in wetted.items():
            wet = water.needs_drying((one.body for one in events), dried[code])  # type: ignore[misc]
            pack = view.thing("pack", code) if wet is not None else None
            if wet is not None and pack is not None and pack.standing is PackStanding.IN_SERVICE:
                placed, model = view.placement_of(code), view.thing("pack_model", pack.model)
                by = next(one.by for one in events if one.body is wet)
                vehicle = placed.vehicle if placed else None
                lines.append(WetLine(code, vehicle, wet, wet.done_at, model, names.get(by, by)))
        return tuple(sorted(lines, key=lambda one: (one.since, one.pack)))
