"""The one read model: what board, pack page, sheet and command line show.

Screen and paper cannot disagree, because both are drawn from these values.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from fleetcare.domain import limits
from fleetcare.domain.checks import Hold, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.identity import ReadTwice
from fleetcare.domain.incidents import Incident
from fleetcare.domain.packs import Meter, PackStanding
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.status import PackState
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.whereabouts import Window
from fleetcare.domain.wording import Message, msg
from fleetcare.services import board, decisions, goes_out, telling, whereabouts
from fleetcare.services import facts as read
from fleetcare.services import incidents as incident_facts
from fleetcare.services.facts import FleetFacts
from fleetcare.services.session import CORRECTED_SOURCE, Clock
from fleetcare.services.shown import (
    CheckLine,
    Comparison,
    EventLine,
    FleetSummary,
    PackRow,
    PackSummary,
    RoundLine,
    VehiclePage,
)
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredCheck

BATCH_PACKS = 500
"""Packs projected in one go."""


def fleet_summary(store: Store, clock: Clock, position: int | None = None) -> FleetSummary:
    """The whole board, at `position` (None: now); see services.board."""
    return board.whole(store, clock, position)


def pack_summary(
    store: Store, clock: Clock, code: str, position: int | None = None, *, projected: bool = True
) -> PackSummary:
    """Everything about one pack; raises EntryRefused for a code that is not on record.

    Without `projected` its projections are left out: the rest is there at once, even before the fleet was learnt from.
    """
    now = clock()
    with store.view(position) as view:
        pack = view.thing("pack", code)
        if pack is None:
            raise EntryRefused("entry.unknown_pack", field="pack", code=code)
        facts = read.read_facts(view)
        model = facts.models[pack.model]
        found = limits.resolve(model, facts.site)
        checks = view.checks_of(code)
        placed = facts.placements.get(code)
        projections = _projections(store, view, facts, code, checks, now, position is not None) if projected else ()
        early = decisions.early_of(projections, now, facts.site)
        return PackSummary(
            pack=pack,
            model=model,
            status=read.pack_status(facts, code, now),
            vehicle=placed.vehicle if placed else None,
            bay=placed.bay if placed and placed.vehicle else None,
            shelf=facts.shelf_of(code),
            checks=check_lines(view, checks),
            events=event_lines(view, "pack", code, checks),
            projections=projections,
            limits=_limit_rows(found),
            as_of=now,
            position=view.position,
            fingerprint=view.head().root_hex,
            fleet_name=store.fleet_name,
            demo=store.demo,
            decision=decisions.decision_of(view, code, now, early),
            incidents=incident_facts.incidents_touching(view, ("pack", code)),
            stays=goes_out.as_recorded(view, code, now).stays,
        )


def _limit_rows(found: limits.PackLimits) -> tuple[tuple[str, Decimal, str, str], ...]:
    rows = [(one.name, one.value, one.unit, one.source) for one in found.limits]
    rule = found.resistance
    if rule is not None:
        rows += [
            ("resistance_watch", rule.watch_ohm, "Ω", rule.source),
            ("resistance_pull", rule.pull_ohm, "Ω", rule.source),
        ]
    return tuple(rows)


def _projections(
    store: Store, view: View, facts: FleetFacts, code: str, checks: list[StoredCheck], now: dt.datetime, past: bool
) -> tuple[Projection, ...]:
    from fleetcare.services.fleet_outlook import outlook_of  # SciPy: not before the first window
    from fleetcare.services.outlook import PackHistory, pack_projections
    from fleetcare.services.storage import with_storage

    outlook = outlook_of(store, view, facts, now, at_position=past)
    history = PackHistory(code, facts.models[facts.packs[code].model], checks)
    found = pack_projections(outlook, [history], facts.site, now)[0]
    return with_storage(found, view, facts, code, now, checks, at_position=past)


def fleet_projections(
    store: Store, clock: Clock, progress: Callable[[int, int], None] | None = None, position: int | None = None
) -> Iterator[tuple[str, tuple[Projection, ...]]]:
    """The projections of every pack in service, by code, now or at a position of the past; the fleet is read once."""
    from fleetcare.services.fleet_outlook import outlook_of  # SciPy: not before the first window
    from fleetcare.services.outlook import PackHistory, pack_projections
    from fleetcare.services.storage import with_storage

    now = clock()
    with store.view(position) as view:
        facts = read.read_facts(view)
        packs = [p for p in facts.packs.values() if p.standing is PackStanding.IN_SERVICE]
        packs.sort(key=lambda p: p.code)
        outlook = outlook_of(store, view, facts, now, at_position=position is not None)
        for start in range(0, len(packs), BATCH_PACKS):
            part = packs[start : start + BATCH_PACKS]
            histories = [PackHistory(p.code, facts.models[p.model], view.checks_of(p.code)) for p in part]
            found = pack_projections(outlook, histories, facts.site, now, fans=False)
            for one, own in zip(histories, found, strict=True):
                past = position is not None
                yield one.code, with_storage(own, view, facts, one.code, now, one.checks, at_position=past)
            if progress is not None and len(packs) > BATCH_PACKS:
                progress(start + len(part), len(packs))


def check_lines(view: View, checks: Iterable[StoredCheck]) -> tuple[CheckLine, ...]:
    """Checks as the history prints them, newest first; corrected ones struck, not left out."""
    names = view.person_names()
    meters = view.things("meter")
    checks = list(checks)
    dangers = {pack: view.dangers_of(pack) for pack in {stored.check.pack for stored in checks}}
    incidents = incident_facts.all_incidents(view)
    lines = [_check_line(view, one, names, meters, dangers[one.check.pack], incidents) for one in checks]
    twice = _read_twice(view, dangers)
    lines = [replace(line, twice=twice.get((line.pack, line.entered_at), ())) if twice else line for line in lines]
    lines.sort(key=lambda line: (line.done_at, line.position), reverse=True)
    return tuple(lines)


def _read_twice(view: View, packs: Iterable[str]) -> dict[tuple[str, dt.datetime], tuple[ReadTwice, ...]]:
    """Second readings by pack and the moment at which they were saved, which is that of their check."""
    found: dict[tuple[str, dt.datetime], tuple[ReadTwice, ...]] = {}
    for pack in packs:
        for event in reversed(view.events_of("pack", pack, kind="read_twice")):
            assert isinstance(event.body, ReadTwice)
            key = (pack, event.entered_at)
            found[key] = (*found.get(key, ()), event.body)
    return found


def _after_incident(stored: StoredCheck, dangers: list[Hold]) -> dt.datetime | None:
    """The first incident that lies between the time of the check and its entry."""
    between = [
        one.done_at
        for one in dangers
        if not by_recall(one.reason) and stored.check.done_at < one.done_at <= stored.entered_at
    ]
    return min(between, default=None)


def _check_line(
    view: View, stored: StoredCheck, names: dict[str, str], meters: dict[str, Meter], dangers: list[Hold],
    incidents: Sequence[Incident],
) -> CheckLine:  # fmt: skip
    check = stored.check
    things = {("pack", check.pack), ("vehicle", check.vehicle)}
    touching = [one for one in incidents if things.intersection(one.things)]
    clock_by = stored.source.removeprefix(CORRECTED_SOURCE) if stored.source.startswith(CORRECTED_SOURCE) else ""
    return CheckLine(
        record_id=stored.record_id,
        position=stored.position,
        pack=check.pack,
        vehicle=check.vehicle,
        kind=check.kind,
        rest=check.rest,
        rested_v=check.rested_v,
        loaded_v=check.loaded_v,
        load_a=check.load_a,
        hold_s=check.hold_s,
        resistance_ohm=check.resistance_ohm,
        bench_c=check.bench_c,
        meter=check.meter,
        meter_state=meter_state(meters.get(check.meter), view.day(check.done_at)),
        done_at=view.local(check.done_at),
        entered_at=view.local(stored.entered_at),
        person=stored.by,
        person_name=names.get(stored.by, stored.by),
        level=stored.level,
        station=stored.station,
        source=stored.source,
        verdict=stored.verdict,
        look_over=stored.look_over,
        remark=check.remark,
        struck=stored.void_position is not None,
        strike_reason=stored.void_reason,
        corrects=stored.corrects,
        after_incident=_after_incident(stored, dangers),
        clock_by=names.get(clock_by, clock_by),
        doubt=telling.doubt_text(stored.doubt),
        done_by=telling.done_by(stored.source, names),
        incident=incident_facts.made_after(touching, stored.position, check.done_at),
    )


def meter_state(meter: Meter | None, day: dt.date) -> Message:
    """The state of a meter's calibration on `day`; due on its due date."""
    if meter is None or meter.calibration_due is None:
        return msg("meter_state.no_date")
    if day >= meter.calibration_due:
        return msg("meter_state.due", due_date=meter.calibration_due)
    return msg("meter_state.in_date")


