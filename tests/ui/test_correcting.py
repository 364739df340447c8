"""A slip that was saved: F5 opens the pack of the check just saved, and every part of the check can be mended there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import RestBand
from fleetcare.services import record, summary
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.pack.correcting import Mending
from fleetcare.ui.widgets.dialogs import AskDialog
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


def test_who_corrects_second_goes_on_with_the_newer_entry_and_types_nothing_twice(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "19", ENTER, "EB-14", ENTER, "P-1004", ENTER, Qt.Key.Key_F8, "3", "41.50", ENTER, ENTER)
    hands(Qt.Key.Key_F5)
    qtbot.waitUntil(lambda: window.pack.page is not None)
    seen: list[str] = []

    def while_it_is_open(then: Callable[[AskDialog], None]) -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, AskDialog)
        then(dialog)

    def second(dialog: AskDialog) -> None:
        first = summary.pack_summary(kestrel.store, kestrel.clock, "P-1004").checks[0]
        with kestrel.store.view() as view:
            stored = view.check(first.record_id)
        assert stored is not None
        pikes = replace(stored.check, rested_v=Decimal("41.57"))
        record.correct_check(kestrel.store, kestrel.clock, kestrel.author("PIKE"), first.record_id, "digits", pikes)
        fields = {one.objectName(): one for one in dialog._fields}
        fields["bench_c"].edit.setText("21")
        fields["reason"].edit.setText("other thermometer")
        dialog.do.click()
        seen.append(dialog.wrong.text())
        assert fields["rested_v"].text == "41.57", "what Dunn did not touch follows Pike's correction"
        assert fields["bench_c"].text == "21" and dialog.do.text() == "Correct the newer entry"
        for box in dialog.findChildren(QLineEdit):
            if box.isVisible():
                assert box.height() >= box.sizeHint().height()
        shown = dialog.wrong.mapTo(dialog, dialog.wrong.rect().bottomLeft()).y()
        assert dialog.isVisible() and shown < dialog.do.y()
        dialog.do.click()
        assert not dialog.isVisible()

    QTimer.singleShot(0, window, lambda: while_it_is_open(second))
    window.pack._correct()
    assert seen and seen[0].startswith("Pike corrected that entry") and "41.57 V at rest" in seen[0]
    newest = next(one for one in summary.pack_summary(kestrel.store, kestrel.clock, "P-1004").checks if not one.struck)
    assert (str(newest.rested_v), str(newest.bench_c), newest.person_name) == ("41.57", "21", "Dunn")
