"""Fault-finding: what the tree may offer for one pack, and the walk that was taken."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.domain import fault_tree, limits
from fleetcare.domain.checks import Hold
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fault_tree import SAFER, FaultWalk, Outcome, Who
from fleetcare.domain.intake import misfit
from fleetcare.domain.packs import Level, PackModel
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.charge_bars import silent_bar
from fleetcare.services.people import level_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, said
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

MOST_CHARGERS = 8
"""So many chargers are named beside a test; a large depot has more of one kind."""


@dataclass(frozen=True, slots=True)
class TreeStart:
    """What is known of the pack before the first test: the model's own note and limits, and whether it may be charged."""

    pack: str
    vehicle: str | None
    note: Message
    limits: Message
    charge_allowed: bool
    no_charge: Message | None
    chargers: Message
    """The chargers that fit the pack and are not held."""


def tree_start(store: Store, clock: Clock, code: str) -> TreeStart:
    """Read what the tree needs of a pack; EntryRefused for an unknown one."""
    with store.view() as view:
        return _start(view, clock, code)


def _start(view: View, clock: Clock, code: str) -> TreeStart:
    pack = known_pack(view, code)
    model = view.thing("pack_model", pack.model)
    placed = view.placement_of(code)
    no_charge = silent_bar(view, code, model, clock().date())
    if model.wake_note:
        note = msg("tree.model_note", model=model.name, note=model.wake_note)
    elif model.output_live_when_off is None:
        note = msg("tree.model_no_note", model=model.name)
    else:
        live = msg("tree.output_live" if model.output_live_when_off else "tree.output_off")
        note = msg("tree.model_note", model=model.name, note=live)
    found = limits.resolve(model, record.site_rules(view))
    own = msg(
        "tree.model_limits", model=model.name, hold_v=found.volts("low_hold").value,
        charge_v=found.volts("do_not_charge").value, stop_v=found.volts("over_full_stop").value,
    )  # fmt: skip
    return TreeStart(code, placed.vehicle if placed else None, note, own, no_charge is None, no_charge,
                     _own_chargers(view, model))  # fmt: skip


def _own_chargers(view: View, model: PackModel) -> Message:
    fit = [
        code for code, one in sorted(view.things("charger").items())
        if misfit(one, model) is None and not view.open_holds(("charger", code))
    ]  # fmt: skip
    if not fit:
        return msg("tree.no_chargers")
    more = () if len(fit) <= MOST_CHARGERS else ("…",)
    return msg("tree.own_chargers", chargers=(*fit[:MOST_CHARGERS], *more))


def record_walk(store: Store, clock: Clock, author: Author, walk: FaultWalk) -> Recorded:
    """Keep a walk and hold what its outcome says; holds that stand are not ended by it.

    Needs the level that may check; an answer that clears something in a row of those who may release
    needs theirs.  A pack that woke must read at or above its hold limit.
    """
    now = clock()
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        start = _start(tx, clock, walk.pack)
        pack = known_pack(tx, walk.pack)
        for thing_class in ("vehicle", "charger"):
            code = getattr(walk, thing_class)
            if code:
                known(tx, thing_class, code)
        record.refuse_future(walk.done_at, now)
        outcome = fault_tree.follow(walk.steps, charge_allowed=start.charge_allowed)
        if outcome is not walk.outcome:
            raise EntryRefused("tree.no_such_path", field="steps")
        last = fault_tree.ROWS[walk.steps[-1][0]]
        level = level_of(tx, author, now)
        if last.who is Who.MAY_RELEASE and outcome not in SAFER and not level.covers(Level.MAY_RELEASE):
            raise NotAllowed("tree.level")
        _refuse_incomplete(walk)
        if outcome is Outcome.SLEPT:
            low = limits.resolve(tx.thing("pack_model", pack.model), record.site_rules(tx)).volts("low_hold").value
            fault_tree.refuse_low(walk.readings[-1][1], low)
        earlier = [e.body for e in tx.records_of("walk", ("pack", walk.pack))]
        before = sum(isinstance(one, FaultWalk) and one.outcome is Outcome.NO_FAULT for one in earlier)
        writer = Writer(tx, author, now)
        walk_id = writer.add("walk", walk, walk.done_at)
        held = []
        for subject_class, ruling in fault_tree.rulings(walk, before).items():
            subject = getattr(walk, subject_class)
            hold = Hold(subject_class, subject, ruling.hold_class, walk.done_at, ruling.reason, cause=walk_id)
            if hold_by_rule(tx, writer, ruling, hold):
                held.append(said(hold))
        told = msg("record.walk", pack=walk.pack, outcome=msg(f"tree_outcome.{outcome.value}"))
        return writer.recorded(msg("record.walk_held", told=told, held=tuple(held)) if held else told)


def _refuse_incomplete(walk: FaultWalk) -> None:
    row, name = walk.steps[-1]
    answer = next(a for a in fault_tree.ROWS[row].answers if a.name == name)
    if answer.reading and (not walk.readings or walk.readings[-1][0] != row):
        raise EntryRefused("tree.needs_reading", field="reading")
    if walk.outcome is Outcome.CHARGER_FAULT and not walk.charger:
        raise EntryRefused("tree.needs_charger", field="charger")
    if walk.outcome in (Outcome.VEHICLE_FAULT, Outcome.BOTH_FAULT, Outcome.BRAKES) and not walk.vehicle:
        raise EntryRefused("tree.needs_vehicle", field="vehicle")
