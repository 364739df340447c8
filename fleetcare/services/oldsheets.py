"""Old spreadsheets: look at one, say what would come in, and bring it in as one act.

Every row that is not blank has exactly one outcome, and the outcomes add up to the rows:
`checks` judged as they stand, `kept` on record but feeding no verdict and no projection, `parked`
because nobody knows the pack, `repeat` said twice in the file, `known` from an earlier import,
`refused` with a reason, and, in a preview only, `asked` until a person has answered.
"""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path

from fleetcare.domain.checks import VoltageCheck
from fleetcare.domain.errors import FileRefused, FleetcareError
from fleetcare.domain.oldrows import (
    FIELDS,
    NEEDED,
    VOLTS,
    DateOrder,
    OldReading,
    alike_codes,
    guess_columns,
    meant,
    millivolt_heading,
    order_shown,
    row_identity,
    two_readings,
)
from fleetcare.domain.records import Record, RowParked, SheetImport, from_plain, new_id, to_plain
from fleetcare.domain.wording import Message, msg
from fleetcare.services import table_files
from fleetcare.services.brought_before import as_before
from fleetcare.services.importing import _hold_newest, _ImportBench
from fleetcare.services.oldrow import Asked, Refused, classify, looks_like_millivolts, read_row
from fleetcare.services.record import may_check
from fleetcare.services.refused_rows import MOST, RefusedRow
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.table_files import Progress, Pulse, never
from fleetcare.services.writing import Writer
from fleetcare.store.derive import microseconds
from fleetcare.store.imported import keep_source
from fleetcare.store.staging import RowStage
from fleetcare.store.store import Store, Transaction, View

OUTCOMES = ("checks", "kept", "parked", "repeat", "known", "refused", "asked")
SAMPLE_ROWS = 200
CHUNK = 200
"""So many rows are put on record at a time; between two times Stop is looked at."""
EXAMPLES = 500
TELL_EVERY = 200
"""So many rows are done between two looks at Stop: half a second on a PC that is busy with ten other things."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How one sheet is to be read: which column is which field, and what was answered."""

    sheet: str
    heading_row: int
    headings: tuple[str, ...]
    columns: dict[str, int]
    order: DateOrder | None = None
    millivolts: bool | None = None

    def heading(self, name: str) -> str:
        """The heading of a field's column."""
        return self.headings[self.columns[name]]

    def milli(self, name: str) -> bool:
        """True where the heading of this field's column says millivolts."""
        return name in VOLTS and millivolt_heading(self.heading(name))


@dataclass(frozen=True, slots=True)
class Survey:
    """What a file looks like: its sheets, the headings found, the first rows, and a plan as guessed."""

    path: Path
    sheets: tuple[str, ...]
    plan: Plan
    samples: tuple[tuple[int, tuple[str, ...]], ...]
    above: int


@dataclass(frozen=True, slots=True)
class Question:
    """Something that only a person can answer, with real rows to decide by."""

    about: str
    statement: Message
    examples: tuple[Message, ...]
    answered: bool


@dataclass(frozen=True, slots=True)
class Example:
    """One row of the preview: its number, its outcome, and why."""

    row: int
    outcome: str
    reason: Message


@dataclass(slots=True)
class Preview:
    """What would come in.  `counts` has every outcome and adds up to `rows`; nothing is written yet."""

    path: Path
    plan: Plan
    sha256: str
    size_bytes: int
    position: int
    questions: tuple[Question, ...]
    order: DateOrder | None
    counts: Counter[str] = field(default_factory=Counter)
    examples: list[Example] = field(default_factory=list)
    refused: list[RefusedRow] = field(default_factory=list)
    """The refused rows with their cells, the first MOST of them."""
    stage: RowStage = field(default_factory=RowStage)
    alike: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """Rows below the headings that are not blank."""
        return sum(self.counts.values())

    @property
    def taken(self) -> int:
        """Rows that would become records."""
        return self.counts["checks"] + self.counts["kept"] + self.counts["parked"]

    def close(self) -> None:
        """Forget the rows that were staged."""
        self.stage.close()


