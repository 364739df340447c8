"""What the projections see coming, read into the plan as records, so that a due day moves only by what is on record.

A projection is read on a day, by somebody, and kept: the same file gives the same due days on every PC, and "as of"
an earlier day the day that was told then.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.inspection_plans import EdgeSeen, MisfitSeen
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import msg
from fleetcare.services import facts as read
from fleetcare.services import record
from fleetcare.services.conditions import STORED, misfits_seen
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.storage import stored_pack
from fleetcare.services.suspects import suspects_of, to_measure_again
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

BATCH_PACKS = 500


@dataclass(frozen=True, slots=True)
class EdgesRead:
    """When projections were last read into the plan, and how many packs have newer checks."""

    on: dt.date | None
    newer: int


def edges_read(store: Store) -> EdgesRead:
    """How fresh the projections in the plan are."""
    with store.view() as view:
        newest = max((event.done_at for event in view.records_of("told", ("plan", "EDGES"))), default=None)
        latest = view.latest_checks()
        newer = sum(newest is None or one.done_at > newest for one in latest.values())
        return EdgesRead(None if newest is None else newest.date(), newer)


def read_edges(store: Store, clock: Clock, author: Author) -> Recorded:
    """Project every pack in service and keep each early edge that is near, came nearer, or is no longer in sight.

    Kept as well: the newest reading of each that does not fit it and waits to be measured again, or that none does.
    """
    from fleetcare.services.fleet_outlook import outlook_of  # SciPy: not before it is asked for
    from fleetcare.services.outlook import PackHistory, pack_projections

    now = clock()
    found: list[EdgeSeen] = []
    misfits: list[MisfitSeen] = []
    with store.view() as view:
        record.may_check(author, now, view)
        facts = read.read_facts(view)
        outlook = outlook_of(store, view, facts, now, at_position=False)
        packs = sorted(code for code, one in facts.packs.items() if one.standing is PackStanding.IN_SERVICE)
        for start in range(0, len(packs), BATCH_PACKS):
            part = packs[start : start + BATCH_PACKS]
            histories = [PackHistory(p, facts.models[facts.packs[p].model], view.checks_of(p)) for p in part]
            answers = pack_projections(outlook, histories, facts.site, now, fans=False)
            for code, projections in zip(part, answers, strict=True):
                found += _edges(code, projections, now, view.day(now))
                misfits.append(_misfit(view, code, projections, now))
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        known = _standing(tx)
        writer = Writer(tx, author, now)
        changed = [one for one in found if _is_news(one, known.get((one.pack, one.quantity)), tx.day(now))]
        for one in changed:
            writer.add("edge_seen", one, now)
        waiting = misfits_seen(tx)
        for seen in misfits:
            if seen.check != (waiting[seen.pack].check if seen.pack in waiting else ""):
                writer.add("misfit_seen", seen, now)
        open_ = sum(seen.read_on is not None for seen in misfits)
        told = msg("plan.edges_read", packs=len(packs), count=len(changed), misfits=open_)
        writer.add("told", record.Told("plan", "EDGES", "plan", told), now)
        return writer.recorded(told)


def _edges(code: str, projections: tuple[Projection, ...], now: dt.datetime, today: dt.date) -> list[EdgeSeen]:
    return [
        EdgeSeen(
            code, one.quantity, now, today if one.already_beyond else one.crossing_p10, one.comparable_checks,
            one.engine,
        )
        for one in projections
        if one.projected
    ]  # fmt: skip


def _misfit(view: View, code: str, projections: tuple[Projection, ...], now: dt.datetime) -> MisfitSeen:
    open_ = to_measure_again(suspects_of(code, projections), now)
    engine = projections[0].engine
    if not open_:
        return MisfitSeen(code, now, "", None, engine)
    newest = open_[0].reading
    return MisfitSeen(code, now, newest.check_id, view.day(newest.done_at), engine)


def _standing(view: View) -> dict[tuple[str, str], EdgeSeen]:
    found = {}
    for event in view.records_of("edge_seen"):
        assert isinstance(event.body, EdgeSeen)
        found[event.body.pack, event.body.quantity] = event.body
    return found


NEAR_DAYS = 91
"""Edges further away than a quarter are not kept: they tighten nothing (proposal)."""


def _is_news(seen: EdgeSeen, known: EdgeSeen | None, today: dt.date) -> bool:
    """A near edge that is new or moved, or one that was near and no longer is."""
    near = seen.early_date is not None and seen.early_date <= today + dt.timedelta(days=NEAR_DAYS)
    was = None if known is None else known.early_date
    return near if was is None else seen.early_date != was


def note_storage(store: Store, clock: Clock, author: Author, code: str) -> Recorded | None:
    """Keep whether a laid-up pack loses volts faster than is usual; None where nothing new is to be kept."""
    now = clock()
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        facts = read.read_facts(tx)
        found = stored_pack(tx, facts, code, now)
        if found.rate.refusal is not None:
            return None
        early = (found.reaches[0] or tx.day(now)) if found.leaks else None
        known = _standing(tx).get((code, STORED))
        if (None if known is None else known.early_date) == early:
            return None
        writer = Writer(tx, author, now)
        writer.add("edge_seen", EdgeSeen(code, STORED, now, early, len(found.rate.used), "storage-1"), now)
        return writer.recorded(msg("plan.storage_noted", pack=code))
