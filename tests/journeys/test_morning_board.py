"""A dispatcher's Monday morning: the board adds up, says why, and prints without colour."""

from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.status import BoardState
from fleetcare.settings import Settings
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
    assert by_code["CB-06"][3].startswith("front brake") and by_code["CB-06"][4] == "01 Nov 21:10"
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
