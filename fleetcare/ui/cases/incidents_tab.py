"""Incidents: opening one, naming more things, closing it."""

from __future__ import annotations

from PySide6.QtWidgets import QCheckBox

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.incidents import IncidentOpened
from fleetcare.domain.wording import Message, msg, say, show_moment, word
from fleetcare.services import incident_deeds, incidents
from fleetcare.services.incidents import IncidentLine
from fleetcare.ui import colours
from fleetcare.ui.cases.tab import CaseTab, across
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import DeedCard, code_field, proof_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _state(row: IncidentLine) -> str:
    one = row.incident
    if one.open:
        return word("incidents.is_open")
    return say(msg("incidents.is_closed", closed_at=one.closed_at, person=row.closed_by, reason=one.closed_reason))


LINES = (
    Column(word("incidents.code"), lambda r: r.incident.code, width=13,
           mark=lambda r: colours.FAULT if r.incident.open else None),
    Column(word("incidents.happened"), lambda r: show_moment(r.incident.happened_at), sort=lambda r: r.incident.happened_at, width=18),
    Column(word("incidents.what"), lambda r: f"{r.incident.what} ({r.incident.where})", width=34, tip=True),
    Column(word("incidents.things"), lambda r: ", ".join(code for _c, code, _p in r.incident.items), width=26, tip=True),
    Column(word("incidents.since"), lambda r: str(r.since), sort=lambda r: r.since, right=True, width=14),
    Column(word("incidents.opened"),
           lambda r: say(msg("incidents.opened_by", opened_at=r.incident.opened_at, person=r.opened_by)), width=28, tip=True),
    Column(word("incidents.state"), _state, width=30, tip=True),
)  # fmt: skip


class IncidentsTab(CaseTab):
    """Opening is for anyone; closing for a manager."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.model = RowModel(LINES)
        self.table = Table(self.model, word("incidents.heading"), stretch=2)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.empty = words(word("incidents.empty"), quiet=True)
        self.hold_items = QCheckBox(word("incidents.hold_items"))
        self.hold_items.setChecked(True)
        self.hold_items.setMinimumHeight(32)
        self.opening = DeedCard(
            word("incidents.open_heading"),
            {"what": Field(word("incidents.what")), "where": Field(word("incidents.where")),
             "when": Field(word("incidents.when")), "items": code_field(word("incidents.items")),
             "persons": Field(word("incidents.persons")), "others": Field(word("incidents.others"))},
            word("incidents.do_open"), self._open, columns=3,
        )  # fmt: skip
        self.opening.add(self.hold_items)
        self.wider = DeedCard(
            " ", {"items": code_field(word("incidents.more_items")), "reason": Field(word("incidents.reason"))},
            word("incidents.do_widen"), self._widen, columns=2,
        )  # fmt: skip
        self.closing = DeedCard(
            " ", {"reason": Field(word("incidents.reason")), "badge": proof_field()}, word("incidents.do_close"),
            self._close, columns=2,
        )  # fmt: skip
        self.column.addWidget(words(word("incidents.note"), quiet=True))
        self.column.addWidget(self.empty)
        self.column.addWidget(self.table, 2)
        row = across()
        row.addWidget(self.wider)
        row.addWidget(self.closing)
        self.column.addLayout(row)
        self.column.addWidget(self.opening)
        self.column.addStretch(1)
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._chosen())

    def refresh(self) -> None:
        """Read the incidents again, off the GUI thread."""
        app = self._app
        self._background.ask(lambda: incidents.incident_lines(app.store, app.clock), self._show)

    def _show(self, lines: tuple[IncidentLine, ...]) -> None:
        row = self.table.selected_row()
        kept = row.incident.code if isinstance(row, IncidentLine) else None
        self.model.set_rows(lines)
        self.empty.setVisible(not lines)
        for part in (self.table, self.wider, self.closing):
            part.setVisible(bool(lines))
        codes = [line.incident.code for line in lines]
        if codes:
            self.table.selectRow(codes.index(kept) if kept in codes else 0)
        self._chosen()

    def _chosen(self) -> None:
        row = self.table.selected_row()
        code = row.incident.code if isinstance(row, IncidentLine) else ""
        for card, key in ((self.wider, "widen_heading"), (self.closing, "close_heading")):
            card.heading.setText(say(msg(f"incidents.{key}", incident=code)))
            card.setEnabled(isinstance(row, IncidentLine) and row.incident.open)

    def take_code(self, code: str) -> None:
        """A scanned thing is added to those of the incident that is being written."""
        edit = self.opening.fields["items"].edit
        edit.setText(", ".join(filter(None, (edit.text().strip().rstrip(","), code))))

    def _code(self) -> str:
        row = self.table.selected_row()
        if not isinstance(row, IncidentLine):
            raise EntryRefused("incidents.choose")
        return str(row.incident.code)

    def _open(self) -> Message:
        fields = self.opening.fields
        with self._app.store.view() as view:
            items = incident_deeds.items_of(view, fields["items"].text)
            persons = incident_deeds.persons_of(view, fields["persons"].text)
            at = incident_deeds.happened_at(view, fields["when"].text, self._app.clock())
        opened = IncidentOpened(
            "", fields["what"].text, fields["where"].text, at, items, persons, fields["others"].text
        )
        done = incident_deeds.open_incident(
            self._app.store, self._app.clock, self.author(), opened, hold_items=self.hold_items.isChecked()
        )
        self.tell(done)
        return done.message

    def _widen(self) -> Message:
        fields = self.wider.fields
        with self._app.store.view() as view:
            items = incident_deeds.items_of(view, fields["items"].text)
        done = incident_deeds.widen_incident(
            self._app.store, self._app.clock, self.author(), self._code(), items, fields["reason"].text
        )
        self.tell(done)
        return done.message

    def _close(self) -> Message:
        fields = self.closing.fields
        done = incident_deeds.close_incident(
            self._app.store, self._app.clock, self.author(), self._code(), fields["reason"].text, fields["badge"].text
        )
        self.tell(done)
        return done.message
