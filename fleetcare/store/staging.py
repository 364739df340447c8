"""Rows of a file on their way in: kept on disk, in order of their dates, exact repeats noticed.

A scratch database of SQLite's own (deleted when it is closed) holds them, so that a million rows
need no more memory than a thousand.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator

from fleetcare.store.heard import heard

CACHE_KIB = 16_000


class RowStage:
    """Rows by (order, row number); `payload` is whatever the caller wants back."""

    def __init__(self) -> None:
        self._raw = sqlite3.connect("", isolation_level=None, check_same_thread=False)
        self._raw.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        self._raw.execute("PRAGMA temp_store = FILE")
        self._raw.execute("PRAGMA journal_mode = OFF")
        self._raw.execute("CREATE TABLE seen (identity BLOB PRIMARY KEY) WITHOUT ROWID")
        self._raw.execute("CREATE TABLE staged (at INTEGER, row INTEGER, payload BLOB)")
        self._raw.execute("CREATE TABLE cells (row INTEGER PRIMARY KEY, payload TEXT)")
        self._raw.execute("BEGIN")

    def first_time(self, identity: bytes) -> bool:
        """True the first time this identity is met."""
        return self._raw.execute("INSERT OR IGNORE INTO seen VALUES (?)", (identity,)).rowcount == 1

    def add(self, at: int, row: int, payload: bytes) -> None:
        """Keep one row."""
        self._raw.execute("INSERT INTO staged VALUES (?,?,?)", (at, row, payload))

    def in_order(self, heartbeat: Callable[[], None]) -> Iterator[tuple[int, bytes]]:
        """Row number and payload, oldest first, rows of one moment as they stood in the file.

        `heartbeat` is called again and again while they are put in order; what it raises ends the work and is raised here.
        """
        with heard(self._raw, heartbeat):
            yield from self._raw.execute("SELECT row, payload FROM staged ORDER BY at, row")

    def keep_cells(self, row: int, cells: list[str]) -> None:
        """Keep one row as it was read, where reading the file once more would take long."""
        self._raw.execute("INSERT INTO cells VALUES (?,?)", (row, json.dumps(cells)))

    def cells(self) -> Iterator[tuple[int, list[str]]]:
        """The rows that were kept as they were read."""
        for row, payload in self._raw.execute("SELECT row, payload FROM cells ORDER BY row"):
            yield row, json.loads(payload)

    def forget_cells(self) -> None:
        """Give the room of those rows back."""
        self._raw.execute("DELETE FROM cells")

    def close(self) -> None:
        """Forget everything."""
        self._raw.close()
