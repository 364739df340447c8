"""Backups of the open fleet: made now or by themselves, a second place, restore, export."""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QProcess, QTimer
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import backup, exporting, places
from fleetcare.services.backup import Backed
from fleetcare.ui.background import Background
from fleetcare.ui.keeping.restore_panel import RestorePanel
from fleetcare.ui.widgets.cards import SteadyColumn, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

Row = tuple[dt.datetime, Path]
BACKUPS = (
    Column(word("backup.made_at"), lambda r: show_moment(r[0]), sort=lambda r: r[0], width=20),
    Column(word("backup.name"), lambda r: r[1].name, width=40, tip=True),
    Column(word("backup.size"), lambda r: f"{r[1].stat().st_size / 1e6:.1f} MB", right=True, width=12),
)
FIRST_LOOK_MS, LOOK_MS = 60_000, 30 * 60_000


class BackupsPage(QWidget):
    """The list on the left, restoring on the right."""

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self._background = Background(self)
        self._second = preferences.load().second_place
        self.backups = RowModel(BACKUPS)
        self.table = Table(self.backups, word("backup.title"))
        self.now = QPushButton(word("backup.now"))
        self.second = QPushButton(word("backup.choose_second"))
        self.export = QPushButton(word("backup.export"))
        self.where = words(quiet=True)
        self.said = words(bold=True)
        self.warning = words()
        self.warning.setProperty("role", "wrong")
        target = app.store.path.with_name(f"{app.store.path.stem}-restored.fleet")
        self.restore = RestorePanel(target)
        self.open_it = QPushButton(word("backup.open_beside"))
        self.open_it.setMinimumHeight(38)
        self.open_it.setEnabled(False)
        self.restored_to: Path | None = None
        left = QVBoxLayout()
        left.addWidget(self.table, 1)
        left.addWidget(self.where)
        row = QVBoxLayout() if app.settings.text_percent > 125 else QHBoxLayout()
        for button in (self.now, self.second, self.export):
            button.setMinimumHeight(38)
            row.addWidget(button)
        left.addLayout(row)
        left.addWidget(self.said)
        right = QVBoxLayout()
        right.addWidget(self.restore)
        self.restore.buttons.addWidget(self.open_it)
        right.addStretch(1)
        large = app.settings.text_percent > 125
        rows = self.table.verticalHeader().defaultSectionSize()
        self.table.setMinimumHeight(rows * 5)
        body = QVBoxLayout() if large else QHBoxLayout()
        if large:  # one below the other: the list keeps its height, so that no answer below moves what it answers
            self.table.setFixedHeight(rows * 7)
        body.addLayout(left, 0 if large else 1)
        body.addLayout(right, 1)
        inside = QWidget()
        outer = SteadyColumn(inside)
        outer.setContentsMargins(12, 10, 12, 8)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(inside)
        frame = QVBoxLayout(self)
        frame.setContentsMargins(0, 0, 0, 0)
        frame.addWidget(scroll)
        outer.addWidget(words(word("backup.intro"), quiet=True))
        if app.store.demo:
            outer.addWidget(words(word("backup.demo"), bold=True))
        outer.addWidget(self.warning)
        outer.addLayout(body, 1)
        self.now.clicked.connect(self.back_up)
        self.second.clicked.connect(self._choose_second)
        self.export.clicked.connect(self._ask_export)
        self.table.clicked.connect(lambda index: self.restore.take(self.table.row_of(index)[1]))
        self.table.opened.connect(lambda row: self.restore.take(row[1]))
        self.restore.restored.connect(self._restored)
        self.open_it.clicked.connect(self._open_beside)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.back_up_if_due)
        self._timer.start(LOOK_MS)
        QTimer.singleShot(FIRST_LOOK_MS, self, self.back_up_if_due)
        kind = places.network_kind(app.store.path)
        self.warning.setVisible(kind is not None)
        if kind is not None:
            self.warning.setText(say(msg("backup.network", path=str(app.store.path), kind=kind)))
        self.refresh()

    def refresh(self) -> None:
        """Read the folder again."""
        folder = backup.folder_of(self._app.store)
        found = backup.backups_in(folder, self._app.store.path.stem)
        self.backups.set_rows(sorted(found.items(), reverse=True))
        second = self._second or word("backup.second_none")
        self.where.setText(f"{say(msg('backup.folder', path=str(folder)))}\n{word('backup.second')}: {second}")

    def _restored(self, target: Path) -> None:
        self.restored_to = target
        self.open_it.setEnabled(True)

    def _open_beside(self) -> None:
        """Open the restored file in a window of its own; this one stays as it is."""
        if self.restored_to is None:
            return
        program, *start = started_by()
        if not QProcess.startDetached(program, [*start, "window", str(self.restored_to)])[0]:
            self.said.setText(say(msg("backup.open_failed", path=str(self.restored_to))))

    def back_up_if_due(self) -> None:
        """What the clock calls: a backup on each day something was recorded, once the PC's clock is believed."""
        try:
            due = not self._app.store.demo and backup.is_due(self._app.store, self._app.clock)
        except EntryRefused:  # the clock is being asked about
            QTimer.singleShot(FIRST_LOOK_MS, self, self.back_up_if_due)
            return
        if due:
            self.back_up()

    def back_up(self) -> None:
        """Make a backup in the background."""
        app, second = self._app, Path(self._second) if self._second else None
        self.now.setEnabled(False)
        self.said.setText(word("backup.working"))
        self._background.ask(lambda: backup.back_up(app.store, app.clock, None, second), self._made, self._failed)

    def _made(self, done: Backed) -> None:
        self.now.setEnabled(True)
        assert done.examined.head is not None
        lines = [msg("backup.made", records=done.examined.records, fingerprint=done.examined.head.short)]
        if done.second is not None:
            lines.append(msg("backup.made_second", path=str(done.second)))
        if done.trouble is not None:
            lines.append(msg("backup.trouble", why=done.trouble))
        self.said.setText("\n".join(say(line) for line in lines))
        self.refresh()

    def _failed(self, error: Exception) -> None:
        self.now.setEnabled(True)
        if not isinstance(error, FleetcareError):
            self.said.clear()
            raise error
        self.said.setText(say(error.message))

    def _choose_second(self) -> None:
        chosen = QFileDialog.getExistingDirectory(self, word("backup.choose_second"), self._second)
        if chosen:
            self.set_second(Path(chosen))

    def set_second(self, folder: Path) -> None:
        """Remember the second place."""
        self._second = str(folder)
        preferences.save(replace(preferences.load(), second_place=self._second))
        self.refresh()

    def _ask_export(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self, word("backup.export"), str(Path.home() / f"{self._app.store.path.stem}.zip"), "ZIP (*.zip)"
        )
        if name:
            self.export_to(Path(name))

    def export_to(self, path: Path) -> None:
        """Export everything in the background."""
        store = self._app.store
        self.said.setText(word("backup.working"))
        self._background.ask(
            lambda: exporting.export_all(store, path),
            lambda head: self.said.setText(say(msg("backup.exported", records=head.size, path=str(path)))),
            self._failed,
        )


def started_by() -> list[str]:
    """The command that starts this program: the packaged one by itself, else this Python with the package."""
    return [sys.executable] if getattr(sys, "frozen", False) else [sys.executable, "-m", "fleetcare"]
