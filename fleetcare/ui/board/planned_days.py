"""What the round plans for the chosen vehicle, and whether its spares are what they seem, asked off the GUI thread once
somebody stays on it."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say
from fleetcare.services.planned import Planned
from fleetcare.services.shown import VehicleSummary
from fleetcare.services.spare_doubts import spare_doubts
from fleetcare.ui.background import Background

STAY_MS = 250
"""Whoever walks over the tiles by keys asks nothing of the vehicles passed."""


class PlannedDays(QObject):
    """Asks for one vehicle at a time, the last that was chosen."""

    found = Signal(str, object)
    """A vehicle's code, and the lines to be said of it."""

    doubted = Signal(str, object)
    """A vehicle's code, and by pack what is doubtful about the spares proposed for it."""

    def __init__(self, app: App, parent: QObject) -> None:
        super().__init__(parent)
        self._app = app
        self._planned = Planned(app.store, app.clock)
        self._background, self._doubting = Background(self), Background(self)
        self._line: VehicleSummary | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(STAY_MS)
        self._timer.timeout.connect(self._ask)

    def ask(self, line: VehicleSummary) -> None:
        """Ask soon what is planned for this vehicle."""
        self._line = line
        self._timer.start()

    def _ask(self) -> None:
        line = self._line
        assert line is not None
        self._background.ask(
            lambda: [say(one) for one in self._planned.of(line)],
            lambda told: self.found.emit(line.vehicle.code, told),
            self._failed,
        )
        if any(one.proposed for one in line.offers):
            store, clock = self._app.store, self._app.clock
            self._doubting.ask(
                lambda: {pack: say(one) for pack, one in spare_doubts(store, clock, line).items()},
                lambda told: self.doubted.emit(line.vehicle.code, told),
                self._failed,
            )

    def _failed(self, error: Exception) -> None:
        """The file could not be read: the board's age tells it."""
        if not isinstance(error, FleetcareError):
            raise error
