"""Proof: the fingerprint now, lodging it outside, the lodgings so far, and comparing paper with the record."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import proving
from fleetcare.services.proving import Answer, LodgingLine, Lodgings
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.paper_dialog import PaperDialog
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

COLUMNS = (
    Column(word("list.done"), lambda one: show_moment(one.done_at), width=18),
    Column(word("proof.column_fingerprint"), lambda one: one.head.short, width=30),
    Column(word("proof.recipient"), lambda one: one.recipient, width=20),
    Column(word("proof.means"), lambda one: word(f"proof.means_{one.means}"), width=12),
    Column(word("list.who"), lambda one: one.person_name, width=12),
)


class ProofPanel(QWidget):
    """Two cards above, the lodgings below."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._reading, self._checking = Background(self), Background(self)
        self._known: Lodgings | None = None
        self.paper: PaperDialog | None = None
        self.head = words(size=1.3, bold=True)
        self.state = words()
        self.recipient = Field(word("proof.recipient"))
        self.means = QComboBox()
        self.means.setAccessibleName(word("proof.means"))
        for means in proving.MEANS:
            self.means.addItem(word(f"proof.means_{means}"), means)
        self.mail = QPushButton(word("proof.copy_mail"))
        self.slip = QPushButton(word("proof.make_slip"))
        self.stamp = QPushButton(word("proof.make_time_stamp"))
        self.lodge = QPushButton(word("proof.record_lodging"))
        self.said = words()
        self.typed = Field(word("proof.typed"))
        self.compare = QPushButton(word("proof.do_compare"))
        self.answer = words(size=1.1, bold=True)
        self.lodgings = RowModel(COLUMNS)
        self.table = Table(self.lodgings, word("proof.lodgings"), stretch=2)
        self.gaps = words(quiet=True)
        self._lay_out()
        self.mail.clicked.connect(self._copy_mail)
        self.slip.clicked.connect(self._make_slip)
        self.stamp.clicked.connect(self._make_stamp)
        self.lodge.clicked.connect(self._lodge)
        self.recipient.edit.returnPressed.connect(self._lodge)
        self.compare.clicked.connect(self._compare)
        self.typed.edit.returnPressed.connect(self._compare)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def _lay_out(self) -> None:
        now, paper = Card(word("proof.now")), Card(word("proof.compare"))
        now.column.addWidget(self.head)
        now.column.addWidget(self.state)
        large = self._app.settings.text_percent > 125
        ways = QVBoxLayout() if large else QHBoxLayout()
        for button in (self.mail, self.slip, self.stamp):
            ways.addWidget(button)
        ways.addStretch(1)
        now.column.addLayout(ways)
        row = QHBoxLayout()
        row.addWidget(self.recipient, 3)
        by = QVBoxLayout()
        by.setSpacing(3)
        name = QLabel(word("proof.means"))
        name.setBuddy(self.means)
        by.addWidget(name)
        by.addWidget(self.means)
        by.addStretch(1)
        row.addLayout(by, 2)
        now.column.addLayout(row)
        now.column.addWidget(self.lodge)
        now.column.addWidget(self.said)
        now.column.addStretch(1)
        paper.column.addWidget(self.typed)
        paper.column.addWidget(self.compare)
        paper.column.addWidget(self.answer)
        paper.column.addStretch(1)
        for button in (self.lodge, self.compare):
            button.setMinimumHeight(40)
        cards = QHBoxLayout()
        cards.addWidget(now, 1)
        cards.addWidget(paper, 1)
        inner = QWidget()
        outer = QVBoxLayout(inner)
        outer.addLayout(cards)
        outer.addWidget(words(word("proof.lodgings"), bold=True))
        outer.addWidget(self.table, 1)
        outer.addWidget(self.gaps)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 4)
        area = QScrollArea()
        area.setWidget(inner)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(area)

    def refresh(self) -> None:
        """Read head and lodgings again, off the GUI thread."""
        app = self._app
        self._reading.ask(lambda: proving.lodgings(app.store, app.clock), self._show)

    def _show(self, known: Lodgings) -> None:
        self._known = known
        self.head.setText(say(msg("proof.head", fingerprint=known.head.short)))
        self.state.setText(say(known.statement))
        newest_first: list[LodgingLine] = list(reversed(known.lines))
        self.lodgings.set_rows(newest_first)
        self.gaps.setText("\n".join(say(gap) for gap in reversed(known.gaps[-3:])))

    def _copy_mail(self) -> None:
        if self._known is not None:
            subject, body = proving.mail_text(self._app.store, self._known.head, self._known.as_of)
            QGuiApplication.clipboard().setText(f"{subject}\n\n{body}")
            self._choose("mail", word("proof.mail_copied"))

    def _make_slip(self) -> None:
        """Show the slip, to be printed or saved."""
        known, person = self._known, self._session.person
        if known is None:
            return
        app = self._app
        printed: dict[str, Any] = {
            "page": app.settings.page,
            "printed_by": person.name if person else "",
            "printed_at": app.clock(),
        }

        def write(path: Path) -> None:
            from fleetcare.reports import slip

            slip.write(
                app.store.fleet_name,
                app.store.fleet_id,
                known.head,
                path,
                as_of=known.as_of,
                demo=app.store.demo,
                **printed,
            )

        title = word("proof.slip_title")
        self.paper = PaperDialog(self, title, "fingerprint.pdf", write, lambda: self._choose("slip", title))
        self.paper.finished.connect(self._slip_closed)
        self.paper.open()

    def _slip_closed(self) -> None:
        self.paper = None
        self.window().activateWindow()

    def let_go(self) -> None:
        """Close the slip that is shown."""
        if self.paper is not None:
            self.paper.close()

    def _make_stamp(self) -> None:
        path = self._ask("fingerprint.txt", "Text (*.txt)")
        known = self._known
        if path is not None and known is not None:
            made = self._try(lambda: proving.write_time_stamp(self._app.store, known, path))
            if made is not None:
                self._choose("time_stamp", say(msg("proof.time_stamp_made", path=str(made[1]))))

    def _try(self, work: object) -> tuple[Path, Path] | None:
        try:
            return work()  # type: ignore[operator, no-any-return]
        except FleetcareError as error:
            self.said.setText(say(error.message))
            return None

    def _choose(self, means: str, text: str) -> None:
        self.means.setCurrentIndex(proving.MEANS.index(means))
        self.said.setText(text)

    def _ask(self, name: str, kinds: str) -> Path | None:
        chosen, _ = QFileDialog.getSaveFileName(self, word("proof.screen"), str(Path.home() / name), kinds)
        return Path(chosen) if chosen else None

    def _lodge(self) -> None:
        """Record that the fingerprint shown was given away; refusals stand beside the field."""
        self.recipient.clear_refusal()
        author = self._session.author(self._changes.position)
        if author is None:
            self.said.setText(word("proof.who_first"))
            return
        if self._known is None:
            return
        try:
            done = proving.lodge(
                self._app.store, self._app.clock, author, self._known.head, str(self.means.currentData()),
                self.recipient.text,
            )  # fmt: skip
        except FleetcareError as error:
            if error.field == "recipient":
                self.recipient.refuse(error)
                self.recipient.edit.setFocus()
            else:
                self.said.setText(say(error.message))
            return
        self.said.setText(say(done.message))
        self._changes.tell(done)
        self.refresh()

    def _compare(self) -> None:
        self.typed.clear_refusal()
        typed = self.typed.text
        self.compare.setEnabled(False)
        self.answer.setText(word("proof.checking"))
        store = self._app.store
        self._checking.ask(lambda: proving.compare_printed(store, typed), self._answered, self._not_compared)

    def _answered(self, answer: Answer) -> None:
        self.compare.setEnabled(True)
        self.answer.setText(say(answer.statement))

    def _not_compared(self, error: Exception) -> None:
        self.compare.setEnabled(True)
        self.answer.clear()
        if not isinstance(error, FleetcareError):
            raise error
        self.typed.refuse(error)
        self.typed.edit.setFocus()
