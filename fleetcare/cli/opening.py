"""Which fleet a command means, and who is acting."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from fleetcare import app
from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services import places
from fleetcare.services.clock import DoubtKind, TrustedClock
from fleetcare.services.session import Author


def opened(fleet: Path | None) -> App:
    """The fleet that `--fleet` names: a file, `demo`, or the user's own when left out.  A network drive is warned of."""
    if fleet is not None and str(fleet) == "demo":
        return app.open_demo(say_progress)
    found = app.open_app(fleet or app.default_fleet_path())
    kind = places.network_kind(found.store.path)
    if kind is not None:
        say_progress(say(msg("backup.network", path=str(found.store.path), kind=kind)))
    return found


def author(opened_app: App, code: str, source: str = "typed") -> Author:
    """The person with `code`, acting at this PC; EntryRefused when there is none.

    A clock behind the last record is refused too: nothing is written with it.
    """
    refuse_clock_behind(opened_app)
    with opened_app.store.view() as view:
        person = view.people().get(code.strip().upper())
    if person is None:
        raise EntryRefused("entry.unknown_person", field="person", code=code)
    return Author(person, opened_app.station, source)


def refuse_clock_behind(opened_app: App) -> None:
    """EntryRefused where the clock is behind the last record: no record and no paper is dated by it."""
    doubt = TrustedClock(opened_app.store, opened_app.clock).doubt()
    if doubt is not None and doubt.kind is DoubtKind.BEHIND:
        raise EntryRefused(doubt.statement.key, field="clock", **dict(doubt.statement.values))


def say_progress(line: str) -> None:
    """A progress line; on stderr, so that tables stay clean."""
    print(line, file=sys.stderr, flush=True)


def seldom(line_of: Callable[[int, int], Message]) -> Callable[[int, int], None]:
    """Tells progress (rows done, rows in all) once a second at most, and when all are done."""
    last = 0.0

    def told(done: int, of: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= 1 or 0 < of <= done:
            last = now
            say_progress(say(line_of(done, of)))

    return told
