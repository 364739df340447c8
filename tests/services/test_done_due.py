"""Done, due and missed: counted from the record, and a missed check stays missed."""

import datetime as dt
from collections import Counter
from dataclasses import replace

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.due import Fared, each_due
from fleetcare.domain.packs import PackStanding, SiteRules
from fleetcare.domain.wording import msg, word
from fleetcare.services import history, laying_up, record
from fleetcare.services.done_due import Tally, done_due
from fleetcare.services.history_lines import Asked
from fleetcare.services.owed import spans_in_use
from tests.kestrel import MONDAY, SITE, Kestrel

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

    assert fared([7, 17, 33], 44) == [Fared.ON_TIME, Fared.LATE, Fared.MISSED, Fared.LATE, Fared.OPEN]
    assert fared([], 30) == [Fared.MISSED, Fared.MISSED, Fared.MISSED, Fared.OPEN]
    assert fared([28], 28) == [Fared.MISSED, Fared.MISSED, Fared.LATE], "four weeks unseen: two missed, the third late"


def test_four_weeks_unseen_are_more_than_one_missed_check_by_week_and_nobody_did_them(kestrel: Kestrel) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=27)
    kestrel.check("P-1002", "41.60")
    found = done_due(kestrel.store, kestrel.clock, MONDAY.date(), kestrel.now.date())
    mine = [(one.due_on, one.done_on) for one in found.missed if one.pack == "P-1002"]
    again = kestrel.now.date()
    assert mine == [(FRIDAY + dt.timedelta(days=n), again) for n in (7, 14, 21)], "the fourth, of 27 Nov, was late"
    nobody = {one.week: one.missed for one in found.by_person if not one.person}
    assert nobody == {week: tally.missed for week, _, tally in found.by_week if tally.missed}
    assert found.total.missed_percent == 100 * len(found.missed) / found.total.due


def test_the_count_agrees_with_the_history_of_the_fleet_and_of_each_pack(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        away = view.thing("pack", "P-1013")
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "W", ["P-1011"])
    hold = Hold("pack", "P-1012", HoldClass.DANGER, kestrel.now, msg("hold.by_person"), "smell")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    gone = ("pack", replace(away, standing=PackStanding.LOST))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), gone)
    kestrel.now += dt.timedelta(days=26)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", away))
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    loose = replace(SITE, check_due_days=10)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("site_rules", loose))
    kestrel.now += dt.timedelta(days=24)
    first, last = MONDAY.date() - dt.timedelta(days=3), kestrel.now.date()
    found = done_due(kestrel.store, kestrel.clock, first, last)
    total = found.total
    for asked, missed in (
        (Asked("fleet", "", first, last), total.missed),
        *((Asked("pack", code, first, last), sum(one.pack == code for one in found.missed))
          for code in ("P-1002", "P-1011", "P-1012", "P-1013", "P-1014")),
    ):  # fmt: skip
        with history.reading(kestrel.store, kestrel.clock, asked) as told:
            whole = told.whole()
        row = dict(whole.summary)[word("history.checks")]
        assert f" late, {missed} missed, " in row, (asked, row)
        if asked.subject_class == "fleet":
            counts = f"{total.on_time} in time, {total.late} late, {total.missed} missed, {total.open} not done yet"
            assert row.endswith(f"fell due: {total.due}, of them {counts}") and total.open, (
                "as the renewal summary counts"
            )
    by_pack = Counter(one.pack for one in found.missed)
    assert by_pack["P-1011"] == by_pack["P-1012"] == 0, "laid up, and held for danger"
    assert (by_pack["P-1013"], by_pack["P-1014"]) == (1, 6), (
        "lost for 26 days, then by the looser rule; and here all the time"
    )


def test_days_in_lay_up_are_no_days_in_use() -> None:
    day = dt.date(2026, 1, 1)
    later = [day + dt.timedelta(days=n) for n in range(40)]
    assert list(spans_in_use(day, later[39], ())) == [(day, later[39])]
    assert list(spans_in_use(day, later[39], [(later[5], later[20])])) == [(day, later[5]), (later[20], later[39])]
    assert list(spans_in_use(day, later[39], [(later[5], None)])) == [(day, later[5])]
