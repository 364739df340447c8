"""Project packs straight from files of checks and models, without a fleet file."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetcare.domain import temperature
from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.projection.answer import Projection, Reading
from fleetcare.domain.projection.line import project_line
from fleetcare.domain.wording import say

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
REFERENCE_C = 25.0
PAIR_MINUTES = 45
LEAST_REST_MINUTES = 30
NEEDED = 6


def project_files(checks: Path, models: Path, as_of: str, horizons: str, output: Path) -> int:
    """Write one row per pack, quantity and horizon to `output`; returns how many packs.

    Only checks on or before `as_of` are used, in any row order; equal files give equal bytes.
    Raises FleetcareError with file, row and reason for what cannot be used.
    """
    day = parse_day(as_of)
    ahead = parse_horizons(horizons)
    model_table = _models(models)
    table = _checks(checks, set(model_table["model"]))
    known = table[table["when"] < dt.datetime.combine(day + dt.timedelta(days=1), dt.time())]
    known = known.drop_duplicates(["pack_id", "timestamp", "check_kind", "volts", "meter_id"])
    limits = {row.model: row for row in model_table.itertuples()}
    rows: list[list[str]] = []
    packs = sorted(set(known["pack_id"]))
    for pack in packs:
        own = known[known["pack_id"] == pack].sort_values(["when", "check_kind", "check_id"])
        model = limits[own["model"].iloc[-1]]
        for projection in _projections(own, model, day, ahead):
            rows += _rows(pack, projection, ahead)
    _write(output, rows)
    return len(packs)


def parse_day(text: str) -> dt.date:
    """A date typed as YYYY-MM-DD."""
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise EntryRefused("projection.bad_date", field="as_of", typed=text) from None


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
    for column in ("series", "load_a", "limit_rested_full_v", "limit_loaded_v"):
        table[column] = _numbers(path, table, column, empty=column.startswith("limit"))
    return table


def _checks(path: Path, models: set[str]) -> pd.DataFrame:
    import pandas as pd

    table = _read(path, CHECK_COLUMNS)
    for column in ("volts", "temperature_c", "rest_minutes", "load_a"):
        table[column] = _numbers(path, table, column, empty=column != "volts")
    table["when"] = pd.to_datetime(table["timestamp"], errors="coerce", format="ISO8601", utc=True).dt.tz_localize(None)
    for column, bad, key in (
        ("timestamp", table["when"].isna(), "projection.file_row"),
        ("model", ~table["model"].isin(list(models)), "projection.unknown_model"),
        ("check_kind", ~table["check_kind"].isin(["rested_full", "loaded", "stored"]), "projection.file_row"),
    ):
        if bad.any():
            at = int(bad.to_numpy().argmax())
            raise FileRefused(key, file=path.name, row=at + 2, column=column, typed=str(table[column].iloc[at]))
    return table


def _projections(own: pd.DataFrame, model: Any, as_of: dt.date, horizons: tuple[int, ...]) -> Iterator[Projection]:
    """The loaded and the rested-full projection of one pack's checks."""
    rested = own[own["check_kind"] == "rested_full"]
    loaded = own[own["check_kind"] == "loaded"]
    settled = rested[rested["rest_minutes"].fillna(0) >= LEAST_REST_MINUTES]
    if len(loaded):
        yield project_line(
            _loaded_readings(loaded, rested, model),
            quantity="loaded_v", limit=_or_none(model.limit_loaded_v), rises=False, as_of=as_of, needed=NEEDED,
            resolution=0.02, horizons=horizons,
        )  # fmt: skip
    yield project_line(
        [_reading(row, row.volts, "rested_full") for row in settled.itertuples()],
        quantity="rested_full_v", limit=_or_none(model.limit_rested_full_v), rises=False, as_of=as_of, needed=NEEDED,
        resolution=0.02, horizons=horizons,
    )  # fmt: skip


def _reading(row: Any, value: float, kind: str) -> Reading:
    return Reading(row.check_id, row.when.to_pydatetime(), float(value), kind, "", "")


def _loaded_readings(loaded: pd.DataFrame, rested: pd.DataFrame, model: Any) -> list[Reading]:
    """Loaded volts at the model's load and 25 °C: this visit's sag, taken from the pack's usual rested volts.

    Rested and loaded of one visit and meter cancel the meter's offset and the charge level.
    """
    usual = float(rested["volts"].tail(12).median()) if len(rested) else math.nan
    found = []
    for row in loaded.itertuples():
        pair = rested[
            (rested["meter_id"] == row.meter_id)
            & ((rested["when"] - row.when).abs() <= dt.timedelta(minutes=PAIR_MINUTES))
        ]
        if not len(pair) or not row.load_a > 0:
            continue
        ohm = (float(pair["volts"].iloc[-1]) - row.volts) / row.load_a
        if math.isfinite(row.temperature_c):
            ohm = temperature.ohm_at(ohm, row.temperature_c, REFERENCE_C)
        found.append(_reading(row, usual - model.load_a * ohm, "loaded"))
    return found


def _or_none(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _rows(pack: str, projection: Projection, horizons: tuple[int, ...]) -> Iterator[list[str]]:
    flat = projection.sentence.key.startswith("projection.no_decline")
    reason = "no decline seen" if flat else "" if projection.projected else say(projection.sentence)
    crossings = [projection.crossing_p10, projection.crossing_p50, projection.crossing_p90]
    for days in horizons:
        ahead = next((one for one in projection.horizons if one.days == days), None)
        quantiles = ["", "", ""] if ahead is None else [f"{v:.4f}" for v in (ahead.p10, ahead.p50, ahead.p90)]
        yield [
            pack, projection.quantity, projection.as_of.isoformat(), str(projection.comparable_checks), reason,
            _text(projection.level), _text(projection.slope_per_30d), str(days), *quantiles, _text(projection.limit),
            "" if ahead is None or projection.limit is None else f"{ahead.chance_beyond:.4f}",
            *("" if one is None else one.isoformat() for one in crossings),
        ]  # fmt: skip


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:.4f}"


def _write(output: Path, rows: list[list[str]]) -> None:
    import csv

    try:
        fresh = output.with_name(output.name + ".new")
        with fresh.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(OUT_COLUMNS)
            writer.writerows(rows)
        fresh.replace(output)
    except OSError as error:
        raise FileRefused("file.not_writable", path=str(output), why=str(error)) from error
