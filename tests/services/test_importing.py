"""Imports: every row taken, refused with its reason, or known already; the same file adds nothing."""

import datetime as dt
import os
from pathlib import Path

import pandas as pd
import pytest

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import say
from fleetcare.services import importing, measured, summary
from tests.kestrel import Kestrel, build

GOOD = """pack,vehicle,date,rest_minutes,rested_v,loaded_v,load_a,load_s,temperature_c,meter,note
P-1002,EB-12,2026-10-05T08:10,90,"41,52",40.00,8,10,18,M-01,
P-1002,EB-12,2026-10-12T08:10,120,41.50,39.96,8,10,17,M-01,second
P-1301,CB-01,2026-10-12T08:20,90,54.20,,,,16,M-01,
"""
BAD = {
    "P-9999,,2026-10-05,90,41.5,,,,18,M-01,": "no pack P-9999",
    "P-1002,,2026-10-05,90,forty,,,,18,M-01,": "not a number",
    "P-1002,,2026-10-05,90,,,,,18,M-01,": "Nothing is typed",
    "P-1002,,2026-10-05,90,nan,,,,18,M-01,": "not a number",
    "P-1002,,2026-10-05,90,-41.2,,,,18,M-01,": "leads reversed",
    "P-1002,,2026-10-05,90,41380,,,,18,M-01,": "above any charge",
    "P-1002,,2026-10-05,90,14.30,,,,18,M-01,": "digits swapped",
    "P-1002,,2027-10-05,90,41.2,,,,18,M-01,": "future",
    "P-1002,,5.10.,90,41.2,,,,18,M-01,": "no date and time",
    "P-1002,,2026-10-05,90,41.2,,,,18,M-77,": "no meter M-77",
    "P-1002,CB-01,2026-10-05,90,41.2,,,,18,M-01,": "36 V pack",
    "P-1002,,2026-10-05,soon,41.2,,,,18,M-01,": "no rest",
    "P-1002,,2026-10-05,90,39.0,41.0,8,10,18,M-01,": "swapped",
}


def bring(kestrel: Kestrel, tmp_path: Path, text: str, name: str = "old.csv") -> importing.ImportReport:
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return importing.import_checks(kestrel.store, kestrel.clock, kestrel.author(), path)


def test_good_rows_go_in_with_file_and_row_and_bad_ones_are_refused_with_a_reason(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    report = bring(kestrel, tmp_path, GOOD + "\n".join(BAD) + "\n")
    assert (report.rows, report.taken, report.known, len(report.refused)) == (3 + len(BAD), 3, 0, len(BAD))
    for number, (refused, words) in enumerate(zip(report.refused, BAD.values(), strict=True)):
        assert refused.row == 5 + number and words in say(refused.reason)
    imported = [c for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed"]
    assert [c.source for c in imported] == ["file:old.csv:3", "file:old.csv:2"]
    assert str(imported[1].rested_v) == "41.52" and imported[0].remark == "second"
    assert kestrel.store.verify().good


def test_the_same_file_again_adds_nothing(kestrel: Kestrel, tmp_path: Path) -> None:
    bring(kestrel, tmp_path, GOOD)
    with kestrel.store.view() as view:
        before = view.head()
    again = bring(kestrel, tmp_path, GOOD, "copy.csv")
    assert (again.taken, again.known) == (0, 3)
    with kestrel.store.view() as view:
        assert view.head() == before


def test_a_file_from_bottom_to_top_and_once_more_projects_the_same(tmp_path: Path) -> None:
    head = GOOD.splitlines()[0]
    start = dt.datetime(2026, 8, 3, 8, 10)
    sags = (1.60, 1.64, 1.62, 1.66, 1.70, 1.69, 1.72, 1.74, 1.77, 1.79)
    rows = [
        f"P-1002,EB-12,{(start + dt.timedelta(days=7 * n)).isoformat(timespec='minutes')},90,41.5{n % 3},{41.5 + n % 3 / 100 - sag:.2f},8,10,18,M-01,"
        for n, sag in enumerate(sags)
    ]
    told = []
    for number, files in enumerate(([rows], [rows[::-1]], [rows, rows[::-1]], [rows[:6], rows[3:]])):
        made = build(tmp_path / f"{number}.fleet")
        for turn, lines in enumerate(files):
            bring(made, tmp_path, "\n".join([head, *lines]) + "\n", f"{number}-{turn}.csv")
        page = summary.pack_summary(made.store, made.clock, "P-1002")
        told.append([(p.quantity, say(p.sentence), p.level, p.horizons, p.crossing_p50) for p in page.projections])
        made.store.close()
    assert "comparable checks" in told[0][0][1] and told[0][0][2] is not None
    assert all(one == told[0] for one in told[1:])


@pytest.mark.parametrize("again", [GOOD, GOOD.replace(":10,", ":10+00:00,").replace(":20,", ":20+00:00,")])
def test_a_file_that_an_earlier_version_took_adds_nothing(kestrel: Kestrel, tmp_path: Path, again: str) -> None:
    """Versions before decision 200 kept a time without an offset as UTC; in October the depot's clock is at +01:00."""
    bring(kestrel, tmp_path, GOOD.replace(":10,", ":10+00:00,").replace(":20,", ":20+00:00,"))
    with kestrel.store.view() as view:
        before = view.head()
        kept = view.record_at(view.position)
        assert kept is not None and kept.done_at.isoformat() == "2026-10-12T08:20:00+00:00", (
            "written as the file has it"
        )
    report = bring(kestrel, tmp_path, again, "again.csv")
    assert (report.taken, report.known) == (0, 3)
    with kestrel.store.view() as view:
        assert view.head() == before


def test_a_whole_import_can_be_taken_back_and_brought_in_again(kestrel: Kestrel, tmp_path: Path) -> None:
    with kestrel.store.view() as view:
        before = view.latest_checks()
    report = bring(kestrel, tmp_path, GOOD)
    assert report.batch is not None
    importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), report.batch, "wrong depot")
    with kestrel.store.view() as view:
        assert view.latest_checks() == before
    assert all(
        c.struck for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed"
    )
    assert bring(kestrel, tmp_path, GOOD).taken == 3
    assert kestrel.store.verify().good


