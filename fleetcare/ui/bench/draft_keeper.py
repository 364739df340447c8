"""Keeps what is typed on the disk while it is typed, off the GUI thread, and never after it was saved."""

from __future__ import annotations

import datetime as dt
import threading
from dataclasses import dataclass

from PySide6.QtCore import QObject, QTimer, Signal

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.services import drafts
from fleetcare.services.drafts import Typed
from fleetcare.ui.background import Background

KEEP_MS = 250
"""Typing is on the disk at the latest this long after a key."""

AGAIN_MS = 1000
"""So long after a refusal it is tried again."""


@dataclass(frozen=True, slots=True)
class _Pending:
    draft_id: str
    person: str
    at: dt.datetime
    typed: Typed


class DraftKeeper(QObject):
    """One draft at a time.  `draft_id` is "" while nothing is typed."""

    due = Signal()
    """Time to keep: the bench answers with `keep`."""

    failed = Signal(object)
    """A `FleetcareError`: the disk refuses."""

    kept_again = Signal()
    """The disk takes it, after it had refused."""

    def __init__(self, app: App, parent: QObject) -> None:
        super().__init__(parent)
        self._app = app
        self.draft_id = ""
        self._background = Background(self)
        self._pending: _Pending | None = None
        self._refused = False
        self._taken_last = False
        """Whether the disk took the newest state that was written, by whichever job."""
        self._taking = threading.Lock()
        self._writing = threading.Lock()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(KEEP_MS)
        self._timer.timeout.connect(self.due.emit)

    def touched(self) -> None:
        """Something was typed."""
        if not self._timer.isActive():
            self._timer.start()

    def again(self) -> None:
        """It was refused: try once more in a while."""
        QTimer.singleShot(AGAIN_MS, self, self.touched)

    def keep(self, person: str, at: dt.datetime, typed: Typed) -> None:
        """Put this state on the disk soon; a newer one takes its place."""
        self._timer.stop()
        self.draft_id = self.draft_id or drafts.fresh_id()
        with self._taking:
            self._pending = _Pending(self.draft_id, person, at, typed)
        self._background.ask(self._write, self._wrote, self._broke)

    def settle(self) -> None:
        """Wait for a write under way and drop what is not written yet, so that none comes after a save."""
        self._timer.stop()
        with self._taking:
            self._pending = None
        with self._writing, self._taking:
            self._pending = None  # a write that was refused meanwhile has put its state back

    def flush(self) -> None:
        """Write what is pending now; FileRefused where the disk does not take it, whoever tried."""
        self._write()

    def saved(self) -> None:
        """The draft became a record and went with it."""
        self.draft_id = ""

    def forget(self) -> None:
        """What was typed was thrown away on purpose."""
        self.settle()
        draft_id, self.draft_id = self.draft_id, ""
        if not draft_id:
            return
        try:
            drafts.forget(self._app.store, draft_id)
        except FleetcareError as error:
            self.failed.emit(error)

    def _write(self) -> bool:
        with self._writing:
            with self._taking:
                pending, self._pending = self._pending, None
            if pending is None:
                return False
            self._taken_last = False
            try:
                drafts.keep(
                    self._app.store, pending.person, self._app.station, pending.draft_id, pending.at, pending.typed
                )
            except Exception:
                with self._taking:
                    self._pending = (
                        self._pending or pending
                    )  # it is not on the disk: whoever comes next must not think so
                raise
            self._taken_last = True
            return True

    def _wrote(self, _something: bool) -> None:
        if (
            self._taken_last and self._refused
        ):  # an older job, of which nobody is told, may have written this one's state
            self._refused = False
            self.kept_again.emit()

    def _broke(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        self._refused = True
        self.failed.emit(error)
