"""Keys at the bench of a window that was only just opened, and what a wrong scan or a question leaves behind."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.checks import LookItem
from fleetcare.domain.intake import Story
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui import theme
from fleetcare.ui.bench.look_panel import DANGERS
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER, ESC, F8, F9 = Qt.Key.Key_Return, Qt.Key.Key_Escape, Qt.Key.Key_F8, Qt.Key.Key_F9


def start(window: MainWindow, hands: Typist) -> None:
    """Sign in and say under what one measures."""
    hands("B-01", ENTER, "19", ENTER)
    assert window.bench.currentWidget() is window.bench.work


def test_f8_and_f9_are_the_benchs_before_any_other_screen_was_shown(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    assert not window._keys["F8"].isEnabled() and not window._keys["F9"].isEnabled()
    hands("P-1002", ENTER, F8)
    assert window.bench.work.look.found == ()
    hands(F9)
    assert window.bench.currentWidget() is window.bench.conditions


def test_the_vehicle_stays_when_the_wrong_pack_was_scanned(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1001", ENTER)
    assert work.pairing.isVisible()
    hands(ESC)
    assert not work.pairing.isVisible() and work.subject.text().startswith("EB-12")
    hands("P-1002", ENTER)
    assert work.subject.text() == "P-1002 · EB-12"


def test_a_slip_is_mended_with_enter(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, F8, "3", "41.80", ENTER, "4.01", ENTER, ENTER)
    assert work.question_card.isVisible() and work.mend.hasFocus()
    assert work.mend.text().endswith("(Enter)") and "(Enter)" not in work.second.text()
    hands(ENTER)
    assert not work.question_card.isVisible() and work.loaded.edit.hasFocus()


@pytest.mark.parametrize("answer", [F8, Qt.Key.Key_Space])
def test_a_check_whose_inspection_was_forgotten_is_saved_with_the_next_enter(
    window: MainWindow, hands: Typist, kestrel: Kestrel, answer: Qt.Key
) -> None:
    """Enter on the button for "all looks good" would note that again and again, and save nothing."""
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, "3", "41.58", ENTER, ENTER)
    assert work.look.wrong.isVisible() and work.look.all_good.hasFocus()
    with kestrel.store.view() as view:
        before = view.position
    hands(answer)
    assert not work.look.wrong.isVisible() and work.loaded.edit.hasFocus()
    hands(ENTER)
    with kestrel.store.view() as view:
        assert view.position > before and work.scan.edit.hasFocus()


def test_the_decision_is_said_beside_the_verdict(window: MainWindow, hands: Typist) -> None:
    window.bench.work.decision.decided.emit("Decided about P-1002.")
    assert "Decided about P-1002." in window.bench.work.verdict.text()


def test_screens_of_the_menu_put_the_cursor_into_a_field(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    for screen in ("identity", "away", "parts"):
        window.go(screen)
        assert window.focusWidget() is not None and window.stack.currentWidget().isAncestorOf(window.focusWidget())


def test_enter_presses_the_button_in_focus_but_a_foreign_bar_code_does_not(window: MainWindow, qtbot: QtBot) -> None:
    pressed = []
    window.bar.sign_out.setEnabled(True)
    window.bar.sign_out.clicked.connect(lambda: pressed.append(1))
    window.bar.sign_out.setFocus()
    qtbot.keyClicks(window.bar.sign_out, "2012345678900")
    qtbot.keyClick(window.bar.sign_out, Qt.Key.Key_Return)
    assert pressed == []
    qtbot.keyClick(window.bar.sign_out, Qt.Key.Key_Return)
    assert pressed == [1]


def test_a_danger_item_has_a_key_of_its_own(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    start(window, hands)
    bench = window.bench
    hands("P-1002", ENTER)
    assert bench.work.rest.hasFocus() and bench.work.rest.heading.text().startswith("▸")
    smell = bench.work.look.boxes[LookItem.SMELL]
    assert smell.text().startswith("3 ")
    hands("3")
    assert not smell.isChecked() and bench.work.rested.edit.hasFocus()
    qtbot.keyClick(bench.work.rested.edit, Qt.Key.Key_3, Qt.KeyboardModifier.AltModifier)
    assert bench.work.look.found == (LookItem.SMELL,) and bench.currentWidget() is bench.stop
    assert bench.work.rested.text == ""
    assert len(DANGERS) == 9 and "1 to 9" in word("bench.look_hint")


def test_a_space_never_blanks_a_number(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    amps = window.bench.work.amps.edit
    hands("P-1002", ENTER)
    amps.setFocus()
    amps.setText("20")
    amps.selectAll()
    hands(" ")
    assert amps.text() == "20"


def test_f8_and_f9_open_round_and_overview_until_the_bench_is_at_work(window: MainWindow, hands: Typist) -> None:
    hands("B-01", ENTER)
    assert window.bench.currentWidget() is window.bench.conditions
    hands(F9)
    assert window.stack.currentWidget() is window.overview
    window.go("bench")
    hands(F8)
    assert window.stack.currentWidget() is window.round


def test_a_count_of_one_vehicle_and_a_meters_accuracy_are_said_once() -> None:
    assert say(msg("screen.counts_are", total_vehicles=1)) == "1 vehicle ="
    assert say(msg("screen.counts_are", total_vehicles=50_000)) == "50,000 vehicles ="
    accuracy = say(msg("setup.row_meter", name="M", percent=Decimal("0.5"), digits=2))
    assert accuracy == "M · ±(0.5 % + 2 digits)"


def test_the_trips_open_on_the_pack_just_reported(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    window.go("faults")
    page = window.faults.report
    page.none.setChecked(True)
    page.fields["vehicle"].edit.setText("EB-12")
    page.fields["pack"].edit.setText("P-1002")
    page.story.choose(Story.CUT_OUT_HILL)
    page.keep()
    window.faults.show_page(window.faults.trips)
    assert window.faults.trips.code("pack") == "P-1002"
    assert [(one.reported_by, one.judged_by) for one in window.faults.trips.model.rows] == [("Dunn", "")]


def test_a_pass_is_said_once(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, F8, "3", "41.60")
    qtbot.waitUntil(lambda: work.verdict.badge.isVisible())
    assert work.verdict.text().lower().splitlines().count("pass") == 1


def test_no_field_moves_between_sign_in_and_verdict(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    with kestrel.store.transaction() as tx:
        tx.save_draft("d", "PIKE", "BENCH-2", "P-1312", kestrel.now, "{}")
    window.resize(1366, 740)
    start(window, hands)
    work = window.bench.work
    watched = (work.scan.edit, work.look.all_good, work.rest.heading, work.rested.edit, work.loaded.edit, work.save)
    assert work.drafts.isVisible() and work.scroll.horizontalScrollBar().maximum() == 0
    assert work.scroll.verticalScrollBar().maximum() == 0, "what another left unsaved makes nobody scroll"

    def places() -> list[tuple[int, int]]:
        qtbot.wait(60)
        return [(at.x(), at.y()) for at in (one.mapTo(window, QPoint(0, 0)) for one in watched)]

    first = places()
    steps = (("EB-12", ENTER), ("P-1002", ENTER), (F8,), ("3",), ("41.80", ENTER), ("40.20",), (ENTER,), (ENTER,))
    for step in steps:
        hands(*step)
        assert places() == first, step
    assert "watch" in work.verdict.text() or "pass" in work.verdict.text()


def test_the_round_is_read_again_only_where_it_is_seen(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading it goes through every pack of the fleet: not for a table that nobody looks at."""
    start(window, hands)
    panel = window.bench.work.round
    qtbot.waitUntil(panel.isVisible)
    qtbot.wait(50)
    read: list[int] = []
    whole = panel.refresh
    monkeypatch.setattr(panel, "refresh", lambda: (read.append(1), whole()))
    window.go("board")
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.changes.poll()
    qtbot.wait(50)
    assert read == []
    window.go("bench")
    qtbot.waitUntil(lambda: bool(read))


