"""The fleet as the rules of status see it: read once, in a handful of queries, for all vehicles."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from fleetcare.domain import decisions, due, status
from fleetcare.domain.bays import BayCover
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.decisions import Decision
from fleetcare.domain.extensions import DueExtended
from fleetcare.domain.packs import (
    AWAY,
    Depot,
    Level,
    Pack,
    PackModel,
    PackStanding,
    Person,
    Role,
    SiteRules,
    Vehicle,
    VehicleStanding,
)
from fleetcare.domain.status import (
    BoardState,
    OpenHold,
    PackFacts,
    PackState,
    PackStatus,
    Rest,
    VehicleStatus,
)
from fleetcare.domain.wording import Message, msg
from fleetcare.services import conditions
from fleetcare.store.store import View
from fleetcare.store.values import LatestCheck, Placement, StoredHold


@dataclass(frozen=True, slots=True)
class FleetFacts:
    """Everything the board needs, at one record position."""

    site: SiteRules
    depots: dict[str, Depot]
    models: dict[str, PackModel]
    packs: dict[str, Pack]
    vehicles: dict[str, Vehicle]
    people: dict[str, Person]
    placements: dict[str, Placement]
    latest: dict[str, LatestCheck]
    pack_holds: dict[str, tuple[OpenHold, ...]]
    vehicle_holds: dict[str, tuple[OpenHold, ...]]
    zone: ZoneInfo
    by_vehicle: dict[str, tuple[str, ...]]
    left_for: dict[str, tuple[str, str]]
    doubted: dict[str, str]
    conditions: dict[str, due.Condition]
    laid_up: dict[str, Rest]
    returned: dict[str, dt.datetime]
    decided: dict[str, tuple[Decision, str]] = field(default_factory=dict)
    extended: dict[str, tuple[DueExtended, str]] = field(default_factory=dict)
    covered: frozenset[tuple[str, int]] = field(default_factory=frozenset)
    bays: dict[str, tuple[int, ...]] = field(default_factory=dict)

    def shelf_of(self, pack: str) -> str:
        """The shelf a pack lies on, or "" when it is in a vehicle or nobody knows."""
        placed = self.placements.get(pack)
        return self.packs[pack].shelf if placed is None else placed.shelf

    def packs_in(self, vehicle: str) -> tuple[str, ...]:
        """Codes of the packs recorded in `vehicle`, by bay."""
        return self.by_vehicle.get(vehicle, ())

    def away_vehicles(self) -> tuple[Vehicle, ...]:
        """Vehicles that are ours but not here, by code."""
        return tuple(v for _, v in sorted(self.vehicles.items()) if v.standing is not VehicleStanding.IN_FLEET)

    def uncovered(self, vehicle: Vehicle) -> tuple[int, ...]:
        """Empty bays of `vehicle` that nobody noted as covered."""
        full = self.bays.get(vehicle.code, ())
        return tuple(b for b in range(1, vehicle.bays + 1) if b not in full and (vehicle.code, b) not in self.covered)


def read_facts(view: View) -> FleetFacts:
    """All facts of the fleet as known at the view's position."""
    holds: dict[tuple[str, str], list[OpenHold]] = defaultdict(list)
    for hold in view.open_holds():
        holds[hold.subject_class, hold.subject].append(_open_hold(hold))
    placements = view.placements()
    bays: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for code, placed in placements.items():
        if placed.vehicle is not None:
            bays[placed.vehicle].append((placed.bay, code))
    vehicles = view.things("vehicle")
    latest = view.latest_checks()
    site = view.thing("site_rules", "SITE") or SiteRules()
    doubted = view.doubted_packs(latest)
    away, returned = conditions.lay_ups(view, site)
    return FleetFacts(
        site=site,
        depots=dict(sorted(view.things("depot").items())),
        models=view.things("pack_model"),
        packs=view.things("pack"),
        vehicles=vehicles,
        people=view.things("person"),
        placements=placements,
        latest=latest,
        pack_holds={code: tuple(found) for (cls, code), found in holds.items() if cls == "pack"},
        vehicle_holds={code: tuple(found) for (cls, code), found in holds.items() if cls == "vehicle"},
        zone=zone_of(view),
        by_vehicle={vehicle: tuple(code for _, code in sorted(here)) for vehicle, here in bays.items()},
        left_for=view.left_for(code for code in vehicles if code not in bays),
        doubted=doubted,
        conditions=conditions.conditions(view, site, latest, doubted),
        laid_up=away,
        returned=returned,
        decided=_newest(view, "decision"),
        extended=_newest(view, "due_extended"),
        covered=_covered(view),
        bays={vehicle: tuple(bay for bay, _ in here) for vehicle, here in bays.items()},
    )


def _newest(view: View, kind: str) -> dict[str, tuple[Any, str]]:
    """The newest record of a kind about each pack, with the name of who made it."""
    events = view.records_of(kind)
    names = view.person_names() if events else {}
    return {event.body.pack: (event.body, names.get(event.by, event.by)) for event in events}  # type: ignore[attr-defined]


def _covered(view: View) -> frozenset[tuple[str, int]]:
    newest: dict[tuple[str, int], bool] = {}
    for event in view.records_of("bay_cover"):
        assert isinstance(event.body, BayCover)
        newest[event.body.vehicle, event.body.bay] = event.body.covered
    return frozenset(one for one, on in newest.items() if on)


