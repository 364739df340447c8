"""The form in which a fact is kept for good: canonical bytes, the same on every machine.

A record is UTF-8 JSON with sorted keys, no white space and no floating-point numbers; readings are
the decimal text that was typed; moments are local time with their offset (RFC 3339), so that both
the instant and the clock on the wall can be read back.  Format 1.  Bytes once written are never
rewritten, whatever later versions of this program do.
"""

from __future__ import annotations

import datetime as dt
import json
import types
import typing
import uuid
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields, is_dataclass, replace
from decimal import Decimal
from enum import Enum
from functools import cache

from fleetcare.domain import (
    absences,
    attendance,
    away,
    bays,
    chargers,
    checks,
    decisions,
    disposing,
    fault_tree,
    fuses,
    hire_return,
    identity,
    incidents,
    inspection_plans,
    inspections,
    intake,
    laying_up,
    packs,
    paper_sheets,
    parts,
    proving,
    quarantine,
    recalls,
    replacing,
    reset_job,
    trips,
    vans,
    verdicts,
    water,
)
from fleetcare.domain.added_later import ADDED_LATER, added_later
from fleetcare.domain.extensions import DueExtended
from fleetcare.domain.oldrows import OldReading
from fleetcare.domain.wording import Message

FORMAT = 1


@dataclass(frozen=True, slots=True)
class FleetFounded:
    """The first record of every file: which fleet this is, and whether it is a demonstration."""

    fleet_name: str
    demo: bool


@dataclass(frozen=True, slots=True)
class ThingPut:
    """A new or changed thing, whole.  A person's name is not in it (see `name_apart`)."""

    thing_class: str
    thing: packs.Thing


@dataclass(frozen=True, slots=True)
class CheckJudged:
    """A voltage check with the verdict as it was told, and the meter's state on that day."""

    check: checks.VoltageCheck
    verdict: verdicts.Verdict
    meter_state: Message
    look_over: tuple[checks.LookItem, ...] | None = None
    procedure: str = added_later("")


@dataclass(frozen=True, slots=True)
class CheckCorrected:
    """Replaces (or with `judged` None voids) the check of record `of`; the first stays on record."""

    of: str
    reason: str
    judged: CheckJudged | None = None


@dataclass(frozen=True, slots=True)
class ImportBatch:
    """One imported file: its name, the SHA-256 of its bytes, and how its rows fared."""

    file_name: str
    sha256: str
    rows_taken: int
    rows_refused: int
    rows_known: int


@dataclass(frozen=True, slots=True)
class BatchVoided:
    """Takes a whole import back, leaving its trace."""

    batch: str
    reason: str


@dataclass(frozen=True, slots=True)
class Told:
    """What was printed or acted on: a sheet or a decision, with the projection as shown then."""

    subject_class: str
    subject: str
    what: str
    statement: Message


@dataclass(frozen=True, slots=True)
class FingerprintLodged:
    """The fingerprint over the first `size` records was given to somebody outside.

    `means` is "mail", "slip" or "time_stamp"; `recipient` is who keeps it.
    """

    size: int
    root_hex: str
    means: str
    recipient: str
    done_at: dt.datetime
    remark: str = ""


@dataclass(frozen=True, slots=True)
class LabelPrinted:
    """A label of an identity was printed, `copies` times; `issue` counts from 1."""

    thing_class: str
    code: str
    issue: int
    copies: int
    done_at: dt.datetime


@dataclass(frozen=True, slots=True)
class PolicyCondition:
    """A condition of the insurer's policy as the policy states it, and by what the record shows it.

    A later record with the same `code` takes its place; `to_date` None means still in force.
    """

    code: str
    text: str
    policy: str
    from_date: dt.date
    to_date: dt.date | None
    shown_by: str


@dataclass(frozen=True, slots=True)
class SheetImport:
    """One sheet of an old spreadsheet: its bytes by SHA-256, how it was read, and how its rows fared.

    `mapping` is (field, heading), `answers` what the person answered, `counts` (outcome, rows).
    """

    file_name: str
    sheet: str
    sha256: str
    size_bytes: int
    mapping: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str], ...]
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class RowParked:
    """An old row of a pack that nobody knows, kept until somebody says which pack it was."""

    reading: OldReading


@dataclass(frozen=True, slots=True)
class ParkedSettled:
    """All parked rows of `written` belong to `pack`, or to no pack of this fleet (None)."""

    written: str
    pack: str | None
    reason: str


