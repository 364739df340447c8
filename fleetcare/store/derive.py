"""From one record to the derived tables: the only place that writes them."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from typing import Any, Protocol

from fleetcare.domain import checks, identity, paper_sheets, proving
from fleetcare.domain.oldrows import OldReading, row_identity
from fleetcare.domain.records import (
    BatchVoided,
    CheckCorrected,
    CheckJudged,
    FingerprintLodged,
    ImportBatch,
    LabelPrinted,
    ParkedSettled,
    Record,
    RowParked,
    SheetImport,
    ThingPut,
    Told,
    to_plain,
)
from fleetcare.domain.verdicts import VerdictLevel


class Cursor(Protocol):
    """What derive needs of a connection."""

    def execute(self, sql: str, values: tuple[Any, ...] = ()) -> Any: ...
    def executemany(self, sql: str, values: list[tuple[Any, ...]]) -> Any: ...


def microseconds(moment: dt.datetime) -> int:
    """A moment as whole microseconds since 1970 in UTC: sorts, and keeps order over clock changes."""
    delta = moment - _EPOCH
    return (delta.days * 86_400 + delta.seconds) * 1_000_000 + delta.microseconds


_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

_ADD_CHECK = (
    "INSERT INTO voltage_check (position, record_id, pack, vehicle, done_us, kind, rest, meter, rested_v, loaded_v,"
    " load_a, bench_c, resistance_ohm, valid, level, corrects, batch) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)"
)
_ADD_EVENT = "INSERT OR IGNORE INTO subject_event VALUES (?,?,?)"
_ADD_ROW = "INSERT OR IGNORE INTO import_row SELECT ?, position FROM import_batch WHERE record_id = ?"
_RENEW_LATEST = """
INSERT OR REPLACE INTO latest_check
SELECT c.pack, c.position, c.done_us, c.level, c.rested_v, c.resistance_ohm, v.done_us, v.rested_v,
  (SELECT max(p.done_us) FROM voltage_check p WHERE p.pack = c.pack AND p.void_position IS NULL
     AND p.valid = 1 AND p.level IN ('pass', 'watch'))
FROM voltage_check c
LEFT JOIN voltage_check v ON v.position = (SELECT x.position FROM voltage_check x WHERE x.pack = c.pack
  AND x.void_position IS NULL AND x.valid = 1 ORDER BY x.done_us DESC, x.position DESC LIMIT 1)
WHERE c.position = (SELECT y.position FROM voltage_check y WHERE y.pack = ? AND y.void_position IS NULL
  ORDER BY y.done_us DESC, y.position DESC LIMIT 1)
