"""The fleet as the rules of status see it: read once, in a handful of queries, for all vehicles."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from decimal import Decimal
from operator import attrgetter
from typing import Any
from zoneinfo import ZoneInfo

from fleetcare.domain import decisions, due, status
from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.attendance import AtWork
from fleetcare.domain.bays import BayCover
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.decisions import Decision
from fleetcare.domain.extensions import DueExtended
from fleetcare.domain.judging import shows_nothing
from fleetcare.domain.packs import (
    AWAY,
    Depot,
    Level,
    Pack,
    PackModel,
    PackStanding,
    PairRule,
    Person,
    Role,
    ServiceNotes,
    SiteRules,
    Vehicle,
    VehicleStanding,
)
from fleetcare.domain.records import CheckCorrected, CheckJudged
from fleetcare.domain.status import (
    BoardState,
    Newest,
    OpenHold,
    PackFacts,
    PackState,
    PackStatus,
    Reason,
    Rest,
    VehicleStatus,
)
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg
from fleetcare.services import conditions
from fleetcare.store import plan_reads
from fleetcare.store.store import View
from fleetcare.store.values import LatestCheck, Placement, StoredHold


@dataclass(frozen=True, slots=True)
class FleetFacts:
    """Everything the board needs, at one record position."""

    site: SiteRules
    depots: dict[str, Depot]
    """The one with the most vehicles first: what names no depot belongs there."""
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
    last_in: dict[str, str]
    left_at: dict[str, dt.datetime]
    conditions: dict[str, due.Condition]
    laid_up: dict[str, Rest]
    returned: dict[str, dt.datetime]
    decided: dict[str, tuple[Decision, str]] = field(default_factory=dict)
    extended: dict[str, tuple[DueExtended, str]] = field(default_factory=dict)
    covered: frozenset[tuple[str, int]] = field(default_factory=frozenset)
    bays: dict[str, tuple[int, ...]] = field(default_factory=dict)
    notes: dict[str, ServiceNotes] = field(default_factory=dict)
    charged: dict[str, ChargedOn] = field(default_factory=dict)
    """Packs in no vehicle that were charged after their last valid check."""
    away: tuple[Away, ...] = ()
    """Vehicles that are away for some days, as it stands (on hire, say)."""

    def shelf_of(self, pack: str) -> str:
        """The shelf a pack lies on, or "" when it is in a vehicle or nobody knows."""
        placed = self.placements.get(pack)
        return self.packs[pack].shelf if placed is None else placed.shelf

    def packs_in(self, vehicle: str) -> tuple[str, ...]:
        """Codes of the packs recorded in `vehicle`, by bay."""
        return self.by_vehicle.get(vehicle, ())

    def pair_rule(self, vehicle: Vehicle, model: str) -> PairRule | None:
        """What the maker of the vehicle, else of the pack model, asks of two packs side by side."""
        notes = self.notes.get(model)
        return vehicle.pair_rule or (None if notes is None else notes.pair_rule)

    def away_vehicles(self) -> tuple[Vehicle, ...]:
        """Vehicles that are ours but not here, by code."""
        away = [one for one in self.vehicles.values() if one.standing is not VehicleStanding.IN_FLEET]
        return tuple(sorted(away, key=attrgetter("code")))

    def away_on(self, day: dt.date) -> dict[str, Away]:
        """Vehicles of the fleet that are away on `day` (on hire, say), by code; lost, stolen and moving ones are not."""
        out = {one.vehicle: one for one in self.away if one.covers(day)}
        here = VehicleStanding.IN_FLEET
        return {
            code: one for code, one in out.items() if code in self.vehicles and self.vehicles[code].standing is here
        }

    def uncovered(self, vehicle: Vehicle) -> tuple[int, ...]:
        """Empty bays of `vehicle` that nobody noted as covered."""
        full = self.bays.get(vehicle.code, ())
        return tuple(b for b in range(1, vehicle.bays + 1) if b not in full and (vehicle.code, b) not in self.covered)


def read_facts(view: View) -> FleetFacts:
    """All facts of the fleet as known at the view's position."""
    holds: dict[tuple[str, str], list[OpenHold]] = defaultdict(list)
    for hold in view.open_holds():
        holds[hold.subject_class, hold.subject].append(open_hold(hold))
    placements = view.placements()
    bays: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for code, placed in placements.items():
        if placed.vehicle is not None:
            bays[placed.vehicle].append((placed.bay, code))
    for inside in bays.values():
        if len(inside) > 1:
            inside.sort()
    vehicles = view.things("vehicle")
    zone = zone_of(view)
    pack_holds = {code: tuple(found) for (cls, code), found in holds.items() if cls == "pack"}
    latest = at_bench(view, view.latest_checks(), pack_holds)
    empty = [code for code in vehicles if code not in bays]
    site = view.thing("site_rules", "SITE") or SiteRules()
    doubted = view.doubted_packs(latest)
    away, returned = conditions.lay_ups(view, site)
    return FleetFacts(
        site=site,
        depots=_main_first(view.things("depot"), vehicles),
        models=view.things("pack_model"),
        packs=view.things("pack"),
        vehicles=vehicles,
        people=view.people(),
        placements=placements,
        latest=latest,
        pack_holds=pack_holds,
        vehicle_holds={code: tuple(found) for (cls, code), found in holds.items() if cls == "vehicle"},
        zone=zone,
        by_vehicle={vehicle: tuple([code for _, code in here]) for vehicle, here in bays.items()},
        left_for=view.left_for(empty),
        doubted=doubted,
        last_in=view.last_packs_of(empty),
        left_at=view.left_at(code for code, one in vehicles.items() if len(bays.get(code, ())) < one.bays),
        conditions=conditions.conditions(view, site, latest, doubted),
        laid_up=away,
        returned=returned,
        decided=_newest(view, "decision"),
        extended=_newest(view, "due_extended"),
        covered=_covered(view),
        notes=view.things("service_notes"),
        bays={vehicle: tuple([bay for bay, _ in here]) for vehicle, here in bays.items()},
        charged=charged(view, placements, latest),
        away=vehicles_away(view),
    )


