"""Letters of all scripts on paper, read back and measured by an independent reader."""

import re
import shutil
import subprocess
import unicodedata
from pathlib import Path

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.wording import apart, listed, msg, say
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
    visible,
    width,
    wrap,
)
from tests.kestrel import MONDAY

NAMES = ("李小龍", "佐藤 さくら", "김민준", "Ωmega Žižek", "Ђорђе Ћосић")
MARKS = set("\u2066\u2067\u2069")
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


def test_names_that_run_from_right_to_left_turn_nothing_beside_them() -> None:
    """Unicode Annex 9 takes figures and commas behind a right-to-left word into its run (W7, N1) unless it is isolated (X5a)."""
    bare = printable("printed by שלום, 11 Nov 2026")
    assert in_reading_order(bare).startswith("printed by 11"), "what the isolates are for"
    told = say(msg("paper.printed", by="שלום", at=MONDAY))
    assert in_reading_order(printable(told)) == "printed by םולש, 2 Nov 2026 06:30"
    two = in_reading_order(printable(f"{listed(['שלום', 'דנה'])} 5"))
    assert two == "םולש, הנד 5", "each name stands where it was named"
    assert in_reading_order(printable(f"{apart('Dana שלום')} 5 b")) == "Dana םולש 5 b"
    assert in_reading_order(printable(apart("תא 3"))) == "3 את", (
        "a note of such letters alone is read from right to left"
    )


def test_a_name_broken_over_lines_stays_apart_and_its_marks_take_no_room() -> None:
    name = "שלום דנה כהן 12 בן לוי"
    told = printable(f"held by {apart(name)}, 14 of 20")
    lines = wrap(told, REGULAR, 8, 70)
    drawn = [in_reading_order(line) for line in lines]
    assert len(lines) > 2 and " ".join(drawn).endswith(", 14 of 20") and not any(set(line) & MARKS for line in drawn)
    assert all(
        width(line, REGULAR, 8) == width("".join(c for c in line if c not in MARKS), REGULAR, 8) for line in lines
    )
    assert width(told, REGULAR, 8) == width(printable(f"held by {name}, 14 of 20"), REGULAR, 8)


def test_marks_of_direction_that_somebody_typed_are_printed_as_their_number() -> None:
    for typed in ("a\u202eb", "a\u2067b", "a\u2069b", "\u2067\u2069", "\u2066abc\u2069"):
        assert "[U+20" in visible(typed) and not set(visible(typed)) & MARKS
    told = visible(say(msg("paper.printed", by="\u202eשלום\u2069", at=MONDAY)))
    assert "[U+202E]" in told and "[U+2069]" in told and told.count("\u2066") == told.count("\u2069") == 1
    assert visible("\u2067\U0001e900\u2069 5") == "[U+2067][U+1E900][U+2069] 5", "no shipped font has Adlam"


def places(path: Path) -> list[tuple[str, float, float]]:
    """Every word of a paper with its place from the left and from the top, by another reader."""
    page = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, check=True).stdout.decode()
    found = re.findall(r'xMin="([0-9.]+)" yMin="([0-9.]+)"[^>]*>([^<]+)</word>', page)
    return [(text, float(x), float(y)) for x, y, text in found]


def turned(text: str) -> bool:
    """Whether it has letters that run from right to left."""
    return any(unicodedata.bidirectional(one) in ("R", "AL") for one in text)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext, a reader of its own")
@pytest.mark.parametrize("write", [flowed, laid])
@pytest.mark.parametrize("name", ["שלום דנה כהן", "محمد علي"])
def test_figures_behind_a_right_to_left_name_stand_behind_it_on_the_page(
    write: object, name: str, tmp_path: Path
) -> None:
    path = tmp_path / "n.pdf"
    write(path, say(msg("screen.draft", person=name, subject="P-1312", at=MONDAY)))  # type: ignore[operator]
    body = [one for one in places(path) if 60 < one[2] < 200 and one[1] < 297]  # the first column
    names = [x for text, x, _ in body if turned(text)]
    before = [x for text, x, _ in body if text == "P-1312"]
    behind = [x for text, x, _ in body if text == "06:30)"]
    assert names and before and behind and max(before) < min(names) and max(names) < behind[0]
    assert not any("U+20" in text for text, _, _ in body)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext, a reader of its own")
def test_head_and_foot_keep_their_order_behind_such_a_name(tmp_path: Path) -> None:
    path = tmp_path / "n.pdf"
    write_pages(path, [para("x", 9)], Running("Sheet", "x", "שלום", False, MONDAY, "", "דנה", MONDAY), page="A4")
    found = places(path)
    assert [text for text, _, _ in sorted((one for one in found if one[2] < 60), key=lambda one: one[1])][-2:] == [
        "Sheet",
        "x",
    ]
    foot = sorted(
        (one for one in found if any(turned(w) for w, _, y in found if y == one[2]) and one[2] > 700),
        key=lambda one: one[1],
    )
    at = next(number for number, one in enumerate(foot) if turned(one[0]))
    assert foot[at - 1][0] == "by" and "".join(one[0] for one in foot[at + 1 :]).lstrip(",") == "2Nov202606:30"


def test_a_day_stays_with_its_month_and_a_doubt_with_its_figure() -> None:
    told = printable("none was done until 7 Sep 2026, narrowed to ± 0.002 Ω in 59 days")
    for room in range(60, 200):
        for line in wrap(told, REGULAR, 8, room):
            assert not line.endswith((" 7", "±", " 0.002")), (room, line)
