"""Reports, trips, judgements and resets on a real file."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.checks import LookItem, TripCause
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import reporting, summary, trip_facts
from fleetcare.services.reporting import Judgement, Reported
from tests.kestrel import K36, MONDAY, Kestrel

STEEP = Judgement(TripCause.OVER_CURRENT, True, "steep ramp, 60 kg, charge low")


def report(kestrel: Kestrel, pack: str, vehicle: str | None, story: Story = Story.CUT_OUT_HILL, *, by: str = "DUNN",
           judged: Judgement | None = None, days_ago: int = 0, charger: str = "C-36-1", **more: object) -> Reported:  # fmt: skip
    at = kestrel.now - dt.timedelta(days=days_ago)
    told = Report(pack, vehicle, at, story, charger=charger, **more)  # type: ignore[arg-type]
    return reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(by), told, judged)


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def vehicle_state(kestrel: Kestrel, vehicle: str) -> BoardState:
    return summary.vehicle_page(kestrel.store, kestrel.clock, vehicle).line.status.state


def trip_id(kestrel: Kestrel, pack: str) -> str:
    with kestrel.store.view() as view:
        return next(t for t in reversed(trip_facts.trips_seen(view)) if t.pack == pack).record_id


def test_a_dispatcher_takes_a_report_and_the_pack_is_held_until_somebody_looked(kestrel: Kestrel) -> None:
    done = report(kestrel, "P-1002", "EB-12", by="HALE")
    assert [say(m) for m in done.held] == [
        "P-1002 is held: cut out uphill or under heavy load; it has not come back by itself"
    ]
    assert state(kestrel, "P-1002") is PackState.HELD
    events = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").events
    assert "report on P-1002: cut out uphill or under heavy load" in [say(e.text) for e in events]
    assert kestrel.store.verify().good


def test_a_danger_asks_nothing_else_and_quarantines(kestrel: Kestrel) -> None:
    done = report(
        kestrel, "P-1009", "EB-19", by="HALE", dangers=(LookItem.SMELL, LookItem.HISS), charger="", place="Q-2"
    )
    assert done.danger and state(kestrel, "P-1009") is PackState.QUARANTINED
    assert vehicle_state(kestrel, "EB-19") is BoardState.GROUNDED
    with kestrel.store.view() as view:
        assert view.open_holds(("pack", "P-1009"))[0].place == "Q-2"
        assert view.trips() == []


def test_a_charge_refused_in_the_cold_is_no_trip_and_the_edge_of_the_window_is_not_cold(kestrel: Kestrel) -> None:
    """Charge window 0 to 45 °C: typical of 18650 cell sheets; the pack maker's figure wins."""
    for pack, cold in (("P-1002", "-3"), ("P-1003", "0")):
        done = report(kestrel, pack, None, Story.CHARGE_REFUSED, pack_c=Decimal(cold))
        assert ("−3 °C" in say(done.steps[0])) is (cold == "-3")
        assert state(kestrel, pack) is PackState.READY
    with kestrel.store.view() as view:
        assert view.trips() == []


def test_lost_braking_keeps_the_vehicle_in_until_the_brakes_were_looked_at(kestrel: Kestrel) -> None:
    report(kestrel, "P-1002", "EB-12", Story.BRAKING_LOST, works_again=True)
    page = summary.vehicle_page(kestrel.store, kestrel.clock, "EB-12")
    assert page.line.status.state is BoardState.GROUNDED
    assert "check the brakes" in say(page.line.status.reasons[0].text)
    assert state(kestrel, "P-1002") is PackState.DUE, "usable, and after a trip a check is due at once"


@pytest.mark.parametrize("story", [Story.CUT_OUT_STANDSTILL, Story.CUT_OUT_AGAIN])
def test_standstill_spark_or_an_immediate_second_trip_counts_as_a_short_circuit(kestrel: Kestrel, story: Story) -> None:
    done = report(kestrel, "P-1002", "EB-12", story, works_again=True)
    assert state(kestrel, "P-1002") is PackState.HELD and "short circuit" in say(done.held[0])
    with pytest.raises(NotAllowed, match="short circuit"):
        reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(), "P-1002", "B-01", True)


def test_the_wrong_charger_quarantines_whatever_the_pack_reads_and_an_unknown_one_holds(kestrel: Kestrel) -> None:
    done = report(kestrel, "P-1004", "EB-14", Story.RANGE_DOWN, charger="C-48-3")
    assert state(kestrel, "P-1004") is PackState.QUARANTINED
    assert "ends at 54.6" in say(done.held[0]) and "at 42.0" in say(done.held[0])
    report(kestrel, "P-1005", "EB-15", Story.RANGE_DOWN, charger="")
    assert state(kestrel, "P-1005") is PackState.HELD
    with pytest.raises(EntryRefused, match="no charger C-99"):
        report(kestrel, "P-1006", "EB-16", charger="C-99")


