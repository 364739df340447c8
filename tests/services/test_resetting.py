"""The guided reset: offered by maker and rule, kept half-way, and what its readings mean.

60 V DC as the end of voltage class A: EN 50604-1.
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import reset_job, wording
from fleetcare.domain.checks import LookItem, LookOver, TripCause
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.reset_job import JobOutcome, Pause, Stop
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import say
from fleetcare.services import record, reporting, resetting, stock, summary
from fleetcare.services.reporting import Judgement
from fleetcare.services.resetting import JobReadings
from tests.kestrel import K36, Kestrel

D = Decimal


def ready(kestrel: Kestrel, pack: str = "P-1002", *, notes: bool = True) -> None:
    model = replace(
        K36, reset_note="Draw the charge fuse, wait one minute, re-seat it.", fuse_a=D("30"), fuse_dc_v=D("58")
    )
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", model),
                      ("service_notes", ServiceNotes("K36-A", fuse_body="type_c", reset_by_fuse=notes)))  # fmt: skip
    told = Report(pack, "EB-12", kestrel.now, Story.CUT_OUT_HILL, charger="C-36-1")
    steep = Judgement(TripCause.OVER_CURRENT, True, "steep ramp")
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(), told, steep)


def begin(kestrel: Kestrel, by: str = "DUNN") -> resetting.JobState:
    state, _done = resetting.begin_job(kestrel.store, kestrel.clock, kestrel.author(by), "P-1002")
    return state


def tick_all(kestrel: Kestrel, state: resetting.JobState) -> resetting.JobState:
    for pause in Pause:
        state = resetting.keep_ticks(
            kestrel.store, kestrel.clock, kestrel.author(), state, pause, reset_job.STEPS[pause]
        )
    return state


def finish(kestrel: Kestrel, state: resetting.JobState, readings: JobReadings, badge: str = "B-01") -> str:
    done = resetting.finish_job(kestrel.store, kestrel.clock, kestrel.author(), state, readings, badge)
    return say(done.message)


def test_every_step_pause_stop_and_outcome_has_its_words() -> None:
    for pause in Pause:
        assert all(wording.word(one) for one in reset_job.step_keys(pause)) and wording.word(f"job_pause.{pause.value}")
    assert all(wording.word(f"job_stop.{one.value}") for one in Stop)
    assert all(wording.word(f"job_outcome.{one.value}") for one in JobOutcome)


@given(st.decimals("0", "60", places=2), st.booleans(), st.decimals("0", "60", places=2))
def test_what_the_readings_mean_with_both_limits_in_range(rested: Decimal, lit: bool, loaded: Decimal) -> None:
    found = reset_job.outcome_of(rested, lit, loaded, D("30"), D("42.5"))
    if rested < 30 or rested > D("42.5"):
        assert found is JobOutcome.OUT_OF_RANGE
    elif not lit:
        assert found is JobOutcome.DISPLAY_DARK
    else:
        assert found is (JobOutcome.COLLAPSED if loaded < 30 else JobOutcome.BACK)


def test_the_job_is_offered_only_where_maker_rule_and_level_allow(kestrel: Kestrel) -> None:
    ready(kestrel, notes=False)
    with pytest.raises(NotAllowed, match="does not describe a reset by removing a fuse"):
        begin(kestrel)
    record.put_things(
        kestrel.store,
        kestrel.clock,
        kestrel.author("ORMOND"),
        ("service_notes", ServiceNotes("K36-A", reset_by_fuse=True)),
    )
    with pytest.raises(NotAllowed, match="may reset and release"):
        begin(kestrel, "FARROW")
    with pytest.raises(NotAllowed, match=r"67\.20 V, above 60\.00 V"):
        reset_job.refuse_model(replace(K36, full_v=D("67.20")), ServiceNotes("X", reset_by_fuse=True))
    reset_job.refuse_model(replace(K36, full_v=D("60")), ServiceNotes("X", reset_by_fuse=True))
    assert begin(kestrel).pause is Pause.PREPARE


def test_a_pack_without_a_trip_that_may_be_reset_gets_no_job(kestrel: Kestrel) -> None:
    ready(kestrel, "P-1003")
    with pytest.raises(NotAllowed, match="Nothing to reset"):
        begin(kestrel)


def test_leaving_half_way_keeps_a_draft_on_the_board_and_the_pack_held(kestrel: Kestrel) -> None:
    ready(kestrel)
    state = begin(kestrel)
    resetting.keep_ticks(kestrel.store, kestrel.clock, kestrel.author(), state, Pause.PREPARE, 4)
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    assert ("Dunn", "P-1002") in [(who, what) for who, what, _at in fleet.drafts]
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state is PackState.HELD
    again = begin(kestrel, "PIKE")
    assert dict(again.ticks) == {"prepare": 4} and again.pause is Pause.PREPARE
    with pytest.raises(EntryRefused, match="Before you begin: 2 not ticked"):
        finish(kestrel, again, JobReadings(D("40"), True, "M-01", D("38"), D("8")))


@pytest.mark.parametrize(("readings", "words", "worked"), [
    (JobReadings(D("40.10"), True, "M-01", D("38.50"), D("8")), "full check, then release", True),
    (JobReadings(D("40.10"), False, "M-01"), "known-good vehicle", False),
    (JobReadings(D("0.00"), False, "M-01"), "out of range", False),
    (JobReadings(D("40.10"), True, "M-01", D("12.40"), D("8")), "collapse under load", False),
])  # fmt: skip
def test_the_outcome_tree_and_the_pack_stays_held_in_every_case(
    kestrel: Kestrel, readings: JobReadings, words: str, worked: bool
) -> None:
    ready(kestrel)
    state = tick_all(kestrel, begin(kestrel))
    with pytest.raises(NotAllowed, match="own badge"):
        finish(kestrel, state, readings, "B-02")
    assert words in finish(kestrel, state, readings)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.HELD and page.checks[0].rested_v == readings.rested_v
    told = [say(event.text) for event in page.events]
    assert any(("reset and works" in one) is worked and "reset" in one for one in told)
    assert summary.fleet_summary(kestrel.store, kestrel.clock).drafts == ()
    with pytest.raises(NotAllowed, match="already reset"):
        begin(kestrel)
    assert kestrel.store.verify().good


@pytest.mark.parametrize(("stop", "state"), [(Stop.HEAT_SMELL, PackState.QUARANTINED), (Stop.WATER, PackState.QUARANTINED),
                                             (Stop.SPARK, PackState.HELD), (Stop.FUSE_DAMAGED, PackState.HELD)])  # fmt: skip
def test_what_stops_the_job_holds_or_quarantines(kestrel: Kestrel, stop: Stop, state: PackState) -> None:
    ready(kestrel)
    job = begin(kestrel)
    kestrel.now += dt.timedelta(minutes=4)
    with pytest.raises(EntryRefused, match="what stopped it"):
        resetting.stop_job(kestrel.store, kestrel.clock, kestrel.author(), job, Stop.NONE)
    resetting.stop_job(kestrel.store, kestrel.clock, kestrel.author(), job, stop)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state is state
    with pytest.raises(EntryRefused, match="has been begun"):
        finish(kestrel, tick_in_memory(job), JobReadings(D("40"), False, "M-01"))


def test_a_draft_of_a_pack_that_was_quarantined_meanwhile_is_not_gone_on_with(kestrel: Kestrel) -> None:
    ready(kestrel)
    begin(kestrel)
    smell = LookOver("P-1002", kestrel.now, "EB-12", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), smell)
    with pytest.raises(NotAllowed, match="P-1002 is held for danger"):
        begin(kestrel)


def tick_in_memory(job: resetting.JobState) -> resetting.JobState:
    return replace(job, ticks=tuple((pause.value, reset_job.STEPS[pause]) for pause in Pause))


def test_no_caller_finishes_a_job_whose_steps_were_not_ticked_and_kept(kestrel: Kestrel) -> None:
    ready(kestrel)
    state = begin(kestrel)
    readings = JobReadings(D("40.10"), True, "M-01", D("38.50"), D("8"))
    with pytest.raises(EntryRefused, match="Before you begin: 6 not ticked"):
        finish(kestrel, tick_in_memory(state), readings)
    with pytest.raises(EntryRefused, match="Before you begin: 6 not ticked"):
        resetting.keep_ticks(kestrel.store, kestrel.clock, kestrel.author(), state, Pause.CLOSE, 4)
    with pytest.raises(EntryRefused, match="has 6 steps"):
        resetting.keep_ticks(kestrel.store, kestrel.clock, kestrel.author(), state, Pause.PREPARE, 7)
    tick_all(kestrel, state)
    assert "full check, then release" in finish(kestrel, state, readings)


def test_a_reset_by_fuse_is_noted_by_its_guided_job_only(kestrel: Kestrel) -> None:
    ready(kestrel)
    with kestrel.store.view() as view:
        before = view.position
    with pytest.raises(NotAllowed, match="page “Guided reset”, where each step is ticked"):
        reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(), "P-1002", "B-01", True)
    with kestrel.store.view() as view:
        assert view.position == before


def test_a_part_fitted_in_the_job_leaves_the_stock_with_it(kestrel: Kestrel) -> None:
    ready(kestrel)
    seal = Part("S-06", PartKind.SEAL, "cover seal", "SL-36", ("K36-A",))
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), seal)
    state = tick_all(kestrel, begin(kestrel))
    readings = JobReadings(D("40.10"), True, "M-01", D("38.50"), D("8"))

    def done() -> str:
        author = kestrel.author()
        return say(resetting.finish_job(kestrel.store, kestrel.clock, author, state, readings, "B-01", "S-06").message)

    with pytest.raises(EntryRefused, match="0 of S-06"):
        done()
    stock.book_in(kestrel.store, kestrel.clock, kestrel.author(), "S-06", 2)
    with kestrel.store.view() as view:
        assert resetting.job_state(view, "P-1002").stocked == ((seal, 2),)
    assert "1 × cover seal, SL-36; 1 on hand" in done()
    told = [say(event.text) for event in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").events]
    assert any("1 × S-06 (SL-36) used on P-1002: guided reset" in one for one in told)


def test_a_danger_stops_a_job_under_way_whatever_set_up_says_now(kestrel: Kestrel) -> None:
    ready(kestrel)
    job = begin(kestrel)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"),
                      ("service_notes", ServiceNotes("K36-A", fuse_body="type_c", reset_by_fuse=False)))  # fmt: skip
    resetting.stop_job(kestrel.store, kestrel.clock, kestrel.author(), job, Stop.HEAT_SMELL)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state is PackState.QUARANTINED
