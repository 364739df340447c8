"""Trips at the edges of the window, against a count made the slow way.  The counts are proposals of this program."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.checks import TripCause
from fleetcare.domain.packs import Level, SiteRules
from fleetcare.domain.trips import ResetFacts, TripSeen, allowance, shared_rulings, tally

SITE = SiteRules()
NOW = dt.datetime(2026, 11, 2, 12, 0, tzinfo=dt.UTC)
MOMENTS = st.builds(
    lambda days, hour: (NOW - dt.timedelta(days=days)).replace(hour=hour), st.integers(0, 62), st.integers(0, 23)
)
TRIPS = st.lists(
    st.builds(
        lambda n, pack, vehicle, at, explained, mended: TripSeen(
            f"{n:032d}", pack, vehicle, at, TripCause.OVER_CURRENT, explained, "DUNN", "C-1" if explained else "",
            mended=mended,
        ),
        st.integers(0, 10**9), st.sampled_from(["P-1", "P-2", "P-3"]), st.sampled_from(["EB-1", "EB-2", None]), MOMENTS,
        st.booleans(), st.sampled_from(["", "belt re-tensioned"]),
    ),
    min_size=1, max_size=7, unique_by=lambda t: t.record_id,
)  # fmt: skip


def days_apart(a: TripSeen, b: TripSeen) -> int:
    return abs((a.day - b.day).days)


@given(TRIPS)
def test_a_vehicle_is_grounded_exactly_when_another_pack_tripped_in_it_within_thirty_days(
    trips: list[TripSeen],
) -> None:
    trip = trips[0]
    grounded = "vehicle" in shared_rulings(trip, trips, SITE)
    ends = [end for end in [t.day for t in trips] if 0 <= (end - trip.day).days <= SITE.trip_window_days]
    expected = trip.vehicle is not None and any(
        len({t.pack for t in trips if t.vehicle == trip.vehicle and 0 <= (end - t.day).days <= SITE.trip_window_days})
        >= 2
        for end in ends
    )
    assert grounded is expected
    if not expected and trip.vehicle is not None:
        near = [t for t in trips if t.vehicle == trip.vehicle and t.pack != trip.pack]
        assert all(days_apart(t, trip) > SITE.trip_window_days for t in near)


@given(st.integers(0, 40), st.integers(0, 23), st.integers(0, 23))
def test_the_second_pack_in_one_vehicle_on_the_thirtieth_day_still_counts(apart: int, first: int, second: int) -> None:
    early = TripSeen(
        "a", "P-1", "EB-1", NOW.replace(hour=first) - dt.timedelta(days=apart), TripCause.UNKNOWN, False, ""
    )
    late = TripSeen("b", "P-2", "EB-1", NOW.replace(hour=second), TripCause.UNKNOWN, False, "")
    grounded = "vehicle" in shared_rulings(late, [early, late], SITE)
    assert grounded is (apart <= SITE.trip_window_days)
    assert ("vehicle" in shared_rulings(early, [early, late], SITE)) is grounded, "whichever is entered last"


@given(TRIPS)
def test_a_tally_counts_every_trip_of_its_window_once(trips: list[TripSeen]) -> None:
    today = NOW.date()
    found = tally("pack", "P-1", trips, today, SITE)
    expected = [t for t in trips if t.pack == "P-1" and 0 <= (today - t.day).days <= SITE.trip_window_days]
    assert len(found.trips) == len(expected)
    assert (found.reading is not None) is (len({t.vehicle for t in expected if t.vehicle}) >= 2)


@given(TRIPS, st.sampled_from(list(Level)))
def test_a_reset_is_never_allowed_beyond_the_counts_or_the_level(trips: list[TripSeen], level: Level) -> None:
    today = NOW.date()
    facts = ResetFacts(level, "press the button", False, Decimal("41.0"), NOW, Decimal("30.0"))
    answer = allowance("P-1", trips, facts, SITE, today)
    mine = [t for t in trips if t.pack == "P-1" and 0 <= (today - t.day).days <= SITE.trip_window_days]
    if answer.allowed:
        assert level is Level.MAY_RELEASE
        assert 0 < len(mine) < SITE.trips_any_pull
        assert sum(not t.explained for t in mine) < SITE.trips_unexplained_pull
        newest = max(mine, key=lambda t: t.done_at)
        assert newest.explained
        if len(mine) > 1:
            assert all(t.explained for t in mine) and newest.mended
    assert answer.count == len(mine)
