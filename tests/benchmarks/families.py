"""Simulated families of packs with known truth: many kinds of fleet, and single cells as a laboratory logs them.

Drawn from what is published about cells (resistance with temperature: an activation law; relaxation after charging;
where a charger that stops at C/20 leaves a pack; an unseen low group) and from choices of our own for faults, meters and
habits, which have no source.  Simulated: never to be shown as a measurement.  Each family has numbered cases; those with
an even number are for trying ideas, those with an odd number for reporting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from fleetcare.domain.projection.calibration import HORIZONS
from fleetcare.domain.projection.visits import Floats, Models, Visits

GAS = 8.314462618
AHEAD = np.arange(0.0, 1096.0, 7.0)
WATCHED = 1.25
ONSET_DAYS = (-500.0, 200.0)
"""Faults begin at any time between these alike, as of day 0."""
FAULTS = ("knee", "connector", "cell_loss", "imbalance", "leak")


@dataclass(frozen=True)
class Case:
    """What a program may see, and the truth: values by quantity and horizon (horizon, pack), day of crossing (inf:
    not within three years; 0 or less: already) and the fault of each pack."""

    name: str
    group: str
    visits: Visits
    models: Models
    limits: dict[str, Floats]
    value: dict[str, Floats]
    crossing: dict[str, Floats]
    tag: np.ndarray
    path: dict[str, Floats] = field(default_factory=dict)
    onset: Floats = field(default_factory=lambda: np.zeros(0))

    @property
    def packs(self) -> int:
        """How many packs there are."""
        return len(self.tag)


@dataclass(frozen=True)
class Fleet:
    """How a simulated fleet is drawn."""

    series: tuple[int, ...] = (10, 13, 14)
    lfp: tuple[bool, ...] = (False, False, False)
    yearly: tuple[float, ...] = (0.05, 0.10, 0.16)
    bend: tuple[float, ...] = (0.0, 0.4, 1.0)
    packs: int = 90
    meters: int = 6
    youngest: float = 150.0
    oldest: float = 1300.0
    every: float = 9.0
    missed: float = 0.25
    faulty: float = 0.30
    mean_c: float = 12.0
    season_c: float = 9.0
    meter_bias: float = 0.12
    drift: float = 0.03
    slips: float = 0.012
    step: float = 0.01
    noise: float = 0.035
    not_full: float = 0.01
    thermometer: float = 1.5
    gaps: bool = False
    depots: int = 0
    """Where there are any, each pack is only ever read with the meters of its own depot."""
    own_chargers: bool = True
    """Whether where a pack's own charger stops is part of its true value, or a charger that stops where it should is meant."""


