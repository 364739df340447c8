"""A connector is replaced with both halves, a display only where its maker describes it; nothing goes out unchecked."""

from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.replacing import FittedPart, PartReplaced, Replaced
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import record, replacing, stock, summary
from fleetcare.services.shown import Recorded
from tests.kestrel import K36, Kestrel

D = Decimal
PARTS = (
    Part("S-04", PartKind.CONNECTOR, "connector K2, pack", "CN-K2-P", ("K2",), half="pack"),
    Part("S-05", PartKind.CONNECTOR, "connector K2, vehicle", "CN-K2-V", ("K2",), half="vehicle"),
    Part("S-06", PartKind.SEAL, "cover seal", "SL-36"),
    Part("S-07", PartKind.DISPLAY_BOARD, "display board", "DB-36", ("K36-A",)),
    Part("S-08", PartKind.CONNECTOR, "connector K4, set", "CN-K4", ("K4",)),
)
BOTH = (FittedPart("S-04", "CN-K2-P"), FittedPart("S-05", "CN-K2-V"))


@pytest.fixture
def bench(kestrel: Kestrel) -> Kestrel:
    """Two of each part in stock; the maker of K36-A describes connector and display board."""
    notes = ServiceNotes("K36-A", connector_by_workshop=True, board_by_workshop=True)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("service_notes", notes))
    for part in PARTS:
        stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), part)
        stock.book_in(kestrel.store, kestrel.clock, kestrel.author(), part.code, 2)
    return kestrel


def work(kestrel: Kestrel, **change: object) -> PartReplaced:
    made = PartReplaced(
        "P-1002", "EB-12", kestrel.now, Replaced.CONNECTOR, BOTH, "SL-36", D("41.30"), D("41.31"), "M-01", D("180"),
        D("22"), D("8"),
    )  # fmt: skip
    return replace(made, **change)


def keep(kestrel: Kestrel, made: PartReplaced, by: str = "DUNN", badge: str = "B-01") -> Recorded:
    return replacing.record_replacement(kestrel.store, kestrel.clock, kestrel.author(by), made, badge, "S-06")


def test_both_halves_leave_the_stock_together_and_hold_both_until_the_next_check(bench: Kestrel) -> None:
    said = say(keep(bench, work(bench)).message)
    assert "connector, both halves replaced" in said and "P-1002 is held" in said and "EB-12 is grounded" in said
    with bench.store.view() as view:
        assert [stock.have(view, code) for code in ("S-04", "S-05", "S-06")] == [1, 1, 1]
        (line,) = replacing.replacements(view)
    text = say(line.text)
    assert "CN-K2-P" in text and "CN-K2-V" in text and "41.30 V before, 41.31 V after" in text and "SL-36" in text
    page = summary.pack_summary(bench.store, bench.clock, "P-1002")
    assert page.status.state is PackState.HELD and any(say(line.text) == text for line in page.events)
    vehicle = summary.vehicle_page(bench.store, bench.clock, "EB-12")
    assert vehicle.line.status.state is BoardState.GROUNDED and any(say(e.text) == text for e in vehicle.events)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"vehicle": None}, "Both halves"),
        ({"parts": BOTH[:1]}, "needs both halves"),
        ({"parts": (FittedPart("S-08", "CN-K4"),)}, "fits K4"),
        ({"parts": (FittedPart("S-07", "DB-36"),)}, "not a connector"),
        ({"parts": ()}, "Choose the part"),
        ({"seal": ""}, "which seal"),
        ({"drop_after_mv": None}, "before and after"),
        ({"what": Replaced.DISPLAY_PACK, "parts": (FittedPart("S-07", "DB-36"),)}, "display board is blamed last"),
    ],
)
def test_what_is_missing_is_refused_and_nothing_leaves_the_stock(
    bench: Kestrel, change: dict[str, object], words: str
) -> None:
    with pytest.raises(EntryRefused, match=words):
        keep(bench, work(bench, **change))
    with bench.store.view() as view:
        assert all(stock.have(view, part.code) == 2 for part in PARTS) and view.records_of("part_replaced") == []


def test_the_packs_half_is_the_makers_where_no_note_says_otherwise_and_above_60_v(bench: Kestrel) -> None:
    author = bench.author("ORMOND")
    record.put_things(bench.store, bench.clock, author, ("service_notes", ServiceNotes("K36-A")))
    with pytest.raises(EntryRefused, match="Send the pack to its maker"):
        keep(bench, work(bench))
    notes = ServiceNotes("K36-A", connector_by_workshop=True)
    high = replace(K36, full_v=D("67.2"))
    record.put_things(bench.store, bench.clock, author, ("service_notes", notes), ("pack_model", high))
    with pytest.raises(EntryRefused, match=r"Packs above 60 V|60\.00 V"):
        keep(bench, work(bench))


def test_a_reading_that_moved_or_a_drop_that_grew_points_at_the_work(bench: Kestrel) -> None:
    said = say(keep(bench, work(bench, after_v=D("40.70"))).message)
    assert "41.30 V before and 40.70 V after" in said
    worse = work(bench, pack="P-1003", vehicle="EB-13", drop_after_mv=D("190"))
    assert "180 mV before and 190 mV after at 8.0 A" in say(keep(bench, worse).message)


def test_it_needs_the_level_the_own_badge_and_no_danger(bench: Kestrel) -> None:
    with pytest.raises(NotAllowed):
        keep(bench, work(bench), "FARROW", "B-03")
    with pytest.raises(NotAllowed, match="own badge"):
        keep(bench, work(bench), badge="B-02")


def test_a_display_on_the_vehicle_grounds_the_vehicle_alone(bench: Kestrel) -> None:
    made = work(
        bench, pack=None, what=Replaced.DISPLAY_VEHICLE, parts=(FittedPart("S-07", "DB-36"),), tried_good=True,
        drop_before_mv=None, drop_after_mv=None, load_a=None,
    )  # fmt: skip
    with pytest.raises(EntryRefused, match="fits K36-A"):
        keep(bench, made)
    board = replace(PARTS[3], fits=("EB-12",))
    stock.put_part(bench.store, bench.clock, bench.author(), board)
    keep(bench, made)
    with bench.store.view() as view:
        assert view.open_holds(("pack", "P-1002")) == [] and len(view.open_holds(("vehicle", "EB-12"))) == 1
