"""An invented depot as a test fixture.  The figures are fixtures, not safety advice."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from fleetcare.domain.checks import CheckKind, FoundIn, Hold, HoldClass, LookOver, RestBand, VoltageCheck
from fleetcare.domain.packs import (
    Charger,
    Chemistry,
    Depot,
    Level,
    Meter,
    Pack,
    PackModel,
    Person,
    Role,
    SiteRules,
    TestLoad,
    Vehicle,
    VehicleKind,
)
from fleetcare.domain.wording import msg
from fleetcare.services import record, summary
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.store.store import Store

D = Decimal
MONDAY = dt.datetime(2026, 11, 2, 6, 30, tzinfo=dt.UTC)
SUNDAY = MONDAY - dt.timedelta(days=1)

SITE = SiteRules(
    name="Kestrel Wharf", resistance_watch_ohm=D("0.200"), resistance_pull_ohm=D("0.300"),
    resistance_load_a=D("8"), resistance_hold_s=10,
)  # fmt: skip
K36 = PackModel(
    "K36-A", "K36-A", Chemistry.NMC, 10, 36, D("42.0"), D("14"), "K2", output_live_when_off=False,
    wake_note="Output is off until woken by bike, charger or button.",
)  # fmt: skip
S36 = PackModel("S36-F", "S36-F", Chemistry.NMC, 10, 36, D("42.0"), D("12"), "S1", fixed=True)
K48 = PackModel("K48-B", "K48-B", Chemistry.NMC, 13, 48, D("54.6"), D("17"), "K4")
METERS = (
    Meter("M-01", "bench meter 1", D("0.3"), 2, D("0.01"), dt.date(2027, 1, 12)),
    Meter("M-02", "bench meter 2", D("0.5"), 2, D("0.01"), dt.date(2026, 11, 3)),
)
PEOPLE = {
    "DUNN": Person("DUNN", "Dunn", (Role.MECHANIC,), Level.MAY_RELEASE, badge="B-01"),
    "PIKE": Person("PIKE", "Pike", (Role.MECHANIC,), Level.MAY_RELEASE, badge="B-02"),
    "FARROW": Person("FARROW", "Farrow", (Role.MECHANIC,), Level.MAY_CHECK, badge="B-03"),
    "HALE": Person("HALE", "Hale", (Role.DISPATCHER,), badge="B-04"),
    "ORMOND": Person("ORMOND", "Ormond", (Role.MANAGER,), badge="B-05"),
}
FULL_V = {36: D("41.60"), 48: D("54.20")}


@dataclass
class Kestrel:
    """The depot's file, its clock that tests move, and its people."""

    store: Store
    now: dt.datetime = MONDAY
    people: dict[str, Person] = field(default_factory=lambda: dict(PEOPLE))

    def clock(self) -> dt.datetime:
        """The injected clock."""
        return self.now

    def author(self, code: str = "DUNN") -> Author:
        """One of the people, at the bench."""
        return Author(self.people[code], "BENCH-1")

    def check(
        self, pack: str, rested: str, *, at: dt.datetime | None = None, vehicle: str | None = None,
        loaded: str | None = None, rest: RestBand = RestBand.HOURS_1_3, kind: CheckKind = CheckKind.RESTED_FULL,
        meter: str = "M-01", by: str = "DUNN", bench: str | None = "20",
    ) -> Recorded:  # fmt: skip
        """Record one check as it was done at `at` (now)."""
        at = at or self.now
        check = VoltageCheck(
            pack, kind, rest, D(rested), at, meter, vehicle, None if loaded is None else D(loaded),
            None if loaded is None else D("8"), None if loaded is None else 10, None if bench is None else D(bench),
        )  # fmt: skip
        return record.record_check(self.store, lambda: at, self.author(by), check, LookOver(pack, at, vehicle))


