"""A depot on record in another zone than this PC's is told at the start, beside both times.

Offsets of the zones: IANA tz database (London UTC+0 in November and UTC+1 in July, Berlin one hour more).
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import QThreadPool
from pytestqt.qtbot import QtBot

from fleetcare.app import App, open_app, system_clock
from fleetcare.domain.packs import Depot
from fleetcare.domain.wording import say
from fleetcare.services import first_steps, record
from fleetcare.services.clock import zones_apart
from fleetcare.services.session import Clock
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.setup.steps_page import StepsPage
from tests.kestrel import Kestrel

WINTER = dt.datetime(2026, 11, 2, 7, 0, tzinfo=dt.UTC)
SUMMER = dt.datetime(2026, 7, 6, 7, 0, tzinfo=dt.UTC)


def pc_in(zone: str, at: dt.datetime) -> Clock:
    """The clock of a PC in `zone`, standing at one moment."""
    return lambda: at.astimezone(ZoneInfo(zone))


@pytest.fixture
def opened(app: App, qtbot: QtBot) -> Iterator[Callable[[Clock | None], MainWindow]]:
    """Opens a window on a PC with this clock."""
    made: list[MainWindow] = []

    def open_window(pc_clock: Clock | None) -> MainWindow:
        window = MainWindow(replace(app, pc_clock=pc_clock))
        made.append(window)
        qtbot.addWidget(window)
        window.show()
        qtbot.waitExposed(window)
        return window

    yield open_window
    for one in made:
        one.closing.ask_nothing()
    QThreadPool.globalInstance().waitForDone()


def move_depot(kestrel: Kestrel, zone: str) -> None:
    """The depot's zone is put right in its form."""
    depot = Depot("KW", "Kestrel Wharf", zone)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", depot))


def test_a_pc_in_berlin_is_told_of_a_depot_in_london(
    opened: Callable[[Clock | None], MainWindow], kestrel: Kestrel
) -> None:
    window = opened(pc_in("Europe/Berlin", WINTER))
    assert window.zone_notice.isVisible()
    told = window.zone_notice.told.text()
    assert "The depot's clock reads 07:00, this PC's 08:00" in told
    assert "Kestrel Wharf" in told and "Europe/London" in told and "Fleet set-up (Ctrl+N), Depots" in told
    window.to_first_steps()
    steps = window.setup.page
    assert isinstance(steps, StepsPage)
    assert "07:00, this PC's 08:00" in steps.told["depot"].text()
    assert steps.badges["depot"].accessibleName() == "there", "it may be meant so: no bar to a first check"
    move_depot(kestrel, "Europe/Berlin")
    window.changes.poll()
    assert window.zone_notice.isHidden(), "put right"
    steps.refresh()
    assert "this PC's" not in steps.told["depot"].text()


def test_dismissed_it_stays_away_until_the_next_start(
    opened: Callable[[Clock | None], MainWindow], kestrel: Kestrel
) -> None:
    window = opened(pc_in("Europe/Berlin", WINTER))
    window.zone_notice.seen.click()
    kestrel.check("P-1002", "41.40", vehicle="EB-12")
    window.changes.poll()
    assert window.zone_notice.isHidden()
    assert opened(pc_in("Europe/Berlin", WINTER)).zone_notice.isVisible()


@pytest.mark.parametrize("clock", [None, pc_in("UTC", WINTER), pc_in("Europe/Lisbon", SUMMER)])
def test_equal_offsets_and_given_times_are_not_told(
    opened: Callable[[Clock | None], MainWindow], clock: Clock | None
) -> None:
    assert opened(clock).zone_notice.isHidden()


def test_the_offset_of_the_moment_counts_and_the_day_is_named_where_it_differs(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        assert zones_apart(view, pc_in("UTC", WINTER)) is None
        summer = zones_apart(view, pc_in("UTC", SUMMER))
        assert summer is not None and "reads 08:00, this PC's 07:00" in say(summer.statement)
        far = zones_apart(view, pc_in("Pacific/Auckland", WINTER + dt.timedelta(hours=5)))
        assert far is not None and "reads 2 Nov 12:00, this PC's 3 Nov 01:00" in say(far.statement)


def test_only_the_system_clock_is_held_against_the_depot(kestrel: Kestrel) -> None:
    path = kestrel.store.path
    for clock, own in ((kestrel.clock, None), (system_clock, system_clock)):
        made = open_app(path, clock=clock)
        assert made.pc_clock is own
        made.store.close()
    assert "this PC" not in "".join(say(one.told) for one in first_steps.first_steps(kestrel.store))
