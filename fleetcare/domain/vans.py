"""Packs and vehicles on a van between depots: what may go, under which mark, and whether it arrived.

A pack in a vehicle goes as a vehicle powered by lithium ion batteries (UN 3556), a loose pack as lithium ion
batteries (UN 3480), after ADR 2025.  The carrier and the dangerous-goods safety adviser decide on marks, packaging,
papers and quantities; this program states the numbers and no exemption.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused

UN_LOOSE = "UN 3480"
UN_FITTED = "UN 3556"
_NUMBER = re.compile(r"V-\d{4,}")


def list_number(count: int) -> str:
    """The number of the van list that is the `count`th of a fleet."""
    return f"V-{count:04d}"


def is_list_number(place: str) -> bool:
    """Whether a pack's place is the number of a van list: a loose pack is on the list while it is on the way."""
    return _NUMBER.fullmatch(place) is not None


@dataclass(frozen=True, slots=True)
class VanLine:
    """One pack on the list, loose (`vehicle` "") or fitted in a vehicle that travels with it."""

    pack: str
    vehicle: str = ""

    @property
    def mark(self) -> str:
        """The UN number it goes under."""
        return UN_FITTED if self.vehicle else UN_LOOSE


@dataclass(frozen=True, slots=True)
class VanLoaded:
    """A van left `from_depot` for `to_depot`.  `vehicles` are all on it, with or without a pack.

    `contacts_covered`: somebody looked that every loose pack is switched off and its contacts are covered.
    """

    number: str
    from_depot: str
    to_depot: str
    driver: str
    done_at: dt.datetime
    lines: tuple[VanLine, ...]
    vehicles: tuple[str, ...] = ()
    contacts_covered: bool = False
    remark: str = ""

    def __post_init__(self) -> None:
        if not self.lines and not self.vehicles:
            raise EntryRefused("van.empty", field="items")
        if self.from_depot == self.to_depot:
            raise EntryRefused("van.same_depot", field="to_depot")
        if not self.driver.strip():
            raise EntryRefused("van.needs_driver", field="driver")
        if any(not line.vehicle for line in self.lines) and not self.contacts_covered:
            loose = sum(not line.vehicle for line in self.lines)
            raise EntryRefused("van.needs_covers", field="contacts_covered", loose=loose)

    @property
    def packs(self) -> tuple[str, ...]:
        """Codes of all packs on the van."""
        return tuple(line.pack for line in self.lines)


@dataclass(frozen=True, slots=True)
class VanArrived:
    """The van was unloaded at its depot: what arrived, what did not, and on which shelf the loose packs lie."""

    number: str
    done_at: dt.datetime
    packs: tuple[str, ...]
    vehicles: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    shelf: str = ""
    remark: str = ""
