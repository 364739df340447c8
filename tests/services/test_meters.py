"""Meters: proofs against a reference, a meter found out, and the list of what to check again."""

import datetime as dt
from decimal import Decimal

import pytest

from fleetcare.domain.checks import CheckKind, HoldClass, LookOver, Release, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.metering import Decision
from fleetcare.domain.proving import MeterProof
from fleetcare.domain.status import PackState
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import say
from fleetcare.services import meters, record, summary
from fleetcare.services.telling import entry_note
from fleetcare.store.values import StoredCheck
from tests.kestrel import MONDAY, Kestrel

D = Decimal
GOOD_DAY = MONDAY - dt.timedelta(days=20)


def proof(read: str, *, at: dt.datetime = MONDAY, meter: str = "M-02", reference: str = "41.00", error: str = "0.01",
          name: str = "voltage standard", due: dt.date | None = None) -> MeterProof:  # fmt: skip
    return MeterProof(meter, at, name, D(reference), D(error), D(read), due)


def prove(kestrel: Kestrel, made: MeterProof, by: str = "DUNN") -> str:
    return say(meters.record_proof(kestrel.store, kestrel.clock, kestrel.author(by), made).message)


@pytest.fixture
def high(kestrel: Kestrel) -> Kestrel:
    """M-02 was good 20 days ago, read five packs since, and now shows 41.45 V at 41.00 V."""
    kestrel.now = GOOD_DAY
    prove(kestrel, proof("41.05", at=GOOD_DAY))
    for pack, volts, days in (("P-1002", "41.30", 2), ("P-1005", "40.60", 2), ("P-1007", "40.40", 1), ("P-1011", "41.70", 1),
                              ("P-1013", "40.20", 21)):  # fmt: skip
        at = MONDAY - dt.timedelta(days=days)
        kestrel.now = at
        page = summary.pack_summary(kestrel.store, kestrel.clock, pack)
        kestrel.check(pack, volts, at=at, vehicle=page.vehicle, meter="M-02")
    kestrel.now = MONDAY
    return kestrel


def test_a_meter_within_its_limit_of_error_is_good_and_a_certificate_moves_its_due_date(kestrel: Kestrel) -> None:
    # ±(0.5 % + 2 digits of 0.01 V) at 41.00 V is 0.225 V by arithmetic.
    due = dt.date(2027, 11, 2)
    said = prove(kestrel, proof("41.20", due=due))
    assert said == "M-02 reads 41.20 V at 41.00 V (+0.20 V): within its limit of error of ±0.225 V."
    with kestrel.store.view() as view:
        assert view.thing("meter", "M-02").calibration_due == due
        assert view.found_out() == []


def test_the_list_knows_a_proof_in_the_very_second_in_which_it_was_saved(kestrel: Kestrel) -> None:
    prove(kestrel, proof("41.05"))
    row = next(one for one in meters.meter_rows(kestrel.store, kestrel.clock) if one.meter.code == "M-02")
    assert row.last_good == MONDAY and row.readings == 0


def test_a_reference_that_is_not_good_enough_cannot_tell(kestrel: Kestrel) -> None:
    preview = meters.preview_proof(kestrel.store, kestrel.clock, proof("41.20", error="0.30"))
    assert preview.decision is Decision.TOO_NEAR and "Use a better reference" in say(preview.statement)


def test_another_meter_is_a_reference_with_its_own_limit_of_error_only_while_in_calibration(kestrel: Kestrel) -> None:
    # ±(0.3 % + 2 digits) at 41.00 V is 0.143 V.
    preview = meters.preview_proof(kestrel.store, kestrel.clock, proof("41.00", name="m-01", error="0"))
    assert preview.decision is Decision.PASS
    kestrel.now = dt.datetime(2027, 2, 1, 7, tzinfo=dt.UTC)
    with pytest.raises(EntryRefused, match="calibration of M-01 ran out on 12 Jan 2027"):
        meters.preview_proof(kestrel.store, kestrel.clock, proof("41.00", name="M-01", at=kestrel.now))
    with pytest.raises(EntryRefused, match="cannot prove itself"):
        meters.preview_proof(kestrel.store, kestrel.clock, proof("41.00", name="M-02"))


