"""Holds that follow from trips counted together: the pack, the vehicle or the charger."""

from __future__ import annotations

from collections.abc import Mapping

from fleetcare.domain import trips
from fleetcare.domain.checks import Hold
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message
from fleetcare.services.standing import hold_by_rule, said
from fleetcare.services.trip_facts import trips_seen
from fleetcare.services.writing import Writer
from fleetcare.store.store import Transaction


def hold_by_count(tx: Transaction, writer: Writer, trip_id: str) -> list[Message]:
    """Hold pack, vehicle or charger where the trips counted together say so; returns what was held."""
    seen = trips_seen(tx)
    trip = next(t for t in seen if t.record_id == trip_id)
    site = tx.thing("site_rules", "SITE") or SiteRules()
    asked: list[tuple[str, str | None, Ruling]] = []
    own = trips.pack_ruling(trip, seen, site)
    if own is not None:
        asked.append(("pack", trip.pack, own))
    shared: Mapping[str, Ruling] = trips.shared_rulings(trip, seen, site)
    asked += [(cls, getattr(trip, cls), ruling) for cls, ruling in shared.items()]
    held: list[Message] = []
    for subject_class, subject, ruling in asked:
        assert subject is not None
        hold = Hold(subject_class, subject, ruling.hold_class, trip.done_at, ruling.reason, cause=trip_id)
        if hold_by_rule(tx, writer, ruling, hold):
            held.append(said(hold))
    return held
