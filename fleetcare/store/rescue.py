"""A fleet file that is removed while it is open: what can still be read is put beside it under another name.

And what such a file left behind: SQLite would read the log of the old file into a new one of that name.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from pathlib import Path

from fleetcare.domain.errors import FileRefused


def places_of(path: Path) -> tuple[int, int] | None:
    """Which file on which disk `path` is just now; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def rescued(raw: sqlite3.Connection, path: Path) -> FileRefused:
    """Copy what the open connection `raw` still reads; the refusal that says where it lies, or that it could not be."""
    copy = path.with_name(f"{path.stem}-rescued-{dt.datetime.now():%Y%m%d-%H%M%S}.fleet")
    try:
        if copy.exists():
            raise OSError(f"{copy} is there already")
        target = sqlite3.connect(copy)
        try:
            raw.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
            (records,) = target.execute("SELECT size FROM tree").fetchone()
        finally:
            target.close()
    except (OSError, sqlite3.Error):
        return FileRefused("file.gone", path=str(path))
    return FileRefused("file.gone_rescued", path=str(path), copy=str(copy), records=records)


def set_aside(path: Path) -> None:
    """Give a log that lies where a new file is to be another name; it may hold deeds of the file that was there."""
    for end in ("-wal", "-shm"):
        left = path.with_name(path.name + end)
        if left.exists() and not path.exists():
            left.rename(path.with_name(f"{path.stem}-left-{dt.datetime.now():%Y%m%d-%H%M%S}.fleet{end}"))
