"""A depot file with something in every table, for the campaigns."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path

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
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.wording import msg
from fleetcare.services import commissioning, importing, oldsheets, parked, people, record, releasing, summary
from tests.kestrel import MONDAY, Kestrel, build

LOG = "pack,date,volts,rest min,meter,notes\n" + "".join(
    f"P-10{1 + n % 14:02d},2026-09-{1 + n % 28:02d} 10:{n % 60:02d},41.{n % 90:02d},{'90' if n % 3 else ''},M-01,n{n}\n"
    for n in range(120)
)


def furnished(folder: Path) -> Kestrel:
    """Every kind of record, an import that stands and one taken back, parked rows, more than one subtree."""
    made = build(folder / "depot.fleet")
    store, author = made.store, made.author()
    for name, text in (
        ("old.csv", LOG + "P-77,2026-09-01,41.0,90,M-01,\nP-78,2026-09-01,41.0,90,M-01,\n"),
        ("back.csv", LOG.replace("2026-09", "2026-08") + "P-79,2026-09-02,41.0,90,M-01,\n"),
    ):
        path = folder / name
        path.write_text(text, "utf-8")
        shown = oldsheets.preview(store, made.clock, path, oldsheets.survey(store, path).plan)
        brought = oldsheets.bring_in(store, made.clock, author, shown)
        shown.close()
    assert brought.batch is not None
    importing.take_back(store, made.clock, author, brought.batch, "another depot")
    parked.settle(store, made.clock, author, "P-77", "P-1002")
    record.record_trip(store, made.clock, author, Trip("P-1003", "EB-13", MONDAY, TripCause.OVER_CURRENT, True))
    record.record_look_over(store, made.clock, author, LookOver("P-1005", MONDAY, None, (LookItem.CRACK,)))
    record.set_hold(
        store, made.clock, author, Hold("vehicle", "CB-06", HoldClass.FAULT, MONDAY, msg("ground.by_person"), "brake")
    )
    with store.view() as view:
        held = next(h for h in view.open_holds() if h.subject == "CB-06")
    looked = Inspected("vehicle", "CB-06", MONDAY, True, "brake cable new")
    releasing.record_inspection(store, made.clock, author, looked)
    record.release_hold(store, made.clock, author, Release(held.hold_id, MONDAY, "mended"))
    record.record_found_in(store, made.clock, author, FoundIn("P-1006", None, MONDAY, shelf="Rack 1"))
    page = summary.pack_summary(store, made.clock, "P-1007")
    first = next(c for c in page.checks if c.source == "typed")
    record.correct_check(store, made.clock, author, first.record_id, "wrong pack", None)
    made.check("P-1008", "41.55", at=MONDAY - dt.timedelta(minutes=5))
    with_picture_and_pin(made)
    return made


PNG = b"\x89PNG\r\n\x1a\n" + b"a label"


def with_picture_and_pin(made: Kestrel) -> None:
    """A new pack with a picture of its label, and a person with a PIN."""
    new = commissioning.NewPack(
        "P-1015", "K36-A", "2609-0001", ("EN 62133-2",), "INV-2211", None, "none", "C-36-1", (PNG,)
    )
    first = VoltageCheck("P-1015", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, Decimal("41.70"), MONDAY, "M-01", None,
                         Decimal("40.50"), Decimal("8"), 10, Decimal("20"))  # fmt: skip
    commissioning.commission(made.store, made.clock, made.author(), new, first, LookOver("P-1015", MONDAY))
    people.set_pin(made.store, made.clock, made.author("HALE"), "HALE", "4711")


def settle_wal(path: Path) -> None:
    """Put everything into the one file, so that it can be copied as bytes."""
    import sqlite3

    raw = sqlite3.connect(path)
    raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.execute("PRAGMA journal_mode = DELETE")
    raw.close()
