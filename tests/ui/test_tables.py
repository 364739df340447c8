"""Tables: columns by what stands in them, words that wrap before anything scrolls, badges that keep their size."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt, QThreadPool, QTimer
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QApplication, QTabBar, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import msg
from fleetcare.services import laying_up, record, stock
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.fitting import CELL_AIR, Need, fitted, lowest, wrapped_height
from fleetcare.ui.widgets.forms import Choice
from fleetcare.ui.widgets.tables import MOST_WRAPPED, Column, RowModel, Table
from fleetcare.ui.widgets.unbroken import unbroken_cell
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


def test_other_letters_are_no_hand_that_draws_a_column(qtbot: QtBot) -> None:
    table = made(qtbot, [("EB-16", LONG), ("EB-17", "no pack")], 400)
    table.setFont(theme.sized(1.3))
    table.resize(420, 300)
    qtbot.waitUntil(lambda: table.columnWidth(0) + table.columnWidth(1) == table.viewport().width())
    assert table.horizontalScrollBar().maximum() == 0


def test_in_a_column_of_numbers_words_wrap_and_numbers_do_not(qtbot: QtBot) -> None:
    model = RowModel((Column("Item", lambda r: r[0]), Column("V a year", lambda r: r[1], right=True)))
    table = Table(model, "Rows")
    qtbot.addWidget(table)
    table.resize(150, 300)
    table.show()
    qtbot.waitExposed(table)
    model.set_rows([("EB-16", "keeps still for now")])
    wide = table.columnWidth(1)
    assert table.rowHeight(0) > table.verticalHeader().defaultSectionSize()
    model.set_rows([("EB-16", "12 of 34 and 56")])
    assert table.columnWidth(1) > wide and table.rowHeight(0) == table.verticalHeader().defaultSectionSize()


def test_at_200_percent_stock_readings_lay_up_and_what_was_taught_do_not_scroll_sideways(
    large: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.check("P-1002", "41.38", vehicle="EB-12", loaded="39.78")
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "WINTER-26", ("P-1011", "P-1012"), shelf="Rack 9")
    part = Part("S-04", PartKind.CONNECTOR, "connector K2, pack", "CN-K2-P", ("K2",), half="pack", reorder_level=2,
                location="cabinet A", price=Decimal("9.50"), currency="GBP")  # fmt: skip
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), part)
    large.open_pack("P-1002")
    qtbot.waitUntil(lambda: large.pack.checks.rowCount() == 2)
    assert large.pack.check_table.horizontalScrollBar().maximum() == 0
    large.go("round")
    large.round.tabs.setCurrentIndex(3)
    qtbot.waitUntil(lambda: large.round.layup.model.rowCount() == 2)
    assert large.round.layup.table.horizontalScrollBar().maximum() == 0
    large.go("parts")
    qtbot.waitUntil(lambda: large.parts.stock.model.rowCount() == 1)
    assert large.parts.stock.table.horizontalScrollBar().maximum() == 0
    taught = SimpleNamespace(
        model="K36-A e-bike pack", packs=14, rests_on=msg("sure.rests_own"), energy_kj_mol=18.0, colder_percent=28.0,
        yearly_percent=10.5, knows_ohm=True, yearly_v=0.0, knows_volts=True, scatter_percent=1.5, ohm_packs=14,
        scatter_v=0.03, full_packs=14, pace_percent=22.0,
    )  # fmt: skip
    large.go("ahead")
    large.ahead.choose("sure")
    large.ahead.models["learnt"].set_rows([taught])
    qtbot.wait(50)
    assert large.ahead.tables["learnt"].viewport().width() > 1200
    assert large.ahead.tables["learnt"].horizontalScrollBar().maximum() == 0


def cut(table: Table) -> list[str]:
    """What stands in cells of a table that are too small for it."""
    metrics, model = table.fontMetrics(), table.rows_model
    found = []
    for line in range(model.rowCount()):
        for number in range(model.columnCount()):
            text, width = model.text(line, number), table.columnWidth(number) - CELL_AIR
            high = wrapped_height(metrics, unbroken_cell(text), width)
            if not model.has_badge(line, number) and high > table.rowHeight(line):
                found.append(text)
    return found


def test_the_boards_table_and_the_round_cut_nothing_off_in_a_small_window(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.check("P-1002", "39.38", vehicle="EB-12", loaded="37.78")
    danger = Hold("pack", "P-1301", HoldClass.DANGER, kestrel.now, msg("ground.by_person"), "swollen")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("PIKE"), danger)
    kestrel.now += dt.timedelta(days=7)
    window.resize(1366, 768)
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    window.board.show_view(1)
    qtbot.wait(50)
    table = window.board.table
    assert table.isVisible() and table.horizontalScrollBar().maximum() == 0
    assert cut(table) == []
    reasons = [table.rows_model.text(line, 3) for line in range(table.rows_model.rowCount())]
    assert any(one.startswith("P-1002: Rested full 39.38 V") for one in reasons)
    assert not any(".;" in one for one in reasons)
    assert table.rowHeight(0) > 2 * table.verticalHeader().defaultSectionSize(), "a long reason has its lines"
    window.go("round")
    qtbot.waitUntil(lambda: window.round.today.model.rowCount() > 0)
    today = window.round.today.table
    qtbot.wait(50)
    assert cut(today) == [] and today.horizontalScrollBar().maximum() == 0
    assert not window.round.today.detail.isVisible(), "nothing is cut off, so nothing is said twice"


def test_at_200_percent_the_rounds_the_lists_and_the_board_do_not_scroll_sideways(
    large: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.check("P-1002", "39.38", vehicle="EB-12", loaded="37.78")
    large.session.arrive(kestrel.people["DUNN"])
    with kestrel.store.view() as view:
        large.session.set_bench(view.thing("meter", "M-01"), None, None)
    kestrel.now += dt.timedelta(days=7)
    large.go("bench")
    large.bench.work.round.refresh()
    qtbot.waitUntil(lambda: large.bench.work.round.model.rowCount() > 0)
    beside = large.bench.work.round.table
    assert beside.horizontalScrollBar().maximum() == 0
    assert beside.viewport().height() > 3 * beside.rowHeight(0), "some lines are in sight at once"
    large.go("round")
    qtbot.waitUntil(lambda: large.round.today.model.rowCount() > 0)
    today = large.round.today.table
    assert today.horizontalScrollBar().maximum() == 0 and today.width() > 1200
    assert today.rowAt(today.viewport().height() - 1) >= 2, "a third line is in sight"
    assert any(today.rows_model.text(0, n).endswith(" due 9 Nov 2026") for n in range(4)), (
        "the due day stands with the place"
    )
    assert large.round.today.heading.text() == "Round, Monday 9 Nov 2026", "in one line"
    assert not large.round.today.detail.isVisible(), "nothing is cut off, so nothing is said twice"
    for name, screen in (("packs", large.packs), ("vehicles", large.vehicles)):
        large.go(name)
        qtbot.waitUntil(lambda screen=screen: screen.model.rowCount() > 0)
        assert screen.table.horizontalScrollBar().maximum() == 0, name
        assert screen.table.viewport().width() > 1200
    line = large.packs.model.line_of("P-1002")
    told = [large.packs.model.text(line, n) for n in range(large.packs.model.columnCount())]
    assert told[1].endswith(", EB-12") and told[3].startswith("39.38 V, 0.2000 Ω, ")
    large.go("board")
    qtbot.waitUntil(lambda: large.board.model.rowCount() > 0)
    large.board.show_view(1)
    qtbot.wait(50)
    assert large.board.table.isVisible() and large.board.table.horizontalScrollBar().maximum() == 0


def test_what_a_cell_leaves_out_is_in_its_tip_is_heard_and_is_found(qtbot: QtBot) -> None:
    model = RowModel((Column("Item", lambda r: r[0]), Column("Why", lambda r: r[1][:9], whole=lambda r: r[1])))
    model.set_rows([("EB-16", LONG), ("EB-17", "no pack fitted")])
    cell = model.index(0, 1)
    assert cell.data() == "two packs"
    assert cell.data(Qt.ItemDataRole.ToolTipRole) == cell.data(Qt.ItemDataRole.AccessibleTextRole) == LONG
    model.set_keep(lambda _row, told: "connector" in told)
    assert [model.text(n, 0) for n in range(model.rowCount())] == ["EB-16"]
    model.replace_row(0, ("EB-16", "no pack fitted"))
    model.set_keep(lambda _row, told: "connector" in told)
    assert model.rowCount() == 0


def test_a_long_list_in_large_letters_has_rows_of_equal_height_and_few_of_its_rows_are_measured(
    qtbot: QtBot, qapp: QApplication
) -> None:
    theme.apply(qapp, "light", 200)
    try:
        model = RowModel((Column("Item", lambda r: r[0]), Column("Reason", lambda r: r[1], tip=True)))
        table = Table(model, "Rows", wraps=False)
        qtbot.addWidget(table)
        table.resize(900, 500)
        table.show()
        qtbot.waitExposed(table)
        line = table.rowHeight(0) or table.verticalHeader().defaultSectionSize()
        model.set_rows([(f"EB-{n}", LONG * (1 + n % 9)) for n in range(MOST_WRAPPED + 1)])
        assert {table.rowHeight(n) for n in range(MOST_WRAPPED + 1)} == {line + 2 * table.fontMetrics().height()}
        assert table.wordWrap() and table.horizontalScrollBar().maximum() == 0
        model.set_keep(lambda row, _told: row[0] in ("EB-0", "EB-8"))
        assert line < table.rowHeight(0) < table.rowHeight(1) < 8 * line, (
            "the longest is cut off; its tip has all of it"
        )
        model.set_keep(None)
        assert len({table.rowHeight(n) for n in range(MOST_WRAPPED + 1)}) == 1
    finally:
        theme.apply(qapp, "light", 100)


@given(st.lists(st.tuples(*[st.integers(0, 40)] * 3), min_size=1, max_size=12), st.integers(300, 1400))
def test_a_lists_rows_are_together_no_higher_than_under_widths_for_the_longest(
    rows: list[tuple[int, int, int]], room: int
) -> None:
    metrics = QFontMetrics(theme.sized(2.0))
    texts = [[" ".join(["pack"] * words) for words in column] for column in zip(*rows, strict=True)]
    needs = [Need(column, [metrics.horizontalAdvance(one) + CELL_AIR for one in column], 60) for column in texts]
    few = [max(60, metrics.horizontalAdvance("pack") + CELL_AIR)] * 3

    def height(widths: list[int]) -> int:
        return sum(
            max(wrapped_height(metrics, text, width - CELL_AIR) for text, width in zip(row, widths, strict=True))
            for row in zip(*texts, strict=True)
        )

    longest = fitted([max(one.of_share(1.0), few[0]) for one in needs], few, few, room, 2)
    assert height(lowest(metrics, needs, few, few, room, 2)) <= height(longest)


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


def test_reasons_and_readings_of_a_projection_lie_below_each_other_in_large_letters(
    app: App, qapp: QApplication, qtbot: QtBot
) -> None:
    theme.apply(qapp, "light", 200)
    window = MainWindow(replace(app, settings=replace(app.settings, text_percent=200)))
    qtbot.addWidget(window)
    window.resize(1366, 740)
    try:
        window.show()
        window.open_pack("P-1010")
        window.pack.tabs.setCurrentWidget(window.pack.why)
        qtbot.waitUntil(lambda: window.pack.page is not None, timeout=30_000)
        reasons, readings = window.pack.why.widget(0), window.pack.why.widget(1)
        qtbot.waitUntil(lambda: readings.geometry().top() > reasons.geometry().bottom())
        assert readings.geometry().bottom() <= window.pack.why.height()
    finally:
        window.close()
        theme.apply(qapp, "light", 100)
