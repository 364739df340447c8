"""What the store knows of imported files: the imports, the rows that are parked, the files themselves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256

from fleetcare.domain.oldrows import OldReading
from fleetcare.domain.records import ImportBatch, RowParked, SheetImport, decode
from fleetcare.store.store import Transaction
from fleetcare.store.view import Reader


@dataclass(frozen=True, slots=True)
class StoredImport:
    """One import: its record, and whether it was taken back."""

    record_id: str
    position: int
    entered_at: dt.datetime
    by: str
    body: ImportBatch | SheetImport
    void_position: int | None


@dataclass(frozen=True, slots=True)
class StoredParked:
    """One row whose pack nobody knows yet."""

    position: int
    batch: str
    source: str
    reading: OldReading


def imports(view: Reader) -> list[StoredImport]:
    """All imports, newest first."""
    rows = view._raw.execute(
        "SELECT b.record_id, b.position, b.void_position, r.bytes FROM import_batch b"
        " JOIN record r ON r.position = b.position ORDER BY b.position DESC"
    ).fetchall()
    found = []
    for record_id, position, void_position, data in rows:
        record = decode(data)
        found.append(
            StoredImport(record_id, position, record.entered_at, record.by, record.body, void_position)  # type: ignore[arg-type]
        )
    return found


def parked(view: Reader, written: str | None = None) -> Iterator[StoredParked]:
    """Rows that are parked still, in the order of record; of one written pack only, when given."""
    only, values = ("", ()) if written is None else (" AND p.written = ?", (written,))
    for position, batch, data in view._raw.execute(
        "SELECT p.position, p.batch, r.bytes FROM parked_row p JOIN record r ON r.position = p.position"
        f" WHERE p.end_position IS NULL{only} ORDER BY p.position",
        values,
    ):
        record = decode(data)
        assert isinstance(record.body, RowParked)
        yield StoredParked(position, batch, record.source, record.body.reading)


def parked_codes(view: Reader) -> list[tuple[str, int]]:
    """Each pack as it was written, with the number of its parked rows."""
    rows: list[tuple[str, int]] = view._raw.execute(
        "SELECT written, count(*) FROM parked_row WHERE end_position IS NULL GROUP BY written ORDER BY written"
    ).fetchall()
    return rows


def keep_source(tx: Transaction, digest: str, parts: Iterable[bytes]) -> None:
    """Keep the bytes of a file under their SHA-256; a file that is kept already is not kept twice."""
    if tx._raw.execute("SELECT 1 FROM source_part WHERE sha256 = ? LIMIT 1", (digest,)).fetchone() is None:
        tx._raw.executemany("INSERT INTO source_part VALUES (?,?,?)", ((digest, n, p) for n, p in enumerate(parts)))


def source(view: Reader, digest: str) -> Iterator[bytes]:
    """The kept bytes of a file, part by part; ValueError at the end when they do not match their hash."""
    read = sha256()
    for (part,) in view._raw.execute("SELECT bytes FROM source_part WHERE sha256 = ? ORDER BY number", (digest,)):
        read.update(part)
        yield part
    if read.hexdigest() != digest:
        raise ValueError(digest)