def test_a_meter_found_out_doubts_every_reading_since_it_was_last_good_and_no_number_changes(high: Kestrel) -> None:
    before = {c.record_id: c.check for p in ("P-1002", "P-1005", "P-1013") for c in _checks(high, p)}
    said = prove(high, proof("41.45"))
    assert said == "M-02 is refused from now on. In doubt: 4 readings of 4 packs. Held because of it: 1."
    after = {c.record_id: c for p in ("P-1002", "P-1005", "P-1013") for c in _checks(high, p)}
    assert {key: stored.check for key, stored in after.items()} == before
    doubted = {stored.check.pack for stored in after.values() if stored.doubt is not None}
    assert doubted == {"P-1002", "P-1005"}
    line = summary.pack_summary(high.store, high.clock, "P-1002").checks[0]
    assert (
        "in doubt: M-02 was found out on 2 Nov 2026, +0.45 V at 41.00 V; it was last good on 13 Oct 2026 07:30"  # summer time in the depot
        in entry_note(line)
    )
    assert high.store.verify().good
    high.store.rebuild()
    assert high.store.verify().good


def _checks(kestrel: Kestrel, pack: str) -> list[StoredCheck]:
    with kestrel.store.view() as view:
        return view.checks_of(pack)


def test_those_that_would_be_pulled_are_held_and_the_list_is_ordered_by_what_could_be_wrong(high: Kestrel) -> None:
    plan = meters.preview_proof(high.store, high.clock, proof("41.45"))
    assert plan.plan is not None and "4 readings of 4 packs since 13 Oct 2026 06:30. Held would be: 1." in say(
        plan.plan
    )
    assert [line.pack for line in plan.lines] == ["P-1007", "P-1005", "P-1002", "P-1011"]
    prove(high, proof("41.45"))
    lines = meters.recheck_list(high.store, high.clock)
    assert [line.pack for line in lines] == ["P-1007", "P-1005", "P-1002", "P-1011"]
    worst = lines[0]
    # 40.40 V less 0.45 V is 39.95 V; in proportion 40.40 × 41.00 / 41.45 = 39.9614 V.  Pull line 40.0 V,
    # The corrected reading is good to 0.01 V (reference) + 2 digits = 0.03 V, u = 0.017 V: pull, by JCGM 106 with k = 2.
    assert worst.rejudged is not None and worst.rejudged.check.rested_v == D("39.9500")
    assert [line.held for line in lines] == [True, False, False, False]


def test_the_held_pack_says_why_and_its_vehicle_is_grounded_until_a_good_meter_and_a_release(high: Kestrel) -> None:
    high.check("P-1007", "39.95", at=MONDAY, vehicle="EB-17", meter="M-02", rest=RestBand.OVERNIGHT)
    prove(high, proof("41.90"))
    page = summary.pack_summary(high.store, high.clock, "P-1005")
    assert page.status.state is PackState.HELD and page.status.reasons[0].hold_class is HoldClass.FAULT
    assert "read 40.60 V with M-02, which was found out; without its error of +0.90 V" in say(
        page.status.reasons[0].text
    )
    hold = page.status.reasons[0].hold_id
    assert hold is not None
    with pytest.raises(EntryRefused, match="M-02 was found out on 2 Nov 2026"):
        high.check("P-1005", "41.50", at=MONDAY, vehicle="EB-15", meter="M-02")
    with pytest.raises(NotAllowed, match="Check it with another meter first"):
        record.release_hold(high.store, high.clock, high.author(), Release(hold, high.now, "looks fine"))
    high.now += dt.timedelta(hours=1)
    high.check("P-1005", "41.50", vehicle="EB-15", meter="M-01")
    record.release_hold(high.store, high.clock, high.author(), Release(hold, high.now, "41.50 V with M-01"))
    assert summary.pack_summary(high.store, high.clock, "P-1005").status.usable
    assert "P-1005" not in [line.pack for line in meters.recheck_list(high.store, high.clock)]


def test_a_pack_in_doubt_that_is_not_held_is_due_at_once(high: Kestrel) -> None:
    prove(high, proof("41.45"))
    page = summary.pack_summary(high.store, high.clock, "P-1011")
    assert page.status.state is PackState.DUE
    assert "meter M-02 was found out" in say(page.status.reasons[0].text)
    high.now += dt.timedelta(hours=1)
    high.check("P-1011", "41.30", meter="M-01")
    assert summary.pack_summary(high.store, high.clock, "P-1011").status.state is PackState.READY


