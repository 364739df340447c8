"""The board adds up and says why; a spare is offered only where it fits."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import say
from fleetcare.services import summary
from fleetcare.services.shown import VehicleSummary
from tests.kestrel import SUNDAY, Kestrel, build_morning


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    """Monday morning with a pulled pack, an overdue one, a brake fault, a one-pack cargo bike, and one check due."""
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def line(fleet: summary.FleetSummary, code: str) -> VehicleSummary:
    return next(one for one in fleet.vehicles if one.vehicle.code == code)


def test_the_board_adds_up_and_every_grounded_vehicle_says_why(morning: Kestrel) -> None:
    fleet = summary.fleet_summary(morning.store, morning.clock)
    assert len(fleet.vehicles) == 24 == sum(fleet.counts.values())
    assert fleet.counts == {
        BoardState.READY: 19,
        BoardState.READY_BUT_DUE: 1,
        BoardState.LIMITED: 1,
        BoardState.GROUNDED: 3,
    }
    assert {v.vehicle.code for v in fleet.vehicles if v.status.state is BoardState.GROUNDED} == {
        "EB-14",
        "EB-18",
        "CB-06",
    }
    assert line(fleet, "SC-33").status.state is BoardState.READY_BUT_DUE
    assert line(fleet, "CB-03").status.state is BoardState.LIMITED
    for code in ("EB-14", "EB-18", "CB-06"):
        one = line(fleet, code)
        assert one.status.reasons and say(one.status.reasons[0].next_step) and one.may_clear == ("Dunn", "Pike")
    assert "15 days ago" in say(line(fleet, "EB-18").status.reasons[0].text)
    brake = line(fleet, "CB-06").status.reasons[0]
    assert "front brake" in say(brake.text) and brake.since == SUNDAY.replace(hour=21, minute=10)
    assert fleet.drafts[0][:2] == ("Pike", "P-1312")


def test_a_grounded_vehicle_is_offered_the_freshest_spare_of_its_own_class_and_no_other(morning: Kestrel) -> None:
    offers = line(summary.fleet_summary(morning.store, morning.clock), "EB-14").offers
    assert offers[0].pack == "P-1011" and str(offers[0].rested_v) == "41.40"
    assert not any(offer.pack.startswith("P-13") for offer in offers)
    assert "P-1004" not in {offer.pack for offer in offers}


def test_a_brake_fault_is_not_cured_by_a_pack(morning: Kestrel) -> None:
    assert line(summary.fleet_summary(morning.store, morning.clock), "CB-06").offers == ()


def test_the_board_of_an_earlier_position_is_the_board_of_that_time(morning: Kestrel) -> None:
    with morning.store.view() as view:
        then = view.position
    before = summary.fleet_summary(morning.store, morning.clock)
    morning.check("P-1002", "39.0", vehicle="EB-12")
    again = summary.fleet_summary(morning.store, morning.clock, then)
    assert (again.counts, again.fingerprint, again.vehicles) == (before.counts, before.fingerprint, before.vehicles)


def test_the_round_is_worst_first(morning: Kestrel) -> None:
    assert [one.pack for one in summary.round_list(morning.store, morning.clock)][:2] == ["P-1008", "P-1023"]


def test_board_page_lists_and_round_agree_on_every_pack(morning: Kestrel) -> None:
    rows = {row.pack.code: row.status for row in summary.pack_rows(morning.store, morning.clock)}
    for vehicle in summary.fleet_summary(morning.store, morning.clock).vehicles:
        for status in vehicle.packs:
            assert rows[status.code] == status
        page = summary.vehicle_page(morning.store, morning.clock, vehicle.vehicle.code)
        assert page.line == vehicle
    for code, status in rows.items():
        assert summary.pack_summary(morning.store, morning.clock, code).status == status
