"""The board kept up to date is the board read whole; its counts are the status function over all records."""

import datetime as dt
import gc
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fleetcare.domain import packs, status
from fleetcare.domain.absences import Away
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import FoundIn, Hold, HoldClass, LookItem, LookOver, Release, Trip, TripCause
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say
from fleetcare.services import absences, attendance, board, charging, freeing, record, summary
from fleetcare.services import facts as read
from fleetcare.services.first_sight import first_sight
from fleetcare.services.shown import FleetSummary, VehicleSummary, elsewhere_told
from fleetcare.store import plan_reads
from fleetcare.store.store import View
from tests.kestrel import MONDAY, Kestrel, build, build_morning

D = Decimal


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def line(fleet: FleetSummary, code: str) -> VehicleSummary:
    return next(one for one in fleet.vehicles if one.vehicle.code == code)


PACKS = ("P-1002", "P-1003", "P-1011", "P-1012", "P-1305", "P-1306", "P-1317")
VEHICLES = ("EB-12", "EB-13", "CB-03", "SC-33")
deeds = st.lists(
    st.one_of(
        st.tuples(
            st.just("check"), st.sampled_from(PACKS), st.sampled_from(["41.6", "40.2", "39.0", "54.1", "51.0", "0"])
        ),
        st.tuples(st.just("look"), st.sampled_from(PACKS), st.just("smell")),
        st.tuples(st.just("ground"), st.sampled_from(VEHICLES), st.just("brake")),
        st.tuples(st.just("move"), st.sampled_from(PACKS), st.sampled_from([*VEHICLES, "Store", ""])),
        st.tuples(st.just("trip"), st.sampled_from(PACKS), st.just("")),
        st.tuples(st.just("charge"), st.sampled_from(PACKS), st.sampled_from(["C-36-1", "C-48-1", ""])),
        st.tuples(st.just("release"), st.just(""), st.just("")),
        st.tuples(st.just("thing"), st.sampled_from(["vehicle", "pack", "site", "person"]), st.just("")),
        st.tuples(st.just("wait"), st.sampled_from(["minute", "day"]), st.just("")),
    ),
    max_size=8,
)


def act(kestrel: Kestrel, deed: str, subject: str, value: str) -> None:
    """One deed as somebody might do it; what the rules refuse is simply not done."""
    store, clock, author, now = kestrel.store, kestrel.clock, kestrel.author(), kestrel.now
    boss = kestrel.author("ORMOND")
    if deed == "check":
        kestrel.check(subject, value)
    elif deed == "look":
        record.record_look_over(store, clock, author, LookOver(subject, now, None, (LookItem.SMELL,)))
    elif deed == "ground":
        record.set_hold(
            store, clock, author, Hold("vehicle", subject, HoldClass.FAULT, now, msg("ground.by_person"), value)
        )
    elif deed == "move":
        vehicle = value if value in VEHICLES else None
        record.record_found_in(store, clock, author, FoundIn(subject, vehicle, now, shelf="" if vehicle else value))
    elif deed == "trip":
        record.record_trip(store, clock, author, Trip(subject, None, now, TripCause.UNKNOWN, False))
    elif deed == "charge":
        charging.record_charge(store, clock, author, ChargedOn(subject, value, now))
    elif deed == "release":
        with store.view() as view:
            held = view.open_holds()
        if held:
            record.release_hold(store, clock, author, Release(held[0].hold_id, now, "mended"))
    elif deed == "wait":
        kestrel.now += dt.timedelta(minutes=1) if subject == "minute" else dt.timedelta(days=5)
    elif subject == "vehicle":
        new = packs.Vehicle("EB-99", packs.VehicleKind.E_BIKE, "KW", 36, "K2", charge_end_v=D("42"),
                            chemistry=packs.Chemistry.NMC)  # fmt: skip
        record.put_things(store, clock, boss, ("vehicle", new))
    elif subject == "pack":
        record.put_things(store, clock, boss, ("pack", packs.Pack("P-1099", "K36-A", shelf="Store")))
    elif subject == "site":
        record.put_things(store, clock, boss, ("site_rules", packs.SiteRules(check_due_days=2)))
    else:
        leaver = packs.Person("PIKE", "Pike", (packs.Role.MECHANIC,), packs.Level.MAY_CHECK, badge="B-02")
        record.put_things(store, clock, boss, ("person", leaver))


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(deeds)
def test_the_board_kept_up_to_date_is_the_board_read_whole(
    tmp_path_factory: pytest.TempPathFactory, done: list[tuple[str, str, str]]
) -> None:
    kestrel = build(tmp_path_factory.mktemp("board") / "k.fleet")
    kept = board.Board(kestrel.store, kestrel.clock)
    kept.read()
    for deed, subject, value in done:
        try:
            act(kestrel, deed, subject, value)
        except FleetcareError:
            continue
        assert kept.read() == summary.fleet_summary(kestrel.store, kestrel.clock), (deed, subject, value)
    fleet = kept.read()
    by_rule: Counter[status.BoardState] = Counter()
    with kestrel.store.view() as view:
        facts = read.read_facts(view)
        for vehicle in facts.vehicles.values():
            states = tuple(read.pack_status(facts, code, kestrel.now) for code in facts.packs_in(vehicle.code))
            by_rule[read.vehicle_status(facts, vehicle, states).state] += 1
    assert {state: count for state, count in fleet.counts.items() if count} == by_rule
    assert sum(fleet.counts.values()) == len(fleet.vehicles) == len(facts.vehicles)
    kestrel.store.close()


