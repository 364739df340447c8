"""The window on 5,000 vehicles: board refresh, gaps on the GUI thread, first window against an empty one.

python -m tests.benchmarks.bench_window
"""

from __future__ import annotations

import datetime as dt
import os
import subprocess
import sys
import tempfile
import time
from decimal import Decimal
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, FoundIn, RestBand, VoltageCheck
from fleetcare.domain.packs import Pack, Vehicle, VehicleKind
from fleetcare.domain.records import Record, new_id
from fleetcare.services import importing, record, summary
from fleetcare.settings import Settings
from tests.kestrel import MONDAY, Kestrel, build

VEHICLES = 5000


def large(folder: Path) -> Kestrel:
    """A depot of 5,000 e-bikes with one pack and four checks each."""
    kestrel = build(folder / "large.fleet")
    author = kestrel.author("ORMOND")
    codes = [f"{n:05d}" for n in range(VEHICLES)]
    things = [("vehicle", Vehicle(f"EX-{c}", VehicleKind.E_BIKE, "KW", 36, "K2")) for c in codes]
    things += [("pack", Pack(f"PX-{c}", "K36-A")) for c in codes]
    record.put_things(kestrel.store, kestrel.clock, author, *things)
    with kestrel.store.transaction() as tx:
        bench = importing._ImportBench(tx, kestrel.now)
        for c in codes:
            move = FoundIn(f"PX-{c}", f"EX-{c}", MONDAY)
            tx.append(
                "found_in",
                move,
                done_at=MONDAY,
                entered_at=MONDAY,
                by="ORMOND",
                level="",
                station="T",
                source="typed",
            )
        records = []
        for weeks in range(4, 0, -1):
            at = MONDAY - dt.timedelta(days=7 * weeks - 5)
            for n, c in enumerate(codes):
                check = VoltageCheck(
                    f"PX-{c}",
                    CheckKind.RESTED_FULL,
                    RestBand.HOURS_1_3,
                    Decimal("41.60") - Decimal(n % 40) / 100,
                    at,
                    "M-01",
                    f"EX-{c}",
                )
                body = bench.judge(check)
                records.append(
                    Record(bench.fleet_id, new_id(), "voltage_check", at, at, "DUNN", "may_release", "T", "typed", body)
                )
        tx.append_checks(records)
    return kestrel


def journey(kestrel: Kestrel) -> None:
    """Open, look at every screen, record twenty checks; a 10 ms timer tells how long the GUI thread was away."""
    from PySide6.QtCore import QEventLoop, QTimer
    from PySide6.QtWidgets import QApplication

    from fleetcare.ui import theme
    from fleetcare.ui.main_window import MainWindow

    qt = QApplication([])
    theme.apply(qt, "light", 100)
    window = MainWindow(App(kestrel.store, kestrel.clock, "T", Settings()))
    window.show()
    gaps: list[float] = []
    last = time.perf_counter()

    def tick() -> None:
        nonlocal last
        now = time.perf_counter()
        gaps.append(now - last)
        last = now

    timer = QTimer()
    timer.setInterval(10)
    timer.timeout.connect(tick)

    def wait(ms: int) -> None:
        loop = QEventLoop()
        QTimer.singleShot(ms, loop.quit)
        loop.exec()

    wait(300)
    timer.start()
    last = time.perf_counter()
    for screen in ("board", "packs", "vehicles", "bench", "board"):
        window.go(screen)
        wait(2500)
    for n in range(20):
        kestrel.check(f"PX-{n:05d}", "39.0", vehicle=f"EX-{n:05d}")
        window.changes.poll()
        wait(400)
    window.open_pack("PX-00003")
    wait(1500)
    gaps.sort()
    print(
        f"GUI thread, 10 ms timer on {VEHICLES} vehicles: median {gaps[len(gaps) // 2] * 1e3:.0f} ms, "
        f"99 % {gaps[int(len(gaps) * 0.99)] * 1e3:.0f} ms, longest {gaps[-1] * 1e3:.0f} ms"
    )
    window.close()


def board(kestrel: Kestrel) -> None:
    """The whole board read once."""
    summary.fleet_summary(kestrel.store, kestrel.clock)
    start = time.perf_counter()
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    print(f"board of {len(fleet.vehicles)} vehicles read: {(time.perf_counter() - start) * 1e3:.0f} ms")


_EMPTY = "from PySide6.QtWidgets import QApplication, QWidget; a = QApplication([]); w = QWidget(); w.show(); a.processEvents()"
_OURS = """
import sys
from pathlib import Path
from PySide6.QtWidgets import QApplication
from fleetcare.app import open_app
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
a = QApplication([])
theme.apply(a, "light", 100)
w = MainWindow(open_app(Path(sys.argv[1])))
w.show()
a.processEvents()
"""


def first_window(folder: Path) -> None:
    """A process from start to first window, ours against an empty one, in turn."""
    from fleetcare.services import demo

    path = folder / "demo.fleet"
    demo.make_for_today(path, lambda: dt.datetime.now().astimezone(), lambda _line: None)
    times: dict[str, list[float]] = {"empty": [], "ours": []}
    for _ in range(5):
        for name, words in (("empty", [_EMPTY]), ("ours", [_OURS, str(path)])):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", *words], check=True, capture_output=True)
            times[name].append(time.perf_counter() - start)
    empty, ours = (sorted(times[name])[2] for name in ("empty", "ours"))
    print(f"first window: {ours:.2f} s, empty window {empty:.2f} s, difference {ours - empty:.2f} s")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        os.environ["FLEETCARE_HOME"] = name
        first_window(Path(name))
        made = large(Path(name))
        board(made)
        journey(made)
        made.store.close()
