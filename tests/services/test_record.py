"""Deeds: what is refused and why, what is written, and who may."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.checks import FoundIn, Hold, HoldClass, LookItem, LookOver, Release, RestBand, Trip, TripCause
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Meter, Pack, PackStanding
from fleetcare.domain.status import PackState
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg, say
from fleetcare.services import identify, record, summary
from tests.kestrel import MONDAY, Kestrel


def size(kestrel: Kestrel) -> int:
    with kestrel.store.view() as view:
        return view.position


def test_a_saved_check_holds_who_with_which_level_when_and_with_what(kestrel: Kestrel) -> None:
    done = kestrel.check("P-1002", "41.38", vehicle="EB-12", loaded="39.78")
    assert done.verdict is not None and done.verdict.level is VerdictLevel.WATCH
    assert done.next_due == dt.date(2026, 11, 9)
    line = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks[0]
    assert (line.person_name, line.level, line.station, line.meter) == ("Dunn", "may_release", "BENCH-1", "M-01")
    assert say(line.meter_state) == "calibration in date"
    assert (line.done_at, line.entered_at) == (MONDAY, MONDAY)
    assert line.resistance_ohm == Decimal("0.2") and line.look_over == ()


@pytest.mark.parametrize(("change", "words"), [
    ({"pack": "P-9999"}, "no pack P-9999"), ({"meter": "M-99"}, "no meter M-99"), ({"vehicle": "EB-99"}, "no vehicle EB-99"),
    ({"at": MONDAY + dt.timedelta(hours=1)}, "cannot be dated in the future"),
])  # fmt: skip
def test_unknown_things_and_the_future_are_refused_and_nothing_is_written(
    kestrel: Kestrel, change: dict[str, object], words: str
) -> None:
    before = size(kestrel)
    values = {"pack": "P-1002", "meter": "M-01", "vehicle": "EB-12", "at": MONDAY} | change
    pack, at = str(values.pop("pack")), values.pop("at")
    check = record.VoltageCheck(
        pack,
        record_kind(),
        RestBand.HOURS_1_3,
        Decimal("41.4"),
        at,
        str(values["meter"]),
        str(values["vehicle"]),  # type: ignore[arg-type]
    )
    with pytest.raises(EntryRefused, match=words):
        record.record_check(kestrel.store, kestrel.clock, kestrel.author(), check)
    assert size(kestrel) == before


def record_kind() -> object:
    from fleetcare.domain.checks import CheckKind

    return CheckKind.RESTED_FULL


def test_a_retired_pack_takes_no_check(kestrel: Kestrel) -> None:
    retired = Pack("P-1014", "K36-A", standing=PackStanding.RETIRED)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", retired))
    with pytest.raises(EntryRefused, match="retired"):
        kestrel.check("P-1014", "41.4")


def test_a_meter_found_out_is_refused_from_that_day(kestrel: Kestrel) -> None:
    meter = Meter("M-02", "", Decimal("0.5"), 2, Decimal("0.01"), refused_from=MONDAY.date())
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("meter", meter))
    with pytest.raises(EntryRefused, match="found out"):
        kestrel.check("P-1014", "41.4", meter="M-02")


def test_who_may_not_check_is_told_so(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="may check"):
        kestrel.check("P-1002", "41.4", vehicle="EB-12", by="HALE")
    ended = replace(kestrel.people["FARROW"], level_until=MONDAY.date())
    kestrel.people["FARROW"] = ended
    with pytest.raises(NotAllowed, match="ran out"):
        kestrel.check("P-1002", "41.4", vehicle="EB-12", by="FARROW")


def test_a_pull_holds_the_pack_and_a_later_pass_releases_nothing(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.2", vehicle="EB-12")
    kestrel.now += dt.timedelta(hours=5)
    kestrel.check("P-1002", "41.4", vehicle="EB-12")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.HELD and not page.status.usable


def release(kestrel: Kestrel, pack: str, by: str, reason: str = "charged fully, rested, read again") -> None:
    page = summary.pack_summary(kestrel.store, kestrel.clock, pack)
    hold_id = page.status.reasons[0].hold_id
    assert hold_id is not None
    record.release_hold(kestrel.store, kestrel.clock, kestrel.author(by), Release(hold_id, kestrel.now, reason))


def test_a_release_needs_the_level_a_reason_and_a_passed_check_since(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.2", vehicle="EB-12")
    with pytest.raises(NotAllowed, match="no passed check since"):
        release(kestrel, "P-1002", "DUNN")
    kestrel.now += dt.timedelta(hours=5)
    kestrel.check("P-1002", "41.4", vehicle="EB-12")
    with pytest.raises(NotAllowed, match="may reset and release"):
        release(kestrel, "P-1002", "FARROW")
    with pytest.raises(EntryRefused, match="needs a reason"):
        release(kestrel, "P-1002", "DUNN", " ")
    release(kestrel, "P-1002", "DUNN")
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state is PackState.READY


def test_a_pull_after_the_pass_stands_in_the_way_of_a_release(kestrel: Kestrel) -> None:
    for volts in ("39.2", "41.4", "39.1"):
        kestrel.check("P-1002", volts, vehicle="EB-12")
        kestrel.now += dt.timedelta(hours=5)
    with pytest.raises(NotAllowed, match="no passed check since"):
        release(kestrel, "P-1002", "DUNN")


def test_danger_has_no_release(kestrel: Kestrel) -> None:
    look = LookOver("P-1009", MONDAY, "EB-19", (LookItem.SMELL,))
    done = record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), look)
    assert done.verdict is not None and done.verdict.level is VerdictLevel.DANGER
    assert (done.changed_packs, done.changed_vehicles) == ({"P-1009"}, {"EB-19"})
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1009", "41.4", vehicle="EB-19")
    with pytest.raises(NotAllowed, match="quarantined for danger"):
        release(kestrel, "P-1009", "DUNN")


def test_anyone_may_ground_and_must_say_why(kestrel: Kestrel) -> None:
    hold = Hold("vehicle", "CB-06", HoldClass.FAULT, MONDAY, msg("ground.by_person"))
    with pytest.raises(EntryRefused, match="why it is held"):
        record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), hold)
    done = record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), replace(hold, remark="front brake"))
    assert done.changed_vehicles == {"CB-06"}


def test_a_correction_keeps_the_first_value_and_the_verdict_follows(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "40.60", vehicle="EB-12")
    first = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks[0]
    with kestrel.store.view() as view:
        stored = view.check(first.record_id)
    assert stored is not None
    right = replace(stored.check, rested_v=Decimal("41.60"))
    with pytest.raises(EntryRefused, match="needs a reason"):
        record.correct_check(kestrel.store, kestrel.clock, kestrel.author(), first.record_id, "", right)
    record.correct_check(kestrel.store, kestrel.clock, kestrel.author(), first.record_id, "digit mistyped", right)
    lines = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks[:2]
    assert {(line.rested_v, line.struck) for line in lines} == {(Decimal("41.60"), False), (Decimal("40.60"), True)}
    assert next(line for line in lines if line.struck).strike_reason == "digit mistyped"
    with kestrel.store.view() as view:
        assert view.latest_checks()["P-1002"].level is VerdictLevel.PASS
    with pytest.raises(
        EntryRefused,
        match=r"Dunn corrected that entry on 2 Nov 2026 06:30: 41.60 V at rest stands now \(digit mistyped\)",
    ):
        record.correct_check(kestrel.store, kestrel.clock, kestrel.author(), first.record_id, "again", right)
    again = next(line for line in lines if not line.struck)
    record.correct_check(kestrel.store, kestrel.clock, kestrel.author(), again.record_id, "was another pack", None)
    assert kestrel.store.verify().good
    with kestrel.store.view() as view:
        assert view.latest_checks()["P-1002"].rested_v == Decimal("41.60")
        assert view.latest_checks()["P-1002"].done_at < MONDAY


def test_a_second_unexplained_trip_within_the_window_holds_the_pack_and_one_outside_does_not(kestrel: Kestrel) -> None:
    for days, held in ((31, False), (30, True)):
        trips = [Trip("P-1006", "EB-16", MONDAY - dt.timedelta(days=d), TripCause.UNKNOWN, False) for d in (days, 0)]
        if held:
            trips = [replace(t, pack="P-1007", vehicle="EB-17") for t in trips]
        for trip in trips:
            record.record_trip(kestrel.store, kestrel.clock, kestrel.author(), trip)
        state = summary.pack_summary(kestrel.store, kestrel.clock, trips[0].pack).status.state
        assert (state is PackState.HELD) is held


def test_the_preview_writes_nothing_and_compares_with_the_last_comparable_check(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "41.50", vehicle="EB-12", at=MONDAY - dt.timedelta(hours=9))
    before = size(kestrel)
    from fleetcare.domain.checks import CheckKind, VoltageCheck

    check = VoltageCheck("P-1002", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, Decimal("41.38"), MONDAY, "M-01", "EB-12")
    preview = record.preview_check(kestrel.store, kestrel.clock, check)
    assert size(kestrel) == before
    assert preview.comparison is not None and preview.comparison.change_v == Decimal("-0.12")
    other = replace(check, meter="M-02")
    assert record.preview_check(kestrel.store, kestrel.clock, other).comparison is None


# what a code stands for


@pytest.mark.parametrize(("typed", "cls", "code"), [
    ("p-1002", "pack", "P-1002"), (" EB-12 ", "vehicle", "EB-12"), ("C-36-2", "charger", "C-36-2"), ("B-03", "person", "FARROW"),
    ("M-01", "meter", "M-01"), ("P-1002*V", "pack", "P-1002"),
])  # fmt: skip
def test_any_code_is_recognised(kestrel: Kestrel, typed: str, cls: str, code: str) -> None:
    found = identify.identify(kestrel.store, typed)
    assert (found.thing_class, found.code) == (cls, code)


def test_a_near_miss_is_named_and_never_assumed(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match=r"P-1020.*Did you mean"):
        identify.identify(kestrel.store, "P-1020")
    with pytest.raises(EntryRefused, match="not in this fleet"):
        identify.identify(kestrel.store, "Q-777777")


def test_another_voltage_class_is_refused_and_names_where_the_pack_is(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match=r"48 V pack.*36 V packs.*CB-02"):
        identify.pair(kestrel.store, "EB-13", "P-1303")
    with pytest.raises(EntryRefused, match="48 V pack"):
        kestrel.check("P-1303", "54.2", vehicle="EB-13")


def test_a_stranger_of_the_same_class_needs_an_answer_before_a_check_is_stored(kestrel: Kestrel) -> None:
    pairing = identify.pair(kestrel.store, "EB-13", "P-1012")
    assert pairing.kind is identify.PairingKind.REPLACES and pairing.occupants == ("P-1003",)
    before = size(kestrel)
    with pytest.raises(EntryRefused, match="where that pack is now"):
        kestrel.check("P-1012", "41.4", vehicle="EB-13")
    assert size(kestrel) == before
    moves = (FoundIn("P-1003", None, MONDAY, shelf="Rack 2"), FoundIn("P-1012", "EB-13", MONDAY))
    from fleetcare.domain.checks import CheckKind, VoltageCheck

    check = VoltageCheck("P-1012", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, Decimal("41.4"), MONDAY, "M-01", "EB-13")
    record.record_check(kestrel.store, kestrel.clock, kestrel.author(), check, None, moves)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").shelf == "Rack 2"
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1012").vehicle == "EB-13"
