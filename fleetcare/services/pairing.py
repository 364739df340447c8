"""Whether a pack may go into a bay beside the packs that are in the vehicle already, by the maker's pairing rule."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain import bays
from fleetcare.domain.bays import Reading
from fleetcare.domain.packs import PairRule, ServiceNotes, Vehicle
from fleetcare.services.identify import pair_in
from fleetcare.store.store import View


def rule_for(view: View, vehicle: Vehicle, model: str) -> PairRule | None:
    """The pairing rule of a vehicle: its own, else that of the pack model's maker, else None."""
    if vehicle.pair_rule is not None:
        return vehicle.pair_rule
    notes: ServiceNotes | None = view.thing("service_notes", model)
    return None if notes is None else notes.pair_rule


def fits_beside(
    view: View, vehicle_code: str, pack_code: str, bay: int, reading: Reading | None, now: dt.datetime
) -> None:
    """Raises EntryRefused where the pack does not belong in the vehicle, or not beside the one in its other bay.

    `reading` is what was just read on the pack; without it its newest reading on record counts.  A pack that is
    recorded in the vehicle already is not asked about again.
    """
    pair_in(view, vehicle_code, pack_code)
    vehicle: Vehicle = view.thing("vehicle", vehicle_code)
    placed = view.placement_of(pack_code)
    if placed is not None and placed.vehicle == vehicle_code:
        return
    pack = view.thing("pack", pack_code)
    rule = rule_for(view, vehicle, pack.model)
    if rule is None or not rule.asks:
        return
    for other, other_bay in view.packs_in(vehicle_code):
        if other_bay != bay and other != pack_code:
            own = reading or newest_reading(view, pack_code)
            bays.refuse_mismatch(rule, vehicle, pack, view.thing("pack", other), own, newest_reading(view, other), now)


def newest_reading(view: View, pack: str) -> Reading | None:
    """The newest rested reading of a pack and when it was taken, or None."""
    latest = view.latest_checks([pack]).get(pack)
    return None if latest is None else (latest.rested_v, latest.done_at)
