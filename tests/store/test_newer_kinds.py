"""A record of a kind that an older program does not know: that program refuses the file, and nobody calls it changed."""

import datetime as dt
import sqlite3
import typing
from contextlib import closing
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from fleetcare.domain import packs, records
from fleetcare.domain.added_later import ADDED_LATER
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.inspection_plans import MisfitSeen
from fleetcare.domain.packs import Depot
from fleetcare.domain.records import BODY_CLASSES
from fleetcare.domain.wording import say
from fleetcare.services import record
from fleetcare.services.writing import Writer
from fleetcare.store import backups, opening
from fleetcare.store import store as fleet_store
from fleetcare.store.exchange import Beside, rebuild_from, record_lines
from fleetcare.store.schema import FIELDS_SINCE, KINDS_SINCE, KNOWN_VERSION, VERSION
from fleetcare.store.store import Store
from tests.kestrel import MONDAY, Kestrel

KINDS_OF_VERSION_1 = 73
"""As many kinds a program of file version 1 knows.  Whoever adds a kind names it in KINDS_SINCE with the next file version."""


FIELDS_OF_VERSION_1 = 57
"""As many fields added later a program of file version 1 knows.  Whoever adds one names it in FIELDS_SINCE of the schema with the
next file version."""


def user_version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as other:
        return int(other.execute("PRAGMA user_version").fetchone()[0])


def with_misfit(kestrel: Kestrel) -> Path:
    """A misfit is read into the plan, and the file is closed."""
    seen = MisfitSeen("P-1010", MONDAY, "2" * 32, MONDAY.date(), "e1")
    with kestrel.store.transaction() as tx:
        Writer(tx, kestrel.author(), MONDAY).add("misfit_seen", seen, MONDAY)
    kestrel.store.close()
    return kestrel.store.path


def test_every_kind_is_known_since_version_1_or_says_since_when() -> None:
    assert (
        len(BODY_CLASSES.keys() - KINDS_SINCE.keys()) == KINDS_OF_VERSION_1
        and KINDS_SINCE.keys() <= BODY_CLASSES.keys()
    )
    assert all(VERSION < since <= KNOWN_VERSION for since in KINDS_SINCE.values())


def test_the_first_record_of_a_newer_kind_marks_the_file_and_an_older_program_refuses_it(
    kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch
) -> None:
    kestrel.check("P-1010", "41.60")
    assert user_version(kestrel.store.path) == VERSION, "until then older programs open it"
    path = with_misfit(kestrel)
    assert user_version(path) == KINDS_SINCE["misfit_seen"]
    store = Store.open(path)
    assert store.verify().good and opening.prepare(path) is None, "nothing is migrated, no copy is made"
    store.close()
    before = path.read_bytes()
    monkeypatch.setattr(opening, "KNOWN_VERSION", VERSION)
    monkeypatch.setattr(backups, "KNOWN_VERSION", VERSION)
    for opened in (Store.open, backups.examine):
        with pytest.raises(FileRefused) as refused:
            opened(path)
        assert (
            "of file version 2; this program knows version 1. Install the newer program; nothing was changed."
            in str(refused.value)
        )
    assert path.read_bytes() == before


def test_a_file_made_again_from_an_export_is_marked_as_well(kestrel: Kestrel, tmp_path: Path) -> None:
    store = Store.open(with_misfit(kestrel))
    with store.view() as view:
        lines = list(record_lines(view))
    store.close()
    rebuild_from(tmp_path / "again.fleet", lines, Beside({})).close()
    assert user_version(tmp_path / "again.fleet") == 2


def test_verifying_says_unknown_and_not_changed(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch) -> None:
    path = with_misfit(kestrel)
    monkeypatch.delitem(records.BODY_CLASSES, "misfit_seen")
    store = Store.open(path)
    report = store.verify()
    store.close()
    told = say(report.faults[0])
    assert not report.good and report.first_bad and "does not know (misfit_seen)" in told and "newer program" in told
    assert "changed" not in told


def fields_added_later() -> set[str]:
    """Every field that was added later to anything that a record may hold."""
    found: set[str] = set()
    seen: set[type] = set()
    todo: list[Any] = [*BODY_CLASSES.values(), *packs.THING_CLASSES.values()]
    while todo:
        hint = todo.pop()
        todo += typing.get_args(hint)
        if not isinstance(hint, type) or not is_dataclass(hint) or hint in seen:
            continue
        seen.add(hint)
        todo += typing.get_type_hints(hint).values()
        found |= {f"{hint.__name__}.{one.name}" for one in fields(hint) if one.metadata.get(ADDED_LATER)}
    return found


def test_every_field_added_later_is_known_since_version_1_or_says_since_when() -> None:
    known = fields_added_later()
    assert len(known - FIELDS_SINCE.keys()) == FIELDS_OF_VERSION_1 and FIELDS_SINCE.keys() <= known
    assert all(VERSION < since <= KNOWN_VERSION for since in FIELDS_SINCE.values())


def test_the_first_record_with_a_newer_field_marks_the_file_and_an_older_program_refuses_it(
    kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch
) -> None:
    newer = KNOWN_VERSION + 1
    monkeypatch.setattr(fleet_store, "FIELDS_SINCE", {"Depot.country": newer, "ChargedOn.pack_c": newer})

    def put(depot: Depot) -> int:
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", depot))
        return user_version(kestrel.store.path)

    assert put(Depot("KW", "Kestrel Wharf", rules="own")) == VERSION, "at its default the field is not written"
    assert put(Depot("KW", "Kestrel Wharf", country="GB")) == newer, "in a thing within the record as well"
    kestrel.store.close()
    with pytest.raises(FileRefused) as refused:
        Store.open(kestrel.store.path)
    assert f"of file version {newer}; this program knows version {KNOWN_VERSION}" in str(refused.value)


def test_a_newer_field_of_a_check_marks_the_file_too(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch) -> None:
    newer = KNOWN_VERSION + 1
    monkeypatch.setattr(fleet_store, "FIELDS_SINCE", {"Depot.country": newer})
    kestrel.check("P-1010", "41.60")
    assert user_version(kestrel.store.path) == VERSION
    monkeypatch.setattr(fleet_store, "FIELDS_SINCE", {"Depot.country": newer, "CheckJudged.procedure": newer})
    kestrel.check("P-1010", "41.61")
    assert user_version(kestrel.store.path) == newer


def test_verifying_says_of_a_field_that_it_is_unknown_and_not_changed(
    kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch
) -> None:
    @dataclass(frozen=True)
    class Before:
        """As a program knows a charge that has no temperature in it yet."""

        pack: str
        charger: str
        done_at: dt.datetime
        where: str = ""

    with kestrel.store.transaction() as tx:
        charged = ChargedOn("P-1010", "C-36-1", MONDAY, pack_c=Decimal("18"))
        Writer(tx, kestrel.author(), MONDAY).add("charged_on", charged, MONDAY)
    monkeypatch.setitem(records.BODY_CLASSES, "charged_on", Before)
    report = kestrel.store.verify()
    told = say(report.faults[0])
    assert not report.good and report.first_bad and "does not know (pack_c)" in told and "newer program" in told
    assert "changed" not in told
    monkeypatch.undo()
    assert kestrel.store.verify().good
