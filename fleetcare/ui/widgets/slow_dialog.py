"""A question whose deed may take long: done in the background, told of and stopped in the same dialog."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtWidgets import QProgressBar, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import word
from fleetcare.services.table_files import Cancelled, Progress
from fleetcare.ui.background import Background
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog

Work = Callable[[Progress, Callable[[], bool]], Any]


class SlowDialog(AskDialog):
    """`prepare` reads the fields and gives the work; `done` gets what it brought.  Cancel is Stop while it runs."""

    def __init__(
        self,
        parent: QWidget,
        heading: str,
        fields: tuple[Field, ...],
        button: str,
        prepare: Callable[[], Work],
        done: Callable[[Any], None],
    ) -> None:
        super().__init__(parent, heading, fields, button, lambda: None)
        self._prepare, self._done = prepare, done
        self._background = Background(self)
        self._stop: threading.Event | None = None
        self.progress = QProgressBar()
        self.progress.hide()
        self.add(self.progress)

    @property
    def running(self) -> bool:
        """True while the deed is being done."""
        return self._stop is not None

    def attempt(self) -> None:
        """Begin; what refuses at once is said as in every dialog."""
        self.clear_refusals()
        try:
            work = self._prepare()
        except FleetcareError as error:
            self.refused(error)
            return
        stop = self._stop = threading.Event()
        self._busy(True)
        tell = self._background.teller(self._tell)
        self._background.ask(lambda: work(tell, stop.is_set), self._finish, self._failed)

    def reject(self) -> None:
        """Close, or stop what runs; the dialog then stays with all that was typed."""
        if self._stop is None:
            super().reject()
        else:
            self._stop.set()
            self.cancel.setEnabled(False)

    def _busy(self, busy: bool) -> None:
        for part in (*self._fields, self.do):
            part.setEnabled(not busy)
        self.progress.setRange(0, 0)
        self.progress.setVisible(busy)
        self.fit()
        self.cancel.setEnabled(True)
        self.cancel.setText(word("oldsheet.stop" if busy else "bench.cancel"))
        (self.cancel if busy else self.do).setFocus()

    def _tell(self, done: int, of: int) -> None:
        if of:
            self.progress.setRange(0, of)
            self.progress.setValue(done)

    def _finish(self, brought: Any) -> None:
        self._stop = None
        self._done(brought)
        self.accept()

    def _failed(self, error: Exception) -> None:
        self._stop = None
        self._busy(False)
        if isinstance(error, Cancelled):
            self.say_wrong(word("oldsheet.stopped"))
        elif isinstance(error, FleetcareError):
            self.refused(error)
        else:
            raise error
