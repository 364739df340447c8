"""Every rule: a check, the limits and the meter in; a verdict with the rule and the number out."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.wording import Message


class VerdictLevel(StrEnum):
    """The answers a check can give, least to most strict; the strictest finding leads."""

    PASS = "pass"
    NOT_JUDGED = "not_judged"
    WATCH = "watch"
    TOO_NEAR = "too_near"
    PULL = "pull"
    DANGER = "danger"

    @property
    def rank(self) -> int:
        """Position in the order of strictness, 0 for pass."""
        return _RANKS[self]


_RANKS = {level: rank for rank, level in enumerate(VerdictLevel)}


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule applied to one quantity.

    `quantity` is "rested_v", "resistance_ohm", "low_v", "over_full_v", "jump_v" or "look_over".
    `statement` names the rule and the number ("39.90 V is below the pull line of 40.00 V").
    `limit` and `source` are what judged it; None where no limit applies.
    `chance_beyond` is the probability that the true value lies beyond the pull or stop limit.
    """

    quantity: str
    level: VerdictLevel
    statement: Message
    limit_name: str = ""
    limit: Decimal | None = None
    source: str = ""
    chance_beyond: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check means.  `level` is the strictest finding; `next_step` is the next safe step.

    `limits_id` identifies the limits that judged it and is stored with the record.  `hold_class`
    is set when the verdict itself holds the pack.  `valid` is True when the check counts as the
    pack's periodic check (a rested-full reading, long enough rested, could be judged).
    """

    level: VerdictLevel
    headline: Message
    findings: tuple[Finding, ...]
    next_step: Message
    limits_id: str
    resistance_ohm: Decimal | None = None
    sag_v: Decimal | None = None
    valid: bool = True
    hold_class: HoldClass | None = None
    hold_reason: Message | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """A plausible slip to be answered before saving: the text stays as typed, whatever is answered."""

    field: str
    statement: Message
    suggestions: tuple[Decimal, ...] = ()


@dataclass(frozen=True, slots=True)
class Ruling:
    """What a rule demands of a pack."""

    hold_class: HoldClass
    reason: Message
