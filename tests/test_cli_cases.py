"""Recalls, incidents, decisions and competence from the command line, on the same file as the window."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

import pytest

from fleetcare import app as builder
from fleetcare.app import App
from fleetcare.cli.commands import run
from fleetcare.settings import Settings
from tests.kestrel import Kestrel


@pytest.fixture
def fleet(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch) -> Kestrel:
    """Commands open the depot's own store with its clock."""
    monkeypatch.setattr(builder, "open_app", lambda _path: App(kestrel.store, kestrel.clock, "BENCH-1", Settings()))
    return kestrel


def test_a_notice_is_previewed_entered_printed_and_cleared(
    fleet: Kestrel, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter = ["recall", "N-9", "--models", "K48-B", "--serials", "2402-0701", "2402-0703", "--remedy", "new pack"]
    assert run([*enter, "--preview"]) == 0
    assert "P-1303" in capsys.readouterr().out
    assert run(["recall"]) == 0 and capsys.readouterr().out == "No notice was entered.\n"
    assert run([*enter, "--as", "ORMOND"]) == 0
    assert "3 packs meant" in capsys.readouterr().out
    assert run([*enter[:4], "--serials", "2402-0703", "2402-0701", "--as", "ORMOND"]) == 2
    assert "comes after" in capsys.readouterr().err
    assert run(["recall", "N-9", "--sheet", str(tmp_path / "r.pdf"), "--as", "HALE"]) == 0
    assert (tmp_path / "r.pdf").read_bytes()[:5] == b"%PDF-"
    capsys.readouterr()
    clear = ["recall", "N-9", "--cleared", "P-1302", "--remedy", "replaced", "--as", "DUNN"]
    monkeypatch.setattr("sys.stdin", io.StringIO("B-02\n"))
    assert run(clear) == 2 and "own badge or PIN" in capsys.readouterr().err
    monkeypatch.setattr("sys.stdin", io.StringIO("B-01\n"))
    assert run(clear) == 0
    assert run(["recall"]) == 0
    assert "CB-01, CB-02" in capsys.readouterr().out


def test_an_incident_is_opened_listed_and_closed(
    fleet: Kestrel, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run(["incident"]) == 0 and "No incident" in capsys.readouterr().out
    opened = ["incident", "--open", "smoke", "--where", "shed", "--items", "P-1002,EB-12", "--persons", "Pike"]
    assert run([*opened, "--at", "2026-11-02T05:50", "--as", "HALE"]) == 0
    assert "I-2026-001 is open" in capsys.readouterr().out
    assert run(["incident", "--format", "csv"]) == 0
    assert '"P-1002, EB-12",Pike' in capsys.readouterr().out
    monkeypatch.setattr("sys.stdin", io.StringIO("B-01\n"))
    assert run(["incident", "--close", "I-2026-001", "--reason", "seen", "--as", "DUNN"]) == 2
    assert "for a manager" in capsys.readouterr().err


def test_decisions_are_listed_and_made(fleet: Kestrel, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["decide"]) == 0 and "Nothing waits" in capsys.readouterr().out
    fleet.check("P-1011", "41.60", loaded="39.80")
    assert run(["decide", "--no-projections"]) == 0
    assert "The last check of P-1011 says watch." in capsys.readouterr().out
    until = (fleet.now + dt.timedelta(days=5)).date().isoformat()
    assert run(["decide", "P-1011", "carry_on", "--until", until, "--as", "FARROW"]) == 2
    assert "for a manager or somebody who may reset" in capsys.readouterr().err
    assert run(["decide", "P-1011", "carry_on", "--until", until, "--as", "DUNN"]) == 0
    assert "carry on until 7 Nov 2026" in capsys.readouterr().out
    assert run(["decide", "P-1011", "--put-off", "--until", until, "--reason", "ill", "--as", "DUNN"]) == 2
    assert "allow no due date" in capsys.readouterr().err


def test_the_matrix_is_printed_and_written(fleet: Kestrel, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run(["competence", "--format", "csv"]) == 0
    assert "Pike,own staff,may reset and release" in capsys.readouterr().out
    assert run(["competence", "--sheet", str(tmp_path / "c.pdf")]) == 0
    assert (tmp_path / "c.pdf").exists()
