"""Does the file still say what was recorded?  Every byte of every record is hashed again."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import zip_longest
from typing import Any

from fleetcare.domain import fingerprint
from fleetcare.domain.identity import PinChanged, media_of
from fleetcare.domain.records import FleetFounded, UnknownKind, decode, encode, field_not_known
from fleetcare.domain.wording import Message, msg
from fleetcare.store.derive import derive, microseconds
from fleetcare.store.schema import DERIVED, KNOWN_VERSION, V001, VERSION
from fleetcare.store.values import VerifyReport

CACHE_KIB = 32_000


def verify(raw: Any) -> VerifyReport:
    """Re-hash all records, compare tree and subtrees, and compare everything derived with a rebuild.

    Damage that SQLite itself notices is reported, not raised: with the first record that cannot be
    read, or with SQLite's own words where no record is hit.  Names of people and drafts stand outside.
    """
    fresh = sqlite3.connect("", isolation_level=None)  # a scratch file of SQLite's own, gone when it is closed
    walk = _Walk()
    faults: list[Message] = []
    root, first_bad = "", None
    try:
        raw.execute("BEGIN")
        for setting in ("temp_store = FILE", "journal_mode = OFF", f"cache_size = -{CACHE_KIB}"):
            fresh.execute(f"PRAGMA {setting}")
        for statement in V001:
            fresh.execute(statement)
        fresh.execute("BEGIN")
        root, first_bad, faults = _records(raw, fresh, walk)
        if not faults:
            faults = [
                *_derived(raw, fresh),
                *_identity(raw, walk),
                *_beside(raw, walk),
                *_sources(raw),
                *_schema(raw, fresh),
            ]
        if not faults:
            faults = _pages(raw)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if not walk.through:
            first_bad = walk.size + 1
            faults.append(msg("verify.unreadable_record", position=first_bad, why=str(error)))
        else:
            faults.append(msg("verify.unreadable", why=str(error)))
    finally:
        fresh.close()
        if raw.in_transaction:
            raw.execute("ROLLBACK")
    return VerifyReport(walk.size, root, first_bad, tuple(faults))


@dataclass
class _Walk:
    """How far the records were read, and what was learnt on the way."""

    size: int = 0
    through: bool = False
    fleet: str = ""
    photos: set[str] = field(default_factory=set)
    pins: set[str] = field(default_factory=set)

    def learn(self, body: object) -> None:
        """What must lie beside the records because of this one."""
        self.photos.update(getattr(body, "photos", ()))
        if isinstance(body, PinChanged):
            (self.pins.add if body.is_set else self.pins.discard)(body.person)


def _pages(raw: Any) -> list[Message]:
    """What SQLite's own check of its pages says, the first line of it."""
    said = [line for (line,) in raw.execute("PRAGMA integrity_check(1)").fetchall()]
    return [] if said == ["ok"] else [msg("verify.unreadable", why=said[0] if said else "")]


MAY_LACK = ("last_seen",)
"""What a copy from before it may lack: made when the file is opened, and no part of what is proved."""


def _schema(raw: Any, fresh: sqlite3.Connection) -> list[Message]:
    """Tables, indexes and triggers that are missing, altered or strange (a trigger that is not ours)."""
    query = "SELECT name, type, sql FROM sqlite_master WHERE sql IS NOT NULL"
    kept = {name: (kind, " ".join(sql.split())) for name, kind, sql in raw.execute(query)}
    made = {name: (kind, " ".join(sql.split())) for name, kind, sql in fresh.execute(query)}
    wrong = [
        name for name, what in made.items() if kept.get(name) != what and not (name in MAY_LACK and name not in kept)
    ]
    wrong += [name for name, what in kept.items() if name not in made and what[0] in ("trigger", "view")]
    return [msg("verify.schema", name=name) for name in sorted(wrong)[:1]]


def _identity(raw: Any, walk: _Walk) -> list[Message]:
    """The fleet's identifier beside the records, version marks, and names that belong to nobody."""
    faults = []
    info = dict(raw.execute("SELECT name, value FROM file_info").fetchall())
    if info != {"fleet_id": walk.fleet}:
        faults.append(msg("verify.derived", table="file_info", row=repr(info)[:200]))
    people = {code for (code,) in raw.execute("SELECT code FROM thing WHERE class = 'person'")}
    strange = {code for (code,) in raw.execute("SELECT code FROM person_name")} ^ people
    if strange:
        faults.append(msg("verify.derived", table="person_name", row=repr(sorted(strange)[0])))
    version = raw.execute("PRAGMA user_version").fetchone()[0]
    named = [name for (name,) in raw.execute("SELECT version_num FROM alembic_version")]
    if named != [f"v{VERSION:03d}"] or not VERSION <= version <= KNOWN_VERSION:
        faults.append(msg("verify.derived", table="alembic_version", row=repr(named)))
    return faults


