"""Found the demonstration fleet from its plain files, through the same deeds that people use."""

from __future__ import annotations

import csv
import datetime as dt
import tomllib
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fleetcare.domain import judging
from fleetcare.domain.checks import (
    CheckKind,
    FoundIn,
    Hold,
    HoldClass,
    LookItem,
    LookOver,
    Release,
    RestBand,
    Trip,
    TripCause,
    VoltageCheck,
)
from fleetcare.domain.packs import Person
from fleetcare.domain.spare_parts import Part
from fleetcare.domain.wording import msg, say
from fleetcare.resource_files import shipped
from fleetcare.services import record, stock
from fleetcare.services.describing import moves_of, things_of
from fleetcare.services.drafts import Typed, body_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.writing import Writer, judged
from fleetcare.store.store import Store, Transaction

FIRST_DAY = -433
"""Day on which the demonstration's things are put on record."""

STATION = "DEMO-BENCH"
Progress = Callable[[str], None]
Row = dict[str, str]


def make_for_today(path: Path, clock: Clock, progress: Progress) -> bool:
    """Make the demonstration fleet at `path` unless it was made today; True when it was made."""
    today = clock().date()
    stamp = path.with_suffix(".day")
    if path.exists() and stamp.exists() and stamp.read_text("utf-8") == _stamp_of(today):
        return False
    progress(say(msg("demo.making")))
    for old in (path, path.with_name(path.name + "-wal"), path.with_name(path.name + "-shm")):
        old.unlink(missing_ok=True)
    build(path, clock, progress)
    stamp.write_text(_stamp_of(today), "utf-8")
    return True


def _stamp_of(day: dt.date) -> str:
    from fleetcare import __version__

    files = [shipped("demo_fleet") / name for name in ("fleet.toml", "checks.csv", "events.csv")]
    return f"{day.isoformat()} {__version__} " + " ".join(str(one.stat().st_size) for one in files)


def build(path: Path, clock: Clock, progress: Progress, folder: Path | None = None) -> None:
    """A new demonstration fleet at `path`, marked as such, with all its history in time order."""
    folder = folder or shipped("demo_fleet")
    described = tomllib.loads((folder / "fleet.toml").read_text("utf-8"))
    builder = _Builder(described, clock())
    with (folder / "checks.csv").open(newline="", encoding="utf-8") as stream:
        checks = list(csv.DictReader(stream))
    with (folder / "events.csv").open(newline="", encoding="utf-8") as stream:
        events = list(csv.DictReader(stream))
    founded = builder.moment(FIRST_DAY, "08:00")
    store = Store.create(path, fleet_name=described["fleet"]["name"], demo=True, now=founded, station=STATION)
    try:
        with store.transaction() as tx:
            builder.things(tx)
            for number, (is_check, row) in enumerate(_in_order(checks, events)):
                builder.check(tx, row) if is_check else builder.event(tx, row)
                if number % 500 == 499:
                    progress(say(msg("demo.rows", done=number + 1, of=len(checks) + len(events))))
    finally:
        store.close()


def _in_order(checks: list[Row], events: list[Row]) -> Iterator[tuple[bool, Row]]:
    both = [(True, row) for row in checks] + [(False, row) for row in events]
    return iter(sorted(both, key=lambda one: (int(one[1]["day"]), one[1]["time"])))


