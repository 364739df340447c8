"""Trips as they stand today: each with its newest judgement, its last charger and its reset."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from fleetcare.domain import limits
from fleetcare.domain.checks import HoldClass, Trip
from fleetcare.domain.intake import Report
from fleetcare.domain.packs import Level, Pack, Person, ServiceNotes, SiteRules
from fleetcare.domain.trips import (
    Allowance,
    Reset,
    ResetFacts,
    Tally,
    TripJudged,
    TripSeen,
    allowance,
    tallies,
    within,
)
from fleetcare.services.session import Clock
from fleetcare.services.standing import known_pack
from fleetcare.store.store import Store, View


def trips_seen(view: View) -> list[TripSeen]:
    """All trips of the fleet, oldest first."""
    judged: dict[str, TripJudged] = {}
    for event in view.records_of("trip_judged"):
        assert isinstance(event.body, TripJudged)
        judged[event.body.trip] = event.body
    chargers: dict[str, str] = {}
    for event in view.records_of("report"):
        assert isinstance(event.body, Report)
        if event.body.trip is not None:
            chargers[event.body.trip] = event.body.charger
    resets = {event.body.trip for event in view.records_of("reset") if isinstance(event.body, Reset)}
    found = []
    for event in view.trips():
        trip = event.body
        assert isinstance(trip, Trip)
        later = judged.get(event.record_id)
        found.append(
            TripSeen(
                record_id=event.record_id,
                pack=trip.pack,
                vehicle=trip.vehicle,
                done_at=event.done_at,
                cause=later.cause if later else trip.cause,
                explained=later.explained if later else trip.explained,
                judged_by=later.judged_by if later else event.by if trip.explained else "",
                charger=chargers.get(event.record_id, ""),
                found_outside=later.found_outside if later else "",
                reset=event.record_id in resets,
                mended=later.mended if later else "",
                reported_by=event.by,
                reason=later.reason if later else "",
            )
        )
    return found


def reset_allowance(view: View, pack: Pack, person: Person | None, today: dt.date, site: SiteRules) -> Allowance:
    """Whether `person` may reset `pack` on `today`; nobody signed in has no level."""
    model = view.thing("pack_model", pack.model)
    latest = view.latest_checks([pack.code]).get(pack.code)
    kept: Person | None = None if person is None else view.thing("person", person.code)
    levels = [one.level_on(today) for one in (person, kept) if one is not None]
    facts = ResetFacts(
        level=min(levels, key=list(Level).index, default=Level.NONE),
        method=model.reset_note,
        danger=any(h.hold_class is HoldClass.DANGER for h in view.open_holds(("pack", pack.code))),
        rested_v=latest.rested_v if latest else None,
        rested_at=latest.done_at if latest else None,
        low_hold_v=limits.resolve(model, site).volts("low_hold").value,
    )
    return allowance(pack.code, trips_seen(view), facts, site, today)


@dataclass(frozen=True, slots=True)
class TalliesPage:
    """The cross-table: tallies with what stands out first, and each trip behind them, newest first."""

    tallies: tuple[Tally, ...]
    trips: tuple[TripSeen, ...]
    names: dict[str, str]
    window_days: int
    as_of: dt.datetime


def tallies_page(store: Store, clock: Clock) -> TalliesPage:
    """All trips of the window that ends today, counted against packs, vehicles and chargers."""
    now = clock()
    with store.view() as view:
        site = view.thing("site_rules", "SITE") or SiteRules()
        trips = trips_seen(view)
        counted = tallies(trips, now.date(), site)
        recent = within(trips, now.date(), site.trip_window_days)
        return TalliesPage(counted, tuple(reversed(recent)), view.person_names(), site.trip_window_days, now)


@dataclass(frozen=True, slots=True)
class PackTrips:
    """One pack's trips of the window with both tallies, and whether this person may reset it now."""

    pack: str
    vehicle: str | None
    trips: tuple[TripSeen, ...]
    tallies: tuple[Tally, ...]
    allowance: Allowance
    reset_note: str
    wake_note: str
    by_job: bool = False
    """True where the maker's way is the guided reset."""
    names: dict[str, str] = field(default_factory=dict)
    """Names of people by their code."""
    shelf: str = ""
    """Where it was put when it is in no vehicle."""


def by_guided_job(view: View, pack: Pack) -> bool:
    """True where the maker of this pack resets it by removing and re-seating a fuse: only the guided job may do that."""
    notes: ServiceNotes | None = view.thing("service_notes", pack.model)
    return notes is not None and notes.reset_by_fuse


def pack_trips(store: Store, clock: Clock, code: str, person: Person | None) -> PackTrips:
    """What the trips page shows of one pack; EntryRefused for an unknown code."""
    now = clock()
    with store.view() as view:
        pack = known_pack(view, code)
        site = view.thing("site_rules", "SITE") or SiteRules()
        trips = trips_seen(view)
        mine = within([t for t in trips if t.pack == code], now.date(), site.trip_window_days)
        about = {("pack", code)} | {(c, s) for t in mine for c in ("vehicle", "charger") if (s := getattr(t, c))}
        model = view.thing("pack_model", pack.model)
        placed = view.placement_of(code)
        return PackTrips(
            code,
            placed.vehicle if placed else None,
            tuple(reversed(mine)),
            tuple(t for t in tallies(trips, now.date(), site) if (t.subject_class, t.subject) in about),
            reset_allowance(view, pack, person, now.date(), site),
            model.reset_note,
            model.wake_note,
            by_guided_job(view, pack),
            view.person_names(),
            placed.shelf if placed else "",
        )
