"""A meter found to read high: shown before it is done, held, listed worst first, and refused from then on."""

import datetime as dt

import pytest
from PySide6.QtCore import Qt, QThreadPool, QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fleetcare.domain.status import BoardState
from fleetcare.services import meters, summary
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.dialogs import AskDialog
from tests.kestrel import MONDAY, Kestrel
from tests.services.test_meters import GOOD_DAY, proof, prove
from tests.window_fixtures import Typist

ENTER, SPACE = Qt.Key.Key_Return, Qt.Key.Key_Space


@pytest.fixture
def high(kestrel: Kestrel) -> Kestrel:
    """M-02 was good on 13 Oct; since then it read P-1007 at 40.40 V and P-1002 at 41.30 V."""
    kestrel.now = GOOD_DAY
    prove(kestrel, proof("41.05", at=GOOD_DAY))
    for pack, vehicle, volts in (("P-1002", "EB-12", "41.30"), ("P-1007", "EB-17", "40.40")):
        kestrel.now = MONDAY - dt.timedelta(days=1)
        kestrel.check(pack, volts, at=kestrel.now, vehicle=vehicle, meter="M-02")
    kestrel.now = MONDAY
    return kestrel


def test_a_proof_that_finds_a_meter_out_shows_its_effect_first_and_then_grounds_and_refuses(
    high: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    hands("B-01", ENTER)
    conditions = window.bench.conditions
    conditions.meter.setCurrentIndex(1)
    hands("18", ENTER)
    assert window.session.meter is not None and window.session.meter.code == "M-02"
    qtbot.keyClick(window.bench.work.scan.edit, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)
    screen = window.meters
    qtbot.waitUntil(lambda: screen.model.rowCount() == 2)
    assert screen.proof.meter is not None and screen.proof.meter.code == "M-02"
    hands(ENTER, "voltage standard", ENTER, "41.00", ENTER, "0.01", ENTER, "41.45", ENTER)
    assert "(+0.45 V): outside its limit of error of ±0.225 V" in screen.proof.statement.text()
    assert "2 readings of 2 packs since 13 Oct 2026 06:30. Held would be: 1." in screen.proof.plan.text()
    assert [screen.recheck.shown_row(n).pack for n in range(2)] == ["P-1007", "P-1002"]
    with high.store.view() as view:
        assert view.found_out() == []
    assert QApplication.focusWidget() is screen.proof.save and "found out" in screen.proof.save.text()
    hands(SPACE)
    assert "Held because of it: 1." in screen.done.text()
    qtbot.waitUntil(lambda: screen.recheck.rowCount() == 2 and screen.recheck.shown_row(0).held)
    fleet = summary.fleet_summary(high.store, high.clock)
    states = {line.vehicle.code: line.status.state for line in fleet.vehicles}
    assert states["EB-17"] is BoardState.GROUNDED and states["EB-12"] is BoardState.READY_BUT_DUE

    hands(Qt.Key.Key_F1)
    assert window.bench.currentWidget() is conditions
    assert [conditions.meter.itemData(n).code for n in range(conditions.meter.count())] == ["M-01"]
    hands(ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "41.30", ENTER, ENTER)
    assert "Saved: P-1002" in window.bench.work.verdict.text()
    assert [line.pack for line in meters.recheck_list(high.store, high.clock)] == ["P-1007"]


def test_a_slip_in_the_proof_is_said_beside_its_field_and_nothing_is_lost(
    high: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "18", ENTER)
    qtbot.keyClick(window.bench.work.scan.edit, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)
    card = window.meters.proof
    qtbot.waitUntil(lambda: card.meter is not None)
    hands(ENTER, "voltage standard", ENTER, "41.00", ENTER, ENTER, "41.45", ENTER)
    assert "limit of error in volts" in card.reference_error.wrong.text() and card.read.text == "41.45"
    hands("0.01", ENTER)
    card.done.edit.setFocus()
    hands("2.11.2026", ENTER)
    assert "Type it as YYYY-MM-DD" in card.done.wrong.text()
    with high.store.view() as view:
        assert view.found_out() == []


def test_a_broken_meter_is_marked_with_a_reason(high: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("B-01", ENTER, "18", ENTER)
    window.go("meters")
    qtbot.waitUntil(lambda: window.meters.proof.meter is not None)

    def answer() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, AskDialog)
        dialog.attempt()
        assert "what is wrong" in dialog._fields[0].wrong.text()
        qtbot.keyClicks(dialog._fields[0].edit, "fell off the bench")
        qtbot.mouseClick(dialog.do, Qt.MouseButton.LeftButton)

    QTimer.singleShot(0, answer)
    qtbot.mouseClick(window.meters.proof.broken, Qt.MouseButton.LeftButton)
    with high.store.view() as view:
        (found,) = view.found_out()
    assert found.error_v is None and found.reason == "fell off the bench"
    qtbot.waitUntil(lambda: window.meters.recheck.rowCount() == 2)


def test_readings_on_the_bench_when_their_meter_is_found_out_come_back_as_read_with_it(
    high: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    hands("B-01", ENTER)
    window.bench.conditions.meter.setCurrentIndex(1)
    hands("18", ENTER, "EB-13", ENTER, "P-1003", ENTER, Qt.Key.Key_F8, "3", "41.90")
    qtbot.waitUntil(lambda: window.bench._keeper.draft_id != "")
    QThreadPool.globalInstance().waitForDone()
    high.now += dt.timedelta(minutes=5)
    meters.record_proof(high.store, high.clock, high.author("PIKE"), proof("41.45", at=high.now))
    window.session.leave_refused_meter()
    work = window.bench.work
    assert work.rested.text == ""
    hands(ENTER)
    assert "P-1003, typed by Dunn" in work.drafts.texts()[0]
    qtbot.keyClick(work.scan.edit, Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier)
    assert work.rested.text == "41.90" and "read with M-02" in work.details.text()
    hands(ENTER, ENTER)
    line = summary.pack_summary(high.store, high.clock, "P-1003").checks[0]
    assert (line.meter, str(line.rested_v), line.done_at) == ("M-02", "41.90", MONDAY) and line.doubt is not None
