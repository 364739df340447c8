"""Three "dead" packs, and who may clear what."""

import datetime as dt
from decimal import Decimal

import pytest

from fleetcare.domain.checks import CheckKind
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fault_tree import FaultWalk, Outcome
from fleetcare.domain.laying_up import LaidUp, LayUpEnded
from fleetcare.domain.packs import Chemistry, Pack, PackModel
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import fault_finding, record, summary
from fleetcare.services.writing import Writer
from tests.kestrel import Kestrel

D = Decimal


def walk(kestrel: Kestrel, pack: str, vehicle: str | None, outcome: Outcome, *steps: tuple[str, str], by: str = "DUNN",
         charger: str = "", volts: str | None = None) -> str:  # fmt: skip
    readings = () if volts is None else ((steps[-1][0], D(volts)),)
    made = FaultWalk(pack, vehicle, kestrel.now, steps, outcome, charger, readings)
    return say(fault_finding.record_walk(kestrel.store, kestrel.clock, kestrel.author(by), made).message)


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def test_a_pack_that_reads_nothing_shows_its_models_note_and_that_it_slept_counts_no_trip(kestrel: Kestrel) -> None:
    start = fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1010")
    assert "Output is off until woken" in say(start.note) and start.charge_allowed
    said = walk(
        kestrel, "P-1010", "EB-20", Outcome.SLEPT, ("r1", "lamp_red"), ("r1b", "rises"), charger="C-36-2", volts="37.9"
    )
    assert "full check is still due" in said
    with kestrel.store.view() as view:
        assert view.trips() == []
    assert state(kestrel, "P-1010") is PackState.READY
    events = summary.pack_summary(kestrel.store, kestrel.clock, "P-1010").events
    assert any("lamp red" in say(event.text) for event in events)
    assert kestrel.store.verify().good


