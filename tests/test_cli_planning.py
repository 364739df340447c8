"""The plan from the terminal: what is due, the round, who is away, lay-up, done and due, the calendar."""

import csv
import io
import json
from pathlib import Path

import pytest
import vobject

from fleetcare.__main__ import main
from tests.kestrel import MONDAY, Kestrel, build_morning


@pytest.fixture
def fleet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Kestrel:
    """The morning's depot, on a PC whose clock stands at that morning."""
    made = build_morning(tmp_path / "morning.fleet")
    monkeypatch.setattr("fleetcare.app.system_clock", lambda: MONDAY)
    monkeypatch.setattr("fleetcare.app.open_app.__kwdefaults__", {"clock": lambda: MONDAY, "station": None})
    return made


def run(capsys: pytest.CaptureFixture[str], fleet: Kestrel, *words: object) -> tuple[int, str, str]:
    code = main([*(str(word) for word in words), "--fleet", str(fleet.store.path)])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_plan_names_one_day_and_the_reason(fleet: Kestrel, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, fleet, "plan", "--days", "3", "--format", "json")
    rows = json.loads(out)
    assert code == 0 and rows[0]["item"] == "P-1008" and rows[0]["due"] == "2026-10-25"
    assert len({(row["item"], row["what"]) for row in rows}) == len(rows) and all(row["why"] for row in rows)
    code, out, _ = run(capsys, fleet, "plan", "--read-projections", "--as", "DUNN", "--days", "0")
    assert code == 0 and "Projections of 38 packs read into the plan" in out
    assert run(capsys, fleet, "plan", "--read-projections", "--as", "HALE")[0] == 2


def test_the_round_is_worst_first_and_goes_into_files(
    fleet: Kestrel, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, out, _ = run(capsys, fleet, "round", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0 and [row["item"] for row in rows] == ["P-1008", "P-1023"]
    _, out, _ = run(capsys, fleet, "round", "--ahead", "--by-bay")
    assert "Kestrel Wharf, 2 Nov 2026: 2 to do" in out and "P-1301" in out
    path = tmp_path / "r.xlsx"
    assert run(capsys, fleet, "round", "--output", path)[0] == 0 and path.exists()
    assert run(capsys, fleet, "round", "--output", tmp_path / "r.doc")[0] == 2


def test_an_absence_says_what_it_moved(fleet: Kestrel, capsys: pytest.CaptureFixture[str]) -> None:
    with fleet.store.view() as view:
        before = view.position
    words = ("absent", "PIKE", "--from", "2026-11-03", "--to", "2026-11-06", "--because", "off sick", "--as", "ORMOND")
    code, out, _ = run(capsys, fleet, *words)
    assert code == 0 and out.startswith("Pike: no checks from 3 Nov 2026 to 6 Nov 2026.") and "now " in out
    assert "now " in run(capsys, fleet, "round", "--since", before)[1]
    assert "taken back" in run(capsys, fleet, *words, "--withdraw")[1]
    assert "on hire" in _away(fleet, capsys)
    assert run(capsys, fleet, "absent", "NOBODY", "--from", "2026-11-03", "--because", "x", "--as", "ORMOND")[0] == 2


def _away(fleet: Kestrel, capsys: pytest.CaptureFixture[str]) -> str:
    hire = ("absent", "EB-12", "--from", "2026-11-02", "--to", "2026-11-09", "--because", "on hire", "--as", "HALE")
    assert run(capsys, fleet, *hire)[0] == 0
    return run(capsys, fleet, "round", "--ahead", "--format", "json")[1]


def test_packs_are_laid_up_read_and_taken_out(fleet: Kestrel, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        "Packs laid up in W1: 2" in run(capsys, fleet, "layup", "P-1012", "P-1013", "--group", "w1", "--as", "DUNN")[1]
    )
    read = run(capsys, fleet, "layup", "P-1012", "--read", "37,4", "--meter", "M-01", "--bench", "18", "--as", "DUNN")
    assert read[0] == 0 and "pass" in read[1]
    rows = json.loads(run(capsys, fleet, "layup", "--format", "json")[1])
    assert {row["pack"]: row["stands"] for row in rows} == {"P-1012": "in its band", "P-1013": ""}
    assert "Packs taken out of lay-up: 1" in run(capsys, fleet, "layup", "P-1013", "--out", "--as", "DUNN")[1]
    assert run(capsys, fleet, "layup", "P-1013", "--out", "--as", "DUNN")[0] == 2


def test_done_and_due_and_the_calendar(fleet: Kestrel, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    code, out, _ = run(capsys, fleet, "done", "--weeks", "3", "--format", "json")
    weeks = {row["week"]: row for row in json.loads(out)}
    assert code in (0, 1) and sum(int(row["due"]) for row in weeks.values()) > 0
    for how in ("depot", "person", "missed"):
        assert run(capsys, fleet, "done", "--by", how)[1]
    path = tmp_path / "kw.ics"
    assert run(capsys, fleet, "calendar", "--output", path)[0] == 0
    assert vobject.readOne(path.read_text("utf-8")).vevent_list
    assert run(capsys, fleet, "calendar", "--person", "pike", "--output", path)[0] == 0
