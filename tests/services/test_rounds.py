"""The round: worst first, under everybody's hours, and plain about what cannot be kept."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.packs import Depot, Pack, Roster
from fleetcare.domain.wording import msg, say
from fleetcare.services import absences, charging, inspecting, record, round_changes, rounds
from fleetcare.services import facts as read
from fleetcare.services.pace import CHECK_MINUTES, LEAST_GAPS
from fleetcare.services.rounds import Round
from tests.kestrel import MONDAY, Kestrel, build_morning

TODAY = MONDAY.date()


def day(number: int) -> dt.date:
    return TODAY + dt.timedelta(days=number)


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def round_of(kestrel: Kestrel, **asked: object) -> Round:
    return rounds.round_of(kestrel.store, kestrel.clock, **asked)  # type: ignore[arg-type]


def hours(kestrel: Kestrel, **minutes: int | tuple[int, ...]) -> None:
    """Everybody's hours: so many minutes on each weekday; who is not named has none."""
    things = []
    for code in ("DUNN", "PIKE", "FARROW"):
        own = minutes.get(code, 0)
        week = (own,) * 5 + (0, 0) if isinstance(own, int) else own
        things.append(("roster", Roster(code, "KW", week)))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *things)


def planned(found: Round) -> dict[str, dt.date | None]:
    return {one.item.subject: one.day for one in (*found.today, *found.ahead)}


def test_todays_list_is_worst_first_and_nobody_gets_more_than_their_minutes(morning: Kestrel) -> None:
    hours(morning, DUNN=10, PIKE=8)
    found = round_of(morning)
    assert [one.item.subject for one in found.today][:2] == ["P-1008", "P-1023"]
    used: Counter[tuple[str, dt.date]] = Counter()
    for one in (*found.today, *found.ahead):
        assert one.day is not None
        used[one.person, one.day] += one.item.minutes
    room = {(one.person, one.day): one.room for one in found.hours}
    assert used and all(minutes <= room[key] for key, minutes in used.items())
    assert {(one.person, one.day): one.used for one in found.hours if one.used} == dict(used)


def test_what_cannot_be_kept_is_said_with_the_count_the_day_and_the_hours(kestrel: Kestrel) -> None:
    hours(kestrel, DUNN=(0, 0, 20, 20, 22, 0, 0))
    found = round_of(kestrel)
    (short,) = found.short
    assert (short.by, short.minutes, len(short.items)) == (day(4), 62, 7)
    told = say(short.told)
    assert told.startswith("7 checks cannot be done by 6 Nov 2026 with 1 h 02: ")
    assert all(one.item.subject in told for one in short.items)
    hours(kestrel, DUNN=(0, 0, 20, 20, 40, 0, 0))
    assert round_of(kestrel).short == ()


def test_a_weekend_or_holiday_is_planned_around(kestrel: Kestrel) -> None:
    for number in range(4):
        kestrel.check(f"P-100{number + 1}", "41.60", at=MONDAY + dt.timedelta(days=number))
    kestrel.now = MONDAY + dt.timedelta(days=3)
    kestrel.check("P-1009", "41.60", at=MONDAY)
    record.put_things(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"),
        ("depot", Depot("KW", "Kestrel Wharf", country="GB", subdivision="ENG")),
    )  # fmt: skip
    christmas = dt.datetime(2026, 12, 22, 7, 0, tzinfo=dt.UTC)
    for code in ("P-1001", "P-1002"):
        kestrel.check(code, "41.60", at=dt.datetime(2026, 12, 18, 7, 0, tzinfo=dt.UTC))
    kestrel.now = christmas
    found = round_of(kestrel)
    # The 25th is Christmas Day and the 28th the substitute for Boxing Day: both are due on the 25th.
    assert dt.date(2026, 12, 25) not in found.days and dt.date(2026, 12, 28) not in found.days
    assert planned(found)["P-1001"] == dt.date(2026, 12, 24)
    assert "GB" in say(found.calendar) and "25 Dec 2026 (Christmas Day), 28 Dec 2026 (Boxing Day" in say(found.calendar)


