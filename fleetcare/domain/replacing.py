"""A display board or a connector was replaced: on the pack's side, the vehicle's, or (connectors) both together."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PackModel, ServiceNotes
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import msg

MOST_V = Decimal("60")
"""Above this full-charge voltage a pack is not for this bench (the limit of extra-low DC voltage without protection)."""

CHANGE_V = Decimal("0.5")
"""A reading that differs by more than this before and after points at the work (proposal of this program)."""


class Replaced(StrEnum):
    """What was replaced."""

    DISPLAY_PACK = "display_pack"
    DISPLAY_VEHICLE = "display_vehicle"
    CONNECTOR = "connector"

    @property
    def on_pack(self) -> bool:
        """True where the pack itself is worked on."""
        return self is not Replaced.DISPLAY_VEHICLE


@dataclass(frozen=True, slots=True)
class FittedPart:
    """A part from the stock that was fitted: its code there, the number on it, pieces."""

    part: str
    part_number: str
    pieces: int = 1


@dataclass(frozen=True, slots=True)
class PartReplaced:
    """A replacement with what was read before and after.  `seal` says which seal was fitted, or why none.

    `drop_before_mv` and `drop_after_mv` are millivolts across the connector under `load_a`, None where not read.
    `tried_good`: pack and vehicle were each tried with a known-good other one first.
    """

    pack: str | None
    vehicle: str | None
    done_at: dt.datetime
    what: Replaced
    parts: tuple[FittedPart, ...]
    seal: str
    before_v: Decimal
    after_v: Decimal
    meter: str
    drop_before_mv: Decimal | None = None
    drop_after_mv: Decimal | None = None
    load_a: Decimal | None = None
    tried_good: bool = False
    remark: str = ""


def refuse_wrong(work: PartReplaced, model: PackModel | None, notes: ServiceNotes | None) -> None:
    """Raises EntryRefused with what is missing or not for this bench.

    Both halves of a connector are replaced together, so that pack and vehicle are both named.  Work on the pack
    only where its maker describes it to a trained workshop, and not above MOST_V.  A display is blamed only after
    each was tried with a known-good other one.
    """
    if work.what is Replaced.CONNECTOR and (work.pack is None or work.vehicle is None):
        raise EntryRefused("replace.both_halves", field="vehicle" if work.vehicle is None else "pack")
    if work.what is Replaced.DISPLAY_PACK and work.pack is None:
        raise EntryRefused("replace.needs_pack", field="pack")
    if work.what is Replaced.DISPLAY_VEHICLE and work.vehicle is None:
        raise EntryRefused("replace.needs_vehicle", field="vehicle")
    if work.what.on_pack and model is not None:
        if model.full_v > MOST_V:
            raise EntryRefused("replace.too_high", field="pack", model=model.name, full_v=model.full_v, most_v=MOST_V)
        asked = "connector_by_workshop" if work.what is Replaced.CONNECTOR else "board_by_workshop"
        if notes is None or not getattr(notes, asked):
            raise EntryRefused(f"replace.maker_only_{work.what.value}", field="pack", model=model.name)
    if work.what is not Replaced.CONNECTOR and not work.tried_good:
        raise EntryRefused("replace.try_good_first", field="tried_good")
    if not work.parts:
        raise EntryRefused("replace.needs_part", field="part")
    if not work.seal.strip():
        raise EntryRefused("replace.needs_seal", field="seal")
    if (work.drop_before_mv is None) != (work.drop_after_mv is None) or (
        work.drop_after_mv is not None and work.load_a is None
    ):
        raise EntryRefused("replace.drop_incomplete", field="load_a" if work.load_a is None else "drop_after_mv")


def rulings(work: PartReplaced) -> dict[str, Ruling]:
    """What is held after it: nothing goes out before the next check, and a reading that moved points at the work."""
    found: dict[str, Ruling] = {}
    apart = abs(work.after_v - work.before_v)
    what = msg(f"replaced.{work.what.value}")
    moved = apart > CHANGE_V
    worse = (
        work.drop_after_mv is not None and work.drop_before_mv is not None and work.drop_after_mv > work.drop_before_mv
    )
    if moved:
        ruling = Ruling(HoldClass.FAULT, msg("replace.moved", what=what, before_v=work.before_v, after_v=work.after_v))
    elif worse:
        ruling = Ruling(HoldClass.FAULT, msg("replace.drop_worse", what=what, before_mv=work.drop_before_mv,
                                             after_mv=work.drop_after_mv, load_a=work.load_a))  # fmt: skip
    else:
        ruling = Ruling(HoldClass.ACTION_DUE, msg("replace.check_next", what=what))
    if work.pack is not None and work.what.on_pack:
        found["pack"] = ruling
    if work.vehicle is not None and work.what is not Replaced.DISPLAY_PACK:
        ask = ruling if moved or worse else Ruling(HoldClass.ACTION_DUE, msg("replace.try_vehicle", what=what))
        found["vehicle"] = ask
    return found