def test_several_drafts_take_one_line_until_all_are_asked_for(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    with kestrel.store.transaction() as tx:
        for number in range(3):
            tx.save_draft(f"d{number}", "PIKE", "BENCH-2", f"P-101{number}", kestrel.now, "{}")
    window.resize(1366, 740)
    start(window, hands)
    work = window.bench.work
    qtbot.wait(60)
    assert work.scroll.verticalScrollBar().maximum() == 0
    hands(ENTER)
    assert not work.scan.wrong.isVisible(), "Enter once too often is no mistake"
    hands("19", ENTER)
    qtbot.wait(60)
    assert work.scan.wrong.isVisible(), (
        "a refusal is said, and neither it nor what Pike left is pushed out of a low window"
    )
    assert work.scroll.verticalScrollBar().maximum() == 0
    low = max(one.mapTo(window, one.rect().bottomLeft()).y() for one in (work.drafts, work.save, work.round))
    assert low < window.height()
    work.scan.edit.clear()
    more = work.drafts.findChild(QPushButton, "more")
    assert more.text() == "Show 2 more" and len(work.drafts.texts()) == 3
    shown = [one.text() for one in work.drafts.findChildren(QLabel) if one.isVisible() and "P-101" in one.text()]
    assert len(shown) == 1
    qtbot.mouseClick(more, Qt.MouseButton.LeftButton)
    qtbot.wait(60)
    shown = [one.text() for one in work.drafts.findChildren(QLabel) if one.isVisible() and "P-101" in one.text()]
    assert len(shown) == 3 and work.drafts.isAncestorOf(QApplication.focusWidget())


def test_look_once_more_is_in_sight_after_f8_in_large_letters(
    app: App, qtbot: QtBot, qapp: QApplication, hands: Typist
) -> None:
    theme.apply(qapp, "light", 200)
    window = MainWindow(replace(app, settings=replace(app.settings, text_percent=200)))
    qtbot.addWidget(window, before_close_func=lambda one: one.closing.ask_nothing())
    window.resize(1366, 700)
    window.show()
    window.activateWindow()
    qtbot.waitExposed(window)
    qtbot.waitUntil(lambda: window.bench.sign_in.name.edit.hasFocus())
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, "3", "41.38", ENTER, "39.8", ENTER)
    qtbot.waitUntil(lambda: _whole(work.amps.edit))
    assert work.amps.edit.hasFocus() and not _whole(work.look.line)
    hands(F8)
    assert work.amps.edit.hasFocus() and work.look.line.text().startswith("Noted as good. Look once more")
    qtbot.waitUntil(lambda: _whole(work.look.line))
    hands("8")
    qtbot.waitUntil(lambda: _whole(work.amps.edit))
    window.close()
    theme.apply(qapp, "light", 100)