BODY_CLASSES: dict[str, type] = {
    "fleet_founded": FleetFounded,
    "thing": ThingPut,
    "voltage_check": CheckJudged,
    "look_over": checks.LookOver,
    "trip": checks.Trip,
    "hold": checks.Hold,
    "release": checks.Release,
    "found_in": checks.FoundIn,
    "check_corrected": CheckCorrected,
    "import_batch": ImportBatch,
    "batch_voided": BatchVoided,
    "told": Told,
    "label_issued": identity.LabelIssued,
    "twin_found": identity.TwinFound,
    "commissioned": identity.Commissioned,
    "read_twice": identity.ReadTwice,
    "clock_answered": identity.ClockAnswered,
    "pin_changed": identity.PinChanged,
    "name_withheld": identity.NameWithheld,
    "meter_proof": proving.MeterProof,
    "meter_found_out": proving.MeterFoundOut,
    "sheets_issued": paper_sheets.SheetsIssued,
    "sheet_line": paper_sheets.SheetLine,
    "report": intake.Report,
    "trip_judged": trips.TripJudged,
    "reset": trips.Reset,
    "quarantine_look": quarantine.QuarantineLook,
    "collected": quarantine.Collected,
    "fuse": fuses.FuseWork,
    "walk": fault_tree.FaultWalk,
    "guided_job": reset_job.GuidedJob,
    "charged_on": chargers.ChargedOn,
    "output_test": chargers.OutputTest,
    "fingerprint_lodged": FingerprintLodged,
    "label_printed": LabelPrinted,
    "policy_condition": PolicyCondition,
    "sheet_import": SheetImport,
    "old_reading": OldReading,
    "row_parked": RowParked,
    "parked_settled": ParkedSettled,
    "at_work": attendance.AtWork,
    "incident_opened": incidents.IncidentOpened,
    "incident_widened": incidents.IncidentWidened,
    "incident_closed": incidents.IncidentClosed,
    "recall_notice": recalls.RecallNotice,
    "recall_cleared": recalls.RecallCleared,
    "recall_ruled_out": recalls.RecallRuledOut,
    "recall_withdrawn": recalls.RecallWithdrawn,
    "decision": decisions.Decision,
    "due_extended": DueExtended,
    "inspection": inspections.Inspected,
    "part_moved": parts.PartMoved,
    "part_replaced": replacing.PartReplaced,
    "wetted": water.Wetted,
    "dried": water.Dried,
    "hire_return": hire_return.HireReturn,
    "looked_again": hire_return.LookedAgain,
    "went_missing": away.WentMissing,
    "missing_noted": away.MissingNoted,
    "recovered": away.Recovered,
    "sent_to_maker": away.SentToMaker,
    "came_back": away.CameBack,
    "van_loaded": vans.VanLoaded,
    "van_arrived": vans.VanArrived,
    "disposed": disposing.Disposed,
    "bay_cover": bays.BayCover,
    "pack_stuck": bays.PackStuck,
    "laid_up": laying_up.LaidUp,
    "lay_up_ended": laying_up.LayUpEnded,
    "absence": absences.Absence,
    "away": absences.Away,
    "inspection_done": inspection_plans.InspectionDone,
    "edge_seen": inspection_plans.EdgeSeen,
    "misfit_seen": inspection_plans.MisfitSeen,
}


@dataclass(frozen=True, slots=True)
class Record:
    """One fact as appended: when done, when entered, who, with which level, where, and from what.

    `by` is a person's code, never a name.  `seen` is the position the author had seen, or None.
    `batch` is the record id of the import it belongs to, or "".
    """

    fleet_id: str
    record_id: str
    kind: str
    done_at: dt.datetime
    entered_at: dt.datetime
    by: str
    level: str
    station: str
    source: str
    body: object
    seen: int | None = None
    batch: str = ""


def new_id() -> str:
    """A fresh random identifier (RFC 9562 version 4, 32 hexadecimal digits)."""
    return uuid.uuid4().hex


def encode(record: Record) -> bytes:
    """The canonical bytes of `record`; equal records give equal bytes."""
    return canonical(
        {
            "batch": record.batch,
            "body": to_plain(record.body),
            "by": record.by,
            "done": moment_text(record.done_at),
            "entered": moment_text(record.entered_at),
            "f": FORMAT,
            "fleet": record.fleet_id,
            "id": record.record_id,
            "kind": record.kind,
            "level": record.level,
            "seen": record.seen,
            "source": record.source,
            "station": record.station,
        }
    )