def vehicles_away(view: View) -> tuple[Away, ...]:
    """Vehicles away as they stand, withdrawn ones left out."""
    newest: dict[tuple[str, dt.date], Away] = {}
    for event in view.records_of("away"):
        assert isinstance(event.body, Away)
        newest[event.body.identity] = event.body
    return tuple(one for one in newest.values() if not one.withdrawn)


def at_bench(
    view: View, latest: dict[str, LatestCheck], holds: Mapping[str, tuple[OpenHold, ...]]
) -> dict[str, LatestCheck]:
    """`latest` with the bench temperature of the newest check of each pack that was held by a resistance before it, so
    that the two can be told at one temperature."""
    for code, held in holds.items():
        one = latest.get(code)
        if one is None or one.resistance_ohm is None:
            continue
        if not any(hold.text.key.startswith("ohm.") and hold.since < one.done_at for hold in held):
            continue
        record = view.record_at(one.position)
        body = None if record is None else record.body
        judged = body.judged if isinstance(body, CheckCorrected) else body
        if isinstance(judged, CheckJudged):
            latest[code] = replace(one, bench_c=judged.check.bench_c)
    return latest


def _main_first(depots: Mapping[str, Depot], vehicles: Mapping[str, Vehicle]) -> dict[str, Depot]:
    """Depots by code, but first of all the one with the most vehicles that are here."""
    here = Counter(one.depot for one in vehicles.values() if one.standing is VehicleStanding.IN_FLEET)
    main = min(depots, key=lambda code: (-here[code], code), default="")
    return dict(sorted(depots.items(), key=lambda one: (one[0] != main, one[0])))


def nothing_known(view: View) -> FleetFacts:
    """The facts that do not hang on single packs and vehicles; those are read when they are asked for."""
    site = view.thing("site_rules", "SITE") or SiteRules()
    depots, models = dict(sorted(view.things("depot").items())), view.things("pack_model")
    return FleetFacts(
        site=site, depots=depots, models=models, packs={}, vehicles={}, people=view.people(), placements={},
        latest={}, pack_holds={}, vehicle_holds={}, zone=zone_of(view), by_vehicle={}, left_for={}, doubted={}, last_in={},
        left_at={}, conditions={}, laid_up={}, returned={}, covered=_covered(view), notes=view.things("service_notes"),
        away=vehicles_away(view),
    )  # fmt: skip


def without_things(known: FleetFacts, site: SiteRules) -> FleetFacts:
    """`known` with no pack and no vehicle in it."""
    return replace(
        known, site=site, packs={}, vehicles={}, placements={}, latest={}, pack_holds={}, vehicle_holds={}, by_vehicle={},
        left_for={}, last_in={}, doubted={}, decided={}, extended={}, conditions={}, laid_up={}, returned={}, left_at={},
        bays={}, charged={},
    )  # fmt: skip