def packs() -> list[tuple[Pack, str | None]]:
    """All 38 packs with the vehicle each is found in."""
    found: list[tuple[Pack, str | None]] = []
    for i in range(1, 17):
        found.append((Pack(f"P-13{i:02d}", "K48-B", f"2402-{700 + i:04d}"), f"CB-{(i + 1) // 2:02d}"))
    for i in range(1, 11):
        found.append((Pack(f"P-10{i:02d}", "K36-A", f"2403-{500 + i:04d}"), f"EB-{10 + i}"))
    for i in range(11, 15):
        found.append((Pack(f"P-10{i}", "K36-A", f"2403-{600 + i:04d}", shelf="Store"), None))
    for i in range(1, 7):
        found.append((Pack(f"P-102{i}", "S36-F", f"2501-{20 + i:04d}"), f"SC-3{i}"))
    found += [(Pack(f"P-13{i}", "K48-B", f"2402-{750 + i:04d}", shelf="Store"), None) for i in (17, 18)]
    return found


def vehicles() -> list[Vehicle]:
    """All 24 vehicles."""
    made = [Vehicle(f"CB-{i:02d}", VehicleKind.CARGO_BIKE, "KW", 48, "K4", 2, 1) for i in range(1, 9)]
    made += [Vehicle(f"EB-{i}", VehicleKind.E_BIKE, "KW", 36, "K2") for i in range(11, 21)]
    made += [Vehicle(f"SC-{i}", VehicleKind.E_SCOOTER, "KW", 36, "S1") for i in range(31, 37)]
    return made


def build(path: Path, *, checked_days_ago: int = 3) -> Kestrel:
    """A new file with everything on record; every pack passed a check some days ago."""
    long_ago = MONDAY - dt.timedelta(days=60)
    store = Store.create(path, fleet_name="Kestrel Wharf", now=long_ago)
    made = Kestrel(store)
    author = made.author("ORMOND")
    things = [("depot", Depot("KW", "Kestrel Wharf")), ("site_rules", SITE)]
    things += [("person", person) for person in PEOPLE.values()]
    things += [("pack_model", model) for model in (K36, S36, K48)]
    things += [("meter", meter) for meter in METERS]
    things += [("test_load", TestLoad("L-08", "8 A load", D("8"), 10))]
    things += [
        ("charger", Charger(f"C-36-{i}", "36 V charger", D("42.0"), D("1"), "K2", Chemistry.NMC)) for i in range(1, 7)
    ]
    things += [
        ("charger", Charger(f"C-48-{i}", "48 V charger", D("54.6"), D("1"), "K4", Chemistry.NMC)) for i in range(1, 5)
    ]
    things += [("vehicle", vehicle) for vehicle in vehicles()]
    things += [("pack", pack) for pack, _ in packs()]
    record.put_things(store, lambda: long_ago, author, *things)
    moves = [FoundIn(p.code, v, long_ago, 2 if v and v[:2] == "CB" and int(p.code[-2:]) % 2 == 0 else 1)
             for p, v in packs() if v]  # fmt: skip
    record.record_found_in(store, lambda: long_ago, author, *moves)
    at = MONDAY - dt.timedelta(days=checked_days_ago)
    for pack, vehicle in packs():
        volts = FULL_V[48 if pack.model == "K48-B" else 36]
        made.check(pack.code, str(volts), at=at, vehicle=vehicle)
    return made


def build_morning(path: Path) -> Kestrel:
    """Monday morning: a pulled pack taken out, an overdue check, a brake fault, one cargo bike on one pack, one check due."""
    made = build(path, checked_days_ago=5)
    made.check("P-1011", "41.40", at=SUNDAY)
    made.check("P-1004", "39.10", at=SUNDAY, vehicle="EB-14")
    made.check("P-1306", "51.20", at=SUNDAY, vehicle="CB-03")
    record.record_found_in(made.store, made.clock, made.author(), FoundIn("P-1004", None, SUNDAY, shelf="Rack 2"))
    brake = Hold(
        "vehicle",
        "CB-06",
        HoldClass.FAULT,
        SUNDAY.replace(hour=21, minute=10),
        msg("ground.by_person"),
        "front brake",
    )
    record.set_hold(made.store, made.clock, made.author("PIKE"), brake)
    for pack, days in (("P-1008", 15), ("P-1023", 9)):
        page = summary.pack_summary(made.store, made.clock, pack)
        made.check(pack, "41.60", at=MONDAY - dt.timedelta(days=days), vehicle=page.vehicle)
        record.correct_check(made.store, made.clock, made.author(), page.checks[0].record_id, "another pack", None)
    with made.store.transaction() as tx:
        tx.save_draft("d", "PIKE", "BENCH-1", "P-1312", SUNDAY, "{}")
    return made
