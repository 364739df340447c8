"""Packs put away in a real fleet file: rate, what is usual, refusals, and nothing of today changes yesterday."""

import datetime as dt
from dataclasses import replace

import pytest

from fleetcare.domain.checks import CheckKind, RestBand
from fleetcare.domain.packs import Pack
from fleetcare.domain.self_discharge import Compared
from fleetcare.domain.wording import say
from fleetcare.services import facts, record, storage, summary
from fleetcare.services.renewal import renewal
from tests.kestrel import K36, MONDAY, D, Kestrel

DAYS = (-49, -35, -21, -7)


def put_away(kestrel: Kestrel, pack: str, loss_v: float, start_v: float = 38.20) -> None:
    for day in DAYS:
        volts = f"{start_v - loss_v * (day + 49):.2f}"
        kestrel.check(pack, volts, at=MONDAY + dt.timedelta(days=day), kind=CheckKind.STORED, rest=RestBand.OVERNIGHT,
                      bench="16")  # fmt: skip


@pytest.fixture
def shelf(kestrel: Kestrel) -> Kestrel:
    """Eight spare packs on the shelf for seven weeks; S-08 loses three times what the others do."""
    things = [("pack", Pack(f"S-{n:02d}", "K36-A", f"2404-{n}", shelf="Store")) for n in range(1, 9)]
    record.put_things(kestrel.store, lambda: MONDAY - dt.timedelta(days=55), kestrel.author("ORMOND"), *things)
    for n in range(1, 8):
        put_away(kestrel, f"S-{n:02d}", 0.008 + 0.0004 * (n - 4))
    put_away(kestrel, "S-08", 0.025)
    return kestrel


def stored(kestrel: Kestrel, code: str) -> storage.Stored:
    with kestrel.store.view() as view:
        return storage.stored_pack(view, facts.read_facts(view), code, kestrel.clock())


def test_a_leaking_pack_is_told_from_the_others(shelf: Kestrel) -> None:
    leak, sound = stored(shelf, "S-08"), stored(shelf, "S-04")
    assert leak.compared is Compared.FASTER and leak.leaks and "faster than usual" in say(leak.sentence)
    assert sound.compared is Compared.USUAL and "7 packs like it" in say(sound.sentence)
    assert "25.0 ±" in say(leak.sentence)


def test_few_packs_make_no_usual_and_a_pack_in_use_none_at_all(kestrel: Kestrel) -> None:
    things = [("pack", Pack("S-01", "K36-A", "2404-1", shelf="Store"))]
    record.put_things(kestrel.store, lambda: MONDAY - dt.timedelta(days=55), kestrel.author("ORMOND"), *things)
    put_away(kestrel, "S-01", 0.008)
    alone = stored(kestrel, "S-01")
    assert alone.compared is Compared.NO_NORMAL and "0 of 5 other packs" in say(alone.sentence)
    in_use = stored(kestrel, "P-1001")
    assert in_use.rate.refusal is not None and "0 of 3" in say(in_use.sentence)


def test_a_pack_that_runs_low_in_store_within_the_quarter_stands_in_the_review(shelf: Kestrel) -> None:
    banded = replace(K36, storage_low_v=D("36.00"), storage_high_v=D("39.00"))
    fresh = Pack("S-09", "K36-A", "2404-9", shelf="Store")
    record.put_things(shelf.store, shelf.clock, shelf.author("ORMOND"), ("pack_model", banded), ("pack", fresh))
    put_away(shelf, "S-09", 0.012, 36.90)
    found = {one.pack: one for one in renewal(shelf.store, shelf.clock).running_low}
    early = stored(shelf, "S-09").reaches[0]
    assert early is not None and found["S-09"].early_date == early
    told = say(found["S-09"].told)
    assert (
        told.startswith("S-09: from ")
        and "at its rate in storage, be at 36.00 V" in told
        and "nothing is bought" in told
    )
    last = MONDAY.date() + dt.timedelta(days=91)
    for code in (f"S-{n:02d}" for n in range(1, 10)):
        reaches = stored(shelf, code).reaches[0]
        assert (code in found) == (reaches is not None and reaches <= last), code


def test_the_pack_page_has_it_as_a_quantity_of_its_own(shelf: Kestrel) -> None:
    page = summary.pack_summary(shelf.store, shelf.clock, "S-08")
    by_quantity = {p.quantity: p for p in page.projections}
    told = by_quantity["stored_v"]
    assert told.projected and {r.kind for r in told.used} == {"stored"} and len(told.used) == 4
    assert by_quantity["rested_full_v"].comparable_checks == 0
    in_use = summary.pack_summary(shelf.store, shelf.clock, "P-1001")
    assert "stored_v" not in {p.quantity for p in in_use.projections}


def test_what_was_known_last_month_does_not_change(shelf: Kestrel) -> None:
    with shelf.store.view() as view:
        position = view.position

    def then() -> object:
        return summary.pack_summary(shelf.store, shelf.clock, "S-08", position).projections

    before = then()
    late = MONDAY - dt.timedelta(days=1)
    shelf.check("S-08", "36.90", at=late, kind=CheckKind.STORED, rest=RestBand.OVERNIGHT, bench="16")
    shelf.check("S-03", "36.10", at=late, kind=CheckKind.STORED, rest=RestBand.OVERNIGHT, bench="16")
    assert then() == before
    assert summary.pack_summary(shelf.store, shelf.clock, "S-08").projections != before
