"""Questions about a typed value that looks like a slip.  Nothing is converted; a person answers."""

from __future__ import annotations

import itertools
from decimal import Decimal

from fleetcare.domain.checks import VoltageCheck
from fleetcare.domain.judging import per_group
from fleetcare.domain.limits import PackLimits, resolve
from fleetcare.domain.packs import PackModel, SiteRules
from fleetcare.domain.verdicts import Question
from fleetcare.domain.wording import msg

JUMPS = frozenset({"ask.jump", "ask.jump_lower", "ask.jump_higher"})
"""Questions about a jump since the last reading; the first stands in records of earlier versions only."""

AGREE_V = Decimal("0.10")
"""Two readings of one pack closer than this say the same (proposal; leads moved between them)."""


def answers_jump(asked: Question, first_v: Decimal, second_v: Decimal) -> bool:
    """True when the second reading says the same as the first: that answers a question about a jump and no other."""
    return asked.statement.key in JUMPS and abs(first_v - second_v) < AGREE_V


def question_entry(
    model: PackModel, site: SiteRules, field: str, typed: Decimal, earlier: VoltageCheck | None = None
) -> tuple[Question, ...]:
    """What to ask about `typed` volts in `field` ("rested_v" or "loaded_v") before it is saved.

    Asked: a unit slip (41380, 4123), two neighbouring digits swapped (14.30), above any charger,
    below 1.5 V per group, and for the rested reading a jump since the last one.
    """
    limits = resolve(model, site)
    if typed > limits.volts("over_full_stop").value * Decimal("1.05"):
        return (_too_high(field, typed, limits, model),)
    floor = limits.volts("implausible_below")
    if 0 < typed < floor.value and typed >= Decimal("0.1") * model.series_count:
        swapped = _swapped(typed, limits, earlier)
        statement = msg(
            "ask.swapped" if swapped else "ask.too_low",
            typed=str(typed),
            limit_v=floor.value,
            group_limit_v=floor.value / model.series_count,
            per_group_v=per_group(typed, model.series_count),
            maybe_v=swapped,
        )
        return (Question(field, statement, swapped),)
    if field == "rested_v" and earlier is not None:
        change_v = typed - earlier.rested_v
        if abs(change_v) >= limits.jump_v:
            swapped = _swapped(typed, limits, earlier)
            statement = msg(
                "ask.jump_lower" if change_v < 0 else "ask.jump_higher",
                jump_v=abs(change_v),
                limit_v=limits.jump_v,
                earlier_v=earlier.rested_v,
                earlier_date=earlier.done_at.date(),
            )
            return (Question(field, statement, swapped),)
    return ()


def _plausible(value: Decimal, limits: PackLimits) -> bool:
    return limits.volts("do_not_charge").value <= value <= limits.volts("over_full_stop").value


def _too_high(field: str, typed: Decimal, limits: PackLimits, model: PackModel) -> Question:
    stop = limits.volts("over_full_stop")
    maybe = tuple(scaled for power in (1, 2, 3) if _plausible(scaled := typed.scaleb(-power), limits)) or _swapped(
        typed, limits, None
    )
    key = "ask.unit_slip" if maybe else "ask.too_high"
    statement = msg(key, typed=str(typed), limit_v=stop.value, series=model.series_count, maybe_v=maybe)
    return Question(field, statement, maybe)


def _swapped(typed: Decimal, limits: PackLimits, earlier: VoltageCheck | None) -> tuple[Decimal, ...]:
    """Plausible values with two neighbouring digits of `typed` exchanged, nearest to the last first."""
    text = str(typed)
    found: set[Decimal] = set()
    places = [i for i, character in enumerate(text) if character.isdigit()]
    for a, b in itertools.pairwise(places):
        digits = list(text)
        digits[a], digits[b] = digits[b], digits[a]
        value = Decimal("".join(digits))
        if value != typed and _plausible(value, limits):
            found.add(value)
    if earlier is not None:
        found = {value for value in found if abs(value - earlier.rested_v) < limits.jump_v}
        return tuple(sorted(found, key=lambda value: abs(value - earlier.rested_v)))
    return tuple(sorted(found, reverse=True))
