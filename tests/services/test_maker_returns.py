"""At the maker: return number and overdue, back as repaired, replaced, unchanged or not at all, first checks."""

import datetime as dt

import pytest

from fleetcare.domain.away import BackAs, CameBack, SentToMaker
from fleetcare.domain.checks import CheckKind, HoldClass, LookItem, LookOver, Release, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.quarantine import TransportHead
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import say
from fleetcare.services import identify, maker_returns, record, summary
from fleetcare.services.maker_returns import FirstPapers
from tests.kestrel import MONDAY, D, Kestrel

HEADS = tuple((head.value, "cannot_say") for head in TransportHead)


def send(kestrel: Kestrel, pack: str = "P-1011", by: str = "DUNN", **change: object) -> str:
    values = {"maker": "Northfield Packs", "return_number": "RN-5", "carrier": "Northfield Carriers",
              "expected_on": dt.date(2026, 11, 16)} | change  # fmt: skip
    sent = SentToMaker(pack, kestrel.now, **values)  # type: ignore[arg-type]
    return say(maker_returns.record_sent(kestrel.store, kestrel.clock, kestrel.author(by), sent).message)


def back(
    kestrel: Kestrel, outcome: BackAs, pack: str = "P-1011", *, by: str = "DUNN", badge: str = "B-01", **change: object
) -> str:
    values: dict[str, object] = {"report": "REP-1", "work": "display board"} | change
    made = CameBack(pack, kestrel.now, outcome, **values)  # type: ignore[arg-type]
    author = kestrel.author(by)
    return say(maker_returns.record_back(kestrel.store, kestrel.clock, author, made, "Rack 1", badge=badge).message)


def first(kestrel: Kestrel, pack: str, rested: str = "41.60", loaded: str | None = "40.40", **change: object) -> str:
    check = VoltageCheck(
        pack, CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D(rested), kestrel.now, "M-01", None,
        None if loaded is None else D(loaded), None if loaded is None else D("8"), 10, D("20"),
    )  # fmt: skip
    values: dict[str, object] = {"marks": ("EN 62133-2",), "warranty_clause": "none", "charger": "C-36-1",
                                 "no_photo_reason": "label as before"} | change  # fmt: skip
    papers = FirstPapers(pack, **values)  # type: ignore[arg-type]
    look = LookOver(pack, kestrel.now)
    done = maker_returns.record_first_checks(
        kestrel.store, kestrel.clock, kestrel.author(), "B-01", papers, check, look
    )
    return say(done.message)


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def test_a_pack_at_its_maker_is_not_usable_and_overdue_ones_lead_the_list(kestrel: Kestrel) -> None:
    assert "return number RN-5" in send(kestrel)
    send(kestrel, "P-1012", expected_on=dt.date(2026, 11, 9))
    assert state(kestrel, "P-1011") is PackState.AWAY
    with pytest.raises(EntryRefused, match="sent to its maker"):
        kestrel.check("P-1011", "41.60")
    for day, late in ((9, [0, 0]), (10, [1, 0]), (17, [8, 1])):
        with kestrel.store.view() as view:
            lines = maker_returns.maker_lines(view, MONDAY.replace(day=day))
        assert {line.person for line in lines} == {"Dunn"}
        assert [line.overdue_days for line in lines] == late
        assert [line.pack for line in lines] == ["P-1012", "P-1011"]


