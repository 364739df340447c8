"""Projecting straight from files: fixed columns, only the past, any row order, plain refusals."""

import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say
from fleetcare.services.file_suspects import SUSPECT_COLUMNS
from fleetcare.services.projecting import OUT_COLUMNS, project_files

MODELS = (
    "model,chemistry,series,capacity_ah,nominal_v,charger_v,load_a,load_s,limit_rested_full_v,limit_loaded_v\n"
    "P48A,NMC811,13,20.0,46.8,54.6,15.0,10,53.0,51.4\n"
)
HEAD = "check_id,pack_id,model,timestamp,check_kind,volts,temperature_c,rest_minutes,load_a,meter_id\n"


def checks(weeks: int = 30, slope_ohm: float = 0.001) -> str:
    rows = []
    for n in range(weeks):
        day = (pd.Timestamp("2026-01-05T09:00") + pd.Timedelta(days=7 * n)).isoformat()
        later = (pd.Timestamp("2026-01-05T09:02") + pd.Timedelta(days=7 * n)).isoformat()
        rested = 54.30 + 0.01 * (n % 3)
        rows.append(f"{2 * n},A,P48A,{day},rested_full,{rested:.2f},25.0,60,0.0,MT01")
        rows.append(f"{2 * n + 1},A,P48A,{later},loaded,{rested - 15 * (0.15 + slope_ohm * n):.2f},25.0,,15.0,MT01")
    return HEAD + "\n".join(rows) + "\n"


def run(
    tmp_path: Path, text: str, as_of: str = "2026-08-01", horizons: str = "28,91,182", models: str = MODELS
) -> bytes:
    (tmp_path / "c.csv").write_text(text, "utf-8")
    (tmp_path / "m.csv").write_text(models, "utf-8")
    project_files(tmp_path / "c.csv", tmp_path / "m.csv", as_of, horizons, tmp_path / "o.csv")
    return (tmp_path / "o.csv").read_bytes()


def test_one_row_per_pack_quantity_and_horizon_with_the_documented_columns(tmp_path: Path) -> None:
    run(tmp_path, checks())
    out = pd.read_csv(tmp_path / "o.csv")
    assert tuple(out.columns) == OUT_COLUMNS and len(out) == 6
    loaded = out[out.quantity == "loaded_v"]
    assert (loaded.p10 <= loaded.p50).all() and (loaded.p50 <= loaded.p90).all()
    assert loaded.p50.is_monotonic_decreasing and loaded.chance_beyond.is_monotonic_increasing


def test_later_rows_row_order_and_duplicates_change_nothing(tmp_path: Path) -> None:
    first = run(tmp_path, checks(30), as_of="2026-06-01")
    lines = checks(40).splitlines()
    shuffled = "\n".join([lines[0], *lines[1:][::-1], *lines[1:9]]) + "\n"
    assert run(tmp_path, shuffled, as_of="2026-06-01") == first


def test_too_few_checks_give_a_reason_and_no_numbers(tmp_path: Path) -> None:
    run(tmp_path, checks(3))
    out = pd.read_csv(tmp_path / "o.csv")
    assert out.p50.isna().all() and out.reason.str.contains("not enough comparable checks").all()


def test_an_equal_offset_of_the_meter_changes_no_resistance(tmp_path: Path) -> None:
    plain = pd.read_csv(io.BytesIO(run(tmp_path, checks())))
    table = pd.read_csv(io.StringIO(checks()), dtype=str)
    table["volts"] = table["volts"].astype(float).add(0.20).map("{:.2f}".format)
    moved = pd.read_csv(io.BytesIO(run(tmp_path, table.to_csv(index=False))))
    shift = moved.p50 - plain.p50
    assert shift.tolist() == pytest.approx([0.20] * len(shift), abs=1e-3)
    assert moved.slope_per_30d.tolist() == pytest.approx(plain.slope_per_30d.tolist(), abs=1e-3)


@pytest.mark.parametrize(("change", "words"), [
    ({"text": checks().replace("volts", "v", 1)}, "column volts is missing"),
    ({"text": checks().replace(",54.30,", ",high,", 1)}, r"row 2: volts “high”"),
    ({"text": checks().replace("P48A", "P99", 1)}, "not in the models file"),
    ({"text": checks().replace("rested_full", "resting", 1)}, "check_kind “resting”"),
    ({"text": checks().replace("2026-01-05T09:00:00", "Monday", 1)}, "timestamp “Monday”"),
    ({"as_of": "1 Aug"}, "not a date"),
    ({"horizons": "28,-1"}, "not horizons"),
    ({"models": "model\nP48A\n"}, "column chemistry is missing"),
    ({"text": ""}, "cannot be read"),
])  # fmt: skip
def test_what_cannot_be_used_is_refused_with_file_row_and_reason(
    tmp_path: Path, change: dict[str, str], words: str
) -> None:
    values = {"text": checks()} | change
    with pytest.raises(FleetcareError, match=words):
        run(tmp_path, **values)
    assert not (tmp_path / "o.csv").exists()


