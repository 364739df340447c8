"""A clock that contradicts the record is not believed before a person has answered."""

import datetime as dt

import pytest

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.identity import ClockAnswered
from fleetcare.domain.wording import say
from fleetcare.services import summary, telling
from fleetcare.services.clock import DoubtKind, TrustedClock, source_now
from fleetcare.services.session import Author
from tests.kestrel import MONDAY, Kestrel

EVENING = MONDAY.replace(hour=17, minute=40)


def clock_at(kestrel: Kestrel, shown: dt.datetime) -> tuple[TrustedClock, list[dt.datetime]]:
    """A trusted clock over a PC clock that the test moves, after a last record at 17:40."""
    kestrel.now = EVENING
    kestrel.check("P-1002", "41.40", vehicle="EB-12")
    hand = [shown]
    return TrustedClock(kestrel.store, lambda: hand[0]), hand


def test_a_clock_that_agrees_with_the_record_is_simply_used(kestrel: Kestrel) -> None:
    for ahead in (dt.timedelta(minutes=-2), dt.timedelta(0), dt.timedelta(days=14)):
        clock, _ = clock_at(kestrel, EVENING + ahead)
        assert clock.doubt() is None and clock() == EVENING + ahead and source_now(clock) == "typed"


def test_behind_the_last_record_nothing_is_read_or_saved_until_the_true_time_is_given(kestrel: Kestrel) -> None:
    wrong = dt.datetime(2020, 1, 1, 7, 5, tzinfo=dt.UTC)
    clock, hand = clock_at(kestrel, wrong)
    doubt = clock.doubt()
    assert doubt is not None and doubt.kind is DoubtKind.BEHIND
    assert "1 Jan 2020 07:05" in say(doubt.statement) and "2 Nov 2026 17:40" in say(doubt.statement)
    with pytest.raises(EntryRefused, match="behind"):
        summary.fleet_summary(kestrel.store, clock)
    author = kestrel.author()
    with pytest.raises(EntryRefused, match="before the last record"):
        clock.answer_corrected(author, EVENING - dt.timedelta(days=1))
    true = EVENING + dt.timedelta(hours=13)
    clock.answer_corrected(author, true)
    hand[0] += dt.timedelta(minutes=10)
    assert clock() == true + dt.timedelta(minutes=10)
    assert source_now(clock) == "typed:clock:DUNN"
    kestrel.now = clock()
    by = Author(author.person, "BENCH-1", source_now(clock))
    from fleetcare.services import record

    with kestrel.store.view() as view:
        check = view.checks_of("P-1002")[0].check
    from dataclasses import replace

    record.record_check(kestrel.store, clock, by, replace(check, done_at=kestrel.now))
    line = summary.pack_summary(kestrel.store, clock, "P-1002").checks[0]
    assert "clock corrected by Dunn" in telling.entry_note(line) and line.done_at == kestrel.now
    with kestrel.store.view() as view:
        kinds = [view.record_at(p).body for p in range(1, view.position + 1)]  # type: ignore[union-attr]
    (answered,) = [body for body in kinds if isinstance(body, ClockAnswered)]
    assert (answered.shown_at, answered.last_at, answered.true_at) == (wrong, EVENING, true)
    assert kestrel.store.verify().good


def test_far_ahead_it_asks_before_everything_is_grounded_and_the_true_time_grounds_nothing_extra(
    kestrel: Kestrel,
) -> None:
    kestrel.now = EVENING
    ready = summary.fleet_summary(kestrel.store, kestrel.clock).counts
    clock, _ = clock_at(kestrel, dt.datetime(2027, 11, 3, 7, 0, tzinfo=dt.UTC))
    doubt = clock.doubt()
    assert doubt is not None and doubt.kind is DoubtKind.AHEAD and "every vehicle is grounded" in say(doubt.statement)
    with pytest.raises(EntryRefused, match="far after"):
        clock.answer_corrected(kestrel.author(), dt.datetime(2027, 12, 1, tzinfo=dt.UTC))
    clock.answer_corrected(kestrel.author(), EVENING + dt.timedelta(minutes=5))
    assert summary.fleet_summary(kestrel.store, clock).counts == ready


def test_a_clock_said_to_be_right_is_used_and_everything_has_run_out(kestrel: Kestrel) -> None:
    shown = dt.datetime(2027, 11, 3, 7, 0, tzinfo=dt.UTC)
    clock, _ = clock_at(kestrel, shown)
    clock.answer_right(kestrel.author())
    assert clock() == shown and summary.fleet_summary(kestrel.store, clock).counts["grounded"] == 24  # type: ignore[index]


def test_a_last_record_made_with_a_wrong_clock_can_be_answered_too(kestrel: Kestrel) -> None:
    clock, _ = clock_at(kestrel, EVENING - dt.timedelta(days=2))
    true = EVENING - dt.timedelta(days=2)
    clock.answer_corrected(kestrel.author(), true, last_was_wrong=True)
    assert clock() == true


def test_a_clock_set_while_the_program_runs_is_counted_through(kestrel: Kestrel) -> None:
    kestrel.now = EVENING
    kestrel.check("P-1002", "41.40", vehicle="EB-12")
    hand, steady = [EVENING], [100.0]
    clock = TrustedClock(kestrel.store, lambda: hand[0], lambda: steady[0])
    assert clock() == EVENING
    steady[0] += 60
    for step in (dt.timedelta(hours=-1), dt.timedelta(days=400)):
        hand[0] = EVENING + step
        assert clock() == EVENING + dt.timedelta(minutes=1) and clock.doubt() is None
    hand[0] = EVENING + dt.timedelta(hours=8)
    assert clock() == hand[0], "a PC that slept overnight is believed"


def test_the_autumn_hour_and_a_change_of_zone_keep_the_order_of_checks(kestrel: Kestrel) -> None:
    """On 25 Oct 2026 the hour from 01:00 comes twice in London (the time-zone database's Europe/London)."""
    from zoneinfo import ZoneInfo

    london = ZoneInfo("Europe/London")
    before = dt.datetime(2026, 10, 25, 1, 50, tzinfo=london)
    after = dt.datetime(2026, 10, 25, 1, 10, tzinfo=london, fold=1)
    assert after.astimezone(dt.UTC) - before.astimezone(dt.UTC) == dt.timedelta(minutes=20)
    for at, volts in ((after, "41.52"), (before, "41.51")):
        fixed = at.astimezone(dt.timezone(at.utcoffset() or dt.timedelta(0)))
        kestrel.check("P-1301", volts.replace("41", "54"), at=fixed, vehicle="CB-01")
    tokyo = before.astimezone(ZoneInfo("Asia/Tokyo")) - dt.timedelta(minutes=5)
    kestrel.check("P-1301", "54.50", at=tokyo.astimezone(dt.timezone(dt.timedelta(hours=9))), vehicle="CB-01")
    lines = summary.pack_summary(kestrel.store, kestrel.clock, "P-1301").checks
    autumn = [line for line in lines if line.done_at.astimezone(dt.UTC).date() == dt.date(2026, 10, 25)]
    assert [str(line.rested_v) for line in autumn] == ["54.52", "54.51", "54.50"]
    assert [f"{line.done_at:%H:%M %z}" for line in autumn[:2]] == ["01:10 +0000", "01:50 +0100"]
