"""Deeds in the write-ahead log that SQLite cannot read any more.

After a crash SQLite reads the log up to the first frame whose checksum fails and takes the rest for
the torn end of a deed that was never acknowledged; the next close then overwrites it.  A flipped bit in
the middle of the log would lose saved deeds without a word.  So the frames are looked at before that.
(The form of the log: "WAL-mode File Format" in SQLite's documentation.)
"""

from __future__ import annotations

import sqlite3
import sys
from itertools import count
from pathlib import Path
from typing import BinaryIO

HEADER, FRAME = 32, 24
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
    """Deeds after frame `read_to` that belong to the log and are not in the file already.

    A log is begun anew only when all of it is in the file; the marks of its frames then change as a whole.
    Frames with other marks therefore end the search, while one bit of a mark may be a flipped one.
    """
    with log.open("rb") as frames, path.open("rb") as file:
        header = frames.read(HEADER)
        size = int.from_bytes(file.read(20)[16:18], "big") or 65536
        marks = _marks(frames, size, header[16:24])
        deeds = 0
        newest: dict[int, int] = {}
        for number in count(read_to):
            at = HEADER + number * (FRAME + size)
            head = _head(frames, at)
            if len(head) < FRAME or _bits_apart(head[8:16], marks) > 1:
                break
            newest[int.from_bytes(head[:4], "big")] = at + FRAME
            deeds += any(head[4:8])
        return deeds if deeds and _differs(file, frames, size, newest) else 0


def _marks(frames: BinaryIO, size: int, said: bytes) -> bytes:
    """The marks that the frames carry: those in the log's own head, unless a bit of these was flipped."""
    first, second = (_head(frames, HEADER + number * (FRAME + size))[8:16] for number in (0, 1))
    return first if first == second and _bits_apart(first, said) == 1 else said


def _head(frames: BinaryIO, at: int) -> bytes:
    frames.seek(at)
    return frames.read(FRAME)


def _bits_apart(one: bytes, other: bytes) -> int:
    return (int.from_bytes(one, "big") ^ int.from_bytes(other, "big")).bit_count()


def _differs(file: BinaryIO, frames: BinaryIO, size: int, newest: dict[int, int]) -> bool:
    """True when a page in the log is not in the file already: a log that was used up may be damaged."""
    for page, at in newest.items():
        frames.seek(at)
        file.seek((page - 1) * size)
        if frames.read(size) != file.read(size):
            return True
    return False