def test_rows_told_by_volts_name_the_limits_of_the_pack_s_own_chemistry(kestrel: Kestrel) -> None:
    """Eight groups of LFP: hold below 2.80 V, stop above 3.75 V a group; ten of NMC: 3.00 V and 4.25 V (docs/limits.md)."""
    iron = PackModel("F24-A", "F24-A", Chemistry.LFP, 8, 24, D("29.2"), D("12"), "K2")
    author = kestrel.author("ORMOND")
    record.put_things(
        kestrel.store, kestrel.clock, author, ("pack_model", iron), ("pack", Pack("P-1401", "F24-A", "F-1"))
    )
    told = say(fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1401").limits)
    assert "hold below 22.40 V" in told and "do not charge below 20.00 V" in told and "stop above 30.00 V" in told
    told = say(fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1010").limits)
    assert "hold below 30.00 V" in told and "stop above 42.50 V" in told


@pytest.mark.parametrize(("volts", "taken"), [("30.0", True), ("29.9", False)])
def test_a_pack_that_woke_below_its_hold_limit_is_disconnected(kestrel: Kestrel, volts: str, taken: bool) -> None:
    if taken:
        walk(kestrel, "P-1010", None, Outcome.SLEPT, ("r1", "woke"), volts=volts)
        return
    with pytest.raises(EntryRefused, match=r"29\.90 V is below the hold limit of 30\.00 V"):
        walk(kestrel, "P-1010", None, Outcome.SLEPT, ("r1", "woke"), volts=volts)


def test_volts_that_collapse_with_the_pack_pull_it_and_leave_the_vehicle_usable(kestrel: Kestrel) -> None:
    said = walk(kestrel, "P-1002", "EB-12", Outcome.PULL, ("r2", "collapses"), volts="12.4", by="FARROW")
    assert "P-1002 is held" in said and state(kestrel, "P-1002") is PackState.HELD
    with kestrel.store.view() as view:
        assert view.open_holds(("vehicle", "EB-12")) == []


def test_a_fault_that_stays_with_the_vehicle_grounds_it_and_not_the_pack(kestrel: Kestrel) -> None:
    walk(kestrel, "P-1002", "EB-12", Outcome.VEHICLE_FAULT, ("r2", "follows_vehicle"))
    line = summary.vehicle_page(kestrel.store, kestrel.clock, "EB-12").line
    assert line.status.state is BoardState.GROUNDED and state(kestrel, "P-1002") is PackState.READY


def test_a_bad_charger_is_held_by_its_own_code(kestrel: Kestrel) -> None:
    steps = (("r1", "lamp_green"), ("r1c", "charger_bad"))
    with pytest.raises(EntryRefused, match="which charger"):
        walk(kestrel, "P-1008", "EB-18", Outcome.CHARGER_FAULT, *steps)
    assert "C-36-2 is held" in walk(kestrel, "P-1008", "EB-18", Outcome.CHARGER_FAULT, *steps, charger="C-36-2")
    with kestrel.store.view() as view:
        assert [h.subject for h in view.open_holds(("charger", "C-36-2"))] == ["C-36-2"]
    assert state(kestrel, "P-1008") is PackState.READY


def test_clearing_in_a_row_of_those_who_may_release_needs_their_level_and_holding_does_not(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="clears something"):
        walk(kestrel, "P-1007", "EB-17", Outcome.LOG, ("r7", "sags_as_before"), by="FARROW")
    with pytest.raises(NotAllowed, match="may check"):
        walk(kestrel, "P-1007", "EB-17", Outcome.PULL, ("r7", "sags_more"), by="HALE")
    walk(kestrel, "P-1007", "EB-17", Outcome.LOG, ("r7", "sags_as_before"))
    walk(kestrel, "P-1007", "EB-17", Outcome.PULL, ("r7", "sags_more"), by="FARROW")
    assert state(kestrel, "P-1007") is PackState.HELD


def test_a_silent_pack_back_from_a_long_rest_is_never_put_on_a_charger(kestrel: Kestrel) -> None:
    kestrel.now += dt.timedelta(days=28)
    start = fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1012")
    assert start.no_charge is not None and "more than 30 days ago" in say(start.no_charge)
    with pytest.raises(EntryRefused, match="not in the fault-finding tree"):
        walk(kestrel, "P-1012", None, Outcome.SLEPT, ("r1", "lamp_red"), ("r1b", "rises"), volts="37.9")


def test_a_silent_pack_out_of_storage_is_never_put_on_a_charger(kestrel: Kestrel) -> None:
    kestrel.check("P-1011", "37.90", at=kestrel.now - dt.timedelta(days=1), kind=CheckKind.STORED)
    start = fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1011")
    assert not start.charge_allowed
    assert start.no_charge is not None and "comes out of storage" in say(start.no_charge)


def test_a_silent_pack_taken_out_of_lay_up_is_never_put_on_a_charger_before_a_check(kestrel: Kestrel) -> None:
    kestrel.check("P-1011", "41.50")
    kestrel.now += dt.timedelta(hours=1)
    with kestrel.store.transaction() as tx:
        writer = Writer(tx, kestrel.author(), kestrel.now)
        put = LaidUp("P-1011", "L-1", kestrel.now, "Rack 1", None, None, "", 60)
        writer.add("laid_up", put, kestrel.now)
        writer.add("lay_up_ended", LayUpEnded("P-1011", "L-1", kestrel.now), kestrel.now)
    assert not fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1011").charge_allowed
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1011", "41.50")
    assert fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1011").charge_allowed


def test_the_tree_names_the_chargers_that_fit_and_leaves_out_held_ones(kestrel: Kestrel) -> None:
    from fleetcare.domain.checks import Hold, HoldClass
    from fleetcare.domain.wording import msg

    held = Hold("charger", "C-36-5", HoldClass.FAULT, kestrel.now, msg("hold.by_person"), "hums")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("FARROW"), held)
    told = say(fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1010").chargers)
    assert told == "Its own chargers: C-36-1, C-36-2, C-36-3, C-36-4, C-36-6."
    assert "fits" in say(fault_finding.tree_start(kestrel.store, kestrel.clock, "P-1021").chargers), (
        "no S1 charger here"
    )
