"""Fuse deeds: who may, what is refused, and the second blown fuse at the edges of its window."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fuses import Body, FuseSpec, FuseWork, Position
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import fusing, record, summary
from tests.kestrel import K36, Kestrel

D = Decimal
GOOD = FuseSpec(D("30"), D("58"), Body.TYPE_C, "FB-30-58")


def noted(kestrel: Kestrel) -> None:
    model = replace(K36, fuse_a=D("30"), fuse_dc_v=D("58"), bms_limit_a=D("20"))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", model),
                      ("service_notes", ServiceNotes("K36-A", fuse_body="type_c")))  # fmt: skip


def blow(kestrel: Kestrel, days_ago: int = 0, *, by: str = "DUNN", badge: str = "B-01", fitted: FuseSpec | None = GOOD,
         cause: str = "lead pinched under rack", pack: str = "P-1008", vehicle: str | None = "EB-18") -> str:  # fmt: skip
    at = kestrel.now - dt.timedelta(days=days_ago)
    work = FuseWork(pack, vehicle, at, Position.DISCHARGE, True, cause, False, fitted)
    return say(fusing.record_fuse(kestrel.store, kestrel.clock, kestrel.author(by), work, badge).message)


def test_a_trainee_notes_the_blown_fuse_and_a_competent_mechanic_changes_it(kestrel: Kestrel) -> None:
    noted(kestrel)
    blow(kestrel, by="FARROW", fitted=None)
    with pytest.raises(NotAllowed, match="may reset and release"):
        blow(kestrel, by="FARROW", badge="B-03")
    with pytest.raises(NotAllowed, match="own badge"):
        blow(kestrel, badge="B-03")
    for wrong, words in ((replace(GOOD, dc_v=D("32")), "32 V DC is below .* 42.0"), (replace(GOOD, rated_a=D("40")), "above"),
                         (replace(GOOD, body=Body.TYPE_F), "another body")):  # fmt: skip
        with pytest.raises(EntryRefused, match=words):
            blow(kestrel, fitted=wrong)
    with pytest.raises(EntryRefused, match="cause"):
        blow(kestrel, cause=" ")


@pytest.mark.parametrize(("days", "held"), [(30, True), (31, False)])
def test_a_second_blown_fuse_in_the_window_pulls_the_pack_and_grounds_the_vehicle(
    kestrel: Kestrel, days: int, held: bool
) -> None:
    noted(kestrel)
    blow(kestrel, days)
    blow(kestrel)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1008")
    line = summary.vehicle_page(kestrel.store, kestrel.clock, "EB-18").line
    assert (page.status.state is PackState.HELD) is held
    assert (line.status.state is BoardState.GROUNDED) is held
    told = " ".join(say(event.text) for event in page.events)
    assert "blown, cause: lead pinched under rack; fitted 30" in told
    with kestrel.store.view() as view:
        own = view.open_holds(("vehicle", "EB-18"))
    assert bool(own) is held
    assert kestrel.store.verify().good


def test_a_model_without_the_makers_fuse_takes_none(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="not on record"):
        blow(kestrel)


def state(kestrel: Kestrel, pack: str = "P-1008") -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def test_the_second_blow_grounds_the_vehicle_that_the_pack_is_recorded_in_when_nobody_names_one(
    kestrel: Kestrel,
) -> None:
    noted(kestrel)
    blow(kestrel, 30, vehicle=None)
    assert "EB-18 is grounded" in blow(kestrel, vehicle=None)
    line = summary.vehicle_page(kestrel.store, kestrel.clock, "EB-18").line
    assert line.status.state is BoardState.GROUNDED


def test_a_blown_fuse_holds_its_pack_while_none_is_fitted_or_its_cause_is_not_known(kestrel: Kestrel) -> None:
    noted(kestrel)
    assert "P-1008 is held: blown fuse, none fitted yet" in blow(kestrel, by="FARROW", fitted=None)
    assert state(kestrel) is PackState.HELD
    work = FuseWork("P-1007", "EB-17", kestrel.now, Position.DISCHARGE, True, "", True, GOOD)
    done = fusing.record_fuse(kestrel.store, kestrel.clock, kestrel.author(), work, "B-01")
    assert "P-1007 is held: blown fuse, and its cause was not found" in say(done.message)
    blow(kestrel, pack="P-1006", vehicle="EB-16")
    assert state(kestrel, "P-1006") is PackState.DUE, "changed, cause found: a check is due at once"


def test_a_blow_entered_late_counts_with_the_one_that_came_after_it(kestrel: Kestrel) -> None:
    noted(kestrel)
    blow(kestrel)
    assert "2 blown fuses of P-1008 within 30 days" in blow(kestrel, 30)


def test_no_fuse_is_fitted_here_to_a_pack_above_60_v(kestrel: Kestrel) -> None:
    """60 V DC as the end of voltage class A: EN 50604-1."""
    high = replace(K36, series_count=16, full_v=D("67.2"), fuse_a=D("30"), bms_limit_a=D("20"))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", high),
                      ("service_notes", ServiceNotes("K36-A", fuse_body="type_c")))  # fmt: skip
    with pytest.raises(NotAllowed, match=r"67\.20 V, above 60\.00 V DC: not for this bench job"):
        blow(kestrel, fitted=replace(GOOD, dc_v=D("80")))
    blow(kestrel, fitted=None)
