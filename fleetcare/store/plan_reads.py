"""What a plan of work asks of the record, without decoding a record."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal

from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.records import ThingPut, decode
from fleetcare.store.derive import KIND, microseconds
from fleetcare.store.view import Reader

_NO_LOOK = b'"look_over":null'
"""How the bytes of a check without a visual inspection read; within a text its quotes would be escaped."""


def watches_in_a_row(view: Reader, pack: str) -> int:
    """How many of a pack's newest standing valid checks in a row said watch; two are enough to know."""
    p = view._position
    rows = view._raw.execute(
        "SELECT level FROM voltage_check WHERE pack = ? AND valid = 1 AND position <= ?"
        " AND (void_position IS NULL OR void_position > ?) ORDER BY done_us DESC, position DESC LIMIT 2",
        (pack, p, p),
    ).fetchall()
    levels = [level for (level,) in rows]
    return levels.index("pass") if "pass" in levels else sum(level == "watch" for level in levels)


def valid_checks_since(view: Reader, since: dt.datetime) -> list[tuple[str, dt.datetime, str, str]]:
    """Standing valid checks since a moment: (pack, done at, entered by, source), oldest first."""
    p = view._position
    rows = view._raw.execute(
        "SELECT c.pack, c.done_us, json_extract(CAST(r.bytes AS TEXT), '$.by'),"
        " json_extract(CAST(r.bytes AS TEXT), '$.source') FROM voltage_check c JOIN record r"
        " ON r.position = c.position WHERE c.valid = 1 AND c.done_us >= ? AND c.position <= ?"
        " AND (c.void_position IS NULL OR c.void_position > ?) ORDER BY c.done_us, c.position",
        (microseconds(since), p, p),
    ).fetchall()
    return [(pack, view.moment(at), by, source) for pack, at, by, source in rows]


def charged_since(view: Reader, since: Mapping[str, dt.datetime]) -> dict[str, ChargedOn]:
    """The newest charge on a charger of each pack in `since` that was done after its moment."""
    found: dict[str, ChargedOn] = {}
    for pack, after in since.items():
        rows = view._raw.execute(
            "SELECT r.bytes FROM subject_event e JOIN record r ON r.position = e.position WHERE e.subject_class = 'pack'"
            " AND e.subject = ? AND e.position <= ? AND r.kind = 'charged_on' AND e.position > coalesce((SELECT position"
            " FROM record WHERE entered_us < ? ORDER BY entered_us DESC LIMIT 1), 0)",
            (pack, view._position, microseconds(after)),
        ).fetchall()
        charges = [
            body for (data,) in rows if isinstance(body := decode(data).body, ChargedOn) and body.done_at > after
        ]
        if charges:
            found[pack] = max(charges, key=lambda one: one.done_at)
    return found


def last_valid_before(view: Reader, moment_: dt.datetime) -> dict[str, dt.datetime]:
    """When the newest standing valid check of each pack before a moment was done."""
    p = view._position
    rows = view._raw.execute(
        "SELECT t.code, (SELECT c.done_us FROM voltage_check c WHERE c.pack = t.code AND c.valid = 1 AND c.done_us < ?"
        " AND c.position <= ? AND (c.void_position IS NULL OR c.void_position > ?)"
        " ORDER BY c.done_us DESC LIMIT 1) FROM thing t WHERE t.class = 'pack' AND t.to_position IS NULL",
        (microseconds(moment_), p, p),
    ).fetchall()
    return {pack: view.moment(at) for pack, at in rows if at is not None}


