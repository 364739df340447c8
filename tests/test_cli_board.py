"""The board's copy, the overview and the renewal summary from the command line."""

import json
from pathlib import Path

import pytest

from tests.kestrel import Kestrel, build_morning
from tests.test_cli import run


def test_a_copy_of_the_board(capsys: pytest.CaptureFixture[str], kestrel: Kestrel, tmp_path: Path) -> None:
    code, out, _ = run(capsys, "board", "--fleet", kestrel.store.path, "--html", tmp_path / "out")
    assert code == 0 and "board.html" in out
    assert "24 vehicles =" in (tmp_path / "out" / "board.html").read_text("utf-8")
    (tmp_path / "file").write_text("x")
    code, _, error = run(capsys, "board", "--fleet", kestrel.store.path, "--html", tmp_path / "file")
    assert code == 2 and "board.html" in error


def test_the_board_in_words_says_all_that_the_window_says(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    made = build_morning(tmp_path / "morning.fleet")
    made.store.close()
    code, out, _ = run(capsys, "board", "--fleet", tmp_path / "morning.fleet", "--as-of", "2026-11-02")
    told = " ".join(out.split())
    assert code == 0 and "24 vehicles = 19 ready + 1 ready, check due + 1 limited + 3 grounded" in told
    for words in (
        "CB-06 grounded fault, since 1 Nov 2026 21:10: front brake (grounded by hand) → Mend it, then release it.",
        "May clear it: Dunn, Pike",
        "Fit P-1011: full at 41.40 V on 1 Nov 2026, no charge on record since; Store, same depot.",
        "SC-33 ready, check due action due, since 31 Oct 2026: P-1023: check due 31 Oct 2026",
        "ready CB-01, CB-02,",
    ):
        assert words in told, words
    part = told[told.index("EB-14 grounded") : told.index("EB-18 grounded")]
    assert "P-13" not in part and "…" not in told
    for asked, why in (("2099-01-01", "lies ahead of today"), ("2020-01-01", "Nothing was recorded yet")):
        code, out, error = run(capsys, "board", "--fleet", tmp_path / "morning.fleet", "--as-of", asked)
        assert code == 2 and not out and why in error, "a day to come is no board, and no fleet that stands still"


def test_the_overview(capsys: pytest.CaptureFixture[str], kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    code, out, _ = run(capsys, "overview", "--fleet", kestrel.store.path, "--format", "json")
    rows = json.loads(out)
    assert code == 0 and rows[0]["section"] == "Waiting for a decision" and rows[0]["about"] == "P-1002"


def test_the_renewal_summary(capsys: pytest.CaptureFixture[str], kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "renewal.pdf"
    code, out, _ = run(capsys, "renewal", "--fleet", kestrel.store.path, "--output", path, "--as", "ormond")
    assert code == 0 and "Written:" in out and path.read_bytes().startswith(b"%PDF")
