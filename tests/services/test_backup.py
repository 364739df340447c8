"""Backups are whole or not believed; a restore says exactly what is here and what is not."""

import datetime as dt
import json
import random
import sqlite3
import threading
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.packs import Person, Role
from fleetcare.domain.wording import say
from fleetcare.services import backup, exporting, oldsheets, people, summary
from fleetcare.store.store import Store
from tests.campaigns.depot import PNG, with_picture_and_pin
from tests.kestrel import Kestrel


def test_a_backup_is_whole_while_somebody_writes(kestrel: Kestrel) -> None:
    stop = threading.Event()

    def writing() -> None:
        volts = 0
        while not stop.is_set() and volts < 80:
            kestrel.check("P-1002", f"41.{volts:02d}")
            volts += 1

    writer = threading.Thread(target=writing)
    writer.start()
    try:
        made = backup.back_up(kestrel.store, kestrel.clock)
    finally:
        stop.set()
        writer.join()
    assert made.examined.good and made.examined.records >= 156
    assert made.path.name == "kestrel-20261102-063000.fleet" and not list(made.path.parent.glob("*.part"))


def test_a_restore_on_an_empty_pc_proves_itself_against_paper(kestrel: Kestrel, tmp_path: Path) -> None:
    with kestrel.store.view() as view:
        printed = view.head().short
    made = backup.back_up(kestrel.store, kestrel.clock)
    before = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    for n in range(9):
        kestrel.check("P-1002", f"41.1{n}")
    with kestrel.store.view() as view:
        later = view.head().short
    found = backup.restore(made.path, tmp_path / "new" / "fleet.fleet", printed)
    assert found.proof is not None and "equals the printed fingerprint" in say(found.proof)
    assert found.examined.records == 156 and found.missing == 0
    store = Store.open(tmp_path / "new" / "fleet.fleet")
    assert summary.pack_summary(store, kestrel.clock, "P-1002") == before
    store.close()
    older = backup.look(made.path, later)
    assert older.missing == 9 and older.may_restore and older.proof and "at least 9 are missing" in say(older.proof)
    with pytest.raises(FileRefused, match="nothing was overwritten"):
        backup.restore(made.path, tmp_path / "new" / "fleet.fleet")
    newer = backup.look(backup.back_up(kestrel.store, kestrel.clock, tmp_path / "newer").path, printed)
    assert newer.may_restore and newer.proof and "equals" not in say(newer.proof)
    assert say(newer.proof).startswith("It contains everything") and say(newer.proof).endswith("added since: 9.")
    forged = "0" + later[1:] if later[0] != "0" else "1" + later[1:]
    forged = forged.rsplit(" ", 1)[0] + " 156"
    with pytest.raises(FileRefused, match="does not match the printed"):
        backup.restore(made.path, tmp_path / "other.fleet", forged)
    with pytest.raises(EntryRefused, match="no fingerprint"):
        backup.look(made.path, "1a2b 3c4d")


def test_a_damaged_backup_names_the_first_bad_record_and_is_not_loaded(kestrel: Kestrel, tmp_path: Path) -> None:
    made = backup.back_up(kestrel.store, kestrel.clock)
    raw = sqlite3.connect(made.path)
    (data,) = raw.execute("SELECT bytes FROM record WHERE position = 140").fetchone()
    raw.close()
    whole = made.path.read_bytes()
    at = whole.index(data) + data.index(b'"rested_v":"4') + len('"rested_v":"4')
    made.path.write_bytes(whole[:at] + b"9" + whole[at + 1 :])
    with pytest.raises(FileRefused, match=r"Record 140 .* was changed.*Try an older backup"):
        backup.restore(made.path, tmp_path / "new.fleet")
    assert not (tmp_path / "new.fleet").exists()


def test_a_second_place_holds_the_same_and_its_absence_is_told(kestrel: Kestrel, tmp_path: Path) -> None:
    made = backup.back_up(kestrel.store, kestrel.clock, second=tmp_path / "stick")
    assert made.second is not None and backup.look(made.second).examined.head == made.examined.head
    kestrel.now += dt.timedelta(hours=1)
    (tmp_path / "file").write_text("no folder")
    told = backup.back_up(kestrel.store, kestrel.clock, second=tmp_path / "file")
    assert told.second is None and told.trouble is not None and told.path.exists()


def test_a_backup_is_due_on_each_day_with_something_new(kestrel: Kestrel) -> None:
    assert backup.is_due(kestrel.store, kestrel.clock)
    backup.back_up(kestrel.store, kestrel.clock)
    kestrel.check("P-1002", "41.50")
    assert not backup.is_due(kestrel.store, kestrel.clock)
    kestrel.now += dt.timedelta(days=1)
    assert not backup.is_due(kestrel.store, kestrel.clock)
    kestrel.check("P-1002", "41.51")
    assert backup.is_due(kestrel.store, kestrel.clock)


def test_a_record_written_with_another_offset_counts_by_its_instant(kestrel: Kestrel) -> None:
    there = dt.timezone(dt.timedelta(hours=13))
    backup.back_up(kestrel.store, lambda: kestrel.now.astimezone(there))  # named 19:30, as the depot's clock shows it
    kestrel.now += dt.timedelta(hours=6)
    kestrel.check("P-1002", "41.50")  # entered at 12:30+00:00 by an earlier version on a PC in UTC
    kestrel.now += dt.timedelta(days=1)
    assert backup.is_due(kestrel.store, lambda: kestrel.now.astimezone(there))