def last_looks(view: Reader) -> dict[str, dt.datetime]:
    """When each pack was last looked over, alone or with a check."""
    p = view._position
    looked: dict[str, int] = dict(
        view._raw.execute("SELECT pack, max(done_us) FROM look_over WHERE position <= ? GROUP BY pack", (p,)).fetchall()
    )
    rows = view._raw.execute(
        "SELECT l.pack, l.done_us, instr(r.bytes, ?) FROM latest_check l JOIN record r ON r.position = l.position",
        (_NO_LOOK,),
    ).fetchall()
    for pack, at, without in rows if view._newest else [(pack, 0, 1) for pack, _, _ in rows]:
        found: int | None = at
        if without:
            row = view._raw.execute(
                "SELECT max(c.done_us) FROM voltage_check c JOIN record r ON r.position = c.position"
                " WHERE c.pack = ? AND c.position <= ? AND (c.void_position IS NULL OR c.void_position > ?)"
                " AND instr(r.bytes, ?) = 0",
                (pack, p, p, _NO_LOOK),
            ).fetchone()
            found = row[0]
        if found is not None and found > looked.get(pack, found - 1):
            looked[pack] = found
    return {pack: view.moment(at) for pack, at in looked.items()}


def known_since(view: Reader, thing_class: str) -> dict[str, dt.datetime]:
    """When each thing of a class first came on record."""
    rows = view._raw.execute(
        "SELECT t.code, r.entered_us FROM (SELECT code, min(from_position) AS first FROM thing WHERE class = ?"
        " GROUP BY code) t JOIN record r ON r.position = t.first WHERE t.first <= ?",
        (thing_class, view._position),
    ).fetchall()
    return {code: view.moment(at) for code, at in rows}


def packs_ever_out(view: Reader) -> list[tuple[dt.datetime, ThingPut]]:
    """Every form of each pack that was ever out of service or away, with when that was done, oldest first."""
    rows = view._raw.execute(
        "SELECT r.bytes FROM thing t JOIN record r ON r.position = t.from_position WHERE t.class = 'pack' AND t.code IN"
        " (SELECT code FROM thing WHERE class = 'pack' AND from_position <= ?"
        " AND json_extract(body, '$.thing.standing') <> 'in_service') AND t.from_position <= ? ORDER BY t.from_position",
        (view._position, view._position),
    ).fetchall()
    found = [decode(data) for (data,) in rows]
    return [(record.done_at, record.body) for record in found if isinstance(record.body, ThingPut)]


def newest_checks(view: Reader, limit: int) -> list[tuple[dt.datetime, bool, str, str]]:
    """The newest standing checks by entry: (done at, with a loaded reading, vehicle or "", entered by)."""
    p = view._position
    rows = view._raw.execute(
        "SELECT c.done_us, c.loaded_v IS NOT NULL, coalesce(c.vehicle, ''),"
        " json_extract(CAST(r.bytes AS TEXT), '$.by') FROM voltage_check c JOIN record r ON r.position = c.position"
        " WHERE c.position <= ? AND c.batch = '' AND (c.void_position IS NULL OR c.void_position > ?)"
        " ORDER BY c.position DESC LIMIT ?",
        (p, p, limit),
    ).fetchall()
    return [(view.moment(at), bool(loaded), vehicle, by) for at, loaded, vehicle, by in rows]


def stored_readings(view: Reader, pack: str, since: dt.datetime) -> list[tuple[dt.datetime, Decimal]]:
    """Standing readings of the kind "stored" since a moment, oldest first."""
    p = view._position
    rows = view._raw.execute(
        "SELECT done_us, rested_v FROM voltage_check WHERE pack = ? AND kind = 'stored' AND done_us >= ?"
        " AND position <= ? AND (void_position IS NULL OR void_position > ?) ORDER BY done_us, position",
        (pack, microseconds(since), p, p),
    ).fetchall()
    return [(view.moment(at), Decimal(volts)) for at, volts in rows]


