"""Calendar files read back by an independent parser; the round as a table that no spreadsheet computes."""

import csv
import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
import vobject
from openpyxl import load_workbook

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Level, Pack, Person, Role
from fleetcare.services import calendar_out, record, round_files, rounds
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
    assert len(found) == written
    assert b"DTSTART;VALUE=DATE:20261102" in path.read_bytes()
    for event in found.values():
        assert isinstance(event.dtstart.value, dt.date) and not isinstance(event.dtstart.value, dt.datetime)
        assert event.dtend.value == event.dtstart.value + dt.timedelta(days=1)
    fleet = morning.store.fleet_id
    today = found[f"due-2026-11-02-KW@{fleet}"]
    assert today.summary.value == "2 to check" and "P-1008 (EB-18)" in today.description.value
    meter = found[f"meter_calibration-M-02@{fleet}"]
    assert meter.dtstart.value == dt.date(2026, 11, 3) and meter.status.value == "CONFIRMED"
    assert found[f"due-2026-11-03-KW@{fleet}"].status.value == "CANCELLED"


def test_a_newer_file_updates_what_an_older_one_said(morning: Kestrel, tmp_path: Path) -> None:
    first, second = tmp_path / "1.ics", tmp_path / "2.ics"
    calendar_out.write_depot(morning.store, morning.clock, "KW", first)
    morning.check("P-1008", "41.60")
    morning.check("P-1023", "41.60")
    calendar_out.write_depot(morning.store, morning.clock, "KW", second)
    old, new = events(first), events(second)
    assert old.keys() == new.keys()
    uid = f"due-2026-11-02-KW@{morning.store.fleet_id}"
    assert (old[uid].status.value, new[uid].status.value) == ("CONFIRMED", "CANCELLED")
    assert all(int(new[uid].sequence.value) > int(old[uid].sequence.value) for uid in old)


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
        event = found[f"round-{day.isoformat()}-PIKE@{fleet}"]
        assert event.status.value == ("CONFIRMED" if own else "CANCELLED")
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
    assert line[2] == "first check" and line[4] == '\'=HYPERLINK("x")' and line[6] == MONDAY.date().isoformat()


def test_another_ending_is_refused(kestrel: Kestrel, tmp_path: Path) -> None:
    with pytest.raises(EntryRefused, match="xlsx"):
        round_files.write(rounds.round_of(kestrel.store, kestrel.clock), tmp_path / "round.ods")