@dataclass(frozen=True, slots=True)
class Brought:
    """The result of an import; `batch` is None when the file added nothing."""

    file_name: str
    counts: dict[str, int]
    batch: str | None
    recorded: Recorded | None


def survey(
    store: Store,
    path: Path,
    sheet: str | None = None,
    cancelled: Callable[[], bool] = never,
    progress: Progress | None = None,
) -> Survey:
    """Look at the beginning of a sheet and guess what its columns mean.

    `progress` is called with the parts of the file that were passed over, and all of them, where a list of its sheets
    stands nowhere (ODS).
    """
    go_on = Pulse(cancelled, progress)
    names = table_files.sheet_names(path, go_on, go_on.at)
    go_on.at(0, 0)
    if sheet is None:
        sheet = names[0] if names else ""
    first = [(number, tuple(cells)) for number, cells in islice(table_files.rows(path, sheet, go_on), SAMPLE_ROWS)]
    if not first:
        raise FileRefused("oldsheet.empty", path=path.name)
    with store.view() as view:
        packs = set(view.codes("pack"))
    found = [len(guess_columns(cells, (), ())) for _, cells in first[:15]]
    at = found.index(max(found)) if max(found) >= 2 else 0
    row, headings = first[at]
    samples = tuple(first[at + 1 :])
    columns = guess_columns(headings, [cells for _, cells in samples], packs)
    return Survey(path, names, Plan(sheet, row, headings, columns), samples, at)


def with_columns(plan: Plan, named: dict[str, str]) -> Plan:
    """The plan with columns named by their headings; an empty heading takes a field out."""
    columns = dict(plan.columns)
    for name, heading in named.items():
        if name not in FIELDS:
            raise FileRefused("import.unknown_field", field_name=name, fields=", ".join(FIELDS))
        columns.pop(name, None)
        if heading:
            if heading not in plan.headings:
                raise FileRefused(
                    "import.no_column", path=plan.sheet or "…", column=heading, columns=", ".join(plan.headings)
                )
            columns[name] = plan.headings.index(heading)
    return replace(plan, columns=columns)


def preview(
    store: Store,
    clock: Clock,
    path: Path,
    plan: Plan,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = never,
) -> Preview:
    """Read the whole sheet and count what each row would become.  Nothing is written to the fleet."""
    missing = [name for name in NEEDED if name not in plan.columns]
    if missing:
        raise FileRefused("oldsheet.needed_column", needed=tuple(msg(f"oldsheet.field_{name}") for name in missing))
    pulse = Pulse(cancelled, progress)
    pulse()
    digest, size = table_files.digest_of(path, pulse)
    with store.view() as view:
        plan = as_before(view, digest, plan)
    stage = RowStage()
    try:
        twice = table_files.is_slow(path)
        asked, order = _evidence(path, plan, stage if twice else None, pulse)
        with store.view() as view:
            bench = _ImportBench(view, clock())  # type: ignore[arg-type]
            zone = depot_zone(view)
            made = Preview(path, replace(plan, order=order), digest, size, view.position, asked, order, stage=stage)
            made.alike = alike_codes(bench.packs)
            pulse.at(0, 0)
            body = stage.cells() if twice else _body(path, plan, pulse)
            for done, (row, cells) in enumerate(body, start=1):
                outcome, reason = _stage(made, view, bench, zone, row, cells)
                made.counts[outcome] += 1
                if reason is not None and len(made.examples) < EXAMPLES:
                    made.examples.append(Example(row, outcome, reason))
                if outcome == "refused" and reason is not None and len(made.refused) < MOST:
                    made.refused.append(RefusedRow(row, reason, tuple(cells)))
                pulse.at(done, 0)
                if done % TELL_EVERY == 0:
                    pulse()
        stage.forget_cells()
    except BaseException:
        stage.close()
        raise
    return made