def event_lines(
    view: View, subject_class: str, code: str, checks: Sequence[StoredCheck] | None = None
) -> tuple[EventLine, ...]:
    """Trips, holds, releases, moves and changes of one item, newest first; a pack's `checks` when at hand."""
    names = view.person_names()
    events = view.events_of(subject_class, code)
    windows = whereabouts.windows_by_record(view, code, events, checks) if subject_class == "pack" else {}
    touching = incident_facts.incidents_touching(view, (subject_class, code))
    lines = [
        EventLine(
            event.record_id,
            event.position,
            event.done_at,
            event.entered_at,
            event.by,
            names.get(event.by, event.by),
            _with_window(telling.event_text(event, events), windows.get(event.record_id)),
            telling.remark(event),
            None
            if event.kind in incident_facts.KINDS
            else incident_facts.made_after(touching, event.position, event.done_at),
        )
        for event in events
    ]
    lines.sort(key=lambda line: (line.done_at, line.position), reverse=True)
    return tuple(lines)


def _with_window(text: Message, window: Window | None) -> Message:
    """A find, with the time in which the pack moved and nobody noted when."""
    if window is None:
        return text
    place = msg("event.in_vehicle", vehicle=window.left) if window.left else msg("event.not_in_vehicle")
    return msg("event.with_window", what=text, place=place, last_seen_at=window.last_seen)


