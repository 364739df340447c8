"""A sentence that refuses something is read whole: no dialog and no form cuts its last lines off."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QScreen
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.domain.errors import EntryRefused
from fleetcare.services import summary
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.pack.correcting import ask_correction
from fleetcare.ui.sheets.line_form import LineForm
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog
from fleetcare.ui.widgets.forms import Choice
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
SMALL_SCREEN = QSize(1366, 768)
LOW_SCREEN = QSize(1366, 500)


def cut_off(within: QWidget) -> list[str]:
    """Sentences that have less height than their lines need."""
    labels = (one for one in within.findChildren(QLabel) if one.isVisible() and one.wordWrap() and one.text())
    return [one.text() for one in labels if one.height() < one.heightForWidth(one.width())]


def asked(qtbot: QtBot, open_it: Callable[[], object], see: Callable[[AskDialog], None]) -> None:
    """Open a dialog, look at it while it is open, and close it."""
    seen: list[bool] = []

    def look() -> None:
        dialog = next(w for w in QApplication.topLevelWidgets() if isinstance(w, AskDialog) and w.isVisible())
        try:
            see(dialog)
            seen.append(True)
        finally:
            dialog.reject()

    QTimer.singleShot(0, look)
    open_it()
    assert seen


@pytest.mark.parametrize("percent", [100, 200])
def test_what_is_wrong_with_a_correction_is_read_whole(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, qapp: QApplication, percent: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(QScreen, "availableSize", lambda _screen: SMALL_SCREEN)
    hands("B-01", ENTER)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")

    def see(dialog: AskDialog) -> None:
        fields = {one.objectName(): one for one in dialog.findChildren(Field)}
        for name in ("rested_v", "loaded_v", "bench_c"):
            fields[name].edit.setText("41,5 volts or so")
        fields["reason"].edit.setText("misread")
        dialog.attempt()
        qtbot.wait(1)
        assert fields["rested_v"].wrong.text() and not cut_off(dialog)
        assert dialog._scroll.horizontalScrollBar().maximum() == 0
        fields["rested_v"].edit.setText("41.5")
        dialog.attempt()
        qtbot.wait(1)
        assert not fields["rested_v"].wrong.text() and fields["bench_c"].wrong.text() and not cut_off(dialog)

    theme.apply(qapp, "light", percent)
    try:
        asked(
            qtbot,
            lambda: ask_correction(window, window._app, window.session, window.changes, page.checks[0]),
            see,
        )
    finally:
        theme.apply(qapp, "light", 100)


def test_every_field_of_a_dialog_tells_its_refusal_whole_and_a_low_screen_scrolls(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    parent = QWidget()
    qtbot.addWidget(parent)
    fields = (Field("First"), Choice("Second"), Field("Third", "V", number=True))
    for number, field in enumerate(fields):
        field.setObjectName(f"field{number}")
    dialog = AskDialog(parent, "Hold P-1002", fields, "Hold it", lambda: None)
    dialog.abreast(fields[0], fields[1])
    dialog.show()
    qtbot.waitExposed(dialog)
    for name in ("field0", "field1", "field2", ""):
        dialog.refused(EntryRefused("entry.not_a_number", field=name, typed="41,5 volts or so " * 8, unit="V"))
        qtbot.wait(1)
        assert not cut_off(dialog)
    monkeypatch.setattr(QScreen, "availableSize", lambda _screen: LOW_SCREEN)
    for name in ("field0", "field1", "field2", ""):
        dialog.refused(EntryRefused("entry.not_a_number", field=name, typed="41,5 volts or so " * 40, unit="V"))
    qtbot.wait(1)
    assert dialog.height() <= LOW_SCREEN.height() and not cut_off(dialog)
    assert dialog._scroll.horizontalScrollBar().maximum() == 0, "nothing lies under the scroll bar"
    bottom = dialog.do.mapTo(dialog, dialog.do.rect().bottomLeft()).y()
    assert bottom < dialog.height() and not dialog.wrong.visibleRegion().isEmpty()


@pytest.mark.parametrize("narrow", [False, True])
def test_every_field_of_a_paper_line_tells_its_refusal_whole(
    window: MainWindow, hands: Typist, qtbot: QtBot, narrow: bool
) -> None:
    hands("B-01", ENTER)
    window.resize(1366, 740)
    window.go("sheets")
    form: LineForm = window.sheets.form
    form.arrange(narrow=narrow)
    for name in (*form._by_name, "rest", "look"):
        form.refuse(EntryRefused("sheet.needs_time", field=name))
        qtbot.wait(1)
        assert not cut_off(window.sheets), name
    form.clear_refusals()
    form.time.edit.setFocus()
    window.sheets.enter()
    qtbot.wait(1)
    assert not cut_off(window.sheets)
