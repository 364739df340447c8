"""The board's data for every window that shows it: read off the GUI thread, kept up to date, honest about its age."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from PySide6.QtCore import QObject, QTimer, Signal

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say
from fleetcare.services.board import Board, on_fewer_packs, week_ahead
from fleetcare.services.first_sight import first_sight
from fleetcare.services.shown import FleetSummary, VehicleSummary
from fleetcare.ui.background import Background
from fleetcare.ui.board.columns import shown_columns
from fleetcare.ui.changes import Changes
from fleetcare.ui.widgets.tables import Prepared, prepare, told_row

CONTACT_MS = 30_000
"""How often the file is asked, so that an unchanged board still says when it was last known to be true."""


AFTER_SIGHT_MS = 150
"""So long the whole waits after the first sight, whose picture needs the time."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: the board, its rows ready to show, and which lines differ from the reading before.

    `moved` is True where the order or the set of lines is another; then `numbers` are their places by code.
    """

    fleet: FleetSummary
    rows: Prepared
    changed: tuple[tuple[int, VehicleSummary], ...]
    moved: bool
    week: tuple[tuple[dt.date, tuple[str, ...]], ...] = ()
    fewer: tuple[VehicleSummary, ...] = ()
    numbers: dict[str, int] = field(default_factory=dict)
    drafted: dict[str, str] = field(default_factory=dict)
    """The vehicles of what was left unfinished, by what that is about."""


class BoardFeed(QObject):
    """Reads when something changed, every half minute, and when asked; a failed reading lets the age grow."""

    arrived = Signal(object)
    """A `Reading`."""

    glimpsed = Signal(object)
    """A `Reading` of the vehicles that are not plainly ready, of a large fleet: the first `arrived` follows."""

    failed = Signal(str)
    """Why the file could not be read."""

    def __init__(self, app: App, changes: Changes, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._app = app
        self.columns = shown_columns()
        """The columns of every table of these rows."""
        self._board = Board(app.store, app.clock)
        self._background = Background(self)
        self._shown: Prepared | None = None
        self._lines: tuple[VehicleSummary, ...] = ()
        self.fleet: FleetSummary | None = None
        self.why = ""
        self._wanted = False
        self._first = self._again = False
        """The first reading is under way; and something was asked for meanwhile."""
        changes.changed.connect(lambda _p, _v: self._wanted and self.refresh())
        self._timer = QTimer(self)
        self._timer.setInterval(CONTACT_MS)
        self._timer.timeout.connect(lambda: self._wanted and self.refresh())
        self._timer.start()

    @property
    def board(self) -> Board:
        """The board kept up to date, for other readings in the background."""
        return self._board

    @property
    def rows(self) -> Prepared | None:
        """The rows of the last reading."""
        return self._shown

    @property
    def age(self) -> dt.timedelta:
        """How long ago the board was last known to be true."""
        return dt.timedelta(0) if self.fleet is None else self._app.clock() - self.fleet.as_of

    @property
    def stale(self) -> bool:
        """True when the board is older than the site allows."""
        return self.fleet is not None and self.age > dt.timedelta(minutes=self.fleet.stale_after_minutes)

    def refresh(self) -> None:
        """Read what changed, off the GUI thread; of a large fleet that was not read yet first what is not plainly ready."""
        self._wanted = True
        if self._first:
            self._again = True
        elif self.fleet is None:
            self._first = True
            self._background.ask(self._glimpse, self._glimpsed, self._failed)
        else:
            self._read_whole()

    def _glimpse(self) -> Reading | None:
        self._app.store.refuse_elsewhere()
        fleet = first_sight(self._app.store, self._app.clock)
        if fleet is None:
            return None
        rows = prepare(self.columns, fleet.vehicles)
        return Reading(fleet, rows, (), True, (), on_fewer_packs(fleet), _numbers(fleet), _drafted(fleet))

    def _glimpsed(self, reading: Reading | None) -> None:
        if reading is None:
            self._read_whole()
            return
        self.fleet, self.why = reading.fleet, ""
        self.glimpsed.emit(reading)
        QTimer.singleShot(AFTER_SIGHT_MS, self, self._read_whole)

    def _read_whole(self) -> None:
        self._background.ask(self._read, self._arrived, self._failed)

    def _read(self) -> Reading:
        self._app.store.refuse_elsewhere()
        fleet = self._board.read()
        before, shown = self._lines, self._shown
        if shown is not None and len(before) == len(fleet.vehicles):
            order = all(a.vehicle.code == b.vehicle.code for a, b in zip(before, fleet.vehicles, strict=True))
        else:
            order = False
        if order:
            assert shown is not None
            changed = tuple(
                (n, new) for n, (old, new) in enumerate(zip(before, fleet.vehicles, strict=True)) if old is not new
            )
            return Reading(
                fleet, shown, changed, False, week_ahead(fleet), on_fewer_packs(fleet), drafted=_drafted(fleet)
            )
        known = (
            {} if shown is None else dict(zip(map(id, before), zip(shown.texts, shown.told, strict=True), strict=True))
        )
        both = [known.get(id(line)) or told_row(self.columns, line) for line in fleet.vehicles]
        texts, told = [one for one, _ in both], [one for _, one in both]
        rows = Prepared(list(fleet.vehicles), texts, told)
        return Reading(
            fleet, rows, (), True, week_ahead(fleet), on_fewer_packs(fleet), _numbers(fleet), _drafted(fleet)
        )

    def _arrived(self, reading: Reading) -> None:
        again, self._first, self._again = self._again, False, False
        self.fleet, self.why = reading.fleet, ""
        self._lines = reading.fleet.vehicles
        self._shown = reading.rows
        for number, line in reading.changed:
            reading.rows.rows[number] = line
            reading.rows.texts[number], reading.rows.told[number] = told_row(self.columns, line)
        self.arrived.emit(reading)
        if again:
            self.refresh()

    def _failed(self, error: Exception) -> None:
        self._first = self._again = False
        if not isinstance(error, FleetcareError):
            raise error
        self.why = say(error.message)
        self.failed.emit(self.why)


def _numbers(fleet: FleetSummary) -> dict[str, int]:
    return {line.vehicle.code: number for number, line in enumerate(fleet.vehicles)}


def _drafted(fleet: FleetSummary) -> dict[str, str]:
    """The vehicle of each unfinished check: the one it names, or the one its pack is in."""
    about = {what for _who, what, _at in fleet.drafts}
    if not about:
        return {}
    packs = {pack.code: line.vehicle.code for line in fleet.vehicles for pack in line.packs if pack.code in about}
    return packs | {line.vehicle.code: line.vehicle.code for line in fleet.vehicles if line.vehicle.code in about}
