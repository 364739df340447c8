"""Bays: what two packs side by side must have in common, an empty bay's cover, a pack that cannot be taken out."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack, PairRule, Vehicle

READING_HOURS = 24
"""How old a reading may be that says two packs match (proposal of this program)."""

Reading = tuple[Decimal, dt.datetime]


@dataclass(frozen=True, slots=True)
class BayCover:
    """An empty bay of a vehicle was covered, or found without its cover."""

    vehicle: str
    bay: int
    done_at: dt.datetime
    covered: bool


class Stuck(StrEnum):
    """Why a pack cannot be taken out, or that it can again."""

    JAMMED = "jammed"
    NO_KEY = "no_key"
    FREE = "free"


@dataclass(frozen=True, slots=True)
class PackStuck:
    """Whether a pack can be taken out of its vehicle."""

    pack: str
    vehicle: str
    done_at: dt.datetime
    why: Stuck
    remark: str = ""


def months_between(one: dt.date, other: dt.date) -> int:
    """Whole months between two days."""
    early, late = sorted((one, other))
    months = (late.year - early.year) * 12 + late.month - early.month
    return months - (late.day < early.day)


def refuse_mismatch(
    rule: PairRule, vehicle: Vehicle, pack: Pack, other: Pack, reading: Reading | None, other_reading: Reading | None,
    now: dt.datetime,
) -> None:  # fmt: skip
    """Raises EntryRefused, with the number, unless `pack` may go beside `other` in `vehicle`.

    Reaching the limit is allowed.  A rule about age needs both first days; a rule about volts needs a reading of
    both within READING_HOURS.
    """
    names = {"pack": pack.code, "other": other.code, "vehicle": vehicle.code, "source": rule.source or "—"}
    if rule.same_model and pack.model != other.model:
        raise EntryRefused("pair.other_model", field="pack", model=pack.model, other_model=other.model, **names)
    if rule.age_months is not None:
        if pack.in_service_on is None or other.in_service_on is None:
            raise EntryRefused("pair.age_unknown", field="pack", limit_months=rule.age_months, **names)
        months = months_between(pack.in_service_on, other.in_service_on)
        if months > rule.age_months:
            raise EntryRefused(
                "pair.other_age", field="pack", apart_months=months, limit_months=rule.age_months, **names
            )
    if rule.match_v is not None:
        for one, read in ((pack.code, reading), (other.code, other_reading)):
            if read is None or now - read[1] > dt.timedelta(hours=READING_HOURS):
                raise EntryRefused(
                    "pair.read_first", field="pack", which=one, limit_v=rule.match_v, hours=READING_HOURS, **names
                )
        assert reading is not None and other_reading is not None
        apart = abs(reading[0] - other_reading[0])
        if apart > rule.match_v:
            raise EntryRefused(
                "pair.volts_apart", field="pack", apart_v=apart, limit_v=rule.match_v, rested_v=reading[0],
                other_v=other_reading[0], **names,
            )  # fmt: skip
