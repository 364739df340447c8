"""How long an old spreadsheet takes, how much memory, and how soon it says how far it is.

python -m tests.benchmarks.bench_sheets 1000000 csv
"""

from __future__ import annotations

import contextlib
import datetime as dt
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from fleetcare.services import backup, importing, oldsheets
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import build

HEAD = ("pack", "date", "volts", "rest min", "meter")


def main() -> None:
    """Make a file, preview it, bring it in, back it up, take it back; print seconds and peak memory of each."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    kind = sys.argv[2] if len(sys.argv) > 2 else "csv"
    with tempfile.TemporaryDirectory() as place:
        kestrel = build(Path(place) / "depot.fleet")
        store, clock, author = kestrel.store, kestrel.clock, kestrel.author()
        path = Path(place) / f"old.{kind}"
        write_sheet(path, chain([HEAD], _rows(count)))
        print(f"{count} rows, {path.stat().st_size / 1e6:.0f} MB of {kind}; {_peak()} MB before", flush=True)
        told = _Told()
        look = _timed("looked at", lambda: oldsheets.survey(store, path, None, told.asked, told), told)
        shown = _timed("shown", lambda: oldsheets.preview(store, clock, path, look.plan, told, told.asked), told)
        print(f"  {dict(shown.counts)}", flush=True)
        done = _timed("brought in", lambda: oldsheets.bring_in(store, clock, author, shown, told, told.asked), told)
        shown.close()
        made = _timed("backed up and read through", lambda: backup.back_up(store, clock))
        assert made.examined.good, made.examined.faults
        print(f"  {made.examined.records} records, {made.path.stat().st_size / 1e6:.0f} MB", flush=True)
        again = _timed(
            "the same file again",
            lambda: oldsheets.preview(store, clock, path, oldsheets.survey(store, path).plan),
        )
        assert again.taken == 0
        again.close()
        back = (store, clock, author, done.batch, "measured", told, told.asked)
        _timed("taken back", lambda: importing.take_back(*back), told)
        assert _timed("read through once more", store.verify).good
        store.close()


class _Told:
    """The longest time between two words of progress, and between two looks at Stop."""

    def __init__(self) -> None:
        self.begin()

    def begin(self) -> None:
        self.last = self.looked = time.perf_counter()
        self.silent = self.deaf = 0.0

    def __call__(self, _done: int, _of: int) -> None:
        now = time.perf_counter()
        self.silent, self.last = max(self.silent, now - self.last), now

    def asked(self) -> bool:
        now = time.perf_counter()
        self.deaf, self.looked = max(self.deaf, now - self.looked), now
        return False

    def end(self) -> str:
        """What to print; what came after the last look is the last act."""
        act = time.perf_counter() - self.looked
        return (
            f", without a word {self.silent:.1f} s, without a look at Stop {self.deaf:.1f} s, the last act {act:.1f} s"
        )


def _timed(what, deed, told=None):  # type: ignore[no-untyped-def]
    _reset_peak()
    began = time.perf_counter()
    cpu = time.process_time()
    if told is not None:
        told.begin()
    result = deed()
    silence = told.end() if told is not None else ""
    cpu = time.process_time() - cpu
    print(f"{what}: {time.perf_counter() - began:.0f} s ({cpu:.0f} s of the processor), peak memory {_peak()} MB{silence}",
          flush=True)  # fmt: skip
    return result


def _rows(count: int) -> Iterator[tuple[str, str, float, int, str]]:
    first = dt.datetime(2024, 11, 1, 6)
    for n in range(count):
        yield f"P-10{1 + n % 14:02d}", str(first + dt.timedelta(minutes=n)), round(41 + n % 90 / 100, 2), 90, "M-01"


def _reset_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def _peak() -> int:
    try:
        said = Path("/proc/self/status").read_text()
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return int(said.split("VmHWM:")[1].split()[0]) // 1024


if __name__ == "__main__":
    main()
