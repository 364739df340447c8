"""A wrong charger, one that has drifted, and one that only waits for a pack.

The tolerance of ±1 % is the depot's setting (42.0 V: 41.58 to 42.42 V).
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import chargers, intake
from fleetcare.domain.chargers import ChargedOn, OutputState
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import Charger, Chemistry
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import msg, say
from fleetcare.services import charging, holding, record, reporting, summary
from tests.kestrel import K36, Kestrel

D = Decimal
C36 = Charger("C-36-1", "36 V charger", D("42.0"), D("1"), "K2", Chemistry.NMC)


@given(st.decimals("0", "50", places=2))
def test_both_limits_of_the_tolerance_are_good(volts: Decimal) -> None:
    state = chargers.judge_output(C36, volts)
    if D("41.58") <= volts <= D("42.42"):
        assert state is OutputState.GOOD
    else:
        assert state is (OutputState.LOW if volts < 42 else OutputState.HIGH)


def test_nothing_at_the_output_of_a_charger_that_waits_for_a_pack_is_no_failure() -> None:
    assert chargers.judge_output(replace(C36, output_waits_for_pack=True), D("0.00")) is OutputState.NOT_JUDGED
    assert chargers.judge_output(C36, D("0.00")) is OutputState.LOW
    assert chargers.judge_output(replace(C36, output_waits_for_pack=True), D("30")) is OutputState.LOW


def charge(kestrel: Kestrel, pack: str, charger: str, days_ago: int = 0) -> str:
    made = ChargedOn(pack, charger, kestrel.now - dt.timedelta(days=days_ago))
    return say(charging.record_charge(kestrel.store, kestrel.clock, kestrel.author(), made).message)


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def test_a_pack_on_a_charger_of_a_higher_class_is_quarantined_whatever_it_reads_and_the_others_are_not(
    kestrel: Kestrel,
) -> None:
    warning = charging.charge_warning(kestrel.store, kestrel.clock, "P-1004", "C-48-3")
    assert warning is not None and "ends at 54.6" in say(warning)
    charge(kestrel, "P-1004", "C-48-3", 5)
    for number in range(1, 6):
        charge(kestrel, f"P-130{number}", "C-48-3", number)
    assert state(kestrel, "P-1004") is PackState.QUARANTINED
    assert {state(kestrel, f"P-130{number}") for number in range(1, 6)} == {PackState.READY}
    first = holding.hold_lines(kestrel.store)[0]
    assert (first.subject, first.hold_class, first.person) == ("P-1004", HoldClass.DANGER, "Dunn")


def test_the_gravest_reason_is_warned_of_first(kestrel: Kestrel) -> None:
    held = Hold("charger", "C-48-3", HoldClass.FAULT, kestrel.now, msg("hold.by_person"), "hums")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("FARROW"), held)
    warning = charging.charge_warning(kestrel.store, kestrel.clock, "P-1004", "C-48-3")
    assert warning is not None and "ends at 54.6" in say(warning), "over-charge comes before a charger that hums"
    warning = charging.charge_warning(kestrel.store, kestrel.clock, "P-1301", "C-48-3")
    assert warning is not None and "hums" in say(warning)


def output(kestrel: Kestrel, volts: str, by: str = "DUNN") -> tuple[str, list[str]]:
    done, found = charging.record_output(kestrel.store, kestrel.clock, kestrel.author(by), "C-36-5", "M-01", D(volts))
    return say(done.message), [one.pack for one in found]


def test_a_charger_that_drifted_lists_the_packs_since_it_was_last_good_worst_first(kestrel: Kestrel) -> None:
    now = kestrel.now
    kestrel.now = now - dt.timedelta(days=28)
    charge(kestrel, "P-1001", "C-36-5", 3)
    assert "within 41.58" in output(kestrel, "42.10")[0]
    kestrel.now = now
    for number in range(2, 10):
        charge(kestrel, f"P-100{number}", "C-36-5", number)
    charge(kestrel, "P-1010", "C-36-5")
    kestrel.check("P-1007", "42.30", vehicle="EB-17")
    said, packs = output(kestrel, "43.6")
    assert "43.60 V, above 42.42" in said.replace("42.4200", "42.42") and packs[0] == "P-1007"
    assert len(packs) == 9 and "P-1001" not in packs
    assert state(kestrel, "P-1002") is PackState.HELD and state(kestrel, "P-1001") is PackState.READY
    line = charging.charger_lines(kestrel.store)[0]
    assert line.models == ("K36-A",)
    assert line.charger.code == "C-36-5" and line.held and len(line.since_good) == 9
    assert kestrel.store.verify().good


@pytest.mark.parametrize(("days_ago", "held"), [(0, True), (2, True), (6, False)])
def test_a_pack_charged_on_a_charger_found_too_high_is_held_also_where_it_is_entered_afterwards(
    kestrel: Kestrel, days_ago: int, held: bool
) -> None:
    """Good five days ago, too high today: every charge in between is in question, whenever somebody writes it down."""
    today = kestrel.now
    kestrel.now = today - dt.timedelta(days=5)
    output(kestrel, "42.0")
    kestrel.now = today
    output(kestrel, "43.6")
    kestrel.now = today + dt.timedelta(minutes=5)
    said = charge(kestrel, "P-1003", "C-36-5", days_ago)
    assert ("inspect it before it is used" in said) is held
    assert state(kestrel, "P-1003") is (PackState.HELD if held else PackState.READY)
    assert kestrel.store.verify().good


def test_a_report_that_names_a_withdrawn_charger_holds_the_pack(kestrel: Kestrel) -> None:
    output(kestrel, "43.6")
    told = Report("P-1004", "EB-14", kestrel.now, Story.RANGE_DOWN, charger="C-36-5")
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author("HALE"), told)
    assert state(kestrel, "P-1004") is PackState.HELD


def test_a_low_charger_is_withdrawn_and_holds_no_pack(kestrel: Kestrel) -> None:
    charge(kestrel, "P-1002", "C-36-5")
    said, packs = output(kestrel, "41.5")
    assert "does not fill a pack" in said and packs == ["P-1002"]
    assert state(kestrel, "P-1002") is PackState.READY


def test_unknown_things_and_people_without_the_level_are_refused(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="no charger C-99"):
        charge(kestrel, "P-1002", "C-99")
    with pytest.raises(NotAllowed, match="may check"):
        output(kestrel, "42.0", "HALE")


def test_a_meters_readings_and_a_charger_can_be_held_by_hand_and_released_with_a_reason(kestrel: Kestrel) -> None:
    from fleetcare.domain.checks import Hold, Release
    from fleetcare.domain.inspections import Inspected
    from fleetcare.domain.wording import msg
    from fleetcare.services import releasing

    for subject_class, code in (("charger", "C-36-2"), ("meter", "M-02")):
        hold = Hold(subject_class, code, HoldClass.FAULT, kestrel.now, msg("hold.by_person"), "dropped")
        record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), hold)
    lines = holding.hold_lines(kestrel.store)
    assert {line.subject for line in lines} == {"C-36-2", "M-02"}
    with pytest.raises(EntryRefused, match="readings are refused until it is released"):
        kestrel.check("P-1002", "41.4", meter="M-02")
    held = charging.charge_warning(kestrel.store, kestrel.clock, "P-1002", "C-36-2")
    assert held is not None and "is withdrawn: dropped" in say(held)
    made = Release(lines[0].hold_id, kestrel.now, "looked at, good")
    with pytest.raises(NotAllowed, match="may reset and release"):
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author("FARROW"), made)
    with pytest.raises(NotAllowed, match="nobody has inspected it since"):
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), made)
    kestrel.now += dt.timedelta(minutes=5)
    looked = Inspected("charger", "C-36-2", kestrel.now, True, "case, plug and lead")
    releasing.record_inspection(kestrel.store, kestrel.clock, kestrel.author("FARROW"), looked)
    record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), made)
    assert len(holding.hold_lines(kestrel.store)) == 1


def test_a_low_charger_lists_the_emptiest_pack_first(kestrel: Kestrel) -> None:
    for pack in ("P-1002", "P-1003", "P-1005"):
        charge(kestrel, pack, "C-36-5")
    kestrel.check("P-1003", "40.60", vehicle="EB-13")
    _said, packs = output(kestrel, "41.20")
    assert packs == ["P-1003", "P-1002", "P-1005"]


@pytest.mark.parametrize(("rated_a", "most_a", "fits"), [
    ("4", "4", True), ("4.1", "4", False), ("2", "7", True), (None, "4", True), ("9", None, True),
])  # fmt: skip
def test_a_charger_gives_no_more_amps_than_the_maker_allows_and_what_is_not_known_bars_nothing(
    kestrel: Kestrel, rated_a: str | None, most_a: str | None, fits: bool
) -> None:
    plate = replace(C36, rated_a=None if rated_a is None else D(rated_a))
    model = replace(K36, charge_max_a=None if most_a is None else D(most_a))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("charger", plate), ("pack_model", model))
    told = charging.charge_warning(kestrel.store, kestrel.clock, "P-1002", "C-36-1")
    assert (told is None) is fits
    line = next(one for one in charging.charger_lines(kestrel.store) if one.charger.code == "C-36-1")
    assert ("K36-A" in line.models) is fits
    if not fits:
        assert told is not None and say(told).startswith("C-36-1 gives 4.1 A; the maker of K36-A allows at most 4.0 A.")
        charge(kestrel, "P-1002", "C-36-1")
        assert state(kestrel, "P-1002") is PackState.HELD
    if rated_a is not None:
        assert say(line.rated_told) == f"42.00 V, {D(rated_a):.1f} A"
    assert kestrel.store.verify().good


def test_too_many_amps_are_a_wrong_pair_but_no_over_charge() -> None:
    assert intake.misfit(replace(C36, rated_a=D("5")), replace(K36, charge_max_a=D("4"))) is not None
    assert not intake.overcharges(replace(C36, rated_a=D("5")), replace(K36, charge_max_a=D("4")))