def bring_in(
    store: Store,
    clock: Clock,
    author: Author,
    shown: Preview,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = never,
) -> Brought:
    """Write what the preview showed, in one transaction; the file's own bytes are kept with it.

    Raises FileRefused when a question is open or the file was changed since it was shown.
    """
    now = clock()
    may_check(author, now)
    if shown.counts["asked"]:
        raise FileRefused("oldsheet.answer_first", rows=shown.counts["asked"])
    pulse = Pulse(cancelled, progress if shown.taken else None)
    pulse.at(0, shown.taken)
    if table_files.digest_of(shown.path, pulse)[0] != shown.sha256:
        raise FileRefused("oldsheet.changed", path=shown.path.name)
    name = shown.path.name
    with store.transaction() as tx:
        may_check(author, now, tx)
        as_before(tx, shown.sha256, shown.plan)
        bench = _ImportBench(tx, now)
        counts = dict(shown.counts) if tx.position == shown.position else _recount(tx, bench, shown, pulse)
        if not sum(counts.get(one, 0) for one in ("checks", "kept", "parked")):
            return Brought(name, counts, None, None)
        writer = Writer(tx, author, now)
        body = _import_record(shown, counts)
        batch = writer.add("sheet_import", body, now)
        keep_source(tx, shown.sha256, table_files.parts_of(shown.path, pulse))
        total = sum(counts.get(one, 0) for one in ("checks", "kept", "parked"))
        records: list[Record] = []
        done = 0
        pulse.at(done, total)
        for row, reading in _staged(shown, pulse):
            if tx.position > shown.position + 1 and tx.known_rows([row_identity(reading)]):
                continue
            made = record_of(tx, author, bench, now, reading, _source(shown, row), batch)
            if made is not None:
                records.append(made)
            if len(records) == CHUNK:
                done += tx.append_checks(records)
                records = []
                pulse.at(done, total)
                pulse()
        done += tx.append_checks(records)
        pulse.at(done, done)  # as many as it became, whatever was counted before
        pulse()  # the last look at Stop: what comes now is one act of the disk
        _hold_newest(tx, writer, bench)
        told = msg("oldsheet.done", **{one: counts.get(one, 0) for one in OUTCOMES[:-1]})
        return Brought(name, counts, batch, writer.recorded(told))


def record_of(
    tx: Transaction, author: Author, bench: _ImportBench, now: dt.datetime, reading: OldReading, source: str, batch: str
) -> Record | None:
    """The record that an old reading becomes now, or None when it is refused."""
    try:
        what = classify(bench, reading)
    except Refused:
        return None
    kind, body = "voltage_check", what
    if isinstance(what, VoltageCheck):
        body = bench.judge(what)  # type: ignore[assignment]
    elif reading.pack in bench.packs:
        kind = "old_reading"
    else:
        kind, body = "row_parked", RowParked(reading)  # type: ignore[assignment]
    level = author.person.level_on(now.date()).value
    return Record(
        tx.fleet_id, new_id(), kind, reading.done_at, now, author.person.code, level, author.station, source, body,
        None, batch,
    )  # fmt: skip


# the parts


def depot_zone(view: View) -> dt.tzinfo:
    """The depot's own zone, in which an old sheet without offsets is read."""
    return view.zone


def _body(path: Path, plan: Plan, heartbeat: Callable[[], None]) -> Iterable[tuple[int, list[str]]]:
    return ((row, cells) for row, cells in table_files.rows(path, plan.sheet, heartbeat) if row > plan.heading_row)


def _cells(plan: Plan, cells: list[str]) -> dict[str, str]:
    return {name: cells[number] if number < len(cells) else "" for name, number in plan.columns.items()}


