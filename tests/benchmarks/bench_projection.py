"""Speed and score of the projection.

    python -m tests.benchmarks.bench_projection                 speed, 50,000 packs of 260 checks
    python -m tests.benchmarks.bench_projection --packs 5000    the same, smaller
    python -m tests.benchmarks.bench_projection --cases FOLDER  score every case in FOLDER, with the references
    python -m tests.benchmarks.bench_projection --families      score the simulated families, with the references

A case is a folder with checks.csv, models.csv, as_of.txt, truth.csv and naive.csv.  Scores are the quantile score of
p10, p50 and p90 as a ratio to naive.csv, and the share of true values within p10 to p90.  The references need
`pip install statsforecast` (the extra "references"); they are fed with this project's own preparation, so that only the
forecast differs.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from fleetcare.domain.moments import parse_date
from fleetcare.domain.projection.calibration import HORIZONS, calibrate
from fleetcare.domain.projection.fleet import learn_fleet, stand
from fleetcare.domain.projection.forecast import project, project_all
from fleetcare.domain.projection.preparation import apply_corrections
from fleetcare.domain.projection.visits import Visits
from fleetcare.services import projecting
from tests.benchmarks.families import FAMILIES, FLAT
from tests.benchmarks.scoring import Said, engine, prepared_of, quantile_score, reference, rows_of, summary
from tests.simulated_fleet import MODELS, OFFSET_V, OHM_NEW, YEARLY_LOG_OHM

KEY = ["pack_id", "quantity", "horizon_days"]
LIMITS = {"loaded_v": np.array([51.4, 50.0]), "rested_full_v": np.array([53.0, 53.0])}


def big_fleet(packs: int, checks: int) -> Visits:
    """Weekly checks of many packs, drawn at once."""
    draw = np.random.default_rng(3)
    n = packs * checks
    pack = np.repeat(np.arange(packs), checks)
    model = pack % 2
    day = np.tile(-7.0 * np.arange(checks)[::-1], packs) - 1 + draw.uniform(0, 0.9, n)
    bench = 15 + 7 * np.sin(day / 58.1) + draw.normal(0, 2, n)
    ohm = OHM_NEW[model] * np.exp(YEARLY_LOG_OHM[model] * (day + 7 * checks) / 365 * draw.normal(1, 0.2, packs)[pack])
    meter = draw.integers(0, len(OFFSET_V), n)
    rested = 54.4 - 0.1 * ohm + OFFSET_V[meter] + draw.normal(0, 0.04, n)
    loaded = rested - 15 * ohm * np.exp(1900 * (1 / (bench + 273.15) - 1 / 298.15) + draw.normal(0, 0.03, n))
    return Visits(
        pack, model, meter, day, rested.round(2), loaded.round(2), np.full(n, 15.0), bench.round(), np.full(n, 60.0)
    )


def speed(packs: int, checks: int) -> None:
    """Fit, whole-fleet projection and one pack, timed in this run beside a bare pass over the same arrays."""
    visits = big_fleet(packs, checks)
    started = time.perf_counter()
    for name in visits.__dataclass_fields__:
        np.sort(getattr(visits, name))
    bare = time.perf_counter() - started
    started, worked = time.perf_counter(), time.process_time()
    fit = learn_fleet(visits, MODELS, len(OFFSET_V))
    calibration = calibrate(fit, visits, ("loaded_v", "rested_full_v"))
    learnt, learnt_cpu = time.perf_counter() - started, time.process_time() - worked
    started, worked = time.perf_counter(), time.process_time()
    done = sum(
        len(found["loaded_v"].count) for _, found in project_all(fit, calibration, visits, packs, LIMITS, HORIZONS)
    )
    projected, projected_cpu = time.perf_counter() - started, time.process_time() - worked
    one = visits.where(visits.pack == 0)
    times, work = [], []
    for _ in range(9):
        started, worked = time.perf_counter(), time.process_time()
        standing = stand(fit, one, 1)
        for quantity, limit in LIMITS.items():
            project(fit, calibration, standing, quantity, limit[standing.model], HORIZONS)
        times.append(time.perf_counter() - started)
        work.append(time.process_time() - worked)
    single, single_cpu = float(np.median(times)), float(np.median(work))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(f"{done} packs x {checks} checks")
    print(f"  sorting the columns once (bare NumPy)  {bare:8.2f} s   1.0")
    print(
        f"  learning from the fleet                {learnt:8.2f} s   {learnt / bare:.2f}   (processor {learnt_cpu:.1f} s)"
    )
    print(
        f"  projecting every pack                  {projected:8.2f} s   {projected / bare:.2f}   (processor {projected_cpu:.1f} s)"
    )
    print(
        f"  one pack, median of nine               {single * 1000:8.1f} ms          (processor {single_cpu * 1000:.1f} ms)"
    )
    print(f"  most memory                            {memory:8.2f} GiB")


def score(case: Path, out: pd.DataFrame) -> list[tuple[str, float, float]]:
    """(quantity, ratio to naive, coverage) of one output; a missing answer counts 1.25 times naive."""
    truth, naive = pd.read_csv(case / "truth.csv"), pd.read_csv(case / "naive.csv")
    truth = truth[truth["refusal_right"] == 0].dropna(subset=["true_value"]) if "refusal_right" in truth else truth
    columns = ["p10", "p50", "p90"]
    both = truth.merge(out[KEY + columns], on=KEY, how="left").merge(
        naive[KEY + columns], on=KEY, suffixes=("", "_naive")
    )
    own, ref = both[columns].to_numpy(float), both[[f"{c}_naive" for c in columns]].to_numpy(float)
    y = both["true_value"].to_numpy(float)
    reference = quantile_score(y, ref)
    given = np.isfinite(own).all(1)
    found = np.where(given, quantile_score(y, np.where(given[:, None], np.sort(own, 1), 0)), 1.25 * reference)
    inside = (own[:, 0] <= y) & (y <= own[:, 2])
    lines = []
    for quantity in sorted(set(both["quantity"])):
        k = (both["quantity"] == quantity).to_numpy()
        lines.append((quantity, float(found[k].sum() / reference[k].sum()), float(inside[k & given].mean())))
    return lines


def autoets(case: Path) -> pd.DataFrame:
    """AutoETS on this project's own prepared values, in four-week means."""
    from statsforecast.models import AutoETS

    day = parse_date((case / "as_of.txt").read_text(), field="as_of")
    packs, visits, models, _ = projecting.read_files(case / "checks.csv", case / "models.csv", day)
    fit = learn_fleet(visits, models, int(visits.meter.max()) + 1)
    ready = apply_corrections(visits, models, fit.corrections)
    rows = []
    for index, pack in enumerate(packs):
        own = (visits.pack == index) & ready.use_v
        if own.sum() < 6:
            continue
        drop = models.load_a[visits.model] * np.exp(ready.log_ohm)
        for quantity, value, use in (
            ("rested_full_v", ready.full_v, own),
            ("loaded_v", ready.full_v - drop, own & ready.use_ohm),
        ):
            if use.sum() < 6:
                continue
            span = -float(visits.day[use].min())
            step = 28.0 if span > 280 else max(span / 12, 1.0)
            slot = np.floor(visits.day[use] / step).astype(int)
            series = pd.Series(value[use]).groupby(slot).median().reindex(range(slot.min(), 0)).interpolate().bfill()
            ahead = max(int(np.ceil(182 / step)), 1)
            found = AutoETS(season_length=1).forecast(series.to_numpy(), h=ahead, level=[80])
            for days in HORIZONS:
                at = min(max(round(days / step) - 1, 0), ahead - 1)
                rows.append((pack, quantity, days, found["lo-80"][at], found["mean"][at], found["hi-80"][at]))
    return pd.DataFrame(rows, columns=[*KEY, "p10", "p50", "p90"])


