"""Done, due and missed: counted from the record, and a missed check stays missed."""

import datetime as dt

from fleetcare.domain.due import Fared, each_due
from fleetcare.domain.packs import SiteRules
from fleetcare.services.done_due import Tally, done_due, spans_in_use
from tests.kestrel import MONDAY, Kestrel

FRIDAY = MONDAY.date() - dt.timedelta(days=3)


def week(kestrel: Kestrel, first: dt.date, days: int = 6) -> Tally:
    return done_due(kestrel.store, kestrel.clock, first, first + dt.timedelta(days=days)).total


def test_what_fell_due_adds_up_and_what_is_not_done_yet_is_open(kestrel: Kestrel) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=6)
    for number in (1001, 1002, 1003):
        kestrel.check(f"P-{number}", "41.60", at=MONDAY + dt.timedelta(days=4), by="PIKE")
    kestrel.check("P-1005", "41.60", at=MONDAY + dt.timedelta(days=5, hours=3), by="FARROW")
    found = done_due(kestrel.store, kestrel.clock, MONDAY.date(), MONDAY.date() + dt.timedelta(days=6))
    assert found.total == Tally(on_time=3, late=1, open=34, missed=0) and found.total.due == 38
    assert found.total.done_percent is not None and round(found.total.done_percent, 1) == 10.5
    people = {one.name: (one.checks, one.on_time, one.late) for one in found.by_person}
    assert people == {"Pike": (3, 3, 0), "Farrow": (1, 0, 1)}
    assert [(place, tally.due) for place, tally in found.by_depot] == [("KW", 38)]
    assert [(day, place) for day, place, _ in found.by_week] == [(MONDAY.date(), "KW")]


def test_a_missed_check_stays_missed_in_its_week_when_it_is_made_up_later(kestrel: Kestrel) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=30)
    kestrel.check("P-1002", "41.60", at=MONDAY + dt.timedelta(days=20))
    found = done_due(kestrel.store, kestrel.clock, MONDAY.date(), MONDAY.date() + dt.timedelta(days=6))
    assert found.total.missed == 38
    made_up = next(one for one in found.missed if one.pack == "P-1002")
    assert (made_up.due_on, made_up.done_on) == (FRIDAY + dt.timedelta(days=7), MONDAY.date() + dt.timedelta(days=20))


def test_the_count_of_an_earlier_position_is_what_was_known_then(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        then = view.position
    kestrel.now = MONDAY + dt.timedelta(days=4)
    before = done_due(kestrel.store, kestrel.clock, MONDAY.date(), MONDAY.date() + dt.timedelta(days=6))
    kestrel.check("P-1002", "41.60")
    again = done_due(kestrel.store, kestrel.clock, MONDAY.date(), MONDAY.date() + dt.timedelta(days=6), position=then)
    assert again == before


def test_each_due_ends_in_one_of_four_ways() -> None:
    start, site, far = dt.date(2026, 1, 1), SiteRules(), (dt.date.min, dt.date.max)

    def fared(done: list[int], until: int) -> list[Fared]:
        days = [start + dt.timedelta(days=n) for n in done]
        return [one.fared for one in each_due(start, days, start + dt.timedelta(days=until), site, far)]

    assert fared([7, 17, 40], 50) == [Fared.ON_TIME, Fared.LATE, Fared.MISSED, Fared.OPEN]
    assert fared([], 30) == [Fared.MISSED]


def test_days_in_lay_up_are_no_days_in_use() -> None:
    day = dt.date(2026, 1, 1)
    later = [day + dt.timedelta(days=n) for n in range(40)]
    assert list(spans_in_use(day, later[39], ())) == [(day, later[39])]
    assert list(spans_in_use(day, later[39], [(later[5], later[20])])) == [(day, later[5]), (later[20], later[39])]
    assert list(spans_in_use(day, later[39], [(later[5], None)])) == [(day, later[5])]
