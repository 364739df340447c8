"""Files of every sort that the program reads, damaged: a sentence, or what is in them; never a crash.

Bytes are changed, cut and made up; spreadsheets are also damaged inside their packing, where a
checksum does not find it.
"""

from __future__ import annotations

import io
import random
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from fleetcare.domain.errors import FleetcareError
from fleetcare.services import backup, describing, exporting, importing, measured, oldsheets
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import Kestrel
from tests.role_table import CELLS, MODEL

HEAD = ["pack", "date", "volts", "rest min", "meter", "notes"]
ROWS = [
    [f"P-10{1 + n % 14:02d}", f"2026-0{1 + n % 9}-11 10:{n:02d}", 41 + n / 100, 90, "M-01", f"n{n}"] for n in range(40)
]


def run(kestrel: Kestrel, folder: Path, count: int, seed: int) -> Counter[str]:
    """`count` damaged files, each sort as often; what each reader said of them."""
    rng = random.Random(seed)
    readers = _readers(kestrel, folder)
    tally: Counter[str] = Counter()
    for number in range(count):
        name = list(readers)[number % len(readers)]
        whole, read = readers[name]
        path = folder / f"broken{number}-{name}"
        path.write_bytes(_damage(whole, rng))
        try:
            read(path)
            tally[f"damaged {name} read"] += 1
        except FleetcareError as refused:
            assert str(refused)
            tally[f"damaged {name} refused"] += 1
        for left in folder.glob(f"broken{number}-*"):
            left.unlink()
    return tally


def _readers(kestrel: Kestrel, folder: Path) -> dict[str, tuple[bytes, Callable[[Path], object]]]:
    store, clock, author = kestrel.store, kestrel.clock, kestrel.author()

    def sheet(path: Path) -> None:
        for name in oldsheets.survey(store, path).sheets:
            oldsheets.preview(store, clock, path, oldsheets.survey(store, path, name).plan).close()

    readers: dict[str, tuple[bytes, Callable[[Path], object]]] = {}
    for name in ("log.csv", "log.xlsx", "log.ods"):
        write_sheet(folder / name, [HEAD, *ROWS])
        readers[name] = ((folder / name).read_bytes(), sheet)
    for name, read in (
        ("table.csv", lambda path: importing.import_checks(store, clock, author, path)),
        ("table.xlsx", lambda path: importing.import_checks(store, clock, author, path)),
    ):
        write_sheet(folder / name, [HEAD, *ROWS])
        readers[name] = ((folder / name).read_bytes(), read)
    manager = kestrel.author("ORMOND")
    readers["fleet.toml"] = (MODEL.encode(), lambda path: describing.import_fleet(store, clock, manager, path))
    readers["cells.csv"] = (
        CELLS.encode(), lambda path: measured.import_measured(store, clock, author, path, series=10)
    )  # fmt: skip
    exporting.export_all(store, folder / "all.zip")
    readers["export.zip"] = (
        (folder / "all.zip").read_bytes(), lambda path: exporting.rebuild(path, path.with_suffix(".fleet"))
    )  # fmt: skip
    backup.back_up(store, clock, folder / "backups")
    (copy,) = (folder / "backups").glob("*.fleet")
    readers["backup.fleet"] = (copy.read_bytes(), backup.look)
    return readers


def _damage(whole: bytes, rng: random.Random) -> bytes:
    if whole[:2] == b"PK" and rng.random() < 0.7:
        return _repacked(whole, rng)
    return _spoiled(whole, rng)


def _spoiled(whole: bytes, rng: random.Random) -> bytes:
    data = bytearray(whole)
    for _ in range(rng.choice((1, 3, 30))):
        at = rng.randrange(len(data) + 1)
        how = rng.randrange(3)
        if how == 0 and at < len(data):
            data[at] = rng.randrange(256)
        elif how == 1:
            data[at:at] = data[: rng.randrange(40)]
        else:
            del data[at : at + rng.randrange(1, 20)]
        if not data:
            data = bytearray(b"x")
    if rng.random() < 0.2:
        data = data[: rng.randrange(len(data) + 1)]
    return bytes(data)


def _repacked(whole: bytes, rng: random.Random) -> bytes:
    """One member spoiled, with packing and checksums right."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as packed, zipfile.ZipFile(out, "w") as other:
        chosen = rng.choice(packed.namelist())
        for name in packed.namelist():
            data = packed.read(name)
            other.writestr(name, _spoiled(data, rng) if name == chosen else data)
    return out.getvalue()
