"""Bring in measured histories of single cells, scaled to packs, ready to project and print."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.errors import FileRefused, FleetcareError
from fleetcare.domain.packs import Chemistry, Meter, Pack, PackModel, SiteRules
from fleetcare.domain.wording import msg
from fleetcare.services import importing
from fleetcare.services.importing import ImportReport, Parsed
from fleetcare.services.record import may_check
from fleetcare.services.session import Author, Clock
from fleetcare.services.table_files import Progress
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "cell_id",
    "cycle",
    "elapsed_days",
    "check_kind",
    "volts",
    "temperature_c",
    "load_a",
    "rest_h",
    "load_s",
    "note",
)
METER = "M-CELL1"


def import_measured(
    store: Store,
    clock: Clock,
    author: Author,
    path: Path,
    *,
    series: int,
    progress: Progress | None = None,
) -> ImportReport:
    """Import cell histories as packs of `series` groups: volts times `series`, to the 0.01 V of a meter.

    The model, one pack a cell and the meter are recorded with the checks, in one transaction.  Without
    dates in the source one cycle is one day; each cell's newest check is dated yesterday.  Rested-full and loaded
    readings of one cycle become one check; rows noted as suspect are refused, other kinds too, and loaded readings that
    have no rested-full one, or a later loaded one, in their cycle.
    """
    if not 1 <= series <= 30:
        raise FileRefused("import.measured_series", typed=str(series))
    now = clock()
    data = importing._bytes_of(path)
    table = importing._table(path, data)
    for column in COLUMNS:
        if column not in table.columns:
            raise FileRefused("import.measured_column", path=path.name, column=column, columns=", ".join(COLUMNS))
    with store.transaction() as tx:
        may_check(author, now, tx)
        writer = Writer(tx, author, now)
        _things(tx, writer, table, path, series, now)
        bench = importing._ImportBench(tx, now)
        parsed = list(_checks(table, series, now, bench))
        mapping = {name: name for name in COLUMNS}
        return importing._take(tx, author, now, path.name, data, parsed, bench, len(parsed), mapping, progress)


def pack_code(cell: str) -> str:
    """The pack's code for a cell of the file."""
    short = "".join(c for c in cell.upper() if c.isalnum())[:12]
    return f"P-{short}"


def model_code(path: Path, series: int) -> str:
    """The model's code for a file of cells."""
    return f"{path.stem.upper().replace('_', '-')[:20]}-{series}S"


def _things(tx: Any, writer: Writer, table: pd.DataFrame, path: Path, series: int, now: dt.datetime) -> None:
    if tx.thing("site_rules", "SITE") is None:
        writer.add_thing("site_rules", SiteRules())
    code = model_code(path, series)
    if tx.thing("pack_model", code) is None:
        full = Decimal("4.20") * series
        writer.add_thing(
            "pack_model",
            PackModel(code, f"measured cells, {series} groups", Chemistry.NMC, series, round(float(full) * 0.86), full,
                      Decimal("2.0"), "BENCH"),
        )  # fmt: skip
    if tx.thing("meter", METER) is None:
        writer.add_thing("meter", Meter(METER, "laboratory meter", Decimal("0.05"), 1, Decimal("0.01")))
    known = tx.things("pack")
    for cell in dict.fromkeys(table["cell_id"]):
        if pack_code(cell) not in known:
            writer.add_thing("pack", Pack(pack_code(cell), code, serial=cell, note=f"measured cell {cell}"))


def _checks(table: pd.DataFrame, series: int, now: dt.datetime, bench: Any) -> Iterator[Parsed]:
    """One check per cell and cycle, in the order of the file."""
    start = now.replace(hour=9, minute=0, second=0, microsecond=0)
    last: dict[str, float] = {}
    for row in table.itertuples():
        with suppress(ValueError):  # the row itself is refused below
            last[row.cell_id] = max(last.get(row.cell_id, 0.0), _day_of(row))
    loaded = {
        (row.cell_id, row.cycle): row
        for row in table.itertuples()
        if row.check_kind == "loaded" and "suspect" not in row.note
    }
    rested = {
        (row.cell_id, row.cycle)
        for row in table.itertuples()
        if row.check_kind == "rested_full" and "suspect" not in row.note
    }
    for number, row in enumerate(table.itertuples(), start=2):
        if row.check_kind not in ("rested_full", "loaded"):
            yield number, None, msg("import.kind", typed=row.check_kind, kinds="rested_full, loaded")
        elif "suspect" in row.note:
            yield number, None, msg("import.suspect")
        elif row.check_kind == "loaded" and (row.cell_id, row.cycle) not in rested:
            yield number, None, msg("import.loaded_alone", cell=row.cell_id, cycle=row.cycle)
        elif row.check_kind == "loaded" and loaded[row.cell_id, row.cycle].Index != row.Index:
            yield number, None, msg("import.loaded_twice", cell=row.cell_id, cycle=row.cycle)
        elif row.check_kind == "rested_full":
            try:
                at = start - dt.timedelta(days=1 + last[row.cell_id] - _day_of(row))
                check = _check_of(row, loaded.get((row.cell_id, row.cycle)), series, at)
                bench.refuse(check)
            except FleetcareError as error:
                yield number, None, error.message
            except (ValueError, ArithmeticError, KeyError):
                yield number, None, msg("import.measured_number")
            else:
                yield number, check, None


def _day_of(row: Any) -> float:
    """Elapsed days, or the cycle number where the source has no dates."""
    return _finite(row.elapsed_days or row.cycle)


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(text)
    return number


def _decimal(text: str) -> Decimal:
    _finite(text)
    return Decimal(text)


def _volts(text: str, series: int) -> Decimal:
    return (_decimal(text) * series).quantize(Decimal("0.01"))


def _check_of(row: Any, loaded: Any, series: int, at: dt.datetime) -> VoltageCheck:
    band = RestBand.UNKNOWN
    if row.rest_h:
        minutes = _finite(row.rest_h) * 60
        band = next((b for b in reversed(RestBand) if b.least_minutes is not None and b.least_minutes <= minutes), band)
    return VoltageCheck(
        pack=pack_code(row.cell_id),
        kind=CheckKind.RESTED_FULL,
        rest=band,
        rested_v=_volts(row.volts, series),
        done_at=at,
        meter=METER,
        loaded_v=None if loaded is None else _volts(loaded.volts, series),
        load_a=None if loaded is None else _decimal(loaded.load_a),
        hold_s=None if loaded is None or not loaded.load_s else round(_finite(loaded.load_s)),
        bench_c=_decimal(row.temperature_c) if row.temperature_c else None,
    )
