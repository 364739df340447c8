"""Open a fleet file in this order: identify, refuse, copy, migrate, open.  Nothing is deleted."""

from __future__ import annotations

import datetime as dt
import os
import sqlite3
from pathlib import Path
from typing import Any

from fleetcare.domain.errors import FileRefused
from fleetcare.store.acknowledged import acknowledged, forget
from fleetcare.store.derive import derive
from fleetcare.store.log_damage import deeds_lost
from fleetcare.store.rescue import set_aside
from fleetcare.store.schema import ADDED, APPLICATION_ID, DERIVED, KNOWN_VERSION, V001, VERSION

_MIGRATIONS = Path(__file__).parent / "migrations"


def create(path: Path) -> None:
    """An empty fleet file of this program's version; FileRefused when something stands there."""
    if path.exists():
        raise FileRefused("file.exists", path=str(path))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        forget(path)
        set_aside(path)
        raw = sqlite3.connect(path, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise FileRefused("file.not_writable", path=str(path), why=str(error)) from error
    try:
        raw.execute("PRAGMA journal_mode = WAL")
        raw.execute("BEGIN")
        for statement in V001:
            raw.execute(statement)
        raw.execute("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)")
        raw.execute("INSERT INTO alembic_version VALUES (?)", (revision(VERSION),))
        raw.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        raw.execute(f"PRAGMA user_version = {VERSION}")
        raw.execute("COMMIT")
    except sqlite3.Error as error:
        raise FileRefused("file.not_writable", path=str(path), why=str(error)) from error
    finally:
        raw.close()


def revision(version: int) -> str:
    """Alembic's name of a file version."""
    return f"v{version:03d}"


def prepare(path: Path, migrations: Path = _MIGRATIONS, newest: int = VERSION) -> Path | None:
    """Make `path` fit to open; returns the copy that was made before a migration, or None."""
    version = identify(path)
    known = max(newest, KNOWN_VERSION)
    if version > known:
        raise FileRefused("file.newer", path=str(path), file_version=version, program_version=known)
    if version >= newest:
        _add_missing(path)
        return None
    copy = _copy_before(path, version)
    _migrate(path, migrations, newest)
    return copy


def _add_missing(path: Path) -> None:
    """Make the tables that version 1 gained after this file was made; a whole file is not written to."""
    raw = sqlite3.connect(path, timeout=15.0, isolation_level=None)
    try:
        names = {name for (name,) in raw.execute("SELECT name FROM sqlite_master")}
        missing = [statement for statement in ADDED if statement.split(" IF NOT EXISTS ")[1].split()[0] not in names]
        if missing:
            raw.execute("BEGIN IMMEDIATE")
            for statement in missing:
                raw.execute(statement)
            if raw.execute("SELECT 1 FROM import_row LIMIT 1").fetchone():
                rebuild(raw)
            raw.execute("COMMIT")
    except sqlite3.DatabaseError as error:
        raise refusal_of(error, path) or FileRefused("file.damaged", path=str(path), why=str(error)) from error
    finally:
        raw.close()


def identify(path: Path) -> int:
    """The version of a fleet file; FileRefused for one that is missing, foreign, damaged or read-only."""
    if not path.exists():
        raise FileRefused("file.missing", path=str(path))
    if path.is_dir():
        raise FileRefused("file.is_folder", path=str(path))
    if not os.access(path, os.R_OK):
        raise FileRefused("file.unreadable", path=str(path), why="no permission to read")
    if not os.access(path, os.W_OK) or not os.access(path.parent, os.W_OK):
        raise FileRefused("file.read_only", path=str(path))
    with path.open("rb") as stream:
        start = stream.read(100)
    if start[:16] != b"SQLite format 3\x00":
        raise FileRefused("file.foreign", path=str(path))
    pages = int.from_bytes(start[28:32], "big") * (int.from_bytes(start[16:18], "big") or 65536)
    real = path.resolve()  # the log lies beside the file itself, not beside a link to it
    wal = real.with_name(real.name + "-wal")
    if pages > path.stat().st_size and not (wal.exists() and wal.stat().st_size):
        raise FileRefused("file.truncated", path=str(path), size=path.stat().st_size, need=pages)
    if int.from_bytes(start[68:72], "big") != APPLICATION_ID:
        raise FileRefused("file.foreign", path=str(path))
    try:
        lost = deeds_lost(real)
        if lost:
            raise FileRefused("file.log_damaged", path=str(path), deeds=lost)
        _all_acknowledged(path)
        raw = sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True)
        try:
            version: int = raw.execute("PRAGMA user_version").fetchone()[0]
            raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        finally:
            raw.close()
    except sqlite3.DatabaseError as error:
        raise refusal_of(error, path) or FileRefused("file.damaged", path=str(path), why=str(error)) from error
    return version