def charged(view: View, placements: Mapping[str, Placement], latest: Mapping[str, LatestCheck]) -> dict[str, ChargedOn]:
    """The last charge of each pack in `latest` that is in no vehicle and was charged after its last valid check."""
    lying = {
        code: one.last_valid
        for code, one in latest.items()
        if one.last_valid is not None and (code not in placements or placements[code].vehicle is None)
    }
    return plan_reads.charged_since(view, lying)


def at_work(view: View, day: dt.date) -> frozenset[str] | None:
    """Codes of those at work on `day`: as noted last, else by the rosters and absences; None where neither tells."""
    notes = [event.body for event in view.records_of("at_work") if isinstance(event.body, AtWork)]
    mine = [note for note in notes if note.day == day]
    if mine:
        return frozenset(mine[-1].people)
    rosters = view.things("roster")
    if not rosters:
        return None
    newest: dict[tuple[str, str, dt.date], Absence] = {}
    for event in view.records_of("absence"):
        assert isinstance(event.body, Absence)
        newest[event.body.identity] = event.body
    away = [one for one in newest.values() if one.covers(day)]
    return frozenset(
        code
        for code, roster in rosters.items()
        if roster.minutes_on(day)
        and not any(one.person == code or (not one.person and one.depot in ("", roster.depot)) for one in away)
    )


BEARS_DAYS = 400
"""More than the longest that a decision or a check put off can bear on a due date."""


def _newest(view: View, kind: str) -> dict[str, tuple[Any, str]]:
    """The newest record of a kind about each pack, with the name of who made it.

    Older ones than `BEARS_DAYS` bear on no due date any more: whatever they allowed has lapsed.
    """
    if not view.position:
        return {}
    events = view.records_of(kind, since=view.last_entered() - dt.timedelta(days=BEARS_DAYS))
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
    """The depot's time zone (that of the first depot by code; UTC without one)."""
    return view.zone


def open_hold(hold: StoredHold) -> OpenHold:
    """A stored hold as the rules of status read it."""
    return OpenHold(hold.hold_id, hold.hold_class, hold.reason, hold.since, hold.remark, hold.place)


def pack_status(facts: FleetFacts, code: str, now: dt.datetime) -> PackStatus:
    """The state of one pack at `now`."""
    return status.pack_status(pack_facts(facts, code), facts.site, now.astimezone(facts.zone))


def due_day(facts: FleetFacts, code: str) -> due.DueDay | None:
    """The one due day of a pack, with its condition and what was decided, or None for one never checked."""
    return status.due_day(pack_facts(facts, code), facts.site)


def pack_facts(facts: FleetFacts, code: str) -> PackFacts:
    """What the rules of status look at for one pack."""
    pack = facts.packs[code]
    latest = facts.latest.get(code)
    return PackFacts(
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
        reads_nothing=_reads_nothing(facts, pack, latest),
        newest=Newest(latest.done_at, latest.rested_v, latest.resistance_ohm, latest.bench_c)
        if latest and code in facts.pack_holds
        else None,
    )


def _reads_nothing(facts: FleetFacts, pack: Pack, latest: LatestCheck | None) -> tuple[Decimal, dt.datetime] | None:
    """The newest reading where it shows nothing.  Such a reading never passes, which spares the others the question."""
    if latest is None or latest.level is VerdictLevel.PASS:
        return None
    if not shows_nothing(latest.rested_v, facts.models[pack.model]):
        return None
    return latest.rested_v, latest.done_at.astimezone(facts.zone)


_REST = attrgetter(*(one.name for one in fields(PackStatus) if one.name != "code"))


def pack_states(facts: FleetFacts, now: dt.datetime) -> dict[str, PackStatus]:
    """The state of every pack at `now`: the rule is asked once for all ready packs that were checked alike.

    A ready pack has no reason, so nothing but its code tells it from another with the same facts.
    """
    here = now.astimezone(facts.zone)
    alike: dict[tuple[object, ...], PackStatus] = {}
    found: dict[str, PackStatus] = {}
    special = _special(facts)
    for code, pack in facts.packs.items():
        latest = facts.latest.get(code)
        key: tuple[object, ...]
        if latest is not None and latest.last_valid is not None and pack.standing in _USUAL and code not in special:
            key = (latest.last_valid.date(), latest.level, _reads_nothing(facts, pack, latest))
        else:
            key = status.alike(pack_facts(facts, code))
        known = alike.get(key)
        if known is None:
            known = status.pack_status(pack_facts(facts, code), facts.site, here)
            if known.state is PackState.READY and not known.reasons:
                alike[key] = known
            found[code] = known
        else:
            found[code] = PackStatus(code, *_REST(known))
    return found


