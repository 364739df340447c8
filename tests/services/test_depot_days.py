"""Days are the depot's own, on both sides of its midnight, whatever the PC's zone and however a time was written.

Offsets of the zones: IANA tz database (New York UTC-5 and Helsinki UTC+2 in November, Auckland UTC+13).
"""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from fleetcare.app import found_fleet, open_app, system_zone
from fleetcare.domain.away import Missing, Recovered, WentMissing
from fleetcare.domain.checks import CheckKind, Hold, HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fuses import FuseWork, Position
from fleetcare.domain.packs import Depot
from fleetcare.domain.wording import msg, show_moment
from fleetcare.services import (
    fusing,
    going_missing,
    history,
    history_changes,
    inspecting,
    laying_up,
    meters,
    overview,
    owed,
    proving,
    quarantine,
    record,
    setting_up,
    summary,
    whereabouts,
)
from fleetcare.services.charge_bars import silent_bar
from fleetcare.services.clock import DepotClock
from fleetcare.services.done_due import done_due
from fleetcare.services.facts import read_facts
from fleetcare.services.history_lines import Asked
from fleetcare.services.plan import plan
from fleetcare.services.rounds import round_of
from fleetcare.store.store import Store
from tests.kestrel import K36, MONDAY, SITE, Kestrel

DAY = dt.date(2026, 11, 10)
BESIDE_MIDNIGHT = [
    ("America/New_York", "2026-11-11T04:30:00+00:00"),  # 23:30 on the 10th there, the 11th in UTC
    ("Europe/Helsinki", "2026-11-09T22:30:00+00:00"),  # 00:30 on the 10th there, the 9th in UTC
    ("Pacific/Auckland", "2026-11-09T11:30:00+00:00"),  # 00:30 on the 10th there
    ("Pacific/Auckland", "2026-11-10T20:30:00+10:00"),  # 23:30 on the 10th there, typed on a PC in Sydney
]


@pytest.fixture(params=BESIDE_MIDNIGHT, ids=lambda one: f"{one[0]} {one[1]}")
def far(request: pytest.FixtureRequest, kestrel: Kestrel) -> Kestrel:
    """The depot in another zone, with its clock told in the zone of the PC."""
    zone, at = request.param
    depot = Depot("KW", "Kestrel Wharf", zone)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", depot))
    kestrel.now = dt.datetime.fromisoformat(at)
    return kestrel


def test_a_check_beside_midnight_is_of_the_depots_day_everywhere(far: Kestrel) -> None:
    far.check("P-1002", "41.60", vehicle="EB-12")
    at = far.now
    far.now = at + dt.timedelta(days=2)
    page = summary.pack_summary(far.store, far.clock, "P-1002")
    assert page.status.due_on == DAY + dt.timedelta(days=7)
    assert page.checks[0].done_at == at and page.checks[0].done_at.date() == DAY
    assert DAY in {one.done_at.date() for projection in page.projections for one in projection.used}
    item = next(one for one in plan(far.store, far.clock) if one.key == "check:P-1002")
    assert (item.last_on, item.due_on) == (DAY, DAY + dt.timedelta(days=7))
    row = next(one for one in summary.pack_rows(far.store, far.clock) if one.pack.code == "P-1002")
    assert row.last_check is not None and row.last_check.date() == DAY
    vehicle = summary.vehicle_page(far.store, far.clock, "EB-12")
    assert [one.last_check.date() for one in vehicle.packs if one.last_check] == [DAY]
    counted = done_due(far.store, far.clock, DAY, DAY)
    assert [(one.person, one.checks) for one in counted.by_person if one.checks] == [("DUNN", 1)]
    asked = Asked("pack", "P-1002", DAY, DAY)
    with history.reading(far.store, far.clock, asked) as whole:
        assert [line.done_at.date() for line in whole.lines()] == [DAY]


def test_breaks_and_lay_ups_begin_and_end_on_the_depots_day(far: Kestrel) -> None:
    start = far.now
    laying_up.lay_up(far.store, far.clock, far.author(), "winter-1", ("P-1011",), shelf="Rack 9")
    record.set_hold(
        far.store,
        far.clock,
        far.author(),
        Hold("pack", "P-1005", HoldClass.DANGER, far.now, msg("hold.by_person"), remark="swollen"),
    )
    far.now = start + dt.timedelta(days=3)
    laying_up.take_out(far.store, far.clock, far.author(), ("P-1011",))
    with far.store.view() as view:
        assert owed.lay_up_spans(view)["P-1011"] == ((DAY, DAY + dt.timedelta(days=3)),)
        assert owed.breaks(view)["P-1005"] == ((DAY, None),)
        facts = read_facts(view)
        assert facts.returned["P-1011"].date() == DAY + dt.timedelta(days=3)
    case = next(one for one in quarantine.quarantine_cases(far.store, far.clock) if one.pack.code == "P-1005")
    assert case.since.date() == DAY and case.days == 3


