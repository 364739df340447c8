"""Tables: columns by what stands in them, words that wrap before anything scrolls, badges that keep their size."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QThreadPool, QTimer
from PySide6.QtWidgets import QApplication, QTabBar, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.checks import LookItem, LookOver
from fleetcare.services import record
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.fitting import fitted
from fleetcare.ui.widgets.forms import Choice
from fleetcare.ui.widgets.tables import Column, RowModel, Table
from tests.kestrel import Kestrel

LONG = "two packs tripped in this bike: look at the lead and the connector before the next one is fitted"
WIDTHS = st.lists(st.tuples(st.integers(10, 900), st.integers(10, 300), st.integers(10, 300)), min_size=1, max_size=9)


@given(WIDTHS, st.integers(200, 1400), st.data())
def test_columns_fill_the_room_and_none_is_below_its_longest_word(
    widths: list[tuple[int, int, int]], room: int, data: st.DataObject
) -> None:
    wanted = [max(want, few) for want, few, _ in widths]
    least = [few for _, few, _ in widths]
    found = fitted(wanted, least, [one for _, _, one in widths], room, data.draw(st.integers(0, len(widths) - 1)))
    assert all(width >= few for width, few in zip(found, least, strict=True))
    assert sum(found) == max(room, sum(least)), "no room is lost, and nothing scrolls that need not"
    if sum(wanted) <= room:
        assert all(width >= want for width, want in zip(found, wanted, strict=True)), "nothing wraps that need not"


def made(qtbot: QtBot, rows: list[tuple[str, str]], width: int) -> Table:
    model = RowModel((Column("Item", lambda r: r[0]), Column("Class of reason", lambda r: r[1])))
    table = Table(model, "Rows")
    qtbot.addWidget(table)
    table.resize(width, 300)
    table.show()
    model.set_rows(rows)
    qtbot.waitExposed(table)
    return table


def test_a_long_reason_wraps_and_its_row_grows(qtbot: QtBot) -> None:
    table = made(qtbot, [("EB-16", LONG), ("EB-17", "no pack")], 400)
    assert table.horizontalScrollBar().maximum() == 0
    assert table.rowHeight(0) > table.rowHeight(1) == table.verticalHeader().defaultSectionSize()
    table.resize(1300, 300)
    qtbot.waitUntil(lambda: table.rowHeight(0) == table.rowHeight(1))


def test_a_heading_breaks_between_its_words_before_a_column_scrolls(qtbot: QtBot) -> None:
    model = RowModel((Column("Counted against", lambda r: r), Column("Unexplained trips", lambda r: r, right=True)))
    table = Table(model, "Rows")
    qtbot.addWidget(table)
    table.resize(205, 300)
    table.show()
    model.set_rows(["1"])
    assert table.horizontalScrollBar().maximum() == 0
    told = [model.headerData(n, table.horizontalHeader().orientation()) for n in (0, 1)]
    assert told == ["Counted\nagainst", "Unexplained\ntrips"]


def test_a_long_text_has_the_room_and_a_date_beside_it_stays_whole(qtbot: QtBot) -> None:
    """Columns brought down alike would break the date in two and the question in ten."""
    wanted, least = [90, 120, 1800, 150, 120], [90, 120, 80, 60, 80]
    found = fitted(wanted, least, wanted, 900, 2)
    assert found == [90, 120, 420, 150, 120]


def test_a_column_drawn_by_hand_stays_as_it_was_drawn(qtbot: QtBot) -> None:
    table = made(qtbot, [("EB-16", LONG)], 600)
    table.horizontalHeader().resizeSection(0, 222)
    table.rows_model.set_rows([("EB-17", "no pack")])
    assert table.columnWidth(0) == 222


@pytest.fixture
def large(app: App, kestrel: Kestrel, qtbot: QtBot, qapp: QApplication) -> Iterator[MainWindow]:
    """The window at 200 %, with a quarantined pack."""
    look = LookOver("P-1009", kestrel.now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    theme.apply(qapp, "light", 200)
    window = MainWindow(replace(app, settings=replace(app.settings, text_percent=200)))
    qtbot.addWidget(window)
    window.resize(1366, 740)
    window.show()
    qtbot.waitExposed(window)
    yield window
    QThreadPool.globalInstance().waitForDone()
    window.close()
    theme.apply(qapp, "light", 100)


def test_at_200_percent_no_tab_hides_and_quarantine_and_tallies_do_not_scroll_sideways(
    large: MainWindow, qtbot: QtBot
) -> None:
    for screen in (large.faults, large.setup):
        large.go("faults" if screen is large.faults else "setup")
        bar = screen.tabs.findChild(QTabBar)
        assert isinstance(bar, QTabBar)
        last = bar.tabRect(bar.count() - 1)
        assert last.right() <= bar.width(), "the last tab is in sight"
    large.go("faults")
    for page in (large.faults.quarantine, large.faults.tallies):
        large.faults.show_page(page)
        qtbot.waitUntil(lambda page=page: page.table.isVisible())
        qtbot.wait(50)
        assert page.table.horizontalScrollBar().maximum() == 0, page


def test_a_choice_shows_every_one_of_its_lines_when_it_opens(qtbot: QtBot, qapp: QApplication) -> None:
    holder = QWidget()
    qtbot.addWidget(holder)
    choice = Choice("Chemistry")
    choice.setParent(holder)
    choice.offer([(one, one) for one in ("NMC", "NCA", "LFP", "LMO", "LTO")])
    choice.resize(220, 80)
    holder.resize(400, 300)
    holder.show()
    qtbot.waitExposed(holder)
    choice.box.showPopup()
    QTimer.singleShot(0, lambda: None)
    lines = choice.box.view()
    qtbot.waitUntil(lines.isVisible)
    last = lines.visualRect(lines.model().index(choice.box.count() - 1, 0))
    assert 0 < last.bottom() < lines.viewport().height()
    choice.box.hidePopup()
