"""The quarter review from the command line."""

import csv
import io
import json
from pathlib import Path

import pytest

from fleetcare.cli.commands import run
from tests.kestrel import Kestrel
from tests.quarter import build_quarter


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made: Kestrel = build_quarter(tmp_path_factory.mktemp("cli") / "quarter.fleet")
    made.store.close()
    return made.store.path


def told(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    assert run([str(one) for one in words]) == 0
    return capsys.readouterr().out


def test_the_review_is_printed_sentences_first_and_as_of_a_day(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "ahead", "--fleet", fleet)
    assert text.startswith("In the next 91 days") and "L36 has too few packs to rank" in text
    row = next(line for line in text.splitlines() if line.startswith("K36-A ") and "£420" in line)
    assert row and "GBP" not in text, "one price is told one way"
    assert "Speaks of hire, read it before a claim: not for hire use" in text
    then = told(capsys, "ahead", "--fleet", fleet, "--as-of", "2026-10-20")
    assert "As it was known at the end of 20 Oct 2026: nothing recorded later is used." in then
    assert then == told(capsys, "ahead", "--fleet", fleet, "--as-of", "2026-10-20")
    assert json.loads(told(capsys, "remeasure", "--fleet", fleet, "--as-of", "2026-10-20", "--format", "json")) == []


def test_the_review_for_programs_is_one_document_with_every_table_by_name(
    fleet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = json.loads(told(capsys, "ahead", "--fleet", fleet, "--format", "json"))
    assert list(found) == [
        "In words", "Packs to replace", "Warranties", "Measure again", "How earlier projections came true",
        "What the fleet has taught", "Which model lasts, at equal age",
    ]  # fmt: skip
    assert found["In words"][0]["told"].startswith("In the next 91 days")
    assert found["Warranties"][0]["clause"] == "not for hire use"
    assert found["Packs to replace"][0]["price"] == "420 GBP" and found["Which model lasts, at equal age"]
    lines = list(csv.reader(io.StringIO(told(capsys, "ahead", "--fleet", fleet, "--format", "csv"))))
    titles = [row[0] for before, row in zip([[], *lines], lines, strict=False) if not before]
    assert titles == list(found)
    at = lines.index(["Warranties"])
    assert lines[at + 1][0] == "pack" and lines[at + 2][0] == "P-1012" and lines[at + 3] == []


def test_one_pack_says_what_it_rests_on(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "project", "--pack", "p-1010", "--fleet", fleet, "--as-of", "2026-11-02")
    assert "Readings used: 8. None left out." in text and "0.2275 Ω" in text and "80 % range" in text
    rows = list(
        csv.DictReader(io.StringIO(told(capsys, "project", "--pack", "P-1014", "--fleet", fleet, "--format", "csv")))
    )
    assert sum(row["quantity"] == "Loaded resistance" for row in rows) == 3
    early = told(capsys, "project", "--pack", "P-1010", "--fleet", fleet, "--as-of", "2026-10-06")
    assert "not enough comparable checks (4 of 6)" in early
    assert "0.2275" not in early


def test_a_day_ahead_is_refused(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ahead", "--fleet", str(fleet), "--as-of", "2099-01-01"]) == 2
    assert "Only a day that has been can be asked." in capsys.readouterr().err


def test_claim_file_and_plan_are_written_and_the_clause_is_said_first(
    fleet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    claim, plan = tmp_path / "claim.pdf", tmp_path / "plan.pdf"
    assert run(["sheet", "P-1012", "--claim", "--output", str(claim), "--fleet", str(fleet)]) == 0
    assert "Warranty clause: not for hire use" in capsys.readouterr().err and claim.read_bytes().startswith(b"%PDF")
    assert run(["sheet", "--plan", "--output", str(plan), "--fleet", str(fleet)]) == 0 and plan.exists()
    assert run(["sheet", "--claim", "--output", str(claim), "--fleet", str(fleet)]) == 2


def test_a_purchase_is_recorded(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "purchase",
        "P-1001",
        "--bought",
        "2026-05-01",
        "--months",
        "12",
        "--clause",
        "as sold",
        "--fleet",
        str(fleet),
    ]
    assert run([*words, "--as", "DUNN"]) == 2 and "Only a manager" in capsys.readouterr().err
    assert run([*words, "--as", "ORMOND"]) == 0 and "Purchase of P-1001 recorded." in capsys.readouterr().out