def test_a_silent_pack_was_last_seen_on_the_depots_day(far: Kestrel) -> None:
    far.check("P-1002", "41.60")
    far.now += dt.timedelta(days=40)
    far.check("P-1002", "0.02", kind=CheckKind.AS_FOUND)
    with far.store.view() as view:
        told = silent_bar(view, "P-1002", K36, view.day(far.now))
    assert told is not None and told.value("last_date") == DAY


def test_the_programs_clock_tells_the_depots_time(far: Kestrel) -> None:
    told = DepotClock(far.store, far.clock)()
    assert told == far.now and told.date() == DAY


def test_a_fleet_without_a_depot_keeps_the_zone_of_its_pc(tmp_path: Path) -> None:
    here = MONDAY.astimezone(dt.timezone(dt.timedelta(hours=9)))
    store = Store.create(tmp_path / "new.fleet", fleet_name="New", now=here)
    try:
        assert DepotClock(store, lambda: here)().utcoffset() == dt.timedelta(hours=9)
    finally:
        store.close()


def test_a_new_fleet_begins_in_the_zone_of_its_pc(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "America/New_York")
    path = tmp_path / "new.fleet"
    found_fleet(path, "New", "Ada", clock=lambda: MONDAY)
    app = open_app(path, clock=lambda: MONDAY)
    try:
        with app.store.view() as view:
            assert view.things("depot")["D1"].time_zone == "America/New_York"
        assert app.clock().utcoffset() == dt.timedelta(hours=-5)
    finally:
        app.store.close()


