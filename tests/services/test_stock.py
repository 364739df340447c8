"""The small stock: in, out by a job, counted; never below zero without a word; what to order."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import parts
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fuses import Body, FuseSpec, FuseWork, Position
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.parts import PartMoved, StockMove
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import say
from fleetcare.services import fusing, record, stock, summary
from tests.kestrel import K36, MONDAY, Kestrel

D = Decimal
FUSE = Part(
    "S-01", PartKind.FUSE, "blade fuse 30 A", "FB-30-58", ("K36-A",), D("30"), D("58"), "type_c", reorder_level=2,
    location="drawer 2", price=D("2.40"),
)  # fmt: skip
SEAL = Part("S-06", PartKind.SEAL, "cover seal", "SL-36", reorder_level=0)


@pytest.fixture
def stocked(kestrel: Kestrel) -> Kestrel:
    """Three fuses and no seal on the shelf; the maker describes the fuse of K36-A."""
    model = replace(K36, fuse_a=D("30"), fuse_dc_v=D("58"))
    notes = ServiceNotes("K36-A", fuse_body="type_c")
    record.put_things(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", model), ("service_notes", notes)
    )
    for part in (FUSE, SEAL):
        stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), part)
    stock.book_in(kestrel.store, kestrel.clock, kestrel.author(), "S-01", 3, "note 7")
    return kestrel


def on_hand(kestrel: Kestrel, code: str = "S-01") -> int:
    with kestrel.store.view() as view:
        return stock.have(view, code)


def change_fuse(kestrel: Kestrel, part: str, **read: object) -> str:
    values: dict[str, object] = {"rated_a": D("30"), "dc_v": D("58"), "body": Body.TYPE_C} | read
    work = FuseWork("P-1002", "EB-12", kestrel.now, Position.DISCHARGE, False, fitted=FuseSpec(**values))  # type: ignore[arg-type]
    return say(fusing.record_fuse(kestrel.store, kestrel.clock, kestrel.author(), work, "B-01", part).message)


@given(st.lists(st.tuples(st.sampled_from(list(StockMove)), st.integers(1, 50))))
def test_on_hand_is_the_newest_count_and_what_came_and_went_since(moves: list[tuple[StockMove, int]]) -> None:
    made = [PartMoved("S-01", move, pieces, MONDAY, reason="so") for move, pieces in moves]
    last = max((n for n, (move, _) in enumerate(moves) if move is StockMove.COUNTED), default=-1)
    start = moves[last][1] if last >= 0 else 0
    rest = moves[last + 1 :]
    came = sum(pieces for move, pieces in rest if move is StockMove.BOOKED_IN)
    went = sum(pieces for move, pieces in rest if move is StockMove.BOOKED_OUT)
    assert parts.on_hand(made) == start + came - went


@given(st.integers(0, 40), st.integers(0, 40))
def test_a_part_is_ordered_at_its_level_and_never_above_it(level: int, have: int) -> None:
    order = parts.to_order(replace(FUSE, reorder_level=level), have)
    assert (order > 0) is (have <= level)
    assert have + order > level or level == 0


def test_a_fuse_change_books_the_fuse_out_and_names_its_number(stocked: Kestrel) -> None:
    said = change_fuse(stocked, "S-01")
    assert "1 × blade fuse 30 A, FB-30-58; 2 on hand" in said
    page = summary.pack_summary(stocked.store, stocked.clock, "P-1002")
    texts = [say(line.text) for line in page.events]
    assert any("1 × S-01 (FB-30-58) used on P-1002: fuse change" in text for text in texts)
    assert any("fitted" in text and "FB-30-58" in text for text in texts)
    with stocked.store.view() as view:
        (work,) = view.records_of("fuse", ("pack", "P-1002"))
        assert [(part.part_number, n) for part, n in stock.parts_used_by(view, work.record_id, "P-1002")] == [
            ("FB-30-58", 1)
        ]


def test_another_fuse_than_the_stocked_one_is_refused_with_both_numbers(stocked: Kestrel) -> None:
    other = replace(FUSE, code="S-02", part_number="FB-25-58", rated_a=D("25"))
    stock.put_part(stocked.store, stocked.clock, stocked.author(), other)
    stock.book_in(stocked.store, stocked.clock, stocked.author(), "S-02", 1)
    with pytest.raises(EntryRefused, match=r"25 A|25\.0 A") as refused:
        change_fuse(stocked, "S-02")
    assert "30" in str(refused.value) and on_hand(stocked, "S-02") == 1
    with pytest.raises(EntryRefused, match="not a fuse"):
        change_fuse(stocked, "S-06")
    with stocked.store.view() as view:
        assert view.records_of("fuse") == []


def test_the_shelf_never_goes_below_zero_without_a_count_and_its_reason(stocked: Kestrel) -> None:
    for _ in range(3):
        change_fuse(stocked, "S-01")
    with pytest.raises(EntryRefused, match="0 of S-01"):
        change_fuse(stocked, "S-01")
    with stocked.store.view() as view:
        assert len(view.records_of("fuse")) == 3
    with pytest.raises(EntryRefused, match="why the count differs"):
        stock.count(stocked.store, stocked.clock, stocked.author(), "S-01", 1, " ")
    said = stock.count(stocked.store, stocked.clock, stocked.author(), "S-01", 1, "one more behind the box")
    assert "said 0, the shelf has 1" in say(said.message)
    change_fuse(stocked, "S-01")
    lines = stock.move_lines(stocked.store, "S-01")
    assert [line.after for line in lines] == [0, 1, 0, 1, 2, 3]


def test_the_order_list_holds_what_is_at_its_level_with_what_it_costs(stocked: Kestrel) -> None:
    def order() -> list[tuple[str, int, Decimal | None]]:
        with stocked.store.view() as view:
            return [(line.part.code, line.order, line.cost) for line in stock.to_reorder(view)]

    assert order() == [("S-06", 1, None)]
    change_fuse(stocked, "S-01")
    assert order() == [("S-06", 1, None), ("S-01", 2, D("4.80"))]
    with stocked.store.view() as view:
        before = view.position
    stock.book_in(stocked.store, stocked.clock, stocked.author(), "S-01", 2)
    assert [code for code, *_ in order()] == ["S-06"]
    with stocked.store.view(before) as view:
        assert stock.have(view, "S-01") == 2 and len(stock.to_reorder(view)) == 2


def test_parts_are_for_people_who_may_check_and_need_their_number(stocked: Kestrel) -> None:
    with pytest.raises(NotAllowed):
        stock.book_in(stocked.store, stocked.clock, stocked.author("HALE"), "S-01", 1)
    with pytest.raises(EntryRefused, match="part number"):
        stock.put_part(stocked.store, stocked.clock, stocked.author(), replace(FUSE, part_number=" "))
    with pytest.raises(EntryRefused, match="no part S-99"):
        stock.book_in(stocked.store, stocked.clock, stocked.author(), "S-99", 1)
    with pytest.raises(EntryRefused, match="what it was used for"):
        stock.use(stocked.store, stocked.clock, stocked.author(), "S-01", 1, "")
