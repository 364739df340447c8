"""Bring in a table of checks: every row is taken, refused with its reason, or known already."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from fleetcare.domain import judging, questioning
from fleetcare.domain.checks import CheckKind, Hold, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, FileRefused, FleetcareError
from fleetcare.domain.limits import resolve
from fleetcare.domain.oldrows import row_identity
from fleetcare.domain.packs import Meter, Pack, PackModel, PackStanding, SiteRules, Vehicle
from fleetcare.domain.records import BatchVoided, CheckJudged, ImportBatch, Record, new_id
from fleetcare.domain.units import parse_amps, parse_celsius, parse_volts
from fleetcare.domain.wording import Message, msg
from fleetcare.services.identify import refuse_misfit
from fleetcare.services.incidents import refuse_while_open
from fleetcare.services.record import may_check, site_rules
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.summary import meter_state
from fleetcare.services.table_files import Progress, Pulse, never, refusals
from fleetcare.services.writing import Writer
from fleetcare.store.imported import imports
from fleetcare.store.store import Store, Transaction
from fleetcare.store.zones import local

if TYPE_CHECKING:
    import pandas as pd

CHUNK = 2000
LARGEST_TABLE = 1 << 30
"""A table that is read at once may not unpack to more bytes than this."""

FIELDS: dict[str, tuple[str, ...]] = {
    "pack": ("pack", "pack_id", "pack code", "battery", "label"),
    "vehicle": ("vehicle", "bike", "found in"),
    "done_at": ("done_at", "done", "date", "timestamp", "date and time", "when"),
    "kind": ("kind", "check_kind", "check kind"),
    "rest": ("rest", "rest band", "rest_minutes", "rest min", "rest (min)"),
    "rested_v": ("rested_v", "rested", "rested v", "rested (v)", "rest v", "volts"),
    "loaded_v": ("loaded_v", "loaded", "loaded v", "loaded (v)"),
    "load_a": ("load_a", "load", "amps", "load a", "load (a)"),
    "hold_s": ("hold_s", "load_s", "seconds", "hold s", "hold (s)"),
    "bench_c": ("bench_c", "temperature_c", "bench", "temperature", "bench (c)", "bench c"),
    "meter": ("meter", "meter_id", "voltmeter"),
    "remark": ("remark", "note", "notes", "remarks"),
}
"""Headings by which a column is recognised, small letters; an explicit mapping wins."""

NEEDED = ("pack", "done_at", "rested_v", "meter")


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that was not taken: its number in the file (headings are row 1) and why."""

    row: int
    reason: Message


@dataclass(frozen=True, slots=True)
class ImportReport:
    """How a file fared; the three counts add up to its rows."""

    file_name: str
    rows: int
    taken: int
    known: int
    refused: tuple[RefusedRow, ...]
    mapping: tuple[tuple[str, str], ...]
    batch: str | None
    recorded: Recorded | None


