"""Two people, one pack: neither entry is lost, the later one is told of the earlier, the safer state stands."""

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import LookItem, LookOver
from fleetcare.domain.status import BoardState, PackState
from fleetcare.services import record, summary
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import MONDAY, Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def test_the_second_to_save_is_told_what_the_first_saved_and_the_pack_stays_quarantined(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.now = MONDAY.replace(hour=9)
    hands("Dunn", ENTER, "18", ENTER, "EB-19", ENTER, "P-1009", ENTER)
    kestrel.now = MONDAY.replace(hour=9, minute=2)
    crack = LookOver("P-1009", kestrel.now, "EB-19", (LookItem.CRACK,), "case cracked, ground")
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("FARROW"), crack)
    kestrel.now = MONDAY.replace(hour=9, minute=4)
    hands(Qt.Key.Key_F8, "3", "41.40", ENTER, ENTER)
    said = window.bench.work.verdict.text()
    assert "Meanwhile Farrow saved at 2 Nov 2026 09:02" in said and "cracked or crushed case" in said
    assert "a reading releases nothing" in said
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1009")
    assert page.status.state is PackState.QUARANTINED and str(page.checks[0].rested_v) == "41.40"
    assert summary.vehicle_page(kestrel.store, kestrel.clock, "EB-19").line.status.state is BoardState.GROUNDED


def test_nobody_else_at_the_pack_says_nothing(window: MainWindow, hands: Typist) -> None:
    hands("Dunn", ENTER, "18", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "41.40", ENTER, ENTER)
    assert "Meanwhile" not in window.bench.work.verdict.text()
