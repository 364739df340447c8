"""Write the demonstration fleet's files: an invented courier depot with 14 months of weekly checks.

Everything here is invented; readings come from the physics stated below and in README.md, drawn with
a fixed seed, so that running the script again writes the same bytes.  Days are counted from the day
of the demonstration (0), so the fleet never looks stale.

    python demo_fleet/make_demo_fleet.py
"""

from __future__ import annotations

import csv
import itertools
import math
import random
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).parent
SEED = 20260901
FIRST_DAY = -433

# Open-circuit voltage of one cell near full, NMC811/graphite-SiOx: (state of charge %, volts).
# Source: parameter set of Chen et al. 2020, doi 10.1149/1945-7111/ab9050.
OPEN_CIRCUIT = ((88, 4.0924), (90, 4.0967), (92, 4.1025), (94, 4.1144), (96, 4.1351), (98, 4.1645), (100, 4.2000))
ACTIVATION_J_PER_MOL = 17_000.0  # doi 10.1016/j.electacta.2022.140700 (10 s pulses, about 0 to 25 °C)
GAS_CONSTANT = 8.314462618
RELAXATION_V = 0.006  # per cell, times exp(-sqrt(minutes/30)); an assumption, no source
REST = {"hours_1_3": 100, "over_3_h": 260, "overnight": 660}
METERS = {"M-01": (1.0006, 0.01), "M-02": (0.9980, 0.01)}  # gain, resolution in volts


@dataclass
class Cells:
    """What is true of one pack; `growth` is the resistance gained in a year, as a fraction."""

    model: str
    series: int
    new_ohm: float
    growth: float
    age_days: int
    charge_end: float = 98.6
    knee_day: int | None = None
    knee_slope: float = 0.0012
    step_day: int | None = None
    step_ohm: float = 0.0
    last_check: int = 0
    history: list = field(default_factory=list)


def open_circuit_v(percent: float) -> float:
    """Cell volts at a state of charge, by straight lines between the points of the table."""
    points = OPEN_CIRCUIT
    for (s0, v0), (s1, v1) in itertools.pairwise(points):
        if percent <= s1:
            return v0 + (v1 - v0) * (percent - s0) / (s1 - s0)
    return points[-1][1]


def resistance_ohm(cells: Cells, day: int, celsius: float) -> float:
    """Ten-second resistance of the pack at a bench temperature."""
    years = (cells.age_days + day) / 365
    grown = 1 + cells.growth * years
    if cells.knee_day is not None and day > cells.knee_day:
        grown += cells.knee_slope * (day - cells.knee_day)
    ohm = cells.new_ohm * grown
    if cells.step_day is not None and day >= cells.step_day:
        ohm += cells.step_ohm
    kelvin = celsius + 273.15
    return ohm * math.exp(ACTIVATION_J_PER_MOL / GAS_CONSTANT * (1 / kelvin - 1 / 298.15))


def bench_celsius(day: int, draw: random.Random) -> int:
    """A workshop half heated: part of the season's swing, and the day's chance."""
    season = math.cos(2 * math.pi * (day + 120) / 365)
    return round(18.0 + 4.0 * season + draw.gauss(0, 1.3))


def one_check(draw: random.Random, cells: Cells, day: int, meter: str, rest: str) -> tuple[str, str, int]:
    """Rested volts, loaded volts at 8 A, and bench degrees, as a mechanic reads them."""
    celsius = bench_celsius(day, draw)
    gain, digit = METERS[meter]
    full = cells.charge_end + draw.gauss(0, 0.15)
    relaxed = RELAXATION_V * math.exp(-math.sqrt(REST[rest] / 30))
    rested = cells.series * (open_circuit_v(full) + relaxed)
    ohm = resistance_ohm(cells, day, celsius + draw.gauss(0, 0.8)) * (1 + draw.gauss(0, 0.012))
    loaded = rested - 8.0 * ohm
    shown = [round(volts * gain / digit) * digit for volts in (rested, loaded)]
    return f"{shown[0]:.2f}", f"{shown[1]:.2f}", celsius


