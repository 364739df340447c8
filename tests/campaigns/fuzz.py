"""Rows of nonsense through every importer and the typed-number parser; for damaged files see damaged.py.

    python -m tests.campaigns.fuzz 100000

No crash; every row has one outcome; a number that is taken is exactly the number that was written.
"""

from __future__ import annotations

import random
import re
import sys
import tempfile
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.oldrows import DateOrder
from fleetcare.domain.units import parse_volts
from fleetcare.services import importing, measured, oldsheets, vehicle_lists
from tests.campaigns.damaged import memory
from tests.campaigns.readers import exact
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import Kestrel, build

HEAD = ["pack", "date", "volts", "loaded", "amps", "rest min", "meter", "vehicle", "temp", "notes"]
CELLS = (
    "", " ", "ok", "41.5", "41,5", "41.5 V", "41500 mV", "41500", "1e5", "-41", "+41.5", "٤١", "nan", "inf", "1.234,5",
    "41.5.2", "=1+1", "'; DROP TABLE record; --", "<b>41</b>", "\x00", "\ud7ff", "9" * 60, "0", "0.0", "00041.50", "½",
    "P-1002", "p-1003 ", "P-9999", "M-01", "M-99", "EB-12", "CB-01", "3/4/2026", "25/3/2026", "3/25/2026", "31.2.2026",
    "2026-10-05", "2026-10-05T08:10:00+02:00", "2026-13-45", "5 Oct 2026", "5 Foo 2026", "29/2/2025", "1/1/0000", "08:15",
    "99:99", "90", "1 h", "overnight", "−41.5", "41\u00a0500", "a\nb", 'a"b', "a,b", "a;b", "\t", "0001-01-01", "9999-12-31",
)  # fmt: skip
KINDS = ("csv", "xlsx", "ods")
DAY_FIRST = re.compile(r"^(\d\d)/(\d\d)/2025")
PLAIN = re.compile(r"[+-]?(\d+([.,]\d+)?|[.,]\d+)")


def rows(count: int, seed: int) -> list[list[str]]:
    """Rows of which some are nearly right and some are not right at all."""
    rng = random.Random(seed)
    made = []
    for number in range(count):
        row = [
            f"P-10{rng.randint(1, 14):02d}", f"{rng.randint(1, 28):02d}/{rng.randint(1, 12):02d}/2025 10:{number % 60:02d}",
            f"41.{rng.randint(0, 99):02d}", "", "", "90", "M-01", "", "18", f"n{number}",
        ]  # fmt: skip
        for _ in range(rng.choice((0, 1, 1, 2, 5))):
            row[rng.randrange(len(row))] = rng.choice(CELLS)
        if rng.random() < 0.02:
            row = row[: rng.randrange(len(row))]
        made.append(row)
    return made


def run(count: int, seed: int = 8) -> Counter[str]:
    """At least `count` rows through each importer and each sort of file, and as many typed numbers."""
    tally: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(dir=memory()) as place:
        kestrel = build(Path(place) / "depot.fleet")
        left = dict.fromkeys((*KINDS, "table", "cells", "vehicles"), count)
        turn = 0
        while any(number > 0 for number in left.values()):
            for way in [way for way, number in left.items() if number > 0]:
                turn += 1
                made = rows(min(5000, left[way] + 9), seed + turn)
                if way == "cells":
                    found = _cells(kestrel, Path(place), min(5000, left[way]), seed + turn)
                elif way == "vehicles":
                    found = _vehicles(kestrel, Path(place), min(5000, left[way]), seed + turn)
                else:
                    found = (
                        _table(kestrel, Path(place), made) if way == "table" else _file(kestrel, Path(place), made, way)
                    )
                left[way] -= found.total()
                tally += found
        tally["typed numbers"] = _typed(count, seed)
        assert kestrel.store.verify().good
        kestrel.store.close()
    return tally


def _file(kestrel: Kestrel, folder: Path, made: list[list[str]], kind: str) -> Counter[str]:
    made = [[clean(cell, kind) for cell in row] for row in made]
    path = folder / f"fuzz.{kind}"
    write_sheet(path, [HEAD, *made])
    plan = replace(oldsheets.survey(kestrel.store, path).plan, order=DateOrder.DAY_FIRST, millivolts=True)
    shown = oldsheets.preview(kestrel.store, kestrel.clock, path, plan)
    wanted = sum(any(cell.strip() for cell in row) for row in made)
    assert shown.rows == wanted, f"{shown.rows} rows counted of {wanted}"
    with kestrel.store.view() as view:
        before = view.position
    done = oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    shown.close()
    assert done.counts == {k: v for k, v in shown.counts.items()}
    exact(kestrel, before, lambda row: made[row - 2][2])
    return Counter({f"{kind} rows {name}": number for name, number in done.counts.items()})


def clean(cell: str, kind: str) -> str:
    """The cell without what this sort of file cannot hold."""
    cell = cell.replace("\x00", "")
    return cell if kind == "csv" else re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff\r\n\t]", " ", cell)


