"""Paper and proof from the command line."""

from pathlib import Path

import pytest

from tests.kestrel import Kestrel
from tests.test_cli import run


@pytest.fixture
def fleet(kestrel: Kestrel) -> Path:
    return kestrel.store.path


def test_verify_says_what_it_can_say_and_compares_paper(
    capsys: pytest.CaptureFixture[str], fleet: Path, kestrel: Kestrel
) -> None:
    code, out, _ = run(capsys, "verify", "--fleet", fleet)
    assert code == 0 and "Consistent with itself, which is all" in out
    with kestrel.store.view() as view:
        head = view.head()
    code, out, _ = run(capsys, "verify", "--fleet", fleet, "--fingerprint", head.short)
    assert code == 0 and out.startswith("Yes: it matches the record as of")
    code, out, _ = run(capsys, "verify", "--fleet", fleet, "--fingerprint", "0000 0000 0000 0000 · 12")
    assert code == 1 and out.startswith("No: at 12 records")
    code, out, error = run(capsys, "verify", "--fleet", fleet, "--fingerprint", "none")
    assert code == 2 and out == "" and "16 digits" in error


def test_lodging_from_the_command_line(capsys: pytest.CaptureFixture[str], fleet: Path, tmp_path: Path) -> None:
    code, out, _ = run(capsys, "lodge", "--fleet", fleet)
    assert code == 0 and "never lodged outside" in out and "Fingerprint (RFC 6962, SHA-256)" in out
    stamp = tmp_path / "stamp.txt"
    code, out, _ = run(capsys, "lodge", "--fleet", fleet, "--time-stamp", stamp, "--with", "broker", "--as", "ormond")
    assert code == 0 and "with broker is on record" in out
    assert stamp.exists() and (tmp_path / "stamp.txt.tsq").exists()
    code, _, error = run(capsys, "lodge", "--fleet", fleet, "--with", "broker", "--as", "dunn")
    assert code == 2 and "for a manager" in error
    code, _, error = run(capsys, "lodge", "--fleet", fleet, "--time-stamp", tmp_path / "none" / "x")
    assert code == 2 and "cannot be written" in error


def test_a_history_from_the_command_line_and_its_check(
    capsys: pytest.CaptureFixture[str], fleet: Path, tmp_path: Path
) -> None:
    pdf, packed = tmp_path / "h.pdf", tmp_path / "h.zip"
    code, out, error = run(capsys, "history", "eb-12", "--fleet", fleet, "--from", "2026-09-01", "--to", "2026-12-31",
                           "--output", pdf, "--archive", packed, "--as", "ormond")  # fmt: skip
    assert code == 0 and error == "" and out.count("Written:") == 2 and pdf.read_bytes().startswith(b"%PDF")
    code, out, _ = run(capsys, "verify", "--history", packed)
    assert code == 0 and "Consistent with itself" in out
    code, out, _ = run(capsys, "verify", "--history", packed, "--fleet", fleet)
    assert code == 0 and "Yes: it matches the record as of" in out
    code, _, error = run(capsys, "verify", "--history", pdf)
    assert code == 2 and "cannot be read as an exported history" in error
    code, _, error = run(capsys, "history", "Z-1", "--fleet", fleet, "--output", pdf)
    assert code == 2 and "neither a vehicle nor a pack" in error
    code, _, error = run(capsys, "history", "--fleet", fleet)
    assert code == 2 and "--output" in error


def test_labels_from_the_command_line_are_issues(
    capsys: pytest.CaptureFixture[str], fleet: Path, tmp_path: Path
) -> None:
    words = ("labels", "p-1002", "--fleet", fleet, "--output", tmp_path / "l.pdf", "--as", "dunn")
    code, out, error = run(capsys, *words, "--stock", "50x30")
    assert code == 0 and error == "" and "labels: 2, pages: 2" in out and "100 %" in out
    _, out, _ = run(capsys, "history", "P-1002", "--fleet", fleet, "--output", tmp_path / "h.pdf")
    assert "Written" in out
    for wrong, said in (("--stock", "not measures"), ("--copies", "1 to 20"), ("--first", "1 to 24")):
        code, _, error = run(capsys, *words, wrong, "0")
        assert code == 2 and said in error


def test_conditions_from_the_command_line(capsys: pytest.CaptureFixture[str], fleet: Path) -> None:
    words = ("conditions", "--fleet", fleet)
    add = (*words, "--add", "weekly checks", "--policy", "12-3", "--from", "2026-01-01", "--shown-by", "checks")
    assert run(capsys, *add, "--as", "ormond")[:2] == (0, "condition C1 is on record\n")
    assert run(capsys, *words)[1] == "C1  weekly checks (12-3, from 1 Jan 2026)\n"
    code, _, error = run(capsys, *add, "--as", "dunn")
    assert code == 2 and "entered by a manager; Dunn" in error
