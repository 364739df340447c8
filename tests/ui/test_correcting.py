"""A slip that was saved: F5 opens the pack of the check just saved, and every part of the check can be mended there."""

from __future__ import annotations

from decimal import Decimal

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import RestBand
from fleetcare.services import summary
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.pack.correcting import Mending
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def test_f5_after_a_save_opens_the_pack_and_all_of_its_check_is_mended(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "19", ENTER, "EB-14", ENTER, "P-1004", ENTER, Qt.Key.Key_F8, "3", "41.50", ENTER, ENTER)
    hands(Qt.Key.Key_F5)
    qtbot.waitUntil(lambda: window.pack.page is not None)
    assert window.stack.currentWidget() is window.pack
    (line,) = [one for one in window.pack.page.checks if one.rested_v == Decimal("41.50")]
    with kestrel.store.view() as view:
        stored = view.check(line.record_id)
    assert stored is not None
    mending = Mending(line)
    assert mending.check(stored.check) == stored.check
    mending.rest.choose(RestBand.OVERNIGHT.value)
    mending.bench_c.edit.setText("12.5")
    mended = mending.check(stored.check)
    assert mended is not None and mended.bench_c == Decimal("12.5") and mended.rest is not stored.check.rest
    mending.void.setChecked(True)
    assert mending.check(stored.check) is None and not mending.amps.isEnabled()
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1004").checks[0].record_id == line.record_id
