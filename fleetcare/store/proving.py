"""Proofs from the kept hashes: that a record is in the tree, and that nothing before was altered.

Complete subtrees of 256 leaves are read instead of their leaves, so a proof in a tree of millions
of records reads a few thousand short rows.  Whether the hashes belong to the bytes is for `verify`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fleetcare.domain import fingerprint
from fleetcare.domain.checks import Hold
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.records import Record, decode
from fleetcare.store.values import Placement
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


def inclusions(view: Reader, positions: Iterable[int]) -> Iterator[tuple[int, bytes, list[bytes]]]:
    """Each record at `positions` (from 1) with its bytes and its audit path in the tree at the view's position.

    Roots of long ranges, which many paths share, are computed once.
    """
    known: dict[tuple[int, int], bytes] = {}

    def root_of(low: int, high: int) -> bytes:
        if high - low < _SUBTREE:
            return root_between(view, low, high)
        if (low, high) not in known:
            known[low, high] = root_between(view, low, high)
        return known[low, high]

    for position in positions:
        path = fingerprint.inclusion_by_ranges(position - 1, view.position, root_of)
        yield position, canonical_bytes(view, position), path


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


def all_records(view: Reader) -> Iterator[tuple[int, Record]]:
    """Every record by position; read as it is asked for."""
    for position, data in view._raw.execute(
        "SELECT position, bytes FROM record WHERE position <= ? ORDER BY position", (view.position,)
    ):
        yield position, decode(data)


def struck_by(view: Reader, position: int) -> tuple[int, str] | None:
    """The position and reason of what struck the check at `position`, or None."""
    row = view._raw.execute(
        "SELECT void_position, void_reason FROM voltage_check WHERE position = ? AND void_position <= ?",
        (position, view.position),
    ).fetchone()
    return None if row is None else (row[0], row[1])


def position_of(view: Reader, record_id: str) -> int | None:
    """The position of a record by its id, or None."""
    row = view._raw.execute("SELECT position FROM record WHERE record_id = ?", (record_id,)).fetchone()
    return None if row is None else row[0]


@dataclass(frozen=True, slots=True)
class Placed:
    """One place of a pack in the order recorded; `until_at` is when it was next found elsewhere."""

    pack: str
    placement: Placement
    until_at: dt.datetime | None
    until_known: bool


def places_of(view: Reader, pack: str) -> list[Placed]:
    """Every place that was recorded for `pack`, oldest first, as known at the view's position."""
    rows = view._raw.execute(
        "SELECT vehicle, bay, shelf, since_us, known FROM placement WHERE pack = ? AND from_position <= ?"
        " ORDER BY from_position",
        (pack, view.position),
    ).fetchall()
    found = [Placement(v, bay, shelf, view.moment(since), bool(known)) for v, bay, shelf, since, known in rows]
    ends = [*found[1:], None] if found else []
    return [
        Placed(pack, one, None if end is None else end.since, end is None or end.known)
        for one, end in zip(found, ends, strict=True)
    ]


def packs_ever_in(view: Reader, vehicle: str) -> list[str]:
    """Codes of all packs that were ever recorded in `vehicle`."""
    rows = view._raw.execute(
        "SELECT DISTINCT pack FROM placement WHERE vehicle = ? AND from_position <= ? ORDER BY pack",
        (vehicle, view.position),
    ).fetchall()
    return [pack for (pack,) in rows]


def danger_holds(view: Reader) -> list[tuple[str, str, dt.datetime, int]]:
    """Every hold for danger, released or not: (class, code, when done, position), by position; a recall is no stop."""
    rows = view._raw.execute(
        "SELECT h.subject_class, h.subject, h.from_position, r.bytes FROM hold h"
        " JOIN record r ON r.position = h.from_position"
        " WHERE h.hold_class = 'danger' AND h.from_position <= ? ORDER BY h.from_position",
        (view.position,),
    ).fetchall()
    decoded = [(cls, code, position, decode(data)) for cls, code, position, data in rows]
    return [
        (cls, code, record.done_at, position)
        for cls, code, position, record in decoded
        if isinstance(record.body, Hold) and not by_recall(record.body.reason)
    ]


def danger_spans(view: Reader) -> list[tuple[str, dt.datetime, dt.datetime | None]]:
    """(pack, held, released or None) of every hold of a pack for danger, by position; a recall is none."""
    rows = view._raw.execute(
        "SELECT h.subject, r.bytes, e.bytes FROM hold h JOIN record r ON r.position = h.from_position"
        " LEFT JOIN record e ON e.position = h.to_position AND h.to_position <= ?"
        " WHERE h.subject_class = 'pack' AND h.hold_class = 'danger' AND h.from_position <= ? ORDER BY h.from_position",
        (view.position, view.position),
    ).fetchall()
    decoded = [(pack, decode(data), None if end is None else decode(end).done_at) for pack, data, end in rows]
    return [
        (pack, record.done_at, released)
        for pack, record, released in decoded
        if isinstance(record.body, Hold) and not by_recall(record.body.reason)
    ]


def record_at(view: Reader, position: int) -> Record:
    """The record at a position that is known to be there."""
    return decode(canonical_bytes(view, position))
