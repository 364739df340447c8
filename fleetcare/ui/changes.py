"""The one signal: these packs and vehicles changed.  Each screen decides what to re-read."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal

from fleetcare.app import App
from fleetcare.domain.errors import FileRefused
from fleetcare.services.shown import Recorded
from fleetcare.store.values import Touched

POLL_MS = 2000


class Changes(QObject):
    """Announces what this window and other programs on the same file recorded."""

    changed = Signal(frozenset, frozenset)
    """Codes of packs and of vehicles."""

    recorded = Signal(object)
    """The `Recorded` of a deed done in this window."""

    def __init__(self, app: App, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._store = app.store
        with app.store.view() as view:
            self._position = view.position
        self._timer = QTimer(self)
        self._timer.setInterval(POLL_MS)
        self._timer.timeout.connect(self.poll)
        self._timer.start()

    @property
    def position(self) -> int:
        """The newest record position that this window has seen."""
        return self._position

    def tell(self, done: Recorded) -> None:
        """Announce a deed of this window."""
        self.recorded.emit(done)
        self.poll()

    def poll(self) -> None:
        """Look for newer records, by whomever, and announce what they touched."""
        try:
            touched: Touched = self._store.changes_since(self._position)
        except FileRefused:
            return  # no contact: the board's age says so
        if touched.position > self._position:
            self._position = touched.position
            self.changed.emit(touched.packs, touched.vehicles)
