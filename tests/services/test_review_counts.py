"""What the review buys, and what it says that its numbers leave open."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from fleetcare.domain.packs import Chemistry, Pack
from fleetcare.domain.wording import say
from fleetcare.services import record, summary
from fleetcare.services.needing import ModelNeed, NamedPack
from fleetcare.services.renewal import renewal
from tests.kestrel import K36, MONDAY, D, Kestrel, build
from tests.quarter import FIRST, loaded


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Kestrel]:
    kestrel = build(tmp_path / "counts.fleet", checked_days_ago=58)
    yield kestrel
    kestrel.store.close()


def need_of(kestrel: Kestrel, model: str) -> ModelNeed:
    return next(one for one in renewal(kestrel.store, kestrel.clock).needs if one.code == model)


def named_of(need: ModelNeed) -> dict[str, NamedPack]:
    return {one.code: one for one in need.quarters[0].named}


def test_three_readings_alike_that_pull_are_the_packs_own_and_it_is_bought(made: Kestrel) -> None:
    for week in range(8):
        loaded(made, "P-1005", "1.20", FIRST + dt.timedelta(days=7 * week), "41.65")
    for hours in (1, 2, 3):
        made.check("P-1005", "39.42", at=MONDAY + dt.timedelta(hours=hours))
    made.now = MONDAY + dt.timedelta(days=1)
    made.check("P-1005", "39.44")
    first = renewal(made.store, made.clock)
    assert named_of(need_of(made, "K36-A"))["P-1005"].chance < 0.2, "one evening is one charge that was not finished"
    assert [one.pack for one in first.suspects] == ["P-1005"] * 4
    made.now = MONDAY + dt.timedelta(days=2)
    made.check("P-1005", "39.45")
    third = renewal(made.store, made.clock)
    assert named_of(need_of(made, "K36-A"))["P-1005"].chance == 1.0
    assert third.in_doubt_told == () and third.suspects == (), "it was measured again on two further days"
    made.now = MONDAY + dt.timedelta(days=3)
    made.check("P-1005", "41.62")
    assert named_of(need_of(made, "K36-A")).get("P-1005") is None, "it passed since"


def test_flat_volts_on_their_way_down_buy_nothing_either(made: Kestrel) -> None:
    flat = replace(
        K36, code="F36", name="F36", chemistry=Chemistry.LFP, series_count=12, full_v=D("43.2"), price=D("385"),
        currency="GBP",
    )  # fmt: skip
    record.put_things(
        made.store, lambda: FIRST - dt.timedelta(days=5), made.author("ORMOND"), ("pack_model", flat),
        *(("pack", Pack(f"P-109{n}", "F36", f"2609-{n}", shelf="Store")) for n in (7, 8, 9)),
    )  # fmt: skip
    for week in range(8):
        at = FIRST + dt.timedelta(days=7 * week)
        for number, lost in ((7, 0.0), (8, 0.0), (9, 0.10)):
            rested = f"{40.60 + 0.01 * (week % 2) - lost * week:.2f}"
            made.check(f"P-109{number}", rested, at=at + dt.timedelta(minutes=9 * number))
    need = need_of(made, "F36")
    assert max(max(quarter.chances) for quarter in need.quarters) == 0.0 and need.none
    page = summary.pack_summary(made.store, made.clock, "P-1099")
    full = next(one for one in page.projections if one.quantity == "rested_full_v")
    assert full.projected and full.crossing_p10 is None and full.fan, "no day, and still a band"
    assert "No day is told: from 3.20 V to 3.40 V a group the volts of this chemistry hardly change" in say(
        full.sentence
    )
    assert "The likely month" not in " ".join(say(one) for one in full.because)
    (told,) = (say(one) for one in need.left_open_told)
    assert told.startswith(
        "F36: 3 of 3 packs are counted by rested volts alone, which show charge and balance, not wear"
    )


def test_packs_counted_by_rested_volts_alone_are_said(made: Kestrel) -> None:
    for week in range(8):
        at = FIRST + dt.timedelta(days=7 * week)
        made.check("P-1005", f"41.{60 + week % 3}", at=at)
        loaded(made, "P-1007", f"1.{20 + week % 3}", at + dt.timedelta(hours=1), "41.65")
        if week < 5:
            loaded(made, "P-1003", f"1.{20 + week % 3}", at + dt.timedelta(hours=2), "41.62")
        else:
            made.check("P-1003", "41.63", at=at + dt.timedelta(hours=2))
    need = need_of(made, "K36-A")
    (told,) = (say(one) for one in need.left_open_told if "by rested volts alone" in say(one))
    assert told == (
        "K36-A: 2 of 14 packs are counted by rested volts alone, which show charge and balance, not wear; their resistance is "
        "not projected: P-1003 (5 of 6), P-1005 (0 of 6)"
    )