def import_checks(
    store: Store,
    clock: Clock,
    author: Author,
    path: Path,
    mapping: dict[str, str] | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Import a CSV or XLSX table of checks in one transaction.

    `mapping` gives column headings by field name; the rest is recognised by heading.  The same file
    again adds nothing.  Raises FileRefused when the file cannot be read or a needed column is missing.
    """
    now = clock()
    data = _bytes_of(path)
    table = _table(path, data)
    columns = _columns(path, list(table.columns), mapping or {})
    with store.transaction() as tx:
        may_check(author, now, tx)
        bench = _ImportBench(tx, now)
        parsed = _parsed(table, columns, bench)
        return _take(tx, author, now, path.name, data, parsed, bench, len(table), columns, progress)


def take_back(
    store: Store,
    clock: Clock,
    author: Author,
    batch: str,
    reason: str,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = never,
) -> Recorded:
    """Take a whole import back in one act; its rows stay on record, struck."""
    now = clock()
    if not reason.strip():
        raise EntryRefused("correct.needs_reason", field="reason")
    with store.transaction() as tx, tx.heard(Pulse(cancelled, progress)):
        may_check(author, now, tx)
        known = {one.record_id: one for one in imports(tx)}
        if batch not in known:
            raise EntryRefused("oldsheet.no_import", batch=batch)
        if known[batch].void_position is not None:
            raise EntryRefused("oldsheet.already_back")
        refuse_while_open(tx, [("pack", pack) for pack in tx.packs_of_batch(batch)])
        writer = Writer(tx, author, now)
        writer.add("batch_voided", BatchVoided(batch, reason), now)
        return writer.recorded(msg("import.taken_back"))


Parsed = tuple[int, VoltageCheck | None, Message | None]


def _take(
    tx: Transaction,
    author: Author,
    now: dt.datetime,
    file_name: str,
    data: bytes,
    parsed: Iterable[Parsed],
    bench: _ImportBench,
    rows: int,
    columns: dict[str, str],
    progress: Progress | None,
) -> ImportReport:
    """Judge and append the good rows; refused and known ones are counted."""
    refused: list[RefusedRow] = []
    good: list[tuple[int, VoltageCheck]] = []
    identities: dict[bytes, int] = {}
    known = 0
    for row, check, reason in parsed:
        if reason is not None or check is None:
            refused.append(RefusedRow(row, reason or msg("import.empty_row")))
            continue
        identity = row_identity(check)
        if identity in identities:
            known += 1
            continue
        identities[identity] = row
        good.append((row, check))
    before = tx.known_rows([*identities, *bench.older.values()])
    if before:
        new = [one for one in good if {row_identity(one[1]), bench.older.get(row_identity(one[1]))}.isdisjoint(before)]
        known += len(good) - len(new)
        good = new
    report: dict[str, Any] = {"file_name": file_name, "rows": rows, "known": known, "refused": tuple(refused)}
    mapped = tuple(columns.items())
    if not good:
        return ImportReport(**report, taken=0, mapping=mapped, batch=None, recorded=None)
    good.sort(key=lambda one: (one[1].done_at, one[0]))
    writer = Writer(tx, author, now)
    batch = writer.add(
        "import_batch", ImportBatch(file_name, sha256(data).hexdigest(), len(good), len(refused), known), now
    )
    level = author.person.level_on(now.date()).value
    for start in range(0, len(good), CHUNK):
        tx.append_checks(
            [
                Record(
                    bench.fleet_id, new_id(), "voltage_check", check.done_at, now, author.person.code, level,
                    author.station, f"file:{file_name}:{row}", bench.judge(check), None, batch,
                )
                for row, check in good[start : start + CHUNK]
            ]
        )  # fmt: skip
        if progress is not None:
            progress(min(start + CHUNK, len(good)), len(good))
    _hold_newest(tx, writer, bench)
    recorded = writer.recorded(msg("import.done", taken=len(good), refused=len(refused), known=known))
    return ImportReport(**report, taken=len(good), mapping=mapped, batch=batch, recorded=recorded)


def _hold_newest(tx: Transaction, writer: Writer, bench: _ImportBench) -> None:
    """Hold a pack whose newest check on record came with this import and says so."""
    held = {(h.subject, h.hold_class) for h in tx.open_holds() if h.subject_class == "pack"}
    for pack, (check, judged) in bench.newest.items():
        verdict = judged.verdict
        if verdict.hold_class is None or verdict.hold_reason is None or (pack, verdict.hold_class) in held:
            continue
        latest = tx.latest_checks([pack])[pack]
        if latest.done_at == check.done_at:
            writer.add(
                "hold", Hold("pack", pack, verdict.hold_class, check.done_at, verdict.hold_reason), check.done_at
            )


class _ImportBench:
    """Everything rows are judged by, read once."""

    def __init__(self, tx: Transaction, now: dt.datetime) -> None:
        self.fleet_id = tx.fleet_id
        self.now = now
        self.zone = tx.zone
        self.site: SiteRules = site_rules(tx)
        self.packs: dict[str, Pack] = tx.things("pack")
        self.models: dict[str, PackModel] = tx.things("pack_model")
        self.vehicles: dict[str, Vehicle] = tx.things("vehicle")
        self.meters: dict[str, Meter] = tx.things("meter")
        self.newest: dict[str, tuple[VoltageCheck, CheckJudged]] = {}
        self.older: dict[bytes, bytes] = {}
        """By a row's identity the one under which earlier versions kept it, who took a time without an offset for UTC."""
        self._states: dict[tuple[str, dt.date], Message] = {}

    def judge(self, check: VoltageCheck) -> CheckJudged:
        """The judged check; the last row of the same pack and kind is its earlier check."""
        model = self.models[self.packs[check.pack].model]
        before = self.newest.get(check.pack)
        earlier = before[0] if before is not None and before[0].kind is check.kind else None
        verdict = judging.judge(check, None, model, self.site, self.meters[check.meter], None, earlier=earlier)
        key = (check.meter, local(check.done_at, self.zone).date())
        state = self._states.get(key)
        if state is None:
            state = self._states[key] = meter_state(self.meters[check.meter], key[1])
        judged = CheckJudged(check, verdict, state)
        self.newest[check.pack] = (check, judged)
        return judged

    def refuse(self, check: VoltageCheck) -> None:
        """Raises EntryRefused for a row that cannot be taken: the rules of typed entry, without the answers."""
        pack = self.packs.get(check.pack)
        if pack is None:
            raise EntryRefused("entry.unknown_pack", field="pack", code=check.pack)
        if pack.standing is not PackStanding.IN_SERVICE:
            raise EntryRefused(f"entry.{pack.standing.value}", field="pack", pack=pack.code)
        if check.meter not in self.meters:
            raise EntryRefused("entry.unknown_meter", field="meter", code=check.meter)
        if check.done_at > self.now:
            raise EntryRefused("entry.future", field="done_at", done_at=check.done_at, now_at=self.now)
        model = self.models[pack.model]
        if check.vehicle is not None:
            vehicle = self.vehicles.get(check.vehicle)
            if vehicle is None:
                raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=check.vehicle)
            refuse_misfit(vehicle, pack, model, None)
        self.question(check, model)

    def question(self, check: VoltageCheck, model: PackModel) -> None:
        """Raises _Asked where a reading looks like a slip."""
        if self._plausible(check, model):
            return
        for field, value in (("rested_v", check.rested_v), ("loaded_v", check.loaded_v)):
            if value is not None:
                asked = questioning.question_entry(model, self.site, field, value)
                if asked:
                    raise _Asked(asked[0].statement, field)

    def _plausible(self, check: VoltageCheck, model: PackModel) -> bool:
        limits = resolve(model, self.site)
        low, high = limits.volts("implausible_below").value, limits.volts("over_full_stop").value
        return low <= check.rested_v <= high and (check.loaded_v is None or check.loaded_v >= low)


