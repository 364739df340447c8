"""The manager's page ahead, in a real window."""

from pytestqt.modeltest import ModelTester
from pytestqt.qtbot import QtBot

from fleetcare.services.renewal import renewal
from fleetcare.ui.ahead.ahead_screen import TABLES, TABS
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.tables import RowModel
from tests.kestrel import Kestrel


def read(qtbot: QtBot, window: MainWindow) -> MainWindow:
    window.go("ahead")
    qtbot.waitUntil(lambda: window.ahead.found is not None, timeout=30_000)
    return window


def test_the_page_ahead_is_read_and_says_as_of_when(qtbot: QtBot, window: MainWindow) -> None:
    read(qtbot, window)
    assert "ranges, not promises" in window.ahead.note.text() or "checks from before today" in window.ahead.note.text()


def test_every_tab_can_be_chosen_and_says_in_words_that_it_is_empty(qtbot: QtBot, window: MainWindow) -> None:
    read(qtbot, window)
    for tab in TABS:
        window.ahead.choose(tab)
        assert window.ahead.table.isVisible() or tab != "review"
    for name in TABLES:
        empty = window.ahead.models[name].rowCount() == 0
        assert window.ahead.told[name].text() and window.ahead.tables[name].isHidden() is empty


def test_its_models_keep_qts_rules(qtmodeltester: ModelTester, kestrel: Kestrel) -> None:
    kestrel.check("P-1004", "38.10", vehicle="EB-14")
    found = renewal(kestrel.store, kestrel.clock)
    rows = {
        "needs": [pack for one in found.needs for quarter in one.quarters for pack in quarter.named],
        "suspects": found.suspects, "claims": found.claims, "kept": found.kept, "learnt": found.learnt,
    }  # fmt: skip
    assert rows["needs"]
    for name, columns in TABLES.items():
        model = RowModel(columns)
        model.set_rows(rows[name])
        qtmodeltester.check(model, force_py=True)
