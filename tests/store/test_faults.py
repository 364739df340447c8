"""Faults of disk and neighbour: said in one sentence, nothing of the deed saved, nothing overwritten."""

import os
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event

from fleetcare.domain.errors import FileRefused
from fleetcare.services import backup, places
from fleetcare.store.store import Store
from tests.kestrel import Kestrel


def head(kestrel: Kestrel) -> object:
    with kestrel.store.view() as view:
        return view.head()


@contextmanager
def with_pragma(store: Store, pragma: str) -> Iterator[None]:
    def prepare(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute(f"PRAGMA {pragma}")

    store._engine.dispose()
    event.listen(store._engine, "connect", prepare)
    yield
    event.remove(store._engine, "connect", prepare)
    store._engine.dispose()


def test_a_full_disk_is_said_and_nothing_of_the_deed_stays(kestrel: Kestrel) -> None:
    before = head(kestrel)
    raw = sqlite3.connect(kestrel.store.path)
    pages = raw.execute("PRAGMA page_count").fetchone()[0]
    raw.close()
    with with_pragma(kestrel.store, f"max_page_count = {pages}"), pytest.raises(FileRefused, match="disk is full"):
        for n in range(200):
            kestrel.check("P-1002", f"41.{n % 90:02d}")
    assert kestrel.store.verify().good
    kestrel.check("P-1002", "41.50")
    assert head(kestrel) != before and kestrel.store.verify().good


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are set as Unix does")
def test_a_disk_that_stops_taking_bytes_is_said(kestrel: Kestrel) -> None:
    import resource
    import signal

    before = head(kestrel)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    old = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
        with pytest.raises(FileRefused, match=r"Nothing of this deed was saved|nothing of this deed was saved"):
            kestrel.check("P-1002", "41.50")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, old)
    assert head(kestrel) == before and kestrel.store.verify().good


def test_a_file_that_another_program_locks_is_said(kestrel: Kestrel) -> None:
    other = sqlite3.connect(kestrel.store.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        with (
            with_pragma(kestrel.store, "busy_timeout = 50"),
            pytest.raises(FileRefused, match="locked by another program"),
        ):
            kestrel.check("P-1002", "41.50")
    finally:
        other.execute("ROLLBACK")
        other.close()
    kestrel.check("P-1002", "41.50")
    assert kestrel.store.verify().good


def test_a_missing_log_loses_nothing_that_was_checkpointed(kestrel: Kestrel, tmp_path: Path) -> None:
    path = kestrel.store.path
    kestrel.store.close()
    for end in ("-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
    store = Store.open(path)
    assert store.verify().good
    store.close()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be removed there")
def test_a_file_removed_while_open_is_said_at_the_next_backup(kestrel: Kestrel) -> None:
    os.unlink(kestrel.store.path)
    with pytest.raises(FileRefused, match=r"cannot be opened|There is no file|cannot be written"):
        backup.back_up(kestrel.store, kestrel.clock)


def test_a_backup_never_takes_the_place_of_another_file(kestrel: Kestrel, tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "kestrel-20261102-063000.fleet").write_text("mine")
    with pytest.raises(FileRefused, match="nothing was overwritten"):
        backup.back_up(kestrel.store, kestrel.clock, tmp_path / "there")
    assert (tmp_path / "there" / "kestrel-20261102-063000.fleet").read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("kind", "is_network"), [("cifs", True), ("nfs4", True), ("ext4", False), ("fuse.sshfs", True)]
)
def test_a_network_drive_is_recognised(tmp_path: Path, kind: str, is_network: bool) -> None:
    if sys.platform == "win32":
        pytest.skip("mounts are listed as Linux does")
    mounts = tmp_path / "mounts"
    mounts.write_text(f"dev / ext4 rw 0 0\nserver:/share {tmp_path} {kind} rw 0 0\n", "utf-8")
    assert places.network_kind(tmp_path / "a.fleet", mounts) == (kind if is_network else None)
