"""From a smell to the carrier: days, looks, alarm, collection, and a label that never returns.

The six heads for transport follow the note to ADR special provision 376 (list recalled from memory).
"""

import datetime as dt
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import quarantine as rule
from fleetcare.domain.checks import FoundIn, LookItem, LookOver
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Pack
from fleetcare.domain.quarantine import Collected, QuarantineLook, TransportHead
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import say
from fleetcare.services import identify, quarantine, record, summary
from tests.kestrel import MONDAY, Kestrel

AFTERNOON = MONDAY.replace(hour=16, minute=20)
HEADS = tuple((head.value, "found") for head in TransportHead)


@given(st.integers(0, 20), st.sets(st.integers(0, 20)))
def test_missed_looks_and_the_alarm_by_day(days: int, looked: set[int]) -> None:
    since = MONDAY.date()
    today = since + dt.timedelta(days=days)
    missed = rule.missed_looks(since, {since + dt.timedelta(days=n) for n in looked}, today)
    assert {(day - since).days for day in missed} == set(range(1, days)) - looked
    assert (today >= rule.alarm_on(since, 7)) is (days >= 7)


@given(st.sets(st.integers(0, 40)))
def test_runs_of_days_hold_every_day_once_and_touch_nowhere(days: set[int]) -> None:
    asked = [MONDAY.date() + dt.timedelta(days=n) for n in sorted(days)]
    runs = rule.spans(asked)
    told = [first + dt.timedelta(days=n) for first, last in runs for n in range((last - first).days + 1)]
    assert told == asked
    assert all((later[0] - earlier[1]).days > 1 for earlier, later in itertools.pairwise(runs))


def smell(kestrel: Kestrel) -> None:
    kestrel.now = AFTERNOON
    look = LookOver("P-1009", AFTERNOON, "EB-19", (LookItem.SMELL, LookItem.CRACK))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), look, (), "Q-2")


def case(kestrel: Kestrel) -> quarantine.QuarantineCase:
    (only,) = quarantine.quarantine_cases(kestrel.store, kestrel.clock)
    return only


def look(kestrel: Kestrel, day: int, *, changed: bool = False) -> str:
    kestrel.now = AFTERNOON.replace(day=day)
    made = QuarantineLook("P-1009", kestrel.now, changed)
    return say(quarantine.record_look(kestrel.store, kestrel.clock, kestrel.author("HALE"), made).message)


def collect(kestrel: Kestrel, by: str = "ORMOND", badge: str = "B-05", **change: object) -> None:
    values = {"carrier": "Northfield Carriers", "consignment": "NC-4410", "heads": HEADS} | change
    made = Collected("P-1009", kestrel.now, **values)  # type: ignore[arg-type]
    quarantine.record_collection(kestrel.store, kestrel.clock, kestrel.author(by), badge, made)


def test_days_missed_looks_and_the_alarm_on_day_seven(kestrel: Kestrel) -> None:
    smell(kestrel)
    assert (case(kestrel).place, case(kestrel).days, case(kestrel).missed) == ("Q-2", 0, ())
    for day in (3, 4, 6, 7, 8):
        look(kestrel, day)
    found = case(kestrel)
    assert (found.days, found.missed, found.alarm) == (6, (dt.date(2026, 11, 5),), False)
    kestrel.now = AFTERNOON.replace(day=9, hour=0, minute=5)
    found = case(kestrel)
    assert (found.days, found.alarm, found.looked_today) == (7, True, False)
    board = summary.fleet_summary(kestrel.store, kestrel.clock)
    lead = next(line for line in board.vehicles if line.vehicle.code == "EB-19").status
    assert lead.state is BoardState.GROUNDED and "Day 7 in quarantine: collection is overdue" in say(
        lead.reasons[0].text
    )
    assert say(lead.reasons[0].text).split(": ", 1)[1].startswith("Day 7"), (
        "a tile of the board has room for its beginning only"
    )
    assert "call the fire service" in look(kestrel, 9, changed=True)


