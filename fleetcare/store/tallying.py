"""What the manager's overview counts over many records at once, without decoding each of them."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain.pace import Made
from fleetcare.domain.packs import Thing
from fleetcare.domain.records import Record, decode
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.store.derive import microseconds
from fleetcare.store.thing_rows import thing_of
from fleetcare.store.view import Reader


def typed_since(view: Reader, since: dt.datetime) -> list[Made]:
    """Standing checks done since a moment that somebody typed at a bench; imported and paper ones have other times."""
    rows = view._raw.execute(
        "SELECT json_extract(CAST(r.bytes AS TEXT), '$.by'), c.done_us, c.pack, c.rested_v FROM voltage_check c"
        " JOIN record r ON r.position = c.position WHERE c.done_us >= ? AND c.position <= ? AND c.void_position IS NULL"
        " AND c.batch = '' AND json_extract(CAST(r.bytes AS TEXT), '$.source') LIKE 'typed%'",
        (microseconds(since), view.position),
    ).fetchall()
    return [Made(by, view.moment(at), pack, rested) for by, at, pack, rested in rows]


def levels_since(view: Reader, since: dt.datetime) -> list[tuple[str, dt.date, VerdictLevel]]:
    """(pack, day, level) of the standing checks since a moment, in order of the work."""
    rows = view._raw.execute(
        "SELECT pack, done_us, level FROM voltage_check WHERE done_us >= ? AND position <= ?"
        " AND (void_position IS NULL OR void_position > ?) AND pack IN (SELECT DISTINCT pack FROM voltage_check"
        " WHERE level = 'pull' AND done_us >= ?) ORDER BY done_us, position",
        (microseconds(since), view.position, view.position, microseconds(since)),
    ).fetchall()
    return [(pack, view.moment(at).date(), VerdictLevel(level)) for pack, at, level in rows]


def versions_of(view: Reader, thing_class: str) -> dict[str, list[tuple[int, Thing]]]:
    """Every version of each thing of a class with the position that recorded it, oldest first."""
    found: dict[str, list[tuple[int, Thing]]] = {}
    for code, position, body in view._raw.execute(
        "SELECT code, from_position, body FROM thing WHERE class = ? AND from_position <= ? ORDER BY code, from_position",
        (thing_class, view.position),
    ).fetchall():
        found.setdefault(code, []).append((position, thing_of(body)))
    return found


def bodies_since(view: Reader, kinds: tuple[str, ...], since: dt.datetime) -> list[Record]:
    """Records of some kinds that were entered since a moment, in order of entry."""
    marks = ",".join("?" * len(kinds))
    rows = view._raw.execute(
        f"SELECT bytes FROM record WHERE entered_us >= ? AND position <= ? AND kind IN ({marks}) ORDER BY position",
        (microseconds(since), view.position, *kinds),
    ).fetchall()
    return [decode(data) for (data,) in rows]


def danger_stays(view: Reader, since: dt.datetime) -> list[tuple[str, dt.datetime, dt.datetime | None]]:
    """(pack, from, until) of each hold for danger on a pack that was open at or after a moment; None: open still."""
    rows = view._raw.execute(
        "SELECT h.subject, r.bytes, e.entered_us FROM hold h JOIN record r ON r.position = h.from_position"
        " LEFT JOIN record e ON e.position = h.to_position WHERE h.subject_class = 'pack' AND h.hold_class = 'danger'"
        " AND h.from_position <= ? AND (h.to_position IS NULL OR e.entered_us >= ?)",
        (view.position, microseconds(since)),
    ).fetchall()
    return [(pack, decode(data).done_at, None if end is None else view.moment(end)) for pack, data, end in rows]