def test_one_checked_pack_is_read_alone(morning: Kestrel, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = board.Board(morning.store, morning.clock)
    before = kept.read()
    monkeypatch.setattr(read, "read_facts", lambda _view: pytest.fail("the whole fleet was read"))
    morning.check("P-1002", "39.0", vehicle="EB-12")
    after = kept.read()
    assert line(after, "EB-12").status.state is status.BoardState.GROUNDED
    unchanged = [one for one in after.vehicles if one.vehicle.code not in ("EB-12", "EB-14", "EB-18")]
    old = {one.vehicle.code: one for one in before.vehicles}
    assert all(one is old[one.vehicle.code] for one in unchanged)


def test_a_fact_the_board_does_not_know_of_makes_it_read_the_whole(
    morning: Kestrel, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = board.Board(morning.store, morning.clock)
    kept.read()
    monkeypatch.setattr(board, "KNOWN_FACTS", frozenset({"site"}))
    called = []
    whole = read.read_facts
    monkeypatch.setattr(read, "read_facts", lambda view: called.append(1) or whole(view))
    morning.check("P-1002", "39.0", vehicle="EB-12")
    assert line(kept.read(), "EB-12").status.state is status.BoardState.GROUNDED and called


def test_each_spare_is_proposed_once_and_says_why(morning: Kestrel) -> None:
    fleet = summary.fleet_summary(morning.store, morning.clock)
    proposed = {v.vehicle.code: [o.pack for o in v.offers if o.proposed] for v in fleet.vehicles}
    assert proposed["EB-14"] == ["P-1011"] and len(proposed["EB-18"]) == 1 and proposed["EB-18"] != ["P-1011"]
    assert proposed["CB-03"] in (["P-1317"], ["P-1318"]) and proposed["CB-06"] == []
    told = say(freeing.explained(line(fleet, "EB-14").offers[0], dict(fleet.depots)))
    assert told == "Fit P-1011: full at 41.40 V on 1 Nov 2026, no charge on record since; Store, same depot."


def test_a_spare_tells_when_it_was_charged_since_its_last_full_check_and_the_freshest_goes_first(
    morning: Kestrel,
) -> None:
    def offers() -> list[str]:
        fleet = board.whole(morning.store, morning.clock)
        return [say(freeing.explained(one, dict(fleet.depots))) for one in line(fleet, "EB-14").offers]

    before = offers()
    assert before[0].startswith("Fit P-1011") and all("no charge on record since" in told for told in before)
    early = ChargedOn("P-1013", "C-36-2", MONDAY - dt.timedelta(days=20))
    charging.record_charge(morning.store, morning.clock, morning.author(), early)
    assert offers() == before, "charged before its last full check: the check says more"
    night = ChargedOn("P-1012", "C-36-1", MONDAY - dt.timedelta(hours=9))
    charging.record_charge(morning.store, morning.clock, morning.author(), night)
    after = offers()
    assert after[0].startswith("Fit P-1012: full at 41.60 V on 28 Oct 2026, charged again 1 Nov 2026 21:30 on C-36-1;")


def test_thirteen_groups_never_free_a_bike_of_fourteen(morning: Kestrel) -> None:
    # Both are sold as "48 V"; 58.8 V on 13 groups would be 4.52 V per group.
    K52 = packs.PackModel("K52-C", "K52-C", packs.Chemistry.NMC, 14, 48, D("58.8"), D("17"), "K4")
    bike = packs.Vehicle("CB-09", packs.VehicleKind.CARGO_BIKE, "KW", 48, "K4")
    record.put_things(morning.store, morning.clock, morning.author("ORMOND"), ("pack_model", K52),
                      ("pack", packs.Pack("P-1401", "K52-C")), ("vehicle", bike))  # fmt: skip
    record.record_found_in(morning.store, morning.clock, morning.author(), FoundIn("P-1401", "CB-09", MONDAY))
    mine = line(summary.fleet_summary(morning.store, morning.clock), "CB-09")
    assert mine.status.state is status.BoardState.GROUNDED and mine.offers == ()
    assert mine.no_offer is not None and "58.80 V charge-end voltage" in say(mine.no_offer)


def test_a_spare_of_another_depot_says_how_far(morning: Kestrel) -> None:
    far = packs.Depot("HB", "Hull Bridge", distances_km=(("KW", D("3.5")),))
    author = morning.author("ORMOND")
    things: list[tuple[str, packs.Thing]] = [("depot", far)]
    for code in ("P-1011", "P-1012", "P-1013", "P-1014"):
        things.append(("pack", packs.Pack(code, "K36-A", shelf="Cage", depot="HB")))
    record.put_things(morning.store, morning.clock, author, *things)
    fleet = summary.fleet_summary(morning.store, morning.clock)
    offer = line(fleet, "EB-14").offers[0]
    assert offer.km == D("3.5")
    assert "Cage, Hull Bridge, 3.5 km away" in say(freeing.explained(offer, dict(fleet.depots)))


def test_who_is_at_work_is_the_last_note_of_the_day(morning: Kestrel) -> None:
    store, clock, author = morning.store, morning.clock, morning.author("HALE")
    assert summary.fleet_summary(store, clock).at_work is None
    attendance.record_at_work(store, clock, author, MONDAY.date(), ["DUNN", "PIKE"])
    attendance.record_at_work(store, clock, author, MONDAY.date(), ["PIKE", "FARROW"])
    attendance.record_at_work(store, clock, author, MONDAY.date() + dt.timedelta(days=1), ["DUNN"])
    assert summary.fleet_summary(store, clock).at_work == ("Farrow", "Pike")
    with pytest.raises(FleetcareError):
        attendance.record_at_work(store, clock, author, MONDAY.date(), ["NOBODY"])


def test_every_fact_by_pack_keeps_its_pack_apart_from_others() -> None:
    by_pack = {"packs", "placements", "latest"}  # what every pack has; compared by `status.alike`
    told = {f.name for f in fields(read.FleetFacts) if f.name in (*read._ABOUT_PACKS, *by_pack)}
    about_others = {
        "site", "depots", "models", "vehicles", "people", "vehicle_holds", "zone", "by_vehicle", "left_for", "last_in",
        "left_at", "covered", "bays", "notes", "charged", "away",
    }  # fmt: skip
    assert {f.name for f in fields(read.FleetFacts)} == told | about_others


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(deeds)
@example([("trip", "P-1002", "")])
def test_the_first_sight_is_the_whole_board_without_the_plainly_ready(
    tmp_path_factory: pytest.TempPathFactory, done: list[tuple[str, str, str]]
) -> None:
    kestrel = build_morning(tmp_path_factory.mktemp("sight") / "k.fleet")
    for deed, subject, value in done:
        try:
            act(kestrel, deed, subject, value)
        except FleetcareError:
            continue
    whole = board.whole(kestrel.store, kestrel.clock)
    sight = first_sight(kestrel.store, kestrel.clock, large=0)
    assert sight is not None
    assert (sight.counts, sight.total, sight.away, sight.drafts) == (
        whole.counts,
        whole.total,
        whole.away,
        whole.drafts,
    )
    assert sum(sight.counts.values()) == sight.total and sight.fingerprint == whole.fingerprint
    seen = {one.vehicle.code for one in sight.vehicles}
    rest = [one for one in whole.vehicles if one.vehicle.code not in seen]
    assert all(one.status.state is status.BoardState.READY and not one.status.reasons for one in rest)
    same = [replace(one, offers=(), no_offer=None) for one in whole.vehicles if one.vehicle.code in seen]
    assert [replace(one, offers=(), no_offer=None) for one in sight.vehicles] == same, (
        "the same lines in the same order"
    )
    kestrel.store.close()


def test_letters_within_a_text_make_no_vehicle_full_and_no_pack_good(kestrel: Kestrel) -> None:
    """The quick look at a row finds letters; what somebody typed that reads like them is no such row."""
    lost, in_fleet = packs.VehicleStanding.LOST, '"standing": "in_fleet"'
    with kestrel.store.view() as view:
        things = [
            ("vehicle", replace(view.thing("vehicle", "CB-02"), bay_place='"bays": 1,')),
            ("vehicle", replace(view.thing("vehicle", "EB-12"), standing=lost, bay_place=in_fleet)),
            (
                "pack",
                replace(
                    view.thing("pack", "P-1003"), standing=packs.PackStanding.LOST, note='"standing": "in_service"'
                ),
            ),
        ]
    author = kestrel.author("ORMOND")
    record.put_things(kestrel.store, kestrel.clock, author, *things)
    record.record_found_in(kestrel.store, kestrel.clock, author, FoundIn("P-1303", None, kestrel.now, shelf="Store"))
    with kestrel.store.view() as view:
        assert plan_reads.vehicles_not_plainly_full(view) == {"CB-02", "EB-12"}
        assert "P-1003" in plan_reads.packs_not_plainly_good(view, kestrel.now - dt.timedelta(days=7))
        assert plan_reads.count_of_vehicles(view) == len(view.codes("vehicle")) == 24
        assert plan_reads.vehicles_on_record(view, {"CB-02", "no such"}) == {"CB-02"}


def test_the_due_day_is_counted_from_the_depots_own_day(kestrel: Kestrel) -> None:
    """An evening check west of Greenwich is of that evening's day, on the board as in the sentence after the save."""
    from zoneinfo import ZoneInfo

    zone = ZoneInfo("America/New_York")
    depot = ("depot", packs.Depot("KW", "Kestrel Wharf", time_zone="America/New_York"))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), depot)
    kestrel.now = dt.datetime(2026, 11, 2, 20, 30, tzinfo=zone)  # 01:30 of 3 November in UTC
    told = kestrel.check("P-1002", "41.60", vehicle="EB-12")
    fleet = board.whole(kestrel.store, kestrel.clock)
    assert line(fleet, "EB-12").status.due_on == told.next_due == dt.date(2026, 11, 9)
    kestrel.now = dt.datetime(2026, 11, 9, 6, 30, tzinfo=zone)
    late = line(board.whole(kestrel.store, kestrel.clock), "EB-12")
    assert say(late.status.reasons[0].text).startswith("P-1002: check due 9 Nov 2026, last 2 Nov 2026")


