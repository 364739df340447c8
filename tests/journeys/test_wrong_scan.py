"""The wrong thing scanned: refused, asked about, or named; nothing is stored meanwhile."""

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.services import summary
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def position(kestrel: Kestrel) -> int:
    with kestrel.store.view() as view:
        return view.position


def test_a_trainee_scans_a_wrong_pack_a_charger_and_a_stranger(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("Farrow", ENTER, "u", ENTER, "EB-13", ENTER)
    work, before = window.bench.work, position(kestrel)
    hands("P-1303", ENTER)
    said = work.scan.wrong.text()
    assert "48 V pack" in said and "36 V packs" in said and "recorded in CB-02" in said and "cannot be fitted" in said
    hands("C-36-2", ENTER)
    assert "that is a charger" in work.scan.wrong.text()
    hands("P-1012", ENTER)
    assert (
        work.pairing.isVisible() and "Has P-1012 replaced it, and where is P-1003 now?" in work.pairing.question.text()
    )
    window.bench.save()
    assert position(kestrel) == before
    hands(ENTER)
    assert "Name the shelf" in work.pairing.place.wrong.text() and position(kestrel) == before
    hands("Rack 2", ENTER)
    assert work.subject.text() == "P-1012 · EB-13" and position(kestrel) == before
    hands(Qt.Key.Key_F8, "3", "41.40", ENTER, ENTER)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").shelf == "Rack 2"
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1012").vehicle == "EB-13"
    line = summary.pack_summary(kestrel.store, kestrel.clock, "P-1012").checks[0]
    assert (line.person_name, line.level, line.bench_c) == ("Farrow", "may_check", None)


def test_a_near_miss_is_suggested_and_not_assumed(window: MainWindow, hands: Typist) -> None:
    hands("B-01", ENTER, "18", ENTER, "EB-31", ENTER)
    assert "Did you mean" in window.bench.work.scan.wrong.text() and window.bench.work.subject.text() == ""


def test_a_fixed_pack_comes_with_its_scooter(window: MainWindow, hands: Typist) -> None:
    hands("B-01", ENTER, "18", ENTER, "SC-33", ENTER)
    assert window.bench.work.subject.text() == "P-1023 · SC-33"


def test_a_smell_shows_the_stop_card_first_and_saving_quarantines(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    from fleetcare.domain.checks import LookItem

    hands("B-03", ENTER, "u", ENTER, "EB-19", ENTER, "P-1009", ENTER)
    box = window.bench.work.look.boxes[LookItem.SMELL]
    box.setFocus()
    hands(Qt.Key.Key_Space)
    stop = window.bench.stop
    assert window.bench.currentWidget() is stop and stop.place.edit.hasFocus()
    assert "sweet or burning smell" in stop.findings.text()
    hands("Q-2", ENTER)
    assert window.bench.currentWidget() is window.bench.work
    told = window.bench.work.verdict.text()
    assert told.startswith("stop") and told.count("sweet or burning smell") == 1
    assert "contacts covered" in told and "print the quarantine sheet" not in told
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1009")
    assert page.status.state.value == "quarantined" and not page.status.usable
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    lead = window.board.model.rows[0]
    assert (lead.vehicle.code, lead.status.state.value, lead.status.reasons[0].hold_class.value) == (
        "EB-19",
        "grounded",
        "danger",
    )


def test_a_scan_elsewhere_opens_what_it_names(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("B-04", ENTER)
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    window.board.table.setFocus()
    hands("P-1002", ENTER)
    qtbot.waitUntil(lambda: window.pack.page is not None)
    assert window.pack.page is not None and window.pack.page.pack.code == "P-1002"
    window.pack.check_table.setFocus()
    hands("EB-16", ENTER)
    qtbot.waitUntil(lambda: window.vehicle.page is not None)
    assert window.vehicle.title.text().startswith("EB-16")
