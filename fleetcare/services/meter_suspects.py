"""Meters that stand apart from the others on the same packs by more than their makers allow: for the mechanic to prove."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.metering import limit_of_error_v
from fleetcare.domain.packs import Meter
from fleetcare.domain.wording import Message, msg

USUAL = Meter("", "", Decimal("0.5"), 2, Decimal("0.01"))
"""What a file of checks says nothing about: the accuracy of a usual hand-held meter (common practice, no source)."""
LEAST_TO_BLAME = 3
"""With fewer meters nobody can say which of them is off."""


@dataclass(frozen=True, slots=True)
class MeterSuspect:
    """A meter in question, or the two of which one is: why, and what to do about it."""

    meter: str
    why: Message
    what_to_do: Message

    @property
    def told(self) -> Message:
        """All of it in one sentence."""
        return msg("suspect.meter", meter=self.meter, why=self.why, what_to_do=self.what_to_do)


def meters_apart(
    offsets: Sequence[tuple[str, float]], meters: Mapping[str, Meter], full_v: Decimal, *, assumed: bool = False
) -> tuple[MeterSuspect, ...]:
    """Which of `meters` are in question by their learnt `offsets` in volts, read on packs of `full_v`.

    Of three meters or more each is held against the middle of all, of two against each other; one that reads exactly as
    far off as its maker allows is not in question.  A meter that was found out already, or is not on record, takes no
    part: its readings are in doubt by that.  `assumed` says that what their makers allow is not known, but assumed.
    """
    judged = [(code, volts) for code, volts in offsets if code in meters and meters[code].refused_from is None]
    allowed = {code: float(limit_of_error_v(full_v, meters[code])) for code, _ in judged}
    if len(judged) < LEAST_TO_BLAME:
        return _two_apart(judged, allowed, assumed=assumed)
    kind = "_assumed" if assumed else ""
    middle = statistics.median(volts for _, volts in judged)
    return tuple(
        MeterSuspect(
            code,
            msg(f"suspect.meter_{'below' if volts < middle else 'above'}{kind}", off_v=abs(volts - middle),
                allowed_v=allowed[code]),
            msg("suspect.prove_meter", meter=code),
        )
        for code, volts in judged
        if abs(volts - middle) > allowed[code]
    )  # fmt: skip


def _two_apart(
    judged: Sequence[tuple[str, float]], allowed: Mapping[str, float], *, assumed: bool
) -> tuple[MeterSuspect, ...]:
    if len(judged) != 2:
        return ()
    apart, room = abs(judged[0][1] - judged[1][1]), sum(allowed.values())
    if apart <= room:
        return ()
    why = msg("suspect.meters_apart_assumed" if assumed else "suspect.meters_apart", off_v=apart, allowed_v=room)
    return (MeterSuspect(", ".join(code for code, _ in judged), why, msg("suspect.prove_both")),)
