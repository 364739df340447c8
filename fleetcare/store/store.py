"""One fleet, one SQLite file: transactions that append records, and views that read them."""

from __future__ import annotations

import datetime as dt
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import QueuePool

from fleetcare.domain import fingerprint
from fleetcare.domain.added_later import written_later
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.packs import Person, Thing
from fleetcare.domain.records import (
    FleetFounded,
    Record,
    ThingPut,
    decode,
    encode,
    new_id,
)
from fleetcare.store import opening
from fleetcare.store.acknowledged import Acknowledging
from fleetcare.store.derive import derive, derive_checks, microseconds
from fleetcare.store.heard import heard
from fleetcare.store.rescue import places_of, rescued
from fleetcare.store.schema import FIELDS_SINCE, KINDS_SINCE
from fleetcare.store.thing_rows import thing_of, things_of
from fleetcare.store.values import Appended, Touched, VerifyReport
from fleetcare.store.view import Reader

View = Reader

_HASH = 32
_SUBTREE_LEVEL = 8

PATIENCE_S = 15.0
"""So long a deed waits for another program that is writing to the file."""

SOON_S = 1.0
"""So long it waits where somebody can be told that it waits, or where it can be tried again."""

Held = Callable[[Callable[[], bool], bool], bool]
"""Asked when a deed has to wait.  The first argument tries once more, at once; the second is True where this program
itself is writing, in another thread.  True once a try was good; False gives the deed up."""


