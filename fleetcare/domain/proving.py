"""Proving a meter against a reference, and what a meter that was found out makes of its readings.

A proof compares one reading of the meter with a reference of known error.  The answer has three
values, as for a pack: within the maker's limit of error, outside it, or the reference is not good
enough to tell.  A meter outside its limit is found out: every reading since it was last good is in
doubt, keeps its number, and is judged once more with the error that was found.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from decimal import Decimal

from fleetcare.domain import judging, metering
from fleetcare.domain.checks import VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.metering import Decision
from fleetcare.domain.packs import Meter, PackModel, SiteRules, TestLoad
from fleetcare.domain.verdicts import Verdict

TENTH_MILLIVOLT = Decimal("0.0001")

SOON_DAYS = 30
"""Days before its due date from which a calibration is said to be due soon (proposal of this program)."""


@dataclass(frozen=True, slots=True)
class MeterProof:
    """One comparison of a meter with a reference, both on the same voltage at the same time.

    `reference_v` is the reference's value and `reference_error_v` its limit of error, in volts;
    `read_v` is what the meter showed.  `calibration_due` is set when the comparison was a
    calibration with a certificate, which then names a new due date.  Raises EntryRefused for what
    cannot be a comparison.
    """

    meter: str
    done_at: dt.datetime
    reference: str
    reference_v: Decimal
    reference_error_v: Decimal
    read_v: Decimal
    calibration_due: dt.date | None = None
    remark: str = ""

    def __post_init__(self) -> None:
        if not self.reference.strip():
            raise EntryRefused("proof.needs_reference", field="reference")
        if self.reference_v <= 0:
            raise EntryRefused("proof.reference_not_positive", field="reference_v", typed_v=self.reference_v)
        if self.reference_error_v < 0:
            raise EntryRefused("entry.negative_v", field="reference_error_v", typed_v=self.reference_error_v)
        if self.read_v < 0:
            raise EntryRefused("entry.negative_v", field="read_v", typed_v=self.read_v)
        if self.done_at.tzinfo is None:
            raise ValueError("done_at needs its offset")

    @property
    def error_v(self) -> Decimal:
        """Reading minus reference, in volts: positive when the meter reads high (VIM 2.16)."""
        return self.read_v - self.reference_v


@dataclass(frozen=True, slots=True)
class MeterFoundOut:
    """A meter whose readings after `last_good_at` up to `done_at` are in doubt, and which is refused from then on.

    `last_good_at` None: it was never shown to be good, so every reading is in doubt.  `error_v` at
    `reference_v` (good to `reference_error_v`) is what the proof `proof` showed; None where no figure
    could be had (it is broken).
    `packs` are the packs with readings in doubt, as known when it was found out.
    """

    meter: str
    done_at: dt.datetime
    last_good_at: dt.datetime | None
    reason: str
    error_v: Decimal | None = None
    reference_v: Decimal | None = None
    reference_error_v: Decimal | None = None
    proof: str | None = None
    packs: tuple[str, ...] = ()

    def covers(self, check: VoltageCheck) -> bool:
        """True when `check` was read with this meter after it was last good, and not after it was found out."""
        after = self.last_good_at is None or check.done_at > self.last_good_at
        return check.meter == self.meter and after and check.done_at <= self.done_at


def decide(proof: MeterProof, meter: Meter) -> Decision:
    """Whether the meter is within its maker's limit of error at the reference's voltage.

    PASS: the error plus twice the reference's standard uncertainty stays within; an error equal to
    the limit with a perfect reference is within.  BEYOND: outside by at least as much.  TOO_NEAR:
    the reference is not good enough to tell.  Source: the guard band of ILAC-G8:09/2019 with k = 2.
    """
    u = float(proof.reference_error_v) / math.sqrt(3)
    limit = metering.limit_of_error_v(proof.reference_v, meter)
    return metering.decide_upper(abs(proof.error_v), limit, u)


def without_error(check: VoltageCheck, found: MeterFoundOut) -> tuple[VoltageCheck, ...]:
    """`check` as a good meter would have read it: once with the error the same at every voltage, once in proportion.

    One proof cannot tell which of the two it is, so both are given.  Empty when no figure was found.
    A reading that would fall below zero is taken as zero.
    """
    if found.error_v is None or found.reference_v is None:
        return ()
    error_v, at_v = found.error_v, found.reference_v
    shifted = _read(check, lambda volts: volts - error_v)
    scale = at_v / (at_v + error_v) if at_v + error_v > 0 else None
    if scale is None:
        return (shifted,)
    return (shifted, _read(check, lambda volts: volts * scale))


def _read(check: VoltageCheck, good: object) -> VoltageCheck:
    def mended(volts: Decimal) -> Decimal:
        return max(Decimal(0), good(volts).quantize(TENTH_MILLIVOLT))  # type: ignore[operator]

    loaded = None if check.loaded_v is None else mended(check.loaded_v)
    return replace(check, rested_v=mended(check.rested_v), loaded_v=loaded)


@dataclass(frozen=True, slots=True)
class Rejudged:
    """What a doubted reading could really mean: the worse of the two, with the volts it stands for."""

    check: VoltageCheck
    verdict: Verdict
    margin_v: Decimal
    """Volts above the model's pull line for rested-full readings (hold line for others); negative below it."""


def _corrected(meter: Meter, found: MeterFoundOut) -> Meter:
    if found.reference_v is None or found.reference_error_v is None:
        return meter
    return replace(meter, accuracy_percent=found.reference_error_v / found.reference_v * 100)


def rejudge(
    check: VoltageCheck, found: MeterFoundOut, model: PackModel, site: SiteRules, meter: Meter, load: TestLoad | None
) -> Rejudged | None:
    """The stricter judgement of `check` without the error found; None when no figure was found.

    A corrected reading is as uncertain as its correction, so the reference's error takes the place
    of the meter's percentage; the digits stay (JCGM 100:2008, F.2.4).
    """
    meter = _corrected(meter, found)
    judged = [
        Rejudged(one, judging.judge(one, None, model, site, meter, load), judging.margin_v(one, model, site))
        for one in without_error(check, found)
    ]
    return max(judged, key=lambda one: (one.verdict.level.rank, -one.margin_v), default=None)
