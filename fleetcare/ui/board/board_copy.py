"""The copy of the board for others: written off the GUI thread each time the board changed, and each minute."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QPushButton, QWidget

from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.background import Background
from fleetcare.ui.board.feed import BoardFeed, Reading
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.dialogs import AskDialog

EVERY = dt.timedelta(seconds=60)


class BoardCopy(QObject):
    """Follows a feed; with no folder it does nothing."""

    told = Signal(str)
    """A sentence for the status bar: where it was written first, or why it was not."""

    def __init__(self, feed: BoardFeed, app: App, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._feed, self._app = feed, app
        self._background = Background(self)
        self.folder = app.settings.board_folder
        self._written_at: dt.datetime | None = None
        self._failed_before = False
        feed.arrived.connect(self._arrived)

    def use(self, folder: str) -> None:
        """Write into this folder from now on ("" stops); remembered on this PC."""
        self.folder = folder
        self._written_at = None
        preferences.save(replace(preferences.load(), board_folder=folder))
        if folder:
            self.write(first=True)
        else:
            self.told.emit(word("board.copy_stopped"))

    def _arrived(self, reading: Reading) -> None:
        due = self._written_at is None or reading.fleet.as_of - self._written_at >= EVERY
        if self.folder and (due or reading.moved or reading.changed):
            self.write()

    def write(self, *, first: bool = False) -> None:
        """Write the page now, from the board as last read."""
        fleet, folder, clock = self._feed.fleet, self.folder, self._app.clock
        if fleet is None or fleet.unread or not folder:
            return
        self._written_at = fleet.as_of

        def work() -> Path:
            from fleetcare.reports import board_page

            return board_page.write(fleet, Path(folder), made_at=clock())

        def done(path: Path) -> None:
            self._failed_before = False
            if first:
                self.told.emit(say(msg("board.copy_written", path=str(path))))

        self._background.ask(work, done, self._failed)

    def _failed(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        if not self._failed_before:
            self.told.emit(say(msg("board.copy_failed", why=error.message)))
        self._failed_before = True


class CopyDialog(AskDialog):
    """The folder, with a button that lets it be chosen."""

    def __init__(self, parent: QWidget, copy: BoardCopy) -> None:
        self.folder = Field(word("board.copy_folder"))
        self.folder.setObjectName("folder")
        self.folder.edit.setText(copy.folder)
        super().__init__(parent, word("board.copy_heading"), (self.folder,), word("board.copy_save"),
                         lambda: copy.use(self.folder.text.strip()))  # fmt: skip
        column = self.layout()
        assert column is not None
        column.insertWidget(1, words(word("board.copy_note")))  # type: ignore[attr-defined]
        choose = QPushButton(word("board.copy_choose"))
        choose.setAutoDefault(False)
        choose.clicked.connect(self._choose)
        column.insertWidget(3, choose)  # type: ignore[attr-defined]
        self.setMinimumWidth(560)

    def _choose(self) -> None:
        chosen = QFileDialog.getExistingDirectory(self, word("board.copy_heading"), self.folder.text)
        if chosen:
            self.folder.edit.setText(chosen)
