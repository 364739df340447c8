"""Chargers: which pack was charged on which, and whether the output is within its tolerance."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.added_later import added_later
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Charger, PackModel

SILENT_V = Decimal("1")
"""Below this the output shows nothing: a charger that waits for a pack is not judged by it (common practice)."""


@dataclass(frozen=True, slots=True)
class ChargedOn:
    """A pack was put on a charger; `charger` "" where nobody knows which.  `pack_c`: its temperature, where read."""

    pack: str
    charger: str
    done_at: dt.datetime
    where: str = ""
    pack_c: Decimal | None = added_later(None)


class OutputState(StrEnum):
    """What an output reading says."""

    GOOD = "good"
    HIGH = "high"
    LOW = "low"
    NOT_JUDGED = "not_judged"


@dataclass(frozen=True, slots=True)
class OutputTest:
    """The output voltage of a charger as read with a meter, and what it said by the tolerance of that day."""

    charger: str
    done_at: dt.datetime
    meter: str
    measured_v: Decimal
    low_v: Decimal
    high_v: Decimal
    state: OutputState
    remark: str = ""


def outside_window(model: PackModel, pack_c: Decimal | None) -> bool:
    """True below or above the model's charge window; at its edges charging is allowed, unread says nothing."""
    return pack_c is not None and not model.charge_min_c <= pack_c <= model.charge_max_c


def tolerance_band(charger: Charger) -> tuple[Decimal, Decimal]:
    """Lowest and highest output that is still good; both limits themselves are good."""
    share = charger.rated_v * charger.tolerance_percent / 100
    return charger.rated_v - share, charger.rated_v + share


def judge_output(charger: Charger, measured_v: Decimal) -> OutputState:
    """What `measured_v` says.  No output of a charger that waits for a pack is not a failure."""
    if measured_v < 0:
        raise EntryRefused("entry.negative_v", field="measured_v", typed_v=measured_v)
    low, high = tolerance_band(charger)
    if measured_v < SILENT_V and charger.output_waits_for_pack:
        return OutputState.NOT_JUDGED
    if measured_v < low:
        return OutputState.LOW
    return OutputState.HIGH if measured_v > high else OutputState.GOOD
