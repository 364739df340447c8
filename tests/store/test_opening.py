"""Opening: identify, refuse, copy, migrate, open; nothing is changed or deleted on the way."""

import shutil
import sqlite3
from hashlib import sha256
from pathlib import Path

import pytest

from fleetcare.domain.errors import FileRefused
from fleetcare.store import opening
from fleetcare.store.schema import APPLICATION_ID, KNOWN_VERSION, V001, VERSION
from fleetcare.store.store import Store
from tests.campaigns.depot import PNG, with_picture_and_pin
from tests.kestrel import MONDAY, Kestrel


@pytest.fixture
def closed(kestrel: Kestrel, tmp_path: Path) -> Path:
    kestrel.store.close()
    return kestrel.store.path


def refusal(path: Path) -> str:
    with pytest.raises(FileRefused) as refused:
        Store.open(path)
    return str(refused.value)


def test_a_file_from_a_newer_program_is_refused_with_both_versions(closed: Path) -> None:
    with sqlite3.connect(closed) as other:
        other.execute(f"PRAGMA user_version = {VERSION + 41}")
    before = closed.read_bytes()
    said = refusal(closed)
    assert str(VERSION + 41) in said and f"version {KNOWN_VERSION}" in said
    assert closed.read_bytes() == before


def test_a_database_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE x (a)")
    assert "not a fleet file" in refusal(path)


@pytest.mark.parametrize("content", [b"", b"hello", b"SQLite format 3\x00", b"\x00" * 5000])
def test_what_is_no_database_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "no.fleet"
    path.write_bytes(content)
    before = path.read_bytes()
    assert refusal(path)
    assert path.read_bytes() == before


def test_a_file_cut_short_is_refused_and_left_as_it_is(closed: Path) -> None:
    data = closed.read_bytes()
    closed.write_bytes(data[: len(data) // 2])
    assert "cut short" in refusal(closed)
    assert closed.stat().st_size == len(data) // 2


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    assert "no file" in refusal(tmp_path / "none.fleet")
    assert "folder" in refusal(tmp_path)


def test_a_read_only_file_is_refused(closed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # As root every file may be written, so the answer of the operating system is stood in for.
    monkeypatch.setattr(opening.os, "access", lambda _path, mode: mode != opening.os.W_OK)
    assert "read-only" in refusal(closed)


def test_a_new_file_never_overwrites_another(closed: Path) -> None:
    with pytest.raises(FileRefused, match="nothing was overwritten"):
        Store.create(closed, fleet_name="x", now=MONDAY)


MIGRATION = """
from alembic import op
revision = "v002"
down_revision = "v001"
def upgrade():
    op.execute("CREATE TABLE later (a INTEGER)")
    {more}
"""


def steps(tmp_path: Path, more: str = "") -> Path:
    folder = tmp_path / "migrations"
    shutil.copytree(opening._MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "versions" / "v002_later.py").write_text(MIGRATION.format(more=more))
    return folder


def test_an_older_file_is_copied_before_it_is_migrated(closed: Path, tmp_path: Path) -> None:
    with sqlite3.connect(closed) as other:
        heads = other.execute("SELECT size, edge FROM tree").fetchall()
    copy = opening.prepare(closed, steps(tmp_path), VERSION + 1)
    assert copy is not None
    with sqlite3.connect(copy) as old, sqlite3.connect(closed) as new:
        assert old.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert old.execute("SELECT size, edge FROM tree").fetchall() == heads
        assert new.execute("PRAGMA user_version").fetchone() == (VERSION + 1,)
        assert new.execute("SELECT count(*) FROM later").fetchone() == (0,)
        assert new.execute("SELECT size, edge FROM tree").fetchall() == heads


def test_a_migration_that_fails_half_way_leaves_the_file_as_it_was(closed: Path, tmp_path: Path) -> None:
    with pytest.raises(Exception, match="no such table: nowhere"):
        opening.prepare(closed, steps(tmp_path, 'op.execute("INSERT INTO nowhere VALUES (1)")'), VERSION + 1)
    with sqlite3.connect(closed) as left:
        assert left.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert not left.execute("SELECT 1 FROM sqlite_master WHERE name = 'later'").fetchall()


def test_the_migrations_make_the_same_tables_as_a_new_file(tmp_path: Path) -> None:
    made, migrated = tmp_path / "made.fleet", tmp_path / "migrated.fleet"
    opening.create(made)
    with sqlite3.connect(migrated) as empty:
        empty.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        empty.execute("CREATE TABLE unused (a)")
    opening.prepare(migrated)
    schemas = []
    for path in (made, migrated):
        with sqlite3.connect(path) as one:
            rows = one.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'").fetchall()
        schemas.append({n: " ".join(s.split()) for n, s in rows if s and n not in ("unused", "alembic_version")})
    assert schemas[0] == schemas[1]
    assert len(V001) > 20


def test_a_file_of_this_version_that_lacks_the_newer_tables_gets_them_and_keeps_everything(tmp_path: Path) -> None:
    from tests.kestrel import build

    made = build(tmp_path / "old.fleet")
    made.store.close()
    raw = sqlite3.connect(tmp_path / "old.fleet")
    for statement in ("DROP TABLE photo", "DROP TABLE person_pin", "DROP INDEX placement_left"):
        raw.execute(statement)
    raw.commit()
    raw.close()
    store = Store.open(tmp_path / "old.fleet")
    with_picture_and_pin(Kestrel(store))
    with store.view() as view:
        assert view.pin_hash("HALE") and view.photo(sha256(PNG).hexdigest()) == ("image/png", PNG)
    assert store.verify().good
    store.close()
