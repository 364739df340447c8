"""The board: every vehicle's line, made whole or kept up to date by re-reading only what changed.

`Board` is a cache of what `whole` reads; it can be made again at any time and is tested against it.
"""

from __future__ import annotations

import bisect
import datetime as dt
import gc
import threading
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import fields, replace
from typing import Any

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.freeing import Carry, Lack, Spare
from fleetcare.domain.packs import Vehicle, VehicleStanding
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.status import BoardState, PackStatus, VehicleStatus, bare
from fleetcare.domain.wording import Message, word
from fleetcare.services import conditions, freeing
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.services.session import Clock
from fleetcare.services.shown import FleetSummary, VehicleSummary
from fleetcare.store.store import Store, View

RENEW_WHOLE = dt.timedelta(minutes=10)
"""After so long the board is read whole again, whatever changed."""

MOST_AT_ONCE = 2000
"""Above so many changed packs and vehicles the whole is read."""

LASTING = 3000
"""Above so many vehicles what the board rests on is kept out of every later search for garbage, which would be slow."""

KNOWN_FACTS = frozenset({
    "site", "models", "packs", "vehicles", "people", "placements", "latest", "pack_holds", "vehicle_holds", "zone",
    "by_vehicle", "left_for", "doubted", "depots", "last_in", "decided", "extended",
    "conditions", "laid_up", "returned", "left_at", "covered", "bays", "notes", "charged", "away",
})  # fmt: skip
"""The fields of FleetFacts that `facts_since` keeps; with any other the whole is read."""

KEPT_KINDS = frozenset({
    "thing:vehicle", "thing:pack", "voltage_check", "check_corrected", "look_over", "trip", "hold", "release",
    "found_in", "told", "report", "trip_judged", "reset", "quarantine_look", "collected", "fuse", "walk",
    "guided_job", "charged_on", "read_twice", "label_issued", "label_printed", "commissioned", "sheets_issued",
    "sheet_line", "fingerprint_lodged", "policy_condition", "at_work", "decision", "due_extended", "thing:charger",
    "thing:test_load", "edge_seen", "misfit_seen", "inspection_done", "absence", "thing:roster",
})  # fmt: skip
"""Kinds of records that touch no other pack or vehicle than those they name; after any other the whole is read."""

Key = tuple[int, int, str]
_STATE_ORDER = (BoardState.GROUNDED, BoardState.LIMITED, BoardState.READY_BUT_DUE, BoardState.READY)
_LAST = _STATE_ORDER.index(BoardState.READY)
_CLASS_ORDER = (HoldClass.DANGER, HoldClass.FAULT, HoldClass.UNKNOWN, HoldClass.ACTION_DUE)


def whole(store: Store, clock: Clock, position: int | None = None) -> FleetSummary:
    """The whole board, at `position` (None: now)."""
    now = clock()
    with store.view(position) as view:
        facts = read.read_facts(view)
        return Lines(facts, now).summary(store, view, now, drafts=position is None)


def line_of(facts: FleetFacts, vehicle: str, now: dt.datetime) -> VehicleSummary:
    """The line of one vehicle as the whole board shows it."""
    return Lines(facts, now).lines[vehicle]


def worst_first(line: VehicleSummary) -> Key:
    """Grounded, limited, due, ready; within each danger, fault, unknown, action due; then by code."""
    reasons = line.status.reasons
    if line.status.state is BoardState.READY and not reasons:
        return _LAST, len(_CLASS_ORDER), line.vehicle.code
    kind = _CLASS_ORDER.index(reasons[0].hold_class) if reasons else len(_CLASS_ORDER)
    return _STATE_ORDER.index(line.status.state), kind, line.vehicle.code


def _here(line: VehicleSummary) -> bool:
    """True for a vehicle that stands in the counts: one that is here, or that must not be out although it is."""
    if line.vehicle.standing is not VehicleStanding.IN_FLEET:
        return False
    return line.away is None or any(reason.hold_class is HoldClass.DANGER for reason in line.status.reasons)