def depot_of(facts: FleetFacts, pack: str) -> str:
    """The depot a pack belongs to: that of its vehicle, else the one its shelf is named after, else the first."""
    placed = facts.placements.get(pack)
    if placed is not None and placed.vehicle is not None:
        vehicle = facts.vehicles.get(placed.vehicle)
        if vehicle is not None:
            return vehicle.depot
    shelf = facts.shelf_of(pack).casefold()
    for code, depot in facts.depots.items():
        if shelf.startswith((code.casefold(), depot.name.casefold())):
            return code
    return next(iter(facts.depots), "")


def zone_of(view: View) -> ZoneInfo:
    """The depot's time zone (that of the first depot on record; UTC without one)."""
    return ZoneInfo(next((depot.time_zone for depot in view.things("depot").values()), "UTC"))


def _open_hold(hold: StoredHold) -> OpenHold:
    return OpenHold(hold.hold_id, hold.hold_class, hold.reason, hold.since, hold.remark, hold.place)


def pack_status(facts: FleetFacts, code: str, now: dt.datetime) -> PackStatus:
    """The state of one pack at `now`."""
    pack = facts.packs[code]
    latest = facts.latest.get(code)
    return status.pack_status(
        PackFacts(
            code=code,
            standing_in_service=pack.standing is PackStanding.IN_SERVICE,
            last_valid_check=latest.last_valid if latest else None,
            last_level=latest.level if latest else None,
            holds=facts.pack_holds.get(code, ()),
            doubted_meter=facts.doubted.get(code, ""),
            written_off=pack.standing is PackStanding.WRITTEN_OFF,
            decided=_decided(facts, code, latest),
            extended=_extended(facts, code, latest),
            away=msg(f"pack.away_{pack.standing.value}") if pack.standing in AWAY else None,
            condition=facts.conditions.get(code, due.ORDINARY),
            laid_up=facts.laid_up.get(code),
            returned_at=facts.returned.get(code),
            last_pass=latest.last_pass if latest else None,
        ),
        facts.site,
        now.astimezone(facts.zone),
    )


def _decided(facts: FleetFacts, code: str, latest: LatestCheck | None) -> tuple[dt.date, Message] | None:
    """The day by which a decision wants the next check, with who decided what."""
    if code not in facts.decided or latest is None:
        return None
    decision, person = facts.decided[code]
    level = latest.level if latest.done_at == latest.last_valid else None
    by = decisions.due_by(decision, latest.last_valid, level)
    if by is None:
        return None
    what = msg(
        f"decision.{'recheck_by' if decision.choice is decisions.Choice.RECHECK else 'carry_on_until'}", until_date=by
    )
    on_date = decision.done_at.date()
    return by, msg("decision.due", person=person, on_date=on_date, what=what, due_date=by)


def _extended(facts: FleetFacts, code: str, latest: LatestCheck | None) -> tuple[dt.date, Message] | None:
    """The last day to which the due check was put off, with who did and why; the next valid check ends it."""
    if code not in facts.extended or latest is None:
        return None
    body, person = facts.extended[code]
    if body.last_valid != latest.last_valid:
        return None
    return body.until, msg(
        "extension.standing", due_date=body.due_on, good_date=body.good_through, until_date=body.until, person=person,
        reason=body.reason,
    )  # fmt: skip


def vehicle_status(facts: FleetFacts, vehicle: Vehicle, packs: tuple[PackStatus, ...]) -> VehicleStatus:
    """The state of one vehicle, from its packs and its own holds."""
    left = None if packs else facts.left_for.get(vehicle.code)
    holds = facts.vehicle_holds.get(vehicle.code, ())
    return status.vehicle_status(vehicle, packs, holds, left, facts.uncovered(vehicle))


def releasers(facts: FleetFacts, day: dt.date) -> tuple[str, ...]:
    """Names of the mechanics who may release on `day`, in order of name."""
    return tuple(
        sorted(
            person.name
            for person in facts.people.values()
            if Role.MECHANIC in person.roles and person.level_on(day).covers(Level.MAY_RELEASE)
        )
    )


def spares(facts: FleetFacts, states: dict[str, PackStatus]) -> list[Pack]:
    """Packs that are in no vehicle, on a known shelf, passed, in date and free of holds."""
    free = []
    for code, pack in facts.packs.items():
        placed = facts.placements.get(code)
        on_shelf = (placed is None or placed.vehicle is None) and bool(facts.shelf_of(code))
        if on_shelf and states[code].state is PackState.READY:
            free.append(pack)
    return free


def freed_by_a_pack(state: VehicleStatus, packs: tuple[PackStatus, ...]) -> bool:
    """True when a good pack is all that a vehicle lacks: no hold of its own, no danger in it."""
    own_holds = any(r.hold_id and r.hold_id not in _holds_of(packs) for r in state.reasons)
    danger = any(r.hold_class is HoldClass.DANGER for r in state.reasons)
    short = state.state in (BoardState.GROUNDED, BoardState.LIMITED)
    return short and not own_holds and not danger


def _holds_of(packs: tuple[PackStatus, ...]) -> set[str]:
    return {r.hold_id for p in packs for r in p.reasons if r.hold_id}