def hired(kestrel: Kestrel, vehicle: str, days: int = 9, *, withdrawn: bool = False) -> None:
    """`vehicle` goes on hire today and is back in `days`."""
    away = Away(vehicle, kestrel.now.date(), kestrel.now.date() + dt.timedelta(days), kestrel.now, "on hire", withdrawn)
    absences.record_away(kestrel.store, kestrel.clock, kestrel.author("HALE"), away)


def test_a_vehicle_on_hire_is_named_as_away_and_not_counted_as_ready(morning: Kestrel) -> None:
    kept = board.Board(morning.store, morning.clock)
    before = kept.read()
    ready = next(one.vehicle.code for one in before.vehicles if one.status.state is status.BoardState.READY)
    hired(morning, ready)
    after = kept.read()
    assert after == summary.fleet_summary(morning.store, morning.clock)
    assert ready not in [one.vehicle.code for one in after.vehicles]
    assert after.counts[status.BoardState.READY] == before.counts[status.BoardState.READY] - 1
    assert after.total == before.total - 1 and after.away_told is not None
    assert f"{ready} on hire, back on 11 Nov 2026" in say(after.away_told)
    assert f"= {before.total} on record" in say(after.away_told)
    assert [one.vehicle.code for one in after.elsewhere] == [ready], "the list of vehicles names it still"
    assert elsewhere_told(after.elsewhere[0]) == ("away", "on hire, back on 11 Nov 2026")
    morning.now += dt.timedelta(days=9)
    assert ready in [one.vehicle.code for one in kept.read().vehicles]  # the day on which it is back
    morning.now -= dt.timedelta(days=9)
    hired(morning, ready, withdrawn=True)
    assert kept.read().counts == before.counts


