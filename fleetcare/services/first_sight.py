"""The board at first sight: of a large fleet, the vehicles that are not plainly ready, and how many plainly ready ones are.

A vehicle is plainly ready when every bay holds a pack in service whose newest check passed within the interval, and
nothing else is known of it or its packs that the rules look at.  Such vehicles are counted where they lie; all others
are read and judged by the same rules as always.  Nothing is said of spares yet.  The whole board follows; a test
holds the two equal.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import fields

from fleetcare.services import board
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.services.session import Clock
from fleetcare.services.shown import FleetSummary
from fleetcare.store import plan_reads
from fleetcare.store.store import Store, View

LARGE = 3000
"""Vehicles from which on the board is shown in two steps; below, the whole is as quick."""

MOST_APART = 4000
"""Above so many vehicles to judge one by one the whole is as quick."""

TOLD_APART = frozenset({
    "trip_judged", "reset", "fuse", "report", "edge_seen", "misfit_seen", "laid_up", "lay_up_ended", "decision",
    "due_extended", "meter_found_out",
})  # fmt: skip
"""Kinds of records by which a pack may be due earlier, later or not at all: packs they name are judged one by one.

Trips do the same; they lie in a table of their own."""


def first_sight(store: Store, clock: Clock, *, large: int = LARGE) -> FleetSummary | None:
    """The board without the plainly ready vehicles, which are counted; None where the whole is as quick or needed."""
    if {f.name for f in fields(FleetFacts)} != board.KNOWN_FACTS:
        return None
    now = clock()
    with store.view() as view:
        count = plan_reads.count_of_vehicles(view)
        if count < large or view.found_out():
            return None
        nothing = read.nothing_known(view)
        apart = plan_reads.vehicles_on_record(view, _apart(view, nothing, now))
        if len(apart) > MOST_APART:
            return None
        packs = frozenset(pack for code in apart for pack, _bay in view.packs_in(code))
        facts = board.facts_since(view, nothing, packs, apart)
        lines = board.Lines(facts, now, spares=False)
        return lines.summary(store, view, now, drafts=True, unread=count - len(apart))


def _apart(view: View, known: FleetFacts, now: dt.datetime) -> set[str]:
    """Codes of the vehicles that are not plainly ready."""
    oldest = now.astimezone(known.zone).date() - dt.timedelta(days=known.site.check_due_days - 1)
    since = dt.datetime.combine(oldest, dt.time(), known.zone)
    packs = plan_reads.packs_not_plainly_good(view, since) | plan_reads.packs_named_by(view, TOLD_APART)
    packs |= plan_reads.packs_that_tripped(view)
    holds = view.open_holds()
    packs |= {hold.subject for hold in holds if hold.subject_class == "pack"}
    vehicles = plan_reads.vehicles_of(view, packs) | plan_reads.vehicles_not_plainly_full(view)
    vehicles |= {hold.subject for hold in holds if hold.subject_class == "vehicle"}
    vehicles |= {one.vehicle for one in known.away}
    return vehicles
