"""The only builder: preferences and a fleet file become an `App`, which is passed to whoever needs it."""

from __future__ import annotations

import datetime as dt
import os
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fleetcare import settings as preferences
from fleetcare.services.clock import DepotClock
from fleetcare.services.session import Clock
from fleetcare.settings import Settings
from fleetcare.store.store import Store

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class App:
    """One open fleet on one PC."""

    store: Store
    clock: Clock
    station: str
    settings: Settings
    pc_clock: Clock | None = None
    """The PC's own clock with the PC's offset from UTC; None where the time is given, as in a test or a picture."""


def system_clock() -> dt.datetime:
    """Now, in this PC's zone with its offset, to the second."""
    return dt.datetime.now().astimezone().replace(microsecond=0)


def system_zone(local_time: Path = Path("/etc/localtime"), told: str = "") -> str:
    """The IANA name of this PC's time zone, or "" where the system does not tell one.

    `told` is what the window knows of it: Windows has neither the variable nor the link.
    """
    named = os.environ.get("TZ", "").lstrip(":")
    linked = str(local_time.resolve()).partition("zoneinfo/")[2] if local_time.is_symlink() else ""
    for name in (named, linked, told):
        with suppress(ValueError, OSError, ZoneInfoNotFoundError):
            if name and ZoneInfo(name).key:
                return name
    return ""


def open_app(path: Path, *, clock: Clock = system_clock, station: str | None = None) -> App:
    """Open the fleet file at `path`, its clock in the depot's zone; FileRefused when it cannot be opened."""
    settings = preferences.load()
    store = Store.open(path)
    own = clock if clock is system_clock else None
    return App(store, DepotClock(store, clock), station or settings.station or socket.gethostname(), settings, own)


def as_preferred(app: App) -> App:
    """The same open fleet under the preferences as they are kept now; this PC's name on new records included."""
    settings = preferences.load()
    return replace(app, settings=settings, station=settings.station or socket.gethostname())


def default_fleet_path() -> Path:
    """Where this user's own fleet is kept unless another file is named."""
    last = preferences.load().last_fleet
    return Path(last) if last else preferences.data_folder() / "fleet.fleet"


def demo_path() -> Path:
    """The demonstration fleet's file, apart from every fleet of the user's own."""
    return preferences.data_folder() / "demo" / "demo.fleet"


def open_demo(progress: Progress, *, clock: Clock = system_clock, path: Path | None = None) -> App:
    """The demonstration fleet as of today; it is made anew on each new day."""
    from fleetcare.services import demo

    path = path or demo_path()
    demo.make_for_today(path, clock, progress)
    return open_app(path, clock=clock)


def found_fleet(
    path: Path, fleet_name: str, person_name: str, *, clock: Clock = system_clock, told_zone: str = ""
) -> str:
    """Found an empty fleet with its first person and default settings; returns the person's code."""
    from fleetcare.services.founding import found

    return found(path, fleet_name, person_name, clock, system_zone(told=told_zone))


def print_reentry(app: App | None, fleet: Path, missing: int, path: Path, printed_by: str = "") -> None:
    """Write the re-entry list of a restored fleet file as PDF; `app` gives the paper size and the clock."""
    from fleetcare.reports import every_sheet

    clock = system_clock if app is None else app.clock
    page = (preferences.load() if app is None else app.settings).page
    store = Store.open(fleet)
    try:
        every_sheet.reentry(store, clock, path, page=page, printed_by=printed_by, printed_at=clock(), missing=missing)
    finally:
        store.close()