def compare(history: Iterable[StoredCheck], check: VoltageCheck) -> Comparison | None:
    """`check` against the newest earlier one of the same kind, rest and meter; ohms only at the same load."""
    like = [
        stored.check
        for stored in history
        if stored.void_position is None
        and stored.doubt is None
        and _comparable(stored.check, check)
        and stored.check.done_at < check.done_at
    ]
    if not like:
        return None
    last = max(like, key=lambda one: one.done_at)
    change_v = check.rested_v - last.rested_v
    change_ohm = None
    same_load = (check.load_a, check.hold_s) == (last.load_a, last.hold_s)
    if same_load and check.resistance_ohm is not None and last.resistance_ohm is not None:
        change_ohm = check.resistance_ohm - last.resistance_ohm
    if change_ohm is None:
        statement = msg("compare.same", earlier_date=last.done_at.date(), change_v=change_v)
    else:
        statement = msg(
            "compare.with_ohm", earlier_date=last.done_at.date(), change_v=change_v, change_ohm=float(change_ohm)
        )
    return Comparison(last.done_at, change_v, change_ohm, statement)


def _comparable(a: VoltageCheck, b: VoltageCheck) -> bool:
    return (a.kind, a.rest, a.meter) == (b.kind, b.rest, b.meter)


def pack_rows(store: Store, clock: Clock) -> tuple[PackRow, ...]:
    """One line a pack, for the list of packs."""
    now = clock()
    with store.view() as view:
        facts = read.read_facts(view)
        return tuple(_pack_row(facts, code, now) for code in sorted(facts.packs))


def _pack_row(facts: FleetFacts, code: str, now: dt.datetime) -> PackRow:
    pack = facts.packs[code]
    latest = facts.latest.get(code)
    placed = facts.placements.get(code)
    return PackRow(
        pack,
        facts.models[pack.model].name,
        placed.vehicle if placed else None,
        facts.shelf_of(code),
        read.pack_status(facts, code, now),
        latest.rested_v if latest else None,
        latest.resistance_ohm if latest else None,
        latest.done_at if latest else None,
    )


_ROUND_ORDER = (PackState.SILENT, PackState.OVERDUE, PackState.NEVER_CHECKED, PackState.DUE)


def round_list(store: Store, clock: Clock) -> tuple[RoundLine, ...]:
    """Packs whose check is due today or earlier, worst first: reads nothing, overdue, never checked, due."""
    now = clock()
    with store.view() as view:
        facts = read.read_facts(view)
        lines = []
        for code, pack in facts.packs.items():
            if pack.standing is not PackStanding.IN_SERVICE:
                continue
            state = read.pack_status(facts, code, now)
            near = state.level is VerdictLevel.TOO_NEAR and state.state is PackState.DUE
            if state.state not in _ROUND_ORDER or not state.reasons:
                continue
            placed = facts.placements.get(code)
            lines.append(
                (
                    (_ROUND_ORDER.index(state.state), not near, state.due_on or dt.date.min, code),
                    RoundLine(
                        code,
                        facts.models[pack.model].name,
                        placed.vehicle if placed else None,
                        facts.shelf_of(code),
                        state,
                        state.reasons[0].text,
                        state.due_on,
                    ),
                )
            )
        return tuple(line for _, line in sorted(lines, key=lambda one: one[0]))


def vehicle_page(store: Store, clock: Clock, code: str) -> VehiclePage:
    """One vehicle with its packs now and its history; raises EntryRefused for an unknown code."""
    now = clock()
    with store.view() as view:
        facts = read.read_facts(view)
        vehicle = facts.vehicles.get(code)
        if vehicle is None:
            raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=code)
        return VehiclePage(
            line=board.line_of(facts, code, now),
            packs=tuple(_pack_row(facts, one, now) for one in facts.packs_in(code)),
            events=event_lines(view, "vehicle", code),
            as_of=now,
            position=view.position,
            fingerprint=view.head().root_hex,
            fleet_name=store.fleet_name,
            demo=store.demo,
            incidents=incident_facts.incidents_touching(view, ("vehicle", code)),
        )