class Lines:
    """The lines of all vehicles of one set of facts on one day; without `spares` nothing is said of what frees one."""

    def __init__(self, facts: FleetFacts, now: dt.datetime, *, spares: bool = True) -> None:
        self.facts, self._now, self._with_spares = facts, now, spares
        self.states: dict[str, PackStatus] = {}
        self.lines: dict[str, VehicleSummary] = {}
        self._keys: list[Key] = []
        self._lacks: dict[str, tuple[BoardState, Lack | Message]] = {}
        self._spares: dict[str, Spare] = {}
        self._plan: dict[str, tuple[Carry, ...]] = {}
        self._releasers = read.releasers(facts, now.date())
        self._away = facts.away_on(now.astimezone(facts.zone).date())
        self.states = read.pack_states(facts, now)
        for code, state in self.states.items():
            placed = facts.placements.get(code)
            if placed is None or placed.vehicle is None:
                self._note_spare(code, state)
        for code, status in read.vehicle_states(facts, self.states).items():
            self.lines[code] = self._line(facts.vehicles[code], status)
        if spares:
            self._offer()
        self._keys = sorted(worst_first(line) for line in self.lines.values() if _here(line))

    def renew(self, facts: FleetFacts, now: dt.datetime, packs: Collection[str], vehicles: Collection[str]) -> None:
        """Take over facts in which only these packs and vehicles changed."""
        touched = set(vehicles)
        for code in packs:
            for known in (self.facts, facts):
                placed = known.placements.get(code)
                if placed is not None and placed.vehicle is not None:
                    touched.add(placed.vehicle)
        self.facts, self._now = facts, now
        before = (dict(self._lacks), dict(self._spares))
        for code in packs:
            if code in facts.packs:
                self.states[code] = read.pack_status(facts, code, now)
                self._note_spare(code, self.states[code])
        for code in touched & facts.vehicles.keys():
            old = self.lines.get(code)
            self._lacks.pop(code, None)
            vehicle = facts.vehicles[code]
            states = tuple(self.states[pack] for pack in facts.packs_in(code))
            self._place(old, self._line(vehicle, read.vehicle_status(facts, vehicle, states)))
        if before != (self._lacks, self._spares):
            self._offer()
        else:
            self._offer_again(touched)

    def _note_spare(self, code: str, state: PackStatus) -> None:
        spare = freeing.spare_of(self.facts, code, state)
        if spare is None:
            self._spares.pop(code, None)
        else:
            self._spares[code] = spare

    def _line(self, vehicle: Vehicle, state: VehicleStatus) -> VehicleSummary:
        packs = tuple([self.states[code] for code in self.facts.packs_in(vehicle.code)])
        away = self._away.get(vehicle.code)
        if state.state is BoardState.READY:
            return VehicleSummary(vehicle, state, packs, away=away)
        lack = freeing.lack_of(self.facts, vehicle, state, packs) if self._with_spares and away is None else None
        if lack is not None:
            self._lacks[vehicle.code] = (state.state, lack)
        return VehicleSummary(vehicle, state, packs, self._may_clear(state), away=away)

    def _may_clear(self, state: VehicleStatus) -> tuple[str, ...]:
        """Who may clear what stands against a vehicle; danger is nobody's here, but for a recall whose remedy is done."""
        if state.state is BoardState.READY_BUT_DUE:
            return ()
        danger = [bare(reason.text) for reason in state.reasons if reason.hold_class is HoldClass.DANGER]
        if danger:
            return (word("clear.after_remedy" if all(map(by_recall, danger)) else "clear.maker_only"),)
        return self._releasers

    def _offer(self) -> None:
        """Solve all lacks together and say on each line what came of it."""
        asking: list[tuple[BoardState, Lack]] = []
        for code in sorted(self._lacks, key=lambda one: worst_first(self.lines[one])):
            state, lack = self._lacks[code]
            if isinstance(lack, Lack):
                asking.append((state, lack))
        self._plan = freeing.solve(self.facts, asking, self._spares.values())
        self._said = freeing.Offers(self.facts, self._spares, self._plan)
        self._offer_again(self._lacks)

    def _offer_again(self, codes: Iterable[str]) -> None:
        for code in codes:
            found = self._lacks.get(code)
            if found is None:
                continue
            lack = found[1]
            offers, why = self._said.of(lack) if isinstance(lack, Lack) else ((), lack)
            line = self.lines[code]
            if (line.offers, line.no_offer) != (offers, why):
                self.lines[code] = replace(line, offers=offers, no_offer=why)

    def _place(self, old: VehicleSummary | None, new: VehicleSummary) -> None:
        """Put a newer line where it belongs in the order."""
        self.lines[new.vehicle.code] = new
        before = worst_first(old) if old is not None and _here(old) else None
        key = worst_first(new) if _here(new) else None
        if before == key:
            return
        if before is not None:
            del self._keys[bisect.bisect_left(self._keys, before)]
        if key is not None:
            bisect.insort(self._keys, key)

    def summary(self, store: Store, view: View, now: dt.datetime, *, drafts: bool, unread: int = 0) -> FleetSummary:
        """The board as it is shown; `unread` more vehicles are known to be ready."""
        counts = {state: 0 for state in BoardState}
        for key in self._keys:
            counts[_STATE_ORDER[key[0]]] += 1
        counts[BoardState.READY] += unread
        names = view.person_names()
        kept = view.drafts() if drafts else []
        at_work = read.at_work(view, now.astimezone(self.facts.zone).date())
        out = {*self._away, *(one.code for one in self.facts.away_vehicles())} & self.lines.keys()
        return FleetSummary(
            tuple([self.lines[key[2]] for key in self._keys]),
            counts,
            now,
            view.position,
            view.head().root_hex,
            store.fleet_name,
            store.demo,
            self.facts.site.stale_board_minutes,
            tuple((names.get(d.person, d.person), d.subject, d.saved_at.astimezone(self.facts.zone)) for d in kept),
            depots=tuple(sorted((depot.code, depot.name) for depot in self.facts.depots.values())),
            at_work=None if at_work is None else tuple(sorted(names.get(code, code) for code in at_work)),
            away=self.facts.away_vehicles(),
            hired=tuple(
                self._away[code] for code in sorted(self._away) if code in self.lines and not _here(self.lines[code])
            ),
            elsewhere=tuple(self.lines[code] for code in sorted(out) if not _here(self.lines[code])),
            unread=unread,
        )