def test_a_spreadsheet_and_named_columns_are_read(kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "old.xlsx"
    table = pd.DataFrame(
        {"Akku": ["P-1002"], "Tag": ["2026-10-05"], "Volt": ["41.5"], "Messgerät": ["M-01"], "Rest": ["overnight"]}
    )
    table.to_excel(path, index=False)
    mapping = {"pack": "Akku", "done_at": "Tag", "rested_v": "Volt", "meter": "Messgerät"}
    assert importing.import_checks(kestrel.store, kestrel.clock, kestrel.author(), path, mapping).taken == 1


@pytest.mark.parametrize(("name", "content", "words"), [
    ("none.csv", None, "cannot be read"), ("a.csv", b"\xff\xfe\x00", "cannot be read"), ("a.csv", b"", "cannot be read"),
    ("a.xlsx", b"not a zip", "cannot be read"), ("a.csv", b"pack,volts\nP-1002,41\n", "no column for done_at"),
])  # fmt: skip
def test_a_file_that_cannot_be_read_is_refused_in_words(
    kestrel: Kestrel, tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FileRefused, match=words):
        importing.import_checks(kestrel.store, kestrel.clock, kestrel.author(), path)


def test_a_newest_imported_reading_below_the_pull_line_holds_the_pack(kestrel: Kestrel, tmp_path: Path) -> None:
    bring(kestrel, tmp_path, "pack,date,rest_minutes,volts,meter\nP-1002,2026-11-01T20:00,120,39.0,M-01\n")
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state is PackState.HELD


CELLS = "cell_id,cycle,elapsed_days,check_kind,volts,temperature_c,load_a,rest_h,load_s,capacity_ah,note\n" + "".join(
    f"C{c},{n},,rested_full,{4.18 - 0.001 * n * c:.4f},25,0,1.0,,2,\nC{c},{n},,loaded,{4.05 - 0.002 * n * c:.4f},25,2,,120,2,\n"
    for c in (1, 2) for n in range(1, 13)
)  # fmt: skip


def test_measured_cells_import_project_and_print_without_a_manual_step(kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "cells.csv"
    path.write_text(CELLS + "C1,13,,rested_full,3.1,25,0,1.0,,2,suspect reading\n", "utf-8")
    report = measured.import_measured(kestrel.store, kestrel.clock, kestrel.author(), path, series=13)
    assert report.taken == 24 and len(report.refused) == 1
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-C1")
    assert page.checks[0].loaded_v is not None and all(p.projected for p in page.projections)


def test_a_loaded_cell_reading_that_goes_nowhere_is_refused_and_said(kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "CELLS.csv"
    path.write_text(
        ",".join(measured.COLUMNS) + "\n"
        "C1,1,1,rested_full,4.18,24,,4,,\nC1,1,1,loaded,3.90,24,2.0,4,30,\nC1,1,1,loaded,3.91,24,2.0,4,30,\n"
        "C1,2,2,loaded,3.90,24,2.0,4,30,\n",
        "utf-8",
    )
    done = measured.import_measured(kestrel.store, kestrel.clock, kestrel.author(), path, series=10)
    assert done.taken == 1
    assert [(one.row, say(one.reason)) for one in done.refused] == [
        (3, "cell C1, cycle 1: a later row has another loaded reading, which is taken"),
        (5, "cell C1, cycle 2: a loaded reading without a rested-full one"),
    ]


MEASURED = Path(os.environ.get("FLEETCARE_MEASURED", Path(__file__).parents[3] / "shared" / "data" / "measured"))


@pytest.mark.skipif(not MEASURED.is_dir(), reason="the measured histories are not part of this project")
@pytest.mark.parametrize("name", ["nasa_core4_checks.csv", "zhu_ncm_25_35c_rested_full.csv"])
def test_published_measured_histories_import_and_project(kestrel: Kestrel, name: str) -> None:
    # NASA Ames PCoE battery data set (Saha and Goebel 2007); Zhu et al. 2022, doi 10.5281/zenodo.6405084.
    report = measured.import_measured(kestrel.store, kestrel.clock, kestrel.author(), MEASURED / name, series=13)
    assert report.taken > 250
    with kestrel.store.view() as view:
        packs = [code for code, pack in view.things("pack").items() if pack.note.startswith("measured")]
    pages = [summary.pack_summary(kestrel.store, kestrel.clock, code) for code in packs]
    assert all(any(p.projected for p in page.projections) for page in pages)
    again = measured.import_measured(kestrel.store, kestrel.clock, kestrel.author(), MEASURED / name, series=13)
    assert again.taken == 0
