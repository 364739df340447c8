"""Signing out, and who may not check, in a real window."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.ui.launch import asked_for
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def test_the_window_takes_its_fleet_as_every_command_does(capsys: pytest.CaptureFixture[str]) -> None:
    assert asked_for([]) == (None, False)
    assert asked_for(["a.fleet"]) == asked_for(["--fleet", "a.fleet"]) == (Path("a.fleet"), False)
    assert asked_for(["--demo"]) == asked_for(["--fleet", "demo"]) == (None, True)
    with pytest.raises(SystemExit) as stopped:
        asked_for(["a.fleet", "--demo"])
    assert stopped.value.code == 2 and "not allowed with" in capsys.readouterr().err


def test_signing_out_leads_to_the_field_for_the_next_person(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("B-01", ENTER, "18", ENTER)
    window.go("vehicles")
    hands(Qt.Key.Key_F12)
    assert window.session.person is None and window.stack.currentWidget() is window.bench
    qtbot.waitUntil(window.bench.sign_in.name.edit.hasFocus)
    window.go("vehicles")
    hands(Qt.Key.Key_F12)
    assert window.stack.currentWidget() is window.bench


def test_whoever_may_not_check_is_told_so_and_led_on(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("B-05", ENTER)
    conditions = window.bench.conditions
    assert conditions.may_not.isVisible()
    assert "Ormond may not check packs (no competence recorded)" in conditions.why_not.text()
    conditions.elsewhere.emit("overview")
    assert window.stack.currentWidget() is window.overview
    hands(Qt.Key.Key_F12)
    hands("B-01", ENTER)
    assert window.bench.currentWidget() is conditions and not conditions.may_not.isVisible()


def test_an_earlier_day_goes_with_the_person_who_asked(
    window: MainWindow, hands: Typist, qtbot: QtBot, kestrel: Kestrel
) -> None:
    hands("B-05", ENTER)
    window.go("ahead")
    ahead = window.ahead
    qtbot.waitUntil(lambda: ahead.found is not None, timeout=30_000)
    earlier = f"{kestrel.clock().date():%Y-%m-%d}"
    ahead.as_of.edit.setText(earlier)
    window.session.lock()
    assert ahead.as_of.typed == earlier
    with kestrel.store.view() as view:
        ormond, dunn = view.thing("person", "ORMOND"), view.thing("person", "DUNN")
    window.session.sign_in(ormond)
    assert ahead.as_of.typed == earlier
    window.session.lock()
    window.session.sign_in(dunn)
    assert ahead.as_of.typed == ""
    ahead.as_of.edit.setText(earlier)
    window.session.sign_in(None)
    assert ahead.as_of.typed == ""
