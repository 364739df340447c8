"""Meters: calibration due, a proof against a reference, a meter found out, and what to check again."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QApplication, QFrame, QHBoxLayout, QMessageBox, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import meters
from fleetcare.services.meters import MeterRow, ProofPreview, RecheckLine
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.meters.columns import METERS, RECHECK
from fleetcare.ui.meters.proof_card import ProofCard
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.dialogs import AskDialog
from fleetcare.ui.widgets.tables import RowModel, Table

PREVIEW_MS = 200


class MetersScreen(QWidget):
    """The list of meters, the proof of the chosen one, and the list of packs to check again."""

    open_pack = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._reading, self._rechecking = Background(self), Background(self)
        self._asking = Background(self)
        self._sure = False
        self.model, self.recheck = RowModel(METERS), RowModel(RECHECK)
        self.table = Table(self.model, word("meters.heading"))
        self.recheck_table = Table(self.recheck, word("meters.recheck"))
        self.proof = ProofCard(app)
        self.done = words(bold=True)
        self.done.hide()
        self.count = words(quiet=True)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(PREVIEW_MS)
        self._timer.timeout.connect(self.preview)
        self._lay_out()
        self.table.selectionModel().currentChanged.connect(lambda _new, _old: self._chosen())
        self.table.opened.connect(lambda _row: self.proof.reference.edit.setFocus())
        self.recheck_table.opened.connect(lambda line: self.open_pack.emit(line.pack))
        self.proof.edited.connect(self._edited)
        self.proof.asked_save.connect(self.save)
        self.proof.asked_broken.connect(self._broken)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def _lay_out(self) -> None:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(12, 10, 12, 8)
        column.addWidget(words(word("meters.heading"), size=1.4, bold=True))
        column.addWidget(self.table, 2)
        column.addWidget(self.proof)
        column.addWidget(self.done)
        head = QHBoxLayout()
        head.setSpacing(14)
        head.addWidget(words(word("meters.recheck"), size=1.15, bold=True), 3)
        head.addWidget(self.count, 4)
        column.addLayout(head)
        column.addWidget(self.recheck_table, 3)
        line = self.table.verticalHeader().defaultSectionSize()
        self.table.setMinimumHeight(line * (6 if large_text() else 4))  # whose rows then have two lines
        self.recheck_table.setMinimumHeight(line * 5)
        self.scroll = QScrollArea()
        self.scroll.setWidget(holder)
        self.scroll.setWidgetResizable(True)
        self.scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.scroll)
        QApplication.instance().focusChanged.connect(self._follow)  # type: ignore[union-attr]

    def _follow(self, _old: QWidget | None, new: QWidget | None) -> None:
        """Keep what has the focus in view."""
        if new is not None and self.isAncestorOf(new):
            self.scroll.ensureWidgetVisible(new, 0, 40)

    # the lists

    def refresh(self) -> None:
        """Read both lists again, off the GUI thread; the meters do not wait for the packs to check again."""
        store, clock = self._app.store, self._app.clock
        self._reading.ask(lambda: meters.meter_rows(store, clock), self._show)
        self._rechecking.ask(lambda: meters.recheck_list(store, clock), self._show_recheck)

    def _show(self, rows: tuple[MeterRow, ...]) -> None:
        kept = self.proof.meter
        self.model.set_rows(rows)
        codes = [row.meter.code for row in rows]
        number = codes.index(kept.code) if kept is not None and kept.code in codes else 0
        if rows:
            self.table.selectRow(number)
            self._chosen()
        else:
            self.proof.set_meter(None)
            self.proof.title.setText(word("meters.none"))

    def _show_recheck(self, lines: tuple[RecheckLine, ...]) -> None:
        if not self.proof.plan.isVisibleTo(self.proof):
            self._show_lines(lines)

    def _show_lines(self, lines: tuple[RecheckLine, ...]) -> None:
        self.recheck.set_rows(lines)
        none = word("meters.recheck_empty")
        self.count.setText(say(msg("meters.recheck_count", packs=len(lines))) if lines else none)

    def _chosen(self) -> None:
        row: Any = self.table.selected_row()
        if row is None and self.table.currentIndex().isValid():
            row = self.table.row_of(self.table.currentIndex())
        if row is not None:
            self.proof.set_meter(row.meter)

    def choose(self, code: str) -> None:
        """Choose the meter that was scanned; while a proof is being typed it is the reference."""
        if self.proof.meter is not None and self.proof.begun and code != self.proof.meter.code:
            self.proof.reference.edit.setText(code)
            self._edited()
            return
        for number in range(self.model.rowCount()):
            if self.model.shown_row(number).meter.code == code:
                self.table.selectRow(number)
                self._chosen()
                self.proof.reference.edit.setFocus()

    # the proof

    def _edited(self) -> None:
        self._sure = False
        self.done.hide()
        self.proof.show_preview(None)
        self._timer.start()

    def preview(self) -> None:
        """Show what the proof would mean once it is complete; it reads all readings of the meter."""
        if self.proof.meter is None or not self.proof.begun:
            self.refresh()
            return
        store, clock = self._app.store, self._app.clock
        try:
            proof = self.proof.proof(clock())
        except FleetcareError:
            return
        self._asking.ask(lambda: meters.preview_proof(store, clock, proof), self._previewed, self._quiet)

    def _previewed(self, preview: ProofPreview) -> None:
        self.proof.show_preview(preview)
        if preview.plan is not None:
            self._show_lines(preview.lines)

    def _void_preview(self) -> None:
        """An answer that is still under way comes too late."""
        self._timer.stop()
        self._asking.ask(lambda: None, lambda _nothing: None)

    def _quiet(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error

    def save(self) -> None:
        """Save the proof.  One that finds the meter out is shown first and needs a second press."""
        author = self._author()
        if author is None or self.proof.meter is None:
            return
        self._timer.stop()
        store, clock = self._app.store, self._app.clock
        try:
            proof = self.proof.proof(clock())
            if not self._sure:
                preview = meters.preview_proof(store, clock, proof)
                self._void_preview()
                self._previewed(preview)
                if preview.plan is not None:
                    self._sure = True
                    self.proof.save.setFocus()
                    return
            self._finished(meters.record_proof(store, clock, author, proof))
        except FleetcareError as error:
            self._sure = False
            self.proof.refuse(error)

    def _broken(self) -> None:
        author, meter = self._author(), self.proof.meter
        if author is None or meter is None:
            return
        reason = Field(word("screen.reason"))
        reason.setObjectName("reason")
        heading = say(msg("meters.broken_heading", meter=meter.code))

        def deed() -> None:
            self._finished(meters.mark_found_out(self._app.store, self._app.clock, author, meter.code, reason.text))

        AskDialog(self, heading, (reason,), word("meters.broken_do"), deed).exec()

    def _finished(self, done: Recorded) -> None:
        self._sure = False
        self._void_preview()
        self.proof.clear()
        self.done.setText(say(done.message))
        self.done.show()
        self._session.leave_refused_meter()
        self._changes.tell(done)
        self.refresh()
        self.table.setFocus()

    def _author(self) -> Author | None:
        author = self._session.author(self._changes.position)
        if author is None:
            QMessageBox.information(self, word("program.title"), word("screen.sign_first"))
        return author
