"""The board's tiles: forty without scrolling, told apart by the colour-blind, honest about their age, filters, side lists."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QRect, Qt, QThreadPool, QTimer
from PySide6.QtGui import QFontMetricsF, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain import packs
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, word
from fleetcare.services import extending, first_sight, record
from fleetcare.settings import Settings
from fleetcare.ui import theme
from fleetcare.ui.board import feed
from fleetcare.ui.board.anyway import AnywayDialog
from fleetcare.ui.board.at_work import AtWorkDialog
from fleetcare.ui.board.board_window import BoardWindow
from fleetcare.ui.board.tiles import GAP, LEFT, REASON_LINES, RIGHT, fitted, tile_reason, tile_told
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel, build_morning
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


@pytest.fixture
def kestrel(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


@pytest.fixture
def app(kestrel: Kestrel) -> App:
    return App(kestrel.store, kestrel.clock, "DESK", Settings())


@pytest.fixture
def board(window: MainWindow, qtbot: QtBot):  # type: ignore[no-untyped-def]
    window.go("board")
    qtbot.waitUntil(lambda: window.board.fleet is not None)
    return window.board


def tile(board, code: str) -> QRect:  # type: ignore[no-untyped-def]
    tiles = board.tiles
    line = next(n for n in range(board.model.rowCount()) if board.model.shown_row(n).vehicle.code == code)
    return tiles.visualRect(board.model.index(line, 0))


def test_forty_vehicles_fit_without_scrolling(app: App, kestrel: Kestrel, qtbot: QtBot, qapp: QApplication) -> None:
    more = [packs.Vehicle(f"EX-{n:02d}", packs.VehicleKind.E_BIKE, "KW", 36, "K2") for n in range(16)]
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *(("vehicle", one) for one in more))
    theme.apply(qapp, "light", 100)
    window = MainWindow(app)
    qtbot.addWidget(window)
    window.resize(1366, 740)  # 768 less the frame of a maximised window
    window.show()
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 40)
    qapp.processEvents()
    assert window.board.tiles.verticalScrollBar().maximum() == 0
    seen = window.board.tiles.viewport().rect()
    places = [tile(window.board, window.board.model.shown_row(n).vehicle.code) for n in range(40)]
    assert all(seen.contains(place) for place in places)
    assert len({(place.x(), place.y()) for place in places}) == 40
    QThreadPool.globalInstance().waitForDone()


# Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
# Transactions on Visualization and Computer Graphics 15(6), 2009, table of matrices at severity 1.0, for linear RGB.
SIMULATED = {
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
    # ITU-R BT.709 luma in all three channels: a print without colour
    "greyscale": ((0.2126, 0.7152, 0.0722),) * 3,
}


def pixels(image: QImage) -> np.ndarray:
    rgb = image.convertToFormat(QImage.Format.Format_RGB888)
    flat = np.frombuffer(rgb.constBits(), np.uint8).reshape(rgb.height(), rgb.bytesPerLine())
    return flat[:, : rgb.width() * 3].reshape(rgb.height(), rgb.width(), 3) / 255.0


def simulated(srgb: np.ndarray, kind: str) -> np.ndarray:
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ np.array(SIMULATED[kind]).T, 0, 1)
    return np.where(seen <= 0.0031308, seen * 12.92, 1.055 * seen ** (1 / 2.4) - 0.055)


def luminance(srgb: np.ndarray) -> np.ndarray:
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("kind", sorted(SIMULATED))
def test_states_are_told_apart_in_every_simulation(
    kind: str, name: str, window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot, qapp: QApplication
) -> None:  # type: ignore[no-untyped-def]
    """Danger, fault, action due, limited, due and ready: the shape in each tile stands off its ground, and no two
    grounds with different shapes look alike together with their words."""
    theme.apply(qapp, name, 100)
    window.resize(1366, 740)
    shown = ("EB-14", "EB-18", "CB-03", "SC-33", "EB-11")
    qapp.processEvents()
    board.tiles.clearSelection()
    board.tiles.setCurrentIndex(board.model.index(-1, 0))
    image = pixels(board.tiles.viewport().grab().toImage())
    marks = {}
    for code in shown:
        box = tile(board, code)
        part = simulated(image[box.y() + 3 : box.bottom() - 3, box.x() + 3 : box.right() - 3], kind)
        sign = part[8:30, 8:30]
        lights = luminance(sign)
        low, high = np.percentile(lights, 2), np.percentile(lights, 98)
        assert (high + 0.05) / (low + 0.05) >= 3, (code, "the shape must stand off its ground (WCAG 2.2, 1.4.11)")
        marks[code] = lights > (low + high) / 2
    ground = {code: marks[code][0, -1] for code in shown}
    solid = {code: (marks[code] != ground[code]) for code in shown}
    for one, other in (
        ("EB-14", "CB-03"),
        ("EB-14", "EB-18"),
        ("EB-18", "CB-03"),
        ("EB-18", "EB-11"),
        ("CB-03", "SC-33"),
    ):
        assert (solid[one] != solid[other]).mean() > 0.03, (one, other)
    words = {word(f"board_state.{state.value}") for state in BoardState}
    assert len(words) == 4
    theme.apply(qapp, "light", 100)


def test_the_details_name_who_is_at_work_and_the_spare(
    window: MainWindow, board, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:  # type: ignore[no-untyped-def]
    with kestrel.store.view() as view:
        window.session.sign_in(view.thing("person", "HALE"))

    def tick() -> None:
        dialog = next(w for w in QApplication.topLevelWidgets() if isinstance(w, AtWorkDialog) and w.isVisible())
        dialog.ticks["PIKE"].click()
        dialog.attempt()

    QTimer.singleShot(50, tick)
    board.at_work.click()
    window.changes.poll()
    qtbot.waitUntil(lambda: board.at_work.text() == "At work today: Pike")
    board.choose("EB-14")
    told = board.side.details.told
    assert "May clear it, at work today: Pike" in told and "Also may, not at work today: Dunn" in told
    assert (
        "Fit P-1011: full at 41.40 V on 1 Nov 2026, no charge on record since; Store, same depot." in told
        and "P-13" not in told
    )


def test_the_details_say_when_a_vehicle_may_be_back(window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    brake = Hold("vehicle", "CB-06", HoldClass.FAULT, kestrel.now, msg("ground.by_person"), "front brake")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("PIKE"), brake)
    kestrel.now += dt.timedelta(days=7)
    board.refresh()
    qtbot.waitUntil(lambda: board.fleet.counts[BoardState.READY] == 0)
    details = board.side.details
    board.choose("EB-13")
    qtbot.waitUntil(lambda: "Planned on the round: check of P-1003 on " in details.told)
    board.choose("CB-06")
    # its packs' checks are planned all the same; an answer from before that week may still stand there until then
    qtbot.waitUntil(lambda: "Planned on the round: check of P-1311 on " in details.told)
    assert "No day is planned for what holds it" in details.told


def test_old_tiles_are_grey_and_say_what_they_were(board, kestrel: Kestrel, qtbot: QtBot, qapp: QApplication) -> None:  # type: ignore[no-untyped-def]
    kestrel.now += dt.timedelta(minutes=16)
    board._tick()
    assert board.tiles.stale and "do not rely on it" in board.header.old.text()
    assert board.window().minimumSizeHint().width() <= 1366, "the sentence pushes nothing off the screen"
    assert board.badges[BoardState.READY].accessibleName() == "was 19 ready"
    image = pixels(board.tiles.viewport().grab().toImage())
    assert (image.max(axis=2) - image.min(axis=2)).max() < 0.2, "no colour is left on an old board"
    board.choose("EB-11")
    assert board.side.details.badge.accessibleName() == "was ready"
    board.refresh()
    qtbot.waitUntil(lambda: not board.tiles.stale)


def test_a_file_that_cannot_be_read_lets_the_age_grow(
    window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:  # type: ignore[no-untyped-def]
    def gone() -> None:
        raise FileRefused("file.unreadable", path="k.fleet", why="the share is gone")

    monkeypatch.setattr(board.feed._board, "read", gone)
    monkeypatch.setattr(window.changes._store, "changes_since", lambda _p: gone())
    kestrel.now += dt.timedelta(minutes=16)
    window.changes.poll()
    with qtbot.waitSignal(board.feed.failed):
        board.refresh()
    assert "not refreshed for 16 minutes" in board.header.old.text() and board.tiles.stale
    assert "the share is gone" in board.as_of.toolTip()
    for more, told in (
        (dt.timedelta(hours=7), "not refreshed for 7 hours:"),
        (dt.timedelta(days=3), "not refreshed for 3 days:"),
    ):
        kestrel.now += more
        board._tick()
        assert told in board.header.old.text()


def test_filters_by_depot_kind_and_class(window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    assert not board.depot.isVisible(), "one depot needs no choice"
    far = packs.Depot("HB", "Hull Bridge")
    bike = packs.Vehicle("EB-90", packs.VehicleKind.E_BIKE, "HB", 36, "K2")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", far), ("vehicle", bike))
    window.changes.poll()
    qtbot.waitUntil(lambda: board.model.rowCount() == 25 and board.depot.count() == 3)
    board.depot.setCurrentIndex(board.depot.findData("HB"))
    assert [board.model.shown_row(n).vehicle.code for n in range(board.model.rowCount())] == ["EB-90"]
    assert board.shown.text() == "1 of 25 shown" and board.total.text() == "25 vehicles ="
    board.depot.setCurrentIndex(0)
    board.vehicle_kind.setCurrentIndex(1)
    assert board.model.rowCount() == 8
    board.search.setText("no such thing")
    assert board._stack.currentWidget() is board.none_fits
    board.choose("EB-14")
    assert board.model.rowCount() == 25 and board.side.details.title.text().startswith("EB-14")


def test_the_lists_of_the_morning(window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    side = board.side
    assert side.texts("fewer")[0].startswith("CB-03: ") and "P-1312 by Pike" in side.texts("unfinished")[0]
    qtbot.mouseClick(side.chips["unfinished"], Qt.MouseButton.LeftButton)
    left = side.entries.item(0)
    assert not left.font().bold() and side.entries.visualItemRect(left).height() >= 24, "WCAG 2.2, 2.5.8"
    side.entries.itemClicked.emit(left)
    assert side.details.title.text().startswith("CB-06"), "the vehicle that its pack is in"
    week = side.texts("week")
    assert week[0].endswith("1") and "EB-18" in week and "SC-33" in week and "EB-14" not in week
    with kestrel.store.view() as view:
        window.session.sign_in(view.thing("person", "HALE"))
    qtbot.waitUntil(lambda: side._since is not None)
    qtbot.mouseClick(side.chips["changed"], Qt.MouseButton.LeftButton)
    side.tick.click()
    qtbot.waitUntil(lambda: side.texts("changed") == [])
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.changes.poll()
    qtbot.waitUntil(lambda: len(side.texts("changed")) == 1)
    assert side.texts("changed")[0].startswith("EB-12: ready → grounded: ") and "Dunn" in side.texts("changed")[0]
    item = side.entries.item(0)
    side.entries.itemClicked.emit(item)
    assert side.details.title.text().startswith("EB-12")


def test_the_keyboard_alone_finds_and_opens_a_vehicle(window: MainWindow, board, hands: Typist, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    QTest.keyClick(board.tiles, Qt.Key.Key_Home)
    assert board.side.details.line is not None
    first = board.side.details.line.vehicle.code
    QTest.keyClick(board.tiles, Qt.Key.Key_Right)
    assert board.side.details.line.vehicle.code != first
    QTest.keyClick(board.tiles, Qt.Key.Key_Return)
    assert window.stack.currentWidget() is window.vehicle


def test_a_report_about_the_selected_vehicle(window: MainWindow, board, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    board.choose("EB-12")
    qtbot.mouseClick(board.side.details.buttons["report"], Qt.MouseButton.LeftButton)
    report = window.faults.report
    assert window.stack.currentWidget() is window.faults
    assert (report.fields["vehicle"].text, report.fields["pack"].text) == ("EB-12", "P-1002")


def wanted(board, code: str, act) -> None:  # type: ignore[no-untyped-def]
    """Ask for a vehicle anyway and act in the dialog."""

    def fill() -> None:
        dialog = next(w for w in QApplication.topLevelWidgets() if isinstance(w, AnywayDialog) and w.isVisible())
        act(dialog)
        dialog.reject()

    QTimer.singleShot(50, fill)
    board.choose(code)
    board.side.details.buttons["anyway"].click()


def test_wanted_out_anyway(window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    told: list[AnywayDialog] = []
    wanted(board, "CB-06", lambda dialog: told.append((dialog.may, dialog.told)))
    assert told[0][0] is False and any("mended, not overridden" in text for text in told[0][1])
    wanted(board, "EB-18", lambda dialog: told.append((dialog.may, dialog.told)))
    assert told[1][0] is False and any("allow no due check to be put off" in text for text in told[1][1])
    boss = kestrel.author("ORMOND")
    extending.set_rule(kestrel.store, kestrel.clock, boss, allowed=True, most_days=3)
    window.changes.poll()
    window.session.sign_in(boss.person)

    def put_off(dialog: AnywayDialog) -> None:
        until, reason = dialog.findChildren(QLineEdit)[:2]
        until.setText("2026-11-30")
        reason.setText("mechanic ill")
        dialog.attempt()
        assert dialog.isVisible() and dialog.until.wrong.text(), "three days after the last good day is the most"
        assert reason.text() == "mechanic ill"
        until.setText("2026-11-03")
        dialog.attempt()
        assert not dialog.isVisible()

    wanted(board, "EB-18", put_off)
    qtbot.waitUntil(lambda: board.badges[BoardState.GROUNDED].accessibleName() == "2 grounded")


def test_how_many_more_are_ready_instead_and_where_they_are_is_said(
    window: MainWindow, board, kestrel: Kestrel
) -> None:  # type: ignore[no-untyped-def]
    told: list[str] = []
    wanted(board, "EB-18", lambda dialog: told.extend(dialog.told))
    (instead,) = [one for one in told if one.startswith("Ready instead")]
    named = "EB-11, EB-12, EB-13, EB-15, EB-16, EB-17"
    assert instead.endswith(f"{named}, and 2 more: on the board, below the vehicles that need something.")


def test_danger_has_no_override(window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    from fleetcare.domain.checks import LookItem, LookOver

    extending.set_rule(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), allowed=True, most_days=3)
    found = LookOver("P-1008", kestrel.now, "EB-18", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), found)
    window.changes.poll()
    qtbot.waitUntil(lambda: board.model.rows[0].vehicle.code == "EB-18")
    told: list[AnywayDialog] = []
    wanted(board, "EB-18", lambda dialog: told.append((dialog.may, dialog.told, dialog.do.isVisible())))
    may, sentences, button = told[0]
    assert may is False and not button and any("no override" in text for text in sentences)


def test_a_second_window_follows_by_itself(window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    board.asked_second.emit(False)
    second = next(w for w in QApplication.topLevelWidgets() if isinstance(w, BoardWindow))
    qtbot.addWidget(second)
    assert second.header.total.text() == "24 vehicles ="
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    window.changes.poll()
    qtbot.waitUntil(lambda: second.header.badges[BoardState.GROUNDED].accessibleName() == "4 grounded")
    assert "EB-12" in [second.model.shown_row(n).vehicle.code for n in range(4)]
    QTest.keyClick(second, Qt.Key.Key_F10)
    assert second.isFullScreen()
    QTest.keyClick(second, Qt.Key.Key_Escape)
    assert not second.isFullScreen()


@pytest.mark.parametrize("percent", [100, 200])
def test_bar_and_board_fit_a_small_screen(app: App, qtbot: QtBot, qapp: QApplication, percent: int) -> None:
    theme.apply(qapp, "light", percent)
    made = MainWindow(replace(app, settings=replace(app.settings, text_percent=percent)))
    qtbot.addWidget(made)
    made.resize(1366, 740)
    made.show()
    made.session.sign_in(next(iter(_people(app))))
    for screen in ("board", "overview"):
        made.go(screen)
        qapp.processEvents()
        assert made.minimumSizeHint().width() <= 1366 and made.minimumSizeHint().height() <= 740
    QThreadPool.globalInstance().waitForDone()
    theme.apply(qapp, "light", 100)


def _people(app: App):  # type: ignore[no-untyped-def]
    with app.store.view() as view:
        return list(view.things("person").values())


def test_keys_of_the_last_pack_and_vehicle_still_work(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    window.open_pack("P-1002")
    window.open_vehicle("EB-12")
    window.go("board")
    qtbot.keyClick(window, Qt.Key.Key_F5)
    assert window.stack.currentWidget() is window.pack
    qtbot.keyClick(window, Qt.Key.Key_F6)
    assert window.stack.currentWidget() is window.vehicle
    qtbot.keyClick(window, Qt.Key.Key_F9)
    assert window.stack.currentWidget() is window.overview


@pytest.mark.parametrize("scale", [1.0, 1.3, 2.0])
def test_no_word_on_a_tile_is_cut(scale: float, qapp: QApplication) -> None:
    font = theme.sized(0.92 * scale)
    metrics = QFontMetricsF(font)
    width = metrics.horizontalAdvance("x" * 20)
    text = "danger: P-1009: 9 days, collection overdue"
    lines = fitted(text, font, width, 2)
    kept = [one for line in lines for one in line.split() if one != "…"]
    assert kept == text.split()[: len(kept)] and len(lines) == 2
    assert all(metrics.horizontalAdvance(line) <= width for line in lines)
    assert fitted("front brake", font, width, 2) == ["front brake"]


def test_each_tile_says_its_reason_in_two_lines_with_forty_in_view(
    app: App, kestrel: Kestrel, qtbot: QtBot, qapp: QApplication
) -> None:
    more = [packs.Vehicle(f"EX-{n:02d}", packs.VehicleKind.E_BIKE, "KW", 36, "K2") for n in range(16)]
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *(("vehicle", one) for one in more))
    theme.apply(qapp, "light", 100)
    window = MainWindow(app)
    qtbot.addWidget(window)
    window.resize(1366, 740)
    window.show()
    window.go("board")
    board = window.board
    qtbot.waitUntil(lambda: board.model.rowCount() == 40, timeout=30_000)
    qapp.processEvents()
    rows = {line.vehicle.code: line for line in board.model.rows}
    assert {code: tile_reason(rows[code]) for code in ("CB-06", "EB-14", "EB-18", "CB-03", "SC-33", "EB-11")} == {
        "CB-06": "fault: front brake", "EB-14": "fault: no pack fitted", "EB-18": "action due: P-1008: check 15 days old",
        "CB-03": "fault: P-1306: rested full low", "SC-33": "P-1023: check due 31\N{NO-BREAK SPACE}Oct", "EB-11": "due 4 Nov",
    }  # fmt: skip
    letters = board.tiles.itemDelegate().letters
    width = tile(board, "EB-18").width() - GAP - LEFT - RIGHT
    for line in rows.values():
        shown = fitted(tile_reason(line), letters.quiet, width, REASON_LINES)
        assert " ".join(shown) == tile_reason(line), (line.vehicle.code, shown, "nothing is left out")
    assert "last valid check 18 Oct 2026, 15 days ago" in tile_told(rows["EB-18"])
    few = board.tiles.grab().size()
    window.board.search.setText("cb-0")
    assert board.tiles.itemDelegate().letters.big.height() > letters.big.height() and few == board.tiles.grab().size()
    QThreadPool.globalInstance().waitForDone()


def test_keys_lead_from_tile_to_tile(board, qtbot: QtBot) -> None:  # type: ignore[no-untyped-def]
    tiles = board.tiles
    tiles.setFocus()
    tiles.setCurrentIndex(board.model.index(0, 0))
    columns = tiles.visualRect(board.model.index(0, 0)).width()
    across = tiles.viewport().width() // columns
    for key, row in ((Qt.Key.Key_Right, 1), (Qt.Key.Key_Down, 1 + across), (Qt.Key.Key_Left, across), (Qt.Key.Key_Up, 0),
                     (Qt.Key.Key_Up, 0), (Qt.Key.Key_End, 23), (Qt.Key.Key_Down, 23), (Qt.Key.Key_Home, 0)):  # fmt: skip
        QTest.keyClick(tiles, key)
        assert tiles.currentIndex().row() == row, key
    qtbot.mouseClick(tiles.viewport(), Qt.MouseButton.LeftButton, pos=tile(board, "EB-18").center())
    assert board.side.details.line.vehicle.code == "EB-18"
    assert tiles.indexAt(tiles.viewport().rect().bottomRight()).isValid() is False


def test_a_large_board_shows_first_what_is_not_plainly_ready_and_adds_up_at_once(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_sight, "LARGE", 0)
    monkeypatch.setattr(feed, "first_sight", lambda store, clock: first_sight.first_sight(store, clock, large=0))
    seen = []

    def glimpse(reading: feed.Reading) -> None:
        board = window.board
        seen.append((board.total.text(), {s.value: b.accessibleName() for s, b in board.badges.items()}))
        assert {line.vehicle.code for line in board.model.rows} == {"CB-06", "EB-14", "EB-18", "CB-03", "SC-33"}
        assert board.shown.text() == "19 ready ones are being read …" and "…" in board.side.chips["week"].text()
        assert not reading.fleet.vehicles[0].offers
        window.orders.print_board(board.fleet)

    window.board.feed.glimpsed.connect(glimpse)
    window.go("board")
    window.board.refresh()
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    assert seen == [
        (
            "24 vehicles =",
            {
                "ready": "19 ready",
                "ready_but_due": "1 ready, check due",
                "limited": "1 limited",
                "grounded": "3 grounded",
            },
        )
    ]
    assert window.board.shown.text() == "" and "…" not in window.board.side.chips["week"].text()
    QThreadPool.globalInstance().waitForDone()


def test_a_board_that_reads_a_file_nobody_writes_to_any_more_is_not_fresh(
    window: MainWindow, board, kestrel: Kestrel, qtbot: QtBot
) -> None:  # type: ignore[no-untyped-def]
    path = kestrel.store.path
    path.rename(path.with_name("moved.fleet"))
    kestrel.now += dt.timedelta(minutes=16)
    with qtbot.waitSignal(board.feed.failed):
        board.refresh()
    assert "not refreshed for 16 minutes" in board.header.old.text() and board.tiles.stale
    assert "no longer the file that was opened" in board.as_of.toolTip()
    path.with_name("moved.fleet").rename(path)
    board.refresh()
    qtbot.waitUntil(lambda: not board.tiles.stale)


def test_at_two_hundred_percent_the_deeds_and_twelve_tiles_are_in_view(
    app: App, qtbot: QtBot, qapp: QApplication
) -> None:
    theme.apply(qapp, "light", 200)
    made = MainWindow(replace(app, settings=replace(app.settings, text_percent=200)))
    qtbot.addWidget(made)
    made.resize(1366, 740)
    made.show()
    made.session.sign_in(next(iter(_people(app))))
    made.go("board")
    board = made.board
    qtbot.waitUntil(lambda: board.model.rowCount() == 24, timeout=30_000)
    board.choose("EB-14")
    qapp.processEvents()
    height, tiles = board.tiles.viewport().height(), board.tiles
    whole = [n for n in range(24) if tiles.visualRect(board.model.index(n, 0)).bottom() < height]
    assert len(whole) >= 12
    shown = [
        *board.side.details.buttons.values(),
        *board.side.chips.values(),
        board.printing,
        board.more,
        board.at_work,
    ]
    for button in shown:
        assert button.visibleRegion().boundingRect().size() == button.size() and button.height() >= 24, button.text()
        assert button.width() >= button.fontMetrics().horizontalAdvance(button.text()), button.text()
    assert not board.depot.isVisible() and not board.kind.isVisible()
    board.filters.click()
    assert board.kind.isVisible()
    board.kind.setCurrentIndex(1)
    assert board.model.rowCount() < 24
    board.filters.click()
    assert board.model.rowCount() == 24, "filters out of sight hide nothing"
    QThreadPool.globalInstance().waitForDone()
    theme.apply(qapp, "light", 100)
