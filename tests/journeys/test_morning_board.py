"""A dispatcher's Monday morning: the board adds up, says why, and prints without colour."""

from collections.abc import Iterator
from pathlib import Path

import pypdf
import pypdfium2
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.status import BoardState
from fleetcare.settings import Settings
from fleetcare.ui.board.tiles import tile_words
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.badge import MARK_ROLE
from tests.kestrel import build_morning
from tests.window_fixtures import Typist, put_away, shown_paper

ENTER = Qt.Key.Key_Return


@pytest.fixture
def app(tmp_path: Path) -> Iterator[App]:
    made = build_morning(tmp_path / "morning.fleet")
    yield App(made.store, made.clock, "DESK", Settings())
    made.store.close()


def test_the_board_at_half_past_six(
    window: MainWindow, hands: Typist, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands("Hale", ENTER)
    hands(Qt.Key.Key_F2)
    board = window.board
    qtbot.waitUntil(lambda: board.model.rowCount() == 24)
    assert board.total.text() == "24 vehicles =" and board.as_of.text() == "as of 06:30"
    told = {state: board.badges[state].accessibleName() for state in BoardState}
    assert told == {
        BoardState.READY: "19 ready",
        BoardState.READY_BUT_DUE: "1 ready, check due",
        BoardState.LIMITED: "1 limited",
        BoardState.GROUNDED: "3 grounded",
    }
    assert "P-1312 by Pike" in board.side.texts("unfinished")[0]
    cells = [[board.model.index(r, c).data() for c in range(board.model.columnCount())] for r in range(5)]
    by_code = {row[0]: row for row in cells}
    assert by_code.keys() == {"EB-14", "EB-18", "CB-06", "CB-03", "SC-33"}
    for code in ("EB-14", "EB-18", "CB-06"):
        row = by_code[code]
        assert row[1] == "grounded" and row[2] and row[3] and row[5] and row[6] == "Dunn, Pike"
    assert by_code["CB-06"][3].startswith("front brake") and by_code["CB-06"][4] == "1 Nov 21:10"
    assert by_code["EB-14"][7].split(", ")[0] == "P-1011" and "P-13" not in by_code["EB-14"][7]
    assert len({board.model.index(r, 1).data(MARK_ROLE).shape for r in (0, 3, 4, 5)}) == 4

    path = tmp_path / "board.pdf"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    qtbot.mouseClick(board.printing, Qt.MouseButton.LeftButton)
    paper = shown_paper(window, qtbot)
    qtbot.mouseClick(paper.buttons["save"], Qt.MouseButton.LeftButton)
    put_away(window, qtbot)
    printed = "".join("".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages)
    for words in (
        "24 vehicles = 19 ready + 1 ready, check due + 1 limited + 3 grounded",
        "as of 2 Nov 2026 06:30",
        "front brake",
        "15 days ago",
        "P-1011",
        "Left unfinished: P-1312 by Pike",
        "printed by Hale",
    ):
        assert "".join(words.split()) in printed, words
    assert_black_and_white(path)


def assert_black_and_white(path: Path) -> None:
    """No colour on the paper, every state as a word of 14 points or more, and its shapes told apart by their ink."""
    sizes: dict[str, float] = {}

    def visit(text: str, _cm: object, matrix: list[float], _font: object, size: float) -> None:
        if text.strip():
            sizes[text.strip()] = max(sizes.get(text.strip(), 0.0), size * abs(matrix[3] or 1))

    reader = pypdf.PdfReader(path)
    for page in reader.pages:
        page.extract_text(visitor_text=visit)
    for state in ("grounded", "limited", "ready, check due"):
        assert sizes[state] >= 14, (state, sizes[state])
    for number in range(len(reader.pages)):
        pixels = pypdfium2.PdfDocument(path)[number].render(scale=2).to_numpy().astype(int)
        assert (pixels.max(axis=2) - pixels.min(axis=2)).max() == 0, "the paper has colour"


def test_the_tiles_say_the_same_and_lead_through_the_morning(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("Hale", ENTER)
    hands(Qt.Key.Key_F2)
    board = window.board
    qtbot.waitUntil(lambda: board.model.rowCount() == 24)
    tiles = {board.model.shown_row(n).vehicle.code: tile_words(board.model.shown_row(n)) for n in range(24)}
    assert [tiles[code][1:] for code in ("CB-06", "EB-14", "EB-18", "CB-03", "SC-33", "EB-11")] == [
        ("grounded", "fault"), ("grounded", "fault"), ("grounded", "action due"), ("limited", "fault"),
        ("ready, check due", "action due"), ("ready", ""),
    ]  # fmt: skip
    shown = [board.model.shown_row(n).vehicle.code for n in range(5)]
    assert shown == ["CB-06", "EB-14", "EB-18", "CB-03", "SC-33"], "the worst first"
    told = {}
    for code in ("EB-14", "EB-18", "CB-06"):
        board.choose(code)
        told[code] = board.side.details.told
        assert "May clear it: Dunn, Pike" in told[code] and "→ " in told[code] and "since " in told[code]
    assert "Fit P-1011" in told["EB-14"] and "P-13" not in told["EB-14"]
    assert "front brake" in told["CB-06"] and "since 1 Nov 21:10" in told["CB-06"] and "Fit " not in told["CB-06"]
    qtbot.mouseClick(board.side.chips["unfinished"], Qt.MouseButton.LeftButton)
    assert "P-1312 by Pike" in board.side.entries.item(0).text()
    qtbot.mouseClick(board.side.chips["fewer"], Qt.MouseButton.LeftButton)
    assert board.side.entries.item(0).text().startswith("CB-03")