def test_without_a_country_or_hours_both_are_said(kestrel: Kestrel) -> None:
    found = round_of(kestrel)
    told = " ".join(say(one) for one in rounds.told(found))
    assert "public holidays are not known" in told and "240 minutes on working days are assumed" in told
    assert "common practice, no source" in told


def test_a_vehicle_on_hire_tells_its_own_packs_first_and_counts_who_makes_room(kestrel: Kestrel) -> None:
    hours(kestrel, DUNN=40, PIKE=40)
    then = round_of(kestrel)
    away = Away("CB-01", day(2), day(11), kestrel.now, "on hire")
    absences.record_away(kestrel.store, kestrel.clock, kestrel.author("PIKE"), away)
    moved = round_changes.changes(then, round_of(kestrel))
    told = [say(one) for one in round_changes.told(moved, "CB-01")]
    assert [line.split(" ", 1)[0] for line in told] == ["P-1301", "P-1302", "P-1022", "P-1023"], (
        "its own, then the later"
    )
    sooner = tuple(replace(one, before=one.after) for one in moved)
    told = [say(one) for one in round_changes.told(sooner, "CB-01")]
    assert [line.split(" ", 1)[0] for line in told[:2]] == ["P-1301", "P-1302"]
    assert told[2:] == ["2 others come sooner or change hands, as the days ahead show."]


def test_a_mechanic_off_sick_moves_the_round_and_the_change_is_shown(kestrel: Kestrel) -> None:
    hours(kestrel, DUNN=40, PIKE=40)
    with kestrel.store.view() as view:
        before = view.position
    then = round_of(kestrel)
    absence = Absence("DUNN", "", day(2), day(4), kestrel.now, "off sick")
    absences.record_absence(kestrel.store, kestrel.clock, kestrel.author("PIKE"), absence)
    after = round_of(kestrel)
    assert round_of(kestrel, position=before) == then
    off = [one for one in after.hours if one.person == "DUNN" and one.day in (day(2), day(3), day(4))]
    assert [one.room for one in off] == [0, 0, 0] and "off sick" in say(off[0].why)  # type: ignore[arg-type]
    moved = round_changes.changes(then, after)
    assert moved and all(one.told for one in moved)
    assert any("now Pike" in say(one.told) or ", Pike" in say(one.told) for one in moved)
    withdrawn = Absence("DUNN", "", day(2), day(4), kestrel.now, "off sick", withdrawn=True)
    absences.record_absence(kestrel.store, kestrel.clock, kestrel.author("PIKE"), withdrawn)
    assert planned(round_of(kestrel)) == planned(then)


def test_a_day_lost_at_a_depot_is_no_working_day(kestrel: Kestrel) -> None:
    lost = Absence("", "KW", day(4), day(4), kestrel.now, "flood")
    noted = absences.record_absence(kestrel.store, kestrel.clock, kestrel.author("HALE"), lost)
    assert say(noted.message) == "Kestrel Wharf: no checks on 6 Nov 2026."
    found = round_of(kestrel)
    assert day(4) not in found.days and set(planned(found).values()) <= {day(1), day(2), day(3)}
    assert say(found.calendar).endswith("days off ahead: 6 Nov 2026 (flood)")


def test_what_finds_a_day_at_last_is_said_so(kestrel: Kestrel) -> None:
    hours(kestrel, DUNN=(0, 0, 0, 0, 5, 0, 0))
    then = round_of(kestrel)
    hours(kestrel, DUNN=(0, 0, 0, 0, 240, 0, 0))
    moved = [say(one.told) for one in round_changes.changes(then, round_of(kestrel))]
    assert any(one.endswith(": had no day, now 6 Nov 2026, Dunn") for one in moved)
    assert not any("not known" in one for one in moved)


def test_a_vehicle_on_hire_is_checked_before_it_goes_or_named_as_out_of_reach(kestrel: Kestrel) -> None:
    for vehicle, first, back in (("EB-12", 0, 8), ("EB-13", 4, 8)):
        away = Away(vehicle, day(first), day(back), kestrel.now, "on hire")
        absences.record_away(kestrel.store, kestrel.clock, kestrel.author("HALE"), away)
    found = round_of(kestrel)
    assert [one.item.subject for one in found.away] == ["P-1002"]
    assert "EB-12 is away (on hire), back on 10 Nov 2026" in say(found.away[0].notes[0])
    assert found.away[0].day == day(8)
    assert planned(found)["P-1003"] in (day(1), day(2), day(3))