def fleet_case(name: str, number: int, plan: Fleet) -> Case:
    """A fleet as of day 0 by `plan`, drawn by its name and number."""
    draw = np.random.default_rng([number, *name.encode()])
    kinds = len(plan.series)
    series = np.array(plan.series, dtype=float)
    lfp = np.array(plan.lfp)
    capacity = draw.uniform(10, 21, kinds).round(1)
    new_ohm = series * draw.uniform(0.006, 0.011, kinds) + 0.03
    energy = draw.uniform(13_000, 24_000, kinds)
    charger = series * np.where(lfp, 3.65, 4.2)
    set_v = series * np.where(lfp, 3.36, 4.2 - 0.003)
    models = Models(
        tuple(f"M{k}" for k in range(kinds)), tuple("LFP" if f else "NMC" for f in lfp), series, capacity, charger,
        np.full(kinds, 15.0),
    )  # fmt: skip
    limits = {
        "rested_full_v": set_v - series * np.where(lfp, 0.03, 0.09),
        "loaded_v": series * np.where(lfp, 3.36, 4.15) - 15 * 1.35 * new_ohm,
    }
    n = plan.packs
    model = draw.integers(0, kinds, n)
    age = draw.uniform(plan.youngest, plan.oldest, n)
    pace = np.exp(draw.normal(0, 0.25, n))
    level = np.log(new_ohm[model]) + draw.normal(0, 0.04, n)
    own_charger = draw.normal(0, 0.004, n) * series[model]
    polar = draw.uniform(1.6, 2.6, n)
    tag = np.where(draw.random(n) < plan.faulty, draw.choice(FAULTS, n), "healthy").astype("<U12")
    onset = np.where(tag == "healthy", np.inf, draw.uniform(*ONSET_DAYS, n))
    onset = np.maximum(onset, 60 - age)
    size = draw.uniform(0.5, 1.5, n)

    def ohm_and_full(day: Floats) -> tuple[Floats, Floats]:
        """True resistance and rested volts at 25 °C for days (…, pack)."""
        years = np.maximum(day + age, 0) / 365.0
        grown = np.array(plan.yearly)[model] * pace * (years + np.array(plan.bend)[model] * years**2 / 4)
        since = np.maximum(day - onset, 0) / 365.0
        log_ohm = level + grown
        log_ohm = log_ohm + np.where(tag == "knee", size * (0.35 * since + 0.5 * since**2), 0)
        log_ohm = log_ohm + np.where(tag == "leak", size * 0.06 * since, 0)
        ohm = np.exp(log_ohm)
        ohm = ohm + np.where((tag == "connector") & (since > 0), 0.025 + 0.04 * size, 0)
        ohm = ohm + np.where((tag == "cell_loss") & (since > 0), 0.003 * size, 0)
        spread = np.where(tag == "imbalance", size * (0.5 * since + 0.9 * since**1.5), 0)
        spread = spread + np.where(tag == "leak", 0.05 * size * since, 0)
        full = set_v[model] + own_charger - polar * capacity[model] / 20 * ohm * np.where(lfp[model], 0.2, 1)
        return ohm, full - spread * series[model] / 13

    offset = draw.normal(0, plan.meter_bias, plan.meters) * (plan.meters > 1)
    site = draw.integers(0, plan.meters, n)
    rows = []
    for p in range(n):
        days = np.arange(-age[p] + 1, 0, plan.every)
        days = days[draw.random(len(days)) > plan.missed] + draw.uniform(-2, 2)
        if plan.gaps and age[p] > 200:
            start = draw.uniform(-age[p], -60)
            days = days[(days < start) | (days > start + draw.uniform(60, 260))]
        days = np.sort(days[(days < -0.01) & (days > -age[p])])
        m = len(days)
        if m < 1:
            continue
        meter = np.where(draw.random(m) < 0.7, site[p], draw.integers(0, plan.meters, m))
        if plan.depots:
            here = plan.meters // plan.depots
            meter = site[p] % plan.depots * here + meter % here
        outdoor = plan.mean_c - plan.season_c * np.cos((days - 40) / 365 * 2 * np.pi) + draw.normal(0, 3, m)
        bench = 0.55 * outdoor + 0.45 * 20 + draw.normal(0, 2.5, m)
        ohm, full = (x[:, p] for x in ohm_and_full(np.repeat(days[:, None], n, 1)))
        rest = np.exp(draw.uniform(np.log(8), np.log(400), m)).round()
        k = model[p]
        warm = (bench - 25) / 10
        rested = (
            full
            + series[k] / 13 * (0.05 * warm - 0.012 * warm**2)
            + 0.006 * series[k] * (np.exp(-np.sqrt(rest / 30)) - np.exp(-np.sqrt(2.0)))
        )
        rested += draw.normal(0, plan.noise, m)
        rested = rested - np.where(draw.random(m) < plan.not_full, draw.uniform(0.3, 2.5, m), 0)
        cold_ohm = ohm * np.exp(energy[k] / GAS * (1 / (bench + 273.15) - 1 / 298.15))
        loaded = rested - 15 * cold_ohm * np.exp(draw.normal(0, 0.025, m))
        wander = np.cumsum(draw.normal(0, plan.drift, 60))
        bias = offset[meter] + wander[np.clip((-days / 30).astype(int), 0, 59)] * 0.3
        rested, loaded = rested + bias, loaded + bias
        slip = draw.random(m)
        decimal, digit, swap = slip < plan.slips / 3, slip < 2 * plan.slips / 3, slip < plan.slips
        rested, loaded = np.where(swap, loaded, rested), np.where(swap, rested, loaded)
        rested = np.where(decimal, rested / 10, np.where(digit & ~decimal, rested - 9, rested))
        loaded = np.where(draw.random(m) < 0.12, np.nan, loaded)
        noted = np.where(draw.random(m) < 0.05, np.nan, (bench + draw.normal(0, plan.thermometer, m)).round())
        table = np.stack([np.full(m, p), np.full(m, k), meter, days, _shown(rested, plan.step),
                          _shown(loaded, plan.step), np.full(m, 15.0), noted, rest], 1)  # fmt: skip
        rows += [tuple(row) for row in table]

    def truth(day: Floats) -> dict[str, Floats]:
        ohm, full = ohm_and_full(np.broadcast_to(np.asarray(day)[:, None], (len(day), n)))
        full = full if plan.own_chargers else full - own_charger
        return {"rested_full_v": full, "loaded_v": full - 15 * ohm}

    return replace(_case(name, "fleet", rows, models, limits, model, truth, tag, number), onset=onset)


