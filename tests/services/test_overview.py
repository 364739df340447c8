"""The manager's overview counts what the record holds, the undecided first."""

import datetime as dt
from decimal import Decimal

import pytest

from fleetcare.domain import packs
from fleetcare.domain.absences import Absence
from fleetcare.domain.checks import CheckKind, HoldClass, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.packs import Level, Person, Role
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import say
from fleetcare.services import facts as read
from fleetcare.services import laying_up, overview, quarantine, record, stock
from fleetcare.services.plan import plan
from fleetcare.services.renewal_summary import renewal_summary
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, SITE, Kestrel

D = Decimal


def found(kestrel: Kestrel) -> dict[str, overview.Section]:
    return {one.name: one for one in overview.overview(kestrel.store, kestrel.clock).sections}


def told(section: overview.Section) -> list[str]:
    return [say(line.text) for line in section.lines]


def test_every_section_is_there_and_the_undecided_lead(kestrel: Kestrel) -> None:
    sections = overview.overview(kestrel.store, kestrel.clock).sections
    assert sections[0].name == "decisions"
    assert {one.name for one in sections} | {"replace"} == set(overview.SECTIONS)


def test_a_pull_waits_for_a_decision_and_for_a_second_test(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    first = found(kestrel)
    assert first["decisions"].lines[0].subject == ("pack", "P-1002")
    note = "A pack that is pulled again before it passed stays in the month in which its pull began."
    assert told(first["pulls"]) == ["Nov 2026: 1 begun, 0 upheld, 0 not upheld, 1 without a second test", note]
    kestrel.now += dt.timedelta(hours=3)
    kestrel.check("P-1002", "39.1", vehicle="EB-12")
    assert told(found(kestrel)["pulls"]) == ["Nov 2026: 1 begun, 1 upheld, 0 not upheld, 0 without a second test", note]


def test_the_longest_stay_in_quarantine_leads_and_its_alarm_is_said(kestrel: Kestrel) -> None:
    for days, pack in ((2, "P-1003"), (9, "P-1005")):
        at = MONDAY - dt.timedelta(days=days)
        record.record_look_over(
            kestrel.store, lambda at=at: at, kestrel.author(), LookOver(pack, at, None, (LookItem.SMELL,))
        )
    section = found(kestrel)["quarantine"]
    assert [line.subject[1] for line in section.lines] == ["P-1005", "P-1003"]
    assert "collection overdue" in told(section)[0] and section.grave is HoldClass.DANGER


def test_done_and_due_of_four_weeks_and_what_was_missed(kestrel: Kestrel) -> None:
    # on record since 3 Sep, checked first on 30 Oct: of those due since 12 Oct, two in each pack's row were missed
    before = found(kestrel)["done"]
    assert before.total == 76 and told(before)[0].startswith(
        "Week of 26 Oct 2026: 38 of 38 done (100 %), 38 late, 0 missed"
    )
    assert told(before)[1].startswith("Week of 19 Oct 2026: 0 of 38 done (0 %), 0 late, 38 missed")
    kestrel.now += dt.timedelta(days=21)
    later = found(kestrel)["done"]
    # due on 6 and 13 November and never done; what was due on 20 November may still be done
    assert later.total == 76 and told(later)[2].startswith("Week of 2 Nov 2026: 0 of 38 done (0 %), 0 late, 38 missed")
    assert told(later)[0].startswith("Week of 16 Nov 2026: 0 of 38 done (0 %), 0 late, 0 missed")
    missed = next(line for line in later.lines if line.subject is not None and line.subject[0] == "pack")
    assert say(missed.text).endswith(
        ": 2 due days missed, 6 Nov 2026 to 13 Nov 2026; not checked yet: every 7 days without a check are one more"
    )
    assert told(later)[-1] == "and of 35 more packs", "what is named and what is counted add up"
    kestrel.check(missed.subject[1], "41.60")
    (made_up,) = [line for line in told(found(kestrel)["done"]) if line.startswith(f"{missed.subject[1]}: ")]
    assert made_up.endswith("6 Nov 2026 to 13 Nov 2026; checked on 23 Nov 2026")


def test_what_was_missed_by_a_rule_since_changed_says_by_which(kestrel: Kestrel) -> None:
    from dataclasses import replace

    kestrel.now += dt.timedelta(days=14)
    looser = replace(SITE, check_due_days=10)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("site_rules", looser))
    line = next(line for line in found(kestrel)["done"].lines if line.subject[0] == "pack")
    code = line.subject[1]
    assert say(line.text).startswith(f"{code}: due 6 Nov 2026, missed; not checked yet")
    assert say(line.text).endswith("(counted by the site's rule of then, every 7 days)")
    (now,) = [one for one in plan(kestrel.store, kestrel.clock) if one.subject == code and one.kind is Kind.CHECK]
    assert now.due_on == dt.date(2026, 11, 9), "due by the rule of now"