def packs_named_by(view: Reader, kinds: Iterable[str]) -> set[str]:
    """Packs that any record of these kinds names; of kinds that `derive` lists by kind.

    CROSS JOIN holds SQLite to this order (its manual, on the query optimizer); the other goes through every event of a pack.
    """
    rows = view._raw.execute(
        "SELECT DISTINCT e.subject FROM subject_event k CROSS JOIN subject_event e ON e.position = k.position"
        f" WHERE k.subject_class = '{KIND}' AND k.subject IN (SELECT value FROM json_each(?))"
        " AND k.position <= ? AND e.subject_class = 'pack'",
        (json.dumps(sorted(kinds)), view._position),
    ).fetchall()
    return {pack for (pack,) in rows}


def packs_that_tripped(view: Reader) -> set[str]:
    """Packs with a trip on record, however old."""
    rows = view._raw.execute("SELECT DISTINCT pack FROM trip WHERE position <= ?", (view._position,)).fetchall()
    return {pack for (pack,) in rows}


_IN_SERVICE = '"standing": "in_service"'
_ONE_BAY = '"bays": 1,'
_STANDING = '"standing":'
"""How the row of a usual pack or vehicle reads; within a text the quotes would be escaped.

Finding such letters is twice as quick as reading the row as JSON, which is done where they are not found.
"""


def packs_not_plainly_good(view: Reader, since: dt.datetime) -> set[str]:
    """Packs in vehicles now whose newest check did not pass or was done before `since`, or that are not in service."""
    at = microseconds(since)
    rows = view._raw.execute(
        "SELECT p.pack FROM placement p LEFT JOIN latest_check l ON l.pack = p.pack WHERE p.to_position IS NULL"
        " AND p.vehicle IS NOT NULL AND (l.pack IS NULL OR l.level <> 'pass' OR l.valid_us IS NULL OR l.valid_us < ?"
        " OR l.valid_us <> l.done_us) UNION SELECT code FROM thing WHERE class = 'pack' AND to_position IS NULL"
        " AND instr(body, ?) = 0 AND json_extract(body, '$.thing.standing') <> 'in_service'",
        (at, _IN_SERVICE),
    ).fetchall()
    return {pack for (pack,) in rows}


def vehicles_not_plainly_full(view: Reader) -> set[str]:
    """Vehicles that are not here, or have more or fewer packs in them than bays."""
    packs = "(SELECT count(*) FROM placement p WHERE p.vehicle = v.code AND p.to_position IS NULL)"
    rows = view._raw.execute(
        "SELECT v.code FROM thing v WHERE v.class = 'vehicle' AND v.to_position IS NULL"
        f" AND (instr(v.body, ?) = 0 OR instr(v.body, ?) > 0 OR {packs} <> 1)"
        f" AND ({packs} <> json_extract(v.body, '$.thing.bays')"
        " OR coalesce(json_extract(v.body, '$.thing.standing'), 'in_fleet') <> 'in_fleet')",
        (_ONE_BAY, _STANDING),
    ).fetchall()
    return {code for (code,) in rows}


def count_of_vehicles(view: Reader) -> int:
    """How many vehicles are on record now, here or not."""
    found: int = view._raw.execute(
        "SELECT count(*) FROM thing WHERE class = 'vehicle' AND to_position IS NULL"
    ).fetchone()[0]
    return found


def vehicles_on_record(view: Reader, codes: Iterable[str]) -> frozenset[str]:
    """Those of `codes` that are vehicles on record now."""
    rows = view._raw.execute(
        "SELECT code FROM thing WHERE class = 'vehicle' AND to_position IS NULL"
        " AND code IN (SELECT value FROM json_each(?))",
        (json.dumps(sorted(codes)),),
    ).fetchall()
    return frozenset(code for (code,) in rows)


def vehicles_of(view: Reader, packs: Iterable[str]) -> set[str]:
    """The vehicles that any of `packs` is recorded in now."""
    rows = view._raw.execute(
        "SELECT DISTINCT vehicle FROM placement WHERE pack IN (SELECT value FROM json_each(?)) AND to_position IS NULL"
        " AND vehicle IS NOT NULL",
        (json.dumps(sorted(packs)),),
    ).fetchall()
    return {vehicle for (vehicle,) in rows}
