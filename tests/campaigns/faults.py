"""One flipped bit in every page of a fleet file and of its log: found and said, or without any effect on what is read.

    python -m tests.campaigns.faults 5

The number is how many bits are flipped in each page, one at a time.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from pathlib import Path

from fleetcare.domain.errors import FileRefused
from fleetcare.store.acknowledged import beside
from fleetcare.store.backups import Examined, examine
from fleetcare.store.store import Store
from tests.campaigns.depot import furnished, settle_wal
from tests.kestrel import Kestrel, build

_KINDS = {2: "index, inner", 5: "table, inner", 10: "index, leaf", 13: "table, leaf"}
PAGE_CLASSES = ("file header", *_KINDS.values(), "overflow", "free list, trunk", "free list, leaf")
LOG_CLASSES = ("log, header", "log, frame header", "log, frame")
WAL_HEADER, FRAME_HEADER = 32, 24

Found = dict[str, Counter[str]]


def run(each: int = 1, every: int = 1, seed: int = 8) -> Found:
    """Flip `each` bits in each `every`-th page; by page class: found, refused at once, or without effect."""
    rng = random.Random(seed)
    found: Found = {}
    with tempfile.TemporaryDirectory() as place:
        path = _with_free_pages(Path(place))
        whole = path.read_bytes()
        size = int.from_bytes(whole[16:18], "big") or 65536
        classes = _classes(whole, size)
        good = examine(path)
        assert good.good
        content = _content(path)
        rare = {name for name in PAGE_CLASSES if classes.count(name) < 5}
        for page, name in enumerate(classes):
            if page % every and name not in rare:
                continue
            for _ in range(each):
                data = bytearray(whole)
                data[page * size + rng.randrange(size if page else 100)] ^= 1 << rng.randrange(8)
                path.write_bytes(bytes(data))
                found.setdefault(name, Counter())[_outcome(path, good, content)] += 1
                assert path.read_bytes() == bytes(data), "a damaged file was written to"
    assert set(found) == set(PAGE_CLASSES), set(PAGE_CLASSES) - set(found)
    return found


def _with_free_pages(folder: Path) -> Path:
    """A depot file with a page of every class: its free pages are those of drafts that were thrown away."""
    depot = furnished(folder)
    with depot.store.transaction() as tx:
        for number in range(60):
            tx.save_draft(f"d{number}", "PIKE", "BENCH-1", "P-1002", depot.now, "x" * 1000)
    with depot.store.transaction() as tx:
        for number in range(60):
            tx.delete_draft(f"d{number}")
    depot.store.close()
    settle_wal(depot.store.path)
    return depot.store.path


def _classes(whole: bytes, size: int) -> list[str]:
    """The class of every page, from the file itself ("Database File Format" in SQLite's documentation)."""
    names = ["overflow"] * (len(whole) // size)
    for page in range(len(names)):
        names[page] = _KINDS.get(whole[page * size + (100 if page == 0 else 0)], "overflow")
    trunk = int.from_bytes(whole[32:36], "big")
    while trunk:
        at = (trunk - 1) * size
        names[trunk - 1] = "free list, trunk"
        for number in range(int.from_bytes(whole[at + 4 : at + 8], "big")):
            leaf = int.from_bytes(whole[at + 8 + 4 * number : at + 12 + 4 * number], "big")
            names[leaf - 1] = "free list, leaf"
        trunk = int.from_bytes(whole[at : at + 4], "big")
    names[0] = "file header"
    return names


def _outcome(path: Path, good: Examined, content: list[str]) -> str:
    try:
        report = examine(path)
    except FileRefused as refused:
        assert str(refused)
        return "refused at once"
    if not report.good:
        return "found and said"
    assert report.head == good.head and _content(path) == content, "a changed file was called good"
    return "without effect"


def _content(path: Path) -> list[str]:
    raw = sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        return list(raw.iterdump())
    finally:
        raw.close()


def run_log(each: int = 1, every: int = 1, seed: int = 8) -> Found:
    """Flip bits in the log that a crash left behind: refused with file and log untouched, or nothing is missing."""
    rng = random.Random(seed)
    found: Found = {}
    with tempfile.TemporaryDirectory() as place:
        file, log, known, last = _after_a_crash(Path(place))
        size = int.from_bytes(file[16:18], "big") or 65536
        frame = FRAME_HEADER + size
        places = [("log, header", 0, WAL_HEADER)]
        for at in range(WAL_HEADER, len(log), frame * every):
            places.append(("log, frame header", at, FRAME_HEADER))
            places.append(("log, frame", at + FRAME_HEADER, size))
        for name, start, length in places:
            for _ in range(each if start else 8 * each):
                data = bytearray(log)
                data[start + rng.randrange(length)] ^= 1 << rng.randrange(8)
                outcome = _open_again(Path(place), file, bytes(data), known, last)
                found.setdefault(name, Counter())[outcome] += 1
                assert outcome in ("refused at once", "without effect"), f"{name} at {start}: {outcome}"
    return found


def _after_a_crash(folder: Path) -> tuple[bytes, bytes, bytes, int]:
    """File, log, what was acknowledged and position of the newest record as a killed program leaves them."""
    path = folder / "depot.fleet"
    build(path).store.close()
    kestrel = Kestrel(Store.open(path))
    for number in range(12):
        kestrel.check("P-1002", f"41.{number + 10}")
    with kestrel.store.view() as view:
        last = view.position
    log = path.with_name(path.name + "-wal").read_bytes()
    file = path.read_bytes()
    known = beside(path).read_bytes()
    kestrel.store.close()
    return file, log, known, last


def _open_again(folder: Path, file: bytes, log: bytes, known: bytes, last: int) -> str:
    again = folder / "again"
    again.mkdir()
    path = again / "depot.fleet"
    path.write_bytes(file)
    left = path.with_name(path.name + "-wal")
    left.write_bytes(log)
    beside(path).write_bytes(known)
    try:
        store = Store.open(path)
    except FileRefused as refused:
        assert refused.message.key in ("file.log_damaged", "file.deeds_missing")
        assert (path.read_bytes(), left.read_bytes()) == (file, log), "a damaged log was written to"
        return "refused at once"
    else:
        assert store.verify().good
        with store.view() as view:
            here = view.position
        store.close()
        return "without effect" if here == last else "lost"
    finally:
        shutil.rmtree(again)


def main() -> None:
    """Run and print."""
    each = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    for name, tally in sorted((run(each) | run_log(each)).items()):
        print(f"{name}: " + ", ".join(f"{number} {what}" for what, number in sorted(tally.items())))


if __name__ == "__main__":
    main()
