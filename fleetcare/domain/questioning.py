"""Questions about a typed value that looks like a slip.  Nothing is converted; a person answers."""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence
from decimal import Decimal

from fleetcare.domain import metering, temperature
from fleetcare.domain.checks import VoltageCheck
from fleetcare.domain.judging import per_group, tidy_ohm
from fleetcare.domain.limits import (
    FALL_DEVIATIONS,
    FALL_LEAST_CHECKS,
    OHM_SCATTER,
    OHM_SCATTER_NO_TEMPERATURE,
    PackLimits,
    resolve,
)
from fleetcare.domain.packs import Meter, PackModel, SiteRules, TestLoad
from fleetcare.domain.verdicts import Question
from fleetcare.domain.wording import msg

JUMPS = frozenset({"ask.jump", "ask.jump_lower", "ask.jump_higher", "ask.ohm_fell", "ask.ohm_fell_unknown"})
"""Questions that a second reading answers by saying the same; the first stands in records of earlier versions only."""

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


def question_fall(
    check: VoltageCheck,
    earlier: Sequence[VoltageCheck],
    model: PackModel,
    site: SiteRules,
    meter: Meter,
    load: TestLoad | None,
) -> Question | None:
    """Ask about a loaded resistance far below the pack's own: no pack's resistance falls by itself.

    `earlier` are the pack's standing checks since anything was mended on it.  Those of the same kind by the same load
    count, the newest `comparable_checks`, each brought to this check's temperature; fewer than `FALL_LEAST_CHECKS` are no
    measure.  Not asked where meter, load, scatter of visits and temperature law explain the fall, nor below the
    temperature at which a loaded reading is judged; reaching `FALL_DEVIATIONS` is asked.
    """
    limits = resolve(model, site)
    measured = check.resistance_ohm
    if measured is None or check.loaded_v is None or check.load_a is None or _too_cold(check, limits):
        return None
    like = [one for one in earlier if _same_test(one, check) and not _too_cold(one, limits)]
    like = sorted(like, key=lambda one: one.done_at)[-site.comparable_checks :]
    if len(like) < FALL_LEAST_CHECKS:
        return None
    known_c = check.bench_c is not None and all(one.bench_c is not None for one in like)
    usual = statistics.median(_at(one, check.bench_c if known_c else None) for one in like)
    load_percent = load.accuracy_percent if load is not None else Decimal(1)
    u = metering.resistance_uncertainty_ohm(check.rested_v, check.loaded_v, check.load_a, meter, load_percent)
    scatter = OHM_SCATTER if known_c else OHM_SCATTER_NO_TEMPERATURE
    spread = usual * scatter * math.sqrt(1 + math.pi / 2 / len(like))  # a median of n scatters sqrt(pi / 2n) times one
    law = 0.0
    if known_c and check.bench_c is not None:
        law = usual * statistics.median(
            temperature.law_uncertainty(float(one.bench_c or 0), float(check.bench_c)) for one in like
        )
    fell = usual - float(measured)
    if usual <= 0 or fell < FALL_DEVIATIONS * math.hypot(u, spread, law):
        return None
    statement = msg(
        "ask.ohm_fell" if known_c else "ask.ohm_fell_unknown",
        resistance_ohm=tidy_ohm(measured), fell_percent=100 * fell / usual, usual_ohm=usual, checks=len(like),
        bench_c=check.bench_c, load_a=check.load_a,
    )  # fmt: skip
    return Question("loaded_v", statement)


def _too_cold(check: VoltageCheck, limits: PackLimits) -> bool:
    return check.bench_c is not None and check.bench_c < limits.loaded_minimum_c


def _same_test(one: VoltageCheck, check: VoltageCheck) -> bool:
    same = (one.kind, one.load_a, one.hold_s) == (check.kind, check.load_a, check.hold_s)
    return same and one.resistance_ohm is not None and one.done_at < check.done_at


def _at(check: VoltageCheck, at_c: Decimal | None) -> float:
    """The loaded resistance of a check, brought to `at_c` (None: as measured), in ohms."""
    assert check.resistance_ohm is not None
    ohm = float(check.resistance_ohm)
    if at_c is None or check.bench_c is None:
        return ohm
    return temperature.ohm_at(ohm, float(check.bench_c), float(at_c))


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
