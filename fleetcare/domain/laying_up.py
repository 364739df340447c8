"""Packs put away: their storage band, their own looks, and what a reading on the shelf means.

A reading taken in storage is compared with storage only.  Published advice differs (30 to 60 %, about half, a look
every one to three months), so the maker's band wins and the default is a proposal of this program.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.limits import PROPOSAL, PackLimits
from fleetcare.domain.packs import Chemistry, PackModel, SiteRules
from fleetcare.domain.wording import Message, msg

_NICKEL = (Chemistry.NMC, Chemistry.NCA, Chemistry.LMO)


@dataclass(frozen=True, slots=True)
class LaidUp:
    """One pack was put away in a group, with the band that was told then; `look_days` is its look interval.

    `low_v` and `high_v` are volts of the whole pack, both None where no band is stated for its chemistry.
    """

    pack: str
    group: str
    done_at: dt.datetime
    shelf: str
    low_v: Decimal | None
    high_v: Decimal | None
    band_source: str
    look_days: int
    remark: str = ""


@dataclass(frozen=True, slots=True)
class LayUpEnded:
    """One pack was taken out of lay-up; it goes out only after a full check that passed."""

    pack: str
    group: str
    done_at: dt.datetime
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """The storage voltage of one model: volts of the whole pack, or None both where nothing is stated."""

    low_v: Decimal | None
    high_v: Decimal | None
    source: str


class Standing(StrEnum):
    """Where a storage reading lies; the rules of deep discharge come before the band."""

    IN_BAND = "in_band"
    ABOVE = "above"
    BELOW = "below"
    LOW = "low"
    DEEP = "deep"
    SILENT = "silent"
    NO_BAND = "no_band"


def band_of(model: PackModel, site: SiteRules) -> Band:
    """The maker's storage band, else the site's or the default per group; LFP and LTO have no default.

    The voltage of LFP and LTO says too little about their charge for a band that was not stated by the maker.
    """
    if model.storage_low_v is not None and model.storage_high_v is not None:
        return Band(model.storage_low_v, model.storage_high_v, "pack maker's storage band")
    if model.chemistry not in _NICKEL:
        return Band(None, None, "")
    source = dict(site.sources).get("storage_low_group_v", PROPOSAL)
    series = model.series_count
    return Band(site.storage_low_group_v * series, site.storage_high_group_v * series, source)


def standing_of(rested_v: Decimal, band: Band, limits: PackLimits, *, silent_below_v: Decimal = Decimal(0)) -> Standing:
    """Where a reading lies, by exact decimals: a value on an edge of the band is inside it.

    Below `silent_below_v` the contacts show nothing, which says nothing about the cells.
    """
    if rested_v < silent_below_v:
        return Standing.SILENT
    if rested_v < limits.volts("do_not_charge").value:
        return Standing.DEEP
    if rested_v < limits.volts("low_hold").value:
        return Standing.LOW
    if band.low_v is None or band.high_v is None:
        return Standing.NO_BAND
    if rested_v < band.low_v:
        return Standing.BELOW
    return Standing.ABOVE if rested_v > band.high_v else Standing.IN_BAND


@dataclass(frozen=True, slots=True)
class Look:
    """When a laid-up pack is next looked at, and why on that day."""

    due_on: dt.date
    why: Message


def next_look(
    laid_up: LaidUp, readings: Sequence[tuple[dt.datetime, Decimal]], site: SiteRules, *, drains: Message | None = None
) -> Look:
    """The next look at a laid-up pack: its own interval from the last storage reading, sooner for a low one.

    `readings` are its storage readings in any order.  `drains` says that it loses charge faster than the fleet;
    that and a reading below the band only ever bring the look forward.
    """
    last_at, last_v = max(readings, default=(laid_up.done_at, None), key=lambda one: one[0])
    last = last_at.date()
    ordinary = last + dt.timedelta(days=laid_up.look_days)
    soon = last + dt.timedelta(days=site.lay_up_low_look_days)
    if soon < ordinary and last_v is not None and laid_up.low_v is not None and last_v < laid_up.low_v:
        values = {"rested_v": last_v, "low_v": laid_up.low_v, "every_days": site.lay_up_low_look_days}
        return Look(soon, msg("due.lay_up_low", last_date=last, **values))
    if soon < ordinary and drains is not None:
        return Look(soon, msg("due.lay_up_drains", why=drains, every_days=site.lay_up_low_look_days, last_date=last))
    return Look(
        ordinary, msg("due.lay_up", group=laid_up.group, every_days=laid_up.look_days, last_date=last)
    )  # fmt: skip
