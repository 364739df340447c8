"""Files of every sort that the program reads, damaged: a sentence, or what is in them; never a crash.

    python -m tests.campaigns.damaged 100000 [FIRST LOT]

Bytes are changed, cut and made up; archives and spreadsheets are also damaged inside their packing, where a
checksum does not find it; of tables also single cells, rows and columns, so that the file is whole and its
content is not.  Files lie in memory where the system keeps a place for that, and the depot is a fresh copy
every thousand files.
"""

from __future__ import annotations

import io
import json
import random
import shutil
import sys
import tempfile
import zipfile
from collections import Counter
from pathlib import Path

from fleetcare.domain.errors import FleetcareError
from fleetcare.store.store import Store
from tests.campaigns.readers import Rows, Sort, every_sort, repacked
from tests.kestrel import Kestrel, build

FRESH_EVERY = 1000
LOT = 2000
"""So many files have one seed, the number of their lot: lots may be run side by side."""
NONSENSE = (
    "", " ", "ok", "41.5", "41,5", "41.5 V", "41500 mV", "41500", "1e5", "-41", "٤١", "nan", "inf", "1.234,5", "=1+1",
    "'; DROP TABLE record; --", "<b>41</b>", "\ufeff", "9" * 60, "0", "½", "P-1002", "P-9999", "M-99", "EB-12", "3/4/2026",
    "31.2.2026", "2026-13-45", "2026-10-05T08:10:00+02:00", "1/1/0000", "9999-12-31", "overnight", "−41.5", "a\nb", 'a"b',
    "a,b", "a;b", "\t", "true", "loaded", "e-bike", "volts", "pack", 41500, -1, 1e308, 0.1 + 0.2, 45292, 45292.5,
)  # fmt: skip


def memory() -> str | None:
    """A folder that the system keeps in memory, or None for its usual place."""
    return "/dev/shm" if sys.platform == "linux" and Path("/dev/shm").is_dir() else None


def run(count: int, seed: int = 8) -> Counter[str]:
    """`count` damaged files, each sort as often; what each reader said of them."""
    tally: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(dir=memory()) as place:
        folder = Path(place)
        base = build(folder / "base.fleet")
        sorts = every_sort(base, folder)
        base.store.close()
        for start in range(0, count, FRESH_EVERY):
            rng = random.Random(f"{seed}-{start}")
            shutil.copy(base.store.path, folder / "depot.fleet")
            kestrel = Kestrel(Store.open(folder / "depot.fleet"))
            for number in range(start, min(start + FRESH_EVERY, count)):
                name = list(sorts)[number % len(sorts)]
                tally[f"damaged {name} {_one(kestrel, folder, number, name, sorts[name], rng)}"] += 1
            assert kestrel.store.verify().good
            kestrel.store.close()
            for left in folder.glob("depot.fleet*"):
                left.unlink()
    return tally


def _one(kestrel: Kestrel, folder: Path, number: int, name: str, sort: Sort, rng: random.Random) -> str:
    path = folder / f"broken{number}-{name}"
    path.write_bytes(_damage(name, sort, folder, rng))
    try:
        sort.read(kestrel, path, rng)
    except FleetcareError as refused:
        assert str(refused)
        return "refused"
    except BaseException:
        shutil.copy(path, Path(tempfile.gettempdir()) / f"fleetcare-{path.name}")
        raise
    else:
        return "read"
    finally:
        for left in folder.glob(f"broken{number}-*"):
            left.unlink()


def _damage(name: str, sort: Sort, folder: Path, rng: random.Random) -> bytes:
    if sort.rows is not None and rng.random() < 0.5:
        return repacked(_mangled(sort.rows, rng), name, folder)
    if name.endswith(".toml") and rng.random() < 0.5:
        return _reworded(sort.whole.decode(), rng).encode("utf-8", "surrogatepass")
    if sort.whole[:2] == b"PK" and rng.random() < 0.8:
        return _repacked(sort.whole, rng)
    return _spoiled(sort.whole, rng)


def _mangled(whole: Rows, rng: random.Random) -> Rows:
    """The table with cells, rows and columns that are wrong."""
    rows = [list(row) for row in whole]
    for _ in range(rng.choice((1, 2, 4, 8))):
        row = rng.choice(rows)
        how = rng.random()
        if how < 0.7 and row:
            row[rng.randrange(len(row))] = rng.choice(NONSENSE)
        elif how < 0.75:
            rows.insert(rng.randrange(len(rows) + 1), [rng.choice(NONSENSE) for _ in range(rng.randrange(9))])
        elif how < 0.8:
            rows.insert(rng.randrange(len(rows) + 1), list(row))
        elif how < 0.85 and len(rows) > 1:
            rows.remove(row)
        elif how < 0.9:
            del row[rng.randrange(len(row) + 1) :]
        elif how < 0.95:
            row.append(rng.choice(NONSENSE))
        else:
            column = rng.randrange(len(whole[0]))
            for one in rows:
                one[column : column + 1] = rng.choice(([], [*one[column : column + 1], ""]))
    return rows


def _reworded(whole: str, rng: random.Random) -> str:
    """The description with a value or a key that is wrong, its form kept."""
    lines = whole.splitlines()
    at = rng.choice([number for number, line in enumerate(lines) if " = " in line])
    key, _, value = lines[at].partition(" = ")
    how = rng.random()
    if how < 0.7:
        given = rng.choice((*NONSENSE, 36, True, 1979, "L36", "P-1500", "SERVICE", "LFP"))
        value = json.dumps(given) if isinstance(given, str) else str(given).lower()
    elif how < 0.85:
        key = rng.choice(
            ("code", "name", "note", "shelf", "found_in", "bay", "full_v", "x", "commissioned_day", "serial")
        )
    else:
        value = rng.choice(("[]", "{}", "2026-11-02", "[1, 2]", '"""a\\nb"""', "1e5", "-0.0"))
    lines[at] = f"{key} = {value}"
    return "\n".join(lines) + "\n"


def _spoiled(whole: bytes, rng: random.Random) -> bytes:
    data = bytearray(whole)
    for _ in range(rng.choice((1, 1, 1, 3, 30))):
        at = rng.randrange(len(data) + 1)
        how = rng.randrange(4)
        if how == 0 and at < len(data):
            data[at] = rng.randrange(256)
        elif how == 1 and at < len(data):
            data[at] ^= 1 << rng.randrange(8)
        elif how == 2:
            data[at:at] = data[: rng.randrange(40)]
        else:
            del data[at : at + rng.randrange(1, 20)]
        if not data:
            data = bytearray(b"x")
    if rng.random() < 0.1:
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


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    tally: Counter[str] = Counter()
    for lot in range(first, first + -(-count // LOT)):
        tally += run(min(LOT, count - tally.total()), lot)
        print(f"{tally.total()} after lot {lot}", flush=True)
    for name, number in sorted(tally.items()):
        print(f"{name}: {number}")
    print(f"{tally.total()} damaged files: each read or refused in a sentence, every row counted, no crash")


if __name__ == "__main__":
    main()