"""

_PUT_LATEST = "INSERT OR REPLACE INTO latest_check VALUES (?,?,?,?,?,?,?,?,?)"
_LATEST = (
    "SELECT position, done_us, level, rested_v, resistance_ohm, valid_us, valid_rested_v, pass_us"
    " FROM latest_check WHERE pack = ?"
)


def derive(cursor: Cursor, position: int, record: Record) -> None:
    """Bring every derived table up to date with `record` at `position`."""
    _DERIVERS.get(record.kind, _nothing)(cursor, position, record, record.body)


def derive_checks(cursor: Cursor, placed: list[tuple[int, Record]]) -> None:
    """`derive` for many records of kind voltage_check at once, as an import makes them."""
    rows, events, identities = [], [], []
    packs: set[str] = set()
    for position, record in placed:
        body: CheckJudged = record.body  # type: ignore[assignment]
        rows.append(_check_row(position, record, body, None))
        identities.append((row_identity(body.check), record.batch))
        packs.add(body.check.pack)
        events.append(("pack", body.check.pack, position))
        if body.check.vehicle is not None:
            events.append(("vehicle", body.check.vehicle, position))
    cursor.executemany(_ADD_CHECK, rows)
    cursor.executemany(_ADD_EVENT, events)
    cursor.executemany(_ADD_ROW, identities)
    latest: dict[str, Latest | None] = {pack: _latest(cursor, pack) for pack in sorted(packs)}
    for position, record in placed:
        pack = record.body.check.pack  # type: ignore[attr-defined]
        latest[pack] = _advanced(latest[pack], position, record.body)  # type: ignore[arg-type]
    cursor.executemany(_PUT_LATEST, [(pack, *row) for pack, row in latest.items() if row is not None])


def _nothing(cursor: Cursor, position: int, record: Record, body: Any) -> None:
    """Kinds that no derived table reads."""


def _event(cursor: Cursor, position: int, subject_class: str, subject: str | None) -> None:
    if subject:
        cursor.execute(_ADD_EVENT, (subject_class, subject, position))


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _check_row(position: int, record: Record, body: CheckJudged, corrects: str | None) -> tuple[Any, ...]:
    check, verdict = body.check, body.verdict
    return (
        position, record.record_id, check.pack, check.vehicle, microseconds(check.done_at), check.kind.value,
        check.rest.value, check.meter, str(check.rested_v), _text(check.loaded_v), _text(check.load_a),
        _text(check.bench_c), _text(check.resistance_ohm), int(verdict.valid), verdict.level.value, corrects,
        record.batch,
    )  # fmt: skip


def _check(cursor: Cursor, position: int, record: Record, body: CheckJudged) -> None:
    cursor.execute(_ADD_CHECK, _check_row(position, record, body, None))
    _event(cursor, position, "pack", body.check.pack)
    _event(cursor, position, "vehicle", body.check.vehicle)
    if record.batch:
        cursor.execute(_ADD_ROW, (row_identity(body.check), record.batch))
    row = _advanced(_latest(cursor, body.check.pack), position, body)
    cursor.execute(_PUT_LATEST, (body.check.pack, *row))


Latest = tuple[int, int, str, str, str | None, int | None, str | None, int | None]
"""A row of latest_check without its pack."""


def _latest(cursor: Cursor, pack: str) -> Latest | None:
    row: Latest | None = cursor.execute(_LATEST, (pack,)).fetchone()
    return row


def _advanced(old: Latest | None, position: int, body: CheckJudged) -> Latest:
    """The row of latest_check after one more check, without reading the pack's history.

    It holds what _RENEW_LATEST would find: of checks done at the same moment the later record counts.
    """
    check, verdict = body.check, body.verdict
    done_us, rested = microseconds(check.done_at), str(check.rested_v)
    newest: tuple[int, int, str, str, str | None]
    if old is None or old[1] <= done_us:
        newest = (position, done_us, verdict.level.value, rested, _text(check.resistance_ohm))
    else:
        newest = old[:5]
    valid_us, valid_v, pass_us = (None, None, None) if old is None else old[5:]
    if verdict.valid:
        if valid_us is None or valid_us <= done_us:
            valid_us, valid_v = done_us, rested
        if verdict.level in (VerdictLevel.PASS, VerdictLevel.WATCH):
            pass_us = done_us if pass_us is None else max(pass_us, done_us)
    return (*newest, valid_us, valid_v, pass_us)


def _corrected(cursor: Cursor, position: int, record: Record, body: CheckCorrected) -> None:
    pack, vehicle = cursor.execute("SELECT pack, vehicle FROM voltage_check WHERE record_id = ?", (body.of,)).fetchone()
    cursor.execute(
        "UPDATE voltage_check SET void_position = ?, void_reason = ? WHERE record_id = ?",
        (position, body.reason, body.of),
    )
    _event(cursor, position, "pack", pack)
    _event(cursor, position, "vehicle", vehicle)
    if body.judged is not None:
        cursor.execute(_ADD_CHECK, _check_row(position, record, body.judged, body.of))
        _event(cursor, position, "pack", body.judged.check.pack)
        _event(cursor, position, "vehicle", body.judged.check.vehicle)
        if body.judged.check.pack != pack:
            cursor.execute(_RENEW_LATEST, (body.judged.check.pack,))
    _renew_or_drop(cursor, pack)


def _renew_or_drop(cursor: Cursor, pack: str) -> None:
    cursor.execute("DELETE FROM latest_check WHERE pack = ?", (pack,))
    cursor.execute(_RENEW_LATEST, (pack,))


def _thing(cursor: Cursor, position: int, record: Record, body: ThingPut) -> None:
    code = body.thing.code
    cursor.execute(
        "UPDATE thing SET to_position = ? WHERE class = ? AND code = ? AND to_position IS NULL",
        (position, body.thing_class, code),
    )
    text = json.dumps(to_plain(body), ensure_ascii=False)
    cursor.execute("INSERT INTO thing VALUES (?,?,?,NULL,?)", (body.thing_class, code, position, text))
    _event(cursor, position, body.thing_class, code)


def _look_over(cursor: Cursor, position: int, record: Record, body: checks.LookOver) -> None:
    found = ",".join(item.value for item in body.found)
    cursor.execute(
        "INSERT INTO look_over VALUES (?,?,?,?,?,?)",
        (position, record.record_id, body.pack, body.vehicle, microseconds(body.done_at), found),
    )
    _event(cursor, position, "pack", body.pack)
    _event(cursor, position, "vehicle", body.vehicle)


def _trip(cursor: Cursor, position: int, record: Record, body: checks.Trip) -> None:
    cursor.execute(
        "INSERT INTO trip VALUES (?,?,?,?,?,?,?)",
        (
            position, record.record_id, body.pack, body.vehicle, microseconds(body.done_at), body.cause.value,
            int(body.explained),
        ),
    )  # fmt: skip
    _event(cursor, position, "pack", body.pack)
    _event(cursor, position, "vehicle", body.vehicle)


def _hold(cursor: Cursor, position: int, record: Record, body: checks.Hold) -> None:
    cursor.execute(
        "INSERT INTO hold VALUES (?,?,?,?,?,NULL)",
        (record.record_id, body.subject_class, body.subject, body.hold_class.value, position),
    )
    _event(cursor, position, body.subject_class, body.subject)


def _release(cursor: Cursor, position: int, record: Record, body: checks.Release) -> None:
    subject_class, subject = cursor.execute(
        "SELECT subject_class, subject FROM hold WHERE hold_id = ?", (body.hold,)
    ).fetchone()
    cursor.execute("UPDATE hold SET to_position = ? WHERE hold_id = ? AND to_position IS NULL", (position, body.hold))
    _event(cursor, position, subject_class, subject)


def _found_in(cursor: Cursor, position: int, record: Record, body: checks.FoundIn) -> None:
    """The pack is here now; whoever was recorded in the same bay is somewhere unknown.

    An entry made late says where the pack was then; what was seen later stands.
    """
    done_us = microseconds(body.done_at)
    newer = cursor.execute(
        "SELECT 1 FROM placement WHERE pack = ? AND to_position IS NULL AND since_us > ?", (body.pack, done_us)
    ).fetchone()
    if newer is not None:
        _event(cursor, position, "pack", body.pack)
        _event(cursor, position, "vehicle", body.vehicle)
        return
    if body.vehicle is not None:
        displaced = cursor.execute(
            "SELECT pack FROM placement WHERE vehicle = ? AND bay = ? AND to_position IS NULL AND pack <> ?"
            " AND since_us <= ?",
            (body.vehicle, body.bay, body.pack, done_us),
        ).fetchall()
        for (pack,) in displaced:
            _place(cursor, position, pack, None, 0, "", body.done_at, known=False)
    known = body.vehicle is not None or bool(body.shelf)
    before = cursor.execute(
        "SELECT vehicle FROM placement WHERE pack = ? AND to_position IS NULL", (body.pack,)
    ).fetchone()
    _place(cursor, position, body.pack, body.vehicle, body.bay, body.shelf, body.done_at, known=known)
    _event(cursor, position, "vehicle", body.vehicle)
    _event(cursor, position, "vehicle", before[0] if before else None)


def _place(
    cursor: Cursor, position: int, pack: str, vehicle: str | None, bay: int, shelf: str, at: dt.datetime, *, known: bool
) -> None:
    cursor.execute("DELETE FROM placement WHERE pack = ? AND from_position = ?", (pack, position))
    cursor.execute("UPDATE placement SET to_position = ? WHERE pack = ? AND to_position IS NULL", (position, pack))
    cursor.execute(
        "INSERT INTO placement VALUES (?,?,NULL,?,?,?,?,?)",
        (pack, position, vehicle, bay if vehicle else 0, shelf, microseconds(at), int(known)),
    )
    _event(cursor, position, "pack", pack)


def _batch(cursor: Cursor, position: int, record: Record, body: ImportBatch | SheetImport) -> None:
    cursor.execute("INSERT INTO import_batch VALUES (?,?,?,NULL)", (record.record_id, position, body.sha256))


STRUCK_AT_ONCE = 20_000
"""So many positions are struck by one statement: SQLite keeps what a statement changes until it ends."""


def _strike(cursor: Cursor, table: str, change: str, values: tuple[object, ...], batch: str) -> None:
    """Change what an import recorded in `table` and nothing struck yet, in parts of bounded size."""
    first, last = cursor.execute(
        f"SELECT min(position), max(position) FROM {table} WHERE batch = ?", (batch,)
    ).fetchone()
    if first is None:
        return
    field = change.split(" ")[0]
    for start in range(first, last + 1, STRUCK_AT_ONCE):  # + keeps SQLite from the index of batches, longer each time
        cursor.execute(
            f"UPDATE {table} SET {change} WHERE position >= ? AND position < ? AND +batch = ? AND {field} IS NULL",
            (*values, start, start + STRUCK_AT_ONCE, batch),
        )


def _batch_voided(cursor: Cursor, position: int, record: Record, body: BatchVoided) -> None:
    cursor.execute("UPDATE import_batch SET void_position = ? WHERE record_id = ?", (position, body.batch))
    packs: dict[str, set[str]] = defaultdict(set)
    for pack, vehicle in cursor.execute(
        "SELECT DISTINCT pack, vehicle FROM voltage_check WHERE batch = ? AND void_position IS NULL", (body.batch,)
    ).fetchall():
        packs[pack].add(vehicle)
    _strike(cursor, "voltage_check", "void_position = ?, void_reason = ?", (position, body.reason), body.batch)
    for (pack,) in cursor.execute(
        "SELECT DISTINCT pack FROM old_reading WHERE batch = ? AND void_position IS NULL", (body.batch,)
    ).fetchall():
        _event(cursor, position, "pack", pack)
    _strike(cursor, "old_reading", "void_position = ?", (position,), body.batch)
    _strike(cursor, "parked_row", "end_position = ?", (position,), body.batch)
    for pack, vehicles in packs.items():
        _renew_or_drop(cursor, pack)
        _event(cursor, position, "pack", pack)
        for vehicle in vehicles:
            _event(cursor, position, "vehicle", vehicle)


def _told(cursor: Cursor, position: int, record: Record, body: Told) -> None:
    _event(cursor, position, body.subject_class, body.subject)


def _of_pack(cursor: Cursor, position: int, record: Record, body: Any) -> None:
    """A fact about one pack that only its history reads."""
    _event(cursor, position, "pack", body.pack)


def _twin(cursor: Cursor, position: int, record: Record, body: identity.TwinFound) -> None:
    _event(cursor, position, "pack", body.pack)
    _event(cursor, position, "pack", body.other)


def _pin(cursor: Cursor, position: int, record: Record, body: identity.PinChanged | identity.NameWithheld) -> None:
    _event(cursor, position, "person", body.person)


def _clock(cursor: Cursor, position: int, record: Record, body: identity.ClockAnswered) -> None:
    _event(cursor, position, "clock", record.station)


def _meter_proof(cursor: Cursor, position: int, record: Record, body: proving.MeterProof) -> None:
    _event(cursor, position, "meter", body.meter)


def _meter_found_out(cursor: Cursor, position: int, record: Record, body: proving.MeterFoundOut) -> None:
    _event(cursor, position, "meter", body.meter)
    for pack in body.packs:
        _event(cursor, position, "pack", pack)


def _sheets_issued(cursor: Cursor, position: int, record: Record, body: paper_sheets.SheetsIssued) -> None:
    for number in body.numbers:
        _event(cursor, position, "sheet", number)


def _sheet_line(cursor: Cursor, position: int, record: Record, body: paper_sheets.SheetLine) -> None:
    _event(cursor, position, "sheet", body.sheet)
    _event(cursor, position, "pack", body.pack)
    _event(cursor, position, "vehicle", body.vehicle)


def _case(cursor: Cursor, position: int, record: Record, body: Any) -> None:
    """Kinds that are found again by what they touch and by their kind, without a table of their own."""
    for subject_class in ("pack", "vehicle", "charger"):
        _event(cursor, position, subject_class, getattr(body, subject_class, None))
    _event(cursor, position, KIND, record.kind)


def _incident(cursor: Cursor, position: int, record: Record, body: Any) -> None:
    """An incident touches everything that it names."""
    for subject_class, subject in body.items:
        _event(cursor, position, subject_class, subject)
    _event(cursor, position, KIND, record.kind)


def _inspection(cursor: Cursor, position: int, record: Record, body: Any) -> None:
    _event(cursor, position, body.subject_class, body.subject)
    _event(cursor, position, KIND, record.kind)


def _life(cursor: Cursor, position: int, record: Record, body: Any) -> None:
    """Cases along a pack's life: they may touch several packs and vehicles, a part of the stock, a replacement."""
    _case(cursor, position, record, body)
    _event(cursor, position, "part", getattr(body, "part", None))
    _event(cursor, position, "pack", getattr(body, "replacement", None))
    for code in (*getattr(body, "packs", ()), *getattr(body, "missing", ())):
        _event(cursor, position, "pack", code)
    for code in getattr(body, "vehicles", ()):
        _event(cursor, position, "vehicle", code)


