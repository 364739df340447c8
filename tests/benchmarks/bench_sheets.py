"""How long an old spreadsheet takes, and how much memory.

python -m tests.benchmarks.bench_sheets 1000000
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

from fleetcare.services import oldsheets
from tests.kestrel import build


def main() -> None:
    """Make a file, preview it, bring it in, and print seconds and peak memory of each."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as place:
        kestrel = build(Path(place) / "depot.fleet")
        path = Path(place) / "old.csv"
        with path.open("w", encoding="utf-8") as out:
            out.write("pack,date,volts,rest min,meter\n")
            for n in range(count):
                when = (
                    f"2026-{1 + n % 9:02d}-{1 + n // 9 % 28:02d} {n // 3600 % 24:02d}:{n // 60 % 60:02d}:{n % 60:02d}"
                )
                out.write(f"P-10{1 + n % 14:02d},{when},{41 + n % 90 / 100:.2f},{n // 86400},M-01\n")
        before = _peak()
        began = time.perf_counter()
        plan = oldsheets.survey(kestrel.store, path).plan
        shown = oldsheets.preview(kestrel.store, kestrel.clock, path, plan)
        print(f"{shown.rows} rows shown in {time.perf_counter() - began:.0f} s", dict(shown.counts))
        began = time.perf_counter()
        oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
        print(f"brought in in {time.perf_counter() - began:.0f} s; peak memory {before} MB before, {_peak()} MB after")
        shown.close()
        kestrel.store.close()


def _peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


if __name__ == "__main__":
    main()
