"""People: somebody leaves in one go, and the cards beside the form say whom they are about."""

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.packs import Level
from fleetcare.services import people
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER, CLICK = Qt.Key.Key_Return, Qt.MouseButton.LeftButton


def test_whoever_leaves_is_opened_once_and_the_cards_name_them(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    people.set_pin(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "FARROW", "58213")
    hands("B-05", ENTER)
    window.go("identity")
    tab = window.identity.people
    window.identity.show_tab(tab)
    tab.edit_person(kestrel.people["FARROW"])
    assert (tab.pin.heading.text(), tab.paper.heading.text()) == ("PIN of Farrow", "Name of Farrow on paper")
    tab.level.choose(Level.NONE.value)
    tab.form.fields["until"].edit.clear()
    tab.form.fields["badge"].edit.clear()
    for box in tab.roles.values():
        box.setChecked(False)
    qtbot.mouseClick(tab.form.do, CLICK)
    assert tab.form.fields["name"].text == "" and tab.pin.heading.text() == "PIN of Farrow"
    qtbot.mouseClick(tab.pin.do, CLICK)
    assert not people.has_pin(kestrel.store, "FARROW")
    tab.paper.fields["reason"].edit.setText("asked in writing")
    qtbot.mouseClick(tab.paper.do, CLICK)
    with kestrel.store.view() as view:
        assert "FARROW" in view.withheld()
    assert tab.paper.do.text() == "Print the name again"
    tab.edit_person(kestrel.people["PIKE"])
    window.sign_out()
    assert (tab.pin.heading.text(), tab.paper.heading.text(), tab.form.fields["name"].text) == (
        "PIN", "Name on paper", "",
    )  # fmt: skip