def scores(folder: Path) -> None:
    """One table of all cases."""
    try:
        import statsforecast  # noqa: F401

        methods = {"fleet": None, "AutoETS, same preparation": autoets}
    except ImportError:
        methods = {"fleet": None}
        print('(no references: pip install -e ".[references]")')
    for case in sorted(p for p in folder.iterdir() if (p / "truth.csv").exists()):
        for name, method in methods.items():
            started = time.perf_counter()
            if method is None:
                with tempfile.TemporaryDirectory() as place:
                    out = Path(place) / "out.csv"
                    as_of = (case / "as_of.txt").read_text()
                    projecting.project_files(case / "checks.csv", case / "models.csv", as_of, "28,91,182", out)
                    table = pd.read_csv(out)
            else:
                table = method(case)
            took = time.perf_counter() - started
            for quantity, ratio, inside in score(case, table):
                print(
                    f"{case.name:32} {name:27} {quantity:14} score {ratio:5.2f}  80 % held {inside:4.2f}  {took:6.1f} s"
                )


def families() -> None:
    """One table of the simulated families of odd number: score, share held and crossings of every method."""
    names = ["last value", "Theil-Sen", "drift walk"]
    try:
        import statsforecast  # noqa: F401

        names.append("AutoETS")
    except ImportError:
        print('(without AutoETS: pip install -e ".[references]")')
    rows = []
    for family, make in (FAMILIES | FLAT).items():
        for number in (
            (1, 3, 5) if family.startswith("cell") or family in FLAT or family.endswith(("pack", "packs")) else (1,)
        ):
            case = make(number)
            _, prepared = prepared_of(case)
            naive = reference(case, prepared, "last value")
            found = {"fleet": engine(case)}
            for name in names:
                none = np.full(case.packs, np.nan)
                try:
                    said = reference(case, prepared, name)
                except NotImplementedError as error:
                    print(case.name, name, error)
                    continue
                found[name] = {quantity: Said(table, none, none) for quantity, table in said.items()}
            for name, said in found.items():
                rows.append(rows_of(case, said, naive).assign(method=name))
    table = pd.concat(rows)
    for by in (["family", "method"], ["group", "method"], ["tag", "method"]):
        print(summary(table, by).round(3).to_string())


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--packs", type=int, default=50_000)
    asked.add_argument("--checks", type=int, default=260)
    asked.add_argument("--cases", type=Path)
    asked.add_argument("--families", action="store_true")
    given = asked.parse_args()
    if given.cases is not None:
        scores(given.cases)
    elif given.families:
        families()
    else:
        speed(given.packs, given.checks)
