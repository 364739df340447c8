"""The command line: help, exit codes, formats, plain refusals, and a run with no display."""

import csv
import datetime as dt
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fleetcare.__main__ import main
from fleetcare.cli.commands import parser
from fleetcare.cli.tables import harmless, table
from fleetcare.services import places, sheets
from tests.kestrel import Kestrel

ROOT = Path(__file__).parents[1]


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    try:
        code = main([str(word) for word in words])
    except SystemExit as stop:
        code = int(stop.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


@pytest.fixture
def fleet(kestrel: Kestrel) -> Path:
    return kestrel.store.path


COMMANDS = (
    "plan",
    "round",
    "absent",
    "layup",
    "done",
    "calendar",
    "demo",
    "new",
    "import",
    "check",
    "board",
    "project",
    "sheet",
    "tallies",
    "holds",
    "quarantine",
    "parts",
    "elsewhere",
    "vans",
    "disposal",
    "verify",
    "lodge",
    "history",
    "labels",
    "window",
)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_stands_in_the_manual(capsys: pytest.CaptureFixture[str], command: str) -> None:
    code, out, _ = run(capsys, command, "--help") if command != "window" else (0, parser().format_help(), "")
    assert code == 0 and command in out
    assert f"fleetcare {command}" in (ROOT / "docs" / "command-line.md").read_text("utf-8")


def test_the_board_adds_up_in_every_format(capsys: pytest.CaptureFixture[str], fleet: Path) -> None:
    code, text, _ = run(capsys, "board", "--fleet", fleet)
    assert code == 0 and text.startswith("Kestrel Wharf, as of") and "24 vehicles = " in text
    _, made, _ = run(capsys, "board", "--fleet", fleet, "--format", "csv")
    _, structured, _ = run(capsys, "board", "--fleet", fleet, "--format", "json")
    assert len(list(csv.DictReader(io.StringIO(made)))) == len(json.loads(structured)) == 24


def test_a_check_from_the_command_line_prints_verdict_rule_and_next_step(
    capsys: pytest.CaptureFixture[str], fleet: Path, kestrel: Kestrel
) -> None:
    words = [
        "check",
        "--fleet",
        fleet,
        "p-1002",
        "--vehicle",
        "eb-12",
        "--as",
        "dunn",
        "--meter",
        "m-01",
        "--rest",
        "hours_1_3",
    ]
    code, out, _ = run(
        capsys, *words, "--rested", "41,38", "--loaded", "39.78", "--load", "L-08", "--bench", "18", "--looks-good"
    )
    assert code == 0 and "Watch" in out and "0.200 Ω" in out and "Next: May go out" in out
    assert "Waits for a decision (watch): The last check of P-1002 says watch." in out
    with kestrel.store.view() as view:
        before = view.position
    for typed, said in (
        ("41380", "above any charge"),
        ("41380 mV", "unit"),
        ("", "typed"),
        ("nan", "not a number"),
        ("-41", "not a number"),
    ):
        code, out, err = run(capsys, *words, f"--rested={typed}")
        assert code == 2 and not out and (said in err or "leads" in err)
    code, _, err = run(capsys, *words[:2], fleet, "P-9999", *words[4:], "--rested", "41")
    assert code == 2 and "no pack P-9999" in err
    with kestrel.store.view() as view:
        assert view.position == before


def test_verify_finds_a_changed_digit(capsys: pytest.CaptureFixture[str], fleet: Path, kestrel: Kestrel) -> None:
    import sqlite3

    code, out, _ = run(capsys, "verify", "--fleet", fleet)
    assert code == 0 and "all match" in out
    kestrel.store.close()
    with sqlite3.connect(fleet, isolation_level=None) as other:
        other.execute("DROP TRIGGER record_no_update")
        other.execute(
            "UPDATE record SET bytes = CAST(replace(CAST(bytes AS TEXT), '41.60', '41.90') AS BLOB) WHERE position = 140"
        )
    code, out, _ = run(capsys, "verify", "--fleet", fleet)
    assert code == 1 and "Record 140" in out


def test_a_fleet_on_a_network_drive_is_warned_of_and_the_table_stays_clean(
    capsys: pytest.CaptureFixture[str], fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, plain, before = run(capsys, "board", "--fleet", fleet, "--format", "csv")
    monkeypatch.setattr(places, "network_kind", lambda _path: "cifs")
    _, out, err = run(capsys, "board", "--fleet", fleet, "--format", "csv")
    assert out == plain and "network drive" not in before
    assert f"{fleet} is on a network drive (cifs). Keep the fleet file on this PC's own disk" in err


@pytest.mark.parametrize(("name", "content", "said"), [
    ("none.fleet", None, "no file"), ("text.fleet", b"hello", "not a fleet file"), ("empty.fleet", b"", "not a fleet file"),
])  # fmt: skip
def test_a_file_that_is_no_fleet_is_refused_in_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str, content: bytes | None, said: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    code, out, err = run(capsys, "board", "--fleet", path)
    assert code == 2 and not out and said in err and len(err.splitlines()) == 1


def test_the_fixed_projection_command(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from tests.services.test_projecting import MODELS, checks

    (tmp_path / "c.csv").write_text(checks(), "utf-8")
    (tmp_path / "m.csv").write_text(MODELS, "utf-8")
    words = [
        "project",
        tmp_path / "c.csv",
        "--models",
        tmp_path / "m.csv",
        "--as-of",
        "2026-08-01",
        "--horizons",
        "28,91,182",
    ]
    code, out, err = run(capsys, *words, "--output", tmp_path / "o.csv")
    assert code == 0 and not out and (tmp_path / "o.csv").exists()
    code, _, err = run(capsys, *words)
    assert code == 2 and "--output" in err


def test_a_new_fleet_can_be_founded_imported_into_and_printed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    from tests.services.test_importing import CELLS

    fleet, cells = tmp_path / "new.fleet", tmp_path / "cells.csv"
    cells.write_text(CELLS, "utf-8")
    assert run(capsys, "new", fleet, "--name", "My shop", "--person", "Jo Mason")[0] == 0
    assert run(capsys, "new", fleet, "--name", "My shop", "--person", "Jo Mason")[0] == 2
    code, out, _ = run(capsys, "import", "measured", cells, "--fleet", fleet, "--as", "JOMASON")
    assert code == 0 and "24 taken" in out
    code, out, _ = run(capsys, "project", "--fleet", fleet)
    assert code == 0 and "P-C2" in out
    assert run(capsys, "sheet", "P-C2", "--fleet", fleet, "--output", tmp_path / "s.pdf")[0] == 0
    assert run(capsys, "sheet", "--board", "--fleet", fleet, "--output", tmp_path / "b.pdf")[0] == 0
    assert (
        run(capsys, "sheet", "--blank", "2", "--fleet", fleet, "--output", tmp_path / "c.pdf", "--page", "Letter")[0]
        == 0
    )
    assert run(capsys, "sheet", "--fleet", fleet, "--output", tmp_path / "d.pdf")[0] == 2
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")


def test_the_demonstration_does_its_job_without_a_display(tmp_path: Path) -> None:
    environment = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    environment["FLEETCARE_HOME"] = str(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "fleetcare", "demo"], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert "25 vehicles = " in done.stdout and "Packs that reach a limit soonest" in done.stdout
    for key in ("Demonstration fleet:", "Maintenance sheet:", "Board for the wall:"):
        path = next(line for line in done.stdout.splitlines() if line.startswith(key)).split(":", 1)[1].strip()
        assert Path(path).is_file()


@pytest.mark.parametrize(
    ("cell", "safe"), [("=1+1", "'=1+1"), ("@x", "'@x"), ("-41.2", "-41.2"), ("+x", "'+x"), ("plain", "plain")]
)
def test_a_cell_is_never_a_formula(cell: str, safe: str) -> None:
    assert harmless(cell) == safe


def test_csv_is_quoted_by_the_rules() -> None:
    # RFC 4180: fields with comma or quote are quoted, quotes doubled, lines end in CRLF.
    assert table(("a", "b", "c"), [("aaa", 'b"bb', "c,c")], "csv") == 'a,b,c\r\naaa,"b""bb","c,c"\r\n'


def test_blank_sheets_are_issued_so_that_their_numbers_are_known(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kestrel: Kestrel
) -> None:
    code, out, _ = run(capsys, "sheet", "--blank", "2", "--fleet", kestrel.store.path, "--output", tmp_path / "c.pdf",
                       "--as", "PIKE")  # fmt: skip
    assert code == 0 and "Sheet numbers issued (2)" in out
    numbers = [row.number for row in sheets.sheet_rows(kestrel.store)]
    assert len(numbers) == 2 and all(number in out for number in numbers)
    code, _, err = run(capsys, "sheet", "--blank", "100", "--fleet", kestrel.store.path, "--output", tmp_path / "d.pdf")
    assert code == 2 and "Between 1 and 99" in err


def test_tallies_holds_and_quarantine_say_what_the_screens_say(
    capsys: pytest.CaptureFixture[str], fleet: Path, kestrel: Kestrel, tmp_path: Path
) -> None:
    from fleetcare.domain.checks import LookItem, LookOver, Trip, TripCause
    from fleetcare.services import record

    assert run(capsys, "tallies", "--fleet", fleet)[1].startswith("No trip in the last 30 days")
    assert run(capsys, "holds", "--fleet", fleet)[1] == "Nothing is held.\n"
    assert run(capsys, "quarantine", "--fleet", fleet)[1] == "No pack is in quarantine.\n"
    now = dt.datetime.now(dt.UTC).replace(microsecond=0)
    for pack in ("P-1002", "P-1011"):
        trip = Trip(pack, "EB-12", now, TripCause.OVER_CURRENT, True)
        record.record_trip(kestrel.store, lambda: now, kestrel.author(), trip)
    look = LookOver("P-1009", now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, lambda: now, kestrel.author(), look, (), "Q-2")
    rows = json.loads(run(capsys, "tallies", "--fleet", fleet, "--format", "json")[1])
    assert rows[0]["counted against"] == "EB-12" and "the vehicle is grounded" in rows[0]["what that says"]
    held = json.loads(run(capsys, "holds", "--fleet", fleet, "--format", "json")[1])
    assert [(one["held"], one["class"]) for one in held] == [("P-1009", "danger"), ("EB-12", "fault")]
    assert "Q-2" in run(capsys, "quarantine", "--fleet", fleet)[1]
    sheet = tmp_path / "q.pdf"
    code, _, _ = run(capsys, "sheet", "P-1009", "--quarantine", "--output", sheet, "--fleet", fleet)
    assert code == 0 and sheet.read_bytes()[:5] == b"%PDF-"
    code, _, err = run(capsys, "sheet", "P-1002", "--quarantine", "--output", sheet, "--fleet", fleet)
    assert code == 2 and "not quarantined for danger" in err
