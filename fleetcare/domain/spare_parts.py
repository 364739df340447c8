"""A spare part as a thing of the fleet: what it is, what it fits, where it lies, when to order it again."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class PartKind(StrEnum):
    """What is kept in the small stock."""

    FUSE = "fuse"
    DISPLAY_BOARD = "display_board"
    CONNECTOR = "connector"
    SEAL = "seal"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Part:
    """A part in stock.  `fits` holds codes of pack models, vehicles or connector types; empty: anything.

    `rated_a`, `dc_v` and `fuse_body` are those of a fuse.  `half` says for a connector which half it is ("pack"
    or "vehicle"), "" where the part is both halves as a set.
    """

    code: str
    kind: PartKind
    name: str
    part_number: str
    fits: tuple[str, ...] = ()
    rated_a: Decimal | None = None
    dc_v: Decimal | None = None
    fuse_body: str = ""
    half: str = ""
    reorder_level: int = 0
    location: str = ""
    price: Decimal | None = None
    currency: str = ""
