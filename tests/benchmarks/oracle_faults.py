"""What an 80 % range could hold of packs with a fault, kind by kind, on a simulated fleet whose faults are known.

    python -m tests.benchmarks.oracle_faults CASES TRUTH.csv

CASES are folders of the development bench with simulated packs, TRUTH says which fault each pack has and on which day of its
life it begins.  The forecaster that each kind is held against sees every fault on the day on which it begins and holds
80 % of what is then left; of a fault that begins within the horizon it knows nothing, and the range of a pack that looks
sound does not hold it.  A second one sees faults after 60 days only.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from fleetcare.services.projecting import project_files
from tests.benchmarks.oracle import UNSEEN_DAYS

NOMINAL = 0.8
KEY = ["pack_id", "quantity", "horizon_days"]


def held(case: Path, life: pd.DataFrame) -> pd.DataFrame:
    """Rows of packs with a fault in one case: whether held, and how long before the as-of day the fault began."""
    as_of = (case / "as_of.txt").read_text().strip()
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.csv"
        project_files(case / "checks.csv", case / "models.csv", as_of, "28,91,182", out)
        said = pd.read_csv(out)
    truth = pd.read_csv(case / "truth.csv")
    rows = truth[truth.true_value.notna() & (truth.refusal_right == 0)].merge(said[[*KEY, "p10", "p90"]], on=KEY)
    rows = rows.merge(life, on="pack_id")
    rows = rows[rows.p10.notna() & (rows.fault != "none")]
    began = (pd.Timestamp(as_of) - pd.to_datetime(rows.start_date)).dt.days - rows.fault_onset_day
    inside = (rows.p10 <= rows.true_value) & (rows.true_value <= rows.p90)
    return rows[[*KEY, "fault"]].assign(held=inside.astype(float), since=began)


def main() -> None:
    """Print one row per kind of fault."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cases", type=Path)
    parser.add_argument("truth", type=Path)
    asked = parser.parse_args()
    life = pd.read_csv(asked.truth)[["pack_id", "start_date", "fault", "fault_onset_day"]]
    folders = [one for one in sorted(asked.cases.iterdir()) if (one / "as_of.txt").is_file()]
    known = [one for one in folders if set(pd.read_csv(one / "truth.csv").pack_id) <= set(life.pack_id)]
    rows = pd.concat([held(one, life) for one in known])
    ahead = (rows.since <= 0) & (rows.since > -rows.horizon_days)
    young = (rows.since > 0) & (rows.since <= UNSEEN_DAYS)
    table = rows.assign(
        seen_at_once=NOMINAL * (1 - ahead), seen_late=NOMINAL * (1 - np.maximum(ahead, young)), rows=1.0
    )
    kinds = table.groupby("fault").agg({"held": "mean", "seen_at_once": "mean", "seen_late": "mean", "rows": "sum"})
    kinds.loc["all"] = [*table[["held", "seen_at_once", "seen_late"]].mean(), len(table)]
    print(kinds.round(3).to_string())


if __name__ == "__main__":
    main()
