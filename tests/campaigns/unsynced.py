"""Cut the power: every write that was not yet synced may be gone, in whole or in part.

    python -m tests.campaigns.unsynced 500

SQLite runs on an interposed file layer (apsw) that writes down each write and each sync.  At a random
instant the files are rebuilt as a disk may leave them: everything synced is there, of the rest a random
choice of 512-byte sectors.  Then the file is opened and read through.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import apsw

from fleetcare.store.store import Store
from tests.kestrel import Kestrel, build

SECTOR = 512


class Disk:
    """What reached the disk for certain, and what was written since the last sync."""

    def __init__(self) -> None:
        self.safe: dict[str, bytearray] = {}
        self.loose: dict[str, list[tuple[int, bytes | None]]] = {}
        self.writes = 0
        self.stop_at = -1

    def write(self, name: str, at: int, data: bytes | None) -> None:
        """One write (None: cut at `at`), not yet synced."""
        if self.writes == self.stop_at:
            raise apsw.IOError("the power is off")
        self.writes += 1
        self.loose.setdefault(name, []).append((at, data))

    def sync(self, name: str) -> None:
        """Everything written to `name` is on the disk."""
        if self.writes == self.stop_at:
            raise apsw.IOError("the power is off")
        for at, data in self.loose.pop(name, []):
            _apply(self.safe.setdefault(name, bytearray()), at, data)

    def after_power_cut(self, rng: random.Random) -> dict[str, bytes]:
        """The files as they may be found: a random choice of sectors of what was not synced."""
        left = {name: bytearray(data) for name, data in self.safe.items()}
        for name, writes in self.loose.items():
            kept = left.setdefault(name, bytearray())
            share = rng.choice((0.0, 0.5, 1.0))
            for at, data in writes:
                if data is None:
                    continue
                for start in range(0, len(data), SECTOR):
                    if rng.random() < share:
                        _apply(kept, at + start, data[start : start + SECTOR])
        return {name: bytes(data) for name, data in left.items()}


def _apply(kept: bytearray, at: int, data: bytes | None) -> None:
    if data is None:
        del kept[at:]
        return
    if len(kept) < at:
        kept.extend(bytes(at - len(kept)))
    kept[at : at + len(data)] = data


class _File(apsw.VFSFile):
    def __init__(self, disk: Disk, vfs: str, name: Any, flags: list[int]) -> None:
        self._disk = disk
        self._name = Path(name.filename() if isinstance(name, apsw.URIFilename) else str(name)).name if name else ""
        super().__init__(vfs, name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:
        self._disk.write(self._name, offset, bytes(data))
        super().xWrite(data, offset)

    def xTruncate(self, newsize: int) -> None:
        self._disk.write(self._name, newsize, None)
        super().xTruncate(newsize)

    def xSync(self, flags: int) -> None:
        self._disk.sync(self._name)
        super().xSync(flags)


class _Layer(apsw.VFS):
    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        super().__init__("powercut", "")

    def xOpen(self, name: Any, flags: list[int]) -> _File:
        return _File(self._disk, "", name, flags)


class _Raw:
    """An apsw connection with what the store uses of sqlite3's."""

    def __init__(self, connection: apsw.Connection) -> None:
        self._connection = connection

    def execute(self, sql: str, values: tuple[Any, ...] = ()) -> Any:
        return self._connection.execute(sql, values)

    def executemany(self, sql: str, values: Any) -> Any:
        return self._connection.executemany(sql, values)

    @property
    def in_transaction(self) -> bool:
        return self._connection.in_transaction


def run(count: int, seed: int = 8) -> int:
    """`count` power cuts within deeds; returns how many deeds were acknowledged before them."""
    rng = random.Random(seed)
    acknowledged_in_all = 0
    with tempfile.TemporaryDirectory() as place:
        base = Path(place) / "base.fleet"
        build(base).store.close()
        for number in range(count):
            folder = Path(place) / f"cut{number}"
            folder.mkdir()
            acknowledged_in_all += _cut(base, folder, rng)
            shutil.rmtree(folder)
    return acknowledged_in_all


def _cut(base: Path, folder: Path, rng: random.Random) -> int:
    path = folder / "depot.fleet"
    shutil.copy(base, path)
    kestrel = Kestrel(Store.open(path))
    disk = Disk()
    disk.safe[path.name] = bytearray(path.read_bytes())
    layer = _Layer(disk)
    connection = apsw.Connection(str(path), vfs="powercut")
    for pragma in ("journal_mode = WAL", "synchronous = FULL", f"wal_autocheckpoint = {rng.choice((4, 20, 1000))}"):
        connection.execute(f"PRAGMA {pragma}").fetchall()

    @contextmanager
    def raw() -> Iterator[_Raw]:
        yield _Raw(connection)

    kestrel.store._raw = raw  # type: ignore[method-assign]
    disk.stop_at = disk.writes + rng.randrange(1, 160)
    acknowledged = 0
    try:
        for n in range(12):
            kestrel.check("P-1002", f"41.{n + 10}")
            acknowledged += 1
    except apsw.Error:
        pass
    left = disk.after_power_cut(rng)
    disk.stop_at = -1
    connection.close()
    layer.unregister()
    kestrel.store.close()
    again = folder / "again"
    again.mkdir()
    for name, data in left.items():
        if not name.endswith("-shm"):
            (again / name).write_bytes(data)
    store = Store.open(again / path.name)
    try:
        report = store.verify()
        assert report.good, report.faults
        with store.view() as view:
            kept = (
                sum(one.check.rested_v < 42 and str(one.check.rested_v)[3:] >= "10" for one in view.checks_of("P-1002"))
                - 1
            )
    finally:
        store.close()
    assert acknowledged <= kept <= acknowledged + 1, f"{acknowledged} acknowledged, {kept} kept"
    return acknowledged


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    acknowledged = run(count)
    print(
        f"{count} power cuts with unsynced writes dropped: {acknowledged} acknowledged checks, 0 lost, 0 half records"
    )


if __name__ == "__main__":
    main()