def _beside(raw: Any, walk: _Walk) -> list[Message]:
    """Pictures that are missing, changed or strange, and PINs of people whose record says otherwise."""
    kept = set()
    for digest, media, content in raw.execute("SELECT sha256, media, bytes FROM photo ORDER BY sha256"):
        if not isinstance(content, bytes) or sha256(content).hexdigest() != digest or media != media_of(content):
            return [msg("verify.photo", digest=str(digest)[:16])]
        kept.add(digest)
    if kept != walk.photos:
        return [msg("verify.photo", digest=sorted(kept ^ walk.photos)[0][:16])]
    pins = {person for (person,) in raw.execute("SELECT person FROM person_pin")}
    if pins != walk.pins:
        return [msg("verify.derived", table="person_pin", row=repr(sorted(pins ^ walk.pins)[0]))]
    return []


def _sources(raw: Any) -> list[Message]:
    """Imported files whose kept bytes no longer match the SHA-256 in the record, or are missing, or are too many."""
    kept = [digest for (digest,) in raw.execute("SELECT DISTINCT sha256 FROM source_part ORDER BY sha256")]
    named = {
        digest
        for (digest,) in raw.execute(
            "SELECT b.sha256 FROM import_batch b JOIN record r ON r.position = b.position WHERE r.kind = 'sheet_import'"
        )
    }
    if set(kept) != named:
        return [msg("verify.source", digest=sorted(set(kept) ^ named)[0][:16])]
    for digest in kept:
        read = sha256()
        for number, (at, part) in enumerate(
            raw.execute("SELECT number, bytes FROM source_part WHERE sha256 = ? ORDER BY number", (digest,))
        ):
            if at != number or not isinstance(part, bytes):
                return [msg("verify.source", digest=digest[:16])]
            read.update(part)
        if read.hexdigest() != digest:
            return [msg("verify.source", digest=digest[:16])]
    return []


def _records(raw: Any, fresh: sqlite3.Connection, walk: _Walk) -> tuple[str, int | None, list[Message]]:
    edge: list[bytes] = []
    faults: list[Message] = []
    rows = raw.execute("SELECT position, record_id, kind, entered_us, bytes, leaf FROM record ORDER BY position")
    for position, record_id, kind, entered_us, data, leaf in rows:
        if position != walk.size + 1:
            return "", walk.size + 1, [msg("verify.gap", position=walk.size + 1)]
        record = None
        try:
            record = decode(data)
            same = encode(record) == bytes(data)
        except UnknownKind as error:
            key = "verify.unknown_kind" if fingerprint.leaf_hash(data) == leaf else "verify.changed"
            return "", position, [msg(key, position=position, record=record_id, kind=error.kind)]
        except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError):
            same = False
        unknown = "" if same or record is None else field_not_known(record.body, json.loads(data)["body"])
        if unknown and fingerprint.leaf_hash(data) == leaf:
            return "", position, [msg("verify.unknown_field", position=position, record=record_id, field=unknown)]
        if not same or fingerprint.leaf_hash(data) != leaf:
            return "", position, [msg("verify.changed", position=position, record=record_id)]
        if (record.record_id, record.kind, microseconds(record.entered_at)) != (record_id, kind, entered_us):
            return "", position, [msg("verify.index", position=position, record=record_id)]
        if position == 1:
            walk.fleet = record.fleet_id
            if not isinstance(record.body, FleetFounded):
                return "", 1, [msg("verify.changed", position=1, record=record_id)]
        elif record.fleet_id != walk.fleet:
            return "", position, [msg("verify.other_fleet", position=position, record=record_id)]
        fingerprint.append(edge, walk.size, leaf)
        walk.size += 1
        walk.learn(record.body)
        if walk.size % 256 == 0:
            fault = _subtree(raw, walk.size)
            if fault is not None:
                return "", walk.size - 255, [fault]
        try:
            derive(fresh, position, record)  # type: ignore[arg-type]
        except (TypeError, ValueError, sqlite3.IntegrityError):
            return "", position, [msg("verify.changed", position=position, record=record_id)]
    walk.through = True
    numbers = [n for (n,) in raw.execute("SELECT number FROM subtree ORDER BY number")]
    if numbers != list(range(walk.size // 256)):
        return "", None, [msg("verify.derived", table="subtree", row=str(len(numbers)))]
    stored_size, stored_edge = raw.execute("SELECT size, edge FROM tree").fetchone() or (0, b"")
    if stored_size != walk.size or stored_edge != b"".join(edge):
        first = min(walk.size, stored_size) + 1
        faults.append(msg("verify.head", stored=stored_size, counted=walk.size))
        return "", first, faults
    return fingerprint.root_of_edge(edge).hex(), None, faults


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
    """Differences between the derived tables and a rebuild, the first row of each table named.

    Both are read side by side in the order of their keys, so that memory does not grow with them.
    """
    faults = []
    for table in DERIVED:
        key = ", ".join(row[1] for row in sorted(fresh.execute(f"PRAGMA table_info({table})"), key=_rank) if row[5])
        query = f"SELECT * FROM {table} ORDER BY {key}"
        for kept, made in zip_longest(raw.execute(query), fresh.execute(query)):
            if kept != made:
                faults.append(msg("verify.derived", table=table, row=repr(kept or made)))
                break
    return faults


def _rank(column: tuple[Any, ...]) -> int:
    rank: int = column[5]
    return rank
