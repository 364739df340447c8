"""A pack back from hire: what the record knows need not be typed."""

from pytestqt.qtbot import QtBot

from fleetcare.ui.away.returns_page import ReturnsPage
from fleetcare.ui.main_window import MainWindow


def test_the_pack_fills_in_its_vehicle_and_never_changes_one_that_was_typed(window: MainWindow, qtbot: QtBot) -> None:
    page = ReturnsPage(window._app, window.session, window.changes)
    qtbot.addWidget(page)
    pack, vehicle = page.fields["pack"].edit, page.fields["vehicle"].edit

    def typed(code: str) -> str:
        pack.setText(code)
        pack.editingFinished.emit()
        return vehicle.text()

    assert typed("P-1002") == "EB-12"
    assert typed("P-9999") == "", "the vehicle of a pack typed before does not stay beside another"
    assert typed("P-1002") == "EB-12"
    vehicle.clear()
    assert typed("P-1002") == "", "somebody took it out"
    vehicle.setText("EB-14")
    assert typed("P-1002") == "EB-14"