@dataclass(frozen=True)
class Cells:
    """How a set of single cells in a laboratory is drawn: one meter, one temperature, equal rest.

    `wander` is a walk of the level (V a square root of a day) that falls back within `revert_days`, drawn only where
    it is asked for; `sag` falls all life through (V a year).
    """

    cells: int = 4
    staggered: bool = False
    loaded: bool = True
    life: float = 160.0
    seen: tuple[float, float] = (0.4, 0.7)
    every: float = 2.0
    fall: float = 1.2
    knee: float = 1.5
    early_rise: float = 0.1
    recovery: float = 0.05
    noise: float = 0.02
    steps: float = 0.0
    spread: float = 0.25
    wander: float = 0.0
    revert_days: float = np.inf
    sag: float = 0.0


def cells_case(name: str, number: int, plan: Cells) -> Case:
    """Single cells, thirteen in series by arithmetic, as of day 0."""
    draw = np.random.default_rng([number, *name.encode()])
    n = plan.cells
    life = plan.life * np.exp(draw.normal(0, plan.spread, n))
    age = draw.uniform(0.15, 1.1, n) * life if plan.staggered else np.full(n, plan.life * draw.uniform(*plan.seen))
    level = 54.4 + draw.normal(0, 0.06, n)
    drop = 3.0 * np.exp(draw.normal(0, 0.08, n))
    rise = plan.early_rise * np.exp(draw.normal(0, 0.3, n))
    shape = plan.knee * np.exp(draw.normal(0, 0.15))
    grid = np.arange(-int(age.max()) - 2, 1096)
    jumps = np.zeros((len(grid), n))
    for p in range(n):
        recovered = 0.0
        for i in range(len(grid)):
            recovered *= 0.85
            if draw.random() < 0.05:
                recovered += abs(draw.normal(0, plan.recovery * plan.fall))
            jumps[i, p] = recovered
    setup = np.cumsum((draw.random((len(grid), n)) < 0.02) * draw.normal(0, plan.steps, (len(grid), n)), axis=0)

    walk = np.zeros((len(grid), n))
    if plan.wander:
        moved = plan.wander * draw.normal(size=(len(grid), n))
        for i in range(1, len(grid)):
            walk[i] = walk[i - 1] * np.exp(-1.0 / plan.revert_days) + moved[i]
    setup = setup + walk - plan.sag / 365.0 * (grid - grid[0])[:, None]

    def curve(day: Floats) -> Floats:
        part = np.clip((day + age) / life, 0, WATCHED)
        fall = plan.fall * (0.5 * part + 0.5 * part ** (1 + 1.3 * shape))
        return rise * (1 - np.exp(-part / 0.08)) - fall

    def truth(day: Floats) -> dict[str, Floats]:
        day = np.asarray(day)
        moved = curve(np.broadcast_to(day[:, None], (len(day), n)))
        at = np.clip(day.astype(int) - grid[0], 0, len(grid) - 1)
        back, stepped = jumps[at], setup[at]
        moved = moved + back + stepped
        return {"loaded_v": level - drop + moved} if plan.loaded else {"rested_full_v": level + moved}

    models = Models(("C",), ("NMC",), np.array([13.0]), np.array([2.0]), np.array([54.6]), np.array([2.0]))
    limits = {
        "loaded_v": np.array([54.4 - 3.0 - 0.75 * max(plan.fall, 0.3)]),
        "rested_full_v": np.array([54.4 - 0.75 * max(plan.fall, 0.3)]),
    }
    rows = []
    for p in range(n):
        days = np.arange(-age[p], 0.4, plan.every)
        days = np.unique(np.floor(days[draw.random(len(days)) > 0.2])) + 0.375
        days = days[days <= 0.4]
        m = len(days)
        if not m:
            continue
        now = {q: v[:, p] for q, v in truth(days).items()}
        noise = draw.normal(0, plan.noise, m) * np.where(draw.random(m) < 0.05, 4, 1)
        if plan.loaded:
            loaded = now["loaded_v"] + noise
            rested = level[p] - 0.05 * np.clip((days + age[p]) / life[p], 0, 2) + draw.normal(0, plan.noise, m)
        else:
            rested, loaded = now["rested_full_v"] + noise, np.full(m, np.nan)
        bench = 25 + draw.normal(0, 0.3, m)
        table = np.stack([np.full(m, p), np.zeros(m), np.zeros(m), days, rested.round(2), loaded.round(2),
                          np.full(m, 2.0), bench.round(1), np.full(m, 60.0)], 1)  # fmt: skip
        rows += [tuple(row) for row in table]
    tag = np.full(n, "cell", dtype="<U12")
    found = _case(name, "cells", rows, models, limits, np.zeros(n, int), truth, tag, number)
    for values in found.value.values():  # a laboratory stops watching a cell that is worn out
        values[np.array(HORIZONS)[:, None] + age > WATCHED * life] = np.nan
    return found


