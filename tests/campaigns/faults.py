"""One flipped bit in every page of a fleet file: found and said, or without any effect on what is read.

python -m tests.campaigns.faults
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
from collections import Counter
from pathlib import Path

from fleetcare.domain.errors import FileRefused
from fleetcare.store.backups import Examined, examine
from tests.campaigns.depot import furnished, settle_wal

_KINDS = {2: "index, inner", 5: "table, inner", 10: "index, leaf", 13: "table, leaf"}


def run(every: int = 1, seed: int = 8) -> dict[str, Counter[str]]:
    """Flip one bit in each `every`-th page; by page class: found, refused at once, or without effect."""
    rng = random.Random(seed)
    found: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory() as place:
        depot = furnished(Path(place))
        path = depot.store.path
        depot.store.close()
        settle_wal(path)
        whole = path.read_bytes()
        size = int.from_bytes(whole[16:18], "big") or 65536
        good = examine(path)
        assert good.good
        content = _content(path)
        for page in range(0, len(whole) // size, every):
            data = bytearray(whole)
            at = page * size + rng.randrange(size if page else 100)
            data[at] ^= 1 << rng.randrange(8)
            path.write_bytes(bytes(data))
            outcome = _outcome(path, good, content)
            found.setdefault(_class(whole, page, size), Counter())[outcome] += 1
            assert path.read_bytes() == bytes(data), "a damaged file was written to"
    return found


def _class(whole: bytes, page: int, size: int) -> str:
    if page == 0:
        return "file header"
    return _KINDS.get(whole[page * size], "overflow or free")


def _outcome(path: Path, good: Examined, content: list[str]) -> str:
    try:
        report = examine(path)
    except FileRefused as refused:
        assert str(refused)
        return "refused at once"
    except sqlite3.DatabaseError:
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


def main() -> None:
    """Run and print."""
    for name, tally in sorted(run(1, int(sys.argv[1]) if len(sys.argv) > 1 else 8).items()):
        print(f"{name}: " + ", ".join(f"{number} {what}" for what, number in sorted(tally.items())))


if __name__ == "__main__":
    main()