class Transaction(Reader):
    """Reads and appends under the write lock; nothing of it stays unless it ends normally."""

    def __init__(self, store: Store, raw: Any) -> None:
        super().__init__(store, raw, None)
        size, edge = raw.execute("SELECT size, edge FROM tree").fetchone()
        self._size = size
        self._edge = [edge[i : i + _HASH] for i in range(0, len(edge), _HASH)]

    _keep = False

    def heard(self, heartbeat: Callable[[], None]) -> AbstractContextManager[None]:
        """Within it `heartbeat` is called while SQLite works; what it raises ends the deed."""
        return heard(self._raw, heartbeat)

    @property
    def position(self) -> int:
        """The position of the newest record, those appended here included."""
        return self._size

    def append(
        self,
        kind: str,
        body: object,
        *,
        done_at: dt.datetime,
        entered_at: dt.datetime,
        by: str,
        level: str,
        station: str,
        source: str,
        seen: int | None = None,
        batch: str = "",
        record_id: str | None = None,
    ) -> Appended:
        """Append one record and bring the derived tables up to date with it."""
        record = Record(
            self._store.fleet_id, record_id or new_id(), kind, done_at, entered_at, by, level, station, source, body,
            seen, batch,
        )  # fmt: skip
        data = encode(record)
        if isinstance(body, ThingPut) and isinstance(body.thing, Person):
            self._raw.execute("INSERT OR REPLACE INTO person_name VALUES (?,?)", (body.thing.code, body.thing.name))
        self._insert([(record, data)])
        derive(self._raw, self._size, record)
        return Appended(record.record_id, self._size)

    def append_checks(self, records: Iterable[Record]) -> int:
        """Append many voltage checks (and other rows) of one import; returns how many."""
        pairs = [(record, encode(record)) for record in records]
        first = self._size + 1
        self._insert(pairs)
        placed = [(first + i, record) for i, (record, _) in enumerate(pairs)]
        derive_checks(self._raw, [one for one in placed if one[1].kind == "voltage_check"])
        for position, record in placed:
            if record.kind != "voltage_check":
                derive(self._raw, position, record)
        return len(pairs)

    def _insert(self, pairs: list[tuple[Record, bytes]]) -> None:
        rows, subtrees = [], []
        size, edge = self._size, self._edge
        for record, data in pairs:
            leaf = fingerprint.leaf_hash(data)
            rows.append((size + 1, record.record_id, record.kind, microseconds(record.entered_at), data, leaf))
            carried, at, level = leaf, size, 0
            while at & 1:
                carried = fingerprint.node_hash(edge.pop(), carried)
                at >>= 1
                level += 1
                if level == _SUBTREE_LEVEL:
                    subtrees.append((size // 256, carried))
            edge.append(carried)
            size += 1
        if len(rows) == 1:
            self._raw.execute("INSERT INTO record VALUES (?,?,?,?,?,?)", rows[0])
        else:
            self._raw.executemany("INSERT INTO record VALUES (?,?,?,?,?,?)", rows)
        self._mark_version([record for record, _ in pairs])
        if subtrees:
            self._raw.executemany("INSERT INTO subtree VALUES (?,?)", subtrees)
        self._raw.execute("UPDATE tree SET size = ?, edge = ?", (size, b"".join(edge)))
        self._size = size
        self._position = size

    def _mark_version(self, records: list[Record]) -> None:
        """With the first record of a kind, or with a field, that older programs do not know they can no longer open the file."""
        needed = max((KINDS_SINCE[kind] for kind in {one.kind for one in records} & KINDS_SINCE.keys()), default=0)
        if FIELDS_SINCE:
            written = set().union(*(written_later(one.body) for one in records))
            needed = max(needed, *(FIELDS_SINCE[name] for name in written & FIELDS_SINCE.keys()), 0)
        if needed and needed > self._raw.execute("PRAGMA user_version").fetchone()[0]:
            self._raw.execute(f"PRAGMA user_version = {needed}")

    def save_draft(
        self, draft_id: str, person: str, station: str, subject: str, saved_at: dt.datetime, body: str
    ) -> None:
        """Keep what is typed and not saved; it is no record."""
        self._raw.execute(
            "INSERT OR REPLACE INTO draft VALUES (?,?,?,?,?,?)",
            (draft_id, person, station, subject, microseconds(saved_at), body),
        )

    def keep_photo(self, sha256: str, media: str, content: bytes) -> None:
        """Keep a picture under its digest; the same picture is kept once."""
        self._raw.execute("INSERT OR IGNORE INTO photo VALUES (?,?,?)", (sha256, media, content))

    def keep_pin(self, person: str, pin_hash: str | None) -> None:
        """Keep the hash of a person's PIN, or forget it (None); it is no record."""
        self._raw.execute("DELETE FROM person_pin WHERE person = ?", (person,))
        if pin_hash is not None:
            self._raw.execute("INSERT INTO person_pin VALUES (?,?)", (person, pin_hash))

    def keep_seen(self, person: str, position: int, at: dt.datetime) -> None:
        """Keep how far a person has looked at the board; it is no record."""
        self._raw.execute("INSERT OR REPLACE INTO last_seen VALUES (?,?,?)", (person, position, microseconds(at)))

    def delete_draft(self, draft_id: str) -> None:
        """Forget a draft that was saved or discarded."""
        self._raw.execute("DELETE FROM draft WHERE draft_id = ?", (draft_id,))


class Store:
    """An open fleet file.  Safe to use from several threads: each transaction has its own connection."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine = create_engine(
            "sqlite://", creator=self._connect, poolclass=QueuePool, pool_size=4, max_overflow=8
        )
        event.listen(self._engine, "connect", _prepare)
        self._place = places_of(path)
        self._acknowledging = Acknowledging(path)
        self._rescued: FileRefused | None = None
        self._held: tuple[int, Held] | None = None
        self._writing = False
        self._lock = threading.Lock()
        self._things: dict[str, tuple[int, dict[str, Any]]] = {}
        self._one: dict[tuple[str, str], Any] = {}
        self._decoded: dict[bytes, Record] = {}
        self.fleet_id = self.fleet_name = ""
        self.demo = False

    @classmethod
    def create(
        cls, path: Path, *, fleet_name: str, demo: bool = False, now: dt.datetime, station: str = "set-up"
    ) -> Store:
        """A new fleet file; raises FileRefused when something is there already or it cannot be written."""
        opening.create(path)
        store = cls(path)
        store.fleet_id, store.fleet_name, store.demo = new_id(), fleet_name, demo
        with store.transaction() as tx:
            tx._raw.execute("INSERT INTO file_info VALUES ('fleet_id', ?)", (store.fleet_id,))
            tx.append(
                "fleet_founded", FleetFounded(fleet_name, demo), done_at=now, entered_at=now, by="", level="",
                station=station, source="program",
            )  # fmt: skip
        return store

    @classmethod
    def open(cls, path: Path) -> Store:
        """An existing fleet file, brought to this program's version after a copy was made.

        Raises FileRefused for a file that is missing, foreign, newer, damaged or not writable.
        """
        opening.prepare(path)
        store = cls(path)
        with store.view() as view:
            first = view.record_at(1)
        if first is None or not isinstance(first.body, FleetFounded):
            store.close()
            raise FileRefused("file.no_founding", path=str(path))
        store.fleet_id, store.fleet_name, store.demo = first.fleet_id, first.body.fleet_name, first.body.demo
        return store

    def close(self) -> None:
        """Close all connections."""
        self._engine.dispose()
        self._acknowledging.close()

    def _connect(self) -> sqlite3.Connection:
        """A connection to the file that is there; none is ever made in the place of one that is gone."""
        address = f"{self.path.resolve().as_uri()}?mode=rw"
        return sqlite3.connect(address, uri=True, timeout=PATIENCE_S, check_same_thread=False, isolation_level=None)

    def when_held(self, ask: Held | None) -> None:
        """Deeds of the thread that calls this ask `ask` as soon as they have to wait; None: they wait again."""
        self._held = None if ask is None else (threading.get_ident(), ask)

    @contextmanager
    def transaction(self, patience_s: float | None = None) -> Iterator[Transaction]:
        """One write transaction under the lock; rolled back unless the block ends normally.

        FileRefused where another program holds the file for longer than `patience_s`; without it the thread of
        `when_held` asks after a second, and others wait as long as `PATIENCE_S`.
        """
        with self._raw() as raw:
            self._begin(raw, patience_s)
            self._writing = True
            try:
                tx = Transaction(self, raw)
                before = tx.position
                yield tx
                self._still_there(raw)
                raw.execute("COMMIT")
            except BaseException:
                if raw.in_transaction:
                    raw.execute("ROLLBACK")
                raise
            finally:
                self._writing = False
            if tx.position > before:
                self._acknowledging.keep(self.fleet_id, tx.position)

    def refuse_elsewhere(self) -> None:
        """FileRefused where the file was removed or exchanged while it was open.

        What the open connection still reads is then no longer what others write to: a board must not call it fresh.
        """
        if places_of(self.path) != self._place:
            raise FileRefused("file.read_elsewhere", path=str(self.path))

    def _begin(self, raw: Any, patience_s: float | None) -> None:
        """Take the write lock, or say who holds it."""
        held = self._held[1] if self._held is not None and self._held[0] == threading.get_ident() else None
        if patience_s is None and held is None:
            raw.execute("BEGIN IMMEDIATE")
            return
        _wait_at_most(raw, SOON_S if patience_s is None else patience_s)
        try:
            if _tried(raw):
                return
            own = self._writing
            if patience_s is None and held is not None:
                _wait_at_most(raw, 0)
                if held(lambda: _tried(raw), own):
                    return
            raise FileRefused("file.busy_here" if own else "file.locked", path=str(self.path))
        finally:
            _wait_at_most(raw, PATIENCE_S)

    def _still_there(self, raw: Any) -> None:
        """FileRefused where the file was removed or exchanged while it was open: a deed would go nowhere.

        What the open connection still reads is put into a file of its own beside it.
        """
        here = places_of(self.path)
        if here == self._place and self._log_is_there(raw):
            return
        raw.execute("ROLLBACK")
        if here is not None and here != self._place:
            raise FileRefused("file.exchanged", path=str(self.path))
        if self._rescued is None:
            self._rescued = rescued(raw, self.path)
        raise self._rescued

    def _log_is_there(self, raw: Any) -> bool:
        """True also where the folder lets SQLite keep none; the log lies beside the file itself, not beside a link to it."""
        if raw.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            return True
        real = self.path.resolve()
        return real.with_name(real.name + "-wal").exists()

    @contextmanager
    def view(self, position: int | None = None) -> Iterator[View]:
        """A consistent read at `position` (None: the newest record)."""
        with self._raw() as raw:
            raw.execute("BEGIN")
            try:
                yield Reader(self, raw, position)
            finally:
                if raw.in_transaction:
                    raw.execute("ROLLBACK")

    @contextmanager
    def _raw(self) -> Iterator[Any]:
        try:
            connection = self._engine.raw_connection()
        except DBAPIError as error:
            if not self.path.exists():
                raise FileRefused("file.gone", path=str(self.path)) from error
            raise FileRefused("file.unreadable", path=str(self.path), why=str(error.orig)) from error
        try:
            yield connection.driver_connection
        except Exception as error:
            refused = opening.refusal_of(error, self.path)
            if refused is None:
                raise
            raise refused from error
        finally:
            connection.close()

    def changes_since(self, position: int) -> Touched:
        """What records after `position` touched."""
        with self.view() as view:
            return view.touched_since(position)

    def rebuild(self) -> None:
        """Empty every derived table and derive it again from the records."""
        with self.transaction() as tx:
            opening.rebuild(tx._raw)

    def verify(self) -> VerifyReport:
        """Check every record, hash and derived row; see store.verifying."""
        from fleetcare.store import verifying

        with self._raw() as raw:
            return verifying.verify(raw)

    # decoded things, kept because they change seldom and are read often

    def thing_from(self, thing_class: str, body: str, raw: Any) -> Any:
        """The decoded thing of one derived row."""
        key = (thing_class, body)
        found = self._one.get(key)
        if found is None:
            found = thing_of(body)
            if len(self._one) > 200_000:
                self._one.clear()
            self._one[key] = found
        return _named(found, raw) if isinstance(found, Person) else found

    def current_things(self, thing_class: str, raw: Any, *, keep: bool) -> dict[str, Thing]:
        """All current things of a class; only those changed since the last call are decoded.

        With `keep` False (inside a write, which may yet be rolled back) nothing is remembered.
        """
        newest = raw.execute("SELECT max(from_position) FROM thing WHERE class = ?", (thing_class,)).fetchone()[0] or 0
        with self._lock:
            seen, kept = self._things.get(thing_class, (0, {}))
        kept = dict(kept)
        if newest > seen:
            rows = raw.execute(
                "SELECT code, body FROM thing WHERE class = ? AND from_position > ? AND to_position IS NULL",
                (thing_class, seen),
            ).fetchall()
            kept |= zip((code for code, _body in rows), things_of([body for _code, body in rows]), strict=True)
            with self._lock:
                if keep and newest >= self._things.get(thing_class, (0, {}))[0]:
                    self._things[thing_class] = (newest, dict(kept))
        if thing_class == "person":
            return {code: _named(person, raw) for code, person in kept.items()}  # type: ignore[arg-type]
        return kept

    def decoded(self, data: bytes) -> Record:
        """A decoded record that is read again and again (an open hold)."""
        found = self._decoded.get(data)
        if found is None:
            if len(self._decoded) > 20_000:
                self._decoded.clear()
            found = self._decoded[data] = decode(data)
        return found


def _named(person: Person, raw: Any) -> Person:
    row = raw.execute("SELECT name FROM person_name WHERE code = ?", (person.code,)).fetchone()
    return replace(person, name=row[0] if row else person.code)


def _wait_at_most(raw: Any, seconds: float) -> None:
    raw.execute(f"PRAGMA busy_timeout = {round(1000 * seconds)}").fetchall()


def _tried(raw: Any) -> bool:
    """True when the write lock was got; False while somebody else has it."""
    try:
        raw.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            raise
        return False
    return True


def _prepare(dbapi_connection: Any, _record: object) -> None:
    cursor = dbapi_connection.cursor()
    for pragma in ("foreign_keys = ON", "journal_mode = WAL", "synchronous = FULL", "temp_store = MEMORY"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()
