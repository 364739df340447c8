"""Screens: models, names for a screen reader, filters, refusals, dark and large letters."""

import datetime as dt

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAccessible, QColor, QFocusEvent
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QComboBox, QLabel, QLineEdit, QTableView, QWidget
from pytestqt.modeltest import ModelTester
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.absences import Away
from fleetcare.domain.status import BoardState
from fleetcare.services import absences, meters, sheets, summary
from fleetcare.ui import colours, theme
from fleetcare.ui.bench.round_panel import COLUMNS as ROUND
from fleetcare.ui.board.columns import COLUMNS as BOARD
from fleetcare.ui.lists.lists_screen import PACKS, VEHICLES
from fleetcare.ui.main_window import MORE, SCREENS, MainWindow
from fleetcare.ui.meters.columns import METERS, RECHECK
from fleetcare.ui.pack.history_columns import CHECKS, EVENTS
from fleetcare.ui.sheets.sheets_screen import SHEETS
from fleetcare.ui.widgets.dialogs import AskDialog
from fleetcare.ui.widgets.tables import Column, RowModel, Table
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def test_every_model_keeps_qts_rules(qtmodeltester: ModelTester, kestrel: Kestrel) -> None:
    kestrel.now += dt.timedelta(days=9)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    meters.mark_found_out(kestrel.store, kestrel.clock, kestrel.author(), "M-01", "reads nonsense")
    sheets.issue(kestrel.store, kestrel.clock, 2, None, "BENCH-1")
    for columns, rows in ((BOARD, fleet.vehicles), (VEHICLES, fleet.vehicles), (CHECKS, page.checks), (EVENTS, page.events),
                          (METERS, meters.meter_rows(kestrel.store, kestrel.clock)), (SHEETS, sheets.sheet_rows(kestrel.store)),
                          (RECHECK, meters.recheck_list(kestrel.store, kestrel.clock)),
                          (PACKS, summary.pack_rows(kestrel.store, kestrel.clock)),
                          (ROUND, summary.round_list(kestrel.store, kestrel.clock))):  # fmt: skip
        assert rows
        model = RowModel(columns)
        model.set_rows(rows)
        qtmodeltester.check(model, force_py=True)
        assert model.rowCount(model.index(0, 0)) == 0 and model.columnCount(model.index(0, 0)) == 0


INPUTS = {QAccessible.Role.EditableText, QAccessible.Role.ComboBox, QAccessible.Role.CheckBox, QAccessible.Role.RadioButton,
          QAccessible.Role.PushButton, QAccessible.Role.Button, QAccessible.Role.Table, QAccessible.Role.List}  # fmt: skip


def unnamed(window: QWidget) -> list[str]:
    """Inputs that can have the focus and that a screen reader cannot name."""
    found = []
    for widget in window.findChildren(QWidget):
        # parts that Qt makes itself: the list of a combo box, the corner of a table
        inner = isinstance(widget.parent(), (QComboBox, QAbstractSpinBox, QTableView)) or widget.window() is not window
        if widget.focusPolicy() is Qt.FocusPolicy.NoFocus or inner:
            continue
        interface = QAccessible.queryAccessibleInterface(widget)
        if interface is None or interface.role() not in INPUTS:
            continue
        name = interface.text(QAccessible.Text.Name).strip()
        if isinstance(widget, QComboBox) and not widget.accessibleName().strip():
            buddies = [label for label in window.findChildren(QLabel) if label.buddy() is widget]
            name = buddies[0].text() if buddies else ""
        if not name:
            found.append(f"{type(widget).__name__} {widget.objectName()}")
    return found


def test_every_input_has_a_name_for_a_screen_reader(window: MainWindow, hands: Typist) -> None:
    hands("B-01", ENTER, "18", ENTER)
    for screen in (*SCREENS, *MORE):
        window.go(screen)
    assert unnamed(window) == []


