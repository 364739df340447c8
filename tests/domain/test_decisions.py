"""How long a decision stands, at its edges.  The rules are this program's own (common practice, no source)."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.decisions import Choice, Decision, Kind, Question, due_by, refuse_wrong, stands, suggested
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg

AT = dt.datetime(2026, 11, 2, 9, 0, tzinfo=dt.UTC)
TODAY = AT.date()
ASK = msg("decision.ask_watch", pack="P-1")
DAY = dt.timedelta(days=1)


def decided(choice: Choice = Choice.CARRY_ON, kind: Kind = Kind.WATCH, days: int | None = 7) -> Decision:
    until = None if choice is Choice.PULL or days is None else TODAY + days * DAY
    return Decision("P-1", kind, choice, until, AT, ASK)


def asked(kind: Kind = Kind.WATCH, after_days: int = 0) -> Question:
    return Question("P-1", kind, AT + after_days * DAY - dt.timedelta(hours=1), ASK)


@given(st.integers(0, 60), st.integers(0, 90), st.sampled_from([Choice.CARRY_ON, Choice.REPLACE]))
def test_the_last_day_counts_and_the_day_after_does_not(days: int, later: int, choice: Choice) -> None:
    standing = stands(decided(choice, days=days), asked(), TODAY + later * DAY, AT, out=False)
    assert standing is (later <= days)


@given(st.integers(0, 60), st.integers(0, 90))
def test_a_newer_verdict_of_the_same_kind_inherits_nothing_past_the_date(days: int, later: int) -> None:
    newer = asked(Kind.WATCH, after_days=later)
    assert stands(decided(days=days), newer, TODAY + later * DAY, newer.since, out=False) is (later <= days)


@pytest.mark.parametrize("choice", [Choice.CARRY_ON, Choice.RECHECK])
def test_a_stricter_finding_is_a_new_question(choice: Choice) -> None:
    assert not stands(decided(choice), asked(Kind.PULL), TODAY, AT - DAY, out=True)
    assert not stands(decided(choice, Kind.EARLY), asked(Kind.WATCH), TODAY, AT - DAY, out=False)
    assert stands(decided(choice, Kind.WATCH), asked(Kind.EARLY), TODAY, AT - DAY, out=False)


def test_a_re_check_is_used_up_by_the_check_it_wanted() -> None:
    made = decided(Choice.RECHECK, days=3)
    assert stands(made, asked(), TODAY, AT - DAY, out=False)
    assert not stands(made, asked(after_days=1), TODAY + DAY, AT + DAY, out=False)


def test_a_pull_stands_while_the_pack_is_out_of_use() -> None:
    assert stands(decided(Choice.PULL), asked(Kind.PULL), TODAY + 400 * DAY, AT, out=True), "the hold it set itself"
    assert not stands(decided(Choice.PULL), asked(Kind.PULL, after_days=2), TODAY + 2 * DAY, AT, out=True), "a new pull"
    made = decided(Choice.PULL, Kind.PULL)
    assert stands(made, asked(Kind.PULL), TODAY + 400 * DAY, AT, out=True)
    assert not stands(made, asked(Kind.PULL), TODAY, AT, out=False)


@given(st.integers(0, 60), st.integers(-5, 70))
def test_carrying_on_tightens_the_due_date_until_a_check_on_or_after_it(days: int, checked: int) -> None:
    by = due_by(decided(days=days), AT + checked * DAY, VerdictLevel.WATCH)
    assert by == (None if checked >= days else TODAY + days * DAY)


def test_a_pass_answers_a_verdict_but_not_a_projection() -> None:
    assert due_by(decided(), AT + DAY, VerdictLevel.PASS) is None
    assert due_by(decided(kind=Kind.EARLY), AT + DAY, VerdictLevel.PASS) == TODAY + 7 * DAY
    assert due_by(decided(Choice.RECHECK), AT + DAY, VerdictLevel.WATCH) is None
    assert due_by(decided(Choice.REPLACE), AT - DAY, VerdictLevel.WATCH) is None


@given(st.integers(-10, 200))
def test_dates_that_are_taken(days: int) -> None:
    site = SiteRules()
    until = TODAY + days * DAY
    if 0 <= days <= site.decision_most_days:
        refuse_wrong(Choice.CARRY_ON, Kind.WATCH, until, TODAY, site)
        return
    with pytest.raises(EntryRefused):
        refuse_wrong(Choice.CARRY_ON, Kind.WATCH, until, TODAY, site)


def test_a_pull_is_never_carried_on_and_every_dated_choice_needs_its_date() -> None:
    site = SiteRules()
    with pytest.raises(EntryRefused):
        refuse_wrong(Choice.CARRY_ON, Kind.PULL, TODAY, TODAY, site)
    for choice in (Choice.CARRY_ON, Choice.RECHECK, Choice.REPLACE):
        with pytest.raises(EntryRefused):
            refuse_wrong(choice, Kind.WATCH, None, TODAY, site)
    refuse_wrong(Choice.PULL, Kind.PULL, None, TODAY, site)


@pytest.mark.parametrize("choice", list(Choice))
def test_what_one_key_offers_is_always_taken(choice: Choice) -> None:
    for most in (1, 7, 91):
        site = SiteRules(decision_most_days=most)
        refuse_wrong(choice, Kind.WATCH, suggested(choice, TODAY, site), TODAY, site)
