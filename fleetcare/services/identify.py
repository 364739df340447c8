"""What a scanned or typed code stands for, and whether a pack belongs in a vehicle."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.away import UNFIT
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.identity import LabelIssued
from fleetcare.domain.labels import check_fails, is_code, issue_of, normalise, without_issue
from fleetcare.domain.packs import Pack, PackModel, PackStanding, Thing, Vehicle, VehicleStanding
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services.pairing import refuse_unlike
from fleetcare.store.store import Store, View

SCANNED_CLASSES = ("pack", "vehicle", "charger", "meter", "test_load", "person", "part")


@dataclass(frozen=True, slots=True)
class Identified:
    """One thing of the fleet, found by its code or badge."""

    thing_class: str
    code: str
    thing: Thing


class PairingKind(StrEnum):
    """How a scanned pack relates to the vehicle on the stand."""

    AS_RECORDED = "as_recorded"
    FREE_BAY = "free_bay"
    REPLACES = "replaces"


@dataclass(frozen=True, slots=True)
class Pairing:
    """The answer to "is this pack the one that belongs here?".

    `occupants` are the packs recorded in the vehicle, which one of them `REPLACES` must name.
    `recorded_in` is the other vehicle the scanned pack was last recorded in, if any.
    """

    kind: PairingKind
    bay: int
    occupants: tuple[str, ...] = ()
    recorded_in: str | None = None
    statement: Message | None = None


def identify(store: Store, text: str) -> Identified:
    """The thing that `text` names; raises EntryRefused with near misses, never guesses."""
    if check_fails(text):
        raise EntryRefused("label.check_fails", field="scan", typed=text.strip().upper())
    whole = normalise(text)
    if not is_code(whole):
        raise EntryRefused("scan.not_a_code", field="scan", typed=text.strip())
    code = without_issue(whole)
    with store.view() as view:
        for thing_class in SCANNED_CLASSES:
            thing = view.thing(thing_class, code)
            if thing is not None:
                _refuse_void_label(view, thing_class, code, issue_of(text))
                return Identified(thing_class, code, thing)
        for person in view.things("person").values():
            if person.badge and normalise(person.badge) == code:
                return Identified("person", person.code, person)
        near = near_misses(view, code, SCANNED_CLASSES[:4])
    if near:
        raise EntryRefused("scan.unknown_near", field="scan", typed=code, near=", ".join(near))
    raise EntryRefused("scan.unknown", field="scan", typed=code)


def scan_alarm(store: Store, text: str) -> Message | None:
    """What a scan alarms of, whatever the screen does with it: a pack that was written off is here.  None otherwise."""
    whole = normalise(text)
    if not is_code(whole):
        return None
    code = without_issue(whole)
    with store.view() as view:
        pack = view.thing("pack", code)
        if pack is None or pack.standing is not PackStanding.WRITTEN_OFF:
            return None
        return msg("scan.written_off", pack=code)


def label_issue(view: View, pack: str) -> LabelIssued | None:
    """The newest label that was made for `pack`; None while it carries its first one."""
    events = view.events_of("pack", pack, kind="label_issued")
    made = [event.body for event in events if isinstance(event.body, LabelIssued)]
    return max(made, key=lambda one: one.issue, default=None)


def _refuse_void_label(view: View, thing_class: str, code: str, issue: int | None) -> None:
    """A label that was replaced is void: whatever carries it may be another pack."""
    if thing_class != "pack" or issue is None:
        return
    newest = label_issue(view, code)
    stands = 1 if newest is None else newest.issue
    if issue < stands and newest is not None:
        raise EntryRefused(
            "label.void", field="scan", pack=code, issue=issue, stands=stands, since_date=view.day(newest.done_at)
        )
    if issue > stands:
        raise EntryRefused("label.never_made", field="scan", pack=code, issue=issue, stands=stands)


def is_known(store: Store, text: str) -> bool:
    """True when `text` is exactly one code or badge of this fleet."""
    whole = normalise(text)
    if not is_code(whole):
        return False
    code = without_issue(whole)
    with store.view() as view:
        if any(view.thing(thing_class, code) is not None for thing_class in SCANNED_CLASSES):
            return True
        return any(person.badge and normalise(person.badge) == code for person in view.things("person").values())


def near_misses(view: View, code: str, classes: Iterable[str]) -> list[str]:
    """Known codes of these classes one slip away: one character other, missing, added, or two neighbours swapped."""
    near: list[str] = []
    for thing_class in classes:
        near += [known for known in view.codes(thing_class) if one_slip(code, known)]
    return sorted(near)[:4]


def one_slip(typed: str, known: str) -> bool:
    """True when one character is other, missing or added, or two neighbours are swapped."""
    if abs(len(typed) - len(known)) > 1:
        return False
    if len(typed) == len(known):
        unlike = [i for i, (a, b) in enumerate(zip(typed, known, strict=True)) if a != b]
        if len(unlike) == 1:
            return True
        return (
            len(unlike) == 2
            and unlike[1] == unlike[0] + 1
            and typed[unlike[0]] == known[unlike[1]]
            and typed[unlike[1]] == known[unlike[0]]
        )
    longer, shorter = (typed, known) if len(typed) > len(known) else (known, typed)
    return any(longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer)))


def as_pack(found: Identified) -> Pack:
    """The pack that was scanned; raises EntryRefused naming what it is instead."""
    if isinstance(found.thing, Pack):
        if found.thing.standing is PackStanding.WRITTEN_OFF:
            raise EntryRefused("scan.written_off", field="scan", pack=found.code)
        return found.thing
    raise EntryRefused("scan.not_a_pack", field="scan", code=found.code, what=word(f"class.{found.thing_class}"))


def pair(store: Store, vehicle_code: str, pack_code: str) -> Pairing:
    """How `pack_code` relates to `vehicle_code`; raises EntryRefused where it can never be fitted."""
    with store.view() as view:
        pairing = pair_in(view, vehicle_code, pack_code)
        if pairing.kind is PairingKind.FREE_BAY:
            refuse_unlike(view, vehicle_code, pack_code, pairing.bay)
        return pairing


def pair_in(view: View, vehicle_code: str, pack_code: str) -> Pairing:
    """`pair` within an open view."""
    vehicle = view.thing("vehicle", vehicle_code)
    pack = view.thing("pack", pack_code)
    if vehicle is None:
        raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=vehicle_code)
    if pack is None:
        raise EntryRefused("entry.unknown_pack", field="pack", code=pack_code)
    if vehicle.standing is not VehicleStanding.IN_FLEET:
        standing = msg(f"vehicle_standing.{vehicle.standing.value}")
        raise EntryRefused("pair.vehicle_away", field="vehicle", vehicle=vehicle_code, standing=standing)
    model = view.thing("pack_model", pack.model)
    placed = view.placement_of(pack_code)
    recorded_in = placed.vehicle if placed is not None else None
    refuse_misfit(vehicle, pack, model, recorded_in)
    if recorded_in != vehicle_code:
        _refuse_unproven(view, pack_code, vehicle_code)
    occupied = {bay: code for code, bay in view.packs_in(vehicle_code)}
    if recorded_in == vehicle_code and placed is not None:
        return Pairing(PairingKind.AS_RECORDED, placed.bay)
    elsewhere = recorded_in if recorded_in else None
    for bay in range(1, vehicle.bays + 1):
        if bay not in occupied:
            statement = (
                msg("pair.moved", pack=pack_code, vehicle=vehicle_code, recorded=elsewhere)
                if elsewhere
                else msg("pair.free_bay", pack=pack_code, vehicle=vehicle_code, bay=bay)
            )
            return Pairing(PairingKind.FREE_BAY, bay, (), elsewhere, statement)
    occupants = tuple(occupied[bay] for bay in sorted(occupied))
    statement = msg("pair.replaces", pack=pack_code, vehicle=vehicle_code, occupants=", ".join(occupants))
    return Pairing(PairingKind.REPLACES, 1, occupants, elsewhere, statement)


UNPROVEN = ("commission.not_passed", "identity.history_unknown", *UNFIT)
"""Reasons of holds under which a pack has never been fit to go into a vehicle."""


def _refuse_unproven(view: View, pack: str, vehicle: str) -> None:
    """A pack that never passed, or whose history is unknown, is not fitted while it is held."""
    held = next((h for h in view.open_holds(("pack", pack)) if h.reason.key in UNPROVEN), None)
    if held is not None:
        raise EntryRefused("pair.unproven", field="pack", pack=pack, vehicle=vehicle, reason=held.reason)


def refuse_misfit(vehicle: Vehicle, pack: Pack, model: PackModel, recorded_in: str | None) -> None:
    """Raises EntryRefused when `pack` can never be fitted to `vehicle`; there is no override."""
    if pack.standing is not PackStanding.IN_SERVICE:
        raise EntryRefused(f"pair.{pack.standing.value}", field="pack", pack=pack.code)
    where = msg("pair.recorded_in", vehicle=recorded_in) if recorded_in else msg("pair.recorded_nowhere")
    if model.voltage_class_v != vehicle.voltage_class_v:
        raise EntryRefused(
            "pair.wrong_class",
            field="pack",
            pack=pack.code,
            pack_class=model.voltage_class_v,
            vehicle=vehicle.code,
            vehicle_class=vehicle.voltage_class_v,
            where=where,
        )
    if model.connector != vehicle.connector:
        raise EntryRefused(
            "pair.wrong_connector",
            field="pack",
            pack=pack.code,
            pack_connector=model.connector,
            vehicle=vehicle.code,
            vehicle_connector=vehicle.connector,
            where=where,
        )


def fixed_pack(store: Store, vehicle: str) -> Pack | None:
    """The pack that is built into `vehicle`, if it has one."""
    with store.view() as view:
        inside = view.packs_in(vehicle)
        if len(inside) != 1:
            return None
        pack: Pack = view.thing("pack", inside[0][0])
        return pack if view.thing("pack_model", pack.model).fixed else None
