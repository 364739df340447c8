"""The whole of a fleet out to open formats, and back: the same bytes give the same fingerprint."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from fleetcare.domain.identity import media_of
from fleetcare.domain.records import CheckJudged, FleetFounded, decode, encode
from fleetcare.store import opening
from fleetcare.store.acknowledged import forget
from fleetcare.store.derive import derive
from fleetcare.store.store import Store, Transaction
from fleetcare.store.view import Reader, judged_of


def record_lines(view: Reader) -> Iterator[bytes]:
    """The canonical bytes of every record, in order."""
    for (data,) in view._raw.execute("SELECT bytes FROM record ORDER BY position"):
        yield bytes(data)


def source_digests(view: Reader) -> list[str]:
    """The SHA-256 of every imported file that is kept."""
    return [digest for (digest,) in view._raw.execute("SELECT DISTINCT sha256 FROM source_part ORDER BY sha256")]


def check_rows(view: Reader) -> Iterator[tuple[int, str, str, CheckJudged, bool]]:
    """Position, person, source, check and whether it is struck, of every voltage check, in order of record."""
    for position, void, data in view._raw.execute(
        "SELECT c.position, c.void_position, r.bytes FROM voltage_check c JOIN record r ON r.position = c.position"
        " ORDER BY c.position"
    ):
        record = decode(data)
        yield position, record.by, record.source, judged_of(record), void is not None


def photo_digests(view: Reader) -> list[tuple[str, str]]:
    """The SHA-256 and media type of every picture that is kept."""
    return list(view._raw.execute("SELECT sha256, media FROM photo ORDER BY sha256").fetchall())


def pin_hashes(view: Reader) -> list[tuple[str, str]]:
    """People with a PIN, and its hash."""
    return list(view._raw.execute("SELECT person, hash FROM person_pin ORDER BY person").fetchall())


@dataclass(frozen=True, slots=True)
class Beside:
    """What a fleet file holds beside its records: names, imported files, pictures, PIN hashes."""

    names: Mapping[str, str]
    sources: Iterable[tuple[str, Iterable[bytes]]] = ()
    photos: Iterable[bytes] = ()
    pins: Iterable[tuple[str, str]] = ()


def rebuild_from(path: Path, lines: Iterable[bytes], beside: Beside) -> Store:
    """A new fleet file from exported records; ValueError for a line that is not canonical or not of one fleet."""
    opening.create(path)
    store = Store(path)
    try:
        with store.transaction() as tx:
            _replay(store, tx, lines)
            tx._raw.executemany("INSERT OR REPLACE INTO person_name VALUES (?,?)", sorted(beside.names.items()))
            for digest, parts in beside.sources:
                tx._raw.executemany(
                    "INSERT INTO source_part VALUES (?,?,?)", ((digest, n, part) for n, part in enumerate(parts))
                )
            for content in beside.photos:
                tx.keep_photo(sha256(content).hexdigest(), media_of(content) or "", content)
            for person, pin_hash in beside.pins:
                tx.keep_pin(person, pin_hash)
        return store
    except BaseException:
        store.close()
        for one in (path, path.with_name(path.name + "-wal"), path.with_name(path.name + "-shm")):
            one.unlink(missing_ok=True)
        forget(path)
        raise


def _replay(store: Store, tx: Transaction, lines: Iterable[bytes]) -> None:
    for number, data in enumerate(lines, start=1):
        record = decode(data)
        if encode(record) != data:
            raise ValueError(f"record {number} is not in canonical form")
        if number == 1:
            if not isinstance(record.body, FleetFounded):
                raise ValueError("the first record founds no fleet")
            store.fleet_id, store.fleet_name, store.demo = record.fleet_id, record.body.fleet_name, record.body.demo
            tx._raw.execute("INSERT INTO file_info VALUES ('fleet_id', ?)", (record.fleet_id,))
        elif record.fleet_id != store.fleet_id:
            raise ValueError(f"record {number} belongs to another fleet")
        tx._insert([(record, data)])
        derive(tx._raw, number, record)
    if not store.fleet_id:
        raise ValueError("it holds no record")