def test_only_dated_backups_of_this_fleet_are_thinned_out(tmp_path: Path) -> None:
    for name in ("kestrel-old.fleet", "other-20200101-000000.fleet", "kestrel-notes.txt"):
        (tmp_path / name).write_text("mine")
    for hour in range(5):
        (tmp_path / f"kestrel-20261102-0{hour}0000.fleet").write_text("backup")
    assert len(backup.thin_out(tmp_path, "kestrel")) == 4
    assert sorted(p.name for p in tmp_path.glob("*.*") if p.read_text("utf-8") == "mine") == [
        "kestrel-notes.txt", "kestrel-old.fleet", "other-20200101-000000.fleet",
    ]  # fmt: skip
    assert (tmp_path / "kestrel-20261102-040000.fleet").exists()


@given(st.sets(st.datetimes(dt.datetime(2020, 1, 1), dt.datetime(2027, 1, 1)), max_size=200))
def test_the_newest_always_stays_and_never_more_than_the_sum(moments: set[dt.datetime]) -> None:
    kept = backup.to_keep(moments)
    assert kept <= moments and len(kept) <= backup.DAYS + backup.WEEKS + backup.MONTHS
    assert not moments or max(moments) in kept
    assert backup.to_keep(kept) == kept


def test_everything_goes_out_in_open_formats_and_comes_back(kestrel: Kestrel, tmp_path: Path) -> None:
    old = tmp_path / "old.csv"
    old.write_text("pack,date,volts,notes\nP-1002,2026-10-01,41.1,=1+1\n", "utf-8")
    plan = oldsheets.survey(kestrel.store, old).plan
    oldsheets.bring_in(
        kestrel.store, kestrel.clock, kestrel.author(), oldsheets.preview(kestrel.store, kestrel.clock, old, plan)
    )
    head = exporting.export_all(kestrel.store, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        lines = packed.read("records.jsonl").splitlines()
        assert len(lines) == head.size and json.loads(lines[0])["kind"] == "fleet_founded"
        assert packed.read(f"sources/{sha256(old.read_bytes()).hexdigest()}") == old.read_bytes()
    assert exporting.rebuild(tmp_path / "all.zip", tmp_path / "again.fleet") == head
    store = Store.open(tmp_path / "again.fleet")
    assert store.verify().good
    assert summary.pack_summary(store, kestrel.clock, "P-1002") == summary.pack_summary(
        kestrel.store, kestrel.clock, "P-1002"
    )
    store.close()


def test_an_export_that_was_touched_is_refused(kestrel: Kestrel, tmp_path: Path) -> None:
    exporting.export_all(kestrel.store, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as packed, zipfile.ZipFile(tmp_path / "bad.zip", "w") as other:
        for name in packed.namelist():
            data = packed.read(name)
            other.writestr(name, data.replace(b'"41.60"', b'"41.61"') if name == "records.jsonl" else data)
    with pytest.raises(FileRefused, match="fingerprint differs"):
        exporting.rebuild(tmp_path / "bad.zip", tmp_path / "again.fleet")
    (tmp_path / "no.zip").write_bytes(b"PK")
    with pytest.raises(FileRefused, match="no export"):
        exporting.rebuild(tmp_path / "no.zip", tmp_path / "again.fleet")
    assert not (tmp_path / "again.fleet").exists()


def test_an_export_whose_packing_is_damaged_is_refused_whatever_breaks(kestrel: Kestrel, tmp_path: Path) -> None:
    exporting.export_all(kestrel.store, tmp_path / "all.zip")
    whole = (tmp_path / "all.zip").read_bytes()
    rng, refused = random.Random(8), 0
    for number in range(60):
        data = bytearray(whole)
        for _ in range(20):
            data[rng.randrange(len(data) // 2)] = rng.randrange(256)
        spoiled = tmp_path / f"spoiled{number}.zip"
        spoiled.write_bytes(data)
        try:
            exporting.rebuild(spoiled, tmp_path / f"again{number}.fleet")
        except FileRefused as error:
            refused += 1
            assert str(error) and not (tmp_path / f"again{number}.fleet").exists()
    assert refused > 50


def test_pictures_pins_and_strange_names_come_back_from_an_export(kestrel: Kestrel, tmp_path: Path) -> None:
    with_picture_and_pin(kestrel)
    names = {"A1": "=SUM(1)", "A2": "'=SUM(1)", "A3": "-5", "A4": "'-5", "A5": "O'Hara", "A6": "''+x"}
    for code, name in names.items():
        people.put_person(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), Person(code, name, (Role.MECHANIC,)))
    exporting.export_all(kestrel.store, tmp_path / "all.zip")
    exporting.rebuild(tmp_path / "all.zip", tmp_path / "again.fleet")
    again = Store.open(tmp_path / "again.fleet")
    with again.view() as view, kestrel.store.view() as old:
        assert {code: name for code, name in view.person_names().items() if code in names} == names
        assert view.pin_hash("HALE") == old.pin_hash("HALE") is not None
        (body,) = [e.body for e in view.events_of("pack", "P-1015") if e.kind == "commissioned"]
        assert view.photo(body.photos[0]) == ("image/png", PNG)  # type: ignore[attr-defined]
    assert again.verify().good
    again.close()


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "\t=1"])
def test_no_cell_is_taken_for_a_formula(text: str) -> None:
    # Characters that begin a formula in spreadsheets: the usual list for CSV injection (common practice, no source).
    assert exporting.safe_cell(text) == "'" + text and exporting.safe_cell("-1.5") == "-1.5"


def test_a_printed_fingerprint_is_taken_as_it_stands_on_paper() -> None:
    for typed in ("1a2b 3c4d 5e6f 7a8b · 3,412 records", "fingerprint 1A2B3C4D5E6F7A8B 3412"):
        assert backup.parse_printed(typed) == ("1a2b3c4d5e6f7a8b", 3412)
    with pytest.raises(EntryRefused, match="is no fingerprint"):
        backup.parse_printed("1a2b 3c4d · 3,412")