def fleet() -> dict[str, tuple[Cells, str]]:
    """Every pack with its cells and the vehicle it is found in ("" for the shelf)."""
    draw = random.Random(SEED)
    packs: dict[str, tuple[Cells, str]] = {}

    def add(code: str, vehicle: str, model: str, series: int, ohm: float, age: int) -> None:
        spread = draw.gauss(0, 0.03)
        packs[code] = (Cells(model, series, ohm * (1 + spread), max(0.03, draw.gauss(0.09, 0.025)), age), vehicle)

    for i in range(1, 17):
        add(f"P-13{i:02d}", f"CB-{(i + 1) // 2:02d}", "K48-B", 13, 0.155, 450 + 12 * i)
    for i in range(1, 11):
        add(f"P-10{i:02d}", f"EB-{10 + i}", "K36-A", 10, 0.132, 780 - 9 * i)
    for i in range(11, 15):
        add(f"P-10{i}", "", "K36-A", 10, 0.132, 520 + 5 * i)
    for i in range(1, 7):
        add(f"P-102{i}", f"SC-3{i}", "S36-F", 10, 0.150, 500)
    for i in (17, 18):
        add(f"P-13{i}", "", "K48-B", 13, 0.155, 460)
    set_cases(packs)
    return packs


def set_cases(packs: dict[str, tuple[Cells, str]]) -> None:
    """The packs with a story."""
    packs["P-1010"][0].knee_day = -210  # a late rise of resistance
    packs["P-1008"][0].step_day, packs["P-1008"][0].step_ohm = -95, 0.030  # a worn connector
    packs["P-1002"][0].growth = 0.15
    packs["P-1306"][0].knee_day, packs["P-1306"][0].knee_slope = -400, 0.0021  # will be pulled
    packs["P-1014"][0].age_days = 60
    for code, day in (("P-1007", -15), ("P-1023", -9), ("P-1009", -3), ("P-1317", -71)):
        packs[code][0].last_check = day
    for code in ("P-1004", "P-1306", "P-1011", "P-1013"):
        packs[code][0].last_check = -1


def weekly_checks() -> list[dict[str, object]]:
    """All weekly checks with missed weeks, two meters, winter benches and three slips of the pen."""
    draw = random.Random(SEED + 1)
    rows: list[dict[str, object]] = []
    for number, (code, (cells, vehicle)) in enumerate(sorted(fleet().items())):
        start = FIRST_DAY + 7 if code != "P-1014" else -16
        last = cells.last_check or -(number % 6) - 1
        days = list(range(last, start, -7))[::-1]
        for day in days:
            newest = day == last
            if not newest and draw.random() < 0.06:
                continue  # a missed week stays missed
            meter = "M-02" if -150 <= day < -110 else "M-01"
            rest = "hours_1_3" if draw.random() < 0.86 else draw.choice(("over_3_h", "overnight"))
            rested, loaded, celsius = one_check(draw, cells, day, meter, rest)
            if code == "P-1004" and newest:
                rested, loaded = "39.42", "37.96"
            if code == "P-1011" and newest:
                rested, loaded = "41.40", "40.26"
            if code == "P-1013" and newest:
                rested, loaded = "40.10", "38.91"
            who = "DUNN" if (day % 3) else "FARROW"
            rows.append(
                {
                    "day": day, "time": f"{7 + number % 9:02d}:{draw.randrange(60):02d}", "pack": code,
                    "vehicle": where(code, vehicle, day), "kind": "rested_full", "rest": rest, "rested_v": rested,
                    "loaded_v": loaded, "load_a": "8.0", "hold_s": 10, "bench_c": celsius, "meter": meter,
                    "person": who, "correct_v": "", "reason": "",
                }
            )  # fmt: skip
    slips(rows)
    rows += stored_readings(draw)
    rows.sort(key=lambda r: (r["day"], r["time"], r["pack"]))
    return rows


def where(code: str, vehicle: str, day: int) -> str:
    """The vehicle a pack is checked in; for two weeks P-1012 stood in for P-1006."""
    if code in ("P-1006", "P-1012") and -20 <= day < -6:
        return "EB-16" if code == "P-1012" else ""
    return vehicle