def test_two_packs_in_one_vehicle_ground_the_vehicle_and_leave_the_packs_to_work(kestrel: Kestrel) -> None:
    report(kestrel, "P-1002", "EB-12", judged=STEEP, days_ago=30, works_again=True)
    assert vehicle_state(kestrel, "EB-12") is BoardState.READY
    done = report(kestrel, "P-1011", "EB-12", judged=STEEP, works_again=True)
    assert next(say(m) for m in done.held).startswith("EB-12 is grounded: 2 packs (P-1002, P-1011) tripped in EB-12")
    assert vehicle_state(kestrel, "EB-12") is BoardState.GROUNDED
    assert state(kestrel, "P-1002") is PackState.READY and state(kestrel, "P-1011") is PackState.DUE
    page = trip_facts.tallies_page(kestrel.store, kestrel.clock)
    assert (page.tallies[0].subject, page.tallies[0].partners) in (
        ("EB-12", ("P-1002", "P-1011")), ("C-36-1", ("P-1002", "P-1011")),
    )  # fmt: skip


def test_one_day_outside_the_window_grounds_nothing(kestrel: Kestrel) -> None:
    report(kestrel, "P-1002", "EB-12", judged=STEEP, days_ago=31, works_again=True)
    report(kestrel, "P-1011", "EB-12", judged=STEEP, works_again=True)
    assert vehicle_state(kestrel, "EB-12") is BoardState.READY


def test_only_who_may_release_explains_a_trip_and_a_short_circuit_needs_what_was_found_outside(
    kestrel: Kestrel,
) -> None:
    with pytest.raises(NotAllowed, match="may reset and release"):
        report(kestrel, "P-1002", "EB-12", by="FARROW", judged=STEEP)
    with kestrel.store.view() as view:
        assert view.trips() == []
    report(kestrel, "P-1002", "EB-12", by="FARROW")
    trip = trip_id(kestrel, "P-1002")
    with kestrel.store.view() as view:
        (open_,) = trip_facts.trips_seen(view)
    assert (open_.judged_by, open_.reported_by) == ("", "FARROW")
    for wrong, words in ((replace(STEEP, cause=TripCause.UNKNOWN), "needs its cause"), (replace(STEEP, reason=" "), "few words"),
                         (replace(STEEP, cause=TripCause.SHORT_CIRCUIT), "found outside")):  # fmt: skip
        with pytest.raises(EntryRefused, match=words):
            reporting.judge_trip(kestrel.store, kestrel.clock, kestrel.author(), trip, wrong)
    reporting.judge_trip(kestrel.store, kestrel.clock, kestrel.author("PIKE"), trip, STEEP)
    with kestrel.store.view() as view:
        (seen,) = trip_facts.trips_seen(view)
    assert (seen.explained, seen.judged_by, seen.reported_by) == (True, "PIKE", "FARROW")


def test_a_reset_needs_the_makers_method_the_level_and_the_own_badge_and_is_given_once(kestrel: Kestrel) -> None:
    report(kestrel, "P-1002", "EB-12", judged=STEEP)

    def reset(by: str = "DUNN", badge: str = "B-01") -> str:
        return say(
            reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(by), "P-1002", badge, True).message
        )

    with pytest.raises(NotAllowed, match="method for the model"):
        reset()
    from fleetcare.services import record

    noted = replace(K36, reset_note="Press the button for 5 s.")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", noted))
    with pytest.raises(NotAllowed, match="may reset and release"):
        reset("FARROW", "B-03")
    with pytest.raises(NotAllowed, match="Dunn's own badge"):
        reset(badge="B-02")
    assert "full check before it is released" in reset(badge="b-01")
    with pytest.raises(NotAllowed, match="already reset"):
        reset()
    assert state(kestrel, "P-1002") is PackState.HELD
    assert kestrel.store.verify().good


def test_the_level_counts_on_the_day_it_ran_out(kestrel: Kestrel) -> None:
    kestrel.people["DUNN"] = replace(kestrel.people["DUNN"], level_until=MONDAY.date())
    with pytest.raises(NotAllowed, match="may reset and release"):
        report(kestrel, "P-1002", "EB-12", judged=STEEP)


def noted(kestrel: Kestrel) -> None:
    from fleetcare.services import record

    model = replace(K36, reset_note="Press the button for 5 s.")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", model))


def held_by(kestrel: Kestrel, pack: str) -> str:
    with kestrel.store.view() as view:
        return view.open_holds(("pack", pack))[-1].hold_id