@pytest.mark.parametrize(("named", "linked", "zone"), [
    ("", "/usr/share/zoneinfo/Europe/Helsinki", "Europe/Helsinki"), ("Nowhere/Land", "", ""), ("EST5EDT4,M3", "", ""),
    (":Asia/Tokyo", "/usr/share/zoneinfo/Europe/Helsinki", "Asia/Tokyo"),
])  # fmt: skip
def test_the_zone_of_a_pc_is_read_from_its_system(
    named: str, linked: str, zone: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", named)
    local_time = tmp_path / "localtime"
    if linked:
        local_time.symlink_to(linked)
    assert system_zone(local_time) == zone


def test_where_the_system_tells_no_zone_that_of_the_window_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("TZ", raising=False)
    assert system_zone(tmp_path / "none", "Europe/Berlin") == "Europe/Berlin"
    assert system_zone(tmp_path / "none", "Nowhere/Land") == system_zone(tmp_path / "none") == ""


def test_two_moments_in_the_hour_that_comes_twice_stay_in_order(kestrel: Kestrel) -> None:
    depot = Depot("KW", "Kestrel Wharf", "America/New_York")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", depot))
    first = dt.datetime(2027, 11, 7, 5, 50, tzinfo=dt.UTC)  # 01:50 EDT; the hour goes back at 06:00 UTC
    with kestrel.store.view() as view:
        before, after = view.local(first), view.local(first + dt.timedelta(minutes=20))
    assert (f"{before:%H:%M}", f"{after:%H:%M}") == ("01:50", "01:10")
    assert after - before == dt.timedelta(minutes=20) and before < after


def test_the_shift_and_the_question_which_pack_take_the_depots_day(far: Kestrel) -> None:
    at = far.now
    far.check("P-1002", "41.60", vehicle="EB-12")
    with far.store.view() as view:
        today = view.day(at)
    found = round_of(far.store, far.clock)
    assert inspecting.shift_end(far.store, far.clock, "DUNN", found).checked == 1
    assert "P-1002" in whereabouts.on_day(far.store, far.clock, "EB-12", today).seen
    with pytest.raises(EntryRefused, match="to come"):
        whereabouts.on_day(far.store, far.clock, "EB-12", today + dt.timedelta(days=1))


def test_a_shift_begins_at_midnight_also_where_the_clocks_were_put_back_that_night(kestrel: Kestrel) -> None:
    """London, 25 Oct 2026: 00:10 summer time is before midnight by the winter offset that holds at noon."""
    kestrel.now = dt.datetime(2026, 10, 24, 23, 10, tzinfo=dt.UTC)
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    kestrel.now = dt.datetime(2026, 10, 25, 12, 0, tzinfo=dt.UTC)
    found = round_of(kestrel.store, kestrel.clock)
    assert inspecting.shift_end(kestrel.store, kestrel.clock, "DUNN", found).checked == 1


def test_a_second_depot_elsewhere_shares_the_days_of_the_first(kestrel: Kestrel) -> None:
    """Decision 200; Auckland is 13 hours ahead of London in November."""
    away = Depot("ZZ", "Far", "Pacific/Auckland")
    with kestrel.store.view() as view:
        moved = replace(view.thing("vehicle", "EB-12"), depot="ZZ")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", away), ("vehicle", moved))
    kestrel.now = MONDAY.replace(hour=20)
    with pytest.raises(EntryRefused, match="to come"):
        whereabouts.on_day(kestrel.store, kestrel.clock, "EB-12", MONDAY.date() + dt.timedelta(days=1))


def test_fuse_window_and_days_gone_are_counted_in_days_of_the_depot(far: Kestrel) -> None:
    """Both written with the offset of a PC elsewhere: 23:30 or 00:30 at the depot is another day there."""
    elsewhere = dt.timezone(dt.timedelta(hours=12 if far.now.utcoffset() != dt.timedelta(hours=10) else -10))
    with far.store.view() as view:
        day, noon = view.day(far.now), dt.datetime.combine(view.day(far.now), dt.time(12), view.zone)
    gone = WentMissing("P-1011", None, Missing.LOST, far.now.astimezone(elsewhere), "street")
    going_missing.record_missing(far.store, far.clock, far.author("ORMOND"), gone)
    far.now = noon + dt.timedelta(days=3)
    back = Recovered("P-1011", None, far.now.astimezone(elsewhere), "Rack 1")
    going_missing.record_recovered(far.store, far.clock, far.author(), back)
    with far.store.view() as view:
        (hold,) = view.open_holds(("pack", "P-1011"))
        assert hold.reason.value("gone_days") == 3
    first = FuseWork("P-1008", "EB-18", noon - dt.timedelta(days=27), Position.DISCHARGE, True, "lead", False, None)
    fusing.record_fuse(far.store, far.clock, far.author("FARROW"), first)
    late = dt.datetime.combine(day + dt.timedelta(days=3), dt.time(23, 30), noon.tzinfo)
    far.now = late
    again = replace(first, done_at=late.astimezone(dt.timezone(dt.timedelta(hours=14))))
    fusing.record_fuse(far.store, far.clock, far.author("FARROW"), again)
    with far.store.view() as view:
        assert [one.reason.key for one in view.open_holds(("vehicle", "EB-18"))] == ["fuse.second"]


def test_what_was_changed_and_lodged_is_dated_by_the_depots_clock(far: Kestrel) -> None:
    manager = far.author("ORMOND")
    with far.store.view() as view:
        head, told_at = view.head(), view.local(far.now)
    proving.lodge(far.store, far.clock, manager, head, "mail", "broker")
    record.put_things(far.store, far.clock, manager, ("site_rules", replace(SITE, quarantine_alarm_days=9)))
    (line,) = proving.lodgings(far.store, far.clock).lines
    assert show_moment(line.done_at) == show_moment(told_at)
    with far.store.view() as view:
        (change,) = history_changes.setting_changes(view, (), lambda _at: True)
        assert show_moment(change.value("at")) == show_moment(told_at)
    (loosened,) = (one for one in overview.overview(far.store, far.clock).sections if one.name == "loosened")
    assert loosened.lines[0].text.value("on_date") == DAY
    newest = setting_up.form_page(far.store, "site_rules", "SITE").versions[0]
    assert show_moment(newest.entered_at) == show_moment(told_at)


def test_a_meter_found_out_is_told_on_the_depots_day(far: Kestrel) -> None:
    far.check("P-1002", "41.60", vehicle="EB-12")
    meters.mark_found_out(far.store, far.clock, far.author(), "M-01", "fell off the bench")
    page = summary.pack_summary(far.store, far.clock, "P-1002")
    doubt = page.checks[0].doubt
    assert doubt is not None and doubt.value("found_date") == DAY
