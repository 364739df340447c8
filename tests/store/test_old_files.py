"""Files of every released version, kept as they were: each opens, is whole, says what it said, and goes on."""

import shutil
import sqlite3
from pathlib import Path

import pytest

from fleetcare.services import backup, exporting, summary
from fleetcare.store import opening
from fleetcare.store.backups import examine
from fleetcare.store.schema import VERSION
from fleetcare.store.store import Store
from tests.kestrel import Kestrel
from tests.store.test_opening import steps

KEPT = Path(__file__).parent / "old_files"
HEADS = {1: (416, "fd29ec43a2137a1fa31ba44b141b3dd95d44e081dd0985de4560d1b3af9849a6")}
"""Records and fingerprint of each kept file."""


def dump(path: Path) -> list[str]:
    raw = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    try:
        return list(raw.iterdump())
    finally:
        raw.close()


def test_a_file_is_kept_of_every_version() -> None:
    kept = {int(path.stem.removeprefix("v")) for path in KEPT.glob("v*.fleet")}
    migrations = {int(path.stem[1:4]) for path in (opening._MIGRATIONS / "versions").glob("v*.py")}
    assert kept == migrations == set(HEADS) == set(range(1, VERSION + 1))


@pytest.mark.parametrize("version", HEADS)
def test_an_old_file_opens_says_what_it_said_and_goes_on(version: int, tmp_path: Path) -> None:
    path = tmp_path / "old.fleet"
    shutil.copy(KEPT / f"{opening.revision(version)}.fleet", path)
    made = Kestrel(Store.open(path))
    with made.store.view() as view:
        head = view.head()
    assert (head.size, head.root_hex) == HEADS[version]
    page = summary.pack_summary(made.store, made.clock, "P-1002")
    assert page.checks and page.vehicle == "EB-12" and str(page.checks[-1].rested_v).startswith("41.")
    assert summary.vehicle_page(made.store, made.clock, "CB-06").line.vehicle.code == "CB-06"
    assert made.store.verify().good
    made.check("P-1002", "41.50")
    backed = backup.back_up(made.store, made.clock)
    assert backed.examined.good and backed.examined.records > head.size
    exporting.export_all(made.store, tmp_path / "all.zip")
    assert exporting.rebuild(tmp_path / "all.zip", tmp_path / "again.fleet") == backed.examined.head
    made.store.close()


@pytest.mark.parametrize("version", HEADS)
@pytest.mark.parametrize("more", ['op.execute("INSERT INTO nowhere VALUES (1)")', "raise OSError('the disk is full')"])
def test_a_migration_that_fails_leaves_an_old_file_as_it_was(version: int, more: str, tmp_path: Path) -> None:
    path = tmp_path / "old.fleet"
    shutil.copy(KEPT / f"{opening.revision(version)}.fleet", path)
    before = dump(path)
    with pytest.raises(Exception, match=r"nowhere|disk is full"):
        opening.prepare(path, steps(tmp_path, more), VERSION + 1)
    assert dump(path) == before and opening.identify(path) == version
    (copy,) = tmp_path.glob("old-before-*.fleet")
    assert dump(copy) == before and examine(copy).good
    store = Store.open(path)
    assert store.verify().good
    store.close()
