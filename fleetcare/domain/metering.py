"""What a meter's accuracy allows to be said: uncertainty, and a decision with three answers.

A maker states the limit of error as ±(percent of reading + digits).  It is taken as a rectangular
distribution, so the standard uncertainty is the limit over the square root of three (JCGM 100:2008,
4.3.7).  The probability that the true value lies beyond a limit is the normal integral of JCGM
106:2012 with a flat prior; with k = 2 either side "beyond" and "pass" carry at most 2.275 % risk.
"""

from __future__ import annotations

import math
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.packs import Meter

COVERAGE_K = 2.0
"""Guard band in standard uncertainties: 2.275 % one-sided risk (ILAC-G8:09/2019)."""


class Decision(StrEnum):
    """The three answers of a comparison with a limit."""

    PASS = "pass"
    BEYOND = "beyond"
    TOO_NEAR = "too_near"


def limit_of_error_v(reading_v: Decimal, meter: Meter) -> Decimal:
    """The largest error the maker allows at `reading_v`, in volts: 120 V at ±(1 % + 3 of 0.1 V) is 1.5 V."""
    return abs(reading_v) * meter.accuracy_percent / 100 + meter.accuracy_digits * meter.digit_v


def standard_uncertainty_v(reading_v: Decimal, meter: Meter) -> float:
    """Standard uncertainty of one reading, in volts."""
    return float(limit_of_error_v(reading_v, meter)) / math.sqrt(3)


def resistance_uncertainty_ohm(
    rested_v: Decimal, loaded_v: Decimal, load_a: Decimal, meter: Meter, load_percent: Decimal
) -> float:
    """Standard uncertainty of (rested - loaded) / amps, in ohms.

    The percent part of a meter's error is a gain common to both readings of one visit, so it acts
    on their difference only; the digit parts are independent.  The load's own accuracy adds.
    """
    sag = float(rested_v - loaded_v)
    amps = float(load_a)
    gain = float(meter.accuracy_percent) / 100 * sag / math.sqrt(3)
    digits = meter.accuracy_digits * float(meter.digit_v) / math.sqrt(3)
    u_sag = math.sqrt(gain**2 + 2 * digits**2)
    u_amps = float(load_percent) / 100 * amps / math.sqrt(3)
    return math.hypot(u_sag / amps, sag * u_amps / amps**2)


def chance_below(reading: float, limit: float, u: float) -> float:
    """Probability that the true value is below `limit`; at u = 0 a step that is 0 at equality."""
    if u <= 0:
        return 1.0 if reading < limit else 0.0
    return 0.5 * math.erfc((reading - limit) / (u * math.sqrt(2)))


def decide_lower(reading: Decimal, limit: Decimal, u: float) -> Decision:
    """Is the true value below `limit`?  Equality to a guard edge counts to the clear side."""
    gap = float(reading - limit)
    if gap >= COVERAGE_K * u:
        return Decision.PASS
    return Decision.BEYOND if -gap >= COVERAGE_K * u and gap < 0 else Decision.TOO_NEAR


def decide_upper(reading: Decimal, limit: Decimal, u: float) -> Decision:
    """Is the true value above `limit`?  The mirror image of `decide_lower`."""
    return decide_lower(-reading, -limit, u)
