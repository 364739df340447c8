"""Disposal: the end of a pack's papers, with its weight, the treatment plant's receipt and the waste chain."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from fleetcare.domain.errors import EntryRefused


@dataclass(frozen=True, slots=True)
class Disposed:
    """A pack was handed over for treatment, or the papers of an earlier collection came in.

    `waste_chain` is the waste producer's or transfer note's reference; `plant` the treatment plant that signs the
    `receipt`.  Weight and receipt make the papers whole; until then the pack stays on the list.
    """

    pack: str
    done_at: dt.datetime
    carrier: str = ""
    consignment: str = ""
    weight_kg: Decimal | None = None
    receipt: str = ""
    plant: str = ""
    waste_chain: str = ""
    remark: str = ""


def parse_weight(typed: str, *, field: str = "weight") -> Decimal | None:
    """Kilograms as typed; None for an empty field; EntryRefused for anything that is no weight."""
    if not typed.strip():
        return None
    try:
        weight = Decimal(typed.strip().replace(",", "."))
    except InvalidOperation:
        weight = Decimal(-1)
    if not weight.is_finite() or weight <= 0:
        raise EntryRefused("quarantine.bad_weight", field=field, typed=typed.strip())
    return weight
