"""Alter a fleet file in every table and see that each alteration is found and named.

    python -m tests.campaigns.alterations 1000

One alteration at a time on a copy: a cell changed, one byte changed, a row deleted, a row added, two
rows' cells exchanged.  The guarding triggers are put back, so that they give nothing away.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from fleetcare.domain.wording import Message, say
from fleetcare.services import backup
from fleetcare.store import exchange, verifying
from tests.campaigns.depot import furnished, settle_wal

HOWS = ("cell", "byte", "delete", "add", "swap")
RULES = "triggers, indexes, views"
BESIDE = {"draft": (), "person_name": ("delete", "add"), "person_pin": ("delete", "add")}
"""Tables beside the fingerprint by design: who has a name or a PIN is checked, its words or hash are not."""


def tables(raw: sqlite3.Connection) -> list[str]:
    """All tables that hold rows and are verified."""
    names = [name for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    return [n for n in names if BESIDE.get(n, HOWS) and raw.execute(f"SELECT count(*) FROM {n}").fetchone()[0]]


def run(count: int, seed: int = 8) -> Counter[str]:
    """`count` alterations or some more, as many of each sort in each table as can be; AssertionError names one not found."""
    rng = random.Random(seed)
    tally: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as place:
        depot = furnished(Path(place))
        path = depot.store.path
        depot.store.close()
        settle_wal(path)
        base = sqlite3.connect(path)
        sorts = [(table, how) for table in tables(base) for how in BESIDE.get(table, HOWS)]
        sorts += [(RULES, how) for how in ("cell", "delete", "add")]
        assert verifying.verify(_copy(base)).good
        rng.shuffle(sorts)
        tries = 0
        while sum(tally.values()) < count:
            tries += 1
            assert tries < 3 * count + 200, "too few alterations changed anything"
            table, how = sorts[tries % len(sorts)]
            other = _copy(base)
            told = _rule(other, how, rng) if table == RULES else _alter(other, table, how, rng)
            if told is not None:
                report = verifying.verify(other)
                assert not report.good, f"not found: {told}"
                assert _named(report.faults[0], table), f"{told}: named only as {say(report.faults[0])}"
                tally[f"{table}: {how}"] += 1
            other.close()
        base.close()
    return tally


def _copy(base: sqlite3.Connection) -> sqlite3.Connection:
    other = sqlite3.connect(":memory:", isolation_level=None)
    base.backup(other)
    return other


def _named(fault: Message, table: str) -> bool:
    """The record's number, the subtree, the file or the table itself is in the sentence."""
    if table in ("record", "subtree", "tree"):
        return any(name in ("position", "first", "stored", "table") for name, _ in fault.values)
    if table == RULES:
        return fault.key == "verify.schema"
    if table == "source_part":
        return fault.key == "verify.source"
    if table == "photo":
        return fault.key == "verify.photo"
    return dict(fault.values).get("table") is not None or fault.key == "verify.source"


def _alter(raw: sqlite3.Connection, table: str, how: str, rng: random.Random) -> str | None:
    """Alter one thing; None where that alteration is impossible or changes nothing."""
    triggers = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        raw.execute(f"DROP TRIGGER {name}")
    before = sorted(map(repr, raw.execute(f"SELECT * FROM {table}").fetchall()))
    try:
        told = _one(raw, table, how, rng)
    except sqlite3.IntegrityError:
        return None
    for _, sql in triggers:
        raw.execute(sql)
    after = sorted(map(repr, raw.execute(f"SELECT * FROM {table}").fetchall()))
    return told if before != after else None


def _rule(raw: sqlite3.Connection, how: str, rng: random.Random) -> str:
    """A trigger or index altered or taken away, a trigger or view added."""
    kind, name, sql = rng.choice(
        raw.execute("SELECT type, name, sql FROM sqlite_master WHERE type IN ('trigger', 'index') AND sql IS NOT NULL")
        .fetchall()
    )  # fmt: skip
    if how == "add":
        more = rng.choice(
            (
                "CREATE TRIGGER quiet AFTER INSERT ON hold BEGIN DELETE FROM hold WHERE hold_id = NEW.hold_id; END",
                "CREATE VIEW hold_all AS SELECT * FROM hold",
            )
        )
        raw.execute(more)
        return more
    raw.execute(f"DROP {kind} {name}")
    if how == "cell":
        raw.execute(_weaker(sql))
    return f"{how} of {kind} {name}"