def slips(rows: list[dict[str, object]]) -> None:
    """Three readings saved with two digits swapped; the right value and the reason stand beside them."""
    for code, nth in (("P-1001", 20), ("P-1312", 33), ("P-1022", 11)):
        for row in [one for one in rows if one["pack"] == code][nth:]:
            right = str(row["rested_v"])
            whole, part = right.split(".")
            slip = f"{whole}.{part[::-1]}"
            if slip != right and float(str(row["loaded_v"])) < float(slip):
                row["rested_v"], row["correct_v"] = slip, right
                row["reason"] = "two digits swapped when typing; the meter's slip was looked up"
                break


def stored_readings(draw: random.Random) -> list[dict[str, object]]:
    """A spare cargo pack put away half full: it loses 14 mV a day, where the fleet's normal is about 3."""
    rows: list[dict[str, object]] = []
    for code, loss in (("P-1317", 0.014),):
        for day in range(-64, 0, 14):
            volts = 48.62 - loss * (day + 64) + draw.gauss(0, 0.012)
            rows.append(
                {
                    "day": day, "time": "16:30", "pack": code, "vehicle": "", "kind": "stored", "rest": "overnight",
                    "rested_v": f"{volts:.2f}", "loaded_v": "", "load_a": "", "hold_s": "",
                    "bench_c": bench_celsius(day, draw), "meter": "M-01", "person": "DUNN", "correct_v": "",
                    "reason": "",
                }
            )  # fmt: skip
    return rows


EVENTS = """day,time,kind,subject,vehicle,detail,person,remark
-90,10:00,stock,S-01,,in:10,ORMOND,delivery note 4471
-90,10:01,stock,S-02,,in:6,ORMOND,delivery note 4471
-90,10:02,stock,S-03,,in:2,ORMOND,delivery note 4471
-90,10:03,stock,S-04,,in:2,ORMOND,delivery note 4471
-90,10:04,stock,S-05,,in:4,ORMOND,delivery note 4471
-90,10:05,stock,S-06,,in:8,ORMOND,delivery note 4471
-70,11:20,stock,S-06,P-1002,out:1,DUNN,cover seal torn
-61,18:05,trip,P-1006,EB-16,over_current:explained,PIKE,steep ramp with a full box and a low pack
-24,12:40,trip,P-1006,EB-16,unknown:unexplained,DUNN,cut out on the cobbles and came back
-21,08:30,shelf,P-1006,,Workshop rack 1,DUNN,
-21,08:35,found,P-1012,EB-16,1,DUNN,
-33,15:10,stock,S-06,P-1014,out:1,PIKE,cover seal hard and cracked
-30,15:40,stock,S-06,P-1003,out:2,PIKE,both cover seals
-9,17:20,trip,P-1012,EB-16,unknown:unexplained,PIKE,another pack in the same bike; cut out at the kerb
-9,17:45,ground,EB-16,,fault,DUNN,two packs tripped in this bike: look at the lead and the connector
-7,18:10,shelf,P-1012,,Workshop rack 1,DUNN,
-7,18:15,found,P-1006,EB-16,1,DUNN,
-6,19:15,release,EB-16,,,DUNN,chafed lead under the rack replaced and ride tested
-12,10:10,found,P-1015,EB-21,1,DUNN,
-2,16:20,look,P-1009,EB-19,smell,FARROW,back from hire with a dent
-1,19:05,shelf,P-1004,,Workshop rack 2,DUNN,
-1,21:10,ground,CB-06,,fault,PIKE,front brake: lever comes to the bar
0,00:40,draft,P-1312,CB-06,54.33,PIKE,
"""


def main() -> None:
    """Write checks.csv and events.csv beside this script."""
    rows = weekly_checks()
    with (HERE / "checks.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    (HERE / "events.csv").write_text(EVENTS, encoding="utf-8")
    print(f"{len(rows)} checks of {len({r['pack'] for r in rows})} packs written to {HERE}")


if __name__ == "__main__":
    main()
