"""Due days and states at their edges: grey never rounds to green, the safer state wins."""

import datetime as dt
import inspect
from dataclasses import fields
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import recalls, status
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.due import due_after
from fleetcare.domain.packs import SiteRules, Vehicle, VehicleKind
from fleetcare.domain.status import BoardState, OpenHold, PackFacts, PackState, PackStatus, pack_status, vehicle_status
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg, say, show_date, show_since

NOW = dt.datetime(2026, 11, 2, 6, 30, tzinfo=dt.UTC)
SITE = SiteRules()


def pack(days_ago: int | None, *, level: VerdictLevel = VerdictLevel.PASS, hold: HoldClass | None = None) -> PackStatus:
    last = None if days_ago is None else NOW - dt.timedelta(days=days_ago)
    holds = () if hold is None else (OpenHold("h", hold, msg("hold.by_person"), NOW),)
    return pack_status(PackFacts("P-1", True, last, None if last is None else level, holds), SITE, NOW)


def vehicle(bays: int = 1, needs: int = 1) -> Vehicle:
    return Vehicle("V-1", VehicleKind.CARGO_BIKE, "KW", 48, "K4", bays, needs)


def test_a_hold_by_an_earlier_reading_says_when_that_was_read() -> None:
    def told(days_ago: int, reason: Message) -> str:
        hold = OpenHold("h", HoldClass.FAULT, reason, NOW - dt.timedelta(days=days_ago))
        return say(pack_status(PackFacts("P-1", True, NOW, VerdictLevel.PULL, (hold,)), SITE, NOW).reasons[0].text)

    pulled = msg("ohm.pull", resistance_ohm=Decimal("0.2675"), pull_ohm=Decimal("0.2112"))
    plain = "Loaded resistance 0.2675 Ω: above the pull limit of 0.2112 Ω."
    assert told(111, pulled) == f"{plain} Read on 14 Jul 2026."
    assert told(0, pulled) == plain
    assert told(111, msg("hold.by_person")) == "held by hand"


def test_a_check_is_due_on_the_seventh_day_and_the_next_is_a_week_on() -> None:
    assert due_after(dt.date(2026, 11, 2), SITE).due_on == dt.date(2026, 11, 9)


@pytest.mark.parametrize(("days", "state", "usable"), [
    (0, PackState.READY, True), (6, PackState.READY, True), (7, PackState.DUE, True), (9, PackState.DUE, True),
    (14, PackState.DUE, True), (15, PackState.OVERDUE, False), (None, PackState.NEVER_CHECKED, False),
])  # fmt: skip
def test_a_pack_is_due_from_day_seven_and_may_not_go_out_once_day_fourteen_has_passed(
    days: int | None, state: PackState, usable: bool
) -> None:
    assert (pack(days).state, pack(days).usable) == (state, usable)


def test_a_reading_too_near_to_call_leaves_the_pack_usable_but_due_at_once() -> None:
    found = pack(0, level=VerdictLevel.TOO_NEAR)
    assert found.usable and found.state is PackState.DUE


@pytest.mark.parametrize(("packs", "bays", "holds", "state"), [
    ([0], 1, (), BoardState.READY),
    ([9], 1, (), BoardState.READY_BUT_DUE),
    ([0, 15], 2, (), BoardState.LIMITED),
    ([15, 15], 2, (), BoardState.GROUNDED),
    ([0], 2, (), BoardState.LIMITED),
    ([], 1, (), BoardState.GROUNDED),
    ([None], 1, (), BoardState.GROUNDED),
    ([0], 1, (OpenHold("h", HoldClass.FAULT, msg("ground.by_person"), NOW),), BoardState.GROUNDED),
])  # fmt: skip
def test_the_state_of_a_vehicle(
    packs: list[int | None], bays: int, holds: tuple[OpenHold, ...], state: BoardState
) -> None:
    found = vehicle_status(vehicle(bays), [pack(days) for days in packs], holds)
    assert found.state is state
    assert (state is BoardState.READY) == (not found.reasons)


