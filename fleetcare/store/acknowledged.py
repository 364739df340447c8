"""How many records were acknowledged, in a small file beside the fleet file.

SQLite reads a log up to the first frame that is not whole, and the last deed in a damaged log looks exactly as one
that nobody was told of; a log that was removed leaves no trace at all.  So each deed, once it is on the disk and
before its author is told, leaves its position here; a fleet file that holds fewer records than that has lost some.

The file has two places that are written in turn, so that one torn by a power cut leaves the other.  A place
that is not whole counts as empty: this file can fail to notice a loss, and never says one that is none.
"""

from __future__ import annotations

import contextlib
import os
import threading
from hashlib import sha256
from pathlib import Path

END = "-saved"
_PLACE = 128
_MARK = "fleetcare-saved-1"


def beside(fleet: Path) -> Path:
    """The file that belongs to a fleet file; it lies where the log lies, so that a link to the file finds the same one."""
    real = fleet.resolve()
    return real.with_name(real.name + END)


def acknowledged(fleet: Path, fleet_id: str | None) -> int:
    """The highest position acknowledged for this fleet (None: for any) at this place; 0 where nobody knows."""
    try:
        kept = beside(fleet).read_bytes()
    except OSError:
        return 0
    return max(_position(kept[:_PLACE], fleet_id), _position(kept[_PLACE : 2 * _PLACE], fleet_id))


def forget(fleet: Path) -> None:
    """Another file takes this place, knowingly."""
    beside(fleet).unlink(missing_ok=True)


class Acknowledging:
    """Keeps the position of each acknowledged deed of one open fleet file; safe to use from several threads."""

    def __init__(self, fleet: Path) -> None:
        self._fleet = fleet
        self._lock = threading.Lock()
        self._handle = -1
        self._highest = 0

    def keep(self, fleet_id: str, position: int) -> None:
        """Put `position` on the disk.  The deed itself is there already, so trouble here refuses nothing."""
        with self._lock, contextlib.suppress(OSError):
            if position <= self._highest:
                return
            if self._handle < 0:
                self._handle = os.open(beside(self._fleet), os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
            os.lseek(self._handle, position % 2 * _PLACE, os.SEEK_SET)
            os.write(self._handle, _place(fleet_id, position))
            getattr(os, "fdatasync", os.fsync)(self._handle)
            self._highest = position

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            if self._handle >= 0:
                os.close(self._handle)
                self._handle = -1


def _place(fleet_id: str, position: int) -> bytes:
    said = f"{_MARK} {fleet_id} {position}"
    return f"{said} {sha256(said.encode()).hexdigest()[:32]}".ljust(_PLACE - 1).encode() + b"\n"


def _position(place: bytes, fleet_id: str | None) -> int:
    """What a place says of this fleet; 0 for an empty or torn one and for another fleet's."""
    words = place.split()
    if len(words) != 4 or not words[2].isdigit():
        return 0
    position = int(words[2])
    said = words[1].decode("ascii", "replace") if fleet_id is None else fleet_id
    return position if place == _place(said, position) else 0
