"""Verify: every alteration is found, and the first record that does not match is named."""

import sqlite3
from pathlib import Path

import pytest

from fleetcare.domain.wording import say
from fleetcare.store.schema import DERIVED
from fleetcare.store.store import Store
from fleetcare.store.values import VerifyReport
from tests.kestrel import Kestrel


def altered(path: Path, *statements: str) -> VerifyReport:
    """The report on a file after somebody got past the triggers."""
    with sqlite3.connect(path, isolation_level=None) as other:
        for (name,) in other.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            other.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            other.execute(statement)
    store = Store.open(path)
    try:
        return store.verify()
    finally:
        store.close()


def test_an_untouched_file_is_good_and_its_head_is_the_fingerprint(kestrel: Kestrel) -> None:
    report = kestrel.store.verify()
    with kestrel.store.view() as view:
        head = view.head()
    assert report.good and (report.records, report.root_hex) == (head.size, head.root_hex)


def test_one_changed_digit_names_its_record(kestrel: Kestrel) -> None:
    kestrel.store.close()
    report = altered(
        kestrel.store.path,
        "UPDATE record SET bytes = CAST(replace(CAST(bytes AS TEXT), '41.60', '41.90') AS BLOB) WHERE position = 140",
    )
    if report.good:
        pytest.fail("the alteration was not found")
    assert report.first_bad == 140 and "140" in say(report.faults[0])


@pytest.mark.parametrize(("statement", "first"), [
    ("DELETE FROM record WHERE position = 100", 100),
    ("UPDATE record SET leaf = zeroblob(32) WHERE position = 50", 50),
    ("UPDATE record SET kind = 'trip' WHERE position = 120", 120),
    ("UPDATE record SET entered_us = entered_us + 1 WHERE position = 7", 7),
    ("UPDATE record SET record_id = 'x' WHERE position = 9", 9),
    ("DELETE FROM record WHERE position = (SELECT max(position) FROM record)", None),
    ("UPDATE tree SET edge = zeroblob(length(edge))", None),
])  # fmt: skip
def test_records_removed_swapped_or_relabelled_are_found(kestrel: Kestrel, statement: str, first: int | None) -> None:
    kestrel.store.close()
    report = altered(kestrel.store.path, statement)
    assert not report.good
    assert first is None or report.first_bad == first


def test_two_records_exchanged_are_found(kestrel: Kestrel) -> None:
    kestrel.store.close()
    swap = "UPDATE record SET position = {b} WHERE position = {a}"
    report = altered(kestrel.store.path, swap.format(a=30, b=-1), swap.format(a=31, b=30), swap.format(a=-1, b=31))
    assert not report.good


@pytest.mark.parametrize(
    "table", [t for t in DERIVED if t in ("thing", "voltage_check", "latest_check", "placement", "subject_event")]
)
def test_a_derived_row_that_does_not_follow_from_the_records_is_found(kestrel: Kestrel, table: str) -> None:
    kestrel.store.close()
    report = altered(kestrel.store.path, f"DELETE FROM {table} WHERE rowid IN (SELECT rowid FROM {table} LIMIT 1)"
                     if table == "voltage_check" else _first_row(table))  # fmt: skip
    assert not report.good and table in say(report.faults[0])


def _first_row(table: str) -> str:
    column = {"thing": "body", "latest_check": "rested_v", "placement": "shelf", "subject_event": "subject"}[table]
    return f"UPDATE OR IGNORE {table} SET {column} = {column} || 'x'"


def test_a_broken_subtree_hash_is_found(kestrel: Kestrel) -> None:
    for number in range(200):
        kestrel.check("P-1002", f"41.{number % 60:02d}", vehicle="EB-12")
    kestrel.store.close()
    report = altered(kestrel.store.path, "UPDATE subtree SET hash = zeroblob(32)")
    assert not report.good