@pytest.mark.parametrize("apart", [1, 30])
def test_a_second_reset_needs_what_was_mended_and_its_release_a_loaded_reading(kestrel: Kestrel, apart: int) -> None:
    noted(kestrel)
    report(kestrel, "P-1002", "EB-12", judged=STEEP, days_ago=apart, works_again=True)
    report(kestrel, "P-1002", "EB-12", judged=STEEP)

    def reset() -> None:
        reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(), "P-1002", "B-01", True)

    with pytest.raises(NotAllowed, match=r"2 of 3 .* what was mended"):
        reset()
    mended = replace(STEEP, mended="cargo limit set, ramp closed to riders")
    reporting.judge_trip(kestrel.store, kestrel.clock, kestrel.author(), trip_id(kestrel, "P-1002"), mended)
    reset()
    events = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").events
    assert any("mended or different: cargo limit set" in say(e.text) for e in events)
    kestrel.now += dt.timedelta(hours=2)
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    from fleetcare.domain.checks import Release
    from fleetcare.services import record

    def release() -> None:
        made = Release(held_by(kestrel, "P-1002"), kestrel.now, "ramp closed, checked")
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), made)

    with pytest.raises(NotAllowed, match=r"reset on 2 Nov 2026 after trip 2 in 30 days.*loaded reading"):
        release()
    kestrel.check("P-1002", "41.60", loaded="40.40", vehicle="EB-12")
    release()
    assert state(kestrel, "P-1002") is PackState.READY
    assert kestrel.store.verify().good


def test_31_days_apart_is_a_first_trip_again_and_a_third_of_any_kind_pulls(kestrel: Kestrel) -> None:
    noted(kestrel)
    report(kestrel, "P-1002", "EB-12", judged=STEEP, days_ago=31, works_again=True)
    report(kestrel, "P-1002", "EB-12", judged=STEEP)
    reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(), "P-1002", "B-01", True)
    report(kestrel, "P-1003", "EB-13", Story.CUT_OUT_DOWNHILL, days_ago=30, works_again=True,
           judged=replace(STEEP, cause=TripCause.REGENERATION))  # fmt: skip
    report(kestrel, "P-1003", "EB-13", Story.CUT_OUT_BUMPS, days_ago=11, works_again=True)
    done = report(kestrel, "P-1003", "EB-13", judged=STEEP, works_again=True)
    assert any("3 trips" in say(one) for one in done.held), [say(one) for one in done.held]
    assert state(kestrel, "P-1003") is PackState.HELD
    with pytest.raises(NotAllowed, match=r"3 trips in 30 days \(3 Oct 2026, 22 Oct 2026, 2 Nov 2026\); 3 of any kind"):
        reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(), "P-1003", "B-01", True)


def test_a_model_reset_by_its_fuse_is_shown_the_guided_job(kestrel: Kestrel) -> None:
    from fleetcare.domain.packs import ServiceNotes
    from fleetcare.services import record

    noted(kestrel)
    report(kestrel, "P-1002", "EB-12", judged=STEEP)
    assert not trip_facts.pack_trips(kestrel.store, kestrel.clock, "P-1002", kestrel.people["DUNN"]).by_job
    notes = ServiceNotes("K36-A", reset_by_fuse=True)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("service_notes", notes))
    assert trip_facts.pack_trips(kestrel.store, kestrel.clock, "P-1002", kestrel.people["DUNN"]).by_job


@pytest.mark.parametrize(("apart", "held"), [(30, True), (31, False)])
def test_one_pack_that_tripped_in_two_vehicles_is_held_and_neither_vehicle(
    kestrel: Kestrel, apart: int, held: bool
) -> None:
    report(kestrel, "P-1011", "EB-12", judged=STEEP, days_ago=apart, works_again=True)
    done = report(kestrel, "P-1011", "EB-13", judged=STEEP, works_again=True)
    assert any("P-1011 tripped in 2 vehicles (EB-12, EB-13)" in say(one) for one in done.held) is held
    assert (state(kestrel, "P-1011") is PackState.HELD) is held
    assert [vehicle_state(kestrel, code) for code in ("EB-12", "EB-13")] == [BoardState.READY] * 2


def test_lost_braking_finds_its_vehicle_in_the_record_or_asks_for_it(kestrel: Kestrel) -> None:
    report(kestrel, "P-1002", None, Story.BRAKING_LOST, works_again=True)
    assert vehicle_state(kestrel, "EB-12") is BoardState.GROUNDED
    with pytest.raises(EntryRefused, match="say which one it was"):
        report(kestrel, "P-1012", None, Story.BRAKING_LOST, works_again=True)