def _table(kestrel: Kestrel, folder: Path, made: list[list[str]]) -> Counter[str]:
    """The same rows through the importer of tables, which wants dates as ISO 8601: taken, known and refused add up."""
    made = [[DAY_FIRST.sub(r"2025-\2-\1", cell.replace("\x00", "")) for cell in row] for row in made]
    path = folder / "table.csv"
    write_sheet(path, [["pack", "date", "volts", "loaded", "amps", "rest min", "meter", "vehicle", "temperature", "notes"],
                       *(row + [""] * (len(HEAD) - len(row)) for row in made)])  # fmt: skip
    with kestrel.store.view() as view:
        before = view.position
    done = importing.import_checks(kestrel.store, kestrel.clock, kestrel.author(), path)
    assert done.taken + done.known + len(done.refused) == done.rows, done
    exact(kestrel, before, lambda row: made[row - 2][2])
    return Counter(
        {"table rows taken": done.taken, "table rows known": done.known, "table rows refused": len(done.refused)}
    )


MEASURED = (
    "", "nan", "inf", "-1", "0", "1e400", "9" * 40, "4.18", "4,18", "ok", "½", "=1", "\x1f", "rested_full", "loaded",
    "suspect", "K1", "k-1", "../K", "电", "1e-9", "true", "0x10", "1_000",
)  # fmt: skip


def _cells(kestrel: Kestrel, folder: Path, count: int, seed: int) -> Counter[str]:
    """Measured cell histories with nonsense in any cell: every row is in a check, in a refusal, or known already."""
    rng = random.Random(seed)
    made = []
    for number in range(count):
        kind = rng.choice(("rested_full", "loaded", "stored"))
        row = [f"K{rng.randint(1, 9)}", str(1 + number // 18), str(30 + number), kind, f"{3.5 + rng.random():.4f}",
               "24", "2.0" if kind == "loaded" else "", "4", "30", ""]  # fmt: skip
        for _ in range(rng.choice((0, 0, 0, 1, 1, 3))):
            row[rng.randrange(len(row))] = rng.choice(MEASURED)
        made.append(row)
    path = folder / f"CELLS{seed}.csv"
    write_sheet(path, [list(measured.COLUMNS), *made])
    done = measured.import_measured(kestrel.store, kestrel.clock, kestrel.author(), path, series=10)
    assert done.taken + done.known + len(done.refused) == done.rows <= count, done
    path.unlink()
    merged = count - done.rows  # a loaded reading stands in the check of its cycle
    assert merged <= sum(row[3] == "loaded" for row in made), "a row is counted nowhere"
    return Counter(
        {"cell rows taken": done.taken, "cell rows known": done.known, "cell rows refused": len(done.refused),
         "cell rows merged into another of their cycle": merged}
    )  # fmt: skip


VEHICLES = (
    "", " ", "e-bike", "E BIKE", "cargo_bike", "tricycle", "KW", "kestrel wharf", "Depot 9", "K36-A", "k48-b", "S36-F", "K99",
    "P-1002", "../EB", "EB 1", "EB-\x1f1", "\x00", "9" * 60, "=1+1", "٤١", "<b>", "a\nb", 'a"b', "code", "½", "\ufeff",
)  # fmt: skip


def _vehicles(kestrel: Kestrel, folder: Path, count: int, seed: int) -> Counter[str]:
    """A list of vehicles with nonsense in any cell: every row is new, changed, known or refused, and is recorded so."""
    rng = random.Random(seed)
    made = []
    for number in range(count):
        row = [f"EB-{rng.randint(100, 4999)}", rng.choice(("e-bike", "cargo bike", "e-scooter")), "KW", f"F{number}",
               rng.choice(("K36-A", "K48-B", "S36-F"))]  # fmt: skip
        for _ in range(rng.choice((0, 0, 1, 2))):
            row[rng.randrange(len(row))] = rng.choice(VEHICLES).replace("\x00", "")
        made.append(row if rng.random() < 0.98 else row[: rng.randrange(len(row))])
    path = folder / "vehicles.csv"
    write_sheet(path, [["code", "kind", "depot", "serial", "model"], *made])
    shown = vehicle_lists.read_file(kestrel.store, kestrel.clock, path)
    found = Counter({f"vehicle rows {state.value}": shown.count(state) for state in vehicle_lists.State})
    assert found.total() == len(shown.rows) == sum(any(cell.strip() for cell in row) for row in made)
    vehicle_lists.record_list(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), shown)
    again = vehicle_lists.read_file(kestrel.store, kestrel.clock, path)
    assert again.count(vehicle_lists.State.REFUSED) == found["vehicle rows refused"]
    assert again.count(vehicle_lists.State.KNOWN) == found.total() - found["vehicle rows refused"], again.told
    return found


def _typed(count: int, seed: int) -> int:
    rng = random.Random(seed)
    letters = "0123456789.,+-−eEvVmA \u00a0٤½'x"
    for number in range(count):
        text = rng.choice(CELLS) if number % 3 == 0 else "".join(rng.choices(letters, k=rng.randint(0, 9)))
        try:
            value = parse_volts(text, field="rested_v")
        except FleetcareError:
            continue
        typed = text.strip().replace("−", "-")
        assert PLAIN.fullmatch(typed) and value == Decimal(typed.replace(",", ".")) >= 0, text
    return count


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    for name, number in run(count).items():
        print(f"{name}: {number}")


if __name__ == "__main__":
    main()