@pytest.mark.parametrize(("first", "back"), [(1, 4), (2, 4), (1, 3), (1, 5)])
def test_nothing_is_planned_for_a_day_on_which_its_vehicle_is_on_hire(kestrel: Kestrel, first: int, back: int) -> None:
    """All packs fall due on 6 Nov, day 4, and are checked up to three days earlier: some of those days it is away."""
    hours(kestrel, DUNN=24)
    away = Away("CB-01", day(first), day(back), kestrel.now, "on hire")
    then = round_of(kestrel)
    absences.record_away(kestrel.store, kestrel.clock, kestrel.author("HALE"), away)
    found = round_of(kestrel)
    gone = [day(n) for n in range(first, back)]
    mine = [one for one in (*found.today, *found.ahead) if one.item.vehicle == "CB-01"]
    assert {one.item.subject for one in mine} == {"P-1301", "P-1302"}
    assert all(one.day is not None and one.day not in gone for one in mine)
    if back <= 4:
        assert all(day(back) <= one.day for one in mine), "it is back by then"  # type: ignore[operator]
        assert all("CB-01 is away (on hire)" in say(one.notes[0]) for one in mine)
    assert [one.told for one in round_changes.changes(then, found)] or planned(then) == planned(found)


def test_what_is_long_overdue_is_done_before_its_vehicle_goes_on_hire(kestrel: Kestrel) -> None:
    kestrel.now += dt.timedelta(days=400)
    then = round_of(kestrel)
    yearly = {one.item.subject: one.day for one in (*then.today, *then.ahead) if one.item.kind is Kind.YEARLY}
    vehicle, planned_for = max(yearly.items(), key=lambda one: one[1])  # type: ignore[arg-type,return-value]
    assert planned_for is not None and then.days[0] < planned_for
    away = Away(vehicle, planned_for, planned_for + dt.timedelta(days=30), kestrel.now, "on hire")
    absences.record_away(kestrel.store, kestrel.clock, kestrel.author("HALE"), away)
    found = round_of(kestrel)
    days = [one.day for one in (*found.today, *found.ahead) if one.item.key == f"yearly:{vehicle}"]
    assert len(days) == 1 and days[0] is not None and days[0] < planned_for


def test_what_is_late_and_then_on_hire_is_named_and_has_no_day(kestrel: Kestrel) -> None:
    hours(kestrel, DUNN=(0, 0, 0, 0, 5, 0, 0))
    for vehicle in ("CB-01", "EB-12"):
        away = Away(vehicle, day(3), day(9), kestrel.now, "on hire")
        absences.record_away(kestrel.store, kestrel.clock, kestrel.author("HALE"), away)
    found = round_of(kestrel)
    left = {one.item.subject: one for short in found.short for one in short.items}
    for pack in ("P-1301", "P-1302", "P-1002"):
        assert left[pack].day is None or left[pack].day >= day(9)
    assert all(one.day is not None for one in (*found.today, *found.ahead))


def test_who_may_note_an_absence_and_what_it_needs(kestrel: Kestrel) -> None:
    store, clock = kestrel.store, kestrel.clock
    own = Absence("FARROW", "", day(1), day(1), kestrel.now, "dentist")
    absences.record_absence(store, clock, kestrel.author("FARROW"), own)
    with pytest.raises(NotAllowed, match="only their own"):
        absences.record_absence(
            store, clock, kestrel.author("FARROW"), Absence("DUNN", "", day(1), day(1), kestrel.now, "x")
        )
    with pytest.raises(EntryRefused, match="Say why"):
        absences.record_absence(
            store, clock, kestrel.author("HALE"), Absence("DUNN", "", day(1), day(1), kestrel.now, " ")
        )
    with pytest.raises(EntryRefused, match="lies before"):
        Absence("DUNN", "", day(1), day(0), kestrel.now, "x")
    with pytest.raises(EntryRefused, match="Nothing is recorded"):
        absences.record_absence(
            store, clock, kestrel.author("HALE"), Absence("DUNN", "", day(9), day(9), kestrel.now, "", withdrawn=True)
        )


