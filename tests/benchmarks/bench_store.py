"""Durable saves and imports against bare sqlite3 on the same bytes: ratios, measured in turn in one run.

python -m tests.benchmarks.bench_store
"""

from __future__ import annotations

import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from fleetcare.domain.checks import CheckKind, LookOver, RestBand, VoltageCheck
from fleetcare.services import importing, record
from tests.kestrel import MONDAY, build

SAVES = 300
ROWS = 20_000


def median_ms(times: list[float]) -> float:
    """Median of seconds, in milliseconds."""
    return statistics.median(times) * 1e3


def timed(work: Callable[[], object]) -> float:
    """Seconds that `work` takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def bare(path: Path) -> sqlite3.Connection:
    """A plain database with the same durability."""
    raw = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode = WAL", "synchronous = FULL"):
        raw.execute(f"PRAGMA {pragma}")
    raw.execute("CREATE TABLE r (p INTEGER PRIMARY KEY, b BLOB)")
    return raw


def saves(folder: Path) -> None:
    """One check with verdict and leaf, durable, against a bare commit of the same bytes."""
    kestrel = build(folder / "k.fleet")
    with kestrel.store.view() as view:
        data = view._raw.execute("SELECT bytes FROM record ORDER BY position DESC LIMIT 1").fetchone()[0]
    raw = bare(folder / "bare.db")
    whole: list[float] = []
    plain: list[float] = []
    author = kestrel.author()
    for number in range(SAVES):
        check = VoltageCheck(
            "P-1002",
            CheckKind.RESTED_FULL,
            RestBand.HOURS_1_3,
            Decimal("41.38"),
            MONDAY,
            "M-01",
            "EB-12",
            Decimal("39.90"),
            Decimal("8"),
            10,
            Decimal("20"),
        )
        look = LookOver("P-1002", MONDAY, "EB-12")
        whole.append(timed(lambda c=check, k=look: record.record_check(kestrel.store, kestrel.clock, author, c, k)))

        def commit(n: int = number) -> None:
            raw.execute("BEGIN IMMEDIATE")
            raw.execute("INSERT INTO r VALUES (?,?)", (n, data))
            raw.execute("COMMIT")

        plain.append(timed(commit))
    print(
        f"durable save of one check: {median_ms(whole):.2f} ms, bare commit {median_ms(plain):.2f} ms, "
        f"ratio {median_ms(whole) / median_ms(plain):.1f}"
    )


def imports(folder: Path) -> None:
    """Rows of an import, parsed, judged and chained, against a bare executemany of the same bytes."""
    kestrel = build(folder / "i.fleet")
    path = folder / "rows.csv"
    packs = [f"P-10{i:02d}" for i in range(1, 11)]
    lines = ["pack,date,rest_minutes,rested_v,loaded_v,load_a,hold_s,bench_c,meter"]
    for n in range(ROWS):
        day = f"20{10 + n // 3650:02d}-{1 + n // 300 % 12:02d}-{1 + n // 10 % 28:02d}T{n % 24:02d}:{n // 24 % 60:02d}"
        lines.append(f"{packs[n % 10]},{day},90,41.{n % 90:02d},40.0{n % 10},8,10,20,M-01")
    path.write_text("\n".join(lines) + "\n", "utf-8")
    took = timed(lambda: importing.import_checks(kestrel.store, kestrel.clock, kestrel.author(), path))
    with kestrel.store.view() as view:
        rows = view._raw.execute("SELECT position, bytes FROM record WHERE kind = 'voltage_check'").fetchall()
    raw = bare(folder / "many.db")

    def many() -> None:
        raw.execute("BEGIN IMMEDIATE")
        raw.executemany("INSERT INTO r VALUES (?,?)", rows)
        raw.execute("COMMIT")

    plain = timed(many)
    print(
        f"import: {ROWS / took:,.0f} rows/s, bare executemany {len(rows) / plain:,.0f} rows/s, "
        f"{100 * (ROWS / took) / (len(rows) / plain):.1f} %"
    )
    kestrel.store.close()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        saves(Path(name))
        imports(Path(name))
