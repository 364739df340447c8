"""Van lists: what may go between depots, loading, arrival, and what is still under way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fleetcare.domain.checks import FoundIn, HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack, PackStanding, Vehicle, VehicleStanding
from fleetcare.domain.vans import VanArrived, VanLine, VanLoaded, list_number
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services.identify import identify
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known, known_pack
from fleetcare.services.watering import open_water
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View


@dataclass(frozen=True, slots=True)
class Listed:
    """What one scan adds to a van list: a loose pack, or a vehicle with the packs in it."""

    code: str
    vehicle: str
    lines: tuple[VanLine, ...]


@dataclass(frozen=True, slots=True)
class VanItem:
    """One line of a van list on screen and paper."""

    code: str
    what: str
    model: str
    serial: str
    where: Message
    mark: Message
    arrived: bool
    held: tuple[Message, ...] = ()
    """Why it is held or grounded now; when it was loaded it was not."""


@dataclass(frozen=True, slots=True)
class VanPage:
    """One van list as list, page and sheet show it."""

    loaded: VanLoaded
    person: str
    items: tuple[VanItem, ...]
    from_name: str
    to_name: str
    open: tuple[str, ...]
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool


def depot_of(view: View, pack: Pack) -> str:
    """The depot a pack belongs to: its vehicle's, else its own, else the first one on record."""
    placed = view.placement_of(pack.code)
    vehicle = view.thing("vehicle", placed.vehicle) if placed is not None and placed.vehicle else None
    if vehicle is not None:
        return str(vehicle.depot)
    return pack.depot or next(iter(view.things("depot")), "")


def listed(store: Store, typed: str, from_depot: str, so_far: Sequence[Listed]) -> Listed:
    """What a scanned code adds to the list; EntryRefused, with the reason, for what may not go."""
    found = identify(store, typed)
    with store.view() as view:
        if found.thing_class == "vehicle":
            one = _vehicle(view, found.code, from_depot)
        elif found.thing_class == "pack":
            one = _loose(view, found.code, from_depot)
        else:
            what = word(f"class.{found.thing_class}")
            raise EntryRefused("van.not_thing", field="items", code=found.code, what=what)
    taken = {code for each in so_far for code in (each.code, *(line.pack for line in each.lines))}
    twice = next((code for code in (one.code, *(line.pack for line in one.lines)) if code in taken), None)
    if twice is not None:
        raise EntryRefused("van.twice", field="items", code=twice)
    return one


def _loose(view: View, code: str, from_depot: str) -> Listed:
    pack = known_pack(view, code)
    _refuse_pack(view, pack, from_depot, "")
    return Listed(code, "", (VanLine(code),))


def _vehicle(view: View, code: str, from_depot: str) -> Listed:
    vehicle: Vehicle = known(view, "vehicle", code)
    if vehicle.standing is not VehicleStanding.IN_FLEET:
        raise EntryRefused(
            "pair.vehicle_away", field="items", vehicle=code, standing=msg(f"vehicle_standing.{vehicle.standing.value}")
        )
    if vehicle.depot != from_depot:
        raise EntryRefused("van.not_here", field="items", code=code, depot=vehicle.depot, from_depot=from_depot)
    packs = [pack for pack, _bay in view.packs_in(code)]
    for pack in packs:
        _refuse_pack(view, known_pack(view, pack), from_depot, code)
    for hold in view.open_holds(("vehicle", code)) if packs else ():
        kind = msg(f"hold_class.{hold.hold_class.value}")
        raise EntryRefused(
            "van.vehicle_held", field="items", vehicle=code, hold_class=kind, reason_sentence=hold.remark or hold.reason
        )
    return Listed(code, code, tuple(VanLine(pack, code) for pack in packs))


