"""Readings that do not fit: listed with why and what to do, until one that fits is read."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.limits import ResistanceLimits
from fleetcare.domain.packs import Chemistry, Pack
from fleetcare.domain.projection.answer import Horizon, LeftOut, Projection, Reading
from fleetcare.domain.wording import msg, say
from fleetcare.services import record, summary
from fleetcare.services.outlook import _law
from fleetcare.services.reasons import reading_lines, reasons
from fleetcare.services.renewal import renewal
from fleetcare.services.suspects import as_read, suspects_of, what_to_do
from tests.kestrel import K36, MONDAY, Kestrel

VOLTS = ("41.60", "41.62", "41.59", "41.61", "41.58", "41.60", "41.62", "41.59", "41.60", "41.61")


@pytest.fixture
def mistyped(kestrel: Kestrel) -> Kestrel:
    """Ten weeks of good readings of P-1002, and yesterday 40.16 for 41.60."""
    for number, volts in enumerate(VOLTS):
        kestrel.check("P-1002", volts, at=MONDAY - dt.timedelta(days=7 * (11 - number)), vehicle="EB-12")
    kestrel.check("P-1002", "40.16", at=MONDAY - dt.timedelta(hours=3), vehicle="EB-12")
    return kestrel


def test_it_is_on_the_fleets_list_with_why_and_what_to_do(mistyped: Kestrel) -> None:
    found = renewal(mistyped.store, mistyped.clock).suspects
    assert [one.pack for one in found] == ["P-1002"]
    one = found[0]
    assert say(one.value) == "40.16 V" and one.reading.value != 40.16
    assert "re-measure" in say(one.why) and "charge fully" in say(one.what_to_do) and one.settled_at is None


def test_it_is_kept_on_record_and_shown_not_used(mistyped: Kestrel) -> None:
    page = summary.pack_summary(mistyped.store, mistyped.clock, "P-1002")
    full = next(p for p in page.projections if p.quantity == "rested_full_v")
    lines = reading_lines(full)
    assert len(lines) == 12 and [line.used for line in lines].count(False) == 1 and lines[0].suspect
    assert any(str(c.rested_v) == "40.16" and not c.struck for c in page.checks)
    told = [say(one) for one in reasons(full)]
    assert "Readings used: 11. Not used: 1." in told
    assert any("measuring again what does not fit (1)" in one for one in told)
    assert any("All readings are by one meter (M-01)" in one for one in told)


def test_a_reading_that_fits_takes_it_off_the_list(mistyped: Kestrel) -> None:
    mistyped.now = MONDAY + dt.timedelta(days=1)
    mistyped.check("P-1002", "41.60", vehicle="EB-12")
    assert renewal(mistyped.store, mistyped.clock).suspects == ()
    page = summary.pack_summary(mistyped.store, mistyped.clock, "P-1002")
    settled = suspects_of("P-1002", page.projections)
    assert len(settled) == 1 and settled[0].settled_at == mistyped.now


def test_an_old_suspicion_leaves_the_list_but_not_the_pack(mistyped: Kestrel) -> None:
    mistyped.now = MONDAY + dt.timedelta(days=90)
    assert renewal(mistyped.store, mistyped.clock).suspects == ()
    page = summary.pack_summary(mistyped.store, mistyped.clock, "P-1002")
    assert len(suspects_of("P-1002", page.projections)) == 1


def test_few_checks_say_what_would_change_it(kestrel: Kestrel) -> None:
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    by_quantity = {p.quantity: [say(one) for one in reasons(p)] for p in page.projections}
    assert any("6 more checks with a loaded reading" in one for one in by_quantity["resistance_ohm"])
    assert any("5 more checks like these" in one for one in by_quantity["rested_full_v"])


def test_what_does_not_fit_truly_takes_no_part(kestrel: Kestrel) -> None:
    def check(at: dt.datetime, rested: str, loaded: str) -> None:
        kestrel.check("P-1003", rested, loaded=loaded, at=at, vehicle="EB-13")

    for number, volts in enumerate(VOLTS):
        check(MONDAY - dt.timedelta(days=7 * (11 - number)), volts, f"{float(volts) - 1.20 - 0.01 * (number % 3):.2f}")

    def resistance():  # type: ignore[no-untyped-def]
        page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
        return next(p for p in page.projections if p.quantity == "resistance_ohm")

    before = resistance()
    check(MONDAY - dt.timedelta(hours=2), "41.60", "38.20")
    after = resistance()
    assert after.level == pytest.approx(before.level, rel=1e-6) and after.comparable_checks == before.comparable_checks
    assert [h.p50 for h in after.horizons] == pytest.approx([h.p50 for h in before.horizons], rel=1e-6)
    told = say(after.sentence)
    assert told.startswith(
        "The newest reading, 0.4250 Ω of 2 Nov 2026 04:30, does not fit: measure again. Without it: "
    )
    assert "Clean the contacts" in say(suspects_of("P-1003", [after])[0].what_to_do)


def test_what_was_typed_is_shown_as_the_reading_and_never_what_a_correction_made_of_it() -> None:
    reading = Reading("1", MONDAY, 39.37, "rested_full", "hours_1_3", "M-01", bench_c=18.0, read=Decimal("39.42"))
    assert say(as_read("rested_full_v", reading)) == "39.42 V"
    ohm = replace(reading, value=0.1344, read=Decimal("0.18125"))
    assert say(as_read("resistance_ohm", ohm)) == "0.1812 Ω"


def test_a_resistance_without_its_bench_temperature_is_answered_with_noting_it() -> None:
    reading = Reading("1", MONDAY, 0.19, "rested_full", "hours_1_3", "M-01", bench_c=18.0, read=Decimal("0.19"))
    left = LeftOut(reading, msg("projection.far_off", off="6"))
    assert say(what_to_do(left, "resistance_ohm")).startswith("Clean the contacts, then repeat")
    unknown = replace(left, reading=replace(reading, bench_c=None))
    told = say(what_to_do(unknown, "resistance_ohm"))
    assert told.startswith("Its bench temperature was not noted") and told.endswith("note the temperature.")


def _with_loads(kestrel: Kestrel) -> None:
    """Ten weeks of P-1003, rested and under load, at some 0.15 Ω."""
    for number, volts in enumerate(VOLTS):
        loaded = f"{float(volts) - 1.20 - 0.01 * (number % 3):.2f}"
        kestrel.check("P-1003", volts, loaded=loaded, at=MONDAY - dt.timedelta(days=7 * (11 - number)), vehicle="EB-13")


def test_a_pack_that_was_not_full_is_told_so_and_never_to_clean_its_contacts(kestrel: Kestrel) -> None:
    _with_loads(kestrel)
    kestrel.check("P-1003", "40.10", loaded="39.40", at=MONDAY - dt.timedelta(hours=2), vehicle="EB-13")
    (one,) = renewal(kestrel.store, kestrel.clock).suspects
    assert (one.pack, one.quantity, say(one.value)) == ("P-1003", "rested_full_v", "40.10 V")
    assert "the resistance of that visit, 0.0875 Ω, does not fit either" in say(one.why)
    told = say(one.what_to_do)
    assert "charge fully, rest an hour" in told and "contacts" not in told
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
    ohm = next(p for p in page.projections if p.quantity == "resistance_ohm")
    assert "ontacts" not in say(reading_lines(ohm)[0].what_to_do or msg("suspect.open", count=0, what=""))
    kestrel.check("P-1003", "41.60", loaded="40.40", at=MONDAY - dt.timedelta(hours=1), vehicle="EB-13")
    assert renewal(kestrel.store, kestrel.clock).suspects == ()


def test_a_resistance_that_is_too_low_asks_whether_the_load_was_on(kestrel: Kestrel) -> None:
    _with_loads(kestrel)
    kestrel.check("P-1003", "41.60", loaded="41.20", at=MONDAY - dt.timedelta(hours=2), vehicle="EB-13")
    (one,) = renewal(kestrel.store, kestrel.clock).suspects
    told = say(one.what_to_do)
    assert one.quantity == "resistance_ohm" and not one.both
    assert "was the load really on, the pack full and rested, its label right?" in told and "contacts" not in told
    unnoted = LeftOut(replace(one.reading, bench_c=None), one.why, below=True)
    assert say(what_to_do(unnoted, "resistance_ohm")).endswith("and note the temperature.")
    assert "contacts" not in say(what_to_do(unnoted, "resistance_ohm"))


def test_a_pack_that_shows_nothing_visit_after_visit_is_listed_once_with_its_volts(mistyped: Kestrel) -> None:
    for hours in (2, 1):
        mistyped.check("P-1002", "0.00", at=MONDAY - dt.timedelta(hours=hours), vehicle="EB-12")
    silent = [one for one in renewal(mistyped.store, mistyped.clock).suspects if say(one.value) == "0.00 V"]
    assert [one.reading.done_at for one in silent] == [MONDAY - dt.timedelta(hours=1)]


def test_a_last_reading_of_months_ago_is_told_with_its_day(kestrel: Kestrel) -> None:
    _with_loads(kestrel)  # under load last on 19 Oct 2026, two weeks before MONDAY
    for days, said in ((14, False), (140, True)):
        kestrel.now = MONDAY + dt.timedelta(days=days)
        page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
        told = {one.quantity: say(one.sentence) for one in page.projections if one.projected}
        assert ("last reading of " in told["rested_full_v"]) == said, told
        assert ("last reading of 19 Oct 2026: 0.15" in told["resistance_ohm"]) == said, told


def test_a_flat_chemistry_says_what_its_rested_volts_cannot_show(kestrel: Kestrel) -> None:
    flat = replace(K36, code="F36", name="F36", chemistry=Chemistry.LFP, series_count=12, full_v=Decimal("43.2"))
    pack = Pack("P-1099", "F36", "2609-1", shelf="Store")
    record.put_things(
        kestrel.store,
        lambda: MONDAY - dt.timedelta(days=90),
        kestrel.author("ORMOND"),
        ("pack_model", flat),
        ("pack", pack),
    )
    for week in range(8):
        kestrel.check("P-1099", f"40.{30 + week % 3}", at=MONDAY - dt.timedelta(days=7 * (8 - week)))
        kestrel.check("P-1002", f"41.{50 + week % 3}", at=MONDAY - dt.timedelta(days=7 * (8 - week)))
    told = {}
    for code in ("P-1099", "P-1002"):
        page = summary.pack_summary(kestrel.store, kestrel.clock, code)
        full = next(p for p in page.projections if p.quantity == "rested_full_v")
        assert full.projected
        told[code] = " ".join(say(one) for one in reasons(full))
    assert "From 3.20 V to 3.40 V a group the volts of this chemistry hardly change with its charge" in told["P-1099"]
    assert "this chemistry" not in told["P-1002"]


def test_two_laws_that_round_alike_are_told_with_the_digit_that_parts_them() -> None:
    rule = ResistanceLimits(Decimal("0.17"), Decimal("0.21"), "ours", Decimal("25"))
    near = say(_law(17.7, Decimal("25"), rule, own=True))
    assert "with 17.7 kJ/mol" in near and "a fixed 18.0 kJ/mol for every model, so their figure" in near
    far = say(_law(22.4, Decimal("25"), rule, own=True))
    assert "with 22 kJ/mol" in far and "a fixed 18 kJ/mol" in far
    assert "Verdicts" not in say(_law(18.0, Decimal("25"), rule, own=True)), "the same law gives the same figure"


@pytest.mark.parametrize(
    ("slope", "likely", "said"),
    [
        # 0.050 Ω at 0.0010 Ω in 30 days are 1500 days from 1 Dec 2026: in January 2031
        (0.0010, dt.date(2029, 10, 5), "At it alone the limit would be reached around Jan 2031"),
        (0.0010, dt.date(2030, 11, 1), ""),  # 1431 days: not a fifth later
        (0.0001, dt.date(2029, 10, 5), "would not be reached within ten years"),
        (-0.0010, dt.date(2029, 10, 5), ""), (0.0, dt.date(2029, 10, 5), ""), (0.0010, None, ""),
    ],
)  # fmt: skip
def test_a_likely_day_earlier_than_slope_and_level_give_is_explained(
    slope: float, likely: dt.date | None, said: str
) -> None:
    ahead = tuple(Horizon(days, 0.16, 0.161, 0.162, 0.0) for days in (28, 91, 182))
    one = Projection(
        "resistance_ohm", dt.date(2026, 12, 1), 40, 6, msg("projection.too_few", have=1, need=6), "e", 0.210,
        projected=True, level=0.160, slope_per_30d=slope, horizons=ahead, crossing_p50=likely,
    )  # fmt: skip
    told = " ".join(say(line) for line in reasons(one))
    assert ("The slope is that of the next 182 days" in told) == bool(said) and said in told
