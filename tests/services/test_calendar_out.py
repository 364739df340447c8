"""Calendar files read back by an independent parser; the round as a table that no spreadsheet computes."""

import csv
import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
import vobject
from openpyxl import load_workbook

from fleetcare.domain.absences import Absence
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Level, Pack, Person, Role
from fleetcare.domain.wording import say
from fleetcare.services import absences, calendar_out, record, round_files, rounds
from tests.kestrel import MONDAY, Kestrel, build_morning


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def events(path: Path) -> dict[str, object]:
    """The events of a file by UID, as the vobject library reads them."""
    data = path.read_bytes()
    assert data.endswith(b"\r\n") and b"\n" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
    calendar = vobject.readOne(data.decode("utf-8"))
    calendar.validate(raiseException=True)
    found = {event.uid.value: event for event in calendar.vevent_list}
    assert len(found) == len(calendar.vevent_list)
    return found


def test_a_depots_calendar_is_valid_and_whole_days(morning: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "kw.ics"
    written = calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    found = events(path)
    assert len(found) == written.count and written.not_cancelled is None
    assert b"DTSTART;VALUE=DATE:20261102" in path.read_bytes()
    for event in found.values():
        assert isinstance(event.dtstart.value, dt.date) and not isinstance(event.dtstart.value, dt.datetime)
        assert event.dtend.value == event.dtstart.value + dt.timedelta(days=1)
    fleet = morning.store.fleet_id
    today = found[f"due-2026-11-02-KW@{fleet}"]
    assert today.summary.value == "2 to check" and "P-1008 (EB-18)" in today.description.value
    meter = found[f"meter_calibration-M-02@{fleet}"]
    assert meter.dtstart.value == dt.date(2026, 11, 3) and meter.status.value == "CONFIRMED"
    assert f"due-2026-11-03-KW@{fleet}" not in found
    assert {event.status.value for event in found.values()} == {"CONFIRMED"}


def test_a_newer_file_updates_what_an_older_one_said(morning: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "kw.ics"
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    old = events(path)
    morning.check("P-1008", "41.60")
    morning.check("P-1023", "41.60")
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    new = events(path)
    assert old.keys() <= new.keys()
    uid = f"due-2026-11-02-KW@{morning.store.fleet_id}"
    assert (old[uid].status.value, new[uid].status.value) == ("CONFIRMED", "CANCELLED")
    assert all(int(new[uid].sequence.value) > int(old[uid].sequence.value) for uid in old)
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    assert events(path)[uid].status.value == "CANCELLED"  # for whoever did not read the file between


def test_a_day_that_passes_without_a_record_cancels_with_a_higher_sequence(morning: Kestrel, tmp_path: Path) -> None:
    """RFC 5546, 2.1.4 and 2.1.5: what changes comes with a higher SEQUENCE, or a calendar may leave it as it was."""
    path = tmp_path / "kw.ics"
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    uid = f"due-2026-11-02-KW@{morning.store.fleet_id}"
    old = events(path)[uid]
    morning.now += dt.timedelta(days=1)
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    new = events(path)[uid]
    assert (old.status.value, new.status.value) == ("CONFIRMED", "CANCELLED")
    assert int(new.sequence.value) > int(old.sequence.value)


def test_a_time_of_day_that_another_program_gave_an_event_breaks_nothing(morning: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "kw.ics"
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    whole = events(path).keys()
    path.write_bytes(path.read_bytes().replace(b"DTSTART;VALUE=DATE:20261102", b"DTSTART:20261102T090000Z"))
    morning.check("P-1008", "41.60")
    morning.check("P-1023", "41.60")
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    assert whole <= events(path).keys()
    assert events(path)[f"due-2026-11-02-KW@{morning.store.fleet_id}"].status.value == "CANCELLED"


def test_a_round_that_goes_to_somebody_else_is_cancelled_here_and_updated_there(
    morning: Kestrel, tmp_path: Path
) -> None:
    """RFC 5546, 3.2.1 and 2.1.5: the same UID with a higher SEQUENCE; no second event for the same thing."""
    calendars = {code: tmp_path / f"round-{code}.ics" for code in ("DUNN", "PIKE", "FARROW")}

    def write() -> dict[str, dict[str, object]]:
        for code, path in calendars.items():
            calendar_out.write_person(morning.store, morning.clock, code, path)
        return {code: events(path) for code, path in calendars.items()}

    before = write()
    assert all(one.status.value == "CONFIRMED" for found in before.values() for one in found.values())
    had = [code for code, found in before.items() if any("2026-11-02" in uid for uid in found)]
    sick, uid = had[0], f"round-2026-11-02-{had[0]}@{morning.store.fleet_id}"
    day = MONDAY.date()
    absences.record_absence(
        morning.store, morning.clock, morning.author("ORMOND"), Absence(sick, "", day, day, morning.now, "sick")
    )
    after = write()
    assert after[sick][uid].status.value == "CANCELLED"
    assert int(after[sick][uid].sequence.value) > int(before[sick][uid].sequence.value)
    others = [found for code, found in after.items() if code != sick]
    shared = [one for found in others for key, one in found.items() if key.startswith("round-2026-11-02-")]
    assert shared and all(one.status.value == "CONFIRMED" for one in shared)
    listed = "\n".join(one.description.value for one in shared)
    for line in before[sick][uid].description.value.splitlines():
        assert line.split(" ")[0] in listed
    for code, found in after.items():
        stays = [key for key in before[code] if key.startswith("round-") and "2026-11-02" not in key]
        assert all(key in found for key in stays)


def test_another_file_at_the_path_is_replaced_and_nothing_of_it_cancelled(morning: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "kw.ics"
    calendar_out.write_person(morning.store, morning.clock, "DUNN", path)
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    assert not any(uid.startswith("round-") for uid in events(path))
    path.write_bytes(b"no calendar\xff")
    again = calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    assert again.count == len(events(path)) and again.not_cancelled is not None
    assert "could not be read as a calendar" in say(again.not_cancelled)


@pytest.mark.parametrize("spoilt", [b"DTSTART:soon", b"DTSTART;VALUE=DATE:20269999", b"X-DAY:20261103"])
def test_one_event_that_cannot_be_read_is_told_and_the_others_are_still_cancelled(
    morning: Kestrel, tmp_path: Path, spoilt: bytes
) -> None:
    path = tmp_path / "kw.ics"
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    old = path.read_bytes()
    assert old.count(b"DTSTART;VALUE=DATE:20261103") == 1
    path.write_bytes(old.replace(b"DTSTART;VALUE=DATE:20261103", spoilt))
    morning.check("P-1008", "41.60")
    morning.check("P-1023", "41.60")
    again = calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    assert events(path)[f"due-2026-11-02-KW@{morning.store.fleet_id}"].status.value == "CANCELLED"
    assert again.not_cancelled is not None and "could not be read: 1." in say(again.not_cancelled)


def test_what_is_overdue_stands_on_the_day_it_is_planned_for(morning: Kestrel, tmp_path: Path) -> None:
    morning.now = MONDAY + dt.timedelta(days=100)
    path = tmp_path / "kw.ics"
    calendar_out.write_depot(morning.store, morning.clock, "KW", path)
    planned = rounds.round_of(morning.store, morning.clock)
    days = {one.item.key: one.day for one in (*planned.today, *planned.ahead)}
    event = events(path)[f"charger_test-C-36-1@{morning.store.fleet_id}"]
    assert event.dtstart.value == days["charger_test:C-36-1"] >= morning.now.date()
    assert event.description.value.startswith("Overdue since 3 Dec 2026.")


def test_nobody_and_nowhere_are_refused(morning: Kestrel, tmp_path: Path) -> None:
    with pytest.raises(EntryRefused, match="NOBODY"):
        calendar_out.write_person(morning.store, morning.clock, "NOBODY", tmp_path / "x.ics")
    with pytest.raises(EntryRefused, match="XX"):
        calendar_out.write_depot(morning.store, morning.clock, "XX", tmp_path / "x.ics")


def test_a_persons_calendar_holds_each_days_round_and_the_end_of_a_level(morning: Kestrel, tmp_path: Path) -> None:
    until = dt.date(2027, 3, 1)
    pike = Person("PIKE", "Pike", (Role.MECHANIC,), Level.MAY_RELEASE, until, "B-02")
    record.put_things(morning.store, morning.clock, morning.author("ORMOND"), ("person", pike))
    path = tmp_path / "pike.ics"
    calendar_out.write_person(morning.store, morning.clock, "PIKE", path)
    found = events(path)
    fleet = morning.store.fleet_id
    assert found[f"training-PIKE@{fleet}"].dtstart.value == dt.date(2027, 2, 28)
    planned = rounds.round_of(morning.store, morning.clock, person="PIKE")
    for day in planned.days:
        own = [one for one in (*planned.today, *planned.ahead) if one.day == day]
        event = found.get(f"round-{day.isoformat()}-PIKE@{fleet}")
        assert (event is not None) == bool(own)
        if event is not None:
            assert event.status.value == "CONFIRMED"
            assert event.summary.value.startswith(f"Round: {len(own)} to do")


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_the_round_as_a_table_holds_no_formula(kestrel: Kestrel, tmp_path: Path, ending: str) -> None:
    evil = Pack("P-1999", "K36-A", "x", shelf='=HYPERLINK("x")')
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", evil))
    found = rounds.round_of(kestrel.store, kestrel.clock)
    path = tmp_path / f"round.{ending}"
    count = round_files.write(found, path)
    if ending == "csv":
        with path.open(encoding="utf-8-sig", newline="") as file:
            table = list(csv.reader(file))
    else:
        sheet = load_workbook(path).active
        assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
        table = [["" if v is None else str(v) for v in row] for row in sheet.iter_rows(values_only=True)]
    assert tuple(table[0]) == round_files.HEADINGS and len(table) == count + 1
    line = next(row for row in table if row[3] == "P-1999")
    assert line[11] == "yes"
    assert line[2] == "first check" and line[4] == '\'=HYPERLINK("x")' and line[6] == MONDAY.date().isoformat()


def test_another_ending_is_refused(kestrel: Kestrel, tmp_path: Path) -> None:
    with pytest.raises(EntryRefused, match="xlsx"):
        round_files.write(rounds.round_of(kestrel.store, kestrel.clock), tmp_path / "round.ods")


def test_what_is_done_after_its_day_is_called_overdue_in_the_table(kestrel: Kestrel) -> None:
    kestrel.now = MONDAY + dt.timedelta(days=9)
    lines = list(round_files.rows(rounds.round_of(kestrel.store, kestrel.clock)))
    late = [line for line in lines if line[2] == "check" and str(line[6]) < kestrel.now.date().isoformat()]
    assert late and {line[11] for line in late} <= {"overdue", "no"}
