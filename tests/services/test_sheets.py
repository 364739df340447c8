"""Paper sheets: numbers known, lines entered late, figures nobody can read, a number used twice."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.checks import LookItem, RestBand
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.labels import with_check
from fleetcare.domain.paper_sheets import Figure
from fleetcare.domain.status import PackState
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import say
from fleetcare.services import meters, sheets, summary
from fleetcare.services.sheets import SheetEntry
from fleetcare.services.shown import Recorded
from fleetcare.services.telling import entry_note
from tests.kestrel import MONDAY, Kestrel
from tests.services.test_meters import proof, prove

D = Decimal
DONE = MONDAY + dt.timedelta(minutes=25)


@pytest.fixture
def sheet(kestrel: Kestrel) -> str:
    """Two sheets issued at 06:30; now it is 08:40 and the PC is back."""
    numbers = sheets.issue(kestrel.store, kestrel.clock, 2, kestrel.author("PIKE"), "BENCH-1")
    assert numbers == ("S2611020630-01", "S2611020630-02")
    kestrel.now = MONDAY + dt.timedelta(hours=2, minutes=10)
    return numbers[0]


def entry(sheet: str, **changes: object) -> SheetEntry:
    plain = SheetEntry(sheet, 1, "P-1003", "PIKE", DONE, "M-01", RestBand.HOURS_1_3, D("41.38"), D("39.78"), D("8"), "L-08",
                       vehicle="EB-13", look_found=())  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def enter(kestrel: Kestrel, made: SheetEntry, by: str = "DUNN") -> Recorded:
    return sheets.enter_line(kestrel.store, kestrel.clock, kestrel.author(by), made)


def test_a_line_keeps_its_own_time_who_did_it_and_who_entered_it_and_is_labelled_late(
    kestrel: Kestrel, sheet: str
) -> None:
    done = enter(kestrel, entry(sheet))
    assert done.verdict is not None and done.verdict.level is VerdictLevel.WATCH and done.verdict.valid
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
    line = page.checks[0]
    assert (line.done_at, line.entered_at, line.person_name, line.done_by) == (DONE, kestrel.now, "Dunn", "Pike")
    assert entry_note(line) == "entered 2 Nov 2026 08:40; from sheet S2611020630-01, line 1, done by Pike"
    assert "done by PIKE" in say(page.events[0].text)
    assert sheets.sheet_rows(kestrel.store)[-1].packs == ("P-1003",) and sheets.next_line(kestrel.store, sheet) == 2
    assert kestrel.store.verify().good


def test_rested_volts_that_cannot_be_read_are_recorded_as_such_and_are_no_valid_check(
    kestrel: Kestrel, sheet: str
) -> None:
    made = entry(sheet, rested_v=None, loaded_v=None, unreadable=(Figure.RESTED,), as_written="4?.38")
    due = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").status.due_on
    said = say(enter(kestrel, made).message)
    assert said == ("Sheet S2611020630-01, line 1: the rested volts not readable. Recorded as such; it does not count as a check "
                    "of P-1003.")  # fmt: skip
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
    assert page.status.due_on == due and len(page.checks) == 1
    assert any("not readable (“4?.38”), not a valid check" in say(one.text) for one in page.events)


def test_what_can_be_made_out_must_be_written_down(sheet: str, kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="with \\? for what cannot"):
        enter(kestrel, entry(sheet, rested_v=None, unreadable=(Figure.RESTED,)))


def test_unreadable_loaded_volts_leave_a_valid_rested_check(kestrel: Kestrel, sheet: str) -> None:
    made = entry(sheet, rested_v=D("41.60"), loaded_v=None, unreadable=(Figure.LOADED,), as_written="39.?")
    done = enter(kestrel, made)
    assert done.verdict is not None and done.verdict.valid and done.verdict.resistance_ohm is None


def test_a_danger_on_a_line_that_cannot_be_read_still_quarantines(kestrel: Kestrel, sheet: str) -> None:
    made = entry(sheet, done_at=None, unreadable=(Figure.DONE_AT,), as_written="0?:5?", look_found=(LookItem.SMELL,))
    enter(kestrel, made)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").status.state is PackState.QUARANTINED


def test_a_line_used_twice_is_asked_about_and_entered_only_with_a_reason(kestrel: Kestrel, sheet: str) -> None:
    enter(kestrel, entry(sheet))
    with kestrel.store.view() as view:
        before = view.position
    with pytest.raises(
        EntryRefused, match=r"already entered by Dunn on 2 Nov 2026 08:40: P-1003, 41.38 V rested"
    ) as asked:
        enter(kestrel, entry(sheet, pack="P-1005", vehicle="EB-15"))
    assert asked.value.field == "queried"
    with kestrel.store.view() as view:
        assert view.position == before
    enter(kestrel, entry(sheet, pack="P-1005", vehicle="EB-15", queried="photocopy of the blank sheet"))
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1005").checks[0].done_by == "Pike"


def test_a_number_never_issued_is_asked_about_with_the_near_one(kestrel: Kestrel, sheet: str) -> None:
    with pytest.raises(
        EntryRefused, match=r"No sheet S2611020630-03 was issued here\. Issued were S2611020630-01"
    ) as asked:
        enter(kestrel, entry("S2611020630-03"))
    assert asked.value.field == "queried"


def test_a_sheet_number_is_verified_by_its_check_character() -> None:
    # ISO 7064 MOD 37,36, as on the labels.
    assert sheets.sheet_number(with_check("S2611020630-01").lower()) == "S2611020630-01"
    assert sheets.sheet_number(" s2611020630-01 ") == "S2611020630-01"
    right = with_check("S2611020630-01")[-1]
    wrong = "A" if right != "A" else "B"
    with pytest.raises(EntryRefused, match="does not fit the number"):
        sheets.sheet_number(f"S2611020630-01*{wrong}")
    with pytest.raises(EntryRefused, match="starts with S"):
        sheets.sheet_number("P-1003")


def test_no_check_lies_in_the_future_or_before_its_sheet_was_issued(kestrel: Kestrel, sheet: str) -> None:
    with pytest.raises(EntryRefused, match="later than now"):
        enter(kestrel, entry(sheet, done_at=kestrel.now + dt.timedelta(hours=1)))
    with pytest.raises(EntryRefused, match="was before that"):
        enter(kestrel, entry(sheet, done_at=MONDAY - dt.timedelta(hours=1)))


def test_only_who_was_allowed_to_check_on_that_day_counts(kestrel: Kestrel, sheet: str) -> None:
    with pytest.raises(NotAllowed, match="Hale was not allowed to check on 2 Nov 2026"):
        enter(kestrel, entry(sheet, done_by="HALE"))
    with pytest.raises(NotAllowed):
        enter(kestrel, entry(sheet), by="ORMOND")


def test_paper_moves_nothing_and_a_pack_that_can_never_fit_is_refused(kestrel: Kestrel, sheet: str) -> None:
    enter(kestrel, entry(sheet, vehicle="EB-14"))
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
    assert page.vehicle == "EB-13" and "the sheet says EB-14" in page.checks[0].remark
    with pytest.raises(EntryRefused, match="48 V pack"):
        enter(kestrel, entry(sheet, line=2, pack="P-1303"))


def test_a_late_line_read_with_a_meter_found_out_since_is_in_doubt_and_judged_again(
    kestrel: Kestrel, sheet: str
) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=1)
    prove(kestrel, proof("41.60", at=kestrel.now))
    enter(kestrel, entry(sheet, meter="M-02", rested_v=D("40.30"), loaded_v=None))
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003")
    assert page.checks[0].doubt is not None
    assert page.status.state is PackState.HELD and "39.7" in say(page.status.reasons[0].text)
    assert "P-1003" in [line.pack for line in meters.recheck_list(kestrel.store, kestrel.clock)]


def test_initials_name_badge_or_code_say_who_did_it(kestrel: Kestrel) -> None:
    assert {sheets.person_named(kestrel.store, typed).code for typed in ("pike", "B-02", "PI")} == {"PIKE"}
    with pytest.raises(EntryRefused, match="nobody in this fleet"):
        sheets.person_named(kestrel.store, "X")


def test_numbers_of_the_same_minute_go_on(kestrel: Kestrel) -> None:
    first = sheets.issue(kestrel.store, kestrel.clock, 2, None, "PC")
    second = sheets.issue(kestrel.store, kestrel.clock, 1, None, "PC")
    assert first[-1][-2:] == "02" and second == ("S2611020630-03",)
    with pytest.raises(EntryRefused, match="Between 1 and 99"):
        sheets.issue(kestrel.store, kestrel.clock, 0, None, "PC")
