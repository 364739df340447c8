"""What would free each vehicle: lacks and spares of the fleet, solved together, and each answer explained."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from fleetcare.domain import bays, freeing
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.freeing import Carry, Fit, Lack, Spare
from fleetcare.domain.packs import Vehicle
from fleetcare.domain.status import BoardState, PackState, PackStatus, VehicleStatus
from fleetcare.domain.wording import Message, apart, msg, say, word
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.services.shown import Offer, VehicleSummary

MOST_OFFERS = 3
"""Spares named for one vehicle, the proposed ones included."""


def fit_of_vehicle(facts: FleetFacts, vehicle: Vehicle) -> Fit | None:
    """What a pack for `vehicle` must be: as recorded of it, else as the packs in it or last in it are.

    None where nothing tells, or the packs in it disagree.
    """
    if vehicle.charge_end_v is not None and vehicle.chemistry is not None:
        return Fit(vehicle.charge_end_v.normalize(), vehicle.chemistry, vehicle.connector)
    told = facts.packs_in(vehicle.code) or ((facts.last_in[vehicle.code],) if vehicle.code in facts.last_in else ())
    fits = {freeing.fit_of(facts.models[facts.packs[code].model]) for code in told}
    if len(fits) != 1:
        return None
    fit = fits.pop()
    return fit if fit.connector == vehicle.connector else None


def lack_of(
    facts: FleetFacts, vehicle: Vehicle, state: VehicleStatus, packs: tuple[PackStatus, ...]
) -> Lack | Message | None:
    """What `vehicle` lacks of packs; a message where that cannot be said; None where packs are not what it lacks."""
    if (once_out := _once_out(facts, vehicle, state, packs)) is not None:
        return once_out
    if not read.freed_by_a_pack(state, packs):
        return None
    if any(facts.models[facts.packs[code].model].fixed for code in facts.packs_in(vehicle.code)):
        return None
    usable = sum(pack.usable for pack in packs)
    wanted = vehicle.needs_packs if state.state is BoardState.GROUNDED else vehicle.bays
    if wanted <= usable:
        return None
    fit = fit_of_vehicle(facts, vehicle)
    if fit is None:
        return msg("free.fit_unknown", vehicle=vehicle.code)
    return Lack(vehicle.code, fit, vehicle.depot, wanted - usable)


def _once_out(
    facts: FleetFacts, vehicle: Vehicle, state: VehicleStatus, packs: tuple[PackStatus, ...]
) -> Message | None:
    """What frees a vehicle that only a danger in its packs keeps in; None where it is kept in itself or they are fixed.

    No spare is promised to it before the pack is out: a pack that cannot be taken out takes its vehicle along (decision 79).
    """
    bad = [one for one in packs if any(reason.hold_class is HoldClass.DANGER for reason in one.reasons)]
    if not bad or facts.vehicle_holds.get(vehicle.code) or state.state is not BoardState.GROUNDED:
        return None
    if any(facts.models[facts.packs[one.code].model].fixed for one in bad):
        return None
    left = sum(one.usable for one in packs)
    key = "free.once_out_alone" if left >= vehicle.needs_packs else "free.once_out"
    return msg(key, pack=tuple(one.code for one in bad), vehicle=vehicle.code)


def spare_of(facts: FleetFacts, code: str, state: PackStatus) -> Spare | None:
    """The pack as a spare: in no vehicle, on a known shelf, passed, in date and free of holds; or None."""
    placed = facts.placements.get(code)
    if state.state is not PackState.READY or (placed is not None and placed.vehicle is not None):
        return None
    model = facts.models[facts.packs[code].model]
    latest = facts.latest.get(code)
    if model.fixed or latest is None or latest.last_valid is None or not facts.shelf_of(code):
        return None
    charge = facts.charged.get(code)
    full_at = latest.last_valid if charge is None else charge.done_at
    return Spare(code, freeing.fit_of(model), depot_of(facts, code), full_at)


def beside(facts: FleetFacts, lack: Lack, spares: Iterable[Spare]) -> Lack:
    """The lack with the spares that may go beside a pack that stays in the vehicle, by its maker's pairing rule.

    Model and age are asked here; volts are measured before fitting.
    """
    vehicle = facts.vehicles[lack.vehicle]
    stay = [facts.packs[code] for code in facts.packs_in(lack.vehicle) if not facts.pack_holds.get(code)]
    if not stay or len(stay) >= vehicle.bays:
        return lack
    fitting = [one for one in spares if one.fit == lack.fit]
    rules = {one.pack: facts.pair_rule(vehicle, facts.packs[one.pack].model) for one in fitting}
    if all(rule is None for rule in rules.values()):
        return lack
    only = frozenset(
        pack
        for pack, rule in rules.items()
        if rule is None or all(bays.alike(rule, vehicle, facts.packs[pack], other) for other in stay)
    )
    return replace(lack, only=only)


def depot_of(facts: FleetFacts, pack: str) -> str:
    """The depot where a spare lies: as recorded, or the one its shelf is named after, or the only one; else ""."""
    if facts.packs[pack].depot:
        return facts.packs[pack].depot
    if len(facts.depots) == 1:
        return next(iter(facts.depots))
    shelf = facts.shelf_of(pack).casefold()
    named = (code for code, one in facts.depots.items() if shelf.startswith((code.casefold(), one.name.casefold())))
    return next(named, "")


def solve(
    facts: FleetFacts, lacks: Sequence[tuple[BoardState, Lack]], spares: Iterable[Spare]
) -> dict[str, tuple[Carry, ...]]:
    """Carries by vehicle: grounded vehicles first, then with what is left those that run on too few packs."""
    left = {one.pack: one for one in spares}
    between = freeing.distances(facts.depots)
    plan: dict[str, list[Carry]] = defaultdict(list)
    for wanted in (BoardState.GROUNDED, BoardState.LIMITED):
        asking = [beside(facts, lack, left.values()) for state, lack in lacks if state is wanted]
        if not asking or not left:
            continue
        for carry in freeing.solve(asking, list(left.values()), between):
            plan[carry.vehicle].append(carry)
            del left[carry.pack]
    return {vehicle: tuple(found) for vehicle, found in plan.items()}


class Offers:
    """What is said of each vehicle that lacks packs, once the plan is made."""

    def __init__(self, facts: FleetFacts, spares: Mapping[str, Spare], plan: Mapping[str, tuple[Carry, ...]]) -> None:
        self._facts, self._spares, self._plan = facts, spares, plan
        self._between = freeing.distances(facts.depots)
        promised = {carry.pack for carries in plan.values() for carry in carries}
        self._free: dict[Fit, dict[str, list[Spare]]] = defaultdict(lambda: defaultdict(list))
        self._all: set[Fit] = set()
        for spare in sorted(spares.values(), key=lambda one: (one.full_at, one.pack), reverse=True):
            self._all.add(spare.fit)
            lying = self._free[spare.fit][spare.depot]
            if spare.pack not in promised and len(lying) < MOST_OFFERS:
                lying.append(spare)

    def of(self, lack: Lack) -> tuple[tuple[Offer, ...], Message | None]:
        """The proposed packs, then others that fit and are proposed for nobody; or why there is none."""
        lack = beside(self._facts, lack, self._spares.values())
        mine = self._plan.get(lack.vehicle, ())
        offers = [self._offer(self._spares[carry.pack], lack, proposed=True) for carry in mine]
        others = [
            self._offer(spare, lack, proposed=False)
            for lying in self._free[lack.fit].values()
            for spare in lying
            if lack.takes(spare.pack)
        ]
        others.sort(key=lambda one: (one.km is None, one.km or 0, -one.full_on.toordinal()))
        if mine:
            return tuple(offers + others[: max(MOST_OFFERS - len(offers), 0)]), None
        if lack.fit not in self._all:
            return (), msg("free.none_fits", charge_v=lack.fit.full_v, chemistry=lack.fit.chemistry.value,
                           connector=lack.fit.connector)  # fmt: skip
        return (), msg("free.too_few", packs=lack.packs)

    def _offer(self, spare: Spare, lack: Lack, *, proposed: bool) -> Offer:
        latest = self._facts.latest[spare.pack]
        assert latest.valid_rested_v is not None and latest.last_valid is not None
        charge = self._facts.charged.get(spare.pack)
        return Offer(
            spare.pack, self._facts.shelf_of(spare.pack), latest.last_valid.date(), latest.valid_rested_v, spare.depot,
            self._between(spare.depot, lack.depot), proposed,
            None if charge is None else charge.done_at.astimezone(self._facts.zone),
            "" if charge is None else charge.charger,
        )  # fmt: skip


def place_of(offer: Offer, names: Mapping[str, str]) -> Message:
    """Where an offered pack lies, and how far that is."""
    depot = names.get(offer.depot, offer.depot)
    if offer.km is None:
        return msg("free.far_unknown", shelf=offer.shelf, depot=depot) if depot else msg(
            "free.depot_unknown", shelf=offer.shelf
        )  # fmt: skip
    if offer.km == 0:
        return msg("free.here", shelf=offer.shelf)
    return msg("free.away", shelf=offer.shelf, depot=depot, distance=f"{offer.km.normalize():f} km")


def explained(offer: Offer, names: Mapping[str, str]) -> Message:
    """Why this pack, in a sentence: its last full check, when it was charged since, and where it lies."""
    key = "free.proposed" if offer.proposed else "free.also"
    return msg(
        key, pack=offer.pack, rested_v=offer.rested_v, checked_date=offer.last_check, charged=charged(offer),
        place=place_of(offer, names),
    )  # fmt: skip


def briefly(line: VehicleSummary, names: Mapping[str, str]) -> str:
    """The proposed packs (or the nearest that fits) each with its place, or why there is none; "" where none is lacked."""
    told = [offer for offer in line.offers if offer.proposed] or list(line.offers[:1])
    if not told:
        none_fits = line.no_offer is not None and line.no_offer.key == "free.none_fits"
        return word("free.none_brief") if none_fits else "" if line.no_offer is None else say(line.no_offer)
    return ", ".join(
        f"{one.pack} ({apart(one.shelf) if len(names) < 2 else say(place_of(one, names))})" for one in told
    )


def charged(offer: Offer) -> Message:
    """When the pack was put on a charger after its last full check, and on which; or that nobody recorded a charge."""
    if offer.charged_at is None:
        return msg("free.not_charged")
    if not offer.charger:
        return msg("free.charged_somewhere", charged_at=offer.charged_at)
    return msg("free.charged", charged_at=offer.charged_at, charger=offer.charger)