_DUMP = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode


def canonical(plain: dict[str, object]) -> bytes:
    """Canonical JSON bytes of plain values."""
    return _DUMP(plain).encode("utf-8", "surrogatepass")


class UnknownKind(ValueError):
    """A record of a kind that only a newer program knows."""

    def __init__(self, kind: object) -> None:
        super().__init__(f"unknown kind of record: {kind}")
        self.kind = str(kind)


def decode(data: bytes) -> Record:
    """The record in `data`; raises UnknownKind, or ValueError for another format or a body that does not fit."""
    plain = json.loads(data)
    if not isinstance(plain, dict) or plain.get("f") != FORMAT:
        raise ValueError("record format is not 1")
    kind = plain["kind"]
    if kind not in BODY_CLASSES:
        raise UnknownKind(kind)
    return Record(
        fleet_id=plain["fleet"],
        record_id=plain["id"],
        kind=kind,
        done_at=dt.datetime.fromisoformat(plain["done"]),
        entered_at=dt.datetime.fromisoformat(plain["entered"]),
        by=plain["by"],
        level=plain["level"],
        station=plain["station"],
        source=plain["source"],
        body=from_plain(BODY_CLASSES[kind], plain["body"]),
        seen=plain["seen"],
        batch=plain["batch"],
    )


def moment_text(moment: dt.datetime) -> str:
    """RFC 3339 text with offset; ValueError without one."""
    if moment.tzinfo is None:
        raise ValueError("a moment needs its offset")
    return moment.isoformat()


Plain = Callable[[typing.Any], object]


def _same(value: object) -> object:
    return value


def _list(value: typing.Any) -> object:
    return [to_plain(one) for one in value]


def _message(value: Message) -> object:
    return {"key": value.key, "values": {name: _typed(one) for name, one in value.values}}


def _thing_put(value: ThingPut) -> object:
    return {"thing": to_plain(name_apart(value.thing)), "thing_class": value.thing_class}


_PLAIN: dict[type, Plain] = {
    type(None): _same,
    bool: _same,
    int: _same,
    str: _same,
    Decimal: str,
    float: "{:.4g}".format,
    dt.date: dt.date.isoformat,
    tuple: _list,
    list: _list,
    Message: _message,
    ThingPut: _thing_put,
}
"""How each type is written; enums and dataclasses are added as they are met."""


def _plain_for(cls: type) -> Plain:
    if issubclass(cls, Enum):
        return lambda value: value.value
    if issubclass(cls, dt.datetime):
        return moment_text
    if is_dataclass(cls):
        names = tuple(field.name for field in fields(cls) if not field.metadata.get(ADDED_LATER))
        later = tuple((field.name, field.default) for field in fields(cls) if field.metadata.get(ADDED_LATER))

        def write(value: typing.Any) -> object:
            plain = {name: to_plain(getattr(value, name)) for name in names}
            for name, default in later:
                one = getattr(value, name)
                if one != default:
                    plain[name] = to_plain(one)
            return plain

        return write
    raise TypeError(f"no canonical form for {cls.__name__}")


def to_plain(value: object) -> object:
    """`value` as JSON-ready plain values.  A float (a computed chance) is kept as text of 4 digits."""
    cls = value.__class__
    write = _PLAIN.get(cls)
    if write is None:
        write = _PLAIN[cls] = _plain_for(cls)
    return write(value)


def name_apart(thing: packs.Thing) -> packs.Thing:
    """The thing as it enters a leaf: a person without the name, so that a name can be withheld."""
    if isinstance(thing, packs.Person):
        return replace(thing, name="")
    return thing


_TAGS = ((bool, "b"), (Enum, "s"), (int, "i"), (Decimal, "d"), (dt.datetime, "t"), (dt.date, "y"), (str, "s"))


def _typed(value: object) -> object:
    """A message value with its type written down: {"d": "41.38"}."""
    if value is None:
        return None
    if isinstance(value, Message):
        return {"m": to_plain(value)}
    if isinstance(value, (tuple, list)):
        return {"l": [_typed(one) for one in value]}
    if isinstance(value, float):
        return {"f": repr(value)}
    for cls, tag in _TAGS:
        if isinstance(value, cls):
            return {tag: to_plain(value)}
    raise TypeError(f"no canonical form for {type(value).__name__}")


