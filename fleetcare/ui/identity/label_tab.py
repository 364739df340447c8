"""Labels: find a pack by its serial, make its next label, report a twin, take in what has no name."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QGridLayout, QPushButton, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.labels import normalise, without_issue
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import labelling
from fleetcare.services.labelling import Label
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field


class LabelTab(QWidget):
    """Four small forms, each with its own button."""

    def __init__(self, app: App, session: Session, changes: Changes, printed: Callable[[Label], None]) -> None:
        super().__init__()
        self._app, self._session, self._changes, self._printed = app, session, changes, printed
        self.found: Label | None = None
        self.find = DeedCard(
            word("identity.find_heading"), {"serial": Field(word("identity.serial"))}, word("identity.find"), self._find
        )
        self.result = words()
        self.find.column.addWidget(self.result)
        self.again = DeedCard(
            word("identity.label_heading"),
            {
                "pack": code_field(word("identity.code")),
                "serial": Field(word("identity.serial_seen")),
                "reason": Field(word("screen.reason")),
            },
            word("identity.make_label"),
            self._make,
            columns=2,
        )
        self.print_label = QPushButton(word("identity.print_label"))
        self.print_label.setMinimumHeight(40)
        self.print_label.setEnabled(False)
        self.print_label.clicked.connect(lambda: self.found and self._printed(self.found))
        self.again.column.addWidget(self.print_label)
        self.twin_model, self.unknown_model = Choice(word("identity.looks_like")), Choice(word("identity.looks_like"))
        self.twin = DeedCard(
            word("identity.twin_heading"),
            {
                "pack": code_field(word("identity.label_says")),
                "serial": Field(word("identity.serial_on_it")),
                "model": self.twin_model,
                "remark": Field(word("bench.remark")),
            },
            word("identity.hold_both"),
            self._twin,
            columns=2,
        )
        self.unknown = DeedCard(
            word("identity.unknown_heading"),
            {
                "model": self.unknown_model,
                "serial": Field(word("identity.serial_on_it")),
                "remark": Field(word("bench.remark")),
            },
            word("identity.take_in"),
            self._unknown,
            columns=2,
        )
        grid = QGridLayout(self)
        grid.setContentsMargins(12, 10, 12, 8)
        grid.setSpacing(12)
        for number, card in enumerate((self.find, self.twin, self.again, self.unknown)):
            grid.addWidget(card, number // 2, number % 2)
            card.column.addStretch(1)
        grid.setRowStretch(2, 1)
        for column in (0, 1):
            grid.setColumnStretch(column, 1)

    def refresh(self) -> None:
        """Offer the pack models on record."""
        with self._app.store.view() as view:
            models = [(code, one.name) for code, one in sorted(view.things("pack_model").items())]
        for choice in (self.twin_model, self.unknown_model):
            choice.offer(models)

    def take_pack(self, code: str) -> None:
        """A scanned pack: its label can be made."""
        self.again.fields["pack"].edit.setText(code)
        self.again.fields["reason"].edit.setFocus()

    def _author(self) -> Author:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        return author

    def _done(self, done: Recorded) -> Message:
        self._changes.tell(done)
        return done.message

    def _find(self) -> Message | None:
        self.result.clear()
        label = labelling.find_by_serial(self._app.store, self.find.fields["serial"].text)
        self._show(label)
        self.again.fields["pack"].edit.setText(label.pack.code)
        self.again.fields["serial"].edit.setText(label.pack.serial)
        self.again.fields["reason"].edit.setFocus()
        return None

    def _show(self, label: Label) -> None:
        self.found = label
        self.print_label.setEnabled(True)
        self.result.setText(
            say(
                msg(
                    "identity.found", pack=label.pack.code, model=label.model_name, where=label.where,
                    issue=label.issue, text=label.text,
                )
            )
        )  # fmt: skip

    def _make(self) -> Message:
        fields = self.again.fields
        code = without_issue(normalise(fields["pack"].text))
        done = labelling.reissue_label(
            self._app.store, self._app.clock, self._author(), code, fields["reason"].text, fields["serial"].text
        )
        self._show(labelling.label_of(self._app.store, code))
        return self._done(done)

    def _twin(self) -> Message:
        fields = self.twin.fields
        done = labelling.report_twin(
            self._app.store, self._app.clock, self._author(), without_issue(normalise(fields["pack"].text)),
            fields["serial"].text, self.twin_model.code, fields["remark"].text,
        )  # fmt: skip
        return self._done(done)

    def _unknown(self) -> Message:
        fields = self.unknown.fields
        done = labelling.take_in_unknown(
            self._app.store, self._app.clock, self._author(), self.unknown_model.code, fields["serial"].text,
            fields["remark"].text,
        )  # fmt: skip
        return self._done(done)
