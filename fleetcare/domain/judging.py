"""Judge one check against the limits of its pack model: the strictest finding leads.

Reaching a watch limit is watch, by exact decimals; the decision with three answers applies at pull
and stop limits, where the meter's own accuracy may leave a reading too near to call.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

from fleetcare.domain import metering, temperature
from fleetcare.domain.checks import (
    CheckKind,
    HoldClass,
    LookOver,
    Trip,
    TripCause,
    VoltageCheck,
)
from fleetcare.domain.limits import PackLimits, ResistanceLimits, resolve
from fleetcare.domain.metering import Decision
from fleetcare.domain.packs import Meter, PackModel, SiteRules, TestLoad
from fleetcare.domain.self_discharge import on_plateau
from fleetcare.domain.verdicts import Finding, Ruling, Verdict, VerdictLevel
from fleetcare.domain.wording import Message, msg

SILENT_PER_GROUP_V = Decimal("0.1")
"""Below this per group the contacts are silent, which says nothing about the cells (common practice)."""

REPEAT_WITHIN_DAYS = 14


def judge(
    check: VoltageCheck,
    look_over: LookOver | None,
    model: PackModel,
    site: SiteRules,
    meter: Meter,
    load: TestLoad | None,
    *,
    earlier: VoltageCheck | None = None,
) -> Verdict:
    """What `check` means for a pack of `model`; `earlier` is the last comparable check, if any."""
    limits = resolve(model, site)
    findings: list[Finding] = list(_look(look_over))
    silent = shows_nothing(check.rested_v, model)
    valid = False
    if silent:
        note = "silent.sleeps" if model.output_live_when_off is False else "silent.unknown"
        findings.append(
            Finding("rested_v", VerdictLevel.NOT_JUDGED, msg(note, rested_v=check.rested_v, model=model.name))
        )
    else:
        findings += _low(check, limits, meter, model.series_count)
        if check.kind is CheckKind.RESTED_FULL:
            valid = _rested_long_enough(check, limits)
            findings += _rested_full(check, limits, meter, valid)
        findings += _over_full(check, limits, meter)
        findings += _jump(check, limits, earlier)
        findings += _resistance(check, limits, meter, load)
    verdict = _lead(findings, limits, check, valid=valid, silent=silent, earlier=earlier)
    if verdict.next_step.key == "next.pull_again" and on_plateau(
        float(check.rested_v), model.chemistry, model.series_count
    ):
        return replace(verdict, next_step=msg("next.flat_again"))
    return verdict


def shows_nothing(rested_v: Decimal, model: PackModel) -> bool:
    """Whether a reading at a pack's contacts says nothing about its cells: output asleep, switched off or tripped."""
    return rested_v < SILENT_PER_GROUP_V * model.series_count


def per_group(pack_v: Decimal, series: int) -> Decimal:
    """Average volts per cell group, to a millivolt, for print (never for a comparison)."""
    average = (pack_v / series).quantize(Decimal("0.001"))
    return average.quantize(Decimal("0.01")) if average == average.quantize(Decimal("0.01")) else average


def margin_v(check: VoltageCheck, model: PackModel, site: SiteRules) -> Decimal:
    """How far a reading lies above its pull line (rested full) or its hold line (any other kind), in volts."""
    limits = resolve(model, site)
    name = "rested_full_pull" if check.kind is CheckKind.RESTED_FULL else "low_hold"
    return check.rested_v - limits.volts(name).value


def judge_look_over(look_over: LookOver, model: PackModel, site: SiteRules) -> Verdict:
    """What a visual inspection alone means; it never counts as the periodic voltage check."""
    findings = list(_look(look_over))
    limits = resolve(model, site)
    if not findings:
        findings = [Finding("look_over", VerdictLevel.PASS, msg("look.all_good"))]
    return _lead(findings, limits, None, valid=False, silent=False, earlier=None)


