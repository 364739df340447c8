"""Between depots: what may not go is refused with its reason, marks are those of ADR 2025, arrival changes the depot."""

import datetime as dt
from pathlib import Path

import pypdf
import pytest

from fleetcare.domain import vans
from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Depot, PackStanding, VehicleStanding
from fleetcare.domain.status import PackState
from fleetcare.domain.vans import UN_FITTED, UN_LOOSE
from fleetcare.domain.water import WaterKind, Wetted
from fleetcare.domain.wording import msg, say
from fleetcare.reports import every_sheet
from fleetcare.reports.every_sheet import Order
from fleetcare.services import history, labelling, record, summary, van_lists, watering
from fleetcare.services.history_lines import Asked
from fleetcare.services.telling import line_text
from fleetcare.services.van_lists import Listed, ToLoad
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, Kestrel


@pytest.fixture
def depots(kestrel: Kestrel) -> Kestrel:
    """A second depot."""
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", Depot("HY", "Heron Yard")))
    return kestrel


def listed(kestrel: Kestrel, *codes: str) -> tuple[Listed, ...]:
    made: list[Listed] = []
    for code in codes:
        made.append(van_lists.listed(kestrel.store, code, "KW", made))
    return tuple(made)


def load(kestrel: Kestrel, *codes: str, covered: bool = True, driver: str = "Pike") -> str:
    given = ToLoad("KW", "HY", driver, listed(kestrel, *codes), covered)
    return van_lists.record_loaded(kestrel.store, kestrel.clock, kestrel.author("HALE"), given)[1]


