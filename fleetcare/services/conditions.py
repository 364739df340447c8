"""What tightens the interval of each pack, and which packs are put away: read once for the whole fleet.

Board, plan, paper and the sentence after a save read the same values, so that a pack has one due day everywhere.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from fleetcare.domain import laying_up
from fleetcare.domain.checks import VoltageCheck
from fleetcare.domain.due import Condition, Edge, Strain
from fleetcare.domain.fuses import FuseWork
from fleetcare.domain.inspection_plans import EdgeSeen, MisfitSeen
from fleetcare.domain.intake import Report
from fleetcare.domain.laying_up import LaidUp, LayUpEnded
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.status import Rest
from fleetcare.domain.trips import Reset
from fleetcare.domain.verdicts import Verdict, VerdictLevel
from fleetcare.domain.wording import msg
from fleetcare.store import plan_reads
from fleetcare.store.store import View
from fleetcare.store.values import LatestCheck

STORED = "stored_v"
"""The quantity of a reading in storage; it moves the looks of a laid-up pack and nothing else."""

PASSES = frozenset((VerdictLevel.PASS, VerdictLevel.WATCH))
"""Levels at which a valid check is a passed one."""

READ_BACK_DAYS = 90
"""Trips, resets, fuse work and reports older than this no longer tighten anything (the trip window is shorter)."""


def conditions(
    view: View,
    site: SiteRules,
    latest: Mapping[str, LatestCheck],
    doubted: Mapping[str, str],
    only: Iterable[str] | None = None,
) -> dict[str, Condition]:
    """The condition of every pack (of `only`, when given) that has one; a pack without an entry is ordinary."""
    chosen = None if only is None else set(only)
    strains, counts = _strains(view, latest, site, chosen)
    edges, misfits = edges_seen(view), misfits_seen(view)
    found: dict[str, Condition] = {}
    for code in latest if chosen is None else chosen & latest.keys():
        newest = latest[code]
        watching = newest.level is VerdictLevel.WATCH
        near = newest.level is VerdictLevel.TOO_NEAR
        edge = edges.get(code)
        misfit_on = _misfit_on(view, misfits[code], newest) if code in misfits else None
        if not (watching or near or code in strains or code in counts or edge or code in doubted or misfit_on):
            continue
        trips, resets = counts.get(code, (0, 0))
        happened = sorted(strains.get(code, ()), key=lambda one: one[1])
        in_doubt = code in doubted and newest.last_valid is not None
        found[code] = Condition(
            watches=plan_reads.watches_in_a_row(view, code) if watching else 0,
            trips=trips,
            resets=resets,
            strains=tuple((strain, view.day(at)) for strain, at in happened),
            edge=edge,
            near_on=view.day(newest.done_at) if near else None,
            misfit_on=misfit_on,
            doubt_on=view.day(newest.last_valid) if in_doubt and newest.last_valid is not None else None,
            strained_at=view.local(happened[0][1]) if happened else None,
        )
    return found


def after_check(view: View, site: SiteRules, check: VoltageCheck, verdict: Verdict) -> Condition:
    """The pack's condition as it stands once `check`, valid and judged so, is its newest one."""
    before = view.latest_checks([check.pack]).get(check.pack)
    saved = before is not None and before.done_at == check.done_at
    watching = verdict.level is VerdictLevel.WATCH
    earlier = plan_reads.watches_in_a_row(view, check.pack) if watching else 0
    passed = verdict.level in PASSES
    newest = LatestCheck(
        0, check.done_at, verdict.level, check.rested_v, check.resistance_ohm, check.done_at, check.rested_v,
        check.done_at if passed else None,
    )  # fmt: skip
    found = conditions(view, site, {check.pack: newest}, {}, [check.pack]).get(check.pack, Condition())
    return replace(found, watches=min(earlier + (not saved), 2) if watching else 0)


