"""Which rules a depot follows, the written procedures with their versions, and what the site adds to them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.procedures import RuleSet, Work
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import site_texts
from fleetcare.services.shown import Recorded
from fleetcare.services.site_texts import DepotPage
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words


class RulesPanel(QWidget):
    """The depot and its rules on the left, the procedure and the site's addition on the right."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self.shown: DepotPage | None = None
        self.depot, self.rules, self.work = QComboBox(), QComboBox(), QComboBox()
        for one in RuleSet:
            self.rules.addItem(word(f"procedure.rules_{one.value or 'none'}"), one)
        for work in Work:
            self.work.addItem(word(f"procedure.work_{work.value}"), work)
        self.rules_text, self.own = QPlainTextEdit(), QPlainTextEdit()
        self.statements = words(quiet=True)
        self.record_rules = QPushButton(word("procedure.record_rules"))
        self.record_text = QPushButton(word("procedure.record_text"))
        self.heading, self.steps = words(bold=True), words()
        self.own_heading = words(quiet=True)
        self.told, self.kept = words(), words(word("procedure.kept"), quiet=True)
        self._lay_out()
        self.depot.currentIndexChanged.connect(lambda _i: self._read())
        self.work.currentIndexChanged.connect(lambda _i: self._read())
        self.record_rules.clicked.connect(self._put_rules)
        self.record_text.clicked.connect(self._put_text)

    def _lay_out(self) -> None:
        left, right = Card(word("papers.rules")), Card(word("procedure.work"))
        for column, key, box in (
            (left.column, "procedure.depot", self.depot),
            (left.column, "procedure.rules", self.rules),
            (right.column, "procedure.work", self.work),
        ):
            if key != "procedure.work":
                name = QLabel(word(key))
                name.setBuddy(box)
                column.addWidget(name)
            box.setAccessibleName(word(key))
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            box.setMinimumContentsLength(16)
            column.addWidget(box)
        left.column.addWidget(self.statements)
        self._text(left.column, "procedure.rules_text", self.rules_text)
        left.column.addWidget(self.record_rules)
        left.column.addStretch(1)
        right.column.addWidget(self.heading)
        right.column.addWidget(self.steps)
        right.column.addWidget(self.own_heading)
        self._text(right.column, "procedure.own_text", self.own)
        right.column.addWidget(self.record_text)
        right.column.addWidget(self.kept)
        right.column.addStretch(1)
        inner = QWidget()
        row = QHBoxLayout(inner)
        row.addWidget(left, 2)
        row.addWidget(right, 3)
        area = QScrollArea()
        area.setWidget(inner)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(area, 1)
        column.addWidget(self.told)

    @staticmethod
    def _text(column: QVBoxLayout, key: str, edit: QPlainTextEdit) -> None:
        name = QLabel(word(key))
        name.setWordWrap(True)
        name.setBuddy(edit)
        edit.setAccessibleName(word(key))
        edit.setTabChangesFocus(True)
        edit.setFixedHeight(edit.fontMetrics().lineSpacing() * 6)
        column.addWidget(name)
        column.addWidget(edit)

    def refresh(self) -> None:
        """Offer the depots on record and read the chosen one."""
        chosen = self.depot.currentData()
        self.depot.blockSignals(True)
        self.depot.clear()
        for one in site_texts.depots(self._app.store):
            self.depot.addItem(f"{one.code} · {one.name}", one.code)
        self.depot.setCurrentIndex(max(self.depot.findData(chosen), 0))
        self.depot.blockSignals(False)
        self._read()

    def _read(self) -> None:
        code, work = self.depot.currentData(), Work(self.work.currentData())
        self._able()
        if code is not None:
            store = self._app.store
            self._background.ask(lambda: site_texts.depot_page(store, code, work), self._show)

    def _able(self) -> None:
        for button in (self.record_rules, self.record_text):
            button.setEnabled(self.depot.count() > 0)

    def _show(self, page: DepotPage) -> None:
        self.shown = page
        self.rules.setCurrentIndex(self.rules.findData(page.rules))
        self.rules_text.setPlainText(page.depot.rules_text)
        self.statements.setText("\n".join(f"• {one.statement} ({one.source})" for one in page.statements))
        self.statements.setVisible(bool(page.statements))
        one = page.procedure
        work = word(f"procedure.work_{one.work.value}")
        self.heading.setText(say(msg("procedure.heading", work=work, version=one.version, written_date=one.written)))
        steps = [f"{number}. {step}" for number, step in enumerate(one.steps, start=1)]
        self.steps.setText("\n".join([*steps, say(msg("sheet.source", source=one.source))]))
        if page.own is None or not page.own.text:
            self.own_heading.setText(say(msg("procedure.own_none", depot=page.depot.name)))
        else:
            self.own_heading.setText(say(msg("procedure.own_heading", depot=page.depot.name, version=page.own.version)))
        self.own.setPlainText("" if page.own is None else page.own.text)

    def _put_rules(self) -> None:
        page = self.shown
        if page is None:
            return
        rules, text = RuleSet(self.rules.currentData()), self.rules_text.toPlainText()
        self._record(
            lambda author: site_texts.record_rules(
                self._app.store, self._app.clock, author, page.depot.code, rules, text, page.depot
            )
        )

    def _put_text(self) -> None:
        page = self.shown
        if page is None:
            return
        self._record(
            lambda author: site_texts.record_site_text(
                self._app.store, self._app.clock, author, page.depot.code, page.procedure.work,
                self.own.toPlainText(), page.own,
            )
        )  # fmt: skip

    def _record(self, deed: Callable[..., Recorded]) -> None:
        author = self._session.author(self._changes.position)
        if author is None:
            self.told.setText(word("screen.sign_first"))
            return
        try:
            done = deed(author)
        except FleetcareError as error:
            self.told.setText(say(error.message))
            return
        self.told.setText(say(done.message))
        self._changes.tell(done)
        self._read()
