"""Imports so far and the rows that are parked: take one back, save its file as it was, say which pack it was."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.records import SheetImport
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import importing, parked
from fleetcare.services.shown import Recorded
from fleetcare.store.imported import StoredImport
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.dialogs import reason_field
from fleetcare.ui.widgets.slow_dialog import SlowDialog, Work
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _taken(one: StoredImport) -> int:
    if isinstance(one.body, SheetImport):
        counts = dict(one.body.counts)
        return sum(counts.get(name, 0) for name in ("checks", "kept", "parked"))
    return one.body.rows_taken


def _back(one: StoredImport) -> bool:
    return one.void_position is not None


IMPORTS = (
    Column(word("oldsheet.import_file"), lambda i: i.body.file_name, width=34, struck=_back, tip=True),
    Column(word("oldsheet.import_when"), lambda i: show_moment(i.entered_at), sort=lambda i: i.position, width=20),
    Column(word("oldsheet.import_who"), lambda i: i.by, width=12),
    Column(word("oldsheet.import_rows"), lambda i: f"{_taken(i):,}", sort=_taken, right=True, width=14),
    Column(
        word("oldsheet.import_state"),
        lambda i: word("oldsheet.state_back" if _back(i) else "oldsheet.state_stands"),
        width=14,
    ),
)
PARKED = (
    Column(word("oldsheet.parked_pack"), lambda p: p[0], width=34),
    Column(word("oldsheet.rows"), lambda p: f"{p[1]:,}", sort=lambda p: p[1], width=9),
)


class ImportsPage(QWidget):
    """Two lists and three deeds."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.imports = RowModel(IMPORTS)
        self.imports_table = Table(self.imports, word("oldsheet.imports"))
        self.parked = RowModel(PARKED)
        self.parked_table = Table(self.parked, word("oldsheet.parked_title"))
        self.back = QPushButton(word("oldsheet.take_back"))
        self.source = QPushButton(word("oldsheet.save_source"))
        self.settle = QPushButton(word("oldsheet.settle"))
        self.said = words(bold=True)
        self.asked: SlowDialog | None = None
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        for heading, table, buttons, stretch in (
            ("oldsheet.imports", self.imports_table, (self.source, self.back), 3),
            ("oldsheet.parked_title", self.parked_table, (self.settle,), 2),
        ):
            outer.addWidget(words(word(heading), size=1.15, bold=True))
            outer.addWidget(table, stretch)
            row = QHBoxLayout()
            row.addStretch(1)
            for button in buttons:
                button.setMinimumHeight(38)
                row.addWidget(button)
            outer.addLayout(row)
        outer.addWidget(self.said)
        self.back.clicked.connect(self._take_back)
        self.source.clicked.connect(self._save_source)
        self.settle.clicked.connect(self._settle)
        for table in (self.imports_table, self.parked_table):
            table.selectionModel().selectionChanged.connect(lambda _a, _b: self._enable())
        self.refresh()

    def refresh(self) -> None:
        """Read both lists again."""
        self.imports.set_rows(parked.imports_so_far(self._app.store))
        self.parked.set_rows(parked.parked_rows(self._app.store))
        self._enable()

    def _enable(self) -> None:
        chosen = self.imports_table.selected_row()
        self.back.setEnabled(chosen is not None and not _back(chosen))
        self.source.setEnabled(chosen is not None and isinstance(chosen.body, SheetImport))
        self.settle.setEnabled(self.parked_table.selected_row() is not None)

    def _take_back(self) -> None:
        chosen: StoredImport = self.imports_table.selected_row()
        reason = reason_field()

        def prepare() -> Work:
            app, author, why = self._app, self._author(), reason.text
            if not why.strip():
                raise EntryRefused("correct.needs_reason", field="reason")
            return lambda told, stopped: importing.take_back(
                app.store, app.clock, author, chosen.record_id, why, told, stopped
            )

        heading = say(msg("oldsheet.take_back_title", file=chosen.body.file_name))
        button = word("oldsheet.take_back").rstrip("…")
        self._ask(SlowDialog(self, heading, (reason,), button, prepare, self._done), reason)

    def _settle(self) -> None:
        written, rows = self.parked_table.selected_row()
        pack, reason = Field(word("oldsheet.settle_pack")), reason_field()
        pack.setObjectName("pack")

        def prepare() -> Work:
            app, author = self._app, self._author()
            code, why = pack.text.strip().upper() or None, reason.text
            return lambda told, stopped: parked.settle(app.store, app.clock, author, written, code, why, told, stopped)

        heading = say(msg("oldsheet.settle_title", rows=rows, written=written))
        likely = parked.written_alike(self._app.store, written)
        if likely:
            heading = f"{heading}\n{say(msg('oldsheet.meant', packs=likely))}"
        button = word("oldsheet.settle").rstrip("…")
        self._ask(SlowDialog(self, heading, (pack, reason), button, prepare, self._done), pack)

    def _done(self, done: Recorded) -> None:
        self._told(say(done.message))
        self._changes.tell(done)

    def _ask(self, dialog: SlowDialog, first: Field) -> None:
        self.asked = dialog
        dialog.finished.connect(lambda _code: self.refresh())
        dialog.open()
        first.edit.setFocus()

    def _author(self):  # type: ignore[no-untyped-def]
        author = self._session.author(self._changes.position)
        if author is None:
            raise FleetcareError("keeping.sign_in_first")
        return author

    def _save_source(self) -> None:
        chosen: StoredImport = self.imports_table.selected_row()
        name, _ = QFileDialog.getSaveFileName(
            self, word("oldsheet.save_source"), str(Path.home() / Path(chosen.body.file_name).name)
        )
        if name:
            self.save_source_as(chosen.record_id, Path(name))

    def save_source_as(self, batch: str, path: Path) -> None:
        """Write the imported file as it was."""
        try:
            parked.save_source(self._app.store, batch, path)
        except FleetcareError as error:
            self._told(say(error.message))
        else:
            self._told(say(msg("screen.written", path=str(path))))

    def _told(self, text: str) -> None:
        self.said.setText(text)