class _Asked(FleetcareError):
    """A question that a file cannot answer."""

    def __init__(self, statement: Message, field: str) -> None:
        super().__init__("import.asked", field=field, question=statement)


def _bytes_of(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise FileRefused("import.unreadable", path=str(path), why=str(error.strerror or error)) from error


def _table(path: Path, data: bytes) -> pd.DataFrame:
    """The table as text under headings that are texts; rows longer than the headings are refused, never shifted."""
    import io
    import warnings
    import zipfile

    import pandas as pd

    with refusals(path), warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # of a workbook's ornaments, which are not read
        warnings.simplefilter("error", pd.errors.ParserWarning)
        if path.suffix.lower() in (".xlsx", ".xlsm"):
            with zipfile.ZipFile(io.BytesIO(data)) as packed:
                unpacked = sum(one.file_size for one in packed.infolist())
            if unpacked > LARGEST_TABLE:
                raise FileRefused(
                    "oldsheet.too_large", path=path.name, unpacked_gib=unpacked >> 30, most=LARGEST_TABLE >> 30
                )
            table = pd.read_excel(io.BytesIO(data), dtype=str, keep_default_na=False).fillna("")
        else:
            text = data.decode("utf-8-sig")
            separator = ";" if text.split("\n", 1)[0].count(";") > text.split("\n", 1)[0].count(",") else ","
            table = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False, sep=separator, index_col=False)
        headings = [str(heading) for heading in table.columns]
        table.columns = [name if name not in headings[:at] else f"{name}.{at}" for at, name in enumerate(headings)]
        return table


