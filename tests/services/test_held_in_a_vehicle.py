"""What the board says of a held pack that is still in its vehicle, and of a pack that cut out."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.domain import status
from fleetcare.domain.bays import PackStuck, Stuck
from fleetcare.domain.checks import CheckKind, HoldClass, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg, say
from fleetcare.services import bays, board, record, reporting, summary
from tests.kestrel import K36, MONDAY, SITE, SUNDAY, Kestrel, build_morning
from tests.services.test_board import line

D = Decimal


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def test_a_pulled_pack_comes_out_before_its_vehicle_goes_out(morning: Kestrel) -> None:
    """CB-03 may go out on its other pack, but not with the pulled one in it."""
    told = line(board.Board(morning.store, morning.clock).read(), "CB-03").status
    assert say(told.reasons[0].next_step).startswith("Take P-1306 out before CB-03 goes out. ")


def test_the_reason_tells_the_newest_reading_beside_the_one_that_began_the_hold(morning: Kestrel) -> None:
    morning.check("P-1306", "51.00", vehicle="CB-03")
    told = say(line(board.Board(morning.store, morning.clock).read(), "CB-03").status.reasons[0].text)
    assert "51.20 V" in told and f"Read on {SUNDAY.day} Nov" in told and "read again on 2 Nov" in told
    assert told.rstrip(".").endswith("51.00 V")


def test_a_resistance_is_told_beside_a_resistance() -> None:
    now = dt.datetime(2026, 11, 29, 12, tzinfo=dt.UTC)
    began = now - dt.timedelta(days=140)
    text = msg("ohm.pull", resistance_ohm=D("0.255"), watch_ohm=D("0.19"), pull_ohm=D("0.24"))
    hold = status.OpenHold("h", HoldClass.FAULT, text, began)
    facts = status.PackFacts(
        "P-1306", True, now, VerdictLevel.PULL, (hold,), newest=status.Newest(now, D("53.9"), D("2.441") / D("7.9"))
    )
    told = say(status.pack_status(facts, SiteRules(), now).reasons[0].text)
    assert "0.2550 Ω" in told and "read again on 29 Nov" in told and "0.3090 Ω" in told


def test_two_resistances_are_told_at_one_temperature(kestrel: Kestrel) -> None:
    """A pack pulled at 23 °C and read again at 17 °C: both figures stand at 25 °C, in every place that says them."""
    first = MONDAY - dt.timedelta(days=9)
    ratios = replace(
        SITE, resistance_watch_ohm=None, resistance_pull_ohm=None, resistance_load_a=None, resistance_hold_s=None
    )
    model = replace(K36, baseline_resistance_ohm=D("0.150"), baseline_c=D("25"))
    things = ("site_rules", ratios), ("pack_model", model)
    record.put_things(kestrel.store, lambda: first - dt.timedelta(hours=1), kestrel.author("ORMOND"), *things)

    def read(at: dt.datetime, sag: str, bench: str) -> None:
        check = VoltageCheck(
            "P-1002", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.60"), at, "M-01", "EB-12", D("41.60") - D(sag),
            D("8"), 10, D(bench), "L-08",
        )  # fmt: skip
        record.record_check(kestrel.store, lambda: at, kestrel.author(), check, LookOver("P-1002", at, "EB-12"))

    before = board.Board(kestrel.store, kestrel.clock)
    before.read()
    read(first, "2.20", "23")
    before.read()
    read(MONDAY - dt.timedelta(hours=1), "2.72", "17")
    kept, whole = before.read(), board.Board(kestrel.store, kestrel.clock).read()
    assert kept.vehicles == whole.vehicles, "what changed alone is read as the whole is"
    assert "0.278 Ω at 25 °C (fixed law)" in " ".join(say(one.text) for one in line(kept, "EB-12").status.reasons)
    told = say(summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.reasons[0].text)
    # 0.34 Ω by exp(-18000 / R (1 / 290.15 K - 1 / 298.15 K)), the fixed law of verdicts
    assert "0.2750 Ω at 23 °C, 0.262 Ω at 25 °C (fixed law)" in told
    assert told.endswith("read again on 2 Nov 2026: 0.3400 Ω at 17 °C, 0.278 Ω at 25 °C (fixed law).")
    assert "as measured" not in told


def test_a_cut_out_without_a_charger_leads_with_the_trip_at_its_time(morning: Kestrel) -> None:
    at = morning.now - dt.timedelta(hours=1)
    report = Report("P-1002", "EB-12", at, Story.CUT_OUT_HILL)
    reporting.record_report(morning.store, morning.clock, morning.author(), report)
    told = line(board.Board(morning.store, morning.clock).read(), "EB-12").status
    assert [one.since for one in told.reasons] == [at, at]
    first, second = (say(one.text) for one in told.reasons)
    assert "ut out" in first and "unknown charger" in first and "trip" in second


def test_a_vehicle_with_a_dangerous_pack_says_what_makes_it_usable(morning: Kestrel) -> None:
    """A danger in a pack that can be taken out keeps its vehicle in only until it is out."""
    found = LookOver("P-1002", morning.now, "EB-12", (LookItem.SMELL,))
    record.record_look_over(morning.store, morning.clock, morning.author(), found)
    told = line(board.Board(morning.store, morning.clock).read(), "EB-12")
    assert told.status.state is status.BoardState.GROUNDED and told.no_offer is not None and not told.offers
    assert say(told.no_offer).startswith(
        "usable once P-1002 is out, in the quarantine place, and another pack is fitted"
    )


def test_a_dangerous_pack_that_cannot_be_taken_out_promises_nothing(morning: Kestrel) -> None:
    """It takes its vehicle along (decision 79)."""
    stuck = PackStuck("P-1002", "EB-12", morning.now, Stuck.JAMMED)
    bays.record_stuck(morning.store, morning.clock, morning.author(), stuck)
    found = LookOver("P-1002", morning.now, "EB-12", (LookItem.SMELL,))
    record.record_look_over(morning.store, morning.clock, morning.author(), found)
    told = line(board.Board(morning.store, morning.clock).read(), "EB-12")
    assert told.no_offer is None and not told.offers
