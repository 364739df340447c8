"""Re-planning 5,000 and 50,000 vehicles against reading the board of the same file; with hours enough and far too few.

python -m tests.benchmarks.bench_plan [5000 50000]
"""

from __future__ import annotations

import datetime as dt
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from fleetcare.domain.checks import CheckKind, FoundIn, RestBand, VoltageCheck
from fleetcare.domain.packs import Depot, Level, Pack, Person, Role, Roster, Vehicle, VehicleKind
from fleetcare.domain.records import Record, new_id
from fleetcare.services import importing, record, rounds, summary
from tests.kestrel import MONDAY, Kestrel, build

A_DEPOT = 1000
"""Vehicles of one depot in the larger fleet."""


def fleet(folder: Path, vehicles: int) -> Kestrel:
    """A fleet with one pack a vehicle, checked once on one of the last seven days; four mechanics a depot."""
    kestrel = build(folder / f"plan-{vehicles}.fleet")
    author = kestrel.author("ORMOND")
    depots = max(1, vehicles // A_DEPOT) if vehicles > 10_000 else 1
    places = ["KW", *(f"D{n:03d}" for n in range(1, depots))]
    things: list[tuple[str, object]] = [("depot", Depot(p, p)) for p in places[1:]]
    for place in places:
        for n in range(4):
            code = f"{place}-M{n}"
            things.append(("person", Person(code, f"Mechanic {code}", (Role.MECHANIC,), Level.MAY_RELEASE)))
            things.append(("roster", Roster(code, place, (480,) * 5 + (0, 0))))
    codes = [f"{n:05d}" for n in range(vehicles)]
    things += [
        ("vehicle", Vehicle(f"EX-{c}", VehicleKind.E_BIKE, places[n % depots], 36, "K2")) for n, c in enumerate(codes)
    ]
    things += [("pack", Pack(f"PX-{c}", "K36-A")) for c in codes]
    record.put_things(kestrel.store, kestrel.clock, author, *things)  # type: ignore[arg-type]
    with kestrel.store.transaction() as tx:
        bench = importing._ImportBench(tx, kestrel.now)
        for c in codes:
            tx.append(
                "found_in", FoundIn(f"PX-{c}", f"EX-{c}", MONDAY), done_at=MONDAY, entered_at=MONDAY, by="ORMOND",
                level="", station="T", source="typed",
            )  # fmt: skip
        records = []
        for n, c in enumerate(codes):
            at = MONDAY - dt.timedelta(days=1 + n % 7)
            volts = Decimal("41.60") - Decimal(n % 60) / 100
            check = VoltageCheck(f"PX-{c}", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, volts, at, "M-01", f"EX-{c}")
            body = bench.judge(check)
            records.append(
                Record(bench.fleet_id, new_id(), "voltage_check", at, at, "DUNN", "may_release", "T", "typed", body)
            )
        tx.append_checks(records)
    return kestrel


def timed(work: Callable[[], object], times: int = 3) -> float:
    """The median processor time of `work` in seconds, after one run that nobody counts: it holds on a busy machine too."""
    work()
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return statistics.median(found)


def measure(vehicles: int) -> None:
    """Board and plans of one fleet, in turn."""
    with tempfile.TemporaryDirectory() as folder:
        kestrel = fleet(Path(folder), vehicles)
        board = timed(lambda: summary.fleet_summary(kestrel.store, kestrel.clock))
        plans = timed(lambda: rounds.rounds_of_all(kestrel.store, kestrel.clock))
        found = rounds.rounds_of_all(kestrel.store, kestrel.clock)
        short = [
            ("roster", Roster(one.person, place.depot, (60,) * 5 + (0, 0)))
            for place in found
            for one in {hour.person: hour for hour in place.hours}.values()
        ]
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *short)
        scarce = timed(lambda: rounds.rounds_of_all(kestrel.store, kestrel.clock))
        lacking = rounds.rounds_of_all(kestrel.store, kestrel.clock)
        late = sum(len(one.items) for place in lacking for one in place.short)
        kestrel.store.close()
    print(
        f"{vehicles} vehicles, {len(found)} depots: board {board:.2f} s; all rounds {plans:.2f} s ({plans / board:.1f} x); "
        f"with an hour each {scarce:.2f} s ({scarce / board:.1f} x), {late} checks not kept, "
        f"proven {all(one.proven for one in lacking)}"
    )


if __name__ == "__main__":
    for number in [int(one) for one in sys.argv[1:]] or [5000, 50_000]:
        measure(number)
