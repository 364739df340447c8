"""A record of a kind that an older program does not know: that program refuses the file, and nobody calls it changed."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from fleetcare.domain import records
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.inspection_plans import MisfitSeen
from fleetcare.domain.records import BODY_CLASSES
from fleetcare.domain.wording import say
from fleetcare.services.writing import Writer
from fleetcare.store import backups, opening
from fleetcare.store.exchange import Beside, rebuild_from, record_lines
from fleetcare.store.schema import KINDS_SINCE, KNOWN_VERSION, VERSION
from fleetcare.store.store import Store
from tests.kestrel import MONDAY, Kestrel

KINDS_OF_VERSION_1 = 73
"""As many kinds a program of file version 1 knows.  Whoever adds a kind names it in KINDS_SINCE with the next file version."""


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
