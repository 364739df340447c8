"""The tree as data: whole, never dangerous, and every path comes to an end.

What it must never offer: forum remedies collected against it (common practice, no source).
"""

import datetime as dt
import re

import pytest

from fleetcare.domain import fault_tree, wording
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fault_tree import ROWS, FaultWalk, Outcome, Who


def paths(row: str, before: tuple[tuple[str, str], ...] = ()) -> list[tuple[tuple[str, str], ...]]:
    found = []
    for answer in ROWS[row].answers:
        steps = (*before, (row, answer.name))
        assert bool(answer.to) is not bool(answer.outcome)
        found += [steps] if answer.outcome else paths(answer.to, steps)
    return found


def test_all_eighteen_rows_and_the_two_that_follow_the_first_are_there() -> None:
    assert set(ROWS) == {f"r{n}" for n in range(1, 19)} | {"r1b", "r1c"}


def test_every_path_ends_and_is_followed_to_its_outcome() -> None:
    for row in ROWS:
        for steps in paths(row):
            assert isinstance(fault_tree.follow(steps, charge_allowed=True), Outcome)
            assert len(steps) <= 4


def test_every_row_answer_and_outcome_has_its_words() -> None:
    for row in ROWS.values():
        for part in ("see", "likely", "test", "do"):
            assert wording.word(f"tree.{row.code}_{part}")
        assert wording.word(f"tree_who.{row.who.value}")
        for answer in row.answers:
            assert wording.word(f"tree_answer.{answer.name}")
    assert all(wording.word(f"tree_outcome.{one.value}") for one in Outcome)


def test_nothing_offered_is_on_the_list_of_what_is_never_done() -> None:
    never = re.compile(
        r"jump|phone charger|in the sun|rice|bypass|bridge|foil|unplug the battery management|open the pack|solder"
    )
    offered = [wording.word(key) for key in wording.catalogue() if key.startswith(("tree.r", "tree_answer."))]
    assert [text for text in offered if never.search(text.lower())] == []


@pytest.mark.parametrize("row", ["r5", "r14", "r16"])
def test_deep_discharge_water_and_warmth_end_in_quarantine_by_the_maker_only(row: str) -> None:
    assert ROWS[row].who is Who.MAKER
    assert {fault_tree.follow(steps, charge_allowed=True) for steps in paths(row)} == {Outcome.QUARANTINE}


def test_a_path_that_the_tree_does_not_have_is_refused() -> None:
    for steps in (
        (),
        (("r2", "woke"),),
        (("r1", "lamp_red"),),
        (("r1", "woke"), ("r2", "collapses")),
        (("r99", "woke"),),
    ):
        with pytest.raises(EntryRefused):
            fault_tree.follow(steps, charge_allowed=True)


@pytest.mark.parametrize(("days", "allowed"), [(0, True), (30, True), (31, False)])
def test_a_silent_pack_unseen_for_more_than_30_days_is_offered_no_charger(days: int, allowed: bool) -> None:
    today = dt.date(2026, 11, 2)
    assert fault_tree.may_charge(today - dt.timedelta(days=days), today) is allowed
    assert fault_tree.may_charge(None, today) is False
    names = {a.name for a in fault_tree.answers_of("r1", charge_allowed=allowed)}
    assert ("lamp_red" in names) is allowed and "stays_dead" in names
    if not allowed:
        with pytest.raises(EntryRefused):
            fault_tree.follow((("r1", "lamp_red"), ("r1b", "rises")), charge_allowed=False)


@pytest.mark.parametrize(("before", "held"), [(0, False), (1, False), (2, True)])
def test_the_third_time_without_a_fault_found_asks_to_look_harder(before: int, held: bool) -> None:
    at = dt.datetime(2026, 11, 2, tzinfo=dt.UTC)
    walk = FaultWalk("P-1", None, at, (("r18", "no_fault"),), Outcome.NO_FAULT)
    assert bool(fault_tree.rulings(walk, before)) is held


def test_no_row_that_may_be_reached_offers_a_charger_to_a_pack_that_may_not_be_charged() -> None:
    """After lay-up, or unseen for 30 days, a pack that reads nothing is never put on a charger (proposal)."""
    for row in ("r1", "r1b", "r1c"):
        told = wording.word(fault_tree.test_of(row, charge_allowed=False))
        assert (
            "put it on its own charger" not in told and "Stay with it" not in told and "Let the pack warm" not in told
        )
        assert wording.word(fault_tree.test_of(row, charge_allowed=True)) != told
        offered = fault_tree.answers_of(row, charge_allowed=False)
        assert Outcome.SLEPT not in {a.outcome for a in offered if a.charges} and offered
    with pytest.raises(EntryRefused):
        fault_tree.follow((("r1b", "rises"),), charge_allowed=False)
    assert fault_tree.follow((("r1b", "stuck"),), charge_allowed=False) is Outcome.PULL


def test_the_gate_names_everything_that_stops_and_the_end_names_the_maker() -> None:
    gate = wording.word("faults.tree_gate").lower()
    for sign in (
        "hot",
        "swollen",
        "smell",
        "hiss",
        "crack",
        "leak",
        "smoke",
        "wet inside",
        "dropped",
        "run over",
        "crushed",
    ):
        assert sign in gate
    assert "maker" in wording.word("tree_outcome.pull")
    assert "common practice" in wording.word("faults.tree_never") and "local codes" in wording.word("faults.tree_never")
