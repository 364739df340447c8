"""The fleet file: append-only, durable, rebuildable, readable as of any position."""

import datetime as dt
import multiprocessing as mp
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from fleetcare.domain.checks import FoundIn
from fleetcare.domain.packs import Pack
from fleetcare.domain.records import ThingPut
from fleetcare.services import record
from fleetcare.store.store import Store
from tests.kestrel import MONDAY, Kestrel

COMMON = {"done_at": MONDAY, "entered_at": MONDAY, "by": "DUNN", "level": "", "station": "T", "source": "typed"}


def raw(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, isolation_level=None)


def put(store: Store, code: str) -> int:
    with store.transaction() as tx:
        return tx.append("thing", ThingPut("pack", Pack(code, "K36-A")), **COMMON).position


def test_every_connection_has_foreign_keys_and_full_durability(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        pragma = {
            n: view._raw.execute(f"PRAGMA {n}").fetchone()[0] for n in ("foreign_keys", "synchronous", "journal_mode")
        }
    assert pragma == {"foreign_keys": 1, "synchronous": 2, "journal_mode": "wal"}


@pytest.mark.parametrize("statement", [
    "UPDATE record SET bytes = x'00' WHERE position = 1", "DELETE FROM record WHERE position = 1",
    "INSERT INTO record VALUES (9999999, 'x', 'thing', 0, x'00', x'00')", "UPDATE tree SET size = 1", "DELETE FROM tree",
    "UPDATE subtree SET hash = x'00'", "DELETE FROM subtree",
])  # fmt: skip
def test_the_database_itself_forbids_changing_a_record(kestrel: Kestrel, statement: str) -> None:
    for number in range(200):
        put(kestrel.store, f"P-9{number:03d}")
    with raw(kestrel.store.path) as other, pytest.raises(sqlite3.IntegrityError):
        other.execute(statement)


def test_positions_are_gapless_and_an_aborted_deed_leaves_nothing(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    with pytest.raises(RuntimeError), kestrel.store.transaction() as tx:
        tx.append("thing", ThingPut("pack", Pack("P-9001", "K36-A")), **COMMON)
        raise RuntimeError
    assert put(kestrel.store, "P-9002") == before + 1
    with kestrel.store.view() as view:
        assert view.thing("pack", "P-9001") is None
        assert "P-9001" not in view.things("pack")


def test_a_rebuild_equals_what_was_derived_on_the_way(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.5", vehicle="EB-12")
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), FoundIn("P-1003", None, MONDAY))
    assert kestrel.store.verify().good
    kestrel.store.rebuild()
    assert kestrel.store.verify().good


def test_an_earlier_position_shows_what_was_known_then(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        then, before = view.position, view.latest_checks()["P-1002"]
        head = view.head()
    kestrel.check("P-1002", "41.10", vehicle="EB-12")
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), FoundIn("P-1002", None, MONDAY, shelf="A"))
    with kestrel.store.view(then) as view:
        assert view.latest_checks()["P-1002"] == before
        assert view.placements()["P-1002"].vehicle == "EB-12"
        assert view.head() == head
        assert len(view.checks_of("P-1002")) == 1
    with kestrel.store.view() as view:
        assert view.placements()["P-1002"].vehicle is None
        assert view.position_at(MONDAY - dt.timedelta(days=1)) < view.position


def test_the_pack_that_was_in_the_bay_is_somewhere_unknown(kestrel: Kestrel) -> None:
    record.record_found_in(
        kestrel.store,
        kestrel.clock,
        kestrel.author(),
        FoundIn("P-1003", None, MONDAY),
        FoundIn("P-1012", "EB-13", MONDAY),
    )
    with kestrel.store.view() as view:
        assert view.placements()["P-1003"].vehicle is None and not view.placements()["P-1003"].known
        assert view.placements()["P-1012"].vehicle == "EB-13"


def _write_many(path: str, name: str, count: int) -> None:
    store = Store.open(Path(path))
    for number in range(count):
        put(store, f"P-{name}{number}")
    store.close()


def test_two_programs_writing_at_once_lose_nothing(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    context = mp.get_context("spawn")
    writers = [context.Process(target=_write_many, args=(str(kestrel.store.path), n, 20)) for n in ("7", "8")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert [writer.exitcode for writer in writers] == [0, 0]
    with kestrel.store.view() as view:
        assert view.position == before + 40
        assert len([code for code in view.things("pack") if code[:3] in ("P-7", "P-8")]) == 40
    assert kestrel.store.verify().good


_KILLED = """
import sys, datetime as dt, time
from pathlib import Path
from fleetcare.store.store import Store
from fleetcare.domain.packs import Pack
from fleetcare.domain.records import ThingPut
store = Store.open(Path(sys.argv[1]))
now = dt.datetime.now(dt.UTC)
with store.transaction() as tx:
    tx.append("thing", ThingPut("pack", Pack("P-6666", "K36-A")), done_at=now, entered_at=now, by="D", level="", station="",
              source="")
    print("begun", flush=True)
    time.sleep(60)
"""


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX signals")
def test_a_program_killed_within_a_deed_leaves_no_half_record(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.head()
    running = subprocess.Popen([sys.executable, "-c", _KILLED, str(kestrel.store.path)], stdout=subprocess.PIPE)
    assert running.stdout is not None and running.stdout.readline() == b"begun\n"
    running.send_signal(signal.SIGKILL)
    running.wait()
    running.stdout.close()
    with kestrel.store.view() as view:
        assert view.head() == before and view.thing("pack", "P-6666") is None
    assert kestrel.store.verify().good


def test_what_was_touched_since_a_position_is_known(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        position = view.position
    kestrel.check("P-1002", "41.50", vehicle="EB-12")
    touched = kestrel.store.changes_since(position)
    assert (touched.packs, touched.vehicles) == (frozenset({"P-1002"}), frozenset({"EB-12"}))


def test_a_draft_is_kept_and_forgotten_and_is_no_record(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    with kestrel.store.transaction() as tx:
        tx.save_draft("d1", "PIKE", "BENCH-1", "P-1312", MONDAY, "{}")
    with kestrel.store.view() as view:
        assert [(d.person, d.subject) for d in view.drafts()] == [("PIKE", "P-1312")] and view.position == before
    with kestrel.store.transaction() as tx:
        tx.delete_draft("d1")
    with kestrel.store.view() as view:
        assert view.drafts() == []
