"""The board of a country: 50,000 vehicles read whole against bare rows, one changed pack, and the window's own part.

python -m tests.benchmarks.bench_board [VEHICLES]

Times are CPU seconds, since other work on the machine must not count; ratios are taken in one run.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, FoundIn, RestBand, VoltageCheck
from fleetcare.domain.packs import Depot, Pack, Vehicle, VehicleKind
from fleetcare.domain.records import Record, new_id
from fleetcare.services import board, importing, record
from fleetcare.services.first_sight import first_sight
from fleetcare.settings import Settings
from fleetcare.store.store import Store
from tests.kestrel import MONDAY, Kestrel, build

DEPOTS = 20


def country(path: Path, vehicles: int) -> Kestrel:
    """So many e-bikes at twenty depots with one pack each and a tenth as many spares; one in fifty is late or overdue."""
    kestrel = build(path)
    author = kestrel.author("ORMOND")
    depots = [f"D{n:02d}" for n in range(DEPOTS)]
    bikes = [
        Vehicle(f"EX-{n:05d}", VehicleKind.E_BIKE, depots[n % DEPOTS], 36, "K2", charge_end_v=Decimal("42.0"))
        for n in range(vehicles)
    ]
    packs = [Pack(f"PX-{n:05d}", "K36-A") for n in range(vehicles)]
    packs += [Pack(f"PS-{n:05d}", "K36-A", shelf="Rack", depot=depots[n % DEPOTS]) for n in range(vehicles // 10)]
    record.put_things(kestrel.store, kestrel.clock, author, *(("depot", Depot(d, d)) for d in depots))
    record.put_things(kestrel.store, kestrel.clock, author, *(("vehicle", one) for one in bikes))
    record.put_things(kestrel.store, kestrel.clock, author, *(("pack", one) for one in packs))
    with kestrel.store.transaction() as tx:
        bench = importing._ImportBench(tx, kestrel.now)
        for bike, pack in zip(bikes, packs, strict=False):
            tx.append("found_in", FoundIn(pack.code, bike.code, MONDAY), done_at=MONDAY, entered_at=MONDAY, by="ORMOND",
                      level="", station="T", source="typed")  # fmt: skip
        rows = []
        for n, pack in enumerate(packs):
            days = 3 if n % 50 else (9 if n % 100 else 16)
            at = MONDAY - dt.timedelta(days=days, seconds=n % 40_000)
            volts = Decimal("41.60") - Decimal(n % 40) / 100
            check = VoltageCheck(pack.code, CheckKind.RESTED_FULL, RestBand.HOURS_1_3, volts, at, "M-01",
                                 bikes[n].code if n < vehicles else None)  # fmt: skip
            body = bench.judge(check)
            rows.append(
                Record(bench.fleet_id, new_id(), "voltage_check", at, at, "DUNN", "may_release", "T", "typed", body)
            )
        tx.append_checks(rows)
    return kestrel


def cpu(work: Callable[[], object]) -> float:
    """CPU seconds of one call."""
    start = time.process_time()
    work()
    return time.process_time() - start


def bare(store: Store) -> None:
    """The rows that the board rests on, fetched and not looked at."""
    with store.view() as view:
        for table in ("thing", "latest_check", "placement"):
            view._raw.execute(f"SELECT * FROM {table}").fetchall()


def reading(kestrel: Kestrel, path: Path) -> None:
    """Whole board in a fresh store, again in a warm one, and after one check, against the bare rows."""
    store = Store.open(path)
    rows = cpu(lambda: bare(store))
    sight = cpu(lambda: first_sight(store, kestrel.clock))
    kept = board.Board(store, kestrel.clock)
    first = cpu(kept.read)
    whole = min(cpu(lambda: board.Board(store, kestrel.clock).read()) for _ in range(3))
    same = min(cpu(kept.read) for _ in range(3))
    before = kept.read()
    kestrel.check("PX-00001", "39.0", vehicle="EX-00001")
    start = time.process_time()
    after = kept.read()
    one = time.process_time() - start
    old = {line.vehicle.code: line for line in before.vehicles}
    changed = sum(old[line.vehicle.code] is not line for line in after.vehicles)
    kestrel.check("PX-00002", "41.40", vehicle="EX-00002")
    start = time.process_time()
    kept.read()
    good = time.process_time() - start
    print(f"{len(after.vehicles)} vehicles, bare rows {rows:.2f} s")
    print(f"at first sight, fresh program: {sight:.2f} s, {sight / rows:.1f} x the bare rows")
    print(f"whole board, fresh program: {first:.2f} s, {first / rows:.1f} x the bare rows")
    print(f"whole board, program running: {whole:.2f} s, {whole / rows:.1f} x")
    print(f"nothing changed: {same * 1e3:.0f} ms, 1/{whole / same:.0f} of the whole")
    print(f"one pack pulled (spares solved again): {one * 1e3:.0f} ms, {changed} lines differ")
    print(f"one pack checked and good: {good * 1e3:.0f} ms, 1/{whole / good:.0f} of the whole")
    store.close()


def window(kestrel: Kestrel) -> None:
    """The GUI thread's share of opening the board, of one changed pack, and of a search."""
    from PySide6.QtCore import QEventLoop, QThreadPool, QTimer
    from PySide6.QtGui import QPaintEvent
    from PySide6.QtWidgets import QApplication

    from fleetcare.ui import theme
    from fleetcare.ui.board.tiles import Tiles
    from fleetcare.ui.main_window import MainWindow

    qt = QApplication([])
    theme.apply(qt, "light", 100)
    made = MainWindow(App(kestrel.store, kestrel.clock, "T", Settings()))
    made.resize(1366, 740)
    made.show()

    painted: list[bool] = []
    holds: list[Callable[[], bool]] = []
    paint = Tiles.paintEvent

    def painting(tiles: Tiles, event: QPaintEvent) -> None:
        paint(tiles, event)
        painted.append(holds[-1]())

    Tiles.paintEvent = painting  # type: ignore[method-assign]

    def step(name: str, work: Callable[[], object], until: Callable[[], bool]) -> None:
        """What the GUI thread itself computes until a picture of what `until` says was painted, and all threads meanwhile."""
        holds.append(until)
        painted.clear()
        own, every, wall = time.thread_time(), time.process_time(), time.perf_counter()
        work()
        made.board.tiles.viewport().update()
        while not any(painted):
            loop = QEventLoop()
            QTimer.singleShot(5, loop.quit)
            loop.exec()
        own, every, wall = time.thread_time() - own, time.process_time() - every, time.perf_counter() - wall
        print(f"{name}: GUI thread {own * 1e3:.0f} ms, all threads {every:.2f} s, by the clock {wall:.2f} s")

    with kestrel.store.view() as view:
        count = len(view.codes("vehicle"))
    shown = made.board.model
    step("board opened in a fresh window, at first sight", lambda: made.go("board"), lambda: shown.rowCount() > 0)
    assert made.board.fleet is not None and sum(made.board.fleet.counts.values()) == count
    step("the rest of it", lambda: None, lambda: shown.rowCount() == count)
    for _ in range(100):
        qt.processEvents()
        time.sleep(0.05)
    made.go("packs")
    step("board opened again", lambda: made.go("board"), lambda: True)
    kestrel.check("PX-00003", "39.0", vehicle="EX-00003")
    step("one pack pulled reaches its tile", made.changes.poll,
         lambda: any(row.vehicle.code == "EX-00003" for row in shown.rows[:600]))  # fmt: skip
    step("search", lambda: made.board.search.setText("ex-0123"), lambda: shown.rowCount() < count)
    made.close()
    QThreadPool.globalInstance().waitForDone()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        os.environ["FLEETCARE_HOME"] = name
        file = Path(name) / "country.fleet"
        made = country(file, int(sys.argv[1]) if len(sys.argv) > 1 else 50_000)
        reading(made, file)
        window(made)
        made.store.close()