WEEK_DAYS = 7
"""How far ahead the board names what falls due."""


def week_ahead(fleet: FleetSummary) -> tuple[tuple[dt.date, tuple[str, ...]], ...]:
    """Vehicles whose check falls due within seven days, by day; what is due or overdue already stands under its day."""
    last = fleet.as_of.date() + dt.timedelta(days=WEEK_DAYS)
    by_day: dict[dt.date, list[str]] = {}
    for line in fleet.vehicles:
        if line.status.due_on is not None and line.status.due_on <= last:
            by_day.setdefault(line.status.due_on, []).append(line.vehicle.code)
    return tuple((day, tuple(sorted(by_day[day]))) for day in sorted(by_day))


def on_fewer_packs(fleet: FleetSummary) -> tuple[VehicleSummary, ...]:
    """Vehicles that may go out on fewer packs than they have bays."""
    return tuple(line for line in fleet.vehicles if line.status.state is BoardState.LIMITED)


class Board:
    """The board of one open fleet, kept between readings.  Safe to read from several threads."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store, self._clock = store, clock
        self._lock = threading.Lock()
        self._lines: Lines | None = None
        self._position = 0
        self._read_at = dt.datetime.min.replace(tzinfo=dt.UTC)

    def read(self) -> FleetSummary:
        """The board now.  Only what changed since the last reading is read again, where that is certain to be all."""
        now = self._clock()
        with self._lock, self._store.view() as view:
            if not self._follow(view, now):
                with _undisturbed():
                    self._lines = Lines(read.read_facts(view), now)
                    if len(self._lines.lines) > LASTING:
                        gc.freeze()  # it lasts: no later search for garbage goes through it
                self._read_at = now
            self._position = view.position
            assert self._lines is not None
            return self._lines.summary(self._store, view, now, drafts=True)

    @property
    def facts(self) -> FleetFacts | None:
        """What the last reading rested on, or None before the first."""
        return None if self._lines is None else self._lines.facts

    def _follow(self, view: View, now: dt.datetime) -> bool:
        """Bring the lines up to date from what records since then touched; False where that is not certain."""
        lines = self._lines
        if lines is None or not dt.timedelta(0) <= now - self._read_at < RENEW_WHOLE:
            return False
        zone = lines.facts.zone
        if now.astimezone(zone).date() != self._read_at.astimezone(zone).date():
            return False
        if view.position == self._position:
            return True
        if not view.kinds_since(self._position) <= KEPT_KINDS or {f.name for f in fields(FleetFacts)} != KNOWN_FACTS:
            return False
        touched = view.touched_since(self._position)
        if len(touched.packs) + len(touched.vehicles) > MOST_AT_ONCE:
            return False
        lines.renew(
            facts_since(view, lines.facts, touched.packs, touched.vehicles), now, touched.packs, touched.vehicles
        )
        return True


@contextmanager
def _undisturbed() -> Iterator[None]:
    """No search for garbage while hundreds of thousands of lasting objects are made.

    The switch is the whole process's, so only the main thread touches it: another one would turn on again what a window
    has turned off meanwhile.
    """
    on = gc.isenabled() and threading.current_thread() is threading.main_thread()
    if on:
        gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def facts_since(view: View, old: FleetFacts, packs: frozenset[str], vehicles: frozenset[str]) -> FleetFacts:
    """`old` with everything about these packs and vehicles read again."""
    placements, latest = dict(old.placements), dict(old.latest)
    pack_holds, vehicle_holds = dict(old.pack_holds), dict(old.vehicle_holds)
    by_vehicle, left_for, last_in = dict(old.by_vehicle), dict(old.left_for), dict(old.last_in)
    bays = dict(old.bays)
    doubted, left_at = dict(old.doubted), dict(old.left_at)
    newest: dict[str, dict[str, Any]] = {"decision": dict(old.decided), "due_extended": dict(old.extended)}
    names = view.person_names()
    around = set(vehicles)
    things: dict[str, dict[str, Any]] = {"pack": dict(old.packs), "vehicle": dict(old.vehicles)}
    fresh = view.latest_checks(packs)
    for code in packs:
        placed = view.placement_of(code)
        for known in (old.placements.get(code), placed):
            if known is not None and known.vehicle is not None:
                around.add(known.vehicle)
        _put(placements, code, placed)
        _put(latest, code, fresh.get(code))
        _put(pack_holds, code, tuple(read.open_hold(hold) for hold in view.open_holds(("pack", code))))
        doubted.pop(code, None)
        for kind, found in newest.items():
            events = view.records_of(kind, ("pack", code))
            _put(found, code, (events[-1].body, names.get(events[-1].by, events[-1].by)) if events else None)
    for code, one in read.at_bench(view, fresh, {code: pack_holds.get(code, ()) for code in packs}).items():
        latest[code] = one
    mine = view.doubted_packs(fresh)
    doubted |= mine
    tightened = {code: one for code, one in old.conditions.items() if code not in packs}
    tightened |= conditions.conditions(view, old.site, fresh, mine, packs)
    charges = {code: one for code, one in old.charged.items() if code not in packs}
    charges |= read.charged(view, placements, fresh)
    away, returned = old.laid_up, old.returned
    if packs & (away.keys() | returned.keys()) or not old.packs:
        away, returned = conditions.lay_ups(view, old.site)
    for subject_class, codes in (("pack", packs), ("vehicle", around)):
        for code in codes:
            _put(things[subject_class], code, view.thing(subject_class, code))
    for code in around:
        inside = view.packs_in(code)
        _put(by_vehicle, code, tuple(pack for pack, _bay in inside))
        _put(bays, code, tuple(bay for _pack, bay in inside))
        _put(vehicle_holds, code, tuple(read.open_hold(hold) for hold in view.open_holds(("vehicle", code))))
        left_for.pop(code, None)
        left_at.pop(code, None)
        last_in.pop(code, None)
    empty = [code for code in around if code not in by_vehicle]
    short = [
        code
        for code in around
        if code in things["vehicle"] and len(by_vehicle.get(code, ())) < things["vehicle"][code].bays
    ]
    return replace(
        old, packs=things["pack"], vehicles=things["vehicle"], placements=placements, latest=latest,
        pack_holds=pack_holds, vehicle_holds=vehicle_holds, by_vehicle=by_vehicle, left_for=left_for | view.left_for(empty),
        last_in=last_in | view.last_packs_of(empty), doubted=doubted,
        left_at=left_at | view.left_at(short), bays=bays, decided=newest["decision"], extended=newest["due_extended"], conditions=tightened,
        laid_up=away, returned=returned, charged=charges,
    )  # fmt: skip


def statuses_at(view: View, known: FleetFacts, codes: Iterable[str], moment: dt.datetime) -> dict[str, VehicleStatus]:
    """The states of some vehicles as known at the view's position, at `moment`; only they are read."""
    nothing = read.without_things(known, view.thing("site_rules", "SITE") or known.site)
    there = {code: view.thing("vehicle", code) for code in codes}
    vehicles = frozenset(code for code, vehicle in there.items() if vehicle is not None)
    packs = frozenset(pack for code in vehicles for pack, _bay in view.packs_in(code))
    facts = facts_since(view, nothing, packs, vehicles)
    found = {}
    for code in vehicles:
        states = tuple(read.pack_status(facts, pack, moment) for pack in facts.packs_in(code))
        found[code] = read.vehicle_status(facts, facts.vehicles[code], states)
    return found


def _put(known: dict[str, Any], code: str, value: Any) -> None:
    if value:
        known[code] = value
    else:
        known.pop(code, None)