def test_what_was_saved_is_told_in_sight_after_a_question(
    window: MainWindow, hands: Typist, qtbot: QtBot, kestrel: Kestrel
) -> None:
    kestrel.now += dt.timedelta(days=6)  # the round has something in it
    window.resize(1366, 600)  # as low as 768 is with a draft left unsaved
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, F8, "3", "39.2", ENTER, ENTER)
    qtbot.waitUntil(lambda: _whole(work.again.edit))
    qtbot.waitUntil(lambda: work.round.table.model().rowCount() > 0)
    hands("39.2", ENTER)
    assert work.verdict.text().startswith("pull") and work.scan.edit.hasFocus()
    qtbot.waitUntil(lambda: work.decision.isVisible() and _whole(work.verdict.badge))
    assert _whole(work.conditions) and _whole(work.scan.edit)


def test_asking_whether_to_discard_moves_no_button_and_a_double_click_is_no_answer(
    window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, F8, "3", "41.38", ENTER)
    qtbot.wait(100)  # the page takes its places
    places = [one.geometry() for one in (work.save, work.clear)]
    qtbot.mouseClick(work.clear, Qt.MouseButton.LeftButton)
    qtbot.mouseDClick(work.clear, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: work.wrong.isVisible() and _whole(work.wrong))
    assert [one.geometry() for one in (work.save, work.clear)] == places
    assert "Discard what is typed for P-1002?" in work.wrong.text() and work.rested.text == "41.38"
    qtbot.mouseClick(work.clear, Qt.MouseButton.LeftButton)
    assert work.rested.text == "" and not work.wrong.isVisible()


def test_no_verdict_of_another_reading_stays_beside_a_refused_one(window: MainWindow, hands: Typist) -> None:
    start(window, hands)
    work = window.bench.work
    hands("EB-12", ENTER, "P-1002", ENTER, F8, "3", "4.18", ENTER, ENTER)
    assert work.verdict.text().startswith("stop")
    hands(ENTER)
    assert work.rested.edit.hasFocus()
    hands("-41.60", ENTER, ENTER)
    assert "has a minus sign" in work.question.text()
    assert not work.verdict.text().startswith("stop") and work.verdict.text() == word("bench.verdict_wait")


def _whole(part: QWidget) -> bool:
    """Whether all of a part can be seen."""
    return part.visibleRegion().boundingRect() == part.rect()
