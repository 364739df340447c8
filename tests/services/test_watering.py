"""Rain, dew, a jet wash and immersion lead to four different ends; a wet or cold pack is not charged.

Immersion counts as damage: public advice of Dublin City Council and Fire and Rescue New South Wales.  The charge
window of 0 to 45 °C is a common one of makers' sheets; here it is that of the test's model.
"""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import chargers, water
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PackModel
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.water import Dried, WaterKind, Wetted
from fleetcare.domain.wording import say
from fleetcare.services import charging, quarantine, record, summary, watering
from tests.kestrel import K36, MONDAY, Kestrel

D = Decimal


def wet(kestrel: Kestrel, kind: WaterKind, pack: str | None = "P-1002", **change: object) -> watering.Watered:
    made = replace(Wetted(pack, "EB-12", kestrel.now, kind), **change)
    return watering.record_water(kestrel.store, kestrel.clock, kestrel.author("HALE"), made)


@pytest.mark.parametrize("kind", list(WaterKind))
def test_every_kind_of_water_names_where_its_rule_comes_from(kind: WaterKind) -> None:
    for inside in (False, True):
        steps = [say(one) for one in water.next_steps(Wetted("P", "V", MONDAY, kind, inside), K36)]
        assert steps[-1].startswith("Source: ")
        assert ("quarantine place" in steps[0]) is (inside or kind in (WaterKind.IMMERSION, WaterKind.JET_WASH))


def test_immersion_quarantines_the_pack_outdoors_and_keeps_the_vehicle_in(kestrel: Kestrel) -> None:
    done = wet(kestrel, WaterKind.IMMERSION, place="yard, bay 3")
    assert done.danger and any("may ignite later" in say(held) for held in done.held)
    assert any("tell the fire service" in say(step) for step in done.steps)
    (case,) = quarantine.quarantine_cases(kestrel.store, kestrel.clock)
    assert (case.pack.code, case.place) == ("P-1002", "yard, bay 3")
    with kestrel.store.view() as view:
        assert {h.hold_class for h in view.open_holds(("vehicle", "EB-12"))} == {HoldClass.FAULT}
    page = summary.vehicle_page(kestrel.store, kestrel.clock, "EB-12")
    assert page.line.status.state is BoardState.GROUNDED


def test_a_jet_wash_on_a_fitted_pack_is_another_thing_than_on_an_empty_bay(kestrel: Kestrel) -> None:
    assert not wet(kestrel, WaterKind.JET_WASH, pack=None).danger
    with kestrel.store.view() as view:
        assert {h.hold_class for h in view.open_holds(("vehicle", "EB-12"))} == {HoldClass.ACTION_DUE}
        assert view.open_holds(("pack", "P-1002")) == []
    assert wet(kestrel, WaterKind.JET_WASH).danger


def test_rain_holds_nothing_but_no_charge_before_it_is_dry(kestrel: Kestrel) -> None:
    assert wet(kestrel, WaterKind.RAIN).held == ()
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.READY
    told = charging.charge_warning(kestrel.store, kestrel.clock, "P-1002", "C-36-1")
    assert told is not None and "Dry it, note it, then charge" in say(told)
    assert [(line.pack, line.person) for line in watering.wet_lines(kestrel.store)] == [("P-1002", "Hale")]
    watering.record_dried(kestrel.store, kestrel.clock, kestrel.author("FARROW"), Dried("P-1002", kestrel.now))
    assert charging.charge_warning(kestrel.store, kestrel.clock, "P-1002", "C-36-1") is None
    with pytest.raises(EntryRefused, match="no rain or dew"):
        watering.record_dried(kestrel.store, kestrel.clock, kestrel.author(), Dried("P-1002", kestrel.now))


def test_rain_with_water_inside_is_a_danger(kestrel: Kestrel) -> None:
    assert wet(kestrel, WaterKind.RAIN, inside=True).danger


@given(st.decimals(-30, 70, places=1), st.decimals(-10, 10, places=0), st.decimals(30, 60, places=0))
def test_the_edges_of_the_charge_window_are_inside_it(pack_c: Decimal, low: Decimal, high: Decimal) -> None:
    model: PackModel = replace(K36, charge_min_c=low, charge_max_c=high)
    assert chargers.outside_window(model, pack_c) is not (low <= pack_c <= high)
    assert not chargers.outside_window(model, low) and not chargers.outside_window(model, high)
    assert not chargers.outside_window(model, None)


@pytest.mark.parametrize(("pack_c", "outside"), [("-0.1", True), ("0", False), ("45", False), ("45.1", True)])
def test_a_charge_outside_the_makers_window_is_warned_of_and_holds_the_pack(
    kestrel: Kestrel, pack_c: str, outside: bool
) -> None:
    told = charging.charge_warning(kestrel.store, kestrel.clock, "P-1002", "C-36-1", D(pack_c))
    assert (told is not None and "0 °C to 45 °C" in say(told)) is outside
    charged = ChargedOn("P-1002", "C-36-1", kestrel.now, pack_c=D(pack_c))
    charging.record_charge(kestrel.store, kestrel.clock, kestrel.author(), charged)
    with kestrel.store.view() as view:
        assert bool(view.open_holds(("pack", "P-1002"))) is outside


def test_a_charge_on_a_charger_nobody_knows_holds_the_pack(kestrel: Kestrel) -> None:
    told = charging.charge_warning(kestrel.store, kestrel.clock, "P-1002", "")
    assert told is not None and "unknown charger" in say(told)
    charged = ChargedOn("P-1002", "", kestrel.now, "rider's kitchen")
    done = charging.record_charge(kestrel.store, kestrel.clock, kestrel.author("HALE"), charged)
    assert "rider's kitchen" in say(done.message)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.HELD
    assert any("a charger nobody knows" in say(line.text) for line in page.events)


def test_charging_while_wet_is_kept_as_it_happened_and_holds_the_pack(kestrel: Kestrel) -> None:
    wet(kestrel, WaterKind.DEW)
    done = charging.record_charge(
        kestrel.store, kestrel.clock, kestrel.author(), ChargedOn("P-1002", "C-36-1", kestrel.now)
    )
    assert "charged while wet" in say(done.message)


def test_a_quarantined_pack_that_was_wet_is_not_on_the_list_once_it_left(kestrel: Kestrel) -> None:
    wet(kestrel, WaterKind.DEW)
    with kestrel.store.view() as view:
        pack = view.thing("pack", "P-1002")
    retired = replace(pack, standing=type(pack.standing).RETIRED)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", retired))
    assert watering.wet_lines(kestrel.store) == ()
