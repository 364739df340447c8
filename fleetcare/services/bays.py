"""Bays of vehicles: covers of empty ones, packs that cannot be taken out, and the maker's pairing rule."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, replace

from fleetcare.domain.bays import BayCover, PackStuck, Stuck
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PackModel, PairRule, ServiceNotes, Vehicle, VehicleStanding
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.people import refuse_unless_allowed
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known, known_pack
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store


@dataclass(frozen=True, slots=True)
class EmptyBay:
    """An empty bay of a vehicle that has more than one; `covered` is None where nobody noted it."""

    vehicle: str
    bay: int
    covered: bool | None
    noted_at: dt.datetime | None


def record_cover(store: Store, clock: Clock, author: Author, cover: BayCover) -> Recorded:
    """Note that an empty bay is covered, or that its cover is missing.  Anyone may."""
    now = clock()
    with store.transaction() as tx:
        vehicle: Vehicle = known(tx, "vehicle", cover.vehicle)
        if not 1 <= cover.bay <= vehicle.bays:
            raise EntryRefused("bay.no_such", field="bay", vehicle=vehicle.code, bays=vehicle.bays, bay=cover.bay)
        inside = next((pack for pack, bay in tx.packs_in(vehicle.code) if bay == cover.bay), None)
        if inside is not None:
            raise EntryRefused("bay.not_empty", field="bay", pack=inside, bay=cover.bay, vehicle=vehicle.code)
        record.refuse_future(cover.done_at, now)
        writer = Writer(tx, author, now)
        writer.add("bay_cover", cover, cover.done_at)
        key = "bay.kept_covered" if cover.covered else "bay.kept_open"
        return writer.recorded(msg(key, vehicle=vehicle.code, bay=cover.bay))


def empty_bays(store: Store) -> tuple[EmptyBay, ...]:
    """Empty bays of vehicles with more than one bay, those without a noted cover first."""
    with store.view() as view:
        covers: dict[tuple[str, int], BayCover] = {}
        for event in view.records_of("bay_cover"):
            body: BayCover = event.body  # type: ignore[assignment]
            covers[body.vehicle, body.bay] = body
        full_bays: dict[str, set[int]] = defaultdict(set)
        for placed in view.placements().values():
            if placed.vehicle is not None:
                full_bays[placed.vehicle].add(placed.bay)
        found = []
        for code, vehicle in view.things("vehicle").items():
            if vehicle.bays < 2 or vehicle.standing is not VehicleStanding.IN_FLEET:
                continue
            for bay in range(1, vehicle.bays + 1):
                if bay not in full_bays[code]:
                    noted = covers.get((code, bay))
                    found.append(
                        EmptyBay(code, bay, noted.covered if noted else None, noted.done_at if noted else None)
                    )
    return tuple(sorted(found, key=lambda one: (bool(one.covered), one.vehicle, one.bay)))


def record_stuck(store: Store, clock: Clock, author: Author, stuck: PackStuck) -> Recorded:
    """Note that a pack cannot be taken out of its vehicle, or that it can again.  Anyone may.

    Where the pack is quarantined for danger, the whole vehicle is quarantined with it.
    """
    now = clock()
    with store.transaction() as tx:
        pack = known_pack(tx, stuck.pack)
        placed = tx.placement_of(stuck.pack)
        if placed is None or placed.vehicle != stuck.vehicle:
            raise EntryRefused("bay.not_in", field="pack", pack=stuck.pack, vehicle=stuck.vehicle)
        if tx.thing("pack_model", pack.model).fixed:
            raise EntryRefused("bay.fixed_model", field="pack", pack=stuck.pack)
        record.refuse_future(stuck.done_at, now)
        writer = Writer(tx, author, now)
        writer.add("pack_stuck", stuck, stuck.done_at)
        danger = any(h.hold_class is HoldClass.DANGER for h in tx.open_holds(("pack", stuck.pack)))
        values = {"pack": stuck.pack, "vehicle": stuck.vehicle, "why": msg(f"stuck.{stuck.why.value}")}
        if danger and stuck.why is not Stuck.FREE:
            held = writer.hold_vehicle_of(stuck.pack, stuck.done_at)
            return writer.recorded(msg("bay.kept_stuck_held", held=held or "", **values))
        return writer.recorded(msg("bay.kept_stuck", **values))


def put_rule(store: Store, clock: Clock, author: Author, code: str, rule: PairRule) -> Recorded:
    """Record what the maker of a vehicle or of a pack model asks of two packs side by side; for a manager."""
    if rule.asks and not rule.source.strip():
        raise EntryRefused("bay.needs_source", field="source")
    with store.transaction() as tx:
        vehicle: Vehicle | None = tx.thing("vehicle", code)
        model: PackModel | None = tx.thing("pack_model", code)
        if vehicle is None and model is None:
            raise EntryRefused("entry.unknown_vehicle_or_model", field="rule_for", code=code or "—")
        refuse_unless_allowed(tx, author, "service_notes", ServiceNotes(code, pair_rule=rule))
        writer = Writer(tx, author, clock())
        kept = rule if rule.asks else None
        if vehicle is not None:
            writer.add_thing("vehicle", replace(vehicle, pair_rule=kept))
        else:
            notes: ServiceNotes = tx.thing("service_notes", code) or ServiceNotes(code)
            writer.add_thing("service_notes", replace(notes, pair_rule=kept))
        return writer.recorded(msg("bay.rule_kept", code=code))


def rule_words(code: str, rule: PairRule) -> Message:
    """A pairing rule in words."""
    asks = []
    if rule.same_model:
        asks.append(msg("bay.asks_model"))
    if rule.age_months is not None:
        asks.append(msg("bay.asks_age", limit_months=rule.age_months))
    if rule.match_v is not None:
        asks.append(msg("bay.asks_volts", limit_v=rule.match_v))
    return msg("bay.rule_words", code=code, asks=tuple(asks) or msg("bay.asks_none"), source=rule.source)


def rules(store: Store) -> tuple[tuple[str, PairRule], ...]:
    """Every pairing rule on record, by the code of its vehicle or pack model."""
    with store.view() as view:
        found = [(c, v.pair_rule) for c, v in view.things("vehicle").items() if v.pair_rule is not None]
        found += [(c, n.pair_rule) for c, n in view.things("service_notes").items() if n.pair_rule is not None]
    return tuple(sorted(found))
