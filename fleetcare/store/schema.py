"""The tables of a fleet file, version 1, and what marks the file as ours.

`record`, `subtree` and `tree` are the record itself; `source_part` keeps imported files byte for byte
under the SHA-256 that a record names; `person_name` stands outside the fingerprint
so that a name can be withheld; `draft` holds what was typed and not saved.  Every other table is
derived from the records and can be rebuilt.
"""

from __future__ import annotations

APPLICATION_ID = 0x464C4331
"""SQLite application id of a fleet file ("FLC1")."""

VERSION = 1
"""Version of the tables, kept by Alembic, and in user_version until a record asks for more."""

KINDS_SINCE = {"misfit_seen": 2}
"""Kinds of record that programs of file version 1 do not know, each with the file version from which it is known.  The first
record of such a kind raises user_version, so that an older program refuses the file; the tables stay as they are."""

FIELDS_SINCE: dict[str, int] = {}
"""Fields added later that programs of older file versions do not know, as "Class.field", each with the file version from which it
is known.  The first record in which such a field is written, that is, differs from its default, raises user_version too."""

KNOWN_VERSION = max(VERSION, *KINDS_SINCE.values(), *FIELDS_SINCE.values())
"""The newest file version that this program can read."""

DERIVED = (
    "thing",
    "voltage_check",
    "latest_check",
    "look_over",
    "trip",
    "hold",
    "placement",
    "subject_event",
    "import_batch",
    "import_row",
    "old_reading",
    "parked_row",
)

BESIDE = (
    "CREATE TABLE IF NOT EXISTS photo (sha256 TEXT PRIMARY KEY, media TEXT NOT NULL, bytes BLOB NOT NULL)",
    "CREATE TABLE IF NOT EXISTS person_pin (person TEXT PRIMARY KEY, hash TEXT NOT NULL)",
    "CREATE INDEX IF NOT EXISTS placement_left ON placement (vehicle, to_position)",
    "CREATE TABLE IF NOT EXISTS last_seen (person TEXT PRIMARY KEY, position INTEGER NOT NULL, seen_us INTEGER NOT NULL)",
)
"""Tables beside the records, and an index, that a version 1 file may lack; made when the file is opened.

A picture's digest is in a record, so a changed picture shows; a PIN's hash is kept nowhere else; what a person had
seen of the board when they last said so is a mark of theirs, and no fact of the fleet.
"""