def _shown(volts: Floats, step: float) -> Floats:
    return np.asarray(np.round(np.round(volts / step) * step, 3))


def _case(
    name: str, group: str, rows: list[tuple[float, ...]], models: Models, limits: dict[str, Floats], model: np.ndarray,
    truth: Callable[[Floats], dict[str, Floats]], tag: np.ndarray, number: int,
) -> Case:  # fmt: skip
    value = truth(np.array(HORIZONS, dtype=float))
    path = truth(AHEAD)
    crossing = {}
    for quantity, ahead in path.items():
        beyond = ahead <= limits[quantity][model]
        crossing[quantity] = np.where(beyond.any(0), AHEAD[beyond.argmax(0)], np.inf)
    return Case(f"{name}_{number}", group, Visits.from_rows(rows), models, limits, value, crossing, tag, path)


ONE = {"series": (13,), "lfp": (False,), "yearly": (0.12,), "bend": (0.5,)}
FAMILIES: dict[str, Callable[[int], Case]] = {
    "mixed": lambda k: fleet_case("mixed", k, Fleet()),
    "other_chemistries": lambda k: fleet_case("other_chemistries", k, Fleet(
        series=(7, 15, 16, 12), lfp=(False, True, True, True), yearly=(0.08, 0.04, 0.06, 0.09), bend=(0.3, 0, 0, 0.2),
        packs=100)),
    "many_faults": lambda k: fleet_case("many_faults", k, Fleet(faulty=0.85)),
    "no_faults": lambda k: fleet_case("no_faults", k, Fleet(faulty=0.0)),
    "no_faults_one_charger": lambda k: replace(
        fleet_case("no_faults", k, Fleet(faulty=0.0, own_chargers=False)), name="no_faults_one_charger"
    ),
    "cold": lambda k: fleet_case("cold", k, Fleet(mean_c=2.0, season_c=13.0, noise=0.07)),
    "depots": lambda k: fleet_case("depots", k, Fleet(packs=160, meters=12, depots=4)),
    "bad_meters": lambda k: fleet_case("bad_meters", k, Fleet(meter_bias=0.3, drift=0.12, slips=0.05, step=0.1)),
    "sparse": lambda k: fleet_case("sparse", k, Fleet(every=30.0, packs=60)),
    "gaps": lambda k: fleet_case("gaps", k, Fleet(gaps=True, missed=0.45)),
    "one_meter": lambda k: fleet_case("one_meter", k, Fleet(meters=1, packs=50)),
    "young": lambda k: fleet_case("young", k, Fleet(youngest=110, oldest=260, packs=60)),
    "flat_fleet": lambda k: fleet_case("flat_fleet", k, Fleet(yearly=(0.0, 0.0, 0.0), faulty=0.0, packs=60)),
    "three_packs": lambda k: fleet_case("three_packs", k, Fleet(packs=3, meters=2, oldest=500, **ONE)),
    "one_pack": lambda k: fleet_case("one_pack", k, Fleet(packs=1, meters=1, oldest=500, **ONE)),
    "cells_older": lambda k: cells_case("cells_older", k, Cells(
        cells=24, staggered=True, loaded=False, life=900, every=8, fall=0.5, knee=1.0, noise=0.012)),
    "cells_older_loaded": lambda k: cells_case("cells_older_loaded", k, Cells(cells=12, staggered=True, life=250)),
    "cells_same_age": lambda k: cells_case("cells_same_age", k, Cells()),
    "cell_alone": lambda k: cells_case("cell_alone", k, Cells(cells=1, life=300, every=3)),
    "cells_slow": lambda k: cells_case("cells_slow", k, Cells(
        cells=3, loaded=False, life=700, every=6, fall=0.35, knee=0.6, early_rise=0.0, recovery=0.1, noise=0.012)),
    "cells_flat": lambda k: cells_case("cells_flat", k, Cells(
        cells=5, loaded=False, fall=0.0, early_rise=0.02, recovery=0.0, noise=0.03, steps=0.03)),
    "cells_cold_noisy": lambda k: cells_case("cells_cold_noisy", k, Cells(
        cells=4, life=90, every=1.5, fall=1.0, recovery=0.3, noise=0.15, steps=0.06)),
}  # fmt: skip
NOTHING = {"loaded": False, "fall": 0.0, "early_rise": 0.0, "recovery": 0.0}
STILL: dict[str, Cells] = {
    "flat_white": Cells(cells=4, noise=0.03, **NOTHING),
    "flat_long": Cells(cells=3, noise=0.02, life=700, every=5, **NOTHING),
    "flat_many": Cells(
        cells=14, noise=0.015, life=500, every=4, staggered=True, **NOTHING),
    "flat_alone": Cells(cells=1, noise=0.03, life=300, **NOTHING),
    "flat_rise": Cells(cells=5, noise=0.02, life=300, **{
        **NOTHING, "early_rise": 0.06}),
    "flat_slow_walk": Cells(cells=4, noise=0.03, wander=0.002, **NOTHING),
    "flat_walk": Cells(cells=4, noise=0.02, wander=0.006, **NOTHING),
    "flat_returns": Cells(
        cells=4, noise=0.015, life=400, every=3, wander=0.008, revert_days=15, **NOTHING),
    "flat_steps": Cells(cells=5, noise=0.03, steps=0.03, **NOTHING),
    "flat_sag": Cells(cells=4, noise=0.02, life=400, every=3, sag=0.03, **NOTHING),
    "flat_loaded": Cells(cells=4, noise=0.04, life=300, **{
        **NOTHING, "loaded": True}),
    "flat_loaded_walk": Cells(
        cells=5, noise=0.03, wander=0.004, life=500, every=4, **{**NOTHING, "loaded": True}),
}  # fmt: skip
"""Cells that do not decline but differ in how they do not.  In `flat_sag` they hardly do."""
FLAT: dict[str, Callable[[int], Case]] = {name: partial(cells_case, name, plan=plan) for name, plan in STILL.items()}
UNSEEN: dict[str, Callable[[int], Case]] = {
    "courier": lambda k: fleet_case("courier", k, Fleet(
        series=(10, 14), lfp=(False, False), yearly=(0.07, 0.20), bend=(0.2, 1.5), packs=120, meters=4, every=14.0,
        faulty=0.5, mean_c=18.0, season_c=6.0, slips=0.03)),
    "small_workshop": lambda k: fleet_case("small_workshop", k, Fleet(
        packs=8, meters=2, oldest=700, series=(12,), lfp=(False,), yearly=(0.15,), bend=(0.8,), faulty=0.4)),
    "cells_six_noisy": lambda k: cells_case("cells_six_noisy", k, Cells(
        cells=6, life=220, every=4, fall=0.8, knee=2.0, noise=0.06, steps=0.02, recovery=0.15)),
    "cells_wander": lambda k: cells_case("cells_wander", k, Cells(
        cells=4, loaded=False, fall=0.0, early_rise=0.05, recovery=0.0, noise=0.015, steps=0.05)),
}  # fmt: skip
"""Made after the choices of engine fleet-3 to check them; their even numbers took part in those of fleet-4."""
