"""A maker's notice against the whole fleet: held at once, freed only by the maker's remedy."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleetcare.domain.checks import FoundIn, LookItem, LookOver, Release
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Pack
from fleetcare.domain.quarantine import Collected, TransportHead
from fleetcare.domain.recalls import Match, RecallNotice
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import quarantine, recalling, record, reporting, summary
from fleetcare.services.labelling import take_in_unknown
from fleetcare.services.recalling import Where
from tests.kestrel import MONDAY, Kestrel

NUMBER = "SN-26-014"
HEADS = tuple((head.value, "found") for head in TransportHead)


def notice(**change: object) -> RecallNotice:
    """Means P-1003 … P-1008 and the spares P-1011, P-1012."""
    values: dict[str, object] = {
        "models": ("K36-A",), "serial_from": "2403-0503", "serial_to": "2403-0612", "maker": "the maker",
        "hazard": "cells may overheat", "remedy": "replacement pack",
    }  # fmt: skip
    return RecallNotice(NUMBER, done_at=MONDAY, **(values | change))  # type: ignore[arg-type]


def prepare(kestrel: Kestrel) -> None:
    """P-1008 quarantined, P-1007 collected last year, P-1013 without a serial."""
    store, clock, author = kestrel.store, kestrel.clock, kestrel.author()
    for pack, vehicle in (("P-1008", "EB-18"), ("P-1007", "EB-17")):
        look = LookOver(pack, kestrel.now, vehicle, (LookItem.CRACK,))
        record.record_look_over(store, clock, author, look, (), "Q-4")
        record.record_found_in(store, clock, author, FoundIn(pack, None, kestrel.now, shelf="Q-4"))
    made = Collected("P-1007", kestrel.now, "Northfield Carriers", "NC-77", HEADS)
    quarantine.record_collection(store, clock, kestrel.author("ORMOND"), "B-05", made)
    with store.view() as view:
        bare = replace(view.thing("pack", "P-1013"), serial="")
    record.put_things(store, clock, author, ("pack", bare))
    kestrel.now += dt.timedelta(hours=1)


def enter(kestrel: Kestrel, by: str = "ORMOND", **change: object) -> recalling.RecallEntered:
    return recalling.enter_notice(kestrel.store, kestrel.clock, kestrel.author(by), notice(**change))


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def board(kestrel: Kestrel) -> dict[str, summary.VehicleSummary]:
    return {one.vehicle.code: one for one in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles}


def test_the_whole_fleet_is_searched_and_everything_meant_is_held(kestrel: Kestrel) -> None:
    prepare(kestrel)
    entered = enter(kestrel)
    page = entered.page
    assert (page.matched, page.not_ruled_out) == (10, 1)
    assert entered.held_now == (
        "P-1003", "P-1004", "P-1005", "P-1006", "P-1008", "P-1009", "P-1010", "P-1011", "P-1012", "P-1013",
    )  # fmt: skip
    where = {one.pack.code: one.where for one in page.lines}
    assert where["P-1008"] is Where.QUARANTINE and where["P-1011"] is Where.SPARE
    (gone,) = page.at(Where.WRITTEN_OFF)
    assert gone.pack.code == "P-1007" and "Northfield Carriers, NC-77" in gone.place and not gone.held
    assert next(one for one in page.lines if one.pack.code == "P-1013").found is Match.NOT_RULED_OUT
    assert page.vehicles == ("EB-13", "EB-14", "EB-15", "EB-16", "EB-19", "EB-20")
    assert "10 packs meant, 1 cannot be ruled out. Held now: 9. Vehicles grounded: 6." in say(entered.recorded.message)
    for code, line in board(kestrel).items():
        if code in page.vehicles:
            assert line.status.state is BoardState.GROUNDED and f"Recall {NUMBER}" in say(line.status.reasons[0].text)
            assert line.may_clear == ("whoever may release, with the maker's remedy on record",)
    assert board(kestrel)["EB-12"].status.state is BoardState.READY
    assert state(kestrel, "P-1003") is PackState.HELD and state(kestrel, "P-1008") is PackState.QUARANTINED
    assert [case.pack.code for case in quarantine.quarantine_cases(kestrel.store, kestrel.clock)] == ["P-1008"]
    assert any(NUMBER in say(one) for one in quarantine.quarantine_cases(kestrel.store, kestrel.clock)[0].reasons)


def test_a_preview_writes_nothing(kestrel: Kestrel) -> None:
    prepare(kestrel)
    before = len(held(kestrel, "P-1003"))
    page = recalling.preview_notice(kestrel.store, kestrel.clock, notice())
    assert (page.matched, page.not_ruled_out) == (10, 1) and len(held(kestrel, "P-1003")) == before == 0


def held(kestrel: Kestrel, pack: str) -> list:
    with kestrel.store.view() as view:
        return view.open_holds(("pack", pack))


def test_no_local_release_until_the_maker_s_remedy_is_recorded(kestrel: Kestrel) -> None:
    enter(kestrel)
    store, clock = kestrel.store, kestrel.clock
    kestrel.now += dt.timedelta(hours=2)
    kestrel.check("P-1003", "41.70", vehicle="EB-13")
    (hold,) = held(kestrel, "P-1003")
    with pytest.raises(NotAllowed, match="maker's remedy"):
        record.release_hold(store, clock, kestrel.author(), Release(hold.hold_id, kestrel.now, "looks fine"))

    def clear(by: str = "DUNN", number: str = NUMBER, remedy: str = "new pack", badge: str = "B-01") -> None:
        recalling.clear_recall(store, clock, kestrel.author(by), number, "P-1003", remedy, "RM-4", badge)

    for wrong in ({"by": "FARROW", "badge": "B-03"}, {"by": "ORMOND", "badge": "B-05"}, {"badge": "B-02"}):
        with pytest.raises(NotAllowed):
            clear(**wrong)
    for refused in ({"number": "SN-26-015"}, {"number": " "}, {"remedy": " "}):
        with pytest.raises(EntryRefused):
            clear(**refused)
    clear()
    assert held(kestrel, "P-1003") == [] and state(kestrel, "P-1003") is PackState.READY
    line = next(one for one in recalling.recall_page(store, clock, NUMBER).lines if one.pack.code == "P-1003")
    assert not line.held and "new pack" in say(line.state)
    with pytest.raises(EntryRefused):
        clear()


def test_a_pack_with_the_remedy_is_not_held_again_but_one_entered_later_is(kestrel: Kestrel) -> None:
    enter(kestrel)
    recalling.clear_recall(
        kestrel.store, kestrel.clock, kestrel.author(), NUMBER, "P-1003", "new cells by the maker", "", "B-01"
    )
    with kestrel.store.view() as view:
        known = view.thing("pack", "P-1003")
    author = kestrel.author()
    record.put_things(kestrel.store, kestrel.clock, author, ("pack", replace(known, note="back from the maker")))
    assert held(kestrel, "P-1003") == []
    record.put_things(
        kestrel.store, kestrel.clock, author, ("pack", Pack("P-1090", "K36-A", "2403-0612")),
        ("pack", Pack("P-1091", "K36-A", "2403-0613")), ("pack", Pack("P-1092", "K36-A", "")),
    )  # fmt: skip
    assert [h.reason.key for h in held(kestrel, "P-1090")] == ["recall.held"]
    assert held(kestrel, "P-1091") == []
    assert [h.reason.key for h in held(kestrel, "P-1092")] == ["recall.not_ruled_out"]
    taken = take_in_unknown(kestrel.store, kestrel.clock, author, "K48-B")
    (unknown,) = taken.changed_packs
    assert {"recall.not_ruled_out", "identity.history_unknown"} == {h.reason.key for h in held(kestrel, unknown)}


def test_a_wider_wording_holds_more_and_frees_nothing(kestrel: Kestrel) -> None:
    enter(kestrel)
    wider = enter(kestrel, serial_from="2403-0502", serial_to="2403-0611")
    assert wider.held_now == ("P-1002",)
    line = next(one for one in wider.page.lines if one.pack.code == "P-1012")
    assert line.held and line.found is Match.OUT
    with pytest.raises(EntryRefused, match="Read the serial"):
        recalling.rule_out(kestrel.store, kestrel.clock, kestrel.author(), NUMBER, "P-1012", "", "", "B-01")
    recalling.rule_out(kestrel.store, kestrel.clock, kestrel.author(), NUMBER, "P-1012", "2403-0612", "", "B-01")
    assert held(kestrel, "P-1012") == []


def test_what_cannot_be_ruled_out_is_settled_by_reading_the_case(kestrel: Kestrel) -> None:
    prepare(kestrel)
    enter(kestrel)
    store, clock = kestrel.store, kestrel.clock

    def read(serial: str, by: str = "DUNN", badge: str = "B-01") -> str:
        done = recalling.rule_out(store, clock, kestrel.author(by), NUMBER, "P-1013", serial, "", badge)
        return done.message.key

    with pytest.raises(EntryRefused, match="still cannot be ruled out"):
        read("2403-O612")
    with pytest.raises(EntryRefused, match="P-1014"):
        read("2403-0614")
    with pytest.raises(NotAllowed):
        read("2403-0613", by="FARROW", badge="B-03")
    assert read("2403-0555") == "record.recall_is_meant"
    assert {h.reason.key for h in held(kestrel, "P-1013")} == {"recall.held", "recall.not_ruled_out"}
    recalling.clear_recall(store, clock, kestrel.author(), NUMBER, "P-1013", "replaced", "", "B-01")
    assert held(kestrel, "P-1013") == []


def test_a_danger_found_on_a_recalled_pack_quarantines_it_all_the_same(kestrel: Kestrel) -> None:
    enter(kestrel)
    look = LookOver("P-1003", kestrel.now, "EB-13", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look, (), "Q-1")
    assert state(kestrel, "P-1003") is PackState.QUARANTINED
    recalling.clear_recall(kestrel.store, kestrel.clock, kestrel.author(), NUMBER, "P-1003", "replaced", "", "B-01")
    assert state(kestrel, "P-1003") is PackState.QUARANTINED
    kestrel.check("P-1004", "38.90", vehicle="EB-14")
    recalling.clear_recall(kestrel.store, kestrel.clock, kestrel.author(), NUMBER, "P-1004", "replaced", "", "B-01")
    assert state(kestrel, "P-1004") is PackState.HELD, "the pull found meanwhile stands"


def test_a_recalled_pack_is_never_reset(kestrel: Kestrel) -> None:
    enter(kestrel)
    with pytest.raises(NotAllowed):
        reporting.record_reset(kestrel.store, kestrel.clock, kestrel.author(), "P-1003", "B-01", True)


def test_a_second_bay_does_not_hide_a_recalled_pack(kestrel: Kestrel) -> None:
    enter(kestrel, models=("K48-B",), serial_from="2402-0701", serial_to="2402-0701")
    assert board(kestrel)["CB-01"].status.state is BoardState.GROUNDED
    assert board(kestrel)["CB-02"].status.state is BoardState.READY


def test_a_notice_entered_wrongly_is_taken_back_by_a_manager_only(kestrel: Kestrel) -> None:
    enter(kestrel, by="HALE")
    store, clock = kestrel.store, kestrel.clock
    with pytest.raises(NotAllowed):
        recalling.withdraw_notice(store, clock, kestrel.author(), NUMBER, "typing error", "B-01")
    recalling.withdraw_notice(store, clock, kestrel.author("ORMOND"), NUMBER, "first serial mistyped", "B-05")
    assert all(held(kestrel, f"P-10{n:02d}") == [] for n in range(1, 15))
    (page,) = recalling.recall_pages(store, clock)
    assert page.withdrawn is not None and page.open == 0
    assert enter(kestrel, serial_from="2403-0510", serial_to="2403-0611").held_now == ("P-1010", "P-1011")


def test_as_of_the_position_before_there_was_no_recall(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    enter(kestrel)
    with pytest.raises(EntryRefused):
        recalling.recall_page(kestrel.store, kestrel.clock, NUMBER, before)
    then = summary.fleet_summary(kestrel.store, kestrel.clock, before)
    assert then.counts[BoardState.GROUNDED] == 0


def test_an_unknown_model_is_refused_with_what_is_on_record(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="K36-A, K48-B, S36-F"):
        enter(kestrel, models=("K36",))
    with kestrel.store.view() as view:
        assert recalling.models_of(view, "k36-a; K48-B") == ("K36-A", "K48-B")
