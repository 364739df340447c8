"""The board's copy, the overview and the renewal summary from the command line."""

import json
from pathlib import Path

import pytest

from tests.kestrel import Kestrel
from tests.test_cli import run


def test_a_copy_of_the_board(capsys: pytest.CaptureFixture[str], kestrel: Kestrel, tmp_path: Path) -> None:
    code, out, _ = run(capsys, "board", "--fleet", kestrel.store.path, "--html", tmp_path / "out")
    assert code == 0 and "board.html" in out
    assert "24 vehicles =" in (tmp_path / "out" / "board.html").read_text("utf-8")
    (tmp_path / "file").write_text("x")
    code, _, error = run(capsys, "board", "--fleet", kestrel.store.path, "--html", tmp_path / "file")
    assert code == 2 and "board.html" in error


def test_the_overview(capsys: pytest.CaptureFixture[str], kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    code, out, _ = run(capsys, "overview", "--fleet", kestrel.store.path, "--format", "json")
    rows = json.loads(out)
    assert code == 0 and rows[0]["section"] == "Waiting for a decision" and rows[0]["about"] == "P-1002"


def test_the_renewal_summary(capsys: pytest.CaptureFixture[str], kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "renewal.pdf"
    code, out, _ = run(capsys, "renewal", "--fleet", kestrel.store.path, "--output", path, "--as", "ormond")
    assert code == 0 and "Written:" in out and path.read_bytes().startswith(b"%PDF")
