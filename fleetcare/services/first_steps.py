"""What a new fleet still lacks before its first check: one line a step, in the order in which they build on each other."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.domain.packs import Level, Meter, PackModel, Person, Vehicle
from fleetcare.domain.wording import Message, msg
from fleetcare.services.clock import zones_apart
from fleetcare.services.session import Clock
from fleetcare.store.store import Store, View


@dataclass(frozen=True, slots=True)
class Step:
    """One step: `name` is where it is done, `told` what is there or missing."""

    name: str
    done: bool
    told: Message


STEPS = ("depot", "person", "pack_model", "vehicle", "charger", "meter", "test_load", "pack")
"""Names of the steps."""


def first_steps(store: Store, pc_clock: Clock | None = None) -> tuple[Step, ...]:
    """Every step, done or not; with the PC's own clock also whether the depot's zone is that of this PC."""
    with store.view() as view:
        return tuple(_step(view, name, pc_clock) for name in STEPS)


def missing(store: Store) -> tuple[Step, ...]:
    """The steps that are not done yet; empty once the first pack can be checked."""
    return tuple(step for step in first_steps(store) if not step.done)


def _step(view: View, name: str, pc_clock: Clock | None) -> Step:
    things = view.things(name)
    if name == "meter":
        things = {code: one for code, one in things.items() if isinstance(one, Meter) and not one.owner}
    if not things:
        return Step(name, False, msg(f"steps.no_{name}"))
    if name == "person":
        return _people(view, things)
    if name == "pack_model":
        return _models(things)
    if name == "vehicle":
        return _vehicles(view, things)
    if name == "depot" and pc_clock is not None:
        return _depots(view, len(things), pc_clock)
    return Step(name, True, msg(f"steps.has_{name}", count=len(things)))


def _depots(view: View, count: int, pc_clock: Clock) -> Step:
    """A depot in another zone than this PC is no bar, since it may be meant so, and is told."""
    apart = zones_apart(view, pc_clock)
    if apart is None:
        return Step("depot", True, msg("steps.has_depot", count=count))
    return Step("depot", True, msg("steps.depot_apart", count=count, apart=apart.statement))


def _people(view: View, people: dict[str, Person]) -> Step:
    """Reset, release and fuse change ask for the own badge or PIN: whoever may do them needs one."""
    bare = [
        one.name
        for one in people.values()
        if one.level is Level.MAY_RELEASE and not one.badge and view.pin_hash(one.code) is None
    ]
    if bare:
        return Step("person", False, msg("steps.person_no_pin", names=", ".join(bare)))
    return Step("person", True, msg("steps.has_person", count=len(people)))


def _models(models: dict[str, PackModel]) -> Step:
    """A model without its resistance when new is no bar to a first check, and is told."""
    bare = sorted(one.name for one in models.values() if one.baseline_resistance_ohm is None)
    if bare:
        return Step("pack_model", True, msg("steps.model_no_baseline", count=len(models), names=", ".join(bare)))
    return Step("pack_model", True, msg("steps.has_pack_model", count=len(models)))


def _vehicles(view: View, vehicles: dict[str, Vehicle]) -> Step:
    """A vehicle for which no pack model on record fits waits for one."""
    models: dict[str, PackModel] = view.things("pack_model")
    fits = {(one.voltage_class_v, one.connector) for one in models.values()}
    alone = [one.code for one in vehicles.values() if (one.voltage_class_v, one.connector) not in fits]
    if models and len(alone) == len(vehicles):
        return Step("vehicle", False, msg("steps.vehicle_no_model", vehicle=alone[0]))
    return Step("vehicle", True, msg("steps.has_vehicle", count=len(vehicles)))