def judge_trips(trip: Trip, recent: list[Trip], site: SiteRules) -> Ruling | None:
    """Whether this trip holds the pack.  `recent` are all trips of the pack in the window, this included.

    The window is inclusive.  Reaching a count is enough.
    """
    if trip.cause in (TripCause.SHORT_CIRCUIT, TripCause.MOISTURE, TripCause.OVER_TEMPERATURE):
        return Ruling(
            HoldClass.DANGER if trip.cause is TripCause.MOISTURE else HoldClass.FAULT,
            msg("trip.no_reset", cause=msg(f"trip_cause.{trip.cause.value}")),
        )
    unexplained = sum(not one.explained for one in recent)
    if len(recent) >= site.trips_any_pull:
        return Ruling(
            HoldClass.FAULT,
            msg("trip.any_count", count=len(recent), rule=site.trips_any_pull, window_days=site.trip_window_days),
        )
    if unexplained >= site.trips_unexplained_pull:
        return Ruling(
            HoldClass.FAULT,
            msg(
                "trip.unexplained_count",
                count=unexplained,
                rule=site.trips_unexplained_pull,
                window_days=site.trip_window_days,
            ),
        )
    return None


def _look(look_over: LookOver | None) -> list[Finding]:
    if look_over is None:
        return []
    return [
        Finding(
            "look_over",
            VerdictLevel.DANGER if item.danger else VerdictLevel.WATCH,
            msg("look.danger" if item.danger else "look.found", item=msg(f"look.{item.value}")),
        )
        for item in look_over.found
    ]


def _rested_long_enough(check: VoltageCheck, limits: PackLimits) -> bool:
    least = check.rest.least_minutes
    return least is not None and least >= limits.minimum_rest_minutes


def _low(check: VoltageCheck, limits: PackLimits, meter: Meter, series: int) -> list[Finding]:
    """Hold and do-not-charge limits; they apply to every kind of reading.

    Too near to the do-not-charge limit is below the hold limit in any case: it is pulled, and that leads.
    """
    u = metering.standard_uncertainty_v(check.rested_v, meter)
    found = []
    for name, beyond in (("do_not_charge", VerdictLevel.DANGER), ("low_hold", VerdictLevel.PULL)):
        limit = limits.volts(name)
        decision = metering.decide_lower(check.rested_v, limit.value, u)
        if decision is Decision.PASS:
            continue
        near = VerdictLevel.PULL if name == "do_not_charge" else VerdictLevel.TOO_NEAR
        level = beyond if decision is Decision.BEYOND else near
        chance = metering.chance_below(float(check.rested_v), float(limit.value), u)
        statement = msg(
            f"low.{name}" if decision is Decision.BEYOND else f"low.near_{name}",
            rested_v=check.rested_v,
            limit_v=limit.value,
            per_group_v=per_group(check.rested_v, series),
            group_limit_v=limit.value / series,
        )
        found.append(Finding("low_v", level, statement, name, limit.value, limit.source, chance))
    return found


def _rested_full(check: VoltageCheck, limits: PackLimits, meter: Meter, valid: bool) -> list[Finding]:
    if not valid:
        return [
            Finding(
                "rested_v",
                VerdictLevel.NOT_JUDGED,
                msg("rest.too_short", rest=msg(f"rest.{check.rest.value}"), need_minutes=limits.minimum_rest_minutes),
            )
        ]
    passing, pull = limits.volts("rested_full_pass"), limits.volts("rested_full_pull")
    u = metering.standard_uncertainty_v(check.rested_v, meter)
    chance = metering.chance_below(float(check.rested_v), float(pull.value), u)
    decision = metering.decide_lower(check.rested_v, pull.value, u)
    values = {"rested_v": check.rested_v, "pass_v": passing.value, "pull_v": pull.value}
    if decision is Decision.BEYOND:
        return [
            Finding(
                "rested_v", VerdictLevel.PULL, msg("full.pull", **values), pull.name, pull.value, pull.source, chance
            )
        ]
    if decision is Decision.TOO_NEAR:
        statement = msg(
            "full.too_near",
            chance_percent=chance * 100,
            error_v=metering.limit_of_error_v(check.rested_v, meter),
            **values,
        )
        return [Finding("rested_v", VerdictLevel.TOO_NEAR, statement, pull.name, pull.value, pull.source, chance)]
    level = VerdictLevel.PASS if check.rested_v >= passing.value else VerdictLevel.WATCH
    statement = msg("full.pass" if level is VerdictLevel.PASS else "full.watch", **values)
    return [Finding("rested_v", level, statement, passing.name, passing.value, passing.source, chance)]