def _strains(
    view: View, latest: Mapping[str, LatestCheck], site: SiteRules, chosen: set[str] | None
) -> tuple[dict[str, list[tuple[Strain, dt.datetime]]], dict[str, tuple[int, int]]]:
    """What happened to each pack after its last valid check, and (trips, resets) from the trip window before it on."""
    strains: dict[str, list[tuple[Strain, dt.datetime]]] = defaultdict(list)
    counts: dict[str, tuple[int, int]] = {}
    if view.position == 0:
        return strains, counts
    since = view.last_entered() - dt.timedelta(days=READ_BACK_DAYS)
    window = dt.timedelta(days=site.trip_window_days)

    def note(pack: str, at: dt.datetime, strain: Strain) -> None:
        newest = latest.get(pack)
        if newest is None or newest.last_valid is None or (chosen is not None and pack not in chosen):
            return
        if at > newest.last_valid:
            strains[pack].append((strain, at))
        if strain in (Strain.TRIP, Strain.RESET) and view.day(at) >= view.day(newest.last_valid) - window:
            trips, resets = counts.get(pack, (0, 0))
            counts[pack] = (trips + 1, resets) if strain is Strain.TRIP else (trips, resets + 1)

    for trip in view.trips_since(since):
        note(trip.pack, trip.done_at, Strain.TRIP)
    for kind in ("reset", "fuse", "report"):
        for event in view.records_of(kind, since=since):
            match event.body:
                case Reset(pack=pack):
                    note(pack, event.done_at, Strain.RESET)
                case FuseWork(pack=pack) as work if work.blown or work.fitted is not None:
                    note(pack, event.done_at, Strain.FUSE)
                case Report(pack=pack, knock=True):
                    note(pack, event.done_at, Strain.DAMAGE)
    return strains, counts


def edges_seen(view: View) -> dict[str, Edge]:
    """The newest early edge of each pack that is in sight, the nearest of its quantities."""
    newest: dict[tuple[str, str], EdgeSeen] = {}
    for event in view.records_of("edge_seen"):
        assert isinstance(event.body, EdgeSeen)
        newest[event.body.pack, event.body.quantity] = event.body
    found: dict[str, Edge] = {}
    for (pack, quantity), seen in newest.items():
        if seen.early_date is None or quantity == STORED:
            continue
        known = found.get(pack)
        if known is None or seen.early_date < known.early_date:
            found[pack] = Edge(quantity, seen.early_date, view.day(seen.done_at))
    return found


def misfits_seen(view: View) -> dict[str, MisfitSeen]:
    """The reading of each pack that is to be measured again, as last read into the plan."""
    newest: dict[str, MisfitSeen] = {}
    for event in view.records_of("misfit_seen"):
        assert isinstance(event.body, MisfitSeen)
        newest[event.body.pack] = event.body
    return {pack: seen for pack, seen in newest.items() if seen.check}


def _misfit_on(view: View, seen: MisfitSeen, newest: LatestCheck) -> dt.date | None:
    """The day of that reading while it stands and no valid check was done after it; else None."""
    for one in view.checks_of(seen.pack):
        if one.record_id == seen.check and one.void_position is None:
            done_at = one.check.done_at
            return view.day(done_at) if newest.last_valid is not None and newest.last_valid <= done_at else None
    return None


def standing_lay_ups(view: View) -> tuple[dict[str, LaidUp], dict[str, dt.datetime]]:
    """Packs that are laid up now, and when each of the others last came back."""
    entries = [*view.records_of("laid_up"), *view.records_of("lay_up_ended")]
    away: dict[str, LaidUp] = {}
    back: dict[str, dt.datetime] = {}
    for event in sorted(entries, key=lambda one: one.position):
        if isinstance(event.body, LaidUp):
            away[event.body.pack] = event.body
            back.pop(event.body.pack, None)
        elif isinstance(event.body, LayUpEnded):
            away.pop(event.body.pack, None)
            back[event.body.pack] = event.done_at
    return away, back


def lay_ups(view: View, site: SiteRules) -> tuple[dict[str, Rest], dict[str, dt.datetime]]:
    """Packs put away with their next look, and when the others came back."""
    away, back = standing_lay_ups(view)
    leaks: dict[str, EdgeSeen] = {}
    for event in view.records_of("edge_seen") if away else ():
        if isinstance(event.body, EdgeSeen) and event.body.quantity == STORED:
            leaks[event.body.pack] = event.body
    rests = {}
    for code, one in away.items():
        seen = leaks.get(code)
        leaking = seen is not None and seen.early_date is not None and seen.done_at >= one.done_at
        drains = msg("due.drains", noted_date=view.day(seen.done_at)) if seen is not None and leaking else None
        look = laying_up.next_look(
            replace(one, done_at=view.local(one.done_at)),
            plan_reads.stored_readings(view, code, one.done_at),
            site,
            drains=drains,
        )
        rests[code] = Rest(one.group, view.local(one.done_at), look.due_on, look.why)
    return rests, back