def test_no_held_quarantined_or_wet_pack_goes_on_a_van(depots: Kestrel) -> None:
    look = LookOver("P-1009", depots.now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(depots.store, depots.clock, depots.author(), look)
    hold = Hold("pack", "P-1011", HoldClass.UNKNOWN, depots.now, msg("ground.by_person"), "rattles")
    record.set_hold(depots.store, depots.clock, depots.author(), hold)
    ground = Hold("vehicle", "EB-15", HoldClass.FAULT, depots.now, msg("ground.by_person"), "brake")
    record.set_hold(depots.store, depots.clock, depots.author(), ground)
    wet = Wetted("P-1003", "EB-13", depots.now, WaterKind.DEW)
    watering.record_water(depots.store, depots.clock, depots.author(), wet)
    for code, words in (
        ("P-1009", "P-1009 is held"), ("EB-19", "P-1009 in EB-19 is held"), ("P-1011", "rattles"), 
        ("EB-15", "EB-15 is grounded"), ("P-1003", "not noted as dry"), ("C-36-1", "charger"), ("P-1399", "P-13"),
    ):  # fmt: skip
        with pytest.raises(EntryRefused, match=words):
            listed(depots, code)


def test_a_list_has_each_thing_once_a_driver_and_covered_contacts(depots: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="already"):
        listed(depots, "EB-12", "P-1002")
    with pytest.raises(EntryRefused, match="2 loose packs"):
        load(depots, "P-1011", "P-1012", covered=False)
    with pytest.raises(EntryRefused, match="drives"):
        load(depots, "P-1011", driver="")
    with pytest.raises(EntryRefused, match="Nothing is on the list"):
        load(depots)
    with pytest.raises(EntryRefused, match="same depot"):
        given = ToLoad("KW", "KW", "Pike", listed(depots, "P-1011"), True)
        van_lists.record_loaded(depots.store, depots.clock, depots.author(), given)
    with depots.store.view() as view:
        assert view.records_of("van_loaded") == []


def test_a_pack_that_was_held_since_it_was_scanned_is_refused_when_the_van_leaves(depots: Kestrel) -> None:
    items = listed(depots, "P-1011")
    hold = Hold("pack", "P-1011", HoldClass.UNKNOWN, depots.now, msg("ground.by_person"), "rattles")
    record.set_hold(depots.store, depots.clock, depots.author(), hold)
    with pytest.raises(EntryRefused, match="rattles"):
        given = ToLoad("KW", "HY", "Pike", items, True)
        van_lists.record_loaded(depots.store, depots.clock, depots.author(), given)


def test_loose_packs_and_fitted_ones_have_their_own_marks_and_are_away_on_the_way(depots: Kestrel) -> None:
    number = load(depots, "CB-01", "P-1011")
    page = van_lists.van_page(depots.store, depots.clock, number)
    assert {line.pack: line.mark for line in page.loaded.lines} == {
        "P-1301": UN_FITTED, "P-1302": UN_FITTED, "P-1011": UN_LOOSE,
    }  # fmt: skip
    assert page.open == ("CB-01", "P-1301", "P-1302", "P-1011")
    fleet = summary.fleet_summary(depots.store, depots.clock)
    assert fleet.away_told is not None and "CB-01 on the way between depots" in say(fleet.away_told)
    assert summary.pack_summary(depots.store, depots.clock, "P-1011").status.state is PackState.AWAY
    with pytest.raises(EntryRefused, match="on a van"):
        depots.check("P-1011", "41.50")


def test_a_loose_pack_on_the_way_is_told_on_its_van_list_and_on_no_shelf(depots: Kestrel, tmp_path: Path) -> None:
    """On its page, its label, its sheets and in its history alike."""
    number = load(depots, "P-1011")
    page = summary.pack_summary(depots.store, depots.clock, "P-1011")
    told = [line_text(one) for one in page.events]
    with history.reading(depots.store, depots.clock, Asked("pack", "P-1011", MONDAY.date(), MONDAY.date())) as read:
        whole = read.whole()
        told += [say(one) for one in (*whole.ends, *whole.stays)]
    told.append(say(labelling.label_of(depots.store, "P-1011").where))
    every_sheet.write(Order("pack", "A4", "Hale", MONDAY, "P-1011"), depots.store, depots.clock, tmp_path / "s.pdf")
    told.append(" ".join(pypdf.PdfReader(tmp_path / "s.pdf").pages[0].extract_text().split()))
    assert not [one for one in told if f"shelf {number}" in one]
    assert len([one for one in told if f"on van list {number}" in one]) >= 5
    assert (
        not vans.is_list_number("Store shelf A") and not vans.is_list_number("V-1") and vans.is_list_number("V-12345")
    )


def test_arrival_changes_depot_and_shelf_and_what_is_missing_stays_on_the_way(depots: Kestrel) -> None:
    number = load(depots, "CB-01", "P-1011", "P-1012")
    depots.now = MONDAY + dt.timedelta(hours=3)

    def arrive(*codes: str, shelf: str = "HY rack 2") -> str:
        author = depots.author("HALE")
        done = van_lists.record_arrived(depots.store, depots.clock, author, number, codes, shelf)
        return say(done.message)

    with pytest.raises(EntryRefused, match="which shelf"):
        arrive("P-1011", shelf="")
    with pytest.raises(EntryRefused, match="not on van list"):
        arrive("P-1013")
    assert "Not on it: P-1012" in arrive("CB-01", "P-1301", "P-1302", "P-1011")
    with depots.store.view() as view:
        assert view.thing("vehicle", "CB-01").depot == "HY"
        assert view.thing("vehicle", "CB-01").standing is VehicleStanding.IN_FLEET
        assert van_lists.depot_of(view, view.thing("pack", "P-1301")) == "HY"
        assert view.thing("pack", "P-1011").depot == "HY"
        assert view.thing("pack", "P-1012").standing is PackStanding.ON_THE_WAY
    page = summary.pack_summary(depots.store, depots.clock, "P-1011")
    assert (page.status.state, page.shelf) == (PackState.READY, "HY rack 2")
    (van,) = van_lists.van_pages(depots.store, depots.clock)
    assert van.open == ("P-1012",)
    with pytest.raises(EntryRefused, match="stands at HY"):
        listed(depots, "P-1011")
    arrive("P-1012")
    assert van_lists.van_pages(depots.store, depots.clock) == ()
    assert len(van_lists.van_pages(depots.store, depots.clock, only_open=False)) == 1


def test_a_recalled_pack_is_refused_as_recalled(depots: Kestrel) -> None:
    with depots.store.transaction() as tx:
        held = Hold(
            "pack", "P-1012", HoldClass.DANGER, depots.now, msg("recall.held", number="N-1", serial="2403-0612")
        )
        Writer(tx, depots.author(), depots.now).add("hold", held, depots.now)
    with pytest.raises(EntryRefused, match="named in a recall"):
        listed(depots, "P-1012")
