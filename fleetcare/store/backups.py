"""Copies of a fleet file: made while it is in use, read through before they are believed.

SQLite's own online backup call copies a consistent state; the copy gets its name only when it is
complete and on the disk, so that a broken one is never mistaken for a backup.
"""

from __future__ import annotations

import datetime as dt
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.fingerprint import Head, append, root_of_edge
from fleetcare.domain.records import FleetFounded, decode
from fleetcare.domain.wording import Message
from fleetcare.store import opening, verifying
from fleetcare.store.rescue import set_aside
from fleetcare.store.schema import KNOWN_VERSION

PAGES_A_STEP = 512


@dataclass(frozen=True, slots=True)
class Examined:
    """What a copy holds.  `head` is None and `faults` says why when it is not whole."""

    path: Path
    fleet_id: str
    fleet_name: str
    records: int
    last_entered: dt.datetime | None
    head: Head | None
    first_bad: int | None
    faults: tuple[Message, ...]

    @property
    def good(self) -> bool:
        """True when every record, hash and derived row matches."""
        return not self.faults


def copy_file(source: Path, target: Path) -> None:
    """A consistent copy of the fleet file `source` at `target`; FileRefused when something is there."""
    if target.exists():
        raise FileRefused("file.exists", path=str(target))
    unfinished = target.with_name(target.name + ".part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished.unlink(missing_ok=True)
        _copy(source, unfinished)
        _to_disk(unfinished)
        set_aside(target)
        os.replace(unfinished, target)
        _to_disk(target.parent)
    except sqlite3.Error as error:
        unfinished.unlink(missing_ok=True)
        raise opening.refusal_of(error, target) or FileRefused(
            "file.not_writable", path=str(target), why=str(error)
        ) from error
    except OSError as error:
        raise FileRefused("file.not_writable", path=str(target), why=str(error.strerror or error)) from error


def _copy(source: Path, target: Path) -> None:
    read = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True, timeout=15.0)
    try:
        write = sqlite3.connect(target)
        try:
            read.backup(write, pages=PAGES_A_STEP, sleep=0.001)
            write.execute("PRAGMA journal_mode = DELETE")
        finally:
            write.close()
    finally:
        read.close()


def _to_disk(path: Path) -> None:
    if path.is_dir() and os.name == "nt":
        return  # Windows knows no flushing of folders
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def examine(path: Path) -> Examined:
    """Read a copy through, changing nothing: count, last record, fingerprint, and the first record that fails.

    Raises FileRefused only for what is no fleet file at all.
    """
    if not path.is_file():
        raise FileRefused("file.missing", path=str(path))
    with path.open("rb") as stream:
        start = stream.read(100)
    if start[:16] != b"SQLite format 3\x00" or int.from_bytes(start[68:72], "big") != opening.APPLICATION_ID:
        raise FileRefused("file.foreign", path=str(path))
    raw = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None)
    try:
        version = _version(raw, int.from_bytes(start[60:64], "big"))
        if version > KNOWN_VERSION:
            raise FileRefused("file.newer", path=str(path), file_version=version, program_version=KNOWN_VERSION)
        report = verifying.verify(raw)
        fleet_id, name, last = _ends(raw)
    finally:
        raw.close()
    head = Head(report.records, report.root_hex) if report.good else None
    return Examined(path, fleet_id, name, report.records, last, head, report.first_bad, report.faults)


def _version(raw: Any, at_the_head: int) -> int:
    """The file version, a log beside the file included; as it stands at the head of a file that SQLite cannot read."""
    try:
        return int(raw.execute("PRAGMA user_version").fetchone()[0])
    except sqlite3.DatabaseError:
        return at_the_head


def _ends(raw: Any) -> tuple[str, str, dt.datetime | None]:
    """Fleet id and name from the first record, and when the last one was entered, as far as they can be read."""
    try:
        first = decode(raw.execute("SELECT bytes FROM record WHERE position = 1").fetchone()[0])
        last = decode(raw.execute("SELECT bytes FROM record ORDER BY position DESC LIMIT 1").fetchone()[0])
        body = first.body
        return first.fleet_id, body.fleet_name if isinstance(body, FleetFounded) else "", last.entered_at
    except (sqlite3.DatabaseError, ValueError, KeyError, TypeError):
        return "", "", None


def head_at(path: Path, size: int) -> Head:
    """The fingerprint that the file had when it held `size` records."""
    raw = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None)
    try:
        edge: list[bytes] = []
        for number, (leaf,) in enumerate(
            raw.execute("SELECT leaf FROM record WHERE position <= ? ORDER BY position", (size,))
        ):
            append(edge, number, leaf)
        return Head(size, root_of_edge(edge).hex())
    finally:
        raw.close()
