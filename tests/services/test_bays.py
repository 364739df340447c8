"""Two packs side by side as their maker asks, covers of empty bays, packs that cannot be taken out."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import bays as rule
from fleetcare.domain.bays import BayCover, PackStuck, Stuck
from fleetcare.domain.checks import FoundIn, HoldClass, LookItem, LookOver, Release
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.packs import Pack, PairRule, Vehicle, VehicleKind
from fleetcare.domain.quarantine import Collected, TransportHead
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import say
from fleetcare.services import bays, identify, quarantine, record, releasing, summary
from tests.kestrel import K48, MONDAY, D, Kestrel

CARGO = Vehicle("CB-01", VehicleKind.CARGO_BIKE, "KW", 48, "K4", 2, 1)
ONE, OTHER = (
    Pack("P-1", "K48-B", in_service_on=dt.date(2025, 1, 31)),
    Pack("P-2", "K48-B", in_service_on=dt.date(2025, 7, 31)),
)


@given(st.decimals(40, 55, places=2), st.decimals(40, 55, places=2), st.decimals("0.05", 2, places=2))
def test_volts_apart_are_refused_above_the_limit_and_allowed_at_it(a: Decimal, b: Decimal, limit: Decimal) -> None:
    asked = PairRule(match_v=limit, source="sheet")

    def fits() -> bool:
        try:
            rule.refuse_mismatch(asked, CARGO, ONE, OTHER, (a, MONDAY), (b, MONDAY), MONDAY)
        except EntryRefused:
            return False
        return True

    assert fits() is (abs(a - b) <= limit)


@given(st.integers(0, 48))
def test_a_reading_counts_for_a_day_and_not_for_an_hour_more(hours: int) -> None:
    old = (D("54.2"), MONDAY - dt.timedelta(hours=hours))
    asked = PairRule(match_v=D("0.5"), source="sheet")
    if hours <= rule.READING_HOURS:
        rule.refuse_mismatch(asked, CARGO, ONE, OTHER, old, (D("54.2"), MONDAY), MONDAY)
    else:
        with pytest.raises(EntryRefused, match="P-1 has no reading of the last 24 hours"):
            rule.refuse_mismatch(asked, CARGO, ONE, OTHER, old, (D("54.2"), MONDAY), MONDAY)


@pytest.mark.parametrize(("months", "fits"), [(6, True), (5, False)])
def test_age_is_counted_in_whole_months(months: int, fits: bool) -> None:
    asked = PairRule(age_months=months, source="sheet")
    if fits:
        rule.refuse_mismatch(asked, CARGO, ONE, OTHER, None, None, MONDAY)
        return
    with pytest.raises(EntryRefused, match="6 months apart; the maker allows 5 months"):
        rule.refuse_mismatch(asked, CARGO, ONE, OTHER, None, None, MONDAY)
    with pytest.raises(EntryRefused, match="no first day"):
        rule.refuse_mismatch(asked, CARGO, ONE, replace(OTHER, in_service_on=None), None, None, MONDAY)


def test_the_same_model_is_asked_by_name() -> None:
    asked = PairRule(True, source="sheet 7")
    with pytest.raises(EntryRefused, match=r"P-1 is a K48-B and P-2 in CB-01 is a K48-C.*sheet 7"):
        rule.refuse_mismatch(asked, CARGO, ONE, replace(OTHER, model="K48-C"), None, None, MONDAY)


@pytest.fixture
def ruled(kestrel: Kestrel) -> Kestrel:
    """The maker of K48-B allows half a volt; CB-01 has one pack, P-1317 lies on a shelf."""
    asked = PairRule(True, None, D("0.50"), "maker's sheet")
    bays.put_rule(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "K48-B", asked)
    away = FoundIn("P-1302", None, kestrel.now, shelf="Rack 1")
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), away)
    return kestrel


def fit(kestrel: Kestrel, pack: str = "P-1317", bay: int = 2) -> None:
    move = FoundIn(pack, "CB-01", kestrel.now, bay)
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), move)


def test_fitting_a_second_pack_is_refused_with_the_volts_and_allowed_after_charging(ruled: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="has no reading of the last 24 hours"):
        fit(ruled)
    ruled.check("P-1301", "54.20", vehicle="CB-01")
    ruled.check("P-1317", "53.60")
    with pytest.raises(EntryRefused, match=r"53\.60 V and P-1301 in CB-01 54\.20 V: 0\.60 V apart, limit 0\.50 V"):
        fit(ruled)
    with pytest.raises(EntryRefused, match="apart"):
        ruled.check("P-1317", "53.65", vehicle="CB-01")
    ruled.check("P-1317", "53.70", vehicle="CB-01")
    page = summary.pack_summary(ruled.store, ruled.clock, "P-1317")
    assert (page.vehicle, page.bay) == ("CB-01", 2)
    ruled.check("P-1317", "53.00", vehicle="CB-01")


def test_a_rule_needs_a_manager_and_its_sheet_and_a_vehicles_own_rule_wins(ruled: Kestrel) -> None:
    with pytest.raises(NotAllowed):
        bays.put_rule(ruled.store, ruled.clock, ruled.author(), "K48-B", PairRule(True, source="x"))
    with pytest.raises(EntryRefused, match="maker's sheet"):
        bays.put_rule(ruled.store, ruled.clock, ruled.author("ORMOND"), "K48-B", PairRule(True))
    own = PairRule(True, source="maker of CB-01")
    bays.put_rule(ruled.store, ruled.clock, ruled.author("ORMOND"), "CB-01", own)
    fit(ruled)
    assert [code for code, _ in bays.rules(ruled.store)] == ["CB-01", "K48-B"]


def test_an_empty_bay_asks_for_its_cover_until_it_is_noted(ruled: Kestrel) -> None:
    def step() -> str:
        page = summary.vehicle_page(ruled.store, ruled.clock, "CB-01")
        assert page.line.status.state is BoardState.LIMITED
        return say(page.line.status.reasons[-1].next_step)

    assert "Cover the empty bay" in step()
    (bay,) = bays.empty_bays(ruled.store)
    assert (bay.vehicle, bay.bay, bay.covered) == ("CB-01", 2, None)
    author = ruled.author("HALE")
    bays.record_cover(ruled.store, ruled.clock, author, BayCover("CB-01", 2, ruled.now, True))
    assert "is covered" in step()
    bays.record_cover(ruled.store, ruled.clock, author, BayCover("CB-01", 2, ruled.now, False))
    assert "Cover the empty bay" in step()
    for number, words in ((1, "P-1301 is recorded in bay 1"), (3, "no bay 3")):
        with pytest.raises(EntryRefused, match=words):
            bays.record_cover(ruled.store, ruled.clock, author, BayCover("CB-01", number, ruled.now, True))


def vehicle_holds(kestrel: Kestrel, vehicle: str) -> list[HoldClass]:
    with kestrel.store.view() as view:
        return [h.hold_class for h in view.open_holds(("vehicle", vehicle))]


def smell(kestrel: Kestrel, pack: str, vehicle: str) -> None:
    look = LookOver(pack, kestrel.now, vehicle, (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)


def test_a_danger_in_a_fixed_pack_quarantines_the_whole_vehicle_until_it_has_left(kestrel: Kestrel) -> None:
    smell(kestrel, "P-1023", "SC-33")
    assert vehicle_holds(kestrel, "SC-33") == [HoldClass.DANGER]
    with kestrel.store.view() as view:
        (held,) = view.open_holds(("vehicle", "SC-33"))
    assert "fixed in the vehicle" in say(held.reason)
    release = Release(held.hold_id, kestrel.now, "looks fine")
    with pytest.raises(NotAllowed, match="stays quarantined"):
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    heads = tuple((head.value, "found") for head in TransportHead)
    gone = Collected("P-1023", kestrel.now, "Northfield", "NC-1", heads)
    quarantine.record_collection(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "B-05", gone)
    with pytest.raises(NotAllowed, match="licensed repairer"):
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    fit = Inspected("vehicle", "SC-33", kestrel.now, True, "frame, leads, bay", "Northfield Repairs, report 7")
    releasing.record_inspection(kestrel.store, kestrel.clock, kestrel.author(), fit)
    record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    assert vehicle_holds(kestrel, "SC-33") == []


@pytest.mark.parametrize("why", [Stuck.JAMMED, Stuck.NO_KEY])
@pytest.mark.parametrize("danger_first", [True, False])
def test_a_jammed_or_keyless_pack_takes_its_vehicle_along(kestrel: Kestrel, why: Stuck, danger_first: bool) -> None:
    def stuck(value: Stuck = why) -> str:
        made = PackStuck("P-1009", "EB-19", kestrel.now, value)
        return say(bays.record_stuck(kestrel.store, kestrel.clock, kestrel.author("HALE"), made).message)

    if danger_first:
        smell(kestrel, "P-1009", "EB-19")
        assert vehicle_holds(kestrel, "EB-19") == []
        assert "EB-19 is grounded" in stuck()
    else:
        stuck()
        smell(kestrel, "P-1009", "EB-19")
    assert vehicle_holds(kestrel, "EB-19") == [HoldClass.DANGER]


def test_a_pack_that_comes_out_again_leaves_its_vehicle_free(kestrel: Kestrel) -> None:
    for why in (Stuck.JAMMED, Stuck.FREE):
        made = PackStuck("P-1009", "EB-19", kestrel.now, why)
        bays.record_stuck(kestrel.store, kestrel.clock, kestrel.author(), made)
    smell(kestrel, "P-1009", "EB-19")
    assert vehicle_holds(kestrel, "EB-19") == []
    with pytest.raises(EntryRefused, match="not recorded in EB-12"):
        made = PackStuck("P-1009", "EB-12", kestrel.now, Stuck.JAMMED)
        bays.record_stuck(kestrel.store, kestrel.clock, kestrel.author(), made)


def test_a_spare_of_another_model_or_age_is_refused_at_the_scan_and_not_offered(ruled: Kestrel) -> None:
    other = replace(K48, code="K48-C")
    spare = Pack("P-1399", "K48-C", "2499-0001", shelf="Store")
    author = ruled.author("ORMOND")
    record.put_things(ruled.store, ruled.clock, author, ("pack_model", other), ("pack", spare))
    rule_of_bike = PairRule(True, source="maker of CB-01")
    bays.put_rule(ruled.store, ruled.clock, author, "CB-01", rule_of_bike)
    ruled.check("P-1399", "54.20", at=ruled.now - dt.timedelta(hours=1))

    def offered() -> list[str]:
        line = summary.vehicle_page(ruled.store, ruled.clock, "CB-01").line
        return [offer.pack for offer in line.offers]

    assert "P-1399" not in offered() and offered()
    with pytest.raises(EntryRefused, match="P-1399 is a K48-C and P-1301 in CB-01 is a K48-B"):
        identify.pair(ruled.store, "CB-01", "P-1399")
    bays.put_rule(ruled.store, ruled.clock, author, "CB-01", PairRule())
    assert "P-1399" in offered()
    assert identify.pair(ruled.store, "CB-01", "P-1399").bay == 2
