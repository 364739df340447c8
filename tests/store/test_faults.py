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
from fleetcare.store.acknowledged import END, acknowledged, beside
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


def crashed(kestrel: Kestrel, folder: Path) -> Path:
    """A copy of everything a killed program leaves behind: file, log, and what was acknowledged."""
    folder.mkdir()
    for end in ("", "-wal", END):
        name = kestrel.store.path.name + end
        (folder / name).write_bytes(kestrel.store.path.with_name(name).read_bytes())
    return folder / kestrel.store.path.name


def states(path: Path) -> dict[str, bytes]:
    found = {one.name: one.read_bytes() for one in path.parent.iterdir() if not one.name.endswith("-shm")}
    return {name: content for name, content in found.items() if content}  # an empty log is none


def test_a_flipped_bit_in_the_very_last_deed_of_a_log_is_told_from_a_deed_cut_off(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    kestrel.check("P-1002", "41.50")
    with kestrel.store.view() as view:
        last = view.position
    path = crashed(kestrel, tmp_path / "there")
    log = path.with_name(path.name + "-wal")
    data = bytearray(log.read_bytes())
    data[-700] ^= 4
    log.write_bytes(data)
    before = states(path)
    with pytest.raises(FileRefused, match=f"{last} were saved here; missing at the end: [12]") as refused:
        Store.open(path)
    assert states(path) == before and refused.value.message.key == "file.deeds_missing"
    # it may be gone on with, knowingly
    restored = path.with_name("restored.fleet")
    backup.restore(path, restored)
    kept = backup.take_place(restored, path, kestrel.clock)
    again = Store.open(path)
    assert again.verify().good and kept.with_name(kept.name + END).exists()
    again.close()
    beside(path).unlink(missing_ok=True)
    for name, content in before.items():
        (path.parent / name).write_bytes(content)
    beside(path).unlink()  # nobody knows any more, and SQLite goes on without the last deed
    log.write_bytes(data)
    Store.open(path).close()


def test_a_log_that_was_removed_after_a_crash_is_missed(kestrel: Kestrel, tmp_path: Path) -> None:
    for number in range(3):
        kestrel.check("P-1002", f"41.5{number}")
    path = crashed(kestrel, tmp_path / "there")
    log = path.with_name(path.name + "-wal")
    log.unlink()
    before = states(path)
    with pytest.raises(FileRefused, match=r"were saved here; missing at the end: \d+"):
        Store.open(path)
    assert states(path) == before


def test_an_older_copy_put_in_place_by_hand_is_said(kestrel: Kestrel, tmp_path: Path) -> None:
    old = backup.back_up(kestrel.store, kestrel.clock, tmp_path / "b").path
    kestrel.check("P-1002", "41.50")
    path = kestrel.store.path
    kestrel.store.close()
    path.write_bytes(old.read_bytes())
    with pytest.raises(FileRefused, match="or an older copy was put in its place"):
        Store.open(path)


@pytest.mark.parametrize("spoil", ["torn", "flipped", "other fleet", "short", "nothing"])
def test_what_was_acknowledged_is_never_believed_to_be_more_than_it_was(kestrel: Kestrel, spoil: str) -> None:
    kestrel.check("P-1002", "41.50")
    kestrel.check("P-1002", "41.51")
    path, fleet = kestrel.store.path, kestrel.store.fleet_id
    with kestrel.store.view() as view:
        last = view.position
    kestrel.store.close()
    kept = beside(path)
    data = kept.read_bytes()
    assert acknowledged(path, fleet) == last
    if spoil == "torn":
        at = last % 2 * 128
        kept.write_bytes(data[: at + 60] + b"\0" * 68 + data[at + 128 :])
    elif spoil == "flipped":
        spoiled = bytearray(data)
        spoiled[last % 2 * 128 + 52] ^= 1
        kept.write_bytes(spoiled)
    elif spoil == "short":
        kept.write_bytes(data[:100])
    elif spoil == "nothing":
        kept.write_bytes(b"")
    assert acknowledged(path, "f" * 32 if spoil == "other fleet" else fleet) <= last
    store = Store.open(path)
    made = Kestrel(store)
    made.check("P-1002", "41.52")
    with store.view() as view:
        assert acknowledged(path, fleet) == view.position
    store.close()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be removed there")
@pytest.mark.parametrize("gone", [("",), ("-wal",), ("", "-wal", "-shm")])
def test_a_file_removed_while_open_is_said_at_once_and_what_it_held_is_put_aside(
    kestrel: Kestrel, gone: tuple[str, ...]
) -> None:
    kestrel.check("P-1002", "41.50")
    before = head(kestrel)
    path = kestrel.store.path
    for end in gone:
        path.with_name(path.name + end).unlink()
    for _ in range(2):
        with pytest.raises(FileRefused, match="is no longer there: it was removed or renamed while it was open"):
            kestrel.check("P-1002", "41.51")
    (copy,) = path.parent.glob("kestrel-rescued-*.fleet")
    assert ("" in gone) != path.exists(), "nothing is made in the place of a file that is gone"
    with pytest.raises(FileRefused, match=r"cannot be opened|There is no file|cannot be written|no longer there"):
        if "" in gone:
            backup.back_up(kestrel.store, kestrel.clock)
        else:
            raise FileRefused("file.gone", path=str(path))
    kestrel.store.close()
    found = backup.look(copy)
    assert found.examined.good and found.examined.head == before
    again = Kestrel(Store.open(copy))
    again.check("P-1002", "41.51")
    again.store.close()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be exchanged there")
def test_another_file_put_in_the_place_of_an_open_one_is_not_written_to(kestrel: Kestrel, tmp_path: Path) -> None:
    other = backup.back_up(kestrel.store, kestrel.clock, tmp_path / "b").path
    before = other.read_bytes()
    os.replace(other, kestrel.store.path)
    with pytest.raises(FileRefused, match="Another file was put in the place of"):
        kestrel.check("P-1002", "41.50")
    assert kestrel.store.path.read_bytes() == before


@pytest.mark.skipif(sys.platform == "win32", reason="making a link takes a special right there")
def test_a_fleet_file_opened_through_a_link_takes_deeds_and_misses_a_lost_log(kestrel: Kestrel, tmp_path: Path) -> None:
    path, link = kestrel.store.path, tmp_path / "desk" / "fleet.fleet"
    kestrel.store.close()
    link.parent.mkdir()
    link.symlink_to(path)
    through = Kestrel(Store.open(link))
    through.check("P-1002", "41.50")
    assert beside(link) == beside(path) and beside(path).exists() and not list(link.parent.glob("*-saved"))
    there = tmp_path / "crashed"
    there.mkdir()
    for end in ("", END):
        (there / f"{path.name}{end}").write_bytes(path.with_name(path.name + end).read_bytes())
    through.store.close()
    again = tmp_path / "desk" / "other.fleet"
    again.symlink_to(there / path.name)
    with pytest.raises(FileRefused, match="missing at the end"):
        Store.open(again)


def test_a_file_that_keeps_no_log_takes_deeds(kestrel: Kestrel) -> None:
    """SQLite keeps the rollback journal where it can share no memory, as on some network drives."""
    with with_pragma(kestrel.store, "journal_mode = DELETE"):
        kestrel.check("P-1002", "41.50")
    assert kestrel.store.verify().good


def test_a_log_left_by_a_file_that_is_gone_is_not_read_into_the_restored_one(kestrel: Kestrel, tmp_path: Path) -> None:
    copy = backup.back_up(kestrel.store, kestrel.clock, tmp_path / "b").path
    with kestrel.store.view() as view:
        saved = view.head()
    kestrel.check("P-1002", "41.50")
    path = crashed(kestrel, tmp_path / "there")
    path.unlink()
    backup.restore(copy, path)
    store = Store.open(path)
    with store.view() as view:
        assert view.head() == saved
    assert store.verify().good
    store.close()
    assert list(path.parent.glob("*-left-*.fleet-wal"))


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