def _columns(path: Path, headings: list[str], mapping: dict[str, str]) -> dict[str, str]:
    """Column heading by field name, given or recognised; FileRefused when a needed one is missing."""
    for field, heading in mapping.items():
        if field not in FIELDS:
            raise FileRefused("import.unknown_field", field_name=field, fields=", ".join(FIELDS))
        if heading not in headings:
            raise FileRefused("import.no_column", path=path.name, column=heading, columns=", ".join(headings))
    found = dict(mapping)
    free = {heading.strip().lower(): heading for heading in headings if heading not in mapping.values()}
    for field, names in FIELDS.items():
        if field not in found:
            guessed = next((free[name] for name in names if name in free), None)
            if guessed is not None:
                found[field] = guessed
    for field in NEEDED:
        if field not in found:
            raise FileRefused("import.needed_column", path=path.name, field_name=field, columns=", ".join(headings))
    return found


def _parsed(table: pd.DataFrame, columns: dict[str, str], bench: _ImportBench) -> Iterator[Parsed]:
    fields = list(columns)
    minutes = "min" in columns.get("rest", "").lower()
    lists = [table[columns[field]].tolist() for field in fields]
    for row, values in enumerate(zip(*lists, strict=True), start=2):
        cells = dict(zip(fields, values, strict=True))
        try:
            check = _check_of(cells, minutes, bench.zone)
            bench.refuse(check)
            if dt.datetime.fromisoformat(cells["done_at"].strip()).tzinfo is None:
                in_utc = replace(check, done_at=check.done_at.replace(tzinfo=dt.UTC))
                bench.older[row_identity(check)] = row_identity(in_utc)
        except FleetcareError as error:
            yield row, None, error.message
        else:
            yield row, check, None


_KINDS = {kind.value: kind for kind in CheckKind} | {"": CheckKind.RESTED_FULL, "rested full": CheckKind.RESTED_FULL}
_RESTS = {band.value: band for band in RestBand} | {"": RestBand.UNKNOWN}


def _check_of(cells: dict[str, str], minutes: bool, zone: ZoneInfo) -> VoltageCheck:
    kind = _KINDS.get(cells.get("kind", "").strip().lower())
    if kind is None:
        raise EntryRefused("import.kind", field="kind", typed=cells["kind"], kinds=", ".join(_KINDS))
    loaded = cells.get("loaded_v", "").strip()
    amps = cells.get("load_a", "").strip() if loaded else ""
    bench = cells.get("bench_c", "").strip()
    hold = cells.get("hold_s", "").strip() if loaded else ""
    if hold and not (hold.isascii() and hold.isdigit()):
        raise EntryRefused("import.seconds", field="hold_s", typed=hold)
    return VoltageCheck(
        pack=cells["pack"].strip().upper(),
        kind=kind,
        rest=_rest_of(cells.get("rest", "").strip().lower(), minutes),
        rested_v=parse_volts(cells["rested_v"], field="rested_v"),
        done_at=_moment_of(cells["done_at"], zone),
        meter=cells["meter"].strip().upper(),
        vehicle=cells.get("vehicle", "").strip().upper() or None,
        loaded_v=parse_volts(loaded, field="loaded_v") if loaded else None,
        load_a=parse_amps(amps, field="load_a") if amps else None,
        hold_s=int(hold) if hold else None,
        bench_c=parse_celsius(bench, field="bench_c") if bench else None,
        remark=cells.get("remark", "").strip(),
    )


def _rest_of(text: str, minutes: bool) -> RestBand:
    if text in _RESTS:
        return _RESTS[text]
    try:
        rested = float(Decimal(text.replace(",", ".")))
    except ArithmeticError:
        rested = -1.0
    if not minutes or not 0 <= rested < 1e6:
        raise EntryRefused("import.rest", field="rest", typed=text, bands=", ".join(band.value for band in RestBand))
    bands = [band for band in RestBand if band.least_minutes is not None and band.least_minutes <= rested]
    return bands[-1]


def _moment_of(text: str, zone: ZoneInfo) -> dt.datetime:
    """An ISO 8601 moment with its offset as written; one without is as the clock on the depot's wall showed it."""
    try:
        at = dt.datetime.fromisoformat(text.strip())
        return at if at.tzinfo is not None else local(at.replace(tzinfo=zone), zone)
    except (ValueError, OverflowError):  # the first and the last day of all have no moment in another zone
        raise EntryRefused("import.moment", field="done_at", typed=text.strip()) from None
