"""Two people on one pack, one bench for two people, a clock that is wrong, a reading taken twice."""

import datetime as dt
from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.checks import LookItem
from fleetcare.domain.wording import say
from fleetcare.services import people, summary
from fleetcare.services.telling import entry_note
from fleetcare.settings import Settings
from fleetcare.store.store import Store
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import MONDAY, PEOPLE, Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
NINE = MONDAY.replace(hour=9, minute=0)


@pytest.fixture
def second(kestrel: Kestrel, qtbot: QtBot) -> Iterator[MainWindow]:
    """Another PC on the same file: its own store, its own window."""
    store = Store.open(kestrel.store.path)
    made = MainWindow(App(store, kestrel.clock, "BENCH-2", Settings()))
    qtbot.addWidget(made)
    made.show()
    yield made
    made.close()
    store.close()


def to_front(qtbot: QtBot, window: MainWindow) -> None:
    window.activateWindow()
    qtbot.waitUntil(lambda: QApplication.activeWindow() is window)
    window.go("bench")


def test_both_entries_are_kept_the_second_is_told_and_the_safer_state_wins(
    window: MainWindow, second: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.now = NINE
    to_front(qtbot, window)
    hands("B-01", ENTER, "20", ENTER, "EB-19", ENTER, "P-1009", ENTER)
    to_front(qtbot, second)
    hands("B-03", ENTER, "20", ENTER, "EB-19", ENTER, "P-1009", ENTER)
    kestrel.now = NINE + dt.timedelta(minutes=2)
    second.bench.work.look.boxes[LookItem.CRACK].setFocus()
    hands(Qt.Key.Key_Space)
    second.bench.stop.place.edit.setFocus()
    hands("Q-1", ENTER)

    kestrel.now = NINE + dt.timedelta(minutes=4)
    window.activateWindow()
    qtbot.waitUntil(lambda: QApplication.activeWindow() is window)
    window.bench.work.rest.setFocus()
    hands(Qt.Key.Key_F8, "3", "41.40", ENTER, ENTER)
    told = window.bench.work.verdict.text()
    assert "Farrow saved at 2 Nov 2026 09:02" in told and "crack" in told.lower()
    assert "P-1009 stays held; a reading releases nothing" in told
    assert "Back to work" not in told and "The release is a deed of its own" in told
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1009")
    assert page.status.state.value == "quarantined" and str(page.checks[0].rested_v) == "41.40"
    assert any("crack" in say(event.text).lower() for event in page.events)
    board = summary.fleet_summary(kestrel.store, kestrel.clock)
    assert next(v for v in board.vehicles if v.vehicle.code == "EB-19").status.state.value == "grounded"


def test_locking_keeps_what_was_typed_and_another_person_does_not_take_it_over(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    people.set_pin(kestrel.store, kestrel.clock, kestrel.author(), "DUNN", "4071")
    hands("Dunn", ENTER)
    sign = window.bench.sign_in
    qtbot.waitUntil(lambda: sign.pin.edit.hasFocus())
    hands("4072", ENTER)
    assert "not the PIN of Dunn" in sign.pin.wrong.text() and window.session.person is None
    hands("4071", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "41.38")
    window.idle.lock()
    assert window.session.person is None and "What Dunn typed is kept" in sign.notice.text()
    hands("B-02", ENTER)
    work = window.bench.work
    assert window.session.person is not None and window.session.person.name == "Pike"
    assert work.rested.text == "" and work.subject.text() == ""
    hands("EB-14", ENTER, "P-1004", ENTER, Qt.Key.Key_F8, "3", "41.50", ENTER, ENTER)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1004").checks[0].person_name == "Pike"
    hands("B-01", ENTER)
    qtbot.waitUntil(lambda: sign.pin.edit.hasFocus())
    hands("4071", ENTER)
    qtbot.waitUntil(lambda: work.drafts.isVisible())
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier)
    assert (work.subject.text(), work.rested.text) == ("P-1002 · EB-12", "41.38")
    assert work.rested.edit.hasFocus() and work.rest.band is not None and work.look.found == ()
    hands(ENTER, ENTER)
    line = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks[0]
    assert (line.person_name, str(line.rested_v)) == ("Dunn", "41.38")


def test_a_jump_asks_for_a_second_reading_and_both_are_kept(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "40.55", ENTER, ENTER)
    work = window.bench.work
    assert work.question_card.isVisible() and work.again.edit.hasFocus(), work.question.text()
    assert work.question.text().startswith("1.05 V lower than last time (41.60 V")
    assert work.second.text().endswith("(Enter)") and "(Enter)" not in work.mend.text() + work.right.text()
    hands("41.35", ENTER)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert str(page.checks[0].rested_v) == "41.35"
    assert any("first 40.55 V, again 41.35 V" in say(event.text) for event in page.events)
    assert "read twice: 40.55 V struck, 41.35 V stands" in entry_note(page.checks[0])
    assert not any("read twice" in entry_note(one) for one in page.checks[1:])
    hands("EB-14", ENTER, "P-1004", ENTER, Qt.Key.Key_F8, "3", "40.55", ENTER, ENTER, "40.52", ENTER)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1004")
    assert str(page.checks[0].rested_v) == "40.52", work.question.text()


@pytest.fixture
def wrong_clock(kestrel: Kestrel, qtbot: QtBot) -> Iterator[tuple[MainWindow, list[dt.datetime]]]:
    """A program that starts with a wrong clock after a last record at 17:40."""
    kestrel.now = MONDAY.replace(hour=17, minute=40)
    kestrel.check("P-1002", "41.40", vehicle="EB-12")
    hand = [dt.datetime(2020, 1, 1, 7, 5, tzinfo=dt.UTC)]
    made = MainWindow(App(kestrel.store, lambda: hand[0], "BENCH-1", Settings()))
    qtbot.addWidget(made)
    yield made, hand


def test_a_clock_behind_asks_before_anything_can_be_saved(
    wrong_clock: tuple[MainWindow, list[dt.datetime]], hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    window, _ = wrong_clock
    window.show()
    window.activateWindow()
    qtbot.waitUntil(lambda: QApplication.activeWindow() is window)
    window.go("bench")
    page = window.clock_page
    assert window.stack.currentWidget() is page and "1 Jan 2020 07:05" in page.statement.text()
    for screen in ("board", "bench", "packs"):
        window.go(screen)
        assert window.stack.currentWidget() is page
    qtbot.waitUntil(lambda: page.who.edit.hasFocus())
    hands("B-01", ENTER, "2 Nov", ENTER)
    assert "Type it as YYYY-MM-DD HH:MM, such as 2026-11-02 17:45" in page.true_at.wrong.text()
    page.true_at.edit.selectAll()
    hands("2026-11-01 07:05", ENTER)
    assert "before the last record" in page.true_at.wrong.text()
    page.true_at.edit.selectAll()
    hands("2026-11-03 07:05", ENTER)
    assert window.stack.currentWidget() is window.bench and window.session.person is not None
    hands("20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "41.40", ENTER, ENTER)
    line = summary.pack_summary(kestrel.store, lambda: NINE, "P-1002").checks[0]
    assert line.clock_by == "Dunn" and line.done_at.date() == dt.date(2026, 11, 3)


def test_a_clock_a_year_ahead_asks_before_all_are_grounded(
    wrong_clock: tuple[MainWindow, list[dt.datetime]], hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    window, hand = wrong_clock
    hand[0] = dt.datetime(2027, 11, 3, 7, 0, tzinfo=dt.UTC)
    window.show()
    window.activateWindow()
    qtbot.waitUntil(lambda: QApplication.activeWindow() is window)
    window.go("board")
    page = window.clock_page
    assert window.stack.currentWidget() is page and page.right.isVisible()
    qtbot.waitUntil(lambda: page.who.edit.hasFocus())
    hands("Hale", ENTER, "2026-11-02 17:50", ENTER)
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    assert {row.status.state.value for row in window.board.model.rows} == {"ready"}
    assert PEOPLE["HALE"].code == (window.session.person.code if window.session.person else "")


def test_a_minus_sign_asks_whether_the_leads_were_reversed_and_is_noted(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-12", ENTER, "P-1002", ENTER, Qt.Key.Key_F8, "3", "-41.38", ENTER, ENTER)
    work = window.bench.work
    assert "−41.38 V has a minus sign. Were the leads reversed?" in work.question.text() and not work.again.isVisible()
    qtbot.mouseClick(work.right, Qt.MouseButton.LeftButton)
    line = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks[0]
    assert str(line.rested_v) == "41.38" and "leads reversed, meter showed −41.38 V" in line.remark


def test_a_dialog_left_open_over_a_locked_window_does_nothing_in_the_gone_persons_name(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fleetcare.ui.widgets.dialogs import AskDialog

    hands("B-01", ENTER, "20", ENTER)
    window.open_pack("P-1002")
    qtbot.waitUntil(lambda: window.pack.page is not None)
    said: list[str] = []

    def left_open(dialog: AskDialog) -> int:
        dialog._fields[0].edit.setText("looks odd")
        window.idle.lock()
        dialog.attempt()
        said.extend((dialog.wrong.text(), dialog._fields[0].text))
        return 0

    monkeypatch.setattr(AskDialog, "exec", left_open)
    qtbot.mouseClick(window.pack.buttons["hold_pack"], Qt.MouseButton.LeftButton)
    assert "Sign in" in said[0] and said[1] == "looks odd"
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state.value == "ready"
