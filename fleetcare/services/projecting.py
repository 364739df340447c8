"""Project packs straight from files of checks and models, without a fleet file."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.moments import parse_date
from fleetcare.domain.projection.calibration import calibrate
from fleetcare.domain.projection.fleet import FleetFit, learn_fleet
from fleetcare.domain.projection.forecast import NEVER, Forecast, is_flat, project_all
from fleetcare.domain.projection.visits import Floats, Models, Visits
from fleetcare.domain.wording import msg, say
from fleetcare.services.file_suspects import (
    SUSPECT_COLUMNS,
    FileSuspect,
    loaded_alone,
    meter_cells,
    meters_in,
    suspects_in,
)
from fleetcare.services.meter_suspects import MeterSuspect

if TYPE_CHECKING:
    import pandas as pd

CHECK_COLUMNS = (
    "check_id", "pack_id", "model", "timestamp", "check_kind", "volts", "temperature_c", "rest_minutes", "load_a",
    "meter_id",
)  # fmt: skip
MODEL_COLUMNS = (
    "model", "chemistry", "series", "capacity_ah", "nominal_v", "charger_v", "load_a", "load_s",
    "limit_rested_full_v", "limit_loaded_v",
)  # fmt: skip
OUT_COLUMNS = (
    "pack_id", "quantity", "as_of", "comparable_checks", "reason", "level", "slope_per_30d", "horizon_days", "p10",
    "p50", "p90", "limit", "chance_beyond", "crossing_p10", "crossing_p50", "crossing_p90",
)  # fmt: skip
PAIR_MINUTES = 45
NEEDED = 6


@dataclass(frozen=True, slots=True)
class Projected:
    """How many packs were projected, how many of their readings do not fit them, and the meters that read apart."""

    packs: int
    suspects: int
    meters: tuple[MeterSuspect, ...] = ()


def project_files(
    checks: Path, models: Path, as_of: str, horizons: str, output: Path, suspects: Path | None = None
) -> Projected:
    """Write one row per pack, quantity and horizon to `output`, and to `suspects` the readings that do not fit.

    Only checks on or before `as_of` are used, in any row order; equal files give equal bytes.
    Raises FleetcareError with file, row and reason for what cannot be used.
    """
    day = parse_date(as_of, field="as_of")
    ahead = parse_horizons(horizons)
    known, model_table = _read_both(checks, models, day)
    packs, batch, kinds, limits = _batch(known, model_table, day)
    doubted = list(loaded_alone(known, PAIR_MINUTES))
    meters = sorted(set(known["meter_id"]))
    rows = {pack: list(lines) for pack, lines in _without_rested(known, packs, kinds, limits, day, ahead)}
    del known
    apart: tuple[MeterSuspect, ...] = ()
    if len(batch):
        fit, projected = _projected(batch, packs, kinds, limits, day, ahead)
        rows |= projected
        doubted += suspects_in(fit, kinds, batch, packs, meters, day)
        apart = meters_in(fit, kinds, batch, meters)
    _write(output, OUT_COLUMNS, [line for pack in sorted(rows) for line in rows[pack]])
    return _told(doubted, apart, suspects, len(rows))


def _projected(
    batch: Visits,
    packs: list[str],
    kinds: Models,
    limits: dict[str, Floats],
    day: dt.date,
    ahead: tuple[int, ...],
) -> tuple[FleetFit, dict[str, list[list[str]]]]:
    """What the fleet taught, and the rows of every pack of `batch`."""
    fit = learn_fleet(batch, kinds, int(batch.meter.max()) + 1)
    calibration = calibrate(fit, batch, ("loaded_v", "rested_full_v"))
    model = {int(p): int(m) for p, m in zip(batch.pack, batch.model, strict=True)}
    has_loaded = set(batch.pack[np.isfinite(batch.loaded_v)].tolist())
    rows: dict[str, list[list[str]]] = {pack: [] for pack in packs}
    for start, forecasts in project_all(fit, calibration, batch, len(packs), limits, ahead):
        for at in range(len(forecasts["rested_full_v"].count)):
            index = start + at
            for quantity, forecast in forecasts.items():
                if quantity == "rested_full_v" or index in has_loaded:
                    limit = float(limits[quantity][model[index]])
                    rows[packs[index]] += _rows(packs[index], at, forecast, limit, day, ahead)
    return fit, rows


def _without_rested(
    known: pd.DataFrame,
    packs: list[str],
    kinds: Models,
    limits: dict[str, Floats],
    day: dt.date,
    ahead: tuple[int, ...],
) -> Iterator[tuple[str, Iterator[list[str]]]]:
    """The packs with no rested-full reading by that day, of which nothing can be projected, each with its rows."""
    others = known[~known["pack_id"].isin(packs)]
    reason = say(msg("projection.too_few", have=0, need=NEEDED))
    for pack, own in others.groupby("pack_id"):
        model = kinds.names.index(own.sort_values("when")["model"].iloc[-1])
        read = ("rested_full_v", *(["loaded_v"] if (own["check_kind"] == "loaded").any() else []))
        yield str(pack), (
            [str(pack), quantity, day.isoformat(), "0", reason, "", "", str(days), "", "", "",
             _text(_or_none(float(limits[quantity][model]))), "", "", "", ""]
            for quantity in read for days in ahead
        )  # fmt: skip


def _told(doubted: list[FileSuspect], apart: tuple[MeterSuspect, ...], suspects: Path | None, packs: int) -> Projected:
    if suspects is not None:
        doubted.sort(key=lambda one: (one.pack, one.at))
        _write(suspects, SUSPECT_COLUMNS, [*map(meter_cells, apart), *(one.cells for one in doubted)])
    return Projected(packs, len(doubted), apart)


def read_files(checks: Path, models: Path, day: dt.date) -> tuple[list[str], Visits, Models, dict[str, Floats]]:
    """Packs, visits up to `day`, models and limits by quantity and model, from the two files."""
    return _batch(*_read_both(checks, models, day), day)


def _read_both(checks: Path, models: Path, day: dt.date) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The checks up to `day`, each once, and the models."""
    model_table = _models(models)
    table = _checks(checks, set(model_table["model"]))
    known = table[table["when"] < dt.datetime.combine(day + dt.timedelta(days=1), dt.time())]
    return known.drop_duplicates(["pack_id", "timestamp", "check_kind", "volts", "meter_id"]), model_table


