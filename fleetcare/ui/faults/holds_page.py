"""Every open hold in one list; hold anything, release what the rules let be released."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.checks import Hold, HoldClass, Release
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import holding, record, releasing
from fleetcare.services.identify import identify
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import Choice, FaultPage, abreast, line
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

HOLDABLE = ("pack", "vehicle", "charger", "meter")
LINES = (
    Column(word("faults.held_thing"), lambda h: h.subject, width=16, mark=lambda h: colours.of_class(h.hold_class)),
    Column(word("faults.kind"), lambda h: word(f"class.{h.subject_class}"), width=10),
    Column(word("faults.hold_kind"), lambda h: word(f"hold_class.{h.hold_class.value}"), width=16),
    Column(word("quarantine.since"), lambda h: show_moment(h.since), width=20),
    Column(word("list.who"), lambda h: h.person, width=10),
    Column(word("list.reason"), lambda h: say(h.text), width=60, tip=True),
)


class HoldsPage(FaultPage):
    """Anyone may hold; a release is a deed of its own with its rules."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.empty = words(word("faults.holds_empty"), quiet=True)
        self.model = RowModel(LINES)
        self.table = Table(self.model, word("faults.tab_holds"), stretch=5)
        self.table.sort_by_headings()
        hold = Card(word("faults.do_hold"))
        self.kind = Choice(word("faults.hold_kind"), "hold_class", (HoldClass.FAULT, HoldClass.UNKNOWN, HoldClass.ACTION_DUE,
                                                                    HoldClass.DANGER))  # fmt: skip
        self.hold_button = QPushButton(word("faults.do_hold"))
        row = line()
        abreast(
            row,
            (self.add_field("subject", word("faults.subject_code")), 1),
            (self.kind, 1),
            (self.add_field("remark", word("faults.hold_reason")), 3),
            (self.hold_button, 0),
        )
        hold.column.addLayout(row)
        release = self.release_card = Card(word("faults.do_release"))
        self.release_button = QPushButton(word("faults.do_release"))
        bottom = line()
        abreast(
            bottom,
            (self.add_field("reason", word("faults.release_reason")), 3),
            (self.add_field("badge", word("faults.badge")), 1),
            (self.release_button, 0),
        )
        release.column.addLayout(bottom)
        look = Card(word("inspection.heading"))
        self.good_button = QPushButton(word("inspection.do_good"))
        self.bad_button = QPushButton(word("inspection.do_bad"))
        seen = line()
        abreast(
            seen,
            (self.add_field("looked_at", word("inspection.looked_at")), 3),
            (self.add_field("authority", word("inspection.authority")), 2),
            (self.good_button, 0),
            (self.bad_button, 0),
        )
        look.column.addLayout(seen)
        outer = QVBoxLayout(self)
        for part in (self.wrong, self.result, self.empty):
            outer.addWidget(part)
        outer.addWidget(self.table, 1)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        for card in (hold, look, release):
            outer.addWidget(card)
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._chosen())
        self.hold_button.clicked.connect(self.hold)
        self.release_button.clicked.connect(self.release)
        self.good_button.clicked.connect(lambda: self.inspect(good=True))
        self.bad_button.clicked.connect(lambda: self.inspect(good=False))

    def take(self, thing_class: str, code: str) -> bool:
        """Any scanned thing that can be held goes into the one field."""
        return super().take("subject", code) if thing_class in HOLDABLE else False

    def refresh(self) -> None:
        """Read the holds again."""
        chosen = self.table.selected_row()
        lines = holding.hold_lines(self._app.store)
        self.model.set_rows(lines)
        ids = [line.hold_id for line in lines]
        if chosen is not None and chosen.hold_id in ids:
            self.table.selectRow(ids.index(chosen.hold_id))
        self.empty.setVisible(not lines)
        self.fields["subject"].edit.setFocus()

    def _chosen(self) -> None:
        """Name the chosen hold above the form that ends it."""
        row = self.table.selected_row()
        told = word("faults.do_release")
        if row is not None:
            told = say(msg("faults.release_of", subject=row.subject, kind=msg(f"hold_class.{row.hold_class.value}")))
        self.release_card.heading.setText(told)

    def hold(self) -> None:
        """Hold or ground what was scanned; anyone may."""
        self.quiet()
        try:
            author = self.author()
            found = identify(self._app.store, self.fields["subject"].text)
            if found.thing_class not in HOLDABLE:
                raise EntryRefused("faults.not_holdable", field="subject", code=found.code)
            vehicle = found.thing_class == "vehicle"
            hold = Hold(
                found.thing_class, found.code, self.kind.chosen(HoldClass) or HoldClass.FAULT, self._app.clock(),
                msg("ground.by_person" if vehicle else "hold.by_person"), self.fields["remark"].text.strip(),
            )  # fmt: skip
            done = record.set_hold(self._app.store, self._app.clock, author, hold)
        except FleetcareError as error:
            self.refuse(error if error.field != "scan" else EntryRefused(error.message.key, field="subject",
                                                                         **dict(error.message.values)))  # fmt: skip
            return
        self._finish(done)

    def inspect(self, *, good: bool) -> None:
        """Keep an inspection of the chosen thing; it releases nothing."""
        self.quiet()
        row = self.table.selected_row()
        try:
            if row is None:
                raise EntryRefused("quarantine.choose")
            seen = Inspected(
                row.subject_class, row.subject, self._app.clock(), good, self.fields["looked_at"].text.strip(),
                self.fields["authority"].text.strip(),
            )  # fmt: skip
            done = releasing.record_inspection(self._app.store, self._app.clock, self.author(), seen)
        except FleetcareError as error:
            self._refuse_at("looked_at", error)
            return
        self._finish(done)

    def release(self) -> None:
        """Release the chosen hold, by the rules for its class."""
        self.quiet()
        row = self.table.selected_row()
        try:
            if row is None:
                raise EntryRefused("quarantine.choose")
            release = Release(row.hold_id, self._app.clock(), self.fields["reason"].text.strip())
            badge = self.fields["badge"].text
            done = record.release_hold(self._app.store, self._app.clock, self.author(), release, badge)
        except FleetcareError as error:
            self._refuse_at("reason", error)
            return
        self._finish(done)

    def _refuse_at(self, name: str, error: FleetcareError) -> None:
        """A refusal that names no field of the form in which the button stands is said below its first field."""
        if error.field in self.fields:
            self.refuse(error)
            return
        self.fields[name].refuse(error)
        self.fields[name].edit.setFocus()

    def _finish(self, done: Recorded) -> None:
        for field in self.fields.values():
            field.clear()
        self.refresh()
        self.result.setText(say(done.message))
        self._changes.tell(done)