def with_slips() -> str:
    """Thirty weeks of one pack: a mistyped rested reading, an exchanged pair, one far off, and a loaded one on its own."""
    lines = checks().splitlines()
    lines[41] = lines[41].replace(",54.3", ",45.3")  # week 20, rested
    rested, loaded = (line.split(",") for line in lines[29:31])  # week 14
    rested[5], loaded[5] = loaded[5], rested[5]
    lines[29:31] = [",".join(rested), ",".join(loaded)]
    off = lines[60].split(",")  # week 29, loaded
    off[5] = f"{float(off[5]) - 3:.2f}"
    lines[60] = ",".join(off)
    lines.append("900,A,P48A,2026-07-30T12:00:00,loaded,51.10,25.0,,15.0,MT01")
    return "\n".join(lines) + "\n"


def test_readings_that_do_not_fit_are_listed_and_none_is_dropped_silently(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text(with_slips(), "utf-8")
    (tmp_path / "m.csv").write_text(MODELS, "utf-8")
    files = (tmp_path / "c.csv", tmp_path / "m.csv", "2026-08-01", "28,91,182", tmp_path / "o.csv")
    done = project_files(*files, suspects=tmp_path / "s.csv")
    out = pd.read_csv(tmp_path / "s.csv", dtype=str, keep_default_na=False)
    assert tuple(out.columns) == SUSPECT_COLUMNS and done.packs == 1 and done.suspects == len(out) == 4
    found = {row.timestamp: (row.rested_v, row.loaded_v, row.used, row.why) for row in out.itertuples()}
    assert found["2026-04-13T09:00:00"][2:] == (
        "exchanged",
        "rested and loaded look exchanged; used the other way round",
    )
    rested_v, _, used, why = found["2026-05-25T09:00:00"]
    assert (rested_v, used) == ("45.32", "no") and why.startswith("does not fit this pack fully charged: re-measure")
    assert (
        found["2026-07-27T09:00:00"][2] == "little" and "times its usual scatter off" in found["2026-07-27T09:00:00"][3]
    )
    alone = found["2026-07-30T12:00:00"]
    assert alone == ("", "51.10", "no", "loaded without a rested reading of the same pack and meter within 45 minutes")
    assert out.meter_id.unique().tolist() == ["MT01"]
    assert project_files(*files).suspects == 4, "counted where they are not asked for too"


def test_without_a_slip_nothing_is_listed(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text(checks(), "utf-8")
    (tmp_path / "m.csv").write_text(MODELS, "utf-8")
    done = project_files(
        tmp_path / "c.csv", tmp_path / "m.csv", "2026-08-01", "28", tmp_path / "o.csv", suspects=tmp_path / "s.csv"
    )
    assert done.suspects == 0 and (tmp_path / "s.csv").read_text("utf-8").splitlines() == [",".join(SUSPECT_COLUMNS)]


@pytest.mark.parametrize(("bench_c", "packs", "weeks"), [(8.0, 1, 20), (0.0, 1, 35), (5.0, 2, 24), (35.0, 3, 23)])
def test_a_small_fleet_whose_bench_is_never_at_25_degrees_is_projected(
    tmp_path: Path, bench_c: float, packs: int, weeks: int
) -> None:
    """What its temperature law leaves in doubt is large, and is in today's reading and in the later ones alike."""
    draw = np.random.default_rng(weeks)
    rows, start = [], pd.Timestamp("2026-01-05T09:00")
    for pack in range(packs):
        for week in range(weeks):
            at, sag = start + pd.Timedelta(days=7 * week), 2.1 * np.exp(draw.normal(0.002 * week, 0.015))
            rested = 54.30 + draw.normal(0, 0.003)
            rows.append(f"{2 * len(rows)},P{pack},P48A,{at.isoformat()},rested_full,{rested:.3f},{bench_c},100,0,M1")
            rows.append(f"{2 * len(rows)},P{pack},P48A,{at.isoformat()},loaded,{rested - sag:.3f},{bench_c},,15.0,M1")
    run(tmp_path, HEAD + "\n".join(rows) + "\n", as_of=f"{start + pd.Timedelta(days=7 * weeks):%Y-%m-%d}")
    out = pd.read_csv(tmp_path / "o.csv", dtype=str, keep_default_na=False)
    assert len(out) == 6 * packs and not out.isin(["nan"]).any(axis=None)
    assert (out.p10.astype(float) <= out.p50.astype(float)).all() and (
        out.p50.astype(float) <= out.p90.astype(float)
    ).all()


@pytest.mark.parametrize("kind", ["stored", "loaded"])
def test_a_pack_without_a_rested_full_reading_is_told_so_and_takes_nothing_from_the_others(
    tmp_path: Path, kind: str
) -> None:
    alone = pd.read_csv(io.BytesIO(run(tmp_path, checks())))
    more = "".join(
        f"9{n},{pack},P48A,2026-07-0{n}T09:00,{kind},51.2,25.0,600,{15.0 if kind == 'loaded' else 0.0},MT01\n"
        for n in (1, 2)
        for pack in ("0", "Z")
    )
    out = pd.read_csv(io.BytesIO(run(tmp_path, checks() + more)), dtype={"pack_id": str})
    assert list(dict.fromkeys(out.pack_id)) == ["0", "A", "Z"]
    pd.testing.assert_frame_equal(out[out.pack_id == "A"].reset_index(drop=True), alone)
    others = out[out.pack_id != "A"]
    assert others.p50.isna().all() and others.reason.str.contains(r"not enough comparable checks \(0 of 6\)").all()
    assert set(others.quantity) == ({"rested_full_v"} if kind == "stored" else {"rested_full_v", "loaded_v"})
    assert len(others) == 2 * 3 * others.quantity.nunique()


def test_a_file_of_packs_that_were_never_read_rested_gives_their_rows(tmp_path: Path) -> None:
    run(tmp_path, HEAD + "1,A,P48A,2026-07-01T09:00,stored,51.2,25.0,600,0.0,MT01\n")
    out = pd.read_csv(tmp_path / "o.csv")
    assert list(out.horizon_days) == [28, 91, 182] and (out.comparable_checks == 0).all()


def test_a_row_without_a_pack_is_refused_with_its_number(tmp_path: Path) -> None:
    with pytest.raises(FleetcareError, match="3"):
        run(tmp_path, checks().replace("\n1,A,", "\n1, ,", 1))


@pytest.mark.parametrize("noted", ["-273.15", "-300.0", "-127.0"])
def test_an_impossible_bench_temperature_spoils_its_own_reading_and_no_other(tmp_path: Path, noted: str) -> None:
    lines = checks().splitlines()
    at = 21
    lines[at : at + 2] = [line.replace(",25.0,", f",{noted},") for line in lines[at : at + 2]]
    out = pd.read_csv(io.BytesIO(run(tmp_path, "\n".join(lines) + "\n")))
    clean = pd.read_csv(io.BytesIO(run(tmp_path, checks())))
    loaded, plain = (one[one.quantity == "loaded_v"] for one in (out, clean))
    assert (loaded.comparable_checks >= 29).all() and loaded.p50.notna().all()
    assert np.allclose(loaded.p50, plain.p50, atol=0.15)


@pytest.mark.parametrize("sign", [0, -1])
def test_volts_that_no_charged_pack_has_are_listed_and_not_projected(tmp_path: Path, sign: int) -> None:
    frame = pd.read_csv(io.StringIO(checks()))
    frame["volts"] = sign * frame["volts"]
    (tmp_path / "c.csv").write_text(frame.to_csv(index=False), "utf-8")
    (tmp_path / "m.csv").write_text(MODELS, "utf-8")
    project_files(
        tmp_path / "c.csv", tmp_path / "m.csv", "2026-08-01", "28,91,182", tmp_path / "o.csv", tmp_path / "s.csv"
    )
    out = pd.read_csv(tmp_path / "o.csv")
    full = out[out.quantity == "rested_full_v"]
    assert full.p50.isna().all() and full.reason.str.contains("0 of 6").all()
    assert len(pd.read_csv(tmp_path / "s.csv")) == 30


def test_a_meter_that_reads_apart_from_the_others_is_named_as_in_a_fleet(tmp_path: Path) -> None:
    def three(off: float) -> str:
        rows = []
        for n in range(30):
            for pack in range(4):
                at, meter = pd.Timestamp("2026-01-05T09:00") + pd.Timedelta(days=7 * n, hours=pack), (n + pack) % 3
                for kind, volts in (("rested_full", 54.30 + 0.01 * (n % 2)), ("loaded", 52.00 + 0.01 * (n % 2))):
                    volts += off if meter == 2 else 0.0
                    when = (at + pd.Timedelta(minutes=2 * (kind == "loaded"))).isoformat()
                    rows.append(f"{len(rows)},P{pack},P48A,{when},{kind},{volts:.2f},25.0,60,15.0,MT0{meter + 1}")
        return HEAD + "\n".join(rows) + "\n"

    (tmp_path / "m.csv").write_text(MODELS, "utf-8")
    for off in (0.77, 0.02):
        (tmp_path / "c.csv").write_text(three(off), "utf-8")
        done = project_files(
            tmp_path / "c.csv", tmp_path / "m.csv", "2026-08-01", "28", tmp_path / "o.csv", tmp_path / "s.csv"
        )
        listed = pd.read_csv(tmp_path / "s.csv", dtype=str, keep_default_na=False)
        if off < 0.1:
            assert done.meters == () and not (listed.used == "corrected").any()
            continue
        (one,) = done.meters
        assert (
            one.meter == "MT03"
            and "V above the middle of the file's meters on the same packs and others of their models" in say(one.why)
        )
        assert (listed.pack_id[0], listed.timestamp[0], listed.meter_id[0], listed.used[0]) == (
            "",
            "",
            "MT03",
            "corrected",
        )
        assert "Prove MT03 on a known source" in listed.why[0]