def test_a_pack_on_charge_waits_until_it_is_finished_and_rested(kestrel: Kestrel) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=4)
    charged = ChargedOn("P-1002", "C-36-2", kestrel.now + dt.timedelta(hours=0))
    charging.record_charge(kestrel.store, kestrel.clock, kestrel.author(), charged)
    kestrel.now += dt.timedelta(hours=2)
    found = round_of(kestrel)
    (line,) = [one for one in found.today if one.item.subject == "P-1002"]
    assert "charging or resting until 6 Nov 2026 13:30" in "; ".join(say(note) for note in line.notes)
    late = kestrel.now.replace(hour=20)
    kestrel.now = late
    evening = ChargedOn("P-1003", "C-36-2", late)
    charging.record_charge(kestrel.store, kestrel.clock, kestrel.author(), evening)
    assert planned(round_of(kestrel))["P-1003"] == day(7)


def test_the_round_leaves_spares_on_the_rack(kestrel: Kestrel) -> None:
    for number in range(11, 15):
        kestrel.check(f"P-10{number}", "41.60", at=MONDAY - dt.timedelta(days=6))
    kestrel.now = MONDAY + dt.timedelta(days=2)
    found = round_of(kestrel)
    days = Counter(planned(found)[f"P-10{number}"] for number in range(11, 15))
    assert days == {day(4): 3, day(3): 1}
    sooner = [one for one in found.ahead if any(n.key == "round.rack" for n in one.notes)]
    assert {one.item.subject for one in sooner} == {"P-1014", "P-1318"}
    assert "so that 1 of its kind stay free" in say(sooner[0].notes[0])


def test_the_pace_is_the_depots_own_once_there_are_enough_times(kestrel: Kestrel) -> None:
    first = dt.datetime(2026, 11, 3, 8, 0, tzinfo=dt.UTC)
    assert "common practice" in say(round_of(kestrel).pace)
    for number in range(LEAST_GAPS + 6):
        at = first + dt.timedelta(seconds=190 * number)
        kestrel.now = at
        kestrel.check(f"P-10{number % 10 + 1:02d}", "41.60", loaded="40.60", at=at)
    for number in range(40):
        kestrel.now = first + dt.timedelta(hours=6, seconds=190 * number)
        kestrel.check(f"P-13{number % 16 + 1:02d}", "54.20", loaded="53.20", at=kestrel.now)
    found = round_of(kestrel)
    assert "4 minutes a check: the middle of " in say(found.pace)
    assert {one.item.minutes for one in found.ahead if one.item.kind.value == "check"} == {4}
    assert CHECK_MINUTES == 5


def test_walked_from_bay_to_bay_when_asked(kestrel: Kestrel) -> None:
    things = [("pack", Pack(f"P-19{n:02d}", "K36-A", f"x{n}", shelf=f"Rack {n}")) for n in (10, 2, 1)]
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *things)
    walked = [one.item.place for one in round_of(kestrel, by_bay=True).today if one.item.subject.startswith("P-19")]
    assert walked == ["Rack 1", "Rack 2", "Rack 10"]


def test_a_persons_part_is_a_part_of_the_whole(kestrel: Kestrel) -> None:
    kestrel.now += dt.timedelta(days=4)
    whole = round_of(kestrel)
    parts: dict[str, set[str]] = defaultdict(set)
    for code in ("DUNN", "PIKE", "FARROW"):
        parts[code] = {one.item.key for one in round_of(kestrel, person=code).today}
    assert set.union(*parts.values()) == {one.item.key for one in whole.today}
    assert sum(map(len, parts.values())) == len(whole.today)


def test_planning_again_gives_the_same_round(morning: Kestrel) -> None:
    assert round_of(morning) == round_of(morning)
    assert rounds.rounds_of_all(morning.store, morning.clock) == (round_of(morning),)


def test_adding_hours_keeps_more(morning: Kestrel) -> None:
    morning.now = MONDAY + dt.timedelta(days=2)
    left = []
    for minutes in (5, 10, 20, 40, 80):
        hours(morning, DUNN=minutes)
        left.append(sum(len(one.items) for one in round_of(morning).short))
    assert left == sorted(left, reverse=True) and left[-1] == 0 < left[0]


