"""Does the file still say what was recorded?  Every byte of every record is hashed again."""

from __future__ import annotations

import sqlite3
from typing import Any

from fleetcare.domain import fingerprint
from fleetcare.domain.records import FleetFounded, decode, encode
from fleetcare.domain.wording import Message, msg
from fleetcare.store.derive import derive, microseconds
from fleetcare.store.schema import DERIVED, V001
from fleetcare.store.values import VerifyReport


def verify(raw: Any) -> VerifyReport:
    """Re-hash all records, compare tree and subtrees, and compare derived tables with a rebuild.

    Damage that SQLite itself notices is reported, not raised.
    """
    faults: list[Message] = []
    first_bad: int | None = None
    size = 0
    root = fingerprint.EMPTY.hex()
    fresh = sqlite3.connect(":memory:", isolation_level=None)
    try:
        raw.execute("BEGIN")
        for statement in V001:
            if "TRIGGER" not in statement:
                fresh.execute(statement)
        size, root, first_bad, faults = _records(raw, fresh)
        if not faults:
            faults = _derived(raw, fresh)
    except sqlite3.DatabaseError as error:
        faults.append(msg("verify.unreadable", why=str(error)))
    finally:
        fresh.close()
        if raw.in_transaction:
            raw.execute("ROLLBACK")
    return VerifyReport(size, root, first_bad, tuple(faults))


def _records(raw: Any, fresh: sqlite3.Connection) -> tuple[int, str, int | None, list[Message]]:
    edge: list[bytes] = []
    faults: list[Message] = []
    size = 0
    fleet = ""
    rows = raw.execute("SELECT position, record_id, kind, entered_us, bytes, leaf FROM record ORDER BY position")
    for position, record_id, kind, entered_us, data, leaf in rows:
        if position != size + 1:
            return size, "", size + 1, [msg("verify.gap", position=size + 1)]
        try:
            record = decode(data)
            same = encode(record) == bytes(data)
        except (ValueError, KeyError, TypeError):
            same = False
        if not same or fingerprint.leaf_hash(data) != leaf:
            return size, "", position, [msg("verify.changed", position=position, record=record_id)]
        if (record.record_id, record.kind, microseconds(record.entered_at)) != (record_id, kind, entered_us):
            return size, "", position, [msg("verify.index", position=position, record=record_id)]
        if position == 1:
            fleet = record.fleet_id
            if not isinstance(record.body, FleetFounded):
                return size, "", 1, [msg("verify.changed", position=1, record=record_id)]
        elif record.fleet_id != fleet:
            return size, "", position, [msg("verify.other_fleet", position=position, record=record_id)]
        fingerprint.append(edge, size, leaf)
        size += 1
        if size % 256 == 0:
            fault = _subtree(raw, size)
            if fault is not None:
                return size, "", size - 255, [fault]
        derive(fresh, position, record)  # type: ignore[arg-type]
    stored_size, stored_edge = raw.execute("SELECT size, edge FROM tree").fetchone()
    if stored_size != size or stored_edge != b"".join(edge):
        first = min(size, stored_size) + 1
        faults.append(msg("verify.head", stored=stored_size, counted=size))
        return size, "", first, faults
    return size, fingerprint.root_of_edge(edge).hex(), None, faults


def _subtree(raw: Any, size: int) -> Message | None:
    leaves = [
        leaf
        for (leaf,) in raw.execute(
            "SELECT leaf FROM record WHERE position > ? AND position <= ? ORDER BY position", (size - 256, size)
        )
    ]
    row = raw.execute("SELECT hash FROM subtree WHERE number = ?", (size // 256 - 1,)).fetchone()
    if row is None or row[0] != fingerprint.root(leaves):
        return msg("verify.subtree", first=size - 255, last=size)
    return None


def _derived(raw: Any, fresh: sqlite3.Connection) -> list[Message]:
    """Differences between the derived tables and a rebuild, the first row of each table named."""
    faults = []
    for table in DERIVED:
        kept, made = (set(c.execute(f"SELECT * FROM {table}").fetchall()) for c in (raw, fresh))
        if kept != made:
            row = sorted(map(repr, kept ^ made))[0]
            faults.append(msg("verify.derived", table=table, row=row))
    return faults