def test_a_quarantined_pack_grounds_its_vehicle_even_where_another_pack_would_do() -> None:
    found = vehicle_status(vehicle(2), [pack(0), pack(0, hold=HoldClass.DANGER)], ())
    assert found.state is BoardState.GROUNDED and found.reasons[0].hold_class is HoldClass.DANGER


def test_a_quarantined_pack_owes_no_check_nor_does_the_vehicle_that_it_stands_in() -> None:
    found = pack(3, hold=HoldClass.DANGER)
    assert found.state is PackState.QUARANTINED and found.check_on is None
    assert vehicle_status(vehicle(), [found], ()).due_on is None
    for days in (None, 9, 15, 60):
        (reason,) = pack(days, hold=HoldClass.DANGER).reasons
        assert reason.hold_class is HoldClass.DANGER, (
            "nothing asks for a check of what is only looked at from a distance"
        )
    recalled = OpenHold("h", HoldClass.DANGER, msg(recalls.HELD, number="N"), NOW)
    facts = PackFacts("P-1", True, NOW - dt.timedelta(days=60), VerdictLevel.PASS, (recalled,))
    held = pack_status(facts, SITE, NOW)
    assert held.state is PackState.HELD and held.check_on is None and len(held.reasons) == 1
    assert pack(3, hold=HoldClass.FAULT).check_on is not None


_DAYS = st.one_of(st.none(), st.integers(0, 40))
_HOLDS = st.one_of(st.none(), st.sampled_from(list(HoldClass)))


@given(_DAYS, _HOLDS, st.sampled_from(list(VerdictLevel)))
def test_a_held_pack_is_never_usable_and_every_state_but_ready_says_why(
    days: int | None, hold: HoldClass | None, level: VerdictLevel
) -> None:
    found = pack(days, level=level, hold=hold)
    assert not (hold and found.usable)
    assert (found.state is PackState.READY) == (not found.reasons)


@given(st.lists(st.tuples(_DAYS, _HOLDS), max_size=2), st.integers(1, 2))
def test_adding_a_hold_never_makes_a_vehicle_more_available(
    parts: list[tuple[int | None, HoldClass | None]], bays: int
) -> None:
    order = [BoardState.READY, BoardState.READY_BUT_DUE, BoardState.LIMITED, BoardState.GROUNDED]
    free = vehicle_status(vehicle(bays), [pack(days) for days, _ in parts], ())
    held = vehicle_status(vehicle(bays), [pack(days, hold=hold) for days, hold in parts], ())
    assert order.index(held.state) >= order.index(free.state)


def test_packs_are_taken_together_only_by_everything_the_rule_reads() -> None:
    read = inspect.getsource(status.alike)
    assert [f.name for f in fields(status.PackFacts) if f.name != "code" and f"facts.{f.name}" not in read] == []


@pytest.mark.parametrize(("days", "since"), [(7, 2), (9, 31), (14, 26), (15, 2), (20, 28)])
def test_a_check_is_due_since_its_day_and_overdue_since_the_day_after_its_last_good_one(days: int, since: int) -> None:
    (reason,) = pack(days).reasons
    assert reason.since is not None and reason.since.time() == dt.time() and reason.since.day == since
    assert show_since(reason.since, year=True) == show_date(reason.since.date())


def test_midnight_is_that_of_the_depot_also_after_the_clocks_went_back() -> None:
    zone = ZoneInfo("America/New_York")  # back to UTC-5 on 1 Nov 2026 (IANA tz database)
    now = dt.datetime(2026, 11, 2, 6, 30, tzinfo=zone)
    facts = PackFacts("P-1", True, dt.datetime(2026, 10, 24, 8, 0, tzinfo=zone), VerdictLevel.PASS, ())
    (reason,) = pack_status(facts, SITE, now).reasons
    assert reason.since == dt.datetime(2026, 10, 31, 4, 0, tzinfo=dt.UTC) and f"{reason.since:%H:%M}" == "00:00"