def _refuse_pack(view: View, pack: Pack, from_depot: str, vehicle: str) -> None:
    """No held, quarantined, recalled or wet pack goes on a van between depots, and none that stands elsewhere."""
    holds = view.open_holds(("pack", pack.code))
    if holds:
        worst = min(holds, key=lambda h: list(HoldClass).index(h.hold_class))
        values = {"pack": pack.code, "reason_sentence": worst.remark or worst.reason}
        recalled = next((h for h in holds if h.reason.key.startswith("recall")), None)
        if recalled is not None:
            raise EntryRefused("van.recalled", field="items", pack=pack.code, reason_sentence=recalled.reason)
        key = "van.pack_in_held" if vehicle else "van.held"
        kind = msg(f"hold_class.{worst.hold_class.value}")
        raise EntryRefused(key, field="items", vehicle=vehicle, hold_class=kind, **values)
    wet = open_water(view, pack.code)
    if wet is not None:
        kind = msg(f"water_kind.{wet.kind.value}")
        raise EntryRefused("van.water_open", field="items", pack=pack.code, kind=kind)
    depot = depot_of(view, pack)
    if depot != from_depot:
        raise EntryRefused("van.not_here", field="items", code=pack.code, depot=depot or "—", from_depot=from_depot)


@dataclass(frozen=True, slots=True)
class ToLoad:
    """A van list before it leaves."""

    from_depot: str
    to_depot: str
    driver: str
    items: tuple[Listed, ...]
    contacts_covered: bool = False
    remark: str = ""


def record_loaded(store: Store, clock: Clock, author: Author, load: ToLoad) -> tuple[Recorded, str]:
    """The van leaves; every line is judged again.  Returns the number of its list.  Anyone may."""
    now = clock()
    with store.transaction() as tx:
        for depot, field in ((load.from_depot, "from_depot"), (load.to_depot, "to_depot")):
            if tx.thing("depot", depot) is None:
                raise EntryRefused("describe.loose", field=field, code="—", attribute=field, other=depot or "—")
        lines: list[VanLine] = []
        vehicles = []
        for one in load.items:
            again = _vehicle(tx, one.code, load.from_depot) if one.vehicle else _loose(tx, one.code, load.from_depot)
            lines += again.lines
            if one.vehicle:
                vehicles.append(one.code)
        number = list_number(len(tx.records_of("van_loaded")) + 1)
        loaded = VanLoaded(
            number, load.from_depot, load.to_depot, load.driver.strip(), now, tuple(lines), tuple(vehicles),
            load.contacts_covered, load.remark.strip(),
        )  # fmt: skip
        writer = Writer(tx, author, now)
        writer.add("van_loaded", loaded, now)
        for code in vehicles:
            writer.add_thing("vehicle", replace(tx.thing("vehicle", code), standing=VehicleStanding.ON_THE_WAY))
        for line in lines:
            writer.add_thing("pack", replace(tx.thing("pack", line.pack), standing=PackStanding.ON_THE_WAY))
            if not line.vehicle:
                writer.move(FoundIn(line.pack, None, now, shelf=number))
        told = msg("van.loaded", number=number, count=len(lines), vehicles=len(vehicles), to_depot=load.to_depot)
        return writer.recorded(told), number


def _loaded(view: View, number: str) -> VanLoaded:
    for event in reversed(view.records_of("van_loaded")):
        body: VanLoaded = event.body  # type: ignore[assignment]
        if body.number == number:
            return body
    raise EntryRefused("van.unknown", field="number", number=number)


def _arrivals(view: View, number: str) -> set[str]:
    bodies: list[VanArrived] = [e.body for e in view.records_of("van_arrived")]  # type: ignore[misc]
    return {code for one in bodies if one.number == number for code in (*one.packs, *one.vehicles)}


def still_open(view: View, loaded: VanLoaded) -> tuple[str, ...]:
    """What is on the list, has not arrived, and is still on record as on the way."""
    arrived = _arrivals(view, loaded.number)
    packs = [p for p in loaded.packs if view.thing("pack", p).standing is PackStanding.ON_THE_WAY]
    vehicles = [v for v in loaded.vehicles if view.thing("vehicle", v).standing is VehicleStanding.ON_THE_WAY]
    return tuple(code for code in (*vehicles, *packs) if code not in arrived)


