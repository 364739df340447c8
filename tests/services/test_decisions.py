"""Watch, pull and early projection wait for a named, dated decision; the list, the due date, the safer state."""

from __future__ import annotations

import datetime as dt

import pytest

from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.decisions import Choice, Kind
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import msg, say
from fleetcare.services import deciding, decisions, record, summary
from fleetcare.services import facts as read
from fleetcare.services.decisions import Early
from tests.kestrel import MONDAY, Kestrel

DAY = dt.timedelta(days=1)


def waiting(kestrel: Kestrel, early: dict[str, Early] | None = None) -> list[tuple[str, Kind]]:
    with kestrel.store.view() as view:
        return [(one.pack, one.kind) for one in decisions.undecided(view, kestrel.now, early)]


def decide(kestrel: Kestrel, pack: str, choice: Choice, days: int | None, by: str = "DUNN", **more: object) -> str:
    until = None if days is None else kestrel.now.date() + days * DAY
    done = deciding.decide(kestrel.store, kestrel.clock, kestrel.author(by), pack, choice, until, **more)  # type: ignore[arg-type]
    return say(done.message)


def watch(kestrel: Kestrel, pack: str = "P-1011") -> None:
    kestrel.check(pack, "41.60", loaded="39.80")


def test_a_fresh_depot_waits_for_nothing_and_a_watch_waits(kestrel: Kestrel) -> None:
    assert waiting(kestrel) == []
    watch(kestrel)
    assert waiting(kestrel) == [("P-1011", Kind.WATCH)]
    assert decide(kestrel, "P-1011", Choice.CARRY_ON, 5) == "Decided about P-1011: carry on until 7 Nov 2026."
    assert waiting(kestrel) == []
    with kestrel.store.view() as view:
        (standing,) = decisions.standing_decisions(view, kestrel.now)
    assert (standing.person, say(standing.what)) == ("Dunn", "carry on until 7 Nov 2026")


def test_a_decision_that_has_run_out_is_asked_again_and_says_whose_it_was(kestrel: Kestrel) -> None:
    watch(kestrel)
    decide(kestrel, "P-1011", Choice.CARRY_ON, 5)
    kestrel.now = MONDAY + 5 * DAY
    watch(kestrel)
    assert waiting(kestrel) == [], "the newer watch may rest on it until its date"
    kestrel.now = MONDAY + 6 * DAY
    with kestrel.store.view() as view:
        (one,) = decisions.undecided(view, kestrel.now)
    assert one.ran_out is not None and one.decided_by == "Dunn"


def test_a_passed_decision_date_tightens_the_due_date(kestrel: Kestrel) -> None:
    watch(kestrel, "P-1002")
    decide(kestrel, "P-1002", Choice.CARRY_ON, 3)

    def status() -> summary.PackStatus:
        return summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status

    assert status().due_on == (MONDAY + 3 * DAY).date()
    kestrel.now = MONDAY + 2 * DAY
    assert status().state is PackState.READY
    kestrel.now = MONDAY + 3 * DAY
    assert status().state is PackState.DUE
    assert "Dunn decided on 2 Nov 2026: carry on until 5 Nov 2026" in say(status().reasons[0].text)
    kestrel.now = MONDAY + 10 * DAY
    assert status().state is PackState.DUE
    kestrel.now = MONDAY + 11 * DAY
    assert status().state is PackState.OVERDUE, "seven days of grace after the decided day, as after any due day"
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    assert status().state is PackState.READY and status().due_on == (kestrel.now + 7 * DAY).date()


def test_a_decision_never_loosens(kestrel: Kestrel) -> None:
    watch(kestrel, "P-1002")
    decide(kestrel, "P-1002", Choice.CARRY_ON, 60)
    status = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status
    assert status.due_on == (MONDAY + 7 * DAY).date()


def test_a_pull_is_asked_until_it_is_decided_and_is_never_carried_on(kestrel: Kestrel) -> None:
    kestrel.check("P-1004", "39.10", vehicle="EB-14")
    hold = Hold("pack", "P-1005", HoldClass.FAULT, MONDAY, msg("hold.by_person"), "latch broken")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), hold)
    assert waiting(kestrel) == [("P-1004", Kind.PULL), ("P-1005", Kind.PULL)]
    with pytest.raises(EntryRefused, match="not carried on"):
        decide(kestrel, "P-1004", Choice.CARRY_ON, 5)
    decide(kestrel, "P-1004", Choice.REPLACE, 28, reason="quote asked")
    decide(kestrel, "P-1005", Choice.RECHECK, 1, by="FARROW")
    assert waiting(kestrel) == []
    kestrel.now += 2 * DAY
    assert waiting(kestrel) == [("P-1005", Kind.PULL)]