def test_the_days_count_from_the_day_of_the_hold_also_where_it_was_entered_later(kestrel: Kestrel) -> None:
    found = LookOver("P-1009", AFTERNOON, "EB-19", (LookItem.SMELL,))
    kestrel.now = AFTERNOON.replace(day=5)
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), found, (), "Q-2")
    assert (case(kestrel).days, case(kestrel).alarm_on) == (3, dt.date(2026, 11, 9))
    assert say(case(kestrel).today_told) == "look due today"
    assert case(kestrel).missed_told is not None
    assert say(case(kestrel).missed_told) == "missed: 3 Nov 2026 to 4 Nov 2026 (2 days)"
    kestrel.now = AFTERNOON.replace(day=9, hour=0, minute=1)
    assert case(kestrel).alarm


def test_on_its_first_day_nobody_is_said_to_have_looked(kestrel: Kestrel) -> None:
    smell(kestrel)
    assert say(case(kestrel).today_told) == "put here today" and case(kestrel).missed_told is None
    look(kestrel, 2)
    assert say(case(kestrel).today_told) == "looked at today"


def test_a_collection_needs_carrier_consignment_heads_and_badge(kestrel: Kestrel) -> None:
    smell(kestrel)
    kestrel.now = AFTERNOON.replace(day=10)
    for change, words in (({"carrier": " "}, "Name the carrier"), ({"consignment": ""}, "consignment number"),
                          ({"heads": HEADS[:5]}, "point 6 of the six"), ({"heads": ()}, "point 1")):  # fmt: skip
        with pytest.raises(EntryRefused, match=words):
            collect(kestrel, **change)
    with pytest.raises(NotAllowed, match="own badge"):
        collect(kestrel, badge="B-01")
    for code in ("FARROW", "HALE"):
        with pytest.raises(NotAllowed, match="may not write off"):
            collect(kestrel, by=code)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1009").status.state is PackState.QUARANTINED


def test_what_was_written_off_is_never_fitted_checked_or_commissioned_again(kestrel: Kestrel) -> None:
    smell(kestrel)
    kestrel.now = AFTERNOON.replace(day=10)
    before = len(summary.pack_summary(kestrel.store, kestrel.clock, "P-1009").checks)
    collect(kestrel)
    assert quarantine.quarantine_cases(kestrel.store, kestrel.clock) == ()
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1009")
    assert page.vehicle is None and "must not be here" in say(page.status.reasons[0].text)
    assert len(page.checks) == before
    assert any("Northfield Carriers, consignment NC-4410" in say(event.text) for event in page.events)
    assert summary.vehicle_page(kestrel.store, kestrel.clock, "EB-19").line.packs == ()
    author = kestrel.author()
    with pytest.raises(EntryRefused, match="written off"):
        kestrel.check("P-1009", "41.4")
    with pytest.raises(EntryRefused, match="written off"):
        record.record_found_in(kestrel.store, kestrel.clock, author, FoundIn("P-1009", "EB-19", kestrel.now))
    with pytest.raises(EntryRefused, match="never be used again"):
        record.put_things(kestrel.store, kestrel.clock, author, ("pack", Pack("P-1009", "K36-A", "2403-0509")))
    with pytest.raises(EntryRefused, match="ALARM"):
        identify.as_pack(identify.identify(kestrel.store, "P-1009"))
    with pytest.raises(EntryRefused, match="written off"):
        quarantine.record_look(kestrel.store, kestrel.clock, author, QuarantineLook("P-1009", kestrel.now, False))
    assert kestrel.store.verify().good


def test_a_pack_that_is_not_quarantined_has_no_daily_look_and_no_collection(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="not quarantined for danger"):
        look(kestrel, 2)
    with pytest.raises(EntryRefused, match="not quarantined for danger"):
        collect(kestrel)