def _over_full(check: VoltageCheck, limits: PackLimits, meter: Meter) -> list[Finding]:
    query, stop = limits.volts("over_full_query"), limits.volts("over_full_stop")
    u = metering.standard_uncertainty_v(check.rested_v, meter)
    decision = metering.decide_upper(check.rested_v, stop.value, u)
    chance = 1.0 - metering.chance_below(float(check.rested_v), float(stop.value), u)
    if decision is Decision.BEYOND:
        statement = msg("over_full.stop", rested_v=check.rested_v, limit_v=stop.value)
        return [Finding("over_full_v", VerdictLevel.DANGER, statement, stop.name, stop.value, stop.source, chance)]
    if check.rested_v <= query.value:
        return []
    if decision is Decision.TOO_NEAR:
        statement = msg("over_full.too_near", rested_v=check.rested_v, limit_v=stop.value, chance_percent=chance * 100)
        return [Finding("over_full_v", VerdictLevel.TOO_NEAR, statement, stop.name, stop.value, stop.source, chance)]
    statement = msg("over_full.query", rested_v=check.rested_v, limit_v=query.value)
    return [Finding("over_full_v", VerdictLevel.WATCH, statement, query.name, query.value, query.source)]


def _jump(check: VoltageCheck, limits: PackLimits, earlier: VoltageCheck | None) -> list[Finding]:
    if earlier is None or earlier.kind is not check.kind:
        return []
    change_v = check.rested_v - earlier.rested_v
    if abs(change_v) < limits.jump_v:
        return []
    values = {"change_v": change_v, "limit_v": limits.jump_v, "earlier_date": earlier.done_at.date()}
    if earlier.meter != check.meter:
        statement = msg("jump.other_meter", meter=check.meter, earlier_meter=earlier.meter, **values)
    else:
        statement = msg("jump.found", **values)
    return [Finding("jump_v", VerdictLevel.WATCH, statement, "jump", limits.jump_v)]


def _resistance(check: VoltageCheck, limits: PackLimits, meter: Meter, load: TestLoad | None) -> list[Finding]:
    measured = check.resistance_ohm
    if measured is None or check.loaded_v is None or check.load_a is None:
        return []
    rule = limits.resistance
    refusal = _resistance_refusal(check, limits, rule)
    if refusal is not None or rule is None:
        return [Finding("resistance_ohm", VerdictLevel.NOT_JUDGED, refusal or msg("ohm.no_baseline"))]
    load_percent = load.accuracy_percent if load is not None else Decimal(1)
    u = metering.resistance_uncertainty_ohm(check.rested_v, check.loaded_v, check.load_a, meter, load_percent)
    judged, u, values = _at_rule_temperature(measured, u, check, rule)
    values |= {"watch_ohm": rule.watch_ohm, "pull_ohm": rule.pull_ohm}
    chance = 1.0 - metering.chance_below(float(judged), float(rule.pull_ohm), u)
    decision = metering.decide_upper(judged, rule.pull_ohm, u)
    corrected = "_corrected" if "corrected_ohm" in values else ""
    if decision is Decision.BEYOND:
        level, word, limit = VerdictLevel.PULL, "pull", rule.pull_ohm
    elif decision is Decision.TOO_NEAR:
        level, word, limit = VerdictLevel.TOO_NEAR, "too_near", rule.pull_ohm
        values["chance_percent"] = chance * 100
    elif judged >= rule.watch_ohm:
        level, word, limit = VerdictLevel.WATCH, "watch", rule.watch_ohm
    else:
        level, word, limit = VerdictLevel.PASS, "pass", rule.watch_ohm
    return [
        Finding(
            "resistance_ohm",
            level,
            msg(f"ohm.{word}{corrected}", **values),
            f"resistance_{word}",
            limit,
            rule.source,
            chance,
        )
    ]


def _resistance_refusal(check: VoltageCheck, limits: PackLimits, rule: ResistanceLimits | None) -> Message | None:
    """Why the loaded resistance cannot be judged, or None when it can."""
    if check.bench_c is not None and check.bench_c < limits.loaded_minimum_c:
        return msg("ohm.too_cold", bench_c=check.bench_c, limit_c=limits.loaded_minimum_c)
    if rule is None:
        return msg("ohm.no_baseline")
    if rule.load_a is not None and (check.load_a != rule.load_a or (check.hold_s or rule.hold_s) != rule.hold_s):
        return msg(
            "ohm.other_load",
            load_a=check.load_a,
            hold_seconds=check.hold_s,
            rule_a=rule.load_a,
            rule_seconds=rule.hold_s,
        )
    if rule.at_c is not None and check.bench_c is None:
        return msg("ohm.no_temperature", at_c=rule.at_c)
    return None