def _evidence(
    path: Path, plan: Plan, stage: RowStage | None, pulse: Pulse
) -> tuple[tuple[Question, ...], DateOrder | None]:
    """What must be asked, and the order of day and month where the file itself proves it.

    Rows are kept in `stage`, if given, so that the file need not be read twice.
    """
    proof: Counter[DateOrder] = Counter()
    unclear: list[Message] = []
    milli: list[Message] = []
    milli_rows = 0
    for done, (row, cells) in enumerate(_body(path, plan, pulse), start=1):
        pulse.at(done, 0)
        if done % TELL_EVERY == 0:
            pulse()
        if stage is not None:
            stage.keep_cells(row, cells)
        read = _cells(plan, cells)
        shown = order_shown(read["done_at"])
        if shown is not None:
            proof[shown] += 1
        elif len(unclear) < 3:
            two = two_readings(read["done_at"])
            if two is not None:
                unclear.append(
                    msg(
                        "oldsheet.two_dates", row=row, typed=read["done_at"].strip(), day_date=two[0], month_date=two[1]
                    )
                )
        for name in VOLTS:
            if name in read and not plan.milli(name) and (volts := looks_like_millivolts(read[name])) is not None:
                milli_rows += 1
                if len(milli) < 3:
                    milli.append(msg("oldsheet.milli_row", row=row, typed=read[name].strip(), as_v=volts))
    asked = []
    order = plan.order or (next(iter(proof)) if len(proof) == 1 else None)
    if unclear and len(proof) != 1:
        statement = msg("oldsheet.ask_both" if proof else "oldsheet.ask_order")
        asked.append(Question("order", statement, tuple(unclear), plan.order is not None))
    if milli:
        statement = msg("oldsheet.ask_milli", rows=milli_rows)
        asked.append(Question("millivolts", statement, tuple(milli), plan.millivolts is not None))
    return tuple(asked), order


def _stage(
    made: Preview, view: View, bench: _ImportBench, zone: dt.tzinfo, row: int, cells: list[str]
) -> tuple[str, Message | None]:
    """Decide one row and keep it when it would become a record."""
    plan = made.plan
    try:
        reading = read_row(
            _cells(plan, cells), plan.milli, plan.order, plan.millivolts, zone, plan.columns, plan.heading
        )
        what = classify(bench, reading)
    except Asked as asked:
        return "asked", asked.message
    except FleetcareError as error:
        return "refused", error.message
    identity = row_identity(reading)
    if not made.stage.first_time(identity):
        return "repeat", None
    if view.known_rows([identity]):
        return "known", None
    data = json.dumps(to_plain(reading), ensure_ascii=False).encode("utf-8", "surrogatepass")
    made.stage.add(microseconds(reading.done_at), row, data)
    if isinstance(what, VoltageCheck):
        return "checks", None
    if reading.pack not in bench.packs:
        likely = meant(reading.pack, made.alike)
        if likely:
            return "parked", msg("oldsheet.parked_meant", written=reading.pack, packs=likely)
        return "parked", msg("oldsheet.parked", written=reading.pack)
    return "kept", what.why


def _staged(shown: Preview, heartbeat: Callable[[], None]) -> Iterable[tuple[int, OldReading]]:
    return ((row, from_plain(OldReading, json.loads(data))) for row, data in shown.stage.in_order(heartbeat))


def _recount(tx: Transaction, bench: _ImportBench, shown: Preview, heartbeat: Callable[[], None]) -> dict[str, int]:
    """The counts as they are now: something was recorded between the preview and the yes."""
    counts = Counter({one: shown.counts[one] for one in ("repeat", "known", "refused")})
    for _, reading in _staged(shown, heartbeat):
        if tx.known_rows([row_identity(reading)]):
            counts["known"] += 1
            continue
        try:
            what = classify(bench, reading)
        except Refused:
            counts["refused"] += 1
            continue
        kept = "kept" if reading.pack in bench.packs else "parked"
        counts["checks" if isinstance(what, VoltageCheck) else kept] += 1
    return dict(counts)


def _import_record(shown: Preview, counts: dict[str, int]) -> SheetImport:
    plan = shown.plan
    answers = [("order", plan.order.value)] if plan.order is not None else []
    if plan.millivolts is not None:
        answers.append(("millivolts", "yes" if plan.millivolts else "no"))
    mapping = tuple((name, plan.heading(name)) for name in FIELDS if name in plan.columns)
    numbers = tuple((one, counts.get(one, 0)) for one in OUTCOMES[:-1])
    return SheetImport(shown.path.name, plan.sheet, shown.sha256, shown.size_bytes, mapping, tuple(answers), numbers)


def _source(shown: Preview, row: int) -> str:
    sheet = f"[{shown.plan.sheet}]" if shown.plan.sheet else ""
    return f"file:{shown.path.name}{sheet}:{row}"
