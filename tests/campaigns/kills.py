"""Kill the program without warning between BEGIN and acknowledgement, many times, in each phase.

    python -m tests.campaigns.kills 500

A child process does deeds and acknowledges each through a pipe once the deed has returned; the parent
sends SIGKILL at a random instant in between.  Then the file is opened and read through: every
acknowledged record is there, no half deed is, the fingerprint verifies.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from fleetcare.services import backup, oldsheets
from fleetcare.store import opening
from fleetcare.store.backups import examine
from fleetcare.store.schema import VERSION
from fleetcare.store.store import Store
from tests.campaigns.depot import LOG
from tests.kestrel import Kestrel, build

PHASES = ("check", "import", "migration", "backup")
MIGRATION = """
from alembic import op
revision = "v002"
down_revision = "v001"
def upgrade():
    op.execute("CREATE TABLE later AS SELECT position, record_id FROM record")
    op.execute("CREATE INDEX later_record ON later (record_id)")
"""


def run(count: int, seed: int = 8) -> dict[str, Counter[str]]:
    """`count` kills, the same number in each phase; AssertionError names what was lost or half done."""
    rng = random.Random(seed)
    found = {phase: Counter[str]() for phase in PHASES}
    with tempfile.TemporaryDirectory() as place:
        base = Path(place)
        build(base / "base.fleet").store.close()
        steps = base / "migrations"
        shutil.copytree(opening._MIGRATIONS, steps, ignore=shutil.ignore_patterns("__pycache__"))
        (steps / "versions" / "v002_later.py").write_text(MIGRATION)
        _migrate_once(base, steps)
        for phase in PHASES:
            longest = 0.0
            tries = 0
            while found[phase]["killed"] < count // len(PHASES):
                folder = base / f"{phase}{tries}"
                folder.mkdir()
                shutil.copy(base / "base.fleet", folder / "depot.fleet")
                (folder / "old.csv").write_text(LOG, "utf-8")
                outcome, longest = _one(phase, folder, steps, rng, longest)
                found[phase][outcome] += 1
                tries += 1
                assert tries < 10 * count + 40, f"{phase}: too few kills hit the deed"
                shutil.rmtree(folder)
    return found


def _migrate_once(base: Path, steps: Path) -> None:
    """Load what a migration needs before children are forked, so that a kill hits the work and not an import."""
    shutil.copy(base / "base.fleet", base / "warm.fleet")
    opening.prepare(base / "warm.fleet", steps, VERSION + 1)


def _deed(phase: str, folder: Path, steps: Path) -> Callable[[], None]:
    """What the child does between its two words."""
    path = folder / "depot.fleet"
    if phase == "migration":
        return lambda: opening.prepare(path, steps, VERSION + 1) and None
    kestrel = Kestrel(Store.open(path))
    if phase == "check":
        return lambda: kestrel.check("P-1002", "41.50") and None
    if phase == "backup":
        return lambda: backup.back_up(kestrel.store, kestrel.clock) and None
    store = kestrel.store
    shown = oldsheets.preview(
        store, kestrel.clock, folder / "old.csv", oldsheets.survey(store, folder / "old.csv").plan
    )
    return lambda: oldsheets.bring_in(store, kestrel.clock, kestrel.author(), shown) and None


def _one(phase: str, folder: Path, steps: Path, rng: random.Random, longest: float) -> tuple[str, float]:
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(read)
            deed = _deed(phase, folder, steps)
            os.write(write, b"B")
            deed()
            os.write(write, b"A")
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb", buffering=0) as words:
        assert words.read(1) == b"B", f"{phase}: the child did not begin"
        began = time.perf_counter()
        if longest == 0.0:
            acknowledged = words.read(1) == b"A"
            longest = time.perf_counter() - began
        else:
            time.sleep(rng.random() * longest)
            os.kill(child, signal.SIGKILL)
            acknowledged = words.read(1) == b"A"
    os.waitpid(child, 0)
    _judge(phase, folder, acknowledged)
    # the machine's pace changes: aim shorter after a kill that came too late, longer after one that hit
    return ("acknowledged" if acknowledged else "killed"), longest * (0.8 if acknowledged else 1.08)


def _judge(phase: str, folder: Path, acknowledged: bool) -> None:
    path = folder / "depot.fleet"
    if phase == "migration":
        version = opening.identify(path)
        assert version in (VERSION, VERSION + 1) and (version == VERSION + 1 or not acknowledged), f"version {version}"
        report = examine(path) if version == VERSION else None
        assert report is None or report.good
        return
    store = Store.open(path)
    try:
        report = store.verify()
        assert report.good, report.faults
        with store.view() as view:
            added = view.position - 156
    finally:
        store.close()
    whole = {"check": (0, 2), "import": (0, 121), "backup": (0, 0)}[phase]
    with_look = phase == "check" and added == 1
    assert added in whole or with_look, f"{phase}: a half deed of {added} records"
    assert not acknowledged or added or phase == "backup", f"{phase}: an acknowledged deed is lost"
    for copy in backup.backups_in(folder / "depot-backups", "depot").values():
        assert examine(copy).good, f"{copy} is not whole"


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    found = run(count)
    for phase, tally in found.items():
        print(f"{phase}: {tally['killed']} killed between BEGIN and acknowledgement, {tally['acknowledged']} later")
    print(
        f"{sum(t['killed'] for t in found.values())} kills: 0 acknowledged records lost, 0 half deeds, all files verify"
    )


if __name__ == "__main__":
    main()
