"""Water on a pack: rain, dew, a jet wash and immersion are told apart, and each leads somewhere else.

Rain, jets and immersion are different tests of IEC 60529 (IPX4, IPX5 and 6, IPX7 and 8; numbers from memory), so
that one says nothing about another; what the maker states for the pack wins.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PackModel
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg


class WaterKind(StrEnum):
    """How the water came."""

    RAIN = "rain"
    DEW = "dew"
    JET_WASH = "jet_wash"
    IMMERSION = "immersion"


@dataclass(frozen=True, slots=True)
class Wetted:
    """Water came on a pack, on a vehicle, or both.

    `inside`: water in the case or running out of it, or corrosion at the contacts.  With a jet wash, `pack` is
    None where the pack was taken out first.  `place` is the quarantine place outdoors.
    """

    pack: str | None
    vehicle: str | None
    done_at: dt.datetime
    kind: WaterKind
    inside: bool = False
    where: str = ""
    place: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        if self.pack is None and self.vehicle is None:
            raise EntryRefused("water.needs_subject", field="pack")


@dataclass(frozen=True, slots=True)
class Dried:
    """A wet or cold pack is dry to the touch, at room temperature, and nothing was found at or behind its contacts."""

    pack: str
    done_at: dt.datetime
    remark: str = ""


def rulings(wet: Wetted) -> dict[str, Ruling]:
    """What is held, by "pack" and "vehicle".

    Immersion, water inside, and a jet on a fitted pack quarantine the pack, outdoors.  A vehicle that was under
    water, or whose open contacts stood in the jet, stays in until somebody has looked.  Rain and dew hold nothing.
    """
    found: dict[str, Ruling] = {}
    if wet.pack is not None and (wet.inside or wet.kind in (WaterKind.IMMERSION, WaterKind.JET_WASH)):
        key = "water.inside" if wet.inside else f"water.held_{wet.kind.value}"
        found["pack"] = Ruling(HoldClass.DANGER, msg(key))
    if wet.vehicle is not None:
        if wet.kind is WaterKind.IMMERSION:
            found["vehicle"] = Ruling(HoldClass.FAULT, msg("water.vehicle_immersion"))
        elif wet.kind is WaterKind.JET_WASH:
            found["vehicle"] = Ruling(HoldClass.ACTION_DUE, msg("water.vehicle_jet"))
        elif wet.inside:
            found["vehicle"] = Ruling(HoldClass.ACTION_DUE, msg("water.vehicle_contacts"))
    return found


def next_steps(wet: Wetted, model: PackModel | None) -> tuple[Message, ...]:
    """What is to be done now, the first first, and last where that comes from."""
    danger = "pack" in rulings(wet)
    if danger:
        steps = [msg("water.step_outdoors")]
        if wet.kind is WaterKind.IMMERSION:
            steps += [msg("water.step_later"), msg("water.step_several")]
    elif wet.pack is None:
        steps = [msg("water.step_contacts")]
    else:
        steps = [msg("water.step_dry")]
        if wet.kind is WaterKind.DEW and model is not None:
            steps.append(msg("water.step_window", from_c=model.charge_min_c, to_c=model.charge_max_c))
    return (*steps, source(wet))


def source(wet: Wetted) -> Message:
    """Where the rule for this water comes from."""
    return msg("water.source_inside" if wet.inside else f"water.source_{wet.kind.value}")


def needs_drying(wetted: Iterable[Wetted], dried: Iterable[Dried]) -> Wetted | None:
    """The newest rain or dew after which nobody has noted the pack as dry, or None."""
    wet = [one for one in wetted if one.kind in (WaterKind.RAIN, WaterKind.DEW)]
    newest = max(wet, key=lambda one: one.done_at, default=None)
    if newest is None or any(one.done_at >= newest.done_at for one in dried):
        return None
    return newest
