"""Lost and stolen: put on record, add references, and note that something is back."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.away import Missing, MissingNoted, Recovered, WentMissing
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import show_moment, word
from fleetcare.services import going_missing
from fleetcare.services.going_missing import MissingLine
from fleetcare.services.identify import identify
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line
from fleetcare.ui.widgets.gate import Gate
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _references(row: MissingLine) -> str:
    told = [f"{word('away.police')}: {one}" for one in row.police]
    told += [f"{word('away.insurer')}: {one}" for one in row.insurer]
    return "; ".join(told) or word("away.no_reference")


LINES = (
    Column(word("away.code"), lambda m: m.code, width=12),
    Column(word("away.class"), lambda m: word(f"class.{m.subject_class}"), width=10),
    Column(word("away.standing"), lambda m: word(f"missing.{m.standing}"), mark=lambda m: colours.UNKNOWN, width=12),
    Column(word("away.since"), lambda m: show_moment(m.since), width=18),
    Column(word("list.who"), lambda m: m.person, width=10),
    Column(word("away.days"), lambda m: str(m.days), right=True, width=6),
    Column(word("away.last_place"), lambda m: m.last_place, width=30, tip=True),
    Column(word("away.reference"), _references, width=40, tip=True),
)


class MissingPage(DeedPage):
    """What is gone stays on record; what is back is held until somebody has inspected it."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.none = words(word("away.none"), quiet=True)
        self.model = RowModel(LINES)
        self.table = Table(self.model, word("away.tab_missing"), stretch=6)
        rows_high(self.table, 4)
        outer = QVBoxLayout(self)
        outer.addWidget(self.none)
        outer.addWidget(self.table)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self._gone_card())
        outer.addWidget(self._back_card())
        outer.addStretch(1)

    def _gone_card(self) -> Card:
        card = Card(word("away.heading"))
        self.kind = Choice(word("away.kind"), "missing", Missing)
        row = line()
        row.addWidget(self.add_field("subject", word("away.pack_or_vehicle")), 1)
        row.addWidget(self.kind, 1)
        row.addWidget(self.add_field("last_place", word("away.last_place")), 2)
        row.addWidget(self.add_field("remark", word("bench.remark")), 2)
        card.column.addLayout(row)
        self.gone_button = QPushButton(word("away.do_missing"))
        self.gone_button.setMinimumHeight(40)
        card.column.addWidget(self.gone_button)
        self.gone_button.clicked.connect(lambda: self.attempt(self._gone, "subject", "last_place", "remark"))
        return card

    def _back_card(self) -> Card:
        card = Card(word("away.chosen"))
        first, second = line(), line()
        first.addWidget(self.add_field("police", word("away.police")), 1)
        first.addWidget(self.add_field("insurer", word("away.insurer")), 1)
        self.note_button = QPushButton(word("away.do_note"))
        first.addWidget(self.note_button, 0, Qt.AlignmentFlag.AlignBottom)
        self.gate = Gate()
        second.addWidget(self.add_field("place", word("away.place")), 2)
        self.back_button = QPushButton(word("away.do_recover"))
        second.addWidget(self.back_button, 0, Qt.AlignmentFlag.AlignBottom)
        for button in (self.note_button, self.back_button):
            button.setMinimumHeight(40)
        card.column.addLayout(first)
        card.column.addWidget(words(word("away.gate")))
        card.column.addWidget(self.gate)
        card.column.addLayout(second)
        self.note_button.clicked.connect(lambda: self.attempt(self._note, "police", "insurer"))
        self.back_button.clicked.connect(self.recover)
        return card

    def refresh(self) -> None:
        """Read what is missing again; the chosen line stays chosen."""
        chosen: MissingLine | None = self.table.selected_row()
        with self._app.store.view() as view:
            lines = going_missing.missing_lines(view, self._app.clock())
        self.model.set_rows(lines)
        self.none.setVisible(not lines)
        self.table.setVisible(bool(lines))
        codes = [one.code for one in lines]
        if codes:
            kept = chosen.code if chosen is not None and chosen.code in codes else codes[0]
            self.table.selectRow(codes.index(kept))
        for button in (self.note_button, self.back_button):
            button.setEnabled(bool(codes))

    def choose(self, code: str) -> None:
        """Choose a line by its code."""
        codes = [one.code for one in self.model.rows]
        if code in codes:
            self.table.selectRow(codes.index(code))

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned pack or vehicle: chosen in the list when it is missing, else what is gone."""
        if thing_class not in ("pack", "vehicle"):
            return False
        if code in [one.code for one in self.model.rows]:
            self.choose(code)
        else:
            self.fields["subject"].edit.setText(code)
        return True

    def _subject(self) -> dict[str, Any]:
        if not self.text("subject"):
            raise EntryRefused("away.needs_subject", field="subject")
        found = identify(self._app.store, self.text("subject"))
        if found.thing_class not in ("pack", "vehicle"):
            raise EntryRefused("away.needs_subject", field="subject")
        return {"pack": None, "vehicle": None} | {found.thing_class: found.code}

    def _gone(self) -> Recorded:
        kind = self.kind.chosen(Missing) or Missing.LOST
        gone = WentMissing(
            **self._subject(), kind=kind, done_at=self._app.clock(), last_place=self.text("last_place"),
            remark=self.text("remark"),
        )  # fmt: skip
        return going_missing.record_missing(self._app.store, self._app.clock, self.author(), gone)

    def _chosen(self) -> dict[str, Any]:
        row: MissingLine | None = self.table.selected_row()
        if row is None:
            raise EntryRefused("away.needs_subject", field="subject")
        return {"pack": None, "vehicle": None} | {row.subject_class: row.code}

    def _note(self) -> Recorded:
        noted = MissingNoted(
            **self._chosen(), done_at=self._app.clock(), police=self.text("police"), insurer=self.text("insurer")
        )
        return going_missing.note_missing(self._app.store, self._app.clock, self.author(), noted)

    def recover(self) -> None:
        """The chosen thing is back; the gate is asked first."""

        def deed() -> Recorded:
            if not self.gate.answered:
                raise EntryRefused("faults.need_gate")
            back = Recovered(
                **self._chosen(), done_at=self._app.clock(), place=self.text("place"), dangers=self.gate.found()
            )
            return going_missing.record_recovered(self._app.store, self._app.clock, self.author(), back)

        if self.attempt(deed, "place"):
            self.gate.clear()
