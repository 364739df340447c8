"""Spare parts of the workshop and what goes in and out of their shelf.

The number on hand is never stored: it is the sum of what was booked in and out, from the newest count on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fuses import FuseSpec
from fleetcare.domain.spare_parts import Part, PartKind


class StockMove(StrEnum):
    """Why the number of a part changed."""

    BOOKED_IN = "booked_in"
    BOOKED_OUT = "booked_out"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True)
class PartMoved:
    """Pieces of one part came in, were used on a job, or were counted.

    `pieces` came in or went out; with COUNTED it is what lies on the shelf.  `job` is the record that used
    them (a fuse change, a guided reset, a replacement), None where they were used without one; `before` what the
    record had said at a count.  `supplier` names where they came from, with the delivery note.
    `part_number` is the maker's number of the part on that day.
    """

    part: str
    move: StockMove
    pieces: int
    done_at: dt.datetime
    job: str | None = None
    pack: str | None = None
    vehicle: str | None = None
    reason: str = ""
    before: int | None = None
    supplier: str = ""
    part_number: str = ""

    def __post_init__(self) -> None:
        if self.pieces < 0 or (self.pieces == 0 and self.move is not StockMove.COUNTED):
            raise EntryRefused("parts.needs_pieces", field="pieces")
        if self.move is StockMove.COUNTED and not self.reason.strip():
            raise EntryRefused("parts.needs_reason", field="reason")


def on_hand(moves: Iterable[PartMoved]) -> int:
    """What lies on the shelf after `moves`, in order of entry."""
    number = 0
    for move in moves:
        match move.move:
            case StockMove.BOOKED_IN:
                number += move.pieces
            case StockMove.BOOKED_OUT:
                number -= move.pieces
            case StockMove.COUNTED:
                number = move.pieces
    return number


def refuse_short(part: Part, have: int, pieces: int) -> None:
    """Raises EntryRefused when more is taken than the record says is there: the shelf is counted first."""
    if pieces > have:
        raise EntryRefused("parts.short", field="part", part=part.code, name=part.name, have=have, pieces=pieces)


def to_order(part: Part, have: int) -> int:
    """How many pieces to order: from the reorder level down, up to twice the level (proposal); 0 above it."""
    return 0 if have > part.reorder_level else max(2 * part.reorder_level - have, 1)


def refuse_other_fuse(part: Part, spec: FuseSpec) -> None:
    """Raises EntryRefused unless the fuse read off its body is the stocked part that is booked out."""
    if part.kind is not PartKind.FUSE:
        raise EntryRefused("parts.not_a_fuse", field="part", part=part.code, name=part.name)
    if part.rated_a is not None and part.rated_a != spec.rated_a:
        raise EntryRefused(
            "parts.other_amps", field="rated_a", part=part.code, part_a=part.rated_a, typed_a=spec.rated_a
        )
    if part.dc_v is not None and spec.dc_v is not None and part.dc_v != spec.dc_v:
        raise EntryRefused("parts.other_volts", field="dc_v", part=part.code, part_v=part.dc_v, typed_v=spec.dc_v)
    if part.fuse_body and part.fuse_body != spec.body.value:
        raise EntryRefused("parts.other_body", field="body", part=part.code)


def fits(part: Part, *codes: str) -> bool:
    """True where the part is said to fit one of `codes` (models, vehicles, connectors), or fits anything."""
    return not part.fits or any(code in part.fits for code in codes)


def spec_of(part: Part) -> dict[str, Decimal | str | None]:
    """Amps, DC volts and body of a stocked fuse, as the fuse form takes them."""
    return {"rated_a": part.rated_a, "dc_v": part.dc_v, "body": part.fuse_body}