def parse_horizons(text: str) -> tuple[int, ...]:
    """Whole days above zero, separated by commas."""
    parts = [part.strip() for part in text.split(",")]
    if not all(part.isascii() and part.isdigit() and int(part) > 0 for part in parts):
        raise EntryRefused("projection.bad_horizons", field="horizons", typed=text)
    return tuple(int(part) for part in parts)


def _read(path: Path, columns: tuple[str, ...]) -> pd.DataFrame:
    import pandas as pd

    try:
        table = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError, pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise FileRefused("projection.file_unreadable", file=str(path), why=str(error).strip()) from error
    for column in columns:
        if column not in table.columns:
            raise FileRefused("projection.file_column", file=path.name, column=column)
    return table


def _numbers(path: Path, table: pd.DataFrame, column: str, *, empty: bool) -> Any:
    import pandas as pd

    text = table[column].str.strip()
    values = pd.to_numeric(text, errors="coerce")
    bad = ~values.map(math.isfinite) & ~((text == "") & empty)
    if bad.any():
        at = int(bad.to_numpy().argmax())
        raise FileRefused(
            "projection.file_row", file=path.name, row=at + 2, column=column, typed=str(table[column].iloc[at])
        )
    return values


def _models(path: Path) -> pd.DataFrame:
    table = _read(path, MODEL_COLUMNS)
    for column in ("series", "capacity_ah", "charger_v", "load_a", "limit_rested_full_v", "limit_loaded_v"):
        table[column] = _numbers(path, table, column, empty=column.startswith("limit"))
    return table


def _checks(path: Path, models: set[str]) -> pd.DataFrame:
    import pandas as pd

    table = _read(path, CHECK_COLUMNS)
    for column in ("volts", "temperature_c", "rest_minutes", "load_a"):
        table[column] = _numbers(path, table, column, empty=column != "volts")
    table["when"] = pd.to_datetime(table["timestamp"], errors="coerce", format="ISO8601", utc=True).dt.tz_localize(None)
    for column, bad, key in (
        ("pack_id", table["pack_id"].str.strip() == "", "projection.file_row"),
        ("timestamp", table["when"].isna(), "projection.file_row"),
        ("model", ~table["model"].isin(list(models)), "projection.unknown_model"),
        ("check_kind", ~table["check_kind"].isin(["rested_full", "loaded", "stored"]), "projection.file_row"),
    ):
        if bad.any():
            at = int(bad.to_numpy().argmax())
            raise FileRefused(key, file=path.name, row=at + 2, column=column, typed=str(table[column].iloc[at]))
    return table


