"""What changed on the board since a person last looked: by what others recorded, by a rule, and by the calendar alone."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fleetcare.domain.packs import SiteRules
from fleetcare.domain.status import BoardState, VehicleStatus
from fleetcare.services import facts as read
from fleetcare.services.board import KEPT_KINDS, statuses_at
from fleetcare.services.facts import FleetFacts
from fleetcare.services.session import Clock
from fleetcare.services.shown import FleetSummary
from fleetcare.store.store import Store

MOST_COMPARED = 2000
"""Above so many touched vehicles only those that are not ready now are compared; the answer says so."""
FIRST_LOOK = dt.timedelta(hours=12)
"""How far back somebody looks who never said that they had seen the board (one shift; proposal)."""


@dataclass(frozen=True, slots=True)
class Changed:
    """One vehicle whose state or leading reason is another now; `was` is None for a vehicle that is new.

    `by` and `at` are of the last record about it; "" and None where only the calendar moved.  `by_rule` is True where
    nobody touched it and the site's rules of then would still show it otherwise: `by` is who changed them.
    """

    vehicle: str
    was: VehicleStatus | None
    now: VehicleStatus
    by: str = ""
    at: dt.datetime | None = None
    by_rule: bool = False


@dataclass(frozen=True, slots=True)
class SinceSeen:
    """Everything that changed after `since`, the worst first; `position` is what is seen once it is ticked off.

    `only_not_ready` where too much was recorded since to compare what is ready now.
    """

    since: dt.datetime
    position: int
    changed: tuple[Changed, ...]
    only_not_ready: bool = False


class Before:
    """How vehicles stood at one earlier position and moment; kept while the same is asked again.  For several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked: tuple[object, ...] = ()
        self._found: dict[str, VehicleStatus | None] = {}

    def of(
        self, store: Store, position: int, since: dt.datetime, codes: set[str], facts: FleetFacts
    ) -> dict[str, VehicleStatus]:
        """The states of those of `codes` that were there."""
        asked = (position, since, facts.site, facts.models, facts.people, facts.depots, facts.notes, facts.covered)
        with self._lock:
            if asked != self._asked:
                self._asked, self._found = asked, {}
            fresh = codes - self._found.keys()
            if fresh and position:
                with store.view(position) as then:
                    found = statuses_at(then, facts, fresh, since)
                self._found |= {code: found.get(code) for code in fresh}
            return {code: one for code in codes if (one := self._found.get(code)) is not None}


def since_seen(
    store: Store, clock: Clock, person: str, fleet: FleetSummary, facts: FleetFacts, before: Before | None = None
) -> SinceSeen:
    """What changed for `person`, up to the board `fleet` that was read from `facts`; `before` may be used again."""
    now = clock()
    zone = facts.zone
    with store.view() as view:
        seen = view.seen_by(person)
        if seen is None:
            since = now.replace(second=0, microsecond=0) - FIRST_LOOK
            position = view.position_at(since)
        else:
            position, since = seen
        touched = view.touched_since(position)
        wide = not view.kinds_since(position) <= KEPT_KINDS
    lines = {line.vehicle.code: line for line in fleet.vehicles}
    around = set(touched.vehicles)
    for pack in touched.packs:
        placed = facts.placements.get(pack)
        if placed is not None and placed.vehicle is not None:
            around.add(placed.vehicle)
    asked = {line.vehicle.code for line in fleet.vehicles if line.status.state is not BoardState.READY}
    compared = set(lines) if wide else around & lines.keys()
    too_many = len(compared) > MOST_COMPARED
    if not too_many:
        asked |= compared
    were = (before or Before()).of(store, position, since, asked, facts)
    changed = [code for code in asked if _told(were.get(code)) != _told(lines[code].status)]
    old_site = None
    if wide and position:
        with store.view(position) as then:
            old_site = then.thing("site_rules", "SITE")
    with store.view() as view:
        names = view.person_names()
        ruled = _ruled(facts, old_site, set(changed) - around, now)
        found = []
        for code in changed:
            subjects = (
                [("vehicle", code), *(("pack", pack.code) for pack in lines[code].packs)] if code in around else []
            )
            subjects += [("site_rules", "SITE")] if code in ruled else []
            touches = [touch for one in subjects if (touch := view.last_touch(*one)) is not None]
            last_at, last = max(touches, key=lambda one: one[0], default=(0, None))
            at, by = None, ""
            if last is not None and last_at > position:
                at, by = last.entered_at.astimezone(zone), names.get(last.by, last.by)
            found.append(Changed(code, were.get(code), lines[code].status, by, at, bool(by) and code in ruled))
    order = {line.vehicle.code: number for number, line in enumerate(fleet.vehicles)}
    found.sort(key=lambda one: order[one.vehicle])
    return SinceSeen(since.astimezone(zone), fleet.position, tuple(found), too_many)


def _ruled(facts: FleetFacts, old: SiteRules | None, codes: Iterable[str], now: dt.datetime) -> set[str]:
    """Those of `codes` that would stand otherwise now, had the site's rules not been changed since they were `old`."""
    if old is None or old == facts.site:
        return set()
    as_before = replace(facts, site=old)
    found = set()
    for code in codes:
        both = [
            read.vehicle_status(
                one, one.vehicles[code], tuple(read.pack_status(one, p, now) for p in one.packs_in(code))
            )
            for one in (as_before, facts)
        ]
        if _told(both[0]) != _told(both[1]):
            found.add(code)
    return found


def _told(status: VehicleStatus | None) -> tuple[object, ...] | None:
    """What counts as a change: the state, and the leading reason without its day count."""
    if status is None:
        return None
    lead = status.reasons[0] if status.reasons else None
    return (
        (status.state, None) if lead is None else (status.state, (lead.hold_class, lead.hold_id or lead.next_step.key))
    )


def mark_seen(store: Store, clock: Clock, person: str, position: int) -> None:
    """The person says that they have seen the board up to `position`."""
    now = clock()
    with store.transaction() as tx:
        tx.keep_seen(person, position, now)