KIND = "record_kind"
"""Class under which subject_event lists the records of one kind."""


def _lodged(cursor: Cursor, position: int, record: Record, body: FingerprintLodged) -> None:
    _event(cursor, position, "fleet", record.fleet_id)


def _label_issued(cursor: Cursor, position: int, record: Record, body: LabelPrinted) -> None:
    _event(cursor, position, body.thing_class, body.code)


def _policy(cursor: Cursor, position: int, record: Record, body: object) -> None:
    _event(cursor, position, "policy", "POLICY")


def _old_reading(cursor: Cursor, position: int, record: Record, body: OldReading) -> None:
    cursor.execute(
        "INSERT INTO old_reading VALUES (?,?,?,?,NULL)", (position, record.record_id, body.pack, record.batch)
    )
    _event(cursor, position, "pack", body.pack)
    cursor.execute(_ADD_ROW, (row_identity(body), record.batch))


def _parked(cursor: Cursor, position: int, record: Record, body: RowParked) -> None:
    cursor.execute(
        "INSERT INTO parked_row VALUES (?,?,?,?,NULL)", (position, record.record_id, body.reading.pack, record.batch)
    )
    cursor.execute(_ADD_ROW, (row_identity(body.reading), record.batch))


def _settled(cursor: Cursor, position: int, record: Record, body: ParkedSettled) -> None:
    cursor.execute(
        "UPDATE parked_row SET end_position = ? WHERE written = ? AND end_position IS NULL", (position, body.written)
    )


