"""A spare whose newest reading does not fit it: the board says so where it proposes the pack."""

import datetime as dt

from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import FoundIn
from fleetcare.domain.wording import say
from fleetcare.services import board, record
from fleetcare.services.shown import VehicleSummary
from fleetcare.services.spare_doubts import spare_doubts
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import MONDAY, Kestrel

WEEK = dt.timedelta(days=7)
VOLTS = ("41.60", "41.62", "41.59", "41.61", "41.58", "41.60", "41.62", "41.59", "41.60", "41.61")


def bare(kestrel: Kestrel, last: str) -> VehicleSummary:
    """EB-12 without its pack; of the spare P-1011 ten weeks of good readings, and `last` two hours ago."""
    for number, volts in enumerate(VOLTS):
        kestrel.check("P-1011", volts, at=MONDAY - WEEK * (11 - number))
    kestrel.check("P-1011", last, at=MONDAY - dt.timedelta(hours=2))
    away = FoundIn("P-1002", None, kestrel.now, shelf="Workshop rack 2")
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), away)
    lines = board.whole(kestrel.store, kestrel.clock).vehicles
    (line,) = [one for one in lines if one.vehicle.code == "EB-12"]
    return line


def test_a_reading_that_fits_is_not_doubted(kestrel: Kestrel) -> None:
    line = bare(kestrel, "41.60")
    assert "P-1011" in [one.pack for one in line.offers if one.proposed]
    assert spare_doubts(kestrel.store, kestrel.clock, line) == {}


def test_the_board_says_beside_the_spare_that_its_reading_does_not_fit_and_what_to_do(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    line = bare(kestrel, "41.10")
    assert "P-1011" in [one.pack for one in line.offers if one.proposed], "the check alone passed"
    told = say(spare_doubts(kestrel.store, kestrel.clock, line)["P-1011"])
    assert told.startswith("Measure P-1011 again before it is fitted: its reading of 2 Nov 2026 04:30 does not fit it.")
    window.go("board")
    qtbot.waitUntil(lambda: window.board.fleet is not None)
    window.board.choose("EB-12")
    qtbot.waitUntil(lambda: told in window.board.side.details.told, timeout=20_000)
    kestrel.check("P-1011", "41.60", at=MONDAY)
    kestrel.now = MONDAY + dt.timedelta(minutes=5)
    assert spare_doubts(kestrel.store, kestrel.clock, line) == {}, "measured again"
