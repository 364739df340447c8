"""Where packs are: those to be found, and which pack was in a vehicle on a day."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.labels import normalise, without_issue
from fleetcare.domain.moments import parse_date
from fleetcare.domain.wording import Message, say, show_moment, word
from fleetcare.services import whereabouts
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import DeedCard, code_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table

TO_FIND = (
    Column(word("window.pack"), lambda r: r.pack, width=10),
    Column(word("list.model"), lambda r: r.model_name, width=18),
    Column(word("identity.serial"), lambda r: r.serial or "—", width=16),
    Column(word("identity.last_place"), lambda r: say(r.last_place), width=24),
    Column(word("identity.last_seen"), lambda r: show_moment(r.last_at) if r.last_at else "—", width=20),
)


class FindTab(QWidget):
    """The list above, the question below."""

    open_pack = Signal(str)

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self.rows = RowModel(TO_FIND)
        self.table = Table(self.rows, word("identity.to_find"), stretch=3)
        self.table.opened.connect(lambda row: self.open_pack.emit(row.pack))
        self.table.setMinimumHeight(180)
        self.none = words(word("identity.none_missing"), quiet=True)
        self.ask = DeedCard(
            word("identity.day_heading"),
            {"vehicle": code_field(word("window.vehicle")), "day": Field(word("identity.day"))},
            word("identity.day_ask"),
            self._answer,
            columns=2,
        )
        self.answer = words()
        self.ask.column.addWidget(self.answer)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addWidget(words(word("identity.to_find"), bold=True))
        outer.addWidget(self.none)
        outer.addWidget(self.table, 1)
        row = QHBoxLayout()
        row.addWidget(self.ask, 1)
        outer.addLayout(row)
        outer.addStretch(0)

    def refresh(self) -> None:
        """Read the list again."""
        rows = whereabouts.to_find(self._app.store)
        self.rows.set_rows(rows)
        self.none.setVisible(not rows)
        self.table.setVisible(bool(rows))

    def _answer(self) -> Message | None:
        self.answer.clear()
        day = parse_date(self.ask.fields["day"].text, field="day")
        vehicle = without_issue(normalise(self.ask.fields["vehicle"].text))
        found = whereabouts.on_day(self._app.store, self._app.clock, vehicle, day)
        self.answer.setText("\n".join(say(one) for one in whereabouts.answer_words(found)))
        return None