def test_training_and_calibration_that_run_out(kestrel: Kestrel) -> None:
    farrow = Person("FARROW", "Farrow", (Role.MECHANIC,), Level.MAY_CHECK, dt.date(2026, 11, 20), "B-03")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("person", farrow))
    lines = told(found(kestrel)["running_out"])
    assert lines[0].startswith("M-02") and "due 3 Nov 2026" in lines[0]
    assert lines[1].startswith("Farrow") and "until 20 Nov 2026" in lines[1] and len(lines) == 2
    kestrel.now += dt.timedelta(days=18)
    assert any("Farrow" in one and "ended" in one for one in told(found(kestrel)["running_out"]))


def test_twenty_checks_in_six_minutes_and_one_reading_for_all(kestrel: Kestrel) -> None:
    # the fixture itself enters all checks at one moment with two readings: both are shown
    lines = told(found(kestrel)["pace"])
    assert any("38 checks in" in one for one in lines)
    assert any("packs in a row read 41.60" in one for one in lines) and any("54.20" in one for one in lines)


def test_a_limit_made_looser_is_shown_with_who_and_a_stricter_one_is_not(kestrel: Kestrel) -> None:
    from dataclasses import replace

    assert found(kestrel)["loosened"].lines == ()
    author = kestrel.author("ORMOND")
    record.put_things(
        kestrel.store, kestrel.clock, author, ("site_rules", replace(SITE, check_due_days=10, trips_any_pull=2))
    )
    first = "Kestrel Wharf, “A check is due after”: 7 days → 10 days (Ormond, 2 Nov 2026)"
    assert told(found(kestrel)["loosened"]) == [first]
    sources = (("edge_due_days", "quiet season, 2026-11-02"),)
    looser = replace(SITE, check_due_days=10, trips_any_pull=2, edge_due_days=SITE.edge_due_days + 2, sources=sources)
    record.put_things(kestrel.store, kestrel.clock, author, ("site_rules", looser))
    newest, _ = told(found(kestrel)["loosened"])
    assert "“Near a projection's early edge, a check every”" in newest and newest.endswith(
        "; source: quiet season, 2026-11-02"
    )


def test_parts_to_reorder(kestrel: Kestrel) -> None:
    fuse = Part("F-30", PartKind.FUSE, "fuse 30 A", "FB-30", rated_a=D("30"), dc_v=D("58"), reorder_level=5,
                price=D("1.20"), currency="GBP")  # fmt: skip
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), fuse)
    stock.book_in(kestrel.store, kestrel.clock, kestrel.author(), "F-30", 3)
    lines = told(found(kestrel)["reorder"])
    assert len(lines) == 1 and "3 left, reorder at 5" in lines[0]


def test_who_is_at_work_by_the_rosters_where_nobody_noted_it(kestrel: Kestrel) -> None:
    author = kestrel.author("ORMOND")
    rosters = [packs.Roster(code, "KW", (480,) * 5 + (0, 0)) for code in ("DUNN", "PIKE")]
    record.put_things(kestrel.store, kestrel.clock, author, *(("roster", one) for one in rosters))

    def here(day: dt.date) -> frozenset[str] | None:
        with kestrel.store.view() as view:
            return read.at_work(view, day)

    assert here(MONDAY.date()) == {"DUNN", "PIKE"} and here(MONDAY.date() - dt.timedelta(days=1)) == frozenset()
    with kestrel.store.transaction() as tx:
        body = Absence("DUNN", "", MONDAY.date(), MONDAY.date(), MONDAY, "ill")
        Writer(tx, author, MONDAY).add("absence", body, MONDAY)
    assert here(MONDAY.date()) == {"PIKE"} and here(MONDAY.date() + dt.timedelta(days=1)) == {"DUNN", "PIKE"}


