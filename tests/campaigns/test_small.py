"""A small version of each campaign for every day; the full ones are commands, see docs/reliability.md."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.campaigns import alterations, faults, guided, unsynced

ROOT = Path(__file__).parents[2]
NEEDS_FORK = pytest.mark.skipif(sys.platform == "win32", reason="child processes are forked")


@pytest.mark.parametrize(
    ("campaign", "count", "says"),
    [
        pytest.param("kills", 8, "8 kills: 0 acknowledged records lost, 0 half deeds", marks=NEEDS_FORK),
        pytest.param("writers", 60, "none lost, chain whole", marks=NEEDS_FORK),
        ("fuzz", 400, "typed numbers: 400"),
        ("damaged", 64, "64 damaged files: each read or refused in a sentence"),
    ],
)
def test_a_campaign_of_processes(campaign: str, count: int, says: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", f"tests.campaigns.{campaign}", str(count)], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0 and says in done.stdout, done.stdout + done.stderr[-3000:]


def test_alterations_in_every_table_are_found_and_named() -> None:
    tally = alterations.run(44)
    assert sum(tally.values()) >= 44 and len({name.split(":")[0] for name in tally}) >= 18


def test_a_forgery_with_every_hash_made_again_fails_against_paper() -> None:
    assert "does not match the printed fingerprint" in alterations.forged()


def test_a_flipped_bit_is_found_or_has_no_effect() -> None:
    found = faults.run(every=16)
    assert sum(tally["found and said"] for tally in found.values()) > 5


def test_a_flipped_bit_in_the_log_is_refused_and_loses_no_deed() -> None:
    found = faults.run_log(every=12)
    assert all(tally["refused at once"] for tally in found.values())


def test_inputs_led_by_the_lines_they_reach_find_no_crash() -> None:
    pytest.importorskip("atheris")
    found = guided.run(300, only=("number", "spreadsheet"))
    assert set(found) == {"number", "spreadsheet"} and all(runs for runs, _ in found.values())


@pytest.mark.parametrize("kind", ["csv", "xlsx", "ods"])
def test_a_long_sheet_goes_all_the_way_in_and_back(kind: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.bench_sheets", "1500", kind], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0 and "{'checks': 1500}" in done.stdout, done.stdout + done.stderr[-3000:]
    steps = ("looked at", "shown", "brought in", "backed up and read through", "the same file again", "taken back",
             "read through once more")  # fmt: skip
    assert [line.partition(":")[0] for line in done.stdout.splitlines()[1:] if not line.startswith(" ")] == [*steps]


def test_a_power_cut_that_drops_unsynced_writes_loses_nothing_acknowledged() -> None:
    assert unsynced.run(6) > 0
