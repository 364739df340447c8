"""Lost and stolen things stay on record and out of what can go out; what is recovered has an unknown history."""

import datetime as dt

import pytest

from fleetcare.domain.away import Missing, MissingNoted, Recovered, SentToMaker, WentMissing
from fleetcare.domain.checks import FoundIn, HoldClass, LookItem, Release
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.incidents import IncidentOpened
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import going_missing, identify, incident_deeds, maker_returns, record, summary, whereabouts
from tests.kestrel import MONDAY, Kestrel


def gone(kestrel: Kestrel, pack: str | None = None, vehicle: str | None = None, kind: Missing = Missing.STOLEN) -> str:
    made = WentMissing(pack, vehicle, kind, kestrel.now, "Mill Hill")
    return say(going_missing.record_missing(kestrel.store, kestrel.clock, kestrel.author("HALE"), made).message)


def recovered(kestrel: Kestrel, pack: str | None = None, vehicle: str | None = None, *dangers: LookItem) -> str:
    made = Recovered(pack, vehicle, kestrel.now, "Rack 9", dangers)
    return say(going_missing.record_recovered(kestrel.store, kestrel.clock, kestrel.author("HALE"), made).message)


def test_a_stolen_vehicle_takes_its_packs_along_and_the_counts_still_add_up(kestrel: Kestrel) -> None:
    before = summary.fleet_summary(kestrel.store, kestrel.clock)
    assert before.away_told is None
    assert "P-1301, P-1302" in gone(kestrel, vehicle="CB-01")
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    assert sum(fleet.counts.values()) == len(fleet.vehicles) == 23
    assert [v.code for v in fleet.away] == ["CB-01"]
    assert fleet.away_told is not None
    assert say(fleet.away_told) == "23 here and 1 away (CB-01 stolen) = 24 on record"
    assert [one.vehicle.code for one in fleet.elsewhere] == ["CB-01"], "the list of vehicles names it still"
    page = summary.vehicle_page(kestrel.store, kestrel.clock, "CB-01")
    assert page.line.status.state is BoardState.GROUNDED
    assert "not here: stolen" in say(page.line.status.reasons[0].text)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1301").status.state is PackState.AWAY
    assert all(line.pack != "P-1301" for line in whereabouts.to_find(kestrel.store))
    as_it_was = summary.fleet_summary(kestrel.store, kestrel.clock, before.position)
    assert len(as_it_was.vehicles) == 24 and as_it_was.away == ()


def test_references_follow_and_the_list_keeps_all_of_them(kestrel: Kestrel) -> None:
    gone(kestrel, pack="P-1011", kind=Missing.LOST)
    kestrel.now = MONDAY + dt.timedelta(days=3)
    author = kestrel.author("ORMOND")
    for noted in (
        MissingNoted("P-1011", None, kestrel.now, "CR-7"),
        MissingNoted("P-1011", None, kestrel.now, "", "CL-3"),
    ):
        going_missing.note_missing(kestrel.store, kestrel.clock, author, noted)
    with pytest.raises(EntryRefused, match="Type a reference"):
        going_missing.note_missing(kestrel.store, kestrel.clock, author, MissingNoted("P-1011", None, kestrel.now))
    with pytest.raises(EntryRefused, match="not on record as lost"):
        note = MissingNoted("P-1012", None, kestrel.now, "CR-8")
        going_missing.note_missing(kestrel.store, kestrel.clock, author, note)
    with kestrel.store.view() as view:
        (line,) = going_missing.missing_lines(view, kestrel.now)
    assert line.person == "Hale"
    assert (line.code, line.days, line.police, line.insurer) == ("P-1011", 3, ("CR-7",), ("CL-3",))


def test_a_missing_pack_is_neither_checked_nor_fitted_nor_lost_twice(kestrel: Kestrel) -> None:
    gone(kestrel, pack="P-1011")
    with pytest.raises(EntryRefused, match="stolen already"):
        gone(kestrel, pack="P-1011")
    with pytest.raises(EntryRefused, match="recovered"):
        kestrel.check("P-1011", "41.50")
    with pytest.raises(EntryRefused, match="recovered"):
        identify.pair(kestrel.store, "EB-12", "P-1011")
    with pytest.raises(EntryRefused, match="not both"):
        gone(kestrel, pack="P-1012", vehicle="EB-12")


def test_recovered_is_held_until_inspected_and_checked(kestrel: Kestrel) -> None:
    gone(kestrel, pack="P-1002")
    kestrel.now = MONDAY + dt.timedelta(days=5)
    with pytest.raises(EntryRefused, match="where it lies"):
        back = Recovered("P-1002", None, kestrel.now, " ")
        going_missing.record_recovered(kestrel.store, kestrel.clock, kestrel.author(), back)
    assert "held until inspected" in recovered(kestrel, pack="P-1002")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.HELD and page.shelf == "Rack 9"
    assert "after 5 days away, history unknown" in say(page.status.reasons[0].text)
    with pytest.raises(EntryRefused, match="EB-12"):
        identify.pair(kestrel.store, "EB-12", "P-1002")
    with kestrel.store.view() as view:
        (held,) = view.open_holds(("pack", "P-1002"))
    release = Release(held.hold_id, kestrel.now, "inspected")
    with pytest.raises(NotAllowed, match="passed"):
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1002", "41.60")
    record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    found = FoundIn("P-1002", "EB-12", kestrel.now)
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), found)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert (page.status.state, page.vehicle) == (PackState.READY, "EB-12")


def test_a_recovered_vehicle_is_grounded_and_its_packs_stay_missing(kestrel: Kestrel) -> None:
    gone(kestrel, vehicle="EB-14")
    assert "Still missing from it: P-1004" in recovered(kestrel, vehicle="EB-14")
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    line = next(one for one in fleet.vehicles if one.vehicle.code == "EB-14")
    assert fleet.away == () and line.status.state is BoardState.GROUNDED and line.packs == ()
    assert any("history unknown" in say(reason.text) for reason in line.status.reasons)
    with kestrel.store.view() as view:
        assert [one.code for one in going_missing.missing_lines(view, kestrel.now)] == ["P-1004"]


def test_a_recovered_pack_with_an_item_of_the_gate_is_quarantined(kestrel: Kestrel) -> None:
    gone(kestrel, pack="P-1011")
    recovered(kestrel, "P-1011", None, LookItem.CRACK)
    with kestrel.store.view() as view:
        assert [h.hold_class for h in view.open_holds(("pack", "P-1011"))] == [HoldClass.DANGER]


def test_a_pack_under_an_incident_may_be_missing_but_does_not_leave(kestrel: Kestrel) -> None:
    opened = IncidentOpened("", "smoke in the yard", "yard", kestrel.now, (("pack", "P-1011"),))
    incident_deeds.open_incident(kestrel.store, kestrel.clock, kestrel.author(), opened)
    sent = SentToMaker("P-1011", kestrel.now, "Northfield", "RN-1", "carrier", MONDAY.date())
    with pytest.raises(EntryRefused, match="held by incident"):
        maker_returns.record_sent(kestrel.store, kestrel.clock, kestrel.author(), sent)
    gone(kestrel, pack="P-1011")
    assert "held until inspected" in recovered(kestrel, pack="P-1011")
