"""Every reader of files, with a whole file of its sort and what must hold when it takes a damaged one.

A reader refuses in a sentence, or takes what is there: every row has an outcome, what was shown is what is
written, each figure on record is the one in its cell, and a file with a fingerprint is the one it was.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from random import Random

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.moments import parse_date
from fleetcare.domain.oldrows import DateOrder
from fleetcare.domain.packs import Charger, Chemistry, Depot, Pack, Thing
from fleetcare.services import (
    backup,
    describing,
    exporting,
    history,
    history_checker,
    importing,
    measured,
    oldsheets,
    projecting,
    record,
    table_files,
    vehicle_lists,
)
from fleetcare.services.history import Asked
from fleetcare.store.store import Store
from tests.campaigns.depot import with_picture_and_pin
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import K36, METERS, MONDAY, PEOPLE, SITE, Kestrel
from tests.role_table import MODEL

Rows = list[list[object]]
LOG: Rows = [["pack", "date", "volts", "rest min", "meter", "notes"]] + [
    [f"P-10{1 + n % 14:02d}", f"2026-0{1 + n % 9}-11 10:{n:02d}", 41 + n / 100, 90, "M-01", f"n{n}"] for n in range(12)
]
VEHICLES: Rows = [["code", "kind", "depot", "serial", "model"]] + [
    [f"EB-5{n}", ("e-bike", "cargo bike")[n % 2], ("KW", "")[n % 2], f"F{n}", ("K36-A", "K48-B")[n % 2]]
    for n in range(6)
]
CELLS: Rows = [list(measured.COLUMNS)] + [
    [f"K{1 + n % 2}", 1 + n // 2, 30 * n, ("rested_full", "loaded")[n // 2 % 2], 4.2 - n / 100, 24, 2 if n // 2 % 2 else "",
     4, 10 if n // 2 % 2 else "", ""] for n in range(8)
]  # fmt: skip
CHECKS: Rows = [list(projecting.CHECK_COLUMNS)] + [
    [
        f"c{n}",
        f"P{1 + n // 8}",
        "A",
        f"2025-{1 + n % 8:02d}-11T10:00:00",
        "rested_full",
        42 - n % 8 / 20,
        20,
        90,
        "",
        "M1",
    ]
    for n in range(16)
]
MODELS: Rows = [
    list(projecting.MODEL_COLUMNS),
    ["A", "NMC", 10, 14, 36, 42, 8, 10, 41, 38],
    ["B", "LFP", 12, 10, 38.4, 43.8, 8, 10, "", ""],
]
FLEET = MODEL + '\n[[pack]]\ncode = "P-1500"\nmodel = "L36"\nserial = "2611-0500"\nshelf = "Rack 1"\n'


@dataclass(frozen=True, slots=True)
class Sort:
    """One sort of file: a whole one, its rows where it is a table, and what reads it."""

    whole: bytes
    read: Callable[[Kestrel, Path, Random], None]
    rows: Rows | None = None


def every_sort(kestrel: Kestrel, folder: Path) -> dict[str, Sort]:
    """Every sort of file that the program reads, by the name of a whole one."""
    found: dict[str, Sort] = {}
    for name, rows, read in (
        ("log.csv", LOG, old_sheet), ("log.xlsx", LOG, old_sheet), ("log.ods", LOG, old_sheet),
        ("table.csv", LOG, table), ("table.xlsx", LOG, table),
        ("vehicles.csv", VEHICLES, vehicles), ("vehicles.xlsx", VEHICLES, vehicles), ("vehicles.ods", VEHICLES, vehicles),
        ("cells.csv", CELLS, cells), ("cells.xlsx", CELLS, cells),
        ("checks.csv", CHECKS, _to_project(MODELS, "models.csv")), ("models.csv", MODELS, _to_project(CHECKS, "checks.csv")),
    ):  # fmt: skip
        write_sheet(folder / name, rows)
        found[name] = Sort((folder / name).read_bytes(), read, rows)
    found["fleet.toml"] = Sort(FLEET.encode(), fleet)
    small = _small(folder)
    head = exporting.export_all(small.store, folder / "all.zip")
    found["export.zip"] = Sort((folder / "all.zip").read_bytes(), _export(head))
    backup.back_up(small.store, small.clock, folder / "backups")
    small.store.close()
    (copy,) = (folder / "backups").glob("*.fleet")
    found["backup.fleet"] = Sort(copy.read_bytes(), _backup(backup.look(copy).examined.head))
    _write_history(kestrel, folder / "history.zip")
    found["history.zip"] = Sort((folder / "history.zip").read_bytes(), _history(folder / "history.zip"))
    return found


def old_sheet(kestrel: Kestrel, path: Path, rng: Random) -> None:
    """An old spreadsheet, each of its sheets shown and brought in."""
    store, clock = kestrel.store, kestrel.clock
    first = oldsheets.survey(store, path)
    for name in first.sheets:
        plan = first.plan if name == first.plan.sheet else oldsheets.survey(store, path, name).plan
        if rng.random() < 0.8:
            plan = replace(plan, order=plan.order or rng.choice(list(DateOrder)), millivolts=rng.random() < 0.5)
        shown = oldsheets.preview(store, clock, path, plan)
        try:
            below = {row: got for row, got in table_files.rows(path, name) if row > plan.heading_row}
            assert shown.rows == len(below), f"{shown.rows} rows counted of {len(below)}"
            if shown.counts["asked"]:
                continue
            before = _position(kestrel)
            done = oldsheets.bring_in(store, clock, kestrel.author(), shown)
            assert done.counts == dict(shown.counts)
            at = plan.columns["rested_v"]
            exact(kestrel, before, lambda row, below=below, at=at: below[row][at], milli=plan.milli("rested_v"))
        finally:
            shown.close()


def table(kestrel: Kestrel, path: Path, _rng: Random) -> None:
    """A table of checks."""
    before = _position(kestrel)
    done = importing.import_checks(kestrel.store, kestrel.clock, kestrel.author(), path)
    assert done.taken + done.known + len(done.refused) == done.rows, done
    if done.taken:
        read = importing._table(path, path.read_bytes())
        column = dict(done.mapping)["rested_v"]
        exact(kestrel, before, lambda row: str(read[column].iloc[row - 2]))


def vehicles(kestrel: Kestrel, path: Path, _rng: Random) -> None:
    """A list of vehicles, shown, recorded, and known the next time."""
    store, clock = kestrel.store, kestrel.clock
    shown = vehicle_lists.read_file(store, clock, path, "K36-A")
    wanted = [row for row in shown.rows if row.state in (vehicle_lists.State.NEW, vehicle_lists.State.CHANGED)]
    assert len(shown.rows) == sum(shown.count(state) for state in vehicle_lists.State)
    if not wanted:
        return
    vehicle_lists.record_list(store, clock, kestrel.author("ORMOND"), shown)
    with store.view() as view:
        for row in wanted:
            assert row.vehicle is not None and view.thing("vehicle", row.vehicle.code) == row.vehicle, row
    again = vehicle_lists.read_file(store, clock, path, "K36-A")
    assert again.count(vehicle_lists.State.NEW) == again.count(vehicle_lists.State.CHANGED) == 0, again.told


def cells(kestrel: Kestrel, path: Path, _rng: Random) -> None:
    """Measured cells: every row is in a check, in a refusal, or known already."""
    done = measured.import_measured(kestrel.store, kestrel.clock, kestrel.author(), path, series=10)
    assert done.taken + done.known + len(done.refused) == done.rows, done


def fleet(kestrel: Kestrel, path: Path, _rng: Random) -> None:
    """A fleet that is described: what was taken stays, and the same file again adds nothing."""
    describing.import_fleet(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), path)
    before = _position(kestrel)
    describing.import_fleet(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), path)
    assert _position(kestrel) == before, "the same description again was recorded again"


def _small(folder: Path) -> Kestrel:
    """A fleet of a few records of many kinds, with a kept file, a picture and a PIN."""
    made = Kestrel(Store.create(folder / "small.fleet", fleet_name="Kestrel Wharf", now=MONDAY))
    store, author = made.store, made.author("ORMOND")
    things: list[tuple[str, Thing]] = [
        ("depot", Depot("KW", "Kestrel Wharf")),
        ("site_rules", SITE),
        ("pack_model", K36),
        ("meter", METERS[0]),
    ]
    things += [("charger", Charger("C-36-1", "36 V charger", Decimal("42.0"), Decimal("1"), "K2", Chemistry.NMC))]
    things += [("pack", Pack("P-1002", "K36-A")), *(("person", person) for person in PEOPLE.values())]
    record.put_things(store, made.clock, author, *things)
    with_picture_and_pin(made)
    write_sheet(folder / "small.csv", LOG[:4])
    shown = oldsheets.preview(
        store, made.clock, folder / "small.csv", oldsheets.survey(store, folder / "small.csv").plan
    )
    oldsheets.bring_in(store, made.clock, made.author(), shown)
    shown.close()
    return made


def _export(whole: Head) -> Callable[[Kestrel, Path, Random], None]:
    def read(_kestrel: Kestrel, path: Path, _rng: Random) -> None:
        assert exporting.rebuild(path, path.with_suffix(".fleet")) == whole, "a changed export was taken"

    return read


def _to_project(other: Rows, name: str) -> Callable[[Kestrel, Path, Random], None]:
    def read(_kestrel: Kestrel, path: Path, _rng: Random) -> None:
        beside = path.with_name(f"{path.stem}-{name}")
        write_sheet(beside, other)
        files = (beside, path) if name.startswith("checks") else (path, beside)
        projecting.read_files(*files, parse_date("2026-06-01", field="as_of"))

    return read


def _backup(head: object) -> Callable[[Kestrel, Path, Random], None]:
    def read(_kestrel: Kestrel, path: Path, _rng: Random) -> None:
        found = backup.look(path).examined
        assert not found.good or found.head == head, "a changed backup was called good"

    return read


def _history(whole: Path) -> Callable[[Kestrel, Path, Random], None]:
    kept = history_checker.load(whole)

    def read(_kestrel: Kestrel, path: Path, _rng: Random) -> None:
        try:
            files = history_checker.load(path)
        except Exception as error:  # the command says so in one sentence, whatever it was
            raise FleetcareError("archive.unreadable", path=str(path), why=str(error)) from error
        good, said = history_checker.check(files)
        assert said and (
            not good or all(files.get(name) == kept[name] for name in kept if name != history_checker.FILES)
        )

    return read


def _write_history(kestrel: Kestrel, path: Path) -> None:
    from fleetcare.reports import archive

    first = MONDAY.date().replace(year=MONDAY.year - 1)
    with history.reading(kestrel.store, kestrel.clock, Asked("pack", "P-1002", first, MONDAY.date())) as reading:
        archive.write(reading, reading.whole(), path, page="A4", printed_by="Ormond", printed_at=MONDAY)


def exact(kestrel: Kestrel, before: int, cell: Callable[[int], str], *, milli: bool = False) -> None:
    """Each volts value on record is the number in its source row, digit for digit; `cell` gives the text of a row."""
    with kestrel.store.view() as view:
        for position in range(before + 1, view.position + 1):
            record = view.record_at(position)
            assert record is not None
            if not record.source.startswith("file:") or not record.batch:
                continue
            body = record.body
            reading = getattr(body, "check", None) or getattr(body, "reading", None) or body
            if getattr(reading, "rested_v", None) is None:
                continue
            text = cell(int(record.source.rsplit(":", 1)[1])).strip().replace("\u2212", "-")
            number = Decimal(re.sub(r"[^\d.,+-]", "", text).replace(",", "."))
            scaled = milli or "mv" in text.lower() or number >= 1000
            assert reading.rested_v == (number.scaleb(-3) if scaled else number), (text, reading.rested_v)


def _position(kestrel: Kestrel) -> int:
    with kestrel.store.view() as view:
        return view.position


def repacked(rows: Rows, name: str, folder: Path) -> bytes:
    """The rows as a file of that sort."""
    path = folder / f"again-{name}"
    write_sheet(path, rows)
    try:
        return path.read_bytes()
    finally:
        path.unlink()
