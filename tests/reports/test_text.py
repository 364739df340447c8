"""Letters of all scripts on paper, read back and measured by an independent reader."""

import shutil
import subprocess
import unicodedata
from pathlib import Path

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.text import (
    BOLD,
    REGULAR,
    WIDE,
    in_reading_order,
    para,
    printable,
    runs,
    set_apart,
    width,
    wrap,
)
from tests.kestrel import MONDAY

NAMES = ("李小龍", "佐藤 さくら", "김민준", "Ωmega Žižek", "Ђорђе Ћосић")
RUNNING = Running("Sheet", "李小龍", "大阪", True, None, "", "佐藤", MONDAY)


def flowed(path: Path, *texts: str) -> None:
    with path.open("wb") as file:
        flow = Flow(file, RUNNING, page="A4")
        flow.table((0.5, "名"), (0.5, "b"))
        for one in texts:
            flow.row([Text(one, bold=True)], [Text(one, struck=True)])
        flow.finish()


def laid(path: Path, *texts: str) -> None:
    write_pages(path, [para(one, 9, bold=True) for one in texts], RUNNING, page="Letter")


def read(path: Path) -> str:
    return "".join("".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())


@pytest.mark.parametrize("write", [flowed, laid])
def test_names_of_all_scripts_are_on_paper_as_they_are_written(write: object, tmp_path: Path) -> None:
    path = tmp_path / "n.pdf"
    write(path, *NAMES)  # type: ignore[operator]
    said = read(path)
    assert all("".join(name.split()) in said for name in NAMES) and "大阪" in said and "[U+" not in said
    for page in pypdf.PdfReader(path).pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()
    assert path.stat().st_size < 150_000, "fonts are embedded as subsets"


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext, a reader of its own")
@pytest.mark.parametrize("write", [flowed, laid])
@pytest.mark.parametrize("name", ["שלום דנה כהן", "محمد علي الأنصاري"])
def test_right_to_left_names_are_read_back_in_their_order(write: object, name: str, tmp_path: Path) -> None:
    path = tmp_path / "n.pdf"
    write(path, name)  # type: ignore[operator]
    told = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, check=True).stdout.decode()
    assert "".join(name.split()) in "".join(unicodedata.normalize("NFKC", told).split())


def test_a_long_right_to_left_note_begins_on_its_first_line() -> None:
    words = [f"מילה{number}" for number in range(40)]
    lines = wrap(printable(" ".join(words)), REGULAR, 8, 120)
    assert len(lines) > 5 and "מילה0" in lines[0] and "מילה39" in lines[-1]
    assert in_reading_order("אבג")[0] == "ג"


@pytest.mark.parametrize("write", [flowed, laid])
def test_a_letter_that_no_font_has_is_numbered_and_said(write: object, tmp_path: Path) -> None:
    write(tmp_path / "n.pdf", "🔥 fire", "नम")  # type: ignore[operator]
    said = read(tmp_path / "n.pdf")
    assert "[U+1F525]fire" in said and "nofontshippedwiththeprogramhasthem:U+0928,U+092E,U+1F525." in said


@given(st.text(max_size=80))
def test_anything_typed_can_be_measured_wrapped_and_loses_nothing(typed: str) -> None:
    shown = printable(typed)
    assert "".join(part for _, part in runs(shown, BOLD)) == shown
    assert {name for name, _ in runs(shown, BOLD)} <= {REGULAR, BOLD, WIDE}
    lines = wrap(shown, BOLD, 8, 60)
    assert "".join("".join(lines).split()) == "".join(shown.split())
    assert all(width(line, BOLD, 8) <= 60.01 or len(line) == 1 for line in lines)
    assert not any(ord(one) < 32 for one in shown)


def test_the_date_behind_a_right_to_left_name_stays_behind_it() -> None:
    """Unicode Annex 9 takes figures behind a right-to-left word into its run, unless a mark ends it (rule W7, N1)."""
    line = printable("printed by שלום, 11 Nov 2026")
    assert in_reading_order(line).startswith("printed by 11")
    apart = in_reading_order(set_apart(line, "שלום"))
    assert apart == "printed by םולש, 11 Nov 2026" and set_apart("printed by Dunn", "Dunn") == "printed by Dunn"
