"""The manager's page ahead, in a real window."""

from pytestqt.modeltest import ModelTester
from pytestqt.qtbot import QtBot

from fleetcare.services.renewal import renewal
from fleetcare.ui.ahead.ahead_screen import PAGES
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.tables import RowModel
from tests.kestrel import Kestrel


def test_the_page_ahead_is_read_and_says_as_of_when(qtbot: QtBot, window: MainWindow) -> None:
    window.go("ahead")
    qtbot.waitUntil(lambda: window.ahead.models["needs"].rowCount() > 0, timeout=30_000)
    assert "ranges, not promises" in window.ahead.note.text() or "checks from before today" in window.ahead.note.text()


def test_its_models_keep_qts_rules(qtmodeltester: ModelTester, kestrel: Kestrel) -> None:
    found = renewal(kestrel.store, kestrel.clock)
    for name, columns in PAGES:
        model = RowModel(columns)
        model.set_rows(getattr(found, name))
        qtmodeltester.check(model, force_py=True)