def _weaker(sql: str) -> str:
    """The same rule, except that it never applies; the same index, except that its order is another."""
    if "TRIGGER" in sql:
        return sql.replace("BEGIN SELECT raise", "BEGIN SELECT 1 WHERE 0 AND raise")
    return sql.rstrip(" )") + " DESC)" if " WHERE " not in sql else sql + " AND 1 = 1"


def _one(raw: sqlite3.Connection, table: str, how: str, rng: random.Random) -> str:
    columns = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
    rows = raw.execute(f"SELECT * FROM {table}").fetchall()
    row = rng.choice(rows)
    where = " AND ".join(f"{c} IS ?" for c in columns)
    column = rng.randrange(len(columns))
    name = columns[column]
    if how == "delete":
        raw.execute(f"DELETE FROM {table} WHERE {where}", row)
        return f"{table}: deleted {row!r}"
    if how == "add":
        fresh = tuple(_changed(value, rng) if rng.random() < 0.7 or i == 0 else value for i, value in enumerate(row))
        if table == "record":
            fresh = (len(rows) + 1, *fresh[1:])
        raw.execute(f"INSERT INTO {table} VALUES ({','.join('?' * len(columns))})", fresh)
        return f"{table}: added {fresh!r}"
    if how == "swap":
        other = rng.choice(rows)
        raw.execute(f"UPDATE {table} SET {name} = ? WHERE {where}", (other[column], *row))
        mixed = (*row[:column], other[column], *row[column + 1 :])
        clash = (*other[:column], row[column], *other[column + 1 :])
        if mixed != other:
            raw.execute(f"UPDATE {table} SET {name} = ? WHERE {where}", (row[column], *other))
        return f"{table}.{name}: exchanged {row!r} {other!r} {clash!r}"
    value = _changed(row[column], rng, one_byte=how == "byte")
    raw.execute(f"UPDATE {table} SET {name} = ? WHERE {where}", (value, *row))
    return f"{table}.{name}: {row[column]!r} became {value!r}"


def _changed(value: Any, rng: random.Random, *, one_byte: bool = False) -> Any:
    if value is None:
        return 7
    if isinstance(value, int):
        return value ^ (1 << rng.randrange(16)) if one_byte else value + rng.choice((-1, 1, 1000))
    data = value if isinstance(value, bytes) else value.encode()
    if not data:
        return value + b"x" if isinstance(value, bytes) else "x"
    at = rng.randrange(len(data))
    if isinstance(value, bytes):
        return data[:at] + bytes([data[at] ^ (1 << rng.randrange(8))]) + data[at + 1 :]
    return value[:at] + ("y" if value[at : at + 1] == "x" else "x") + value[at + 1 :]


def forged() -> str:
    """A forgery with every hash made again: good in itself, found out by a printed fingerprint."""
    with tempfile.TemporaryDirectory() as place:
        depot = furnished(Path(place))
        with depot.store.view() as view:
            printed = view.head().short
            lines = list(exchange.record_lines(view))
            names = view.person_names()
            photos = [view.photo(digest)[1] for digest, _ in exchange.photo_digests(view)]  # type: ignore[index]
            pins = exchange.pin_hashes(view)
            sources = [
                (digest, [b for (b,) in view._raw.execute("SELECT bytes FROM source_part WHERE sha256 = ?", (digest,))])
                for digest in exchange.source_digests(view)
            ]
        depot.store.close()
        at = next(n for n, line in enumerate(lines) if b'"rested_v":"41.60"' in line)
        lines[at] = lines[at].replace(b'"rested_v":"41.60"', b'"rested_v":"41.90"')
        store = exchange.rebuild_from(
            Path(place) / "forged.fleet", lines, exchange.Beside(names, sources, photos, pins)
        )
        assert store.verify().good
        store.close()
        looked = backup.look(Path(place) / "forged.fleet", printed)
        assert looked.examined.good and not looked.may_restore and looked.proof is not None
        return say(looked.proof)


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    tally = run(count)
    print(f"{sum(tally.values())} alterations, all found and named")
    for table in sorted({name.split(":")[0] for name in tally}):
        print(
            f"  {table}: " + ", ".join(f"{tally[f'{table}: {how}']} {how}" for how in HOWS if tally[f"{table}: {how}"])
        )
    print("forgery with all hashes made again:", forged())


if __name__ == "__main__":
    main()
