"""A struck reading beside the others, and packs that are out of use among the packs to buy."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.checks import CheckKind, Hold, HoldClass, LookOver, RestBand, VoltageCheck
from fleetcare.domain.projection.lasting import Lived, compare_pair
from fleetcare.domain.wording import msg, say
from fleetcare.services import record, summary
from fleetcare.services.needing import QuarterNeed
from fleetcare.services.renewal import pair_told, renewal
from tests.kestrel import MONDAY, Kestrel
from tests.quarter import build_quarter

D = Decimal


@pytest.fixture
def quarter(tmp_path):  # type: ignore[no-untyped-def]
    made = build_quarter(tmp_path / "quarter.fleet")
    yield made
    made.store.close()


def _check(rested: str, at: dt.datetime, bench: str = "12") -> VoltageCheck:
    return VoltageCheck("P-1010", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D(rested), at, "M-01", None, D("39.80"),
                        D("8"), 10, D(bench), "L-08")  # fmt: skip


def test_a_struck_reading_stands_at_the_same_temperature_as_the_others(quarter: Kestrel) -> None:
    """Cold cells have more resistance; both readings of one cold bench are brought to 25 °C by the same factor."""
    at = MONDAY + dt.timedelta(hours=1)
    quarter.now = at + dt.timedelta(minutes=5)
    check = _check("41.60", at)
    done = record.record_check(quarter.store, quarter.clock, quarter.author(), check, LookOver("P-1010", at))
    right = replace(check, rested_v=D("41.61"))
    record.correct_check(quarter.store, quarter.clock, quarter.author(), done.record_ids[0], "mistyped", right)
    page = summary.pack_summary(quarter.store, quarter.clock, "P-1010")
    found = next(p for p in page.projections if p.quantity == "resistance_ohm")
    struck = next(one.reading for one in found.left_out if one.why.key == "projection.corrected")
    live = max(found.used, key=lambda one: one.done_at)
    assert struck.read == D("0.2250") and live.read == D("0.22625")
    assert live.value < 0.215, "12 °C is told apart from 25 °C"
    assert struck.value / live.value == pytest.approx(0.2250 / 0.22625)


def test_a_quarantined_pack_is_bought_for_now_with_its_reason(quarter: Kestrel) -> None:
    before = next(one for one in renewal(quarter.store, quarter.clock).needs if one.code == "K36-A")
    hold = Hold("pack", "P-1002", HoldClass.DANGER, quarter.clock(), msg("hold.by_person"), "swollen case")
    record.set_hold(quarter.store, quarter.clock, quarter.author(), hold)
    after = next(one for one in renewal(quarter.store, quarter.clock).needs if one.code == "K36-A")
    first = after.quarters[0]
    named = next(one for one in first.named if one.code == "P-1002")
    assert named.chance == 1.0 and say(named.why) == "in quarantine since 2 Nov 2026"
    assert first.low == before.quarters[0].low + 1 and after.unknown == before.unknown - 1
    assert after.packs == before.packs and after.out_of_use == 1
    assert "1 of them quarantined or pulled" in say(after.heading)


def test_a_model_shows_its_range_where_low_and_high_are_one(quarter: Kestrel) -> None:
    one = QuarterNeed(1, MONDAY.date(), MONDAY.date(), 1, 1, 1, (), (1.0, 0.06))
    assert say(one.told(D("420"), "GBP")) == "1 pack (range 1 to 1), at £420 each: £420"
    assert say(one.told(None, "")).startswith("1 pack (range 1 to 1); no price")


def test_pulls_are_said_for_any_age_as_the_rule_counts_them() -> None:
    """Two young packs were pulled past the age compared: the rule counts them, so the sentence does, too."""
    old = Lived("Old", (300.0, 300.0, 300.0, 300.0, 300.0, 500.0, 600.0), (False,) * 5 + (True, True))
    new = Lived("New", (200.0,) * 5, (False,) * 5)
    pair = compare_pair(old, new)
    assert (pair.first.pulled, pair.second.pulled, pair.pulled, pair.ranked) == (0, 0, 2, False)
    assert "pulled at any age, and not passed again: 2; 3 are needed" in say(pair_told(pair)[-1])