def test_a_return_number_and_the_level_are_needed_and_a_quarantined_pack_its_six_heads(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="return number"):
        send(kestrel, return_number=" ")
    with pytest.raises(EntryRefused, match="before it leaves"):
        send(kestrel, expected_on=dt.date(2026, 11, 1))
    with pytest.raises(NotAllowed):
        send(kestrel, by="FARROW")
    look = LookOver("P-1011", kestrel.now, None, (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    with pytest.raises(EntryRefused, match="point 1"):
        send(kestrel)
    send(kestrel, heads=HEADS)


def test_a_repaired_pack_is_fitted_only_after_its_first_checks(kestrel: Kestrel) -> None:
    look = LookOver("P-1011", kestrel.now, None, (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    kestrel.now = MONDAY + dt.timedelta(hours=2)
    send(kestrel, heads=HEADS)
    kestrel.now = MONDAY + dt.timedelta(days=10)
    with pytest.raises(EntryRefused, match="what the maker says was done"):
        back(kestrel, BackAs.REPAIRED, work="")
    assert "not fitted before its first checks" in back(kestrel, BackAs.REPAIRED)
    with pytest.raises(EntryRefused, match="EB-12"):
        identify.pair(kestrel.store, "EB-12", "P-1011")
    with pytest.raises(EntryRefused, match="loaded"):
        first(kestrel, "P-1011", loaded=None)
    with pytest.raises(NotAllowed, match="54"):
        first(kestrel, "P-1011", charger="C-48-1")
    kestrel.now += dt.timedelta(minutes=5)
    kestrel.check("P-1011", "41.60")
    with kestrel.store.view() as view:
        waits = maker_returns.first_checks_of(view, "P-1011")
    assert waits is not None
    with pytest.raises(NotAllowed, match="first checks alone"):
        record.release_hold(
            kestrel.store, kestrel.clock, kestrel.author(), Release(waits.hold_id, kestrel.now, "looks fine")
        )
    kestrel.now += dt.timedelta(minutes=5)
    assert "may be fitted" in first(kestrel, "P-1011")
    assert state(kestrel, "P-1011") is PackState.READY
    with kestrel.store.view() as view:
        assert view.open_holds(("pack", "P-1011")) == []
    assert identify.pair(kestrel.store, "EB-12", "P-1011").occupants == ("P-1002",)
    texts = [say(line.text) for line in summary.pack_summary(kestrel.store, kestrel.clock, "P-1011").events]
    assert any("report REP-1: display board" in text for text in texts)
    with pytest.raises(EntryRefused, match="no first checks open"):
        first(kestrel, "P-1011")


def test_first_checks_that_do_not_pass_leave_it_held(kestrel: Kestrel) -> None:
    send(kestrel)
    back(kestrel, BackAs.REPAIRED)
    kestrel.now += dt.timedelta(minutes=5)
    assert "stays held" in first(kestrel, "P-1011", rested="39.00", loaded="37.00")
    assert state(kestrel, "P-1011") is PackState.HELD


def test_a_replacement_is_an_identity_of_its_own_and_the_old_label_never_returns(kestrel: Kestrel) -> None:
    send(kestrel)
    kestrel.now = MONDAY + dt.timedelta(days=8)
    for wrong, words in (
        ({"replacement": None}, "new label code"),
        ({"replacement": "P-1050"}, "serial on the case"),
        ({"replacement": "P-1050", "replacement_serial": "2403-0611"}, "repaired or is unchanged"),
        ({"replacement": "P-1050", "replacement_serial": "2403-0502"}, "P-1002"),
        ({"replacement": "P-1012", "replacement_serial": "2610-0001"}, "P-1012"),
    ):
        with pytest.raises(EntryRefused, match=words):
            back(kestrel, BackAs.REPLACED, work="", **wrong)
    assert state(kestrel, "P-1011") is PackState.AWAY
    said = back(kestrel, BackAs.REPLACED, work="", replacement="P-1050", replacement_serial="2610-0001")
    assert "P-1011 is closed" in said and "P-1050" in said
    assert state(kestrel, "P-1011") is PackState.RETIRED and state(kestrel, "P-1050") is PackState.HELD
    with pytest.raises(EntryRefused, match="ALARM"):
        identify.as_pack(identify.identify(kestrel.store, "P-1011"))
    with pytest.raises(EntryRefused, match="EB-12"):
        identify.pair(kestrel.store, "EB-12", "P-1050")
    with pytest.raises(EntryRefused, match="mark"):
        first(kestrel, "P-1050", marks=())
    kestrel.now += dt.timedelta(minutes=5)
    first(kestrel, "P-1050")
    assert state(kestrel, "P-1050") is PackState.READY
    for code in ("P-1011", "P-1050"):
        texts = [say(line.text) for line in summary.pack_summary(kestrel.store, kestrel.clock, code).events]
        assert any("the maker kept P-1011 and sent P-1050, serial 2610-0001" in text for text in texts), code
    new = summary.pack_summary(kestrel.store, kestrel.clock, "P-1050")
    assert len(new.checks) == 1 and new.pack.in_service_on == kestrel.now.date()


def test_unchanged_comes_back_held_and_kept_is_closed(kestrel: Kestrel) -> None:
    send(kestrel)
    back(kestrel, BackAs.UNCHANGED, work="")
    with kestrel.store.view() as view:
        assert [h.hold_class for h in view.open_holds(("pack", "P-1011"))] == [HoldClass.FAULT]
    send(kestrel, "P-1012")
    back(kestrel, BackAs.KEPT, "P-1012", work="")
    assert state(kestrel, "P-1012") is PackState.RETIRED
    with pytest.raises(EntryRefused, match="not on record as sent"):
        back(kestrel, BackAs.REPAIRED, "P-1013")


def test_what_the_maker_kept_or_replaced_is_written_off_by_somebody_who_may_and_shows_it(kestrel: Kestrel) -> None:
    send(kestrel)
    other = {"work": "", "replacement": "P-1050", "replacement_serial": "2610-0001"}
    for outcome, change in ((BackAs.KEPT, {"work": ""}), (BackAs.REPLACED, other)):
        with pytest.raises(NotAllowed, match="that is for a manager, or somebody who may reset and release"):
            back(kestrel, outcome, by="FARROW", badge="B-03", **change)
        for wrong in ("", "B-03"):
            with pytest.raises(NotAllowed, match="own badge or PIN"):
                back(kestrel, outcome, badge=wrong, **change)
    assert state(kestrel, "P-1011") is PackState.AWAY
    assert "not fitted before" in back(kestrel, BackAs.REPAIRED, by="FARROW", badge="")
    send(kestrel, "P-1012", by="ORMOND")
    back(kestrel, BackAs.KEPT, "P-1012", by="ORMOND", badge="B-05", work="")
    assert state(kestrel, "P-1012") is PackState.RETIRED


def test_whoever_may_not_send_reads_who_may(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="may not send a pack to its maker: that is for a manager"):
        send(kestrel, by="FARROW")