def test_the_shift_ends_with_what_was_checked_pulled_and_left_open(morning: Kestrel) -> None:
    morning.now = MONDAY.replace(hour=15)
    morning.check("P-1008", "41.50", vehicle="EB-18")
    morning.check("P-1002", "38.00", vehicle="EB-12")
    found = inspecting.shift_end(morning.store, morning.clock, "DUNN", round_of(morning))
    assert (found.checked, found.pulled) == (2, 1)
    whole = inspecting.shift_end(morning.store, morning.clock, "", round_of(morning))
    assert say(whole.told) == "2 checked, 1 pulled, 1 left open; 1 entry typed and not saved"


def test_whatever_takes_a_pack_out_of_service_that_day_counts_as_pulled(morning: Kestrel) -> None:
    """A quarantine needs no check and a hold by hand no reading; a brake fault holds no pack."""
    morning.now = MONDAY.replace(hour=15)
    smell = LookOver("P-1003", morning.now, "EB-13", (LookItem.SMELL,))
    record.record_look_over(morning.store, morning.clock, morning.author(), smell)
    found = inspecting.shift_end(morning.store, morning.clock, "DUNN", round_of(morning))
    assert (found.checked, found.pulled, found.quarantined) == (0, 1, 1)
    assert say(found.told).startswith("0 checked, 1 pulled (1 of them quarantined), ")
    by_hand = Hold("pack", "P-1005", HoldClass.FAULT, morning.now, msg("hold.by_person"), "rattles")
    record.set_hold(morning.store, morning.clock, morning.author(), by_hand)
    brake = Hold("vehicle", "EB-11", HoldClass.FAULT, morning.now, msg("ground.by_person"), "brake")
    record.set_hold(morning.store, morning.clock, morning.author(), brake)
    morning.check("P-1002", "38.00", vehicle="EB-12")
    morning.check("P-1002", "37.00", vehicle="EB-12", at=morning.now + dt.timedelta(minutes=1))
    morning.now += dt.timedelta(minutes=2)
    found = inspecting.shift_end(morning.store, morning.clock, "DUNN", round_of(morning))
    assert (found.checked, found.pulled, found.quarantined) == (1, 3, 1)
    other = inspecting.shift_end(morning.store, morning.clock, "PIKE", round_of(morning))
    assert (other.pulled, other.quarantined) == (0, 0) and "quarantined" not in say(other.told)


def test_an_old_fleets_first_yearly_inspections_are_caught_up_over_the_days_ahead(kestrel: Kestrel) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=400)
    found = round_of(kestrel)
    slow = [one for one in (*found.today, *found.ahead) if one.item.kind.value in ("yearly", "charger_test")]
    assert len(slow) == 34
    days = Counter(one.day for one in slow)
    assert set(days) == set(found.days) and max(days.values()) <= 4
    assert "one of 34 that are caught up over the next 10 working days" in say(slow[0].notes[0])
    assert found.short == ()


def test_what_was_due_before_is_counted_before_it_is_said_that_all_can_be_done(kestrel: Kestrel) -> None:
    hours(kestrel, DUNN=240, PIKE=240)
    kestrel.now += dt.timedelta(days=12)
    found = round_of(kestrel)
    assert found.day is not None and not rounds.cannot(found)
    late = [one for one in (*found.today, *found.ahead) if one.item.due_on < found.day]
    (first, *_) = rounds.told(found)
    assert late and say(first).startswith(f"Overdue: {len(late)}")
    assert "What falls due on the next" in say(first)


def test_what_is_due_but_held_is_named_as_in_no_round(morning: Kestrel) -> None:
    hours(morning, DUNN=240, PIKE=240)
    hold = Hold("pack", "P-1002", HoldClass.FAULT, morning.now, msg("ground.by_person"), "cracked latch")
    record.set_hold(morning.store, morning.clock, morning.author(), hold)
    found = round_of(morning)
    assert "P-1002" not in planned(found)
    with morning.store.view() as view:
        held = rounds.held_back(read.read_facts(view), found.depot, found.days[-1], morning.now)
    assert "P-1002" in held
    assert any("held and so in no round" in say(one) and "P-1002" in say(one) for one in rounds.told(found))