def _batch(
    known: pd.DataFrame, model_table: pd.DataFrame, day: dt.date
) -> tuple[list[str], Visits, Models, dict[str, Floats]]:
    """The packs that were read rested, their rows as visits (a loaded reading belongs to the rested one of the same pack and
    meter nearest in time), models and limits."""
    import pandas as pd

    known = known.sort_values(["when", "pack_id", "meter_id", "volts", "check_id"])
    rested, loaded = known[known["check_kind"] == "rested_full"], known[known["check_kind"] == "loaded"]
    table = pd.merge_asof(
        rested,
        loaded[["pack_id", "meter_id", "when", "volts", "load_a"]].rename(
            columns={"volts": "loaded_v", "load_a": "at_a", "when": "loaded_when"}
        ),
        left_on="when", right_on="loaded_when", by=["pack_id", "meter_id"], direction="nearest",
        tolerance=pd.Timedelta(minutes=PAIR_MINUTES),
    )  # fmt: skip
    names = list(model_table["model"])
    packs = sorted(set(table["pack_id"]))
    number = {pack: i for i, pack in enumerate(packs)}
    meters = {meter: i for i, meter in enumerate(sorted(set(known["meter_id"])))}
    model_of = known.drop_duplicates("pack_id", keep="last").set_index("pack_id")["model"]
    since = (table["when"] - pd.Timestamp(day)).dt.total_seconds() / 86_400
    column = {name: table[name].to_numpy(float) for name in ("volts", "loaded_v", "at_a", "temperature_c")}
    visits = Visits(
        pack=table["pack_id"].map(number).to_numpy(int),
        model=table["pack_id"].map(model_of).map(names.index).to_numpy(int),
        meter=table["meter_id"].map(meters).to_numpy(int),
        day=since.to_numpy(float),
        rested_v=column["volts"],
        loaded_v=column["loaded_v"],
        load_a=column["at_a"],
        temperature_c=column["temperature_c"],
        rest_minutes=table["rest_minutes"].to_numpy(float),
    ).in_order()
    number_of = {name: model_table[name].to_numpy(float) for name in ("series", "capacity_ah", "charger_v", "load_a")}
    models = Models(tuple(names), tuple(model_table["chemistry"]), **number_of)
    limits = {
        "loaded_v": model_table["limit_loaded_v"].to_numpy(float),
        "rested_full_v": model_table["limit_rested_full_v"].to_numpy(float),
    }
    return packs, visits, models, limits


def _rows(
    pack: str, index: int, forecast: Forecast, limit: float, as_of: dt.date, horizons: tuple[int, ...]
) -> Iterator[list[str]]:
    count = int(forecast.count[index])
    projected = count >= NEEDED
    quantiles = {days: values[:, index] for days, values in forecast.quantiles.items()}
    level = quantiles[0][1]
    furthest = max(horizons)
    slope = (quantiles[furthest][1] - level) / furthest * 30
    crossing = [
        None if day == NEVER else as_of + dt.timedelta(days=int(day)) for day in forecast.crossing[:, index].tolist()
    ]
    reason = "" if projected else say(msg("projection.too_few", have=count, need=NEEDED))
    if projected and is_flat(quantiles[0], quantiles[furthest], forecast.crossing[:, index].tolist()):
        reason = "no decline seen"
    for days in horizons:
        tenths = [f"{v:.4f}" for v in quantiles[days]] if projected else ["", "", ""]
        chance = f"{forecast.chance[days][index]:.4f}" if projected and math.isfinite(limit) else ""
        yield [
            pack, forecast.quantity, as_of.isoformat(), str(count), reason,
            _text(level if projected else None), _text(slope if projected else None), str(days), *tenths,
            _text(_or_none(limit)), chance,
            *("" if one is None or not projected else one.isoformat() for one in crossing),
        ]  # fmt: skip


def _or_none(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:.4f}"


def _write(output: Path, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    import csv

    from fleetcare.services.exporting import safe_cell

    try:
        fresh = output.with_name(output.name + ".new")
        with fresh.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(headings)
            writer.writerows([safe_cell(cell) for cell in row] for row in rows)
        fresh.replace(output)
    except OSError as error:
        raise FileRefused("file.not_writable", path=str(output), why=str(error)) from error