def _all_acknowledged(path: Path) -> None:
    """FileRefused when the file holds fewer records than were acknowledged at this place; nothing is changed."""
    raw = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        known = raw.execute("SELECT value FROM file_info WHERE name = 'fleet_id'").fetchone()
        saved = acknowledged(path, known[0] if known else None)  # read before the size, which may grow meanwhile
        here = raw.execute("SELECT max(size) FROM tree").fetchone()[0] or 0
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY:
            raise
        return  # no such table: this file is refused for what it is
    finally:
        raw.close()
    if here < saved:
        raise FileRefused("file.deeds_missing", path=str(path), here=here, saved=saved, missing=saved - here)


def _copy_before(path: Path, version: int) -> Path:
    """A consistent copy beside the file, made by SQLite's own backup call."""
    stamp = dt.datetime.now().strftime("%Y%m%d-%H%M%S")
    copy = path.with_name(f"{path.stem}-before-{revision(version)}-{stamp}{path.suffix}")
    source, target = sqlite3.connect(path), sqlite3.connect(copy)
    try:
        source.backup(target)
    finally:
        source.close()
        target.close()
    return copy


def _migrate(path: Path, migrations: Path, newest: int) -> None:
    """Run Alembic's steps in one transaction with foreign keys off; all or nothing."""
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory
    from sqlalchemy import create_engine, event

    config = Config()
    config.set_main_option("script_location", str(migrations))
    script = ScriptDirectory.from_config(config)
    engine = create_engine(f"sqlite:///{path}", connect_args={"isolation_level": None})

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    def steps(rev: Any, _context: Any) -> Any:
        return script._upgrade_revs(revision(newest), rev)

    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA foreign_keys = OFF")
            connection.rollback()
            with connection.begin(), EnvironmentContext(config, script, fn=steps) as context:
                context.configure(connection=connection, transactional_ddl=False)
                context.run_migrations()
                rows = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                if rows:
                    raise FileRefused("file.damaged", path=str(path), why=f"{len(rows)} broken references")
                connection.exec_driver_sql(f"PRAGMA user_version = {newest}")
    finally:
        engine.dispose()


def rebuild(raw: Any) -> None:
    """Empty the derived tables of an open write transaction and derive them from the records."""
    from fleetcare.domain.records import decode

    for table in DERIVED:
        raw.execute(f"DELETE FROM {table}")
    for position, data in raw.execute("SELECT position, bytes FROM record ORDER BY position"):
        derive(raw, position, decode(data))


_SENTENCES = (
    ("readonly", "file.read_only"),
    ("database or disk is full", "file.disk_full"),
    ("database is locked", "file.locked"),
    ("malformed", "file.damaged"),
    ("not a database", "file.foreign"),
    ("unable to open", "file.unreadable"),
    ("disk i/o error", "file.disk_error"),
)


def refusal_of(error: BaseException, path: Path) -> FileRefused | None:
    """The sentence for a fault of file or disk; None when the error is not one."""
    if not isinstance(error, sqlite3.DatabaseError):
        return None
    text = str(error).lower()
    for part, key in _SENTENCES:
        if part in text:
            return FileRefused(key, path=str(path), why=str(error))
    return None