def test_the_view_before_it_was_found_out_knows_no_doubt(high: Kestrel) -> None:
    with high.store.view() as view:
        before = view.position
    prove(high, proof("41.45"))
    page = summary.pack_summary(high.store, high.clock, "P-1011", before)
    assert page.status.state is PackState.READY and page.checks[0].doubt is None


def test_a_meter_never_shown_good_doubts_everything_and_a_broken_one_has_no_figure(high: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="what is wrong"):
        meters.mark_found_out(high.store, high.clock, high.author(), "M-01", " ")
    meters.mark_found_out(high.store, high.clock, high.author("FARROW"), "M-01", "fell off the bench, reads nonsense")
    with high.store.view() as view:
        (found,) = view.found_out()
    assert found.last_good_at is None and found.error_v is None and len(found.packs) == 38
    lines = meters.recheck_list(high.store, high.clock)
    assert len(lines) == 34 and all(line.rejudged is None and not line.held for line in lines)
    with pytest.raises(EntryRefused, match="recorded under a new code"):
        prove(high, proof("41.00", meter="M-01"))


def test_a_dispatcher_may_not_prove_a_meter(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed):
        prove(kestrel, proof("41.00"), by="HALE")


def test_a_change_of_meter_is_neither_a_recovery_nor_a_decline(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "40.95", vehicle="EB-12", at=MONDAY - dt.timedelta(hours=2))
    done = kestrel.check("P-1002", "41.60", vehicle="EB-12", meter="M-02")
    assert done.verdict is not None and done.verdict.level is VerdictLevel.WATCH
    said = " ".join(say(one.statement) for one in done.verdict.findings)
    assert "neither a recovery nor a decline" in said and "M-02 instead of M-01" in said


def test_a_reading_in_doubt_is_no_comparison_for_the_next(high: Kestrel) -> None:
    prove(high, proof("41.45"))
    high.now += dt.timedelta(hours=1)
    done = high.check("P-1007", "41.55", vehicle="EB-17")
    assert done.verdict is not None and done.verdict.level is VerdictLevel.PASS
    page = summary.pack_summary(high.store, high.clock, "P-1007")
    left = {say(one.why) for p in page.projections for one in p.left_out}
    assert "read with M-02, which was found out" in left


def test_the_list_of_meters_leads_with_those_not_to_be_used(high: Kestrel) -> None:
    rows = meters.meter_rows(high.store, high.clock)
    assert [(r.meter.code, say(r.state)) for r in rows] == [("M-02", "due in 1 day"), ("M-01", "in date")]
    assert rows[0].last_good == GOOD_DAY and rows[0].readings == 4
    prove(high, proof("41.45"))
    assert say(meters.meter_rows(high.store, high.clock)[0].state) == "found out, refused"


def test_a_pass_with_another_meter_releases_nothing_until_a_proof_shows_that_meter_good(kestrel: Kestrel) -> None:
    kestrel.check("P-1003", "39.10", vehicle="EB-13")
    hold = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").status.reasons[0].hold_id
    assert hold is not None
    kestrel.now += dt.timedelta(hours=2)
    kestrel.check("P-1003", "41.40", vehicle="EB-13", meter="M-02")
    release = Release(hold, kestrel.now, "charged and read again")
    with pytest.raises(NotAllowed, match="A change of meter is no recovery"):
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    kestrel.now += dt.timedelta(minutes=10)
    prove(kestrel, proof("41.05", at=kestrel.now))
    kestrel.check("P-1003", "41.40", vehicle="EB-13", at=kestrel.now + dt.timedelta(minutes=1), meter="M-02")
    record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)


def test_a_reading_of_the_same_day_from_before_it_was_found_out_is_taken_late_and_in_doubt(high: Kestrel) -> None:
    prove(high, proof("41.45"))
    early = MONDAY - dt.timedelta(minutes=20)
    check = VoltageCheck("P-1003", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("40.30"), early, "M-02", "EB-13")
    record.record_check(high.store, high.clock, high.author(), check, LookOver("P-1003", early, "EB-13"))
    page = summary.pack_summary(high.store, high.clock, "P-1003")
    assert page.checks[0].doubt is not None and page.status.state is PackState.HELD
