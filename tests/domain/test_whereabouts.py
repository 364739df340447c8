"""Windows of doubt: no history names a pack for a day it cannot know.

The truth of a simulated depot is the reference: packs move on any day, and people notice some of it.
"""

import datetime as dt
import random

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.whereabouts import Sighting, Sureness, in_vehicle_on, windows_of_doubt

DAY0 = dt.datetime(2026, 10, 1, tzinfo=dt.UTC)
DAYS = 30
PLACES = ("EB-11", "EB-12", None)


def day(number: int) -> dt.datetime:
    return DAY0 + dt.timedelta(days=number)


@given(st.integers(0, 10**6), st.floats(0.05, 0.9))
def test_a_pack_is_named_for_a_day_only_where_it_was_and_the_truth_is_never_excluded(seed: int, noticed: float) -> None:
    dice = random.Random(seed)
    packs = ("P-1", "P-2", "P-3")
    truth: dict[int, dict[str, str | None]] = {}
    where: dict[str, str | None] = dict(zip(packs, PLACES, strict=True))
    known: dict[str, list[Sighting]] = {pack: [] for pack in packs}
    for number in range(DAYS):
        if dice.random() < 0.3:
            one, other = dice.sample(packs, 2)
            where[one], where[other] = where[other], where[one]
        truth[number] = dict(where)
        for pack in packs:
            if dice.random() < noticed / 3:
                known[pack].append(Sighting(pack, where[pack], day(number) + dt.timedelta(hours=9), number))
    for number in range(DAYS):
        for vehicle in ("EB-11", "EB-12"):
            answer = in_vehicle_on(known, vehicle, 1, day(number), day(number + 1))
            really = next(p for p in packs if truth[number][p] == vehicle)
            assert all(pack == really for pack in answer.seen)
            assert answer.unknown or answer.seen == (really,)


@given(st.permutations(range(6)))
def test_the_order_of_entry_never_changes_the_answer(order: list[int]) -> None:
    told = [Sighting("P-1", v, day(n), n) for n, v in enumerate(("EB-11", "EB-11", "EB-12", None, "EB-11", "EB-12"))]
    shuffled = [told[i] for i in order]
    for number in range(7):
        span = (day(number), day(number + 1))
        assert in_vehicle_on({"P-1": told}, "EB-11", 1, *span) == in_vehicle_on({"P-1": shuffled}, "EB-11", 1, *span)
    assert windows_of_doubt(told) == windows_of_doubt(shuffled)


def test_between_two_finds_in_the_same_place_it_is_named_with_or_unknown() -> None:
    told = {"P-1": [Sighting("P-1", "EB-11", day(1), 1), Sighting("P-1", "EB-11", day(5), 2)]}
    answer = in_vehicle_on(told, "EB-11", 1, day(3), day(4))
    assert [(c.pack, c.sureness) for c in answer.candidates] == [("P-1", Sureness.BETWEEN)] and answer.unknown


def test_a_move_nobody_noted_is_a_window_with_both_ends_and_no_date_inside() -> None:
    told = [
        Sighting("P-1", "EB-11", day(1), 1),
        Sighting("P-1", "EB-12", day(5), 2),
        Sighting("P-1", "EB-12", day(6), 3),
    ]
    (window,) = windows_of_doubt(told)
    assert (window.left, window.reached, window.last_seen, window.first_seen) == ("EB-11", "EB-12", day(1), day(5))
    for vehicle, sureness in (("EB-11", Sureness.BEFORE), ("EB-12", Sureness.AFTER)):
        answer = in_vehicle_on({"P-1": told}, vehicle, 1, day(3), day(4))
        assert answer.candidates[0].sureness is sureness and answer.seen == () and answer.unknown


def test_a_noted_move_leaves_no_window() -> None:
    assert windows_of_doubt([Sighting("P-1", "EB-11", day(1), 1), Sighting("P-1", None, day(1), 2)]) == ()
