"""The conditions of the insurer's policy: typed in as stated, listed, changed by recording them again."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.moments import date_if_typed, parse_date
from fleetcare.domain.wording import say, show_date, word
from fleetcare.services import policy
from fleetcare.services.policy import Condition
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.form_side import add_choice, form_beside
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

COLUMNS = (
    Column(word("policy.code"), lambda one: one.body.code, width=5),
    Column(word("policy.column_text"), lambda one: one.body.text, width=40, tip=True),
    Column(word("papers.policy"), lambda one: one.body.policy, width=22),
    Column(word("list.since"), lambda one: show_date(one.body.from_date), width=12),
    Column(word("policy.shown_by"), lambda one: word(f"policy.shown_by_{one.body.shown_by}"), width=18),
)


class PolicyPanel(QWidget):
    """The form on the left, the list on the right."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._code = ""
        self.text = Field(word("policy.text"))
        self.policy = Field(word("policy.policy"))
        self.from_date = Field(word("policy.from"))
        self.to_date = Field(word("policy.to"))
        self.shown_by = QComboBox()
        for one in policy.SHOWN_BY:
            self.shown_by.addItem(word(f"policy.shown_by_{one}"), one)
        self.save = QPushButton(word("policy.save"))
        self.told = words(word("policy.ends"), quiet=True)
        self.rows = RowModel(COLUMNS)
        self.table = Table(self.rows, word("policy.list"), stretch=1)
        self._fields = {"text": self.text, "policy": self.policy, "from_date": self.from_date, "to_date": self.to_date}
        self._lay_out()
        self.save.clicked.connect(self.record)
        self.table.opened.connect(self._choose)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def _lay_out(self) -> None:
        card = Card(word("papers.policy"))
        for field in self._fields.values():
            card.column.addWidget(field)
        add_choice(card, word("policy.shown_by"), self.shown_by, 16)
        self.save.setMinimumHeight(40)
        for part in (self.save, self.told):
            card.column.addWidget(part)
        card.column.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(words(word("policy.list"), bold=True))
        right.addWidget(self.table, 1)
        right.addWidget(words(word("policy.note"), quiet=True))
        form_beside(self, card, right)

    def refresh(self) -> None:
        """Read the conditions again, off the GUI thread."""
        store = self._app.store
        self._background.ask(lambda: policy.conditions(store), self.rows.set_rows)

    def _choose(self, one: Condition) -> None:
        """Take a condition into the form, to be changed."""
        body = one.body
        self._code = body.code
        self.text.edit.setText(body.text)
        self.policy.edit.setText(body.policy)
        self.from_date.edit.setText(body.from_date.isoformat())
        self.to_date.edit.setText("" if body.to_date is None else body.to_date.isoformat())
        self.shown_by.setCurrentIndex(policy.SHOWN_BY.index(body.shown_by))
        self.told.setText(say(one.statement))

    def record(self) -> None:
        """Record what is typed; a mistake is said beside its field and nothing is lost."""
        for field in self._fields.values():
            field.clear_refusal()
        author = self._session.author(self._changes.position)
        if author is None:
            self.told.setText(word("screen.sign_first"))
            return
        try:
            done = policy.record_condition(
                self._app.store, self._app.clock, author, text=self.text.text, policy=self.policy.text,
                from_date=parse_date(self.from_date.text, field="from_date"),
                to_date=date_if_typed(self.to_date.text, field="to_date"),
                shown_by=str(self.shown_by.currentData()), code=self._code,
            )  # fmt: skip
        except FleetcareError as error:
            refused = self._fields.get(error.field)
            if refused is None:
                self.told.setText(say(error.message))
            else:
                refused.refuse(error)
                refused.edit.setFocus()
            return
        self._code = ""
        self.text.clear()
        self.to_date.clear()
        self.told.setText(f"{say(done.message)}\n{word('policy.ends')}")
        self._changes.tell(done)
        self.refresh()