def _untyped(value: object) -> object:
    if value is None:
        return None
    ((tag, one),) = value.items()  # type: ignore[attr-defined]
    match tag:
        case "m":
            return message_from(one)
        case "l":
            return tuple(_untyped(part) for part in one)
        case "f":
            return float(one)
        case "d":
            return Decimal(one)
        case "t":
            return dt.datetime.fromisoformat(one)
        case "y":
            return dt.date.fromisoformat(one)
        case _:
            return one


def message_from(plain: dict[str, typing.Any]) -> Message:
    """A message from its plain form."""
    return Message(plain["key"], tuple((name, _untyped(v)) for name, v in sorted(plain["values"].items())))


@cache
def _readers(cls: type) -> tuple[tuple[str, typing.Any], ...]:
    hints = typing.get_type_hints(cls)
    return tuple((f.name, _reader(hints[f.name])) for f in fields(cls))


@cache
def _reader(hint: typing.Any) -> typing.Callable[[typing.Any], typing.Any]:
    """The function that reads one plain value back as `hint`."""
    origin = typing.get_origin(hint)
    if origin in (typing.Union, types.UnionType):
        inner = [one for one in typing.get_args(hint) if one is not type(None)]
        read = _reader(inner[0])
        return lambda v: None if v is None else read(v)
    if origin is tuple:
        args = typing.get_args(hint)
        if len(args) == 2 and args[1] is Ellipsis:
            read = _reader(args[0])
            return lambda v: tuple([read(one) for one in v])
        reads = [_reader(one) for one in args]
        return lambda v: tuple([r(one) for r, one in zip(reads, v, strict=True)])
    if hint is Message:
        return message_from
    if hint is Decimal:
        return Decimal
    if hint is dt.datetime:
        return dt.datetime.fromisoformat
    if hint is dt.date:
        return dt.date.fromisoformat
    if hint is float:
        return float
    if isinstance(hint, type) and issubclass(hint, Enum):
        return hint
    if is_dataclass(hint):
        return lambda v: from_plain(hint, v)
    return lambda v: v


def many_from_plain(cls: type, plains: typing.Sequence[dict[str, typing.Any]]) -> list[typing.Any]:
    """As `from_plain` for many of one class, column by column: a value that comes again is read once."""
    columns = []
    for part in fields(cls):
        read, column = _readers_by_name(cls)[part.name], [plain.get(part.name, _NOTHING) for plain in plains]
        try:
            distinct = set(column)
        except TypeError:  # lists and objects
            columns.append([_default_of(part) if value is _NOTHING else read(value) for value in column])
            continue
        known = {value: _default_of(part) if value is _NOTHING else read(value) for value in distinct}
        columns.append([known[value] for value in column])
    return [cls(*values) for values in zip(*columns, strict=True)]


_NOTHING = object()


@cache
def _readers_by_name(cls: type) -> dict[str, typing.Any]:
    return dict(_readers(cls))


def _default_of(part: typing.Any) -> typing.Any:
    """What stands for a field that is missing from older bytes."""
    if part.default_factory is not MISSING:
        return part.default_factory()
    if part.default is MISSING:
        raise TypeError(f"missing field {part.name}")
    return part.default


def field_not_known(value: object, plain: typing.Any) -> str:
    """The first name in the plain form of `value` that its class does not have, in things within it too; "" where it has all."""
    if isinstance(value, tuple) and isinstance(plain, list):
        return next(filter(None, map(field_not_known, value, plain)), "")
    if isinstance(value, Message) or not is_dataclass(value) or not isinstance(plain, dict):
        return ""
    names = {one.name for one in fields(value)}
    strange = sorted(plain.keys() - names)
    if strange:
        return strange[0]
    return next(filter(None, (field_not_known(getattr(value, name), plain[name]) for name in names & plain.keys())), "")


def from_plain(cls: type, plain: typing.Any) -> typing.Any:
    """A `cls` from its plain form.  A field missing from older bytes takes its default."""
    if cls is ThingPut:
        thing_class = plain["thing_class"]
        return ThingPut(thing_class, from_plain(packs.THING_CLASSES[thing_class], plain["thing"]))
    return cls(**{name: read(plain[name]) for name, read in _readers(cls) if name in plain})
