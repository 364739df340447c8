"""Trips: windows at their edges, the cross-reading, and when a reset is allowed.

The counts are this program's proposal; that two packs in one vehicle point to the vehicle is common
practice, no source.
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import trips
from fleetcare.domain.checks import HoldClass, TripCause
from fleetcare.domain.packs import Level, SiteRules
from fleetcare.domain.trips import ResetFacts, TripSeen
from fleetcare.domain.wording import say

SITE = SiteRules()
TODAY = dt.date(2026, 11, 2)
NOON = dt.datetime(2026, 11, 2, 12, tzinfo=dt.UTC)
FACTS = ResetFacts(Level.MAY_RELEASE, "Press the button.", False, None, None, Decimal("30.0"))


def trip(days_ago: int = 0, pack: str = "P-1", vehicle: str | None = "EB-1", *, explained: bool = True,
         cause: TripCause = TripCause.OVER_CURRENT, hour: int = 12, charger: str = "") -> TripSeen:  # fmt: skip
    at = (NOON - dt.timedelta(days=days_ago)).replace(hour=hour)
    return TripSeen(f"{pack}{days_ago}{hour}{vehicle}", pack, vehicle, at, cause, explained, "DUNN", charger)


@given(st.integers(0, 40), st.integers(0, 23), st.integers(0, 23))
def test_a_window_counts_both_its_ends_whatever_the_hour(days_ago: int, hour: int, other: int) -> None:
    found = trips.within([trip(days_ago, hour=hour)], TODAY, 30)
    assert bool(found) is (days_ago <= 30)
    newest = trip(0, explained=False, hour=other)
    ruling = trips.pack_ruling(newest, [trip(days_ago, explained=False, hour=hour), newest], SITE)
    if days_ago > 0:
        assert (ruling is not None) is (days_ago <= 30)


def test_a_trip_entered_late_counts_in_the_windows_of_those_that_came_after() -> None:
    late, later = trip(20, explained=False), trip(3, explained=False)
    assert trips.pack_ruling(late, [late, later], SITE) is not None
    assert trips.pack_ruling(late, [late, replace(later, pack="P-2")], SITE) is None


@pytest.mark.parametrize(("ago", "held"), [((0, 10, 30), True), ((0, 10, 31), False), ((0, 10), False)])
def test_three_trips_of_any_kind_hold_the_pack_and_two_explained_ones_do_not(ago: tuple[int, ...], held: bool) -> None:
    all_trips = [trip(days) for days in ago]
    assert (trips.pack_ruling(all_trips[0], all_trips, SITE) is not None) is held


def test_two_packs_in_one_vehicle_ground_the_vehicle_and_blame_no_pack() -> None:
    first, second = trip(30, "P-1"), trip(0, "P-2")
    rulings = trips.shared_rulings(second, [first, second], SITE)
    assert rulings.keys() == {"vehicle"} and rulings["vehicle"].hold_class is HoldClass.FAULT
    assert trips.pack_ruling(second, [first, second], SITE) is None
    assert (
        trips.shared_rulings(second, [replace(first, done_at=first.done_at - dt.timedelta(days=1)), second], SITE) == {}
    )
    assert "2 packs (P-1, P-2) tripped in EB-1 in 30 days" in say(rulings["vehicle"].reason)


def test_the_same_pack_twice_in_one_vehicle_grounds_nothing() -> None:
    assert trips.shared_rulings(trip(0), [trip(5), trip(0)], SITE) == {}


def test_one_pack_in_two_vehicles_reads_as_a_pack_fault_and_grounds_no_vehicle() -> None:
    both = [trip(5, vehicle="EB-1"), trip(0, vehicle="EB-2")]
    assert trips.shared_rulings(both[1], both, SITE) == {}
    held = trips.pack_ruling(both[1], both, SITE)
    assert held is not None and held.hold_class is HoldClass.FAULT and "likely fault" in say(held.reason)
    assert trips.pack_ruling(both[1], [trip(31, vehicle="EB-1"), both[1]], SITE) is None, "outside the window"
    first = trips.tallies(both, TODAY, SITE)[0]
    assert (first.subject_class, first.subject, first.partners) == ("pack", "P-1", ("EB-1", "EB-2"))
    assert first.reading is not None and "the pack is the likely fault" in say(first.reading)


def test_a_charger_is_held_only_when_packs_behind_it_tripped_while_charging() -> None:
    on_charge = [trip(2, "P-1", None, cause=TripCause.OVER_VOLTAGE_CHARGE, charger="C-1"),
                 trip(0, "P-2", None, cause=TripCause.OVER_VOLTAGE_CHARGE, charger="C-1")]  # fmt: skip
    assert trips.shared_rulings(on_charge[1], on_charge, SITE).keys() == {"charger"}
    riding = [replace(t, cause=TripCause.OVER_CURRENT) for t in on_charge]
    assert trips.shared_rulings(riding[1], riding, SITE) == {}
    assert trips.tally("charger", "C-1", riding, TODAY, SITE).reading is not None


def allowed(*known: TripSeen, facts: ResetFacts = FACTS) -> trips.Allowance:
    return trips.allowance("P-1", known, facts, SITE, TODAY)


@pytest.mark.parametrize(("known", "facts", "words"), [
    ((), FACTS, "no trip of P-1 is on record in the last 30 days"),
    ((trip(31),), FACTS, "no trip of P-1"),
    ((trip(explained=False),), FACTS, "nobody has explained"),
    ((trip(), trip(10), trip(30)), FACTS, "3 trips in 30 days (3 Oct 2026, 23 Oct 2026, 2 Nov 2026); 3 of any kind"),
    ((trip(explained=False), trip(30, explained=False)), FACTS, "2 unexplained trips in 30 days"),
    ((trip(cause=TripCause.SHORT_CIRCUIT),), FACTS, "counts as a short circuit"),
    ((trip(cause=TripCause.MOISTURE),), FACTS, "After heat or water"),
    ((trip(cause=TripCause.OVER_TEMPERATURE),), FACTS, "After heat or water"),
    ((trip(),), replace(FACTS, danger=True), "no override"),
    ((trip(),), replace(FACTS, level=Level.MAY_CHECK), "may reset and release"),
    ((trip(),), replace(FACTS, method=" "), "reset method for the model of P-1 is not on record"),
    ((replace(trip(), reset=True),), FACTS, "already reset"),
    ((trip(cause=TripCause.UNDER_VOLTAGE),), FACTS, "needs a rested reading since the trip"),
    ((trip(cause=TripCause.UNDER_VOLTAGE),), replace(FACTS, rested_v=Decimal("29.9"), rested_at=NOON), "below the hold limit of 30.0"),
    ((trip(cause=TripCause.OVER_VOLTAGE_CHARGE), trip(4, cause=TripCause.OVER_VOLTAGE_CHARGE)), FACTS, "stopped charging"),
])  # fmt: skip
def test_a_reset_is_refused_with_the_rule_and_the_number(
    known: tuple[TripSeen, ...], facts: ResetFacts, words: str
) -> None:
    answer = allowed(*known, facts=facts)
    assert not answer.allowed and words in say(answer.statement)


def test_an_explained_trip_may_be_reset_once_and_the_hold_limit_itself_suffices() -> None:
    first = allowed(trip())
    assert first.allowed and "Trips in 30 days: 1 of 3 (2 Nov 2026)" in say(first.statement)
    low = trip(cause=TripCause.UNDER_VOLTAGE)
    assert allowed(low, facts=replace(FACTS, rested_v=Decimal("30.00"), rested_at=NOON)).allowed
    found = replace(trip(cause=TripCause.SHORT_CIRCUIT), found_outside="lead pinched under rack")
    assert allowed(found).allowed


MENDED = replace(trip(), mended="ramp is no longer used; belt re-tensioned")


def test_a_second_explained_trip_is_reset_only_with_what_was_mended_and_the_count_is_shown() -> None:
    for days_ago in (1, 17, 30):
        waits = allowed(trip(), trip(days_ago))
        assert not waits.allowed and "2 of 3" in say(waits.statement) and "what was mended" in say(waits.statement)
        again = allowed(MENDED, trip(days_ago))
        assert again.allowed and "2 of 3" in say(again.statement) and "loaded reading" in say(again.statement)
    assert allowed(trip(), trip(31)).allowed, "outside the window it is a first trip again"
    assert allowed(MENDED, trip(10), trip(30)).statement.key == "reset.any_count", "the third of any kind pulls it"


def test_a_second_trip_is_not_reset_while_the_first_is_unexplained() -> None:
    waits = allowed(MENDED, trip(30, explained=False))
    assert not waits.allowed and "3 Oct 2026 is not explained either" in say(waits.statement)
    assert allowed(MENDED, trip(31, explained=False)).allowed


def test_a_charge_that_stopped_twice_is_refused_whatever_was_mended() -> None:
    """Over-voltage on charge: reset once; a repeat is imbalance or the charger (common practice, no source)."""
    once = trip(cause=TripCause.OVER_VOLTAGE_CHARGE)
    assert allowed(once).allowed
    twice = allowed(replace(once, mended="other charger"), trip(30, cause=TripCause.OVER_VOLTAGE_CHARGE))
    assert not twice.allowed and "balance and charger" in say(twice.statement)
    mixed = allowed(replace(once, mended="charger measured, replaced"), trip(30))
    assert mixed.allowed and "2 of 3" in say(mixed.statement)