def test_the_renewal_summary_has_every_head_and_says_where_nothing_is_recorded(kestrel: Kestrel) -> None:
    page = renewal_summary(kestrel.store, kestrel.clock)
    heads = {one.name: one for one in page.heads}
    assert len(heads) == len(page.heads) == 14
    for name in ("charger", "where_charged", "transport", "marks", "incidents", "damaged"):
        assert heads[name].empty and [one.key for one in heads[name].told] == [f"summary.none_{name}"]
    assert say(heads["identity"].told[0]) == (
        "38 packs in service, each with a code of its own; labels printed here for 0, text of an EU battery passport kept for 0."
    )
    assert "Serial number on record for 38 of 38" in say(heads["recalls"].told[0])
    assert "3 people hold a level today, 2 of them may reset and release" in say(heads["staff"].told[0])
    kestrel.now += dt.timedelta(days=21)
    later = {one.name: one for one in renewal_summary(kestrel.store, kestrel.clock).heads}
    # on record since 3 Sep: seven due days passed unmet before the check of 30 Oct, which was a day late, and two since
    said = "418 checks fell due: 0 in time, 38 late, 342 missed, 38 not done yet (9 % done)"
    assert say(later["inspection"].told[0]).startswith(said)
    kestrel.now = MONDAY
    record.record_look_over(
        kestrel.store, kestrel.clock, kestrel.author(), LookOver("P-1003", MONDAY, None, (LookItem.SMELL,))
    )
    after = {one.name: one for one in renewal_summary(kestrel.store, kestrel.clock).heads}
    assert say(after["damaged"].told[0]) == "Packs held for danger: 1; in quarantine now: 1."
    assert "Longest stay 0 days (alarm after 7 days)" in say(after["quarantine_ends"].told[0])
    kestrel.now = (MONDAY + dt.timedelta(days=7)).replace(
        hour=0, minute=10
    )  # less than 7 times 24 hours, the seventh day
    weeks = {one.name: one for one in renewal_summary(kestrel.store, kestrel.clock).heads}
    (case,) = quarantine.quarantine_cases(kestrel.store, kestrel.clock)
    assert case.days == 7 and case.alarm
    assert "Longest stay 7 days (alarm after 7 days); in alarm now: 1." in say(weeks["quarantine_ends"].told[0])


def test_replacing_names_packs_with_a_range_and_a_cost(kestrel: Kestrel) -> None:
    from fleetcare.services.renewal import renewal

    section = overview.replacing(renewal(kestrel.store, kestrel.clock))
    assert section.name == "replace" and section.lines


@pytest.mark.parametrize("months", [1, 6, 14])
def test_months_are_counted_back_over_the_turn_of_the_year(months: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(overview, "MONTHS", months)
    first = overview._first_month(dt.datetime(2027, 2, 14, 9, 0, tzinfo=dt.UTC))
    assert (2027 * 12 + 1) - (first.year * 12 + first.month - 1) == months - 1 and first.day == 1


def test_a_pack_that_reads_nothing_is_named_until_it_is_read_again(kestrel: Kestrel) -> None:
    assert found(kestrel)["silent"].total == 0
    kestrel.check("P-1002", "0.00", vehicle="EB-12", kind=CheckKind.AS_FOUND)
    section = found(kestrel)["silent"]
    assert section.total == 1 and section.lines[0].subject == ("pack", "P-1002")
    assert told(section)[0].startswith("P-1002, EB-12: 0.00 V on 2 Nov 2026 06:30, which says nothing about its cells.")
    assert "attended" in told(section)[0] and section.grave is HoldClass.UNKNOWN
    kestrel.now += dt.timedelta(hours=3)
    kestrel.check("P-1002", "41.6", vehicle="EB-12")
    assert found(kestrel)["silent"].total == 0


def test_a_silent_pack_on_the_laid_up_rack_is_named_and_never_charged(kestrel: Kestrel) -> None:
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "winter-1", ("P-1011",), shelf="Rack 9")
    check = VoltageCheck("P-1011", CheckKind.STORED, RestBand.OVERNIGHT, D("0.01"), kestrel.now, "M-01", bench_c=D(18))
    laying_up.record_storage_look(kestrel.store, kestrel.clock, kestrel.author(), check)
    assert told(found(kestrel)["silent"])[0].startswith("P-1011, Rack 9: 0.01 V")
    assert "Never on a charger after storage" in told(found(kestrel)["silent"])[0]


def test_done_and_due_names_people_and_says_why_a_missed_check_has_no_name(kestrel: Kestrel) -> None:
    kestrel.now += dt.timedelta(days=21)
    for pack, by in (("P-1002", "PIKE"), ("P-1003", "PIKE"), ("P-1005", "DUNN")):
        kestrel.check(pack, "41.60", by=by)
    lines = told(found(kestrel)["done"])
    assert "Pike: checks done 2, in time 0, late 2 (0 % in time)" in lines
    assert "Dunn: checks done 1, in time 0, late 1 (0 % in time)" in lines
    kestrel.now += dt.timedelta(days=1)
    kestrel.check("P-1005", "41.58", by="DUNN")
    again = told(found(kestrel)["done"])
    assert "Dunn: checks done 2, in time 0, late 1 (0 % in time), 1 besides what fell due" in again, "so it adds up"
    assert lines[0].endswith("0 missed, 35 not done yet")
    assert any(line.startswith("Not assigned: 76 missed. Each morning") for line in lines)
