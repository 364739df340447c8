"""The maintenance history: which item and period, made in the background, shown, printed, saved, exported."""

from __future__ import annotations

import datetime as dt
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QFileDialog, QProgressBar, QPushButton, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FileRefused, FleetcareError
from fleetcare.domain.labels import normalise
from fleetcare.domain.moments import parse_date
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import history
from fleetcare.services.history_lines import Asked
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.form_side import form_beside, save_copy
from fleetcare.ui.papers.preview import Preview
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words


@dataclass(frozen=True, slots=True)
class Made:
    """A history that was made: where it lies, what it is of, and at which record."""

    path: Path
    asked: Asked
    message: Message
    position: int


class HistoryPanel(QWidget):
    """Fields on the left, the paper on the right."""

    def showEvent(self, event: QShowEvent) -> None:
        """Qt's hook: the year up to today, once the clock is believed."""
        super().showEvent(event)
        if not self.from_date.text.strip() and not self.to_date.text.strip():
            today = self._app.clock().date()
            self.from_date.edit.setText((today - dt.timedelta(days=365)).isoformat())
            self.to_date.edit.setText(today.isoformat())

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session = app, session
        self._background = Background(self)
        self._folder = tempfile.TemporaryDirectory(prefix="fleetcare-papers-")
        self._stop = threading.Event()
        self.made: Made | None = None
        self.code = Field(word("papers.code"))
        self.from_date = Field(word("papers.from_date"))
        self.to_date = Field(word("papers.to_date"))
        self.initials = Field(word("papers.initials"))
        self.code.edit.setPlaceholderText(word("papers.code_hint"))
        self.initials.edit.setPlaceholderText(word("papers.initials_hint"))
        self.told = words()
        self.progress = QProgressBar()
        self.progress.setRange(0, 0)
        self.progress.hide()
        self.preview = Preview()
        self.buttons = {
            key: QPushButton(word(f"papers.{key}")) for key in ("preview", "print", "save", "export", "cancel")
        }
        self._lay_out()
        self.buttons["preview"].clicked.connect(self.make)
        self.buttons["print"].clicked.connect(self.print_out)
        self.buttons["save"].clicked.connect(self.save)
        self.buttons["export"].clicked.connect(self.export)
        self.buttons["cancel"].clicked.connect(self.stop)
        for field in (self.code, self.from_date, self.to_date, self.initials):
            field.edit.returnPressed.connect(self.make)
        changes.changed.connect(lambda _p, _v: self._note_changes(changes.position))
        self._busy(False)

    def _lay_out(self) -> None:
        card = Card(word("papers.history"))
        for field in (self.code, self.from_date, self.to_date, self.initials):
            card.column.addWidget(field)
        for key, button in self.buttons.items():
            button.setMinimumHeight(40)
            if key != "cancel":
                card.column.addWidget(button)
        card.column.addWidget(self.progress)
        card.column.addWidget(self.buttons["cancel"])
        card.column.addWidget(self.told)
        card.column.addStretch(1)
        form_beside(self, card, self.preview)

    def take_scan(self, text: str) -> bool:
        """A scanned vehicle or pack is what the history is made of; False for any other code."""
        try:
            _, code = history.subject_of(self._app.store, normalise(text))
        except FleetcareError:
            return False
        self.code.edit.setText(code)
        self.make()
        return True

    def _asked(self) -> Asked:
        for field in (self.code, self.from_date, self.to_date, self.initials):
            field.clear_refusal()
        typed = self.code.text.strip()
        subject = history.subject_of(self._app.store, typed) if typed else ("fleet", "")
        codes = [one for one in self.initials.text.upper().replace(",", " ").split() if one]
        with self._app.store.view() as view:
            for code in codes:
                if view.thing("person", code) is None:
                    raise EntryRefused("entry.unknown_person", field="initials", code=code)
        from_date = parse_date(self.from_date.text, field="from_date")
        return Asked(*subject, from_date, parse_date(self.to_date.text, field="to_date"), frozenset(codes))

    def make(self) -> None:
        """Make the paper in the background and show it; a mistake is said beside its field."""
        path = Path(self._folder.name) / "history.pdf"
        self.preview.clear(word("papers.making"))
        self.made = None
        self.told.clear()
        self._busy(False)
        self._write(path, self._show, archive=False)

    def _write(self, path: Path, answer: Callable[[Made], None], *, archive: bool) -> None:
        try:
            asked = self._asked()
            if asked.to_date < asked.from_date:
                raise EntryRefused(
                    "history.period_backwards", field="to_date", from_date=asked.from_date, to_date=asked.to_date
                )
        except FleetcareError as error:
            self._refuse(error)
            return
        self._stop.clear()
        self._busy(True)
        person = self._session.person
        printed = {
            "page": self._app.settings.page,
            "printed_by": person.name if person else "",
            "printed_at": self._app.clock(),
        }
        tell = self._background.teller(self._tell)
        self._background.ask(lambda: self._work(asked, path, printed, archive, tell), answer, self._failed)

    def _tell(self, pages: int) -> None:
        self.told.setText(say(msg("papers.working", pages=pages)))

    def _work(
        self, asked: Asked, path: Path, printed: dict[str, Any], archive: bool, tell: Callable[[int], None]
    ) -> Made:
        from fleetcare.reports import archive as archives
        from fleetcare.reports import history_sheet

        def page_done(pages: int) -> None:
            self._go_on(pages)
            tell(pages)

        write = archives.write if archive else history_sheet.write
        with history.reading(self._app.store, self._app.clock, asked) as reading:
            whole = reading.whole(self._go_on)
            pages = write(reading, whole, path, progress=page_done, **printed)
        said = msg("papers.made", title=asked.title, pages=pages, lines=whole.lines, at=whole.as_of)
        return Made(path, asked, said, whole.head.size)

    def _go_on(self, pages: int = 0) -> None:
        if self._stop.is_set():
            raise FileRefused("history.cancelled", pages=pages)

    def _show(self, made: Made) -> None:
        self.made = made
        self._busy(False)
        self.told.setText(say(made.message))
        self.preview.show_paper(made.path)

    def _exported(self, made: Made) -> None:
        self._busy(False)
        self.told.setText(say(msg("screen.written", path=str(made.path))))

    def _failed(self, error: Exception) -> None:
        self._busy(False)
        if not isinstance(error, FleetcareError):
            raise error
        self._refuse(error)

    def _refuse(self, error: FleetcareError) -> None:
        if self.made is None:
            self.preview.clear(word("papers.nothing"))
        field = {
            "code": self.code,
            "to_date": self.to_date,
            "from_date": self.from_date,
            "initials": self.initials,
        }.get(error.field)
        if field is None:
            self.told.setText(say(error.message))
        else:
            field.refuse(error)
            field.edit.setFocus()

    def _busy(self, on: bool) -> None:
        self.progress.setVisible(on)
        self.buttons["cancel"].setVisible(on)
        for key in ("preview", "export"):
            self.buttons[key].setEnabled(not on)
        for key in ("print", "save"):
            self.buttons[key].setEnabled(not on and self.made is not None)
        if on:
            self.told.clear()

    def _note_changes(self, position: int) -> None:
        if self.made is not None and position > self.made.position:
            self.told.setText(f"{say(self.made.message)}\n{word('papers.changed_since')}")

    def save(self) -> None:
        """Save what is shown; the file is the paper that was looked at, byte for byte."""
        if self.made is None:
            return
        try:
            said = save_copy(self, word("papers.history"), self._named("maintenance-history.pdf"), self.made.path)
        except FleetcareError as error:
            self.told.setText(say(error.message))
        else:
            if said is not None:
                self.told.setText(said)

    def export(self) -> None:
        """Write the archive for an adjuster."""
        start = str(Path.home() / self._named("maintenance-history.zip"))
        chosen, _ = QFileDialog.getSaveFileName(self, word("papers.history"), start, "ZIP (*.zip)")
        if chosen:
            self._write(Path(chosen), self._exported, archive=True)

    def print_out(self) -> None:
        """Print what is shown, through the system's dialog."""
        from fleetcare.ui.papers import printing

        if self.preview.pages is None:
            return
        try:
            said = printing.ask_and_print(self, self.preview.pages, word("papers.history"))
        except FleetcareError as error:
            self.told.setText(say(error.message))
        else:
            if said is not None:
                self.told.setText(said)

    def _named(self, name: str) -> str:
        typed = self.code.text.strip().upper()
        return f"{typed}-{name}" if typed else name

    def stop(self) -> None:
        """Stop what is being made, after its page."""
        self._stop.set()

    def let_go(self) -> None:
        """Close the paper and remove the folder it lies in."""
        self._background.leave()
        self.preview.clear("")
        self._folder.cleanup()