def test_the_board_filters_by_state_and_search_and_counts_do_not_change(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.go("board")
    board = window.board
    qtbot.waitUntil(lambda: board.fleet is not None)
    assert board.model.rowCount() == 24
    board.state.setCurrentIndex(1)
    assert board.model.rowCount() == 1
    board.state.setCurrentIndex(0)
    qtbot.keyClicks(board.search, "cb-0")
    assert board.model.rowCount() == 8
    assert board.badges[BoardState.READY].accessibleName() == "23 ready"


def test_an_old_board_says_so_and_turns_grey(window: MainWindow, kestrel: Kestrel, qtbot: QtBot) -> None:
    window.go("board")
    qtbot.waitUntil(lambda: window.board.fleet is not None)
    kestrel.now += dt.timedelta(minutes=16)
    window.board._tick()
    assert "not refreshed for 16 minutes" in window.board.header.old.text() and not window.board.table.isEnabled()
    window.board.refresh()
    qtbot.waitUntil(lambda: window.board.table.isEnabled())
    assert window.board.as_of.text() == "as of 06:46"


def test_another_programs_check_reaches_the_board_row(window: MainWindow, kestrel: Kestrel, qtbot: QtBot) -> None:
    window.go("board")
    qtbot.waitUntil(lambda: window.board.fleet is not None)
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.changes.poll()
    first = window.board.model
    qtbot.waitUntil(lambda: first.rows[0].vehicle.code == "EB-12" and first.rows[0].status.state is BoardState.GROUNDED)
    assert window.board.badges[BoardState.GROUNDED].accessibleName() == "1 grounded"


def answer(qtbot: QtBot, fill: object) -> None:
    """Fill the next dialog in as a person would."""

    def act() -> None:
        dialog = next(w for w in QApplication.topLevelWidgets() if isinstance(w, AskDialog) and w.isVisible())
        fill(dialog)  # type: ignore[operator]

    QTimer.singleShot(50, act)


def test_a_correction_asks_for_a_reason_keeps_what_was_typed_and_strikes_the_first(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "18", ENTER)
    window.open_pack("P-1002")
    qtbot.waitUntil(lambda: window.pack.page is not None)

    def fill(dialog: AskDialog) -> None:
        rested, *_others, reason = dialog.findChildren(QLineEdit)
        rested.clear()
        qtbot.keyClicks(rested, "41.06")
        dialog.attempt()
        assert dialog.isVisible() and rested.text() == "41.06"
        qtbot.keyClicks(reason, "digits swapped")
        dialog.attempt()

    answer(qtbot, fill)
    qtbot.mouseClick(window.pack.buttons["correct"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.pack.checks.rowCount() == 2)
    struck = [row for row in window.pack.checks.rows if row.struck]
    assert [str(row.rested_v) for row in struck] == ["41.60"] and struck[0].strike_reason == "digits swapped"
    first = next(i for i, row in enumerate(window.pack.checks.rows) if row.struck)
    assert window.pack.checks.index(first, 3).data(Qt.ItemDataRole.FontRole).strikeOut()


def test_hold_and_release_from_the_pack_page(window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot) -> None:
    hands("B-03", ENTER, "18", ENTER)
    window.open_pack("P-1002")
    qtbot.waitUntil(lambda: window.pack.page is not None)

    def hold(dialog: AskDialog) -> None:
        qtbot.keyClicks(dialog.findChildren(QLineEdit)[0], "case cracked")
        dialog.attempt()

    answer(qtbot, hold)
    qtbot.mouseClick(window.pack.buttons["hold_pack"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.pack.badge.accessibleName() == "held")
    assert "case cracked" in window.pack.reasons.text()

    def release(dialog: AskDialog) -> None:
        qtbot.keyClicks(dialog.findChildren(QLineEdit)[0], "looks good to me")
        dialog.attempt()
        assert dialog.isVisible() and "may reset and release" in dialog.wrong.text()
        dialog.reject()

    answer(qtbot, release)
    qtbot.mouseClick(window.pack.buttons["release"], Qt.MouseButton.LeftButton)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state.value == "held"


def _ratio(a: str, b: str) -> float:
    """Contrast ratio of WCAG 2.2, from relative luminance."""
    lights = []
    for colour in (a, b):
        parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in QColor(colour).getRgbF()[:3]]
        lights.append(0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2])
    return (max(lights) + 0.05) / (min(lights) + 0.05)


@pytest.mark.parametrize(
    "mark", [colours.DANGER, colours.ACTION, colours.CAUTION, colours.FAULT, colours.GOOD, colours.UNKNOWN]
)
def test_the_word_on_every_state_is_readable(mark: colours.Mark) -> None:
    # WCAG 2.2, 1.4.3: text at least 4.5:1.
    assert _ratio(mark.fill, mark.ink) >= 4.5


def test_states_are_told_apart_without_colour() -> None:
    shapes = [colours.DANGER, colours.ACTION, colours.CAUTION, colours.FAULT, colours.GOOD, colours.UNKNOWN]
    assert len({mark.shape for mark in shapes}) == len(shapes)


def test_the_dates_below_the_chart_stay_in_sight_however_much_is_said_above(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    window.resize(1366, 740)
    hands("B-01", ENTER, "18", ENTER)
    window.open_pack("P-1002")
    qtbot.waitUntil(lambda: window.pack.page is not None)
    pack = window.pack
    pack.again.setText("Measure again: a reading that does not fit. " * 12)
    pack.again.setVisible(True)
    pack.because.setText("Brought to 25 degrees, as learnt from this pack model. " * 12)
    qtbot.waitUntil(lambda: pack.again.height() >= pack.again.heightForWidth(pack.again.width()))
    assert (
        pack.chart.height() >= pack.chart.minimumHeight()
        and pack.split.height() >= pack.split.minimumSizeHint().height()
    )
    assert pack.chart.geometry().bottom() < pack.tabs.geometry().top()
    assert pack.chart.visibleRegion().boundingRect().height() == pack.chart.height()


@pytest.mark.parametrize(("name", "percent"), [("dark", 100), ("light", 200), ("dark", 200)])
def test_the_window_fits_a_small_screen_in_every_dress(
    app: App, qtbot: QtBot, qapp: QApplication, name: str, percent: int
) -> None:
    from dataclasses import replace

    theme.apply(qapp, name, percent)
    made = MainWindow(replace(app, settings=replace(app.settings, text_percent=percent)))
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.session.sign_in(next(iter(_people(app))))
    assert made.minimumSizeHint().width() <= 1366
    made.close()
    theme.apply(qapp, "light", 100)


def _people(app: App):  # type: ignore[no-untyped-def]
    with app.store.view() as view:
        return list(view.things("person").values())


def test_qt_keeps_its_hands_off_pythons_none(qtbot: QtBot) -> None:
    # A binding that takes a reference of None at every call ends the program after some thousand calls.
    import sys

    label = QLabel()
    qtbot.addWidget(label)
    label.setText("x")
    before = sys.getrefcount(None)
    for _ in range(500):
        label.setText("x")
        label.update()
    assert abs(sys.getrefcount(None) - before) < 50


def test_a_list_has_a_current_row_and_keeps_it_when_read_again(qtbot: QtBot) -> None:
    table = Table(RowModel((Column("Code", str),)), "codes")
    qtbot.addWidget(table)
    table.rows_model.set_rows(["P-1", "P-2", "P-3"])
    table.setFocus()
    table.focusInEvent(QFocusEvent(QFocusEvent.Type.FocusIn))
    assert table.selected_row() == "P-1"
    table.setCurrentIndex(table.rows_model.index(1, 0))
    table.rows_model.set_rows(["P-0", "P-1", "P-2"])
    assert table.selected_row() == "P-2"
    with qtbot.waitSignal(table.opened) as opened:
        qtbot.keyClick(table, Qt.Key.Key_Return)
    assert opened.args == ["P-2"]


def test_the_list_of_vehicles_names_those_that_are_away_and_says_so(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    today = kestrel.now.date()
    away = Away("CB-01", today, today + dt.timedelta(days=9), kestrel.now, "on hire")
    absences.record_away(kestrel.store, kestrel.clock, kestrel.author("HALE"), away)
    window.go("vehicles")
    qtbot.waitUntil(lambda: window.vehicles.model.rowCount() == 24)
    (row,) = [n for n in range(24) if window.vehicles.model.index(n, 0).data() == "CB-01"]
    told = [window.vehicles.model.index(row, column).data() for column in range(window.vehicles.model.columnCount())]
    assert told[2] == "away" and "on hire, back on 11 Nov 2026" in told[-1]
    window.open_vehicle("CB-01")
    qtbot.waitUntil(lambda: window.vehicle.page is not None)
    assert (
        window.vehicle.badge.accessibleName() == "away"
        and "on hire, back on 11 Nov 2026" in window.vehicle.reasons.text()
    )


def test_the_menu_says_which_of_its_screens_is_in_view(window: MainWindow) -> None:
    def ticked() -> list[str]:
        menu = window.bar.more.menu()
        menu.aboutToShow.emit()
        return [action.data() for action in menu.actions() if action.isChecked()]

    assert ticked() == []
    for screen in MORE:
        window.go(screen)
        assert ticked() == [screen] and window.bar.more.isChecked()
    action = window.bar.more.menu().actions()[0]
    action.trigger()
    action.trigger()
    assert ticked() == [action.data()], "chosen again, it is still the one in view"
    window.go("board")
    assert ticked() == [] and not window.bar.more.isChecked()
