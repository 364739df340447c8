"""What a check leaves behind, in the words of board and plan: the due day, and what keeps pack or vehicle in.

A check that passes says nothing of its vehicle, which may be grounded for a lead, another pack or an empty bay.  So the
bench, the papers and the command line ask here, by the rules and readings of the board, before they let anything go out.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from fleetcare.domain.checks import FoundIn, VoltageCheck
from fleetcare.domain.status import BoardState, PackStatus, Reason
from fleetcare.domain.verdicts import Verdict
from fleetcare.domain.wording import Message, msg
from fleetcare.services import board, conditions
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.store.store import View
from fleetcare.store.values import LatestCheck


@dataclass(frozen=True, slots=True)
class GoesOut:
    """`due_on` is the pack's one due day (None: none, or it owes no check), `held` whether it is held, and `stays` why
    its vehicle, or the pack where it is in none, stays in all the same; None where nothing else keeps it in.
    """

    due_on: dt.date | None
    held: bool
    stays: Message | None


def as_recorded(view: View, pack: str, now: dt.datetime) -> GoesOut:
    """How the pack and the vehicle it is in stand now, by what is on record."""
    placed = view.placement_of(pack)
    vehicle = None if placed is None else placed.vehicle
    facts = _facts(view, pack, vehicle)
    return _told(facts, pack, vehicle, facts.packs_in(vehicle) if vehicle else (), now)


def after_check(
    view: View, check: VoltageCheck, verdict: Verdict, now: dt.datetime, moves: tuple[FoundIn, ...] = ()
) -> GoesOut:
    """How they would stand once `check`, judged so, is on record; `moves` say where packs were found meanwhile.

    A check that is older than the newest on record changes nothing here.
    """
    vehicle = check.vehicle
    if vehicle is None and not moves:
        placed = view.placement_of(check.pack)
        vehicle = None if placed is None else placed.vehicle
    facts = _as_if(view, _facts(view, check.pack, vehicle), check, verdict)
    inside: tuple[str, ...] = ()
    if vehicle is not None:
        left = {move.pack for move in moves if move.vehicle != vehicle}
        inside = tuple(code for code in facts.packs_in(vehicle) if code not in left)
        inside += () if check.pack in inside else (check.pack,)
    return _told(facts, check.pack, vehicle, inside, now)


def _facts(view: View, pack: str, vehicle: str | None) -> FleetFacts:
    vehicles = frozenset(() if vehicle is None else (vehicle,))
    beside = () if vehicle is None else (code for code, _bay in view.packs_in(vehicle))
    return board.facts_since(view, read.nothing_known(view), frozenset((pack, *beside)), vehicles)


def _as_if(view: View, facts: FleetFacts, check: VoltageCheck, verdict: Verdict) -> FleetFacts:
    """The facts with this check as the pack's newest."""
    pack, before = check.pack, facts.latest.get(check.pack)
    if before is not None and before.done_at >= check.done_at:
        return facts
    passed = verdict.valid and verdict.level in conditions.PASSES
    newest = LatestCheck(
        0, check.done_at, verdict.level, check.rested_v, check.resistance_ohm,
        check.done_at if verdict.valid else before.last_valid if before else None,
        check.rested_v if verdict.valid else before.valid_rested_v if before else None,
        check.done_at if passed else before.last_pass if before else None, check.bench_c,
    )  # fmt: skip
    found = replace(facts, latest=facts.latest | {pack: newest})
    if not verdict.valid:
        return found
    doubted = {code: meter for code, meter in facts.doubted.items() if code != pack}
    condition = conditions.after_check(view, facts.site, check, verdict)
    return replace(found, doubted=doubted, conditions=facts.conditions | {pack: condition})


def _told(facts: FleetFacts, pack: str, vehicle: str | None, inside: tuple[str, ...], now: dt.datetime) -> GoesOut:
    own = read.pack_status(facts, pack, now)
    held = pack in facts.pack_holds
    due_on = None if held else own.check_on
    if vehicle is None or vehicle not in facts.vehicles:
        stays = None if held or own.usable else msg("next.pack_stays_in", reason_sentence=own.reasons[0].text)
        return GoesOut(due_on, held, stays)
    states = tuple(_keeping(read.pack_status(facts, code, now)) for code in inside)
    found = read.vehicle_status(facts, facts.vehicles[vehicle], states)
    if held or not found.reasons or found.state not in (BoardState.GROUNDED, BoardState.LIMITED):
        return GoesOut(due_on, held, None)
    lead, more = found.reasons[0], len(found.reasons) - 1
    values = {"vehicle": vehicle, "reason_sentence": _with_step(lead, found.state)}
    key = "next.vehicle_stays_in" if found.state is BoardState.GROUNDED else "next.vehicle_limited"
    told = msg(key, **values) if not own.usable else msg(f"{key}_for", pack=pack, **values)
    return GoesOut(due_on, held, told if not more else msg("next.more_reasons", told=told, more=more))


def _keeping(state: PackStatus) -> PackStatus:
    """A pack with the reasons that keep a vehicle in: a usable one has none, though its check may be due."""
    return replace(state, reasons=()) if state.usable else state


def _with_step(lead: Reason, state: BoardState) -> Message:
    """The reason; for a vehicle that goes out all the same, what is done before it does."""
    if state is BoardState.GROUNDED:
        return lead.text
    return msg("paper.reason_and_step", reason_sentence=lead.text, step_sentence=lead.next_step)
