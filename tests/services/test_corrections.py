"""Corrections: everything stays on record, the newest correction counts, and the order of entry does not."""

import datetime as dt
import itertools
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import msg, say
from fleetcare.services import record, summary, telling
from fleetcare.services.shown import CheckLine
from tests.kestrel import MONDAY, Kestrel, build


def lines(kestrel: Kestrel, pack: str = "P-1002") -> tuple[CheckLine, ...]:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).checks


def correct(kestrel: Kestrel, record_id: str, volts: str | None, reason: str = "misread") -> None:
    with kestrel.store.view() as view:
        stored = view.check(record_id)
    assert stored is not None
    check = None if volts is None else replace(stored.check, rested_v=Decimal(volts))
    record.correct_check(kestrel.store, kestrel.clock, kestrel.author(), record_id, reason, check)


def test_a_correction_is_corrected_and_every_value_stays_struck_with_its_reason(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.20", vehicle="EB-12")
    for volts, reason in (("42.10", "digits"), ("41.20", "read the slip again")):
        newest = next(one for one in lines(kestrel) if not one.struck)
        correct(kestrel, newest.record_id, volts, reason)
    told = [(str(one.rested_v), one.struck, one.strike_reason) for one in lines(kestrel)[:3]]
    assert sorted(told) == [("39.20", True, "digits"), ("41.20", False, ""), ("42.10", True, "read the slip again")]
    with kestrel.store.view() as view:
        assert str(view.latest_checks()["P-1002"].rested_v) == "41.20"
    assert kestrel.store.verify().good


def test_who_comes_second_is_told_who_corrected_it_when_and_what_stands(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.20", vehicle="EB-12")
    first = lines(kestrel)[0].record_id
    correct(kestrel, first, "41.57", "digits")
    with pytest.raises(EntryRefused) as refused:
        correct(kestrel, first, "41.20")
    told = say(refused.value.message)
    assert told.startswith("Dunn corrected that entry on 2 Nov 2026")
    assert "41.57 V at rest" in told and "(digits)" in told and "it takes the place of the newer entry" in told
    newest = next(one for one in lines(kestrel) if not one.struck)
    correct(kestrel, newest.record_id, None, "another pack")
    with pytest.raises(EntryRefused) as refused:
        correct(kestrel, newest.record_id, "41.20")
    told = say(refused.value.message)
    assert "Dunn took that entry back on 2 Nov 2026" in told and "Nothing stands in its place" in told


def test_a_hold_says_that_the_reading_that_set_it_was_corrected_or_struck(kestrel: Kestrel) -> None:
    def told() -> str:
        return say(summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.reasons[0].text)

    kestrel.check("P-1002", "41.60", vehicle="EB-12", at=kestrel.now - dt.timedelta(days=3))
    kestrel.check("P-1002", "39.20", vehicle="EB-12")
    assert told() == "Rested full 39.20 V: below the pull line of 40.00 V."
    correct(kestrel, lines(kestrel)[0].record_id, "41.50", "digits")
    assert told().endswith("Read on 2 Nov 2026, corrected since to 41.50 V.")
    newest = next(one for one in lines(kestrel) if not one.struck)
    correct(kestrel, newest.record_id, None, "another pack")
    assert told().startswith("Rested full 39.20 V") and "that check was taken back since" in told()
    kestrel.now += dt.timedelta(days=1)
    kestrel.check("P-1002", "41.55", vehicle="EB-12")
    assert "Read on 2 Nov 2026; read again on 3 Nov 2026: 41.55 V." in told()


def test_a_correction_never_releases_what_the_first_value_held(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.20", vehicle="EB-12")
    correct(kestrel, lines(kestrel)[0].record_id, "41.50")
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state.value == "held"


def test_what_is_entered_after_an_incident_about_before_it_says_so(kestrel: Kestrel) -> None:
    kestrel.check("P-1009", "41.40", vehicle="EB-19", at=MONDAY - dt.timedelta(hours=2))
    before = lines(kestrel, "P-1009")[0]
    look = LookOver("P-1009", MONDAY, "EB-19", (LookItem.SMOKE,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    assert lines(kestrel, "P-1009")[0].after_incident is None
    kestrel.now += dt.timedelta(hours=1)
    correct(kestrel, before.record_id, "41.50", "tidying")
    newest = next(one for one in lines(kestrel, "P-1009") if not one.struck)
    assert newest.after_incident == MONDAY
    assert "entered after the incident of 2 Nov 2026 06:30" in telling.entry_note(newest)
    struck = next(one for one in lines(kestrel, "P-1009") if one.struck)
    assert struck.after_incident is None
    kestrel.check("P-1009", "41.30", vehicle="EB-19")
    assert lines(kestrel, "P-1009")[0].after_incident is None, "a check done after the incident is no late entry"


READINGS = ("41.30", "40.40", "39.50")


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_the_order_of_entry_never_changes_what_stands(tmp_path: Path, order: tuple[int, ...]) -> None:
    states = []
    for number, sequence in enumerate((range(3), order)):
        kestrel = build(tmp_path / f"{number}.fleet")
        for i in sequence:
            at = MONDAY - dt.timedelta(hours=3 - i)
            from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck

            check = VoltageCheck(
                "P-1011", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, Decimal(READINGS[i]), at, "M-01"
            )  # fmt: skip
            record.record_check(kestrel.store, kestrel.clock, kestrel.author(), check)
        first = next(one for one in lines(kestrel, "P-1011") if str(one.rested_v) == READINGS[1])
        correct(kestrel, first.record_id, "41.00")
        with kestrel.store.view() as view:
            latest = view.latest_checks()["P-1011"]
        states.append((latest.done_at, latest.level, latest.rested_v, latest.last_valid, latest.last_pass))
        kestrel.store.close()
    assert states[0] == states[1]


@hypothesis_settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(("hold", "danger", "pass", "pull")), min_size=1, max_size=5))
def test_the_safer_state_wins_whatever_comes_after_it(
    tmp_path_factory: pytest.TempPathFactory, deeds: list[str]
) -> None:
    kestrel = build(tmp_path_factory.mktemp("safer") / "k.fleet")
    for deed in deeds:
        kestrel.now += dt.timedelta(hours=1)
        if deed == "hold":
            held = Hold("pack", "P-1011", HoldClass.FAULT, kestrel.now, msg("hold.by_person"), "by hand")
            record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), held)
        elif deed == "danger":
            look = LookOver("P-1011", kestrel.now, None, (LookItem.HISS,))
            record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), look)
        else:
            kestrel.check("P-1011", "41.40" if deed == "pass" else "39.00")
    status = summary.pack_summary(kestrel.store, kestrel.clock, "P-1011").status
    expected = "quarantined" if "danger" in deeds else "held" if {"hold", "pull"} & set(deeds) else "ready"
    assert status.state.value == expected and status.usable is (expected == "ready")
    kestrel.store.close()