def record_arrived(
    store: Store, clock: Clock, author: Author, number: str, arrived: Sequence[str], shelf: str
) -> Recorded:
    """The van was unloaded at the other depot: what arrived belongs there now, loose packs on `shelf`.

    What did not arrive stays on the way until it is found or put on record as lost.  Anyone may.
    """
    now = clock()
    with store.transaction() as tx:
        loaded = _loaded(tx, number)
        open_now = still_open(tx, loaded)
        wrong = next((code for code in arrived if code not in open_now), None)
        if wrong is not None or not arrived:
            raise EntryRefused("van.not_on", field="number", code=wrong or "—", number=number)
        fitted = {line.pack: line.vehicle for line in loaded.lines if line.vehicle}
        packs = tuple(code for code in arrived if code in loaded.packs)
        loose = [code for code in packs if code not in fitted]
        if loose and not shelf.strip():
            raise EntryRefused("van.needs_shelf", field="shelf")
        vehicles = tuple(code for code in arrived if code in loaded.vehicles)
        missing = tuple(code for code in open_now if code not in arrived)
        writer = Writer(tx, author, now)
        lost_packs = tuple(code for code in missing if code in loaded.packs)
        writer.add("van_arrived", VanArrived(number, now, packs, vehicles, lost_packs, shelf.strip()), now)
        for code in vehicles:
            vehicle = replace(tx.thing("vehicle", code), standing=VehicleStanding.IN_FLEET, depot=loaded.to_depot)
            writer.add_thing("vehicle", vehicle)
        for code in packs:
            pack = replace(tx.thing("pack", code), standing=PackStanding.IN_SERVICE, depot=loaded.to_depot)
            writer.add_thing("pack", pack)
            if code in loose:
                writer.move(FoundIn(code, None, now, shelf=shelf.strip()))
        told = msg("van.missing", missing=missing) if missing else ""
        return writer.recorded(msg("van.arrived", number=number, to_depot=loaded.to_depot, missing=told))


def van_page(store: Store, clock: Clock, number: str) -> VanPage:
    """One van list for page and paper; EntryRefused for an unknown number."""
    with store.view() as view:
        return _page(store, view, clock(), _loaded(view, number.strip().upper()))


def van_pages(store: Store, clock: Clock, *, only_open: bool = True) -> tuple[VanPage, ...]:
    """Van lists, the newest first; only those that are still under way unless asked otherwise."""
    now = clock()
    with store.view() as view:
        loads: list[VanLoaded] = [e.body for e in reversed(view.records_of("van_loaded"))]  # type: ignore[misc]
        return tuple(_page(store, view, now, one) for one in loads if not only_open or still_open(view, one))


def _held(view: View, subject_class: str, code: str) -> tuple[Message, ...]:
    return tuple(one.reason for one in view.open_holds((subject_class, code)))


def _page(store: Store, view: View, now: dt.datetime, loaded: VanLoaded) -> VanPage:
    arrived = _arrivals(view, loaded.number)
    items = []
    for code in loaded.vehicles:
        kind = word(f"vehicle_kind.{view.thing('vehicle', code).kind.value}")
        bare = not any(line.vehicle == code for line in loaded.lines)
        mark = msg("van.not_dangerous") if bare else msg("van.mark_3556")
        items.append(VanItem(code, word("class.vehicle"), kind, "", msg("event.not_known"), mark, code in arrived,
                             _held(view, "vehicle", code)))  # fmt: skip
    for line in loaded.lines:
        pack: Pack = view.thing("pack", line.pack)
        where = msg("van.fitted_in", vehicle=line.vehicle) if line.vehicle else msg("van.loose")
        mark = msg("van.mark_3556") if line.vehicle else msg("van.mark_3480")
        model = view.thing("pack_model", pack.model).name
        items.append(VanItem(line.pack, word("class.pack"), model, pack.serial, where, mark, line.pack in arrived,
                             _held(view, "pack", line.pack)))  # fmt: skip
    names = {code: depot.name for code, depot in view.things("depot").items()}
    by = next((e.by for e in view.records_of("van_loaded") if e.body.number == loaded.number), "")  # type: ignore[attr-defined]
    return VanPage(
        loaded, view.person_names().get(by, by), tuple(items), names.get(loaded.from_depot, loaded.from_depot),
        names.get(loaded.to_depot, loaded.to_depot), still_open(view, loaded), now, view.position, view.head().root_hex,
        store.fleet_name, store.demo,
    )  # fmt: skip