_USUAL = frozenset({PackStanding.IN_SERVICE})


def _special(facts: FleetFacts) -> set[str]:
    """Packs of which more is known than their last check: they are never taken together with others."""
    return set().union(*(getattr(facts, name) for name in _ABOUT_PACKS))


_ABOUT_PACKS = ("pack_holds", "doubted", "conditions", "laid_up", "returned", "decided", "extended")
"""Fields of FleetFacts that hold something by pack."""


def vehicle_states(facts: FleetFacts, states: dict[str, PackStatus]) -> dict[str, VehicleStatus]:
    """The state of every vehicle: the rule is asked once for all ready ones of a kind whose packs are due alike."""
    alike: dict[tuple[object, ...], VehicleStatus] = {}
    found: dict[str, VehicleStatus] = {}
    for code, vehicle in facts.vehicles.items():
        packs = tuple([states[pack] for pack in facts.packs_in(code)])
        plain = code not in facts.vehicle_holds and all(
            [pack.state is PackState.READY and not pack.reasons for pack in packs]
        )
        if not plain or not packs:
            found[code] = vehicle_status(facts, vehicle, packs)
            continue
        key = (_BUILD(vehicle), tuple([pack.due_on for pack in packs]))
        known = alike.get(key)
        if known is None:
            known = vehicle_status(facts, vehicle, packs)
            if known.state is BoardState.READY and not known.reasons:
                alike[key] = known
            found[code] = known
        else:
            found[code] = VehicleStatus(code, *_LATER(known))
    return found


_BUILD = attrgetter(*(one.name for one in fields(Vehicle) if one.name not in ("code", "bay_place")))
_LATER = attrgetter(*(one.name for one in fields(VehicleStatus) if one.name != "code"))


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
    on_date = decision.done_at.astimezone(facts.zone).date()
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
    found = status.vehicle_status(
        vehicle, packs, facts.vehicle_holds.get(vehicle.code, ()), left, facts.uncovered(vehicle),
        [one.code for one in packs if one.reasons and facts.models[facts.packs[one.code].model].fixed],
    )  # fmt: skip
    if all(reason.since is not None for reason in found.reasons):
        return found
    return replace(found, reasons=tuple(_since(facts, vehicle, reason) for reason in found.reasons))


def _since(facts: FleetFacts, vehicle: Vehicle, reason: Reason) -> Reason:
    """A reason that has no moment of its own: since a pack is gone, or since an unchecked one is in the vehicle."""
    if reason.since is not None:
        return reason
    since = None
    if reason.text.key in _MISSING:
        since = facts.left_at.get(vehicle.code)
    elif reason.text.key == "pack.never_checked":
        placed = facts.placements.get(str(reason.text.value("pack")))
        since = placed.since if placed is not None and placed.vehicle == vehicle.code else None
    return reason if since is None else replace(reason, since=since.astimezone(facts.zone))


_MISSING = ("vehicle.no_pack", "vehicle.empty_bay", "vehicle.pack_unknown")


def releasers(facts: FleetFacts, day: dt.date) -> tuple[str, ...]:
    """Names of the mechanics who may release on `day`, in order of name."""
    return tuple(
        sorted(
            person.name
            for person in facts.people.values()
            if Role.MECHANIC in person.roles and person.level_on(day).covers(Level.MAY_RELEASE)
        )
    )


def freed_by_a_pack(state: VehicleStatus, packs: tuple[PackStatus, ...]) -> bool:
    """True when a good pack is all that a vehicle lacks: no hold of its own, no danger in it."""
    own_holds = any(r.hold_id and r.hold_id not in _holds_of(packs) for r in state.reasons)
    danger = any(r.hold_class is HoldClass.DANGER for r in state.reasons)
    short = state.state in (BoardState.GROUNDED, BoardState.LIMITED)
    return short and not own_holds and not danger


def _holds_of(packs: tuple[PackStatus, ...]) -> set[str]:
    return {r.hold_id for p in packs for r in p.reasons if r.hold_id}