def _at_rule_temperature(
    measured: Decimal, u: float, check: VoltageCheck, rule: ResistanceLimits
) -> tuple[Decimal, float, dict[str, object]]:
    """The resistance at the temperature the rule is stated for, with its uncertainty."""
    shown: dict[str, object] = {"resistance_ohm": tidy_ohm(measured)}
    if rule.at_c is None or check.bench_c is None or check.bench_c == rule.at_c:
        return measured, u, shown
    judged = Decimal(repr(round(temperature.ohm_at(float(measured), float(check.bench_c), float(rule.at_c)), 6)))
    factor = float(judged / measured)
    u_law = float(judged) * temperature.law_uncertainty(float(check.bench_c), float(rule.at_c))
    shown |= {"corrected_ohm": float(judged), "at_c": rule.at_c, "bench_c": check.bench_c}
    return judged, math.hypot(u * factor, u_law), shown


def tidy_ohm(ohm: Decimal) -> Decimal:
    """Ohms for print: exact where three digits suffice, otherwise rounded half-even to four."""
    exact = ohm.normalize()
    return exact if -int(exact.as_tuple().exponent) <= 4 else ohm.quantize(Decimal("0.0001"))


def _lead(
    findings: list[Finding],
    limits: PackLimits,
    check: VoltageCheck | None,
    *,
    valid: bool,
    silent: bool,
    earlier: VoltageCheck | None,
) -> Verdict:
    findings.sort(key=lambda one: one.level.rank, reverse=True)
    levels = [one.level for one in findings if one.level is not VerdictLevel.NOT_JUDGED]
    base = VerdictLevel.PASS if valid or check is None else VerdictLevel.NOT_JUDGED
    if check is not None and check.kind is not CheckKind.RESTED_FULL and not silent:
        base = VerdictLevel.PASS
    level = max([base, *levels], key=lambda one: one.rank)
    lead = next((one for one in findings if one.level is level), findings[0] if findings else None)
    hold_class = {VerdictLevel.DANGER: HoldClass.DANGER, VerdictLevel.PULL: HoldClass.FAULT}.get(level)
    return Verdict(
        level=level,
        headline=msg(f"headline.{level.value}"),
        findings=tuple(findings),
        next_step=msg(_next_step(level, lead, silent, limits, check, earlier)),
        limits_id=limits.limits_id,
        resistance_ohm=check.resistance_ohm if check else None,
        sag_v=check.sag_v if check else None,
        valid=valid and level is not VerdictLevel.NOT_JUDGED,
        hold_class=hold_class,
        hold_reason=lead.statement if hold_class and lead else None,
    )


def _next_step(
    level: VerdictLevel,
    lead: Finding | None,
    silent: bool,
    limits: PackLimits,
    check: VoltageCheck | None,
    earlier: VoltageCheck | None,
) -> str:
    if silent and level is VerdictLevel.NOT_JUDGED:
        return "next.wake_stored" if check is not None and check.kind is CheckKind.STORED else "next.wake"
    quantity = lead.quantity if lead else ""
    if level is VerdictLevel.DANGER:
        return {"look_over": "next.stop", "low_v": "next.do_not_charge"}.get(quantity, "next.over_full")
    if level is VerdictLevel.PULL and quantity == "rested_v":
        return "next.pull_again" if _second_low(limits, check, earlier) else "next.charge_and_repeat"
    if level is VerdictLevel.PULL and lead is not None and quantity == "low_v":
        return "next.near_do_not_charge" if lead.statement.key == "low.near_do_not_charge" else "next.low_hold"
    if quantity == "resistance_ohm" and level in (VerdictLevel.PULL, VerdictLevel.WATCH):
        return "next.clean_contacts" if level is VerdictLevel.PULL else "next.watch_resistance"
    if level is VerdictLevel.TOO_NEAR:
        return "next.over_full" if quantity == "over_full_v" else "next.settle"
    if level is VerdictLevel.WATCH:
        return {
            "over_full_v": "next.second_meter",
            "jump_v": "next.measure_again",
            "look_over": "next.look_closer",
        }.get(quantity, "next.watch")
    return "next.repeat_rested" if level is VerdictLevel.NOT_JUDGED else "next.back_to_work"


def _second_low(limits: PackLimits, check: VoltageCheck | None, earlier: VoltageCheck | None) -> bool:
    if check is None or earlier is None:
        return False
    recent = (check.done_at - earlier.done_at).days <= REPEAT_WITHIN_DAYS
    return recent and earlier.rested_v < limits.volts("rested_full_pull").value