V001 = (
    """CREATE TABLE record (
        position INTEGER PRIMARY KEY,
        record_id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        entered_us INTEGER NOT NULL,
        bytes BLOB NOT NULL,
        leaf BLOB NOT NULL)""",
    "CREATE INDEX record_entered ON record (entered_us)",
    "CREATE TABLE tree (one INTEGER PRIMARY KEY CHECK (one = 1), size INTEGER NOT NULL, edge BLOB NOT NULL)",
    "INSERT INTO tree VALUES (1, 0, x'')",
    "CREATE TABLE subtree (number INTEGER PRIMARY KEY, hash BLOB NOT NULL)",
    "CREATE TABLE file_info (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE person_name (code TEXT PRIMARY KEY, name TEXT NOT NULL)",
    """CREATE TABLE draft (
        draft_id TEXT PRIMARY KEY, person TEXT NOT NULL, station TEXT NOT NULL,
        subject TEXT NOT NULL, saved_us INTEGER NOT NULL, body TEXT NOT NULL)""",
    """CREATE TABLE thing (
        class TEXT NOT NULL, code TEXT NOT NULL, from_position INTEGER NOT NULL,
        to_position INTEGER, body TEXT NOT NULL,
        PRIMARY KEY (class, code, from_position)) WITHOUT ROWID""",
    "CREATE INDEX thing_changed ON thing (class, from_position)",
    "CREATE INDEX thing_current ON thing (class, code) WHERE to_position IS NULL",
    """CREATE TABLE voltage_check (
        position INTEGER PRIMARY KEY, record_id TEXT NOT NULL, pack TEXT NOT NULL, vehicle TEXT,
        done_us INTEGER NOT NULL, kind TEXT NOT NULL, rest TEXT NOT NULL, meter TEXT NOT NULL,
        rested_v TEXT NOT NULL, loaded_v TEXT, load_a TEXT, bench_c TEXT, resistance_ohm TEXT,
        valid INTEGER NOT NULL, level TEXT NOT NULL, corrects TEXT, batch TEXT NOT NULL,
        void_position INTEGER, void_reason TEXT NOT NULL DEFAULT '')""",
    "CREATE INDEX voltage_check_pack ON voltage_check (pack, done_us, position)",
    "CREATE UNIQUE INDEX voltage_check_record ON voltage_check (record_id)",
    "CREATE INDEX voltage_check_batch ON voltage_check (batch) WHERE batch <> ''",
    """CREATE TABLE latest_check (
        pack TEXT PRIMARY KEY, position INTEGER NOT NULL, done_us INTEGER NOT NULL, level TEXT NOT NULL,
        rested_v TEXT NOT NULL, resistance_ohm TEXT, valid_us INTEGER, valid_rested_v TEXT,
        pass_us INTEGER) WITHOUT ROWID""",
    """CREATE TABLE look_over (
        position INTEGER PRIMARY KEY, record_id TEXT NOT NULL, pack TEXT NOT NULL, vehicle TEXT,
        done_us INTEGER NOT NULL, found TEXT NOT NULL)""",
    "CREATE INDEX look_over_pack ON look_over (pack, done_us)",
    """CREATE TABLE trip (
        position INTEGER PRIMARY KEY, record_id TEXT NOT NULL, pack TEXT NOT NULL, vehicle TEXT,
        done_us INTEGER NOT NULL, cause TEXT NOT NULL, explained INTEGER NOT NULL)""",
    "CREATE INDEX trip_done ON trip (done_us)",
    "CREATE INDEX trip_pack ON trip (pack, done_us)",
    """CREATE TABLE hold (
        hold_id TEXT PRIMARY KEY, subject_class TEXT NOT NULL, subject TEXT NOT NULL,
        hold_class TEXT NOT NULL, from_position INTEGER NOT NULL, to_position INTEGER)""",
    "CREATE INDEX hold_subject ON hold (subject_class, subject)",
    "CREATE INDEX hold_open ON hold (from_position) WHERE to_position IS NULL",
    """CREATE TABLE placement (
        pack TEXT NOT NULL, from_position INTEGER NOT NULL, to_position INTEGER, vehicle TEXT,
        bay INTEGER NOT NULL, shelf TEXT NOT NULL, since_us INTEGER NOT NULL, known INTEGER NOT NULL,
        PRIMARY KEY (pack, from_position)) WITHOUT ROWID""",
    "CREATE INDEX placement_open ON placement (vehicle, bay) WHERE to_position IS NULL",
    """CREATE TABLE subject_event (
        subject_class TEXT NOT NULL, subject TEXT NOT NULL, position INTEGER NOT NULL,
        PRIMARY KEY (subject_class, subject, position)) WITHOUT ROWID""",
    "CREATE INDEX subject_event_position ON subject_event (position)",
    """CREATE TABLE import_batch (
        record_id TEXT PRIMARY KEY, position INTEGER NOT NULL, sha256 TEXT NOT NULL, void_position INTEGER)""",
    """CREATE TABLE import_row (
        identity BLOB NOT NULL, position INTEGER NOT NULL, PRIMARY KEY (identity, position)) WITHOUT ROWID""",
    """CREATE TABLE IF NOT EXISTS old_reading (
        position INTEGER PRIMARY KEY, record_id TEXT NOT NULL, pack TEXT NOT NULL, batch TEXT NOT NULL,
        void_position INTEGER)""",
    "CREATE INDEX IF NOT EXISTS old_reading_batch ON old_reading (batch)",
    """CREATE TABLE IF NOT EXISTS parked_row (
        position INTEGER PRIMARY KEY, record_id TEXT NOT NULL, written TEXT NOT NULL, batch TEXT NOT NULL,
        end_position INTEGER)""",
    "CREATE INDEX IF NOT EXISTS parked_row_written ON parked_row (written) WHERE end_position IS NULL",
    """CREATE TABLE IF NOT EXISTS source_part (
        sha256 TEXT NOT NULL, number INTEGER NOT NULL, bytes BLOB NOT NULL,
        PRIMARY KEY (sha256, number)) WITHOUT ROWID""",
    """CREATE TRIGGER record_in_order BEFORE INSERT ON record
        WHEN NEW.position <> (SELECT coalesce(max(position), 0) + 1 FROM record)
        BEGIN SELECT raise(ABORT, 'records are appended in order'); END""",
    """CREATE TRIGGER record_no_update BEFORE UPDATE ON record
        BEGIN SELECT raise(ABORT, 'a record is never changed'); END""",
    """CREATE TRIGGER record_no_delete BEFORE DELETE ON record
        BEGIN SELECT raise(ABORT, 'a record is never removed'); END""",
    """CREATE TRIGGER subtree_no_update BEFORE UPDATE ON subtree
        BEGIN SELECT raise(ABORT, 'a complete subtree is never changed'); END""",
    """CREATE TRIGGER subtree_no_delete BEFORE DELETE ON subtree
        BEGIN SELECT raise(ABORT, 'a complete subtree is never removed'); END""",
    """CREATE TRIGGER tree_grows BEFORE UPDATE ON tree WHEN NEW.size < OLD.size
        BEGIN SELECT raise(ABORT, 'the record only grows'); END""",
    """CREATE TRIGGER tree_no_delete BEFORE DELETE ON tree
        BEGIN SELECT raise(ABORT, 'the record only grows'); END""",
    *BESIDE,
)
"""The first version of the tables, frozen: later versions are migrations on top of it."""

ADDED = tuple(statement for statement in V001 if " IF NOT EXISTS " in statement)
"""Additions to version 1: a file made before them gets them when it is opened."""
