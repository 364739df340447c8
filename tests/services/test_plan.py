"""The plan: every item has one due day and a reason, the same on board, page, list and after a save."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.checks import Hold, HoldClass, Trip, TripCause
from fleetcare.domain.due import Condition, Edge, Strain, due_after
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fuses import Body, FuseSpec, FuseWork, Position
from fleetcare.domain.inspection_plans import (
    DEFAULTS,
    EdgeSeen,
    InspectionDone,
    Kind,
    plan_for,
    planned_day,
    refuse_plan,
)
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import InspectionPlan, Level, Person, Role, SiteRules
from fleetcare.domain.status import PackState
from fleetcare.domain.trips import Reset
from fleetcare.domain.wording import msg, say
from fleetcare.services import board, edges, inspecting, record, rounds, summary
from fleetcare.services.plan import PlanItem, plan
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, Kestrel, build_morning
from tests.kestrel import SITE as KESTREL_SITE

TODAY = MONDAY.date()
SITE = SiteRules()


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def item(kestrel: Kestrel, kind: Kind, subject: str) -> PlanItem:
    return next(one for one in plan(kestrel.store, kestrel.clock) if (one.kind, one.subject) == (kind, subject))


def append(kestrel: Kestrel, kind: str, body: object, at: dt.datetime | None = None) -> None:
    with kestrel.store.transaction() as tx:
        Writer(tx, kestrel.author(), kestrel.now).add(kind, body, at or kestrel.now)


def test_every_item_has_exactly_one_due_day_with_a_reason(morning: Kestrel) -> None:
    items = plan(morning.store, morning.clock)
    assert max(Counter(one.key for one in items).values()) == 1
    for one in items:
        assert isinstance(one.due_on, dt.date) and say(one.why) and one.source
    rows = {row.pack.code: row.status for row in summary.pack_rows(morning.store, morning.clock)}
    for one in items:
        if one.kind is Kind.CHECK:
            assert (one.due_on, one.why) == (rows[one.subject].due_on, rows[one.subject].why)
    checked = {one.subject for one in items if one.kind is Kind.CHECK}
    assert {c for c, s in rows.items() if s.state in (PackState.READY, PackState.DUE, PackState.OVERDUE)} == checked


DATES = st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31))
CONDITIONS = st.builds(
    Condition,
    watches=st.integers(0, 3),
    trips=st.integers(0, 4),
    resets=st.integers(0, 2),
    strains=st.lists(st.tuples(st.sampled_from(Strain), DATES), max_size=2).map(
        lambda one: tuple(sorted(one, key=lambda p: p[1]))
    ),
    edge=st.none() | st.builds(Edge, st.just("resistance_ohm"), DATES, DATES),
    near_on=st.none() | DATES,
    misfit_on=st.none() | DATES,
    doubt_on=st.none() | DATES,
)


@given(DATES, CONDITIONS)
def test_condition_only_ever_brings_a_check_forward_and_says_why(last: dt.date, condition: Condition) -> None:
    found, ordinary = due_after(last, SITE, condition), due_after(last, SITE)
    assert found.due_on <= ordinary.due_on and found.good_through == ordinary.good_through
    assert found.tightened == (found.due_on < ordinary.due_on) == (found.why.key != "due.weekly")
    assert say(found.why)


@pytest.mark.parametrize(("condition", "days", "words"), [
    (Condition(watches=1), 7, "every 7 days"),
    (Condition(watches=2), 4, "checks in a row said watch"),
    (Condition(trips=1), 4, "a trip in the 30 days before its check of 2 Nov 2026 or since: every 4 days"),
    (Condition(trips=2), 2, "2 trips"),
    (Condition(resets=1), 4, "a reset"),
    (Condition(edge=Edge("resistance_ohm", TODAY + dt.timedelta(days=28), TODAY)), 4, "may reach its limit"),
    (Condition(edge=Edge("resistance_ohm", TODAY + dt.timedelta(days=29), TODAY)), 7, "every 7 days"),
    (Condition(strains=((Strain.TRIP, TODAY + dt.timedelta(days=1)),)), 1, "tripped on"),
    (Condition(near_on=TODAY), 0, "too near to call"),
    (Condition(misfit_on=TODAY), 0, "does not fit this pack"),
])  # fmt: skip
def test_how_far_each_condition_tightens(condition: Condition, days: int, words: str) -> None:
    found = due_after(TODAY, SITE, condition)
    assert (found.due_on - TODAY).days == days and words in say(found.why)


def test_a_second_watch_in_a_row_tightens_and_a_pass_ends_it(kestrel: Kestrel) -> None:
    first = kestrel.check("P-1002", "40.60", at=MONDAY)
    assert first.next_due == TODAY + dt.timedelta(days=7)
    kestrel.now += dt.timedelta(days=7)
    second = kestrel.check("P-1002", "40.58", at=kestrel.now)
    assert second.next_due == kestrel.now.date() + dt.timedelta(days=4)
    assert item(kestrel, Kind.CHECK, "P-1002").due_on == second.next_due
    kestrel.now += dt.timedelta(days=4)
    third = kestrel.check("P-1002", "41.05", at=kestrel.now)
    assert third.next_due == kestrel.now.date() + dt.timedelta(days=7)


def test_after_a_trip_a_check_is_due_at_once_and_the_board_says_so(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    record.record_trip(
        kestrel.store, kestrel.clock, kestrel.author(), Trip("P-1002", "EB-12", MONDAY, TripCause.OVER_CURRENT, True)
    )
    found = item(kestrel, Kind.CHECK, "P-1002")
    assert found.due_on == TODAY and "tripped on 2 Nov 2026" in say(found.why)
    line = next(v for v in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles if v.vehicle.code == "EB-12")
    assert line.status.state.value == "ready_but_due" and "tripped" in say(line.status.reasons[0].text)
    then = summary.fleet_summary(kestrel.store, kestrel.clock, before)
    assert next(v for v in then.vehicles if v.vehicle.code == "EB-12").status.state.value == "ready"
    kestrel.now += dt.timedelta(hours=1)
    done = kestrel.check("P-1002", "41.60")
    assert done.next_due == TODAY + dt.timedelta(days=4)
    assert item(kestrel, Kind.CHECK, "P-1002").due_on == done.next_due


@pytest.mark.parametrize(("kind", "body", "words"), [
    ("reset", Reset("P-1002", "0" * 32, MONDAY, "button", True), "reset on"),
    ("fuse", FuseWork("P-1002", "EB-12", MONDAY, Position.DISCHARGE, True, "pinched", False,
                      FuseSpec(30, 58, Body.TYPE_C)), "fuse blown or changed"),  # type: ignore[arg-type]
    ("report", Report("P-1002", "EB-12", MONDAY, Story.RANGE_DOWN, knock=True), "a knock was reported"),
])  # fmt: skip
def test_what_happened_after_the_last_check_asks_for_one(kestrel: Kestrel, kind: str, body: object, words: str) -> None:
    append(kestrel, kind, body)
    found = item(kestrel, Kind.CHECK, "P-1002")
    assert found.due_on == TODAY and words in say(found.why)


def test_the_early_edge_of_a_projection_is_kept_and_only_a_new_reading_of_it_loosens(kestrel: Kestrel) -> None:
    append(kestrel, "edge_seen", EdgeSeen("P-1010", "resistance_ohm", MONDAY, TODAY + dt.timedelta(days=9), 8, "e"))
    found = item(kestrel, Kind.CHECK, "P-1010")
    assert found.due_on == TODAY - dt.timedelta(days=3) + dt.timedelta(days=4)
    assert "11 Nov 2026" in say(found.why)
    kestrel.now += dt.timedelta(days=1)
    append(kestrel, "edge_seen", EdgeSeen("P-1010", "resistance_ohm", kestrel.now, None, 9, "e"))
    assert item(kestrel, Kind.CHECK, "P-1010").why.key == "due.weekly"


def test_projections_are_read_into_the_plan_by_somebody_who_may_check(kestrel: Kestrel) -> None:
    sag = (160, 170, 180, 190, 200, 210, 220, 229)
    for number, hundredths in enumerate(sag):
        at = MONDAY - dt.timedelta(weeks=7 - number)
        kestrel.check("P-1010", "41.60", loaded=f"{41.60 - hundredths / 100:.2f}", at=at, vehicle="EB-20")
    with pytest.raises(NotAllowed):
        edges.read_edges(kestrel.store, kestrel.clock, kestrel.author("HALE"))
    edges.read_edges(kestrel.store, kestrel.clock, kestrel.author())
    with kestrel.store.view() as view:
        kept = [event.body for event in view.records_of("edge_seen")]
    assert {one.pack for one in kept} == {"P-1010"}  # type: ignore[attr-defined]
    found = edges.edges_read(kestrel.store)
    assert found.on == TODAY and found.newer == 0
    again = edges.read_edges(kestrel.store, kestrel.clock, kestrel.author())
    assert "0 early edges" in say(again.message)


def test_a_reading_that_does_not_fit_its_pack_is_measured_again_before_the_pack_is_a_spare(kestrel: Kestrel) -> None:
    spare = "P-1011"
    for week in range(9, 0, -1):
        at = MONDAY - dt.timedelta(weeks=week)
        kestrel.check(spare, "41.60" if week % 2 else "41.59", at=at)
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1002", "39.00", vehicle="EB-12")
    kestrel.check(spare, "41.15")

    def offered() -> set[str]:
        lines = board.whole(kestrel.store, kestrel.clock).vehicles
        return {one.pack for line in lines if line.vehicle.code == "EB-12" for one in line.offers}

    assert spare in offered(), "its verdict is a pass"
    told = say(edges.read_edges(kestrel.store, kestrel.clock, kestrel.author()).message)
    assert told.endswith("Readings to measure again: 2."), "the pulled one's, too"
    held = [say(note) for note in rounds.round_of(kestrel.store, kestrel.clock).notes]
    assert any(note.startswith("Due, but held and so in no round: P-1002.") for note in held), held
    found = item(kestrel, Kind.CHECK, spare)
    assert found.due_on == TODAY and found.at_once and "does not fit this pack" in say(found.why)
    assert spare in {one.item.subject for one in rounds.round_of(kestrel.store, kestrel.clock).today}
    assert spare not in offered()
    with kestrel.store.view() as view:
        position = view.position
    edges.read_edges(kestrel.store, kestrel.clock, kestrel.author())
    with kestrel.store.view() as view:
        assert view.kinds_since(position) == {"told"}, "what is known is not recorded again"
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check(spare, "41.59")
    assert item(kestrel, Kind.CHECK, spare).why.key == "due.weekly" and spare in offered()


def test_kinds_by_interval_calendar_and_the_things_own_dates(kestrel: Kestrel) -> None:
    author = kestrel.author("ORMOND")
    known = TODAY - dt.timedelta(days=60)
    assert item(kestrel, Kind.YEARLY, "CB-01").due_on == known + dt.timedelta(days=365)
    assert item(kestrel, Kind.CHARGER_TEST, "C-36-1").due_on == known + dt.timedelta(days=91)
    assert item(kestrel, Kind.METER_CALIBRATION, "M-02").due_on == dt.date(2026, 11, 3)
    assert item(kestrel, Kind.LOOK_OVER, "P-1002").due_on == TODAY - dt.timedelta(days=3) + dt.timedelta(days=30)
    first_monday = InspectionPlan(
        "BRAKES", "vehicle_look", vehicle_kind="cargo_bike", rule="FREQ=MONTHLY;BYDAY=1MO", from_date=TODAY,
        minutes=8, source="the maker's plan",
    )  # fmt: skip
    pike = Person("PIKE", "Pike", (Role.MECHANIC,), Level.MAY_RELEASE, dt.date(2027, 1, 10), "B-02")
    record.put_things(kestrel.store, kestrel.clock, author, ("inspection_plan", first_monday), ("person", pike))
    look = item(kestrel, Kind.VEHICLE_LOOK, "CB-01")
    assert look.due_on == TODAY and "BRAKES" in say(look.why) and look.minutes == 8
    assert not any(
        one.subject == "EB-11" for one in plan(kestrel.store, kestrel.clock) if one.kind is Kind.VEHICLE_LOOK
    )
    assert item(kestrel, Kind.TRAINING, "PIKE").due_on == dt.date(2027, 1, 9)
    done = InspectionDone("vehicle_look", None, "CB-01", kestrel.now)
    inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author(), done)
    assert item(kestrel, Kind.VEHICLE_LOOK, "CB-01").due_on == dt.date(2026, 12, 7)


def test_an_inspection_that_finds_something_grounds_the_vehicle(kestrel: Kestrel) -> None:
    done = InspectionDone("yearly", None, "CB-01", kestrel.now, "brake cable frayed")
    inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author(), done)
    line = next(v for v in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles if v.vehicle.code == "CB-01")
    assert line.status.state.value == "grounded" and "brake cable frayed" in say(line.status.reasons[0].text)


def test_a_quarantined_pack_asks_for_a_look_a_day_and_for_nothing_else(kestrel: Kestrel) -> None:
    hold = Hold("pack", "P-1003", HoldClass.DANGER, MONDAY, msg("ground.by_person"), "swollen", "Q-2")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    assert [one.kind for one in plan(kestrel.store, kestrel.clock) if one.subject == "P-1003"] == [Kind.QUARANTINE_LOOK]
    assert item(kestrel, Kind.QUARANTINE_LOOK, "P-1003").due_on == TODAY + dt.timedelta(days=1)
    kestrel.now += dt.timedelta(days=2)
    assert item(kestrel, Kind.QUARANTINE_LOOK, "P-1003").due_on == kestrel.now.date()


def test_only_a_manager_changes_plans_and_hours(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed):
        record.put_things(kestrel.store, kestrel.clock, kestrel.author(), ("inspection_plan", DEFAULTS[0]))


def test_a_plan_that_names_no_day_is_refused_and_a_second_never_loosens_the_first() -> None:
    for wrong in (
        InspectionPlan("X", "yearly"),
        InspectionPlan("X", "yearly", rule="FREQ=YEARLY"),
        InspectionPlan("X", "yearly", rule="FREQ=HOURLY", from_date=TODAY),
        InspectionPlan("X", "weekly", every_days=7),
    ):
        with pytest.raises(EntryRefused):
            refuse_plan(wrong)
    short, long = (
        InspectionPlan("A", "yearly", vehicle_kind="e_bike", every_days=180),
        InspectionPlan("B", "yearly", vehicle_kind="e_bike", every_days=400),
    )
    assert plan_for((long, short), Kind.YEARLY, vehicle_kind="e_bike") is short


def test_work_done_a_little_early_counts_for_the_coming_day_of_a_rule() -> None:
    rule = InspectionPlan("R", "yearly", rule="FREQ=MONTHLY;BYMONTHDAY=1", from_date=dt.date(2026, 1, 1), early_days=3)
    known = dt.date(2025, 1, 1)
    for done, due in (("2026-02-26", "2026-04-01"), ("2026-02-25", "2026-03-01"), ("2026-03-01", "2026-04-01")):
        found = planned_day(rule, dt.date.fromisoformat(done), known)
        assert found is not None and found.due_on == dt.date.fromisoformat(due)
    first = planned_day(rule, None, known)
    assert first is not None and first.due_on == dt.date(2026, 1, 1)


def test_an_inspection_asks_for_the_level_of_its_plan_and_a_finding_for_none(kestrel: Kestrel) -> None:
    fine, frayed = (InspectionDone("yearly", None, "CB-01", kestrel.now, found) for found in ("", "brake frayed"))
    with pytest.raises(NotAllowed, match="may check"):
        inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author("HALE"), fine)
    inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author("FARROW"), fine)
    strict = InspectionPlan("YEARLY", "yearly", every_days=365, source="the maker", level=Level.MAY_RELEASE)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("inspection_plan", strict))
    with pytest.raises(NotAllowed, match="may reset and release"):
        inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author("FARROW"), fine)
    inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author("DUNN"), fine)
    inspecting.record_inspection(kestrel.store, kestrel.clock, kestrel.author("HALE"), frayed)
    with kestrel.store.view() as view:
        assert [h.subject for h in view.open_holds(("vehicle", "CB-01"))] == ["CB-01"]


def test_a_long_rest_does_not_hide_what_makes_a_check_graver(kestrel: Kestrel) -> None:
    site = replace(KESTREL_SITE, check_due_days=40, grounded_after_days=60)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("site_rules", site))
    kestrel.now = MONDAY + dt.timedelta(days=32)
    append(kestrel, "trip", Trip("P-1002", "EB-12", kestrel.now, TripCause.OVER_CURRENT, False))
    found = item(kestrel, Kind.CHECK, "P-1002")
    assert found.why.key == "due.long_rest" and "35 days" in say(found.why)
    assert found.grave < item(kestrel, Kind.CHECK, "P-1003").grave
