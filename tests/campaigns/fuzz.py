"""Rows and files of nonsense through the importer of old spreadsheets and the typed-number parser.

    python -m tests.campaigns.fuzz 100000

No crash; every row has one outcome; a number that is taken is exactly the number that was written.
"""

from __future__ import annotations

import csv
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
from fleetcare.services import oldsheets
from tests.kestrel import Kestrel, build

HEAD = ["pack", "date", "volts", "loaded", "amps", "rest min", "meter", "vehicle", "temp", "notes"]
CELLS = (
    "", " ", "ok", "41.5", "41,5", "41.5 V", "41500 mV", "41500", "1e5", "-41", "+41.5", "٤١", "nan", "inf", "1.234,5",
    "41.5.2", "=1+1", "'; DROP TABLE record; --", "<b>41</b>", "\x00", "\ud7ff", "9" * 60, "0", "0.0", "00041.50", "½",
    "P-1002", "p-1003 ", "P-9999", "M-01", "M-99", "EB-12", "CB-01", "3/4/2026", "25/3/2026", "3/25/2026", "31.2.2026",
    "2026-10-05", "2026-10-05T08:10:00+02:00", "2026-13-45", "5 Oct 2026", "5 Foo 2026", "29/2/2025", "1/1/0000", "08:15",
    "99:99", "90", "1 h", "overnight", "−41.5", "41\u00a0500", "a\nb", 'a"b', "a,b", "a;b", "\t", "0001-01-01", "9999-12-31",
)  # fmt: skip
PLAIN = re.compile(r"[+-]?(\d+([.,]\d+)?|[.,]\d+)")


def rows(count: int, seed: int) -> list[list[str]]:
    """Rows of which some are nearly right and some are not right at all."""
    rng = random.Random(seed)
    made = []
    for number in range(count):
        row = [
            f"P-10{rng.randint(1, 14):02d}", f"{rng.randint(1, 28)}/{rng.randint(1, 12)}/2025 10:{number % 60:02d}",
            f"41.{rng.randint(0, 99):02d}", "", "", "90", "M-01", "", "18", f"n{number}",
        ]  # fmt: skip
        for _ in range(rng.choice((0, 1, 1, 2, 5))):
            row[rng.randrange(len(row))] = rng.choice(CELLS)
        if rng.random() < 0.02:
            row = row[: rng.randrange(len(row))]
        made.append(row)
    return made


def run(count: int, seed: int = 8) -> Counter[str]:
    """`count` rows in files of at most 5,000, a tenth as many damaged files, and as many typed numbers."""
    tally: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as place:
        kestrel = build(Path(place) / "depot.fleet")
        for start in range(0, count, 5000):
            tally += _file(kestrel, Path(place), rows(min(5000, count - start), seed + start))
        tally["damaged files"] = _damaged(kestrel, Path(place), max(20, count // 100), seed)
        tally["typed numbers"] = _typed(count, seed)
        assert kestrel.store.verify().good
        kestrel.store.close()
    return tally


def _file(kestrel: Kestrel, folder: Path, made: list[list[str]]) -> Counter[str]:
    path = folder / "fuzz.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(HEAD)
        writer.writerows([[cell.replace("\x00", "") for cell in row] for row in made])
    plan = replace(oldsheets.survey(kestrel.store, path).plan, order=DateOrder.DAY_FIRST, millivolts=True)
    shown = oldsheets.preview(kestrel.store, kestrel.clock, path, plan)
    wanted = sum(any(cell.replace("\x00", "").strip() for cell in row) for row in made)
    assert shown.rows == wanted, f"{shown.rows} rows counted of {wanted}"
    with kestrel.store.view() as view:
        before = view.position
    done = oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    shown.close()
    assert done.counts == {k: v for k, v in shown.counts.items()}
    _exact(kestrel, before, made)
    return Counter({f"rows {name}": number for name, number in done.counts.items()})


def _exact(kestrel: Kestrel, before: int, made: list[list[str]]) -> None:
    """Each volts value on record is the number in its source row, digit for digit."""
    with kestrel.store.view() as view:
        for position in range(before + 2, view.position + 1):
            record = view.record_at(position)
            assert record is not None
            if not record.source.startswith("file:"):
                continue
            body = record.body
            reading = getattr(body, "check", None) or getattr(body, "reading", None) or body
            cell = made[int(record.source.rsplit(":", 1)[1]) - 2][2].strip().replace("−", "-")
            if reading.rested_v is None:
                continue
            milli = "mV" in cell or Decimal(re.sub(r"[^\d.,+-]", "", cell).replace(",", ".")) >= 1000
            number = Decimal(re.sub(r"[^\d.,+-]", "", cell).replace(",", "."))
            assert reading.rested_v == (number.scaleb(-3) if milli else number), (cell, reading.rested_v)


def _damaged(kestrel: Kestrel, folder: Path, count: int, seed: int) -> int:
    """Files of all three sorts with bytes changed, cut or made up: a sentence, or rows; never a crash."""
    import pandas as pd

    rng = random.Random(seed)
    whole: dict[str, bytes] = {}
    table = pd.DataFrame([row for row in rows(40, seed) if len(row) == len(HEAD)], columns=HEAD)
    table = table.map(lambda cell: re.sub(r"[^\x20-\x7e]", "", cell))
    for name, engine in (("f.xlsx", "openpyxl"), ("f.ods", "odf")):
        table.to_excel(folder / name, engine=engine, index=False)  # type: ignore[call-overload]
        whole[name] = (folder / name).read_bytes()
    table.to_csv(folder / "f.csv", index=False)
    whole["f.csv"] = (folder / "f.csv").read_bytes()
    for _ in range(count):
        name = rng.choice(list(whole))
        data = bytearray(whole[name])
        for _ in range(rng.choice((1, 3, 30))):
            data[rng.randrange(len(data))] = rng.randrange(256)
        if rng.random() < 0.3:
            data = data[: rng.randrange(len(data))]
        path = folder / f"broken-{name}"
        path.write_bytes(bytes(data))
        try:
            plan = oldsheets.survey(kestrel.store, path).plan
            oldsheets.preview(kestrel.store, kestrel.clock, path, plan).close()
        except FleetcareError as refused:
            assert str(refused)
    return count


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