def test_a_vehicle_on_hire_with_danger_against_it_stays_on_the_board(morning: Kestrel) -> None:
    vehicle = next(
        one.vehicle.code for one in board.Board(morning.store, morning.clock).read().vehicles if len(one.packs) == 1
    )
    hired(morning, vehicle)
    with morning.store.view() as view:
        pack = read.read_facts(view).packs_in(vehicle)[0]
    look = LookOver(pack, morning.now, None, (LookItem.SMELL,))
    record.record_look_over(morning.store, morning.clock, morning.author(), look)
    fleet = summary.fleet_summary(morning.store, morning.clock)
    assert line(fleet, vehicle).status.state is status.BoardState.GROUNDED
    assert line(fleet, vehicle).away is not None and not fleet.hired


def test_a_vehicle_on_hire_is_away_at_first_sight_as_well(morning: Kestrel) -> None:
    whole = summary.fleet_summary(morning.store, morning.clock)
    for one in [one.vehicle.code for one in whole.vehicles if one.status.state is status.BoardState.READY][:2]:
        hired(morning, one)
    whole = summary.fleet_summary(morning.store, morning.clock)
    sight = first_sight(morning.store, morning.clock, large=0)
    assert sight is not None and sight.counts == whole.counts and sight.hired == whole.hired
    assert sight.total == whole.total


def test_a_board_that_is_read_in_another_thread_turns_no_search_for_garbage_on_again(
    morning: Kestrel, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A window turns it off for good; a reading begun before that must not undo it."""
    of_the_file = read.read_facts

    def meanwhile(view: View) -> read.FleetFacts:
        gc.disable()
        return of_the_file(view)

    monkeypatch.setattr(board.read, "read_facts", meanwhile)
    gc.enable()
    reader = threading.Thread(target=board.Board(morning.store, morning.clock).read)
    reader.start()
    reader.join()
    left_off = not gc.isenabled()
    gc.enable()
    assert left_off
