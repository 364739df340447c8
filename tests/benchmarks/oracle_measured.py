"""Whether measured cells that were announced early, and not seen to cross, were announced falsely.

    python -m tests.benchmarks.oracle_measured CASE FOLDER HISTORIES.csv

CASE is a folder of the development bench with measured cells, HISTORIES the whole histories of the same cells, as far as
they were watched.  A cell that is not known to have crossed may simply not have been watched any longer.  For each one
this says how long it was watched after the as-of day, what the program announced from what was known then, and what two
oracles say who know what no forecaster can: one sees all that this cell ever read and draws a line through its last
thirty days; the other sees the whole lives of all cells, and takes how long those that stood where it last stood took to the limit.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import theilslopes

from fleetcare.services.projecting import project_files

SERIES, LAST_DAYS, SMOOTH, SOON = 13, 30.0, 7, 91
"""Cells are read as packs of so many groups; days that the line is drawn through; readings of a running median."""


def histories(path: Path) -> dict[str, pd.Series]:
    """Volts of a pack of such cells by day, by cell."""
    table = pd.read_csv(path)
    table = table[~table.note.astype("string").fillna("").str.contains("suspect")]
    table["day"] = table.elapsed_days.fillna(table.cycle) if table.elapsed_days.notna().any() else table.cycle
    return {
        str(cell): pd.Series((rows.volts * SERIES).to_numpy(), index=rows.day.to_numpy(float))
        for cell, rows in table.groupby("cell_id")
    }


def same(day: np.ndarray, volts: np.ndarray, known: dict[str, pd.Series]) -> str:
    """The cell of which most readings are these, to the meter's step, on these days counted from its first."""
    equal = {}
    for cell, life in known.items():
        there = pd.Series(life.round(2).to_numpy(), index=(life.index - life.index[0]).to_numpy())
        equal[cell] = float(np.mean(np.abs(there.reindex(day).to_numpy() - volts) < 0.005))
    return max(equal, key=lambda cell: equal[cell])


def smooth(life: pd.Series) -> pd.Series:
    """The running median of seven readings."""
    return life.rolling(SMOOTH, center=True, min_periods=1).median()


def days_to(life: pd.Series, start_v: float, limit_v: float) -> float:
    """Days from where a cell first stood at `start_v` to `limit_v`; NaN where it was not watched so far."""
    at, end = life.index[life <= start_v], life.index[life <= limit_v]
    return float(end[0] - at[0]) if len(at) and len(end) else np.nan


def judged(case: Path, known: dict[str, pd.Series]) -> pd.DataFrame:
    """One row per cell that is not known to have crossed within a year."""
    as_of = (case / "as_of.txt").read_text().strip()
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.csv"
        project_files(case / "checks.csv", case / "models.csv", as_of, "28,91,182", out)
        said = pd.read_csv(out).drop_duplicates(["pack_id", "quantity"]).set_index(["pack_id", "quantity"])
    truth = pd.read_csv(case / "truth.csv")
    truth = truth[truth.beyond.notna()]
    crossed = (pd.to_datetime(truth.crossing_date) - pd.Timestamp(as_of)).dt.days
    never = truth[~(crossed <= 365)].groupby(["pack_id", "quantity"]).horizon_days.max()
    checks = pd.read_csv(case / "checks.csv", parse_dates=["timestamp"])
    limits = pd.read_csv(case / "models.csv").set_index("model")
    rows = []
    for pack, quantity in never.index:
        own = checks[checks.pack_id == pack]
        day = (own.timestamp - own.timestamp.iloc[0]).dt.days.to_numpy(float)
        cell = same(day, own.volts.to_numpy(), known)
        limit = float(limits.loc[own.model.iloc[0], f"limit_{quantity}"])
        life = smooth(known[cell])
        life.index = life.index - life.index[0] - (pd.Timestamp(as_of) - own.timestamp.iloc[0]).days
        late = life[life.index > life.index[-1] - LAST_DAYS]
        slope, start, *_ = theilslopes(late.to_numpy(), late.index.to_numpy())
        level, since = float(np.median(life.iloc[-SMOOTH:])), float(np.median(life.index[-SMOOTH:]))
        others = np.array([days_to(smooth(one), level, limit) for name, one in known.items() if name != cell])
        crossing = (pd.Timestamp(said.loc[(pack, quantity)].crossing_p50) - pd.Timestamp(as_of)).days
        rows.append({
            "cell": pack, "watched for": life.index[-1], "announced for day": crossing,
            "its last 30 days reach it on day": (limit - start) / slope if slope < 0 else np.nan,
            "others reach it on day (median)": since + np.nanmedian(others) if np.isfinite(others).any() else np.nan,
            "others": int(np.isfinite(others).sum()),
        })  # fmt: skip
    return pd.DataFrame(rows)


def main() -> None:
    """Print the table of one case."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("case", type=Path)
    parser.add_argument("histories", type=Path)
    asked = parser.parse_args()
    table = judged(asked.case, histories(asked.histories))
    print(table.round(0).to_string(index=False))
    print(f"announced within {SOON} days: {int((table['announced for day'] <= SOON).sum())} of {len(table)}; "
          f"of those watched so long: {int(((table['announced for day'] <= SOON) & (table['watched for'] >= SOON)).sum())} "
          f"of {int((table['watched for'] >= SOON).sum())}; watched for a year: {int((table['watched for'] >= 365).sum())}")  # fmt: skip


if __name__ == "__main__":
    main()
