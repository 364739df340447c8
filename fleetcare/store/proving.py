"""Proofs from the kept hashes: that a record is in the tree, and that nothing before was altered.

Complete subtrees of 256 leaves are read instead of their leaves, so a proof in a tree of millions
of records reads a few thousand short rows.  Whether the hashes belong to the bytes is for `verify`.
"""

from __future__ import annotations

from collections.abc import Iterator

from fleetcare.domain import fingerprint
from fleetcare.domain.records import Record, decode
from fleetcare.store.view import Reader

_SUBTREE = 256


def root_between(view: Reader, low: int, high: int) -> bytes:
    """The root over leaves `low` (from 0) up to `high`; `low` is where a subtree of that size begins."""
    edge: list[bytes] = []
    whole = (high - low) // _SUBTREE if low % _SUBTREE == 0 else 0
    first = low // _SUBTREE
    rows = view._raw.execute(
        "SELECT hash FROM subtree WHERE number >= ? AND number < ? ORDER BY number", (first, first + whole)
    )
    for number, (digest,) in enumerate(rows):
        fingerprint.append(edge, number, digest)
    leaves: list[bytes] = []
    rows = view._raw.execute(
        "SELECT leaf FROM record WHERE position > ? AND position <= ? ORDER BY position", (low + whole * _SUBTREE, high)
    )
    for number, (leaf,) in enumerate(rows):
        fingerprint.append(leaves, number, leaf)
    return fingerprint.root_of_edge([*edge, *leaves])


def inclusion(view: Reader, position: int) -> list[bytes]:
    """The audit path of the record at `position` (from 1) in the tree at the view's position."""
    return fingerprint.inclusion_by_ranges(position - 1, view.position, lambda low, high: root_between(view, low, high))


def consistency(view: Reader, old: int) -> list[bytes]:
    """The proof that the first `old` records stand unaltered in the tree at the view's position."""
    return fingerprint.consistency_proof(old, view.position, lambda low, high: root_between(view, low, high))


def root_at(view: Reader, size: int) -> bytes:
    """The head over the first `size` records."""
    return root_between(view, 0, size) if size else fingerprint.EMPTY


def canonical_bytes(view: Reader, position: int) -> bytes:
    """The bytes of the record at `position`, exactly as they were written."""
    data: bytes = view._raw.execute("SELECT bytes FROM record WHERE position = ?", (position,)).fetchone()[0]
    return data


def touching(view: Reader, subject_class: str, subject: str) -> Iterator[tuple[int, Record]]:
    """Every record that touches a subject, checks included, by position; read as it is asked for."""
    rows = view._raw.execute(
        "SELECT e.position, r.bytes FROM subject_event e JOIN record r ON r.position = e.position"
        " WHERE e.subject_class = ? AND e.subject = ? AND e.position <= ? ORDER BY e.position",
        (subject_class, subject, view.position),
    )
    for position, data in rows:
        yield position, decode(data)