def test_deciding_to_pull_holds_the_pack_at_once(kestrel: Kestrel) -> None:
    watch(kestrel, "P-1002")
    assert "It is held." in decide(kestrel, "P-1002", Choice.PULL, None, by="FARROW")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.HELD and waiting(kestrel) == []
    board = {v.vehicle.code: v for v in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles}
    assert board["EB-12"].status.state is BoardState.GROUNDED


def test_two_who_disagree_both_stand_on_record_and_the_safer_state_holds(kestrel: Kestrel) -> None:
    watch(kestrel, "P-1002")
    decide(kestrel, "P-1002", Choice.PULL, None, by="FARROW")
    with pytest.raises(EntryRefused):
        decide(kestrel, "P-1002", Choice.CARRY_ON, 7, by="DUNN")
    decide(kestrel, "P-1002", Choice.RECHECK, 7, by="DUNN")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.status.state is PackState.HELD
    said = [say(e.text) for e in page.events]
    assert sum("decided about P-1002" in one for one in said) == 2


def test_who_may_decide_what(kestrel: Kestrel) -> None:
    watch(kestrel)
    for by in ("FARROW", "HALE"):
        with pytest.raises(NotAllowed):
            decide(kestrel, "P-1011", Choice.CARRY_ON, 5, by=by)
    with pytest.raises(NotAllowed):
        decide(kestrel, "P-1011", Choice.RECHECK, 5, by="HALE")
    decide(kestrel, "P-1011", Choice.RECHECK, 5, by="FARROW")
    decide(kestrel, "P-1011", Choice.CARRY_ON, 5, by="ORMOND")


def test_an_early_projection_asks_and_a_stricter_verdict_asks_over_it(kestrel: Kestrel) -> None:
    near = {"P-1011": Early("resistance_ohm", (MONDAY + 30 * DAY).date())}
    assert waiting(kestrel) == [] and waiting(kestrel, near) == [("P-1011", Kind.EARLY)]
    decide(kestrel, "P-1011", Choice.CARRY_ON, 21, early=near["P-1011"])
    assert waiting(kestrel, near) == []
    watch(kestrel)
    assert waiting(kestrel, near) == [("P-1011", Kind.WATCH)]
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1011")
    assert any("early projection" in say(e.text) for e in page.events)


def test_a_reading_that_could_not_be_judged_answers_nothing(kestrel: Kestrel) -> None:
    from fleetcare.domain.checks import CheckKind, RestBand

    watch(kestrel)
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1011", "41.60", kind=CheckKind.AS_FOUND, rest=RestBand.UNKNOWN)
    assert waiting(kestrel) == [("P-1011", Kind.WATCH)]
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1011", "41.60")
    assert waiting(kestrel) == []


def test_a_danger_is_nobody_s_to_decide(kestrel: Kestrel) -> None:
    watch(kestrel)
    look = LookOver("P-1011", kestrel.now, None, (LookItem.SWOLLEN,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    assert waiting(kestrel) == []


def test_as_of_an_earlier_position_it_still_waited(kestrel: Kestrel) -> None:
    watch(kestrel)
    with kestrel.store.view() as view:
        before = view.position
    decide(kestrel, "P-1011", Choice.CARRY_ON, 5)
    with kestrel.store.view(before) as view:
        assert [one.pack for one in decisions.undecided(view, kestrel.now)] == ["P-1011"]
        assert decisions.decision_of(view, "P-1011", kestrel.now).question is not None
    with kestrel.store.view() as view:
        page = decisions.decision_of(view, "P-1011", kestrel.now)
    assert page.question is None and page.standing is not None and page.standing.person == "Dunn"


def test_volts_in_store_near_their_limit_ask_for_no_decision(kestrel: Kestrel) -> None:
    # they are a matter of charging and of the rules of storage; list, overview, review and bench count alike
    def one(quantity: str, days: int) -> Projection:
        edge = (MONDAY + days * DAY).date()
        told = msg("projection.no_baseline")
        return Projection(quantity, MONDAY.date(), 6, 6, told, "e", 1.0, projected=True, crossing_p10=edge)

    with kestrel.store.view() as view:
        site = read.read_facts(view).site
    assert decisions.early_of([one("stored_v", 5)], MONDAY, site) is None
    near = decisions.early_of([one("stored_v", 5), one("resistance_ohm", 9)], MONDAY, site)
    assert near is not None and near.quantity == "resistance_ohm"
