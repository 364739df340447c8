"""That the disk takes what is typed again is told, whichever write it was."""

from collections.abc import Callable

import pytest
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.errors import FileRefused
from fleetcare.services import drafts
from fleetcare.services.drafts import Typed
from fleetcare.ui.bench.draft_keeper import DraftKeeper
from tests.kestrel import MONDAY


def test_a_write_by_a_superseded_job_is_told_too(app: App, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    home = QObject()
    keeper = DraftKeeper(app, home)
    told: list[str] = []
    keeper.kept_again.connect(lambda: told.append("again"))

    def refuse(*_values: object) -> None:
        raise FileRefused("file.unreadable", path="x", why="full")

    typed = Typed("P-1002", None, "rested_full", None, "41.2", "", "", "", None, "M-01", None, None)
    with monkeypatch.context() as full:
        full.setattr(drafts, "keep", refuse)
        with qtbot.waitSignal(keeper.failed):
            keeper.keep("DUNN", MONDAY, typed)
    asked: list[tuple[Callable[[], bool], Callable[[bool], None]]] = []
    monkeypatch.setattr(keeper._background, "ask", lambda work, answer, _failed: asked.append((work, answer)))
    keeper.keep("DUNN", MONDAY, typed)
    keeper.keep("DUNN", MONDAY, typed)
    (older, _), (newer, answer) = asked
    assert older(), "the older job writes the newer state, and nobody is told of it"
    answer(newer())
    assert told == ["again"]
    with app.store.view() as view:
        assert [one.person for one in view.drafts()] == ["DUNN"]