class _Builder:
    """Turns the files' rows into deeds of the people named in them."""

    def __init__(self, described: dict[str, Any], now: dt.datetime) -> None:
        self._described = described
        self._zone = ZoneInfo(described["depot"][0]["time_zone"])
        self._now = now
        self._today = now.astimezone(self._zone).date()
        self._people: dict[str, Person] = {}

    def moment(self, day: int, time: str) -> dt.datetime:
        """The wall-clock moment `day` days from today; today's rows never lie ahead of now."""
        hour, minute = map(int, time.split(":"))
        at = dt.datetime.combine(self._today + dt.timedelta(days=day), dt.time(hour, minute), self._zone)
        fixed = at.astimezone(dt.timezone(at.utcoffset() or dt.timedelta()))
        return min(fixed, self._now)

    def things(self, tx: Transaction) -> None:
        """Everything described in fleet.toml, recorded by the manager on the first day."""
        at = self.moment(FIRST_DAY, "08:05")
        things = things_of(self._described, self._today)
        self._people = {thing.code: thing for _, thing in things if isinstance(thing, Person)}
        manager = Author(self._people["ORMOND"], STATION)
        for thing_class, thing in things:
            Writer(tx, manager, at).add_thing(thing_class, thing)
        for move in moves_of(self._described, at):
            Writer(tx, manager, at).move(move)

    def check(self, tx: Transaction, row: Row) -> None:
        """One row of checks.csv; a slip is recorded as typed and corrected an hour later."""
        at = self.moment(int(row["day"]), row["time"])
        person = self._people[row["person"]]
        writer = Writer(tx, Author(person, STATION), min(at + dt.timedelta(minutes=1), self._now))
        check = self._check_of(row, at, row["rested_v"])
        bench = record.bench_of(tx, check, self._now)
        good = LookOver(check.pack, at, check.vehicle) if check.kind is CheckKind.RESTED_FULL else None
        record.write_check(tx, writer, bench, check, good)
        if row["correct_v"]:
            later = min(at + dt.timedelta(hours=1), self._now)
            right = self._check_of(row, at, row["correct_v"])
            verdict = judging.judge(right, good, bench.model, bench.site, bench.meter, bench.load)
            body = judged(right, verdict, bench.meter, ())
            Writer(tx, Author(person, STATION), later).correct(writer.last_id, row["reason"], body)

    def _check_of(self, row: Row, at: dt.datetime, rested: str) -> VoltageCheck:
        loaded = Decimal(row["loaded_v"]) if row["loaded_v"] else None
        return VoltageCheck(
            pack=row["pack"], kind=CheckKind(row["kind"]), rest=RestBand(row["rest"]), rested_v=Decimal(rested),
            done_at=at, meter=row["meter"], vehicle=row["vehicle"] or None, loaded_v=loaded,
            load_a=Decimal(row["load_a"]) if loaded is not None else None,
            hold_s=int(row["hold_s"]) if loaded is not None else None,
            bench_c=Decimal(row["bench_c"]), test_load="L-08" if loaded is not None else None,
        )  # fmt: skip

    def event(self, tx: Transaction, row: Row) -> None:
        """One row of events.csv."""
        at = self.moment(int(row["day"]), row["time"])
        writer = Writer(tx, Author(self._people[row["person"]], STATION), at)
        subject, vehicle, detail, remark = row["subject"], row["vehicle"] or None, row["detail"], row["remark"]
        match row["kind"]:
            case "trip":
                cause, _, explained = detail.partition(":")
                trip = Trip(subject, vehicle, at, TripCause(cause), explained == "explained", remark)
                record.write_trip(tx, writer, trip)
            case "ground":
                reason = msg("ground.by_person")
                writer.add("hold", Hold("vehicle", subject, HoldClass(detail), at, reason, remark), at)
            case "release":
                held = next(h for h in tx.open_holds() if h.subject == subject)
                writer.add("release", Release(held.hold_id, at, remark), at)
            case "look":
                look = LookOver(subject, at, vehicle, (LookItem(detail),), remark)
                record.write_look_over(tx, writer, look)
            case "found":
                writer.move(FoundIn(subject, vehicle, at, int(detail)))
            case "shelf":
                writer.move(FoundIn(subject, None, at, shelf=detail))
            case "stock":
                self._stock(tx, writer, row)
            case "draft":
                typed = Typed(
                    subject, vehicle, CheckKind.RESTED_FULL.value, RestBand.HOURS_1_3.value, rested=detail, loaded="",
                    amps="8.0", remark="", looked=(), meter="M-01", load="L-08", bench="18",
                )  # fmt: skip
                tx.save_draft(f"demo-{subject}", row["person"], STATION, subject, at, body_of(typed))
            case other:
                raise ValueError(f"unknown kind of event: {other}")

    def _stock(self, tx: Transaction, writer: Writer, row: Row) -> None:
        """Pieces of a part in ("in:6") or out ("out:1") of the stock."""
        way, _, pieces = row["detail"].partition(":")
        part: Part = tx.thing("part", row["subject"])
        if way == "in":
            stock.put_in(writer, part, int(pieces), row["remark"])
        else:
            stock.take_out(tx, writer, part, int(pieces), None, pack=row["vehicle"] or None, vehicle=None,
                           at=writer.now, reason=row["remark"])  # fmt: skip
