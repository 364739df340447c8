"""Rules of the verdict: equality at each limit, the stricter finding leads, and what is not judged."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.checks import CheckKind, HoldClass, LookItem, LookOver, RestBand, Trip, TripCause, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.judging import judge, judge_look_over, judge_trips
from fleetcare.domain.packs import Chemistry, Meter, PackModel, SiteRules
from fleetcare.domain.questioning import question_entry
from fleetcare.domain.verdicts import Verdict, VerdictLevel
from fleetcare.domain.wording import say

D = Decimal
AT = dt.datetime(2026, 11, 2, 9, tzinfo=dt.UTC)
MODEL = PackModel("K36-A", "K36-A", Chemistry.NMC, 10, 36, D("42.0"), D("14"), "K2", output_live_when_off=False)
SITE = SiteRules(
    resistance_watch_ohm=D("0.200"), resistance_pull_ohm=D("0.300"), resistance_load_a=D("8"), resistance_hold_s=10
)
FINE = Meter("M", "", D("0.001"), 0, D("0.001"))
SHOP = Meter("M-01", "", D("0.5"), 2, D("0.01"))


def check(
    rested: str, loaded: str | None = None, *, rest: RestBand = RestBand.HOURS_1_3,
    kind: CheckKind = CheckKind.RESTED_FULL, bench: str | None = "20", at: dt.datetime = AT,
) -> VoltageCheck:  # fmt: skip
    return VoltageCheck(
        "P-1002", kind, rest, D(rested), at, "M", None, loaded and D(loaded), loaded and D("8"), loaded and 10,
        bench and D(bench),
    )  # fmt: skip


def verdict(one: VoltageCheck, *, meter: Meter = FINE, model: PackModel = MODEL, site: SiteRules = SITE,
            look: LookOver | None = None, earlier: VoltageCheck | None = None) -> Verdict:  # fmt: skip
    return judge(one, look, model, site, meter, None, earlier=earlier)


def level_of(found: Verdict, quantity: str) -> VerdictLevel:
    return next(one.level for one in found.findings if one.quantity == quantity)


def test_a_resistance_that_reaches_the_watch_limit_is_watch_and_leads_a_passing_voltage() -> None:
    found = verdict(check("41.38", "39.78"), meter=SHOP)
    assert found.resistance_ohm == D("0.2") and found.sag_v == D("1.60")
    assert level_of(found, "resistance_ohm") is VerdictLevel.WATCH
    assert level_of(found, "rested_v") is VerdictLevel.PASS
    assert found.level is VerdictLevel.WATCH and found.valid
    assert "0.200 Ω" in say(found.findings[0].statement)


@pytest.mark.parametrize(("rested", "level"), [
    ("41.00", VerdictLevel.PASS), ("40.99", VerdictLevel.WATCH), ("40.01", VerdictLevel.WATCH),
    ("39.99", VerdictLevel.PULL),
])  # fmt: skip
def test_the_pass_line_itself_passes_and_below_the_pull_line_is_pull(rested: str, level: VerdictLevel) -> None:
    assert verdict(check(rested)).level is level


def test_near_the_pull_line_a_workshop_meter_cannot_tell() -> None:
    found = verdict(check("40.10"), meter=SHOP)
    assert found.level is VerdictLevel.TOO_NEAR and found.hold_class is None
    assert found.findings[0].chance_beyond == pytest.approx(0.216, abs=0.01)


@pytest.mark.parametrize(("rested", "kind", "level", "hold"), [
    ("29.9", CheckKind.AS_FOUND, VerdictLevel.PULL, HoldClass.FAULT),
    ("24.1", CheckKind.AS_FOUND, VerdictLevel.DANGER, HoldClass.DANGER),
    ("24.1", CheckKind.STORED, VerdictLevel.DANGER, HoldClass.DANGER),
    ("42.6", CheckKind.RESTED_FULL, VerdictLevel.DANGER, HoldClass.DANGER),
    ("42.3", CheckKind.RESTED_FULL, VerdictLevel.WATCH, None),
    ("42.2", CheckKind.RESTED_FULL, VerdictLevel.PASS, None),
    ("37.0", CheckKind.STORED, VerdictLevel.PASS, None),
])  # fmt: skip
def test_low_and_over_full_limits(rested: str, kind: CheckKind, level: VerdictLevel, hold: HoldClass | None) -> None:
    found = verdict(check(rested, kind=kind))
    assert (found.level, found.hold_class) == (level, hold)


def test_near_the_over_full_stop_nobody_is_told_to_charge() -> None:
    found = verdict(check("42.50"), meter=SHOP)
    assert level_of(found, "over_full_v") is VerdictLevel.TOO_NEAR and found.level is VerdictLevel.TOO_NEAR
    assert say(found.next_step).startswith("Do not charge, do not ride.")


def test_the_refusal_to_charge_names_the_number_and_the_limit_per_group() -> None:
    said = say(verdict(check("24.1", kind=CheckKind.AS_FOUND)).findings[0].statement)
    assert "2.41 V per group" in said and "2.50 V" in said


@pytest.mark.parametrize("rest", [RestBand.UNDER_15_MIN, RestBand.MIN_15_60, RestBand.UNKNOWN])
def test_too_short_a_rest_is_no_valid_check(rest: RestBand) -> None:
    found = verdict(check("41.38", rest=rest))
    assert found.level is VerdictLevel.NOT_JUDGED and not found.valid


def test_zero_volts_at_the_contacts_is_not_called_dead() -> None:
    found = verdict(check("0.0", kind=CheckKind.AS_FOUND))
    assert found.level is VerdictLevel.NOT_JUDGED and found.hold_class is None
    assert "off until woken" in say(found.findings[0].statement)
    assert "known-good vehicle" in say(found.next_step)


def test_a_cold_bench_gives_no_resistance_verdict() -> None:
    found = verdict(check("41.38", "39.78", bench="9.9"))
    assert level_of(found, "resistance_ohm") is VerdictLevel.NOT_JUDGED and found.level is VerdictLevel.PASS
    assert level_of(verdict(check("41.38", "39.78", bench="10")), "resistance_ohm") is VerdictLevel.WATCH


def test_another_load_than_the_rules_gives_no_resistance_verdict() -> None:
    one = replace(check("41.38", "39.78"), load_a=D("10"))
    assert level_of(verdict(one), "resistance_ohm") is VerdictLevel.NOT_JUDGED


def test_a_new_pack_is_not_pulled_in_winter() -> None:
    # New 13-group packs read 0.13-0.21 ohm at 25 °C and 0.21-0.32 ohm at 0 °C: the ratio holds at the stated temperature.
    based = replace(MODEL, baseline_resistance_ohm=D("0.150"), baseline_c=D("25"))
    site = SiteRules(loaded_minimum_c=D("-10"))
    cold = replace(check("41.38", bench="0"), loaded_v=D("41.38") - D("8") * D("0.23"), load_a=D("8"), hold_s=10)
    assert level_of(verdict(cold, model=based, site=site), "resistance_ohm") is VerdictLevel.PASS
    warm = replace(cold, bench_c=D("25"))
    assert level_of(verdict(warm, model=based, site=site), "resistance_ohm") is VerdictLevel.WATCH


def test_danger_at_the_inspection_leads_everything() -> None:
    look = LookOver("P-1002", AT, None, (LookItem.SMELL,))
    found = verdict(check("41.38"), look=look)
    assert found.level is VerdictLevel.DANGER and found.hold_class is HoldClass.DANGER
    alone = judge_look_over(look, MODEL, SITE)
    assert alone.level is VerdictLevel.DANGER and "fire service" in say(alone.next_step)


def test_the_first_low_reading_asks_for_a_full_charge_and_a_repeat_before_pulling_for_good() -> None:
    first = verdict(check("39.5"))
    again = verdict(check("39.5", at=AT + dt.timedelta(days=2)), earlier=check("39.5"))
    assert "Charge it fully" in say(first.next_step) and "Second reading" in say(again.next_step)


def test_a_week_to_week_jump_of_the_limit_needs_a_second_measurement() -> None:
    earlier = check("41.60", at=AT - dt.timedelta(days=7))
    assert verdict(check("41.10"), earlier=earlier).level is VerdictLevel.WATCH
    assert verdict(check("41.11"), earlier=earlier).level is VerdictLevel.PASS


@given(st.integers(0, 4500), st.integers(0, 4500))
def test_a_lower_rested_full_voltage_never_gives_a_better_verdict(a: int, b: int) -> None:
    low, high = sorted((a, b))
    if high > 4220 or low < 100:
        return
    levels = [verdict(check(f"{v / 100:.2f}")).level.rank for v in (low, high)]
    assert levels[0] >= levels[1]


@given(st.integers(1, 400), st.integers(1, 400))
def test_a_higher_resistance_never_gives_a_better_verdict(a: int, b: int) -> None:
    sags = sorted((a, b))
    levels = [verdict(check("41.50", str(D("41.50") - D(s) / 100))).level.rank for s in sags]
    assert levels[0] <= levels[1]


@pytest.mark.parametrize(("cause", "explained", "others", "held"), [
    (TripCause.OVER_CURRENT, True, 0, False), (TripCause.OVER_CURRENT, True, 1, False),
    (TripCause.OVER_CURRENT, True, 2, True), (TripCause.UNKNOWN, False, 0, False), (TripCause.SHORT_CIRCUIT, True, 0, True),
    (TripCause.MOISTURE, True, 0, True),
])  # fmt: skip
def test_three_trips_of_any_kind_or_a_short_circuit_hold_the_pack(
    cause: TripCause, explained: bool, others: int, held: bool
) -> None:
    trip = Trip("P-1", "EB-1", AT, cause, explained)
    recent = [Trip("P-1", "EB-1", AT, TripCause.OVER_CURRENT, True)] * others + [trip]
    assert (judge_trips(trip, recent, SITE) is not None) is held


def test_two_unexplained_trips_hold_the_pack() -> None:
    trip = Trip("P-1", "EB-1", AT, TripCause.UNKNOWN, False)
    assert judge_trips(trip, [trip, trip], SITE) is not None


@pytest.mark.parametrize(("typed", "suggested"), [("41380", "41.38"), ("4123", "41.23"), ("14.30", "41.30")])
def test_a_slip_is_asked_about_with_what_it_may_have_been(typed: str, suggested: str) -> None:
    asked = question_entry(MODEL, SITE, "rested_v", D(typed))
    assert asked and D(suggested) in asked[0].suggestions


@pytest.mark.parametrize("typed", ["41.38", "38.0", "25.0", "0.0"])
def test_a_plausible_value_is_not_asked_about(typed: str) -> None:
    assert question_entry(MODEL, SITE, "rested_v", D(typed)) == ()


@pytest.mark.parametrize(("rested", "loaded", "field"), [("-1", None, "rested_v"), ("39.0", "41.0", "loaded_v")])
def test_what_cannot_be_a_measurement_is_refused(rested: str, loaded: str | None, field: str) -> None:
    with pytest.raises(EntryRefused) as refused:
        check(rested, loaded)
    assert refused.value.field == field


def test_the_pulse_resistance_of_the_standard() -> None:
    # IEC 61960 form R = (U1 - U2) / (I2 - I1): rest 50.10 V, 48.45 V at 20 A -> 0.0825 ohm.
    one = VoltageCheck(
        "P", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("50.10"), AT, "M", None, D("48.45"), D("20"), 10
    )
    assert one.resistance_ohm == D("0.0825")


@pytest.mark.parametrize(
    ("rested", "chemistry", "step"),
    [
        ("39.41", Chemistry.LFP, "next.flat_again"),  # 3.28 V a group, where such volts hardly show the charge
        ("38.40", Chemistry.LFP, "next.flat_again"),  # the plateau's own end, 3.20 V (doi 10.1149/2.053304jes)
        ("38.39", Chemistry.LFP, "next.pull_again"),  # below it: flat after a full charge
        ("39.41", Chemistry.NMC, "next.pull_again"),
    ],
)
def test_a_flat_pack_that_one_full_charge_did_not_lift_is_asked_for_what_helps_next(
    rested: str, chemistry: Chemistry, step: str
) -> None:
    full = "43.2" if chemistry is Chemistry.LFP else "42.0"
    model = replace(MODEL, chemistry=chemistry, series_count=12 if chemistry is Chemistry.LFP else 10, full_v=D(full))
    first = verdict(check(rested, at=AT - dt.timedelta(days=7)), model=model)
    assert first.level is VerdictLevel.PULL and first.next_step.key == "next.charge_and_repeat"
    again = verdict(check(rested), model=model, earlier=check(rested, at=AT - dt.timedelta(days=7)))
    assert again.level is VerdictLevel.PULL and again.hold_class is HoldClass.FAULT and again.next_step.key == step
    if step == "next.flat_again":
        told = say(again.next_step)
        assert "keep it out of service" in told and "second meter" in told and "attended" in told
        assert "the maker or a licensed repairer" in told
