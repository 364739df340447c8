"""Deeds in the write-ahead log that SQLite cannot read any more.

After a crash SQLite reads the log up to the first frame whose checksum fails and takes the rest for
the torn end of a deed that was never acknowledged; the next close then overwrites it.  A flipped bit in
the middle of the log would lose saved deeds without a word.  So the frames are looked at before that.
(The form of the log: "WAL-mode File Format" in SQLite's documentation.)
"""

from __future__ import annotations

import sqlite3
import sys
from pathlib import Path
from typing import BinaryIO

HEADER, FRAME = 32, 24
_MAGIC = (0x377F0682, 0x377F0683)
_MOST_FRAME = 16
"""Where the log's index keeps how many frames SQLite could read."""


def deeds_lost(path: Path) -> int:
    """How many saved deeds the log beside `path` holds that SQLite will not read; nothing is changed.

    The last one alone cannot be told from one that was never acknowledged, and counts as that.
    """
    log = path.with_name(path.name + "-wal")
    if not log.exists() or log.stat().st_size <= HEADER + FRAME:
        return 0
    raw = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None, timeout=15.0)
    try:
        raw.execute("BEGIN")
        raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        before = _index(path)
        lost = _unread(path, log, int.from_bytes(before[_MOST_FRAME : _MOST_FRAME + 4], sys.byteorder))
        if _index(path) != before:
            return 0  # somebody saves at this moment, so the log is being read and written as it should
    except OSError:
        return 0
    finally:
        raw.close()
    return lost if lost > 1 else 0


def _index(path: Path) -> bytes:
    """The head of the log's index, which changes with every deed."""
    with path.with_name(path.name + "-shm").open("rb") as stream:
        return stream.read(48)


def _unread(path: Path, log: Path, read_to: int) -> int:
    """Deeds after frame `read_to` that belong to the log and are not in the file already."""
    with log.open("rb") as frames, path.open("rb") as file:
        start = frames.read(HEADER)
        kept = file.read(20)
        size = int.from_bytes(kept[16:18], "big") or 65536
        salts = start[16:24]
        if int.from_bytes(start[:4], "big") not in _MAGIC or read_to == 0:
            salts = _usual_salts(frames, size) or salts
        deeds = 0
        newest: dict[int, int] = {}
        number = read_to
        while True:
            at = HEADER + number * (FRAME + size)
            frames.seek(at)
            head = frames.read(FRAME)
            if len(head) < FRAME:
                break
            number += 1
            page, commit = int.from_bytes(head[:4], "big"), int.from_bytes(head[4:8], "big")
            if head[8:16] != salts:
                continue
            newest[page] = at + FRAME
            deeds += commit > 0
        return deeds if deeds and _differs(file, frames, size, newest) else 0


def _usual_salts(frames: BinaryIO, size: int) -> bytes:
    """The mark that most frames of the log carry, where the log's own head cannot be believed."""
    met: dict[bytes, int] = {}
    at = HEADER
    while True:
        frames.seek(at)
        head = frames.read(FRAME)
        if len(head) < FRAME:
            return max(met, key=lambda one: met[one], default=b"")
        met[head[8:16]] = met.get(head[8:16], 0) + 1
        at += FRAME + size


def _differs(file: BinaryIO, frames: BinaryIO, size: int, newest: dict[int, int]) -> bool:
    """True when a page in the log is not in the file already: a log that was used up may be damaged."""
    for page, at in newest.items():
        frames.seek(at)
        file.seek((page - 1) * size)
        if frames.read(size) != file.read(size):
            return True
    return False