_DERIVERS = {
    "label_issued": _of_pack,
    "commissioned": _of_pack,
    "read_twice": _of_pack,
    "twin_found": _twin,
    "pin_changed": _pin,
    "name_withheld": _pin,
    "clock_answered": _clock,
    "meter_proof": _meter_proof,
    "meter_found_out": _meter_found_out,
    "sheets_issued": _sheets_issued,
    "sheet_line": _sheet_line,
    "policy_condition": _policy,
    "label_printed": _label_issued,
    "fingerprint_lodged": _lodged,
    "told": _told,
    "thing": _thing,
    "voltage_check": _check,
    "check_corrected": _corrected,
    "look_over": _look_over,
    "trip": _trip,
    "hold": _hold,
    "release": _release,
    "found_in": _found_in,
    "import_batch": _batch,
    "batch_voided": _batch_voided,
    "report": _case,
    "trip_judged": _case,
    "reset": _case,
    "quarantine_look": _case,
    "collected": _case,
    "fuse": _case,
    "walk": _case,
    "guided_job": _case,
    "charged_on": _case,
    "output_test": _case,
    "sheet_import": _batch,
    "part_moved": _life,
    "part_replaced": _life,
    "wetted": _life,
    "dried": _life,
    "hire_return": _life,
    "looked_again": _life,
    "went_missing": _life,
    "missing_noted": _life,
    "recovered": _life,
    "sent_to_maker": _life,
    "came_back": _life,
    "van_loaded": _life,
    "van_arrived": _life,
    "disposed": _life,
    "bay_cover": _life,
    "pack_stuck": _life,
    "old_reading": _old_reading,
    "row_parked": _parked,
    "parked_settled": _settled,
    "at_work": _case,
    "incident_opened": _incident,
    "incident_widened": _incident,
    "incident_closed": _incident,
    "recall_notice": _case,
    "recall_cleared": _case,
    "recall_ruled_out": _case,
    "recall_withdrawn": _case,
    "decision": _case,
    "due_extended": _case,
    "inspection": _inspection,
    "laid_up": _case,
    "lay_up_ended": _case,
    "absence": _case,
    "away": _case,
    "inspection_done": _case,
    "edge_seen": _case,
    "misfit_seen": _case,
}
