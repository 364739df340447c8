"""What ends a hold on a vehicle, charger or meter: a deed of its own, with what its class asks to have been seen."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.checks import Hold, HoldClass, Release
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.inspections import Inspected, SeenSince, missing
from fleetcare.domain.packs import Person, Role
from fleetcare.domain.proving import MeterProof
from fleetcare.domain.wording import msg, say
from fleetcare.services import charging, record, releasing, summary
from fleetcare.services.people import set_pin
from fleetcare.services.session import Author
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, Kestrel

HOUR = dt.timedelta(hours=1)


def hold(kestrel: Kestrel, subject_class: str, code: str, kind: HoldClass = HoldClass.FAULT) -> str:
    body = Hold(subject_class, code, kind, kestrel.now, msg("ground.by_person"), "front brake")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), body)
    with kestrel.store.view() as view:
        held = view.open_holds((subject_class, code))[-1].hold_id
    kestrel.now += HOUR
    return held


def release(kestrel: Kestrel, held: str, by: str = "DUNN", badge: str | None = None) -> None:
    made = Release(held, kestrel.now, "mended and looked at")
    record.release_hold(kestrel.store, kestrel.clock, kestrel.author(by), made, badge)


def look(
    kestrel: Kestrel, subject_class: str, code: str, *, good: bool = True, by: str = "FARROW", paper: str = ""
) -> None:
    body = Inspected(subject_class, code, kestrel.now, good, "brake pads and cable new", paper)
    releasing.record_inspection(kestrel.store, kestrel.clock, kestrel.author(by), body)
    kestrel.now += HOUR


@pytest.mark.parametrize("kind", [HoldClass.FAULT, HoldClass.UNKNOWN])
def test_a_vehicle_is_looked_over_before_it_is_released(kestrel: Kestrel, kind: HoldClass) -> None:
    look(kestrel, "vehicle", "CB-06")
    held = hold(kestrel, "vehicle", "CB-06", kind)
    with pytest.raises(NotAllowed, match="nobody has inspected it since"):
        release(kestrel, held)
    look(kestrel, "vehicle", "CB-06", good=False, by="HALE")
    with pytest.raises(NotAllowed, match="was not good"):
        release(kestrel, held)
    look(kestrel, "vehicle", "CB-06")
    with pytest.raises(NotAllowed, match="may reset and release"):
        release(kestrel, held, by="FARROW")
    release(kestrel, held)


def test_what_is_only_due_ends_with_a_reason(kestrel: Kestrel) -> None:
    release(kestrel, hold(kestrel, "vehicle", "CB-06", HoldClass.ACTION_DUE))


def test_a_bad_inspection_holds_what_was_not_held(kestrel: Kestrel) -> None:
    look(kestrel, "charger", "C-36-4", good=False, by="HALE")
    with kestrel.store.view() as view:
        (held,) = view.open_holds(("charger", "C-36-4"))
    assert held.hold_class is HoldClass.FAULT
    with pytest.raises(NotAllowed, match="may check"):
        look(kestrel, "charger", "C-36-4", by="HALE")


@pytest.mark.parametrize("subject", [("vehicle", "EB-12"), ("charger", "C-36-4"), ("meter", "M-01")])
def test_a_danger_ends_only_by_the_makers_agent_or_a_licensed_repairer(
    kestrel: Kestrel, subject: tuple[str, str]
) -> None:
    held = hold(kestrel, *subject, HoldClass.DANGER)
    look(kestrel, *subject)
    with pytest.raises(NotAllowed, match="There is no other way"):
        release(kestrel, held)
    look(kestrel, *subject, paper="Brook Licensed Repairs, report 88")
    release(kestrel, held)


def test_a_charger_held_by_its_output_needs_a_good_output(kestrel: Kestrel) -> None:
    def output(volts: str) -> None:
        charging.record_output(kestrel.store, kestrel.clock, kestrel.author(), "C-36-5", "M-01", D(volts))
        kestrel.now += HOUR

    output("43.60")
    with kestrel.store.view() as view:
        (held,) = view.open_holds(("charger", "C-36-5"))
    look(kestrel, "charger", "C-36-5")
    with pytest.raises(NotAllowed, match="no good output test since"):
        release(kestrel, held.hold_id)
    output("41.50")
    with pytest.raises(NotAllowed, match="no good output test since"):
        release(kestrel, held.hold_id)
    output("42.10")
    release(kestrel, held.hold_id)


def test_a_meter_is_proved_before_its_readings_count_again(kestrel: Kestrel) -> None:
    held = hold(kestrel, "meter", "M-01")

    def prove(read: str) -> None:
        proof = MeterProof("M-01", kestrel.now, "standard", D("41.00"), D("0.01"), D(read), None)
        with kestrel.store.transaction() as tx:
            Writer(tx, kestrel.author(), kestrel.now).add("meter_proof", proof, kestrel.now)
        kestrel.now += HOUR

    with pytest.raises(NotAllowed, match="no good proof"):
        release(kestrel, held)
    prove("41.60")
    with pytest.raises(NotAllowed, match="no good proof"):
        release(kestrel, held)
    prove("41.01")
    release(kestrel, held)


def test_the_window_asks_for_badge_or_pin(kestrel: Kestrel) -> None:
    held = hold(kestrel, "vehicle", "CB-06")
    look(kestrel, "vehicle", "CB-06")
    for wrong in ("", "B-02", "DUNN", "4711"):
        with pytest.raises(NotAllowed, match="own badge or PIN"):
            release(kestrel, held, badge=wrong)
    set_pin(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "DUNN", "4711")
    with pytest.raises(NotAllowed):
        release(kestrel, held, badge="4712")
    release(kestrel, held, badge="4711")


def test_somebody_without_a_badge_signs_by_pin(kestrel: Kestrel) -> None:
    from fleetcare.services.standing import own_badge

    ray = Person("RAY", "Ray", (Role.MECHANIC,))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("person", ray))
    set_pin(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "RAY", "2580")
    with kestrel.store.view() as view:
        own_badge(Author(ray, "BENCH-1"), "2580", view)
        with pytest.raises(NotAllowed):
            own_badge(Author(ray, "BENCH-1"), "", view)


def test_an_inspection_says_what_was_looked_at(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused):
        Inspected("vehicle", "CB-06", MONDAY, True, " ")
    with pytest.raises(EntryRefused):
        Inspected("pack", "P-1002", MONDAY, True, "all of it")


@given(
    st.sampled_from(["vehicle", "charger", "meter"]), st.sampled_from(list(HoldClass)),
    st.sampled_from([None, True, False]), st.sampled_from(["", "repairer"]), st.sampled_from([None, True, False]),
    st.booleans(), st.booleans(), st.booleans(),
)  # fmt: skip
def test_nothing_but_a_due_action_ends_without_something_good_seen_since(
    subject_class: str, kind: HoldClass, looked: bool | None, paper: str, output: bool | None, waits: bool, proved: bool,
    by_output: bool,
) -> None:  # fmt: skip
    seen = SeenSince(
        None if looked is None else Inspected(subject_class, "X-1", MONDAY, looked, "all", paper), output, waits, proved,
        by_output,
    )  # fmt: skip
    needed = missing(subject_class, kind, seen)
    if kind is HoldClass.ACTION_DUE:
        assert needed is None
        return
    if looked is False:
        assert needed is not None
    if kind is HoldClass.DANGER:
        assert (needed is None) is (looked is True and bool(paper))
    elif needed is None:
        assert looked or (subject_class == "charger" and output) or (subject_class == "meter" and proved)


def test_lost_braking_is_looked_at_before_the_vehicle_goes_out(kestrel: Kestrel) -> None:
    from fleetcare.domain.intake import Report, Story
    from fleetcare.services import reporting

    report = Report("P-1002", "EB-12", kestrel.now, Story.BRAKING_LOST, charger="C-36-2", works_again=True)
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author("HALE"), report)
    kestrel.now += HOUR
    with kestrel.store.view() as view:
        (held,) = view.open_holds(("vehicle", "EB-12"))
    with pytest.raises(NotAllowed, match="nobody has inspected it since"):
        release(kestrel, held.hold_id)
    look(kestrel, "vehicle", "EB-12")
    release(kestrel, held.hold_id)


def test_a_release_says_which_hold_it_ended_and_which_still_stands(kestrel: Kestrel) -> None:
    store, clock, author = kestrel.store, kestrel.clock, kestrel.author()
    for reason, later in (("brake", 0), ("light", 25), ("bell", 10)):
        kestrel.now += dt.timedelta(minutes=later)
        hold = Hold("vehicle", "EB-12", HoldClass.FAULT, kestrel.now, msg("ground.by_person"), reason)
        record.set_hold(store, clock, author, hold)
    with store.view() as view:
        first, second, third = sorted(view.open_holds(("vehicle", "EB-12")), key=lambda one: one.since)

    def release(hold_id: str, reason: str) -> None:
        with store.transaction() as tx:
            Writer(tx, author, kestrel.now).add("release", Release(hold_id, kestrel.now, reason), kestrel.now)

    release(first.hold_id, "brake lever replaced")
    told = [say(one.text) for one in summary.vehicle_page(store, clock, "EB-12").events]
    (mine,) = [one for one in told if "brake lever replaced" in one]
    assert mine.startswith("released from the hold of ") and "06:30: brake lever replaced" in mine
    assert mine.endswith("; the holds of 2 Nov 2026 06:55, 2 Nov 2026 07:05 still stood")
    release(third.hold_id, "bell")
    (bell,) = [say(o.text) for o in summary.vehicle_page(store, clock, "EB-12").events if say(o.text).endswith("stood")
               and "bell" in say(o.text)]  # fmt: skip
    assert bell.endswith("; the hold of 2 Nov 2026 06:55 still stood")
    release(second.hold_id, "lamp")
    (last,) = [say(o.text) for o in summary.vehicle_page(store, clock, "EB-12").events if "lamp" in say(o.text)]
    assert last.startswith("released from the hold of ") and "stood" not in last
