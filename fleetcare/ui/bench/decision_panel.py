"""After a check that says watch or pull, or a projection whose early edge is near: who decides what until when, with
one key, or later."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QFontMetrics, QKeySequence, QShortcut
from PySide6.QtWidgets import QGridLayout, QPushButton

from fleetcare.app import App
from fleetcare.domain import decisions as rule
from fleetcare.domain.decisions import Choice, Question
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import deciding, decisions
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.forms import LARGE_LETTERS


class DecisionPanel(Card):
    """Shown beside the verdict; it takes no focus, so that the next scan goes on as ever."""

    decided = Signal(str)

    def __init__(self, app: App) -> None:
        super().__init__(word("decisions.heading"))
        self._app = app
        self._pack = ""
        self._early: decisions.Early | None = None
        self._background = Background(self)
        self._session: Session | None = None
        self._changes: Changes | None = None
        self.question = words(bold=True)
        self.column.addWidget(self.question)
        self.buttons = {choice: QPushButton(word(f"decision_choice.{choice.value}")) for choice in Choice}
        self.later = QPushButton(f"{word('decisions.later')}  Ctrl+0")
        grid = QGridLayout()
        large = QFontMetrics(sized(1.0)).averageCharWidth() > LARGE_LETTERS
        wide = (self.buttons[Choice.CARRY_ON], self.buttons[Choice.RECHECK], self.buttons[Choice.REPLACE])
        narrow = (self.buttons[Choice.PULL], self.later)
        for column, buttons in enumerate((wide, narrow)):
            for row, button in enumerate(buttons):
                button.setMinimumHeight(36)
                button.setProperty("role", "small")
                button.setAutoDefault(False)
                grid.addWidget(button, row + 3 * column if large else row, 0 if large else column)
        self.column.addLayout(grid)
        self.said = words()
        self.column.addWidget(self.said)
        self.column.addWidget(words(word("decisions.keys"), size=0.9, quiet=True))
        for choice, button in self.buttons.items():
            button.clicked.connect(lambda _on=False, c=choice: self.decide(c))
        self.later.clicked.connect(self.hide)
        self.hide()

    def join(self, session: Session, changes: Changes) -> None:
        """Know who is signed in and whom to tell; keys work while the bench is in view."""
        self._session, self._changes = session, changes
        bench = self.parentWidget() or self.window()
        keys = [(f"Ctrl+{n}", choice) for n, choice in enumerate(Choice, start=1)]
        for key, choice in keys:
            QShortcut(QKeySequence(key), bench, lambda c=choice: self.isVisible() and self.decide(c))
        QShortcut(QKeySequence("Ctrl+0"), bench, self.hide)

    def ask(self, pack: str) -> None:
        """Ask about `pack` where its newest check asks for a decision that nobody has made; else its projection is read
        off the GUI thread, and asks where its early edge is near."""
        self._pack, self._early = pack, None
        with self._app.store.view() as view:
            found = decisions.decision_of(view, pack, self._app.clock())
            site: SiteRules = view.thing("site_rules", "SITE") or SiteRules()
        if found.question is not None:
            self._show(found.question, site)
            return
        self.hide()
        if found.standing is None:
            self._ask_ahead(pack, site)

    def _ask_ahead(self, pack: str, site: SiteRules) -> None:
        app = self._app

        def show(asked: tuple[Question, decisions.Early] | None) -> None:
            if asked is not None and self._pack == pack:
                question, self._early = asked
                self._show(question, site)

        self._background.ask(lambda: decisions.asked_ahead(app.store, app.clock, pack), show)

    def forget(self) -> None:
        """Ask no more about the pack of the last save; it stays on the list."""
        self._pack = ""
        self.hide()

    def _show(self, asked: Question, site: SiteRules) -> None:
        today = self._app.clock().date()
        self.question.setText(say(asked.statement))
        self.said.clear()
        self.said.hide()
        keys = {Choice.CARRY_ON: "carry_on_until", Choice.RECHECK: "recheck_by", Choice.REPLACE: "replace_by",
                Choice.PULL: "pull_now"}  # fmt: skip
        for number, (choice, button) in enumerate(self.buttons.items(), start=1):
            text = say(msg(f"decision.{keys[choice]}", until_date=rule.suggested(choice, today, site)))
            button.setText(f"{text[0].upper()}{text[1:]}  Ctrl+{number}")
            button.setEnabled(choice in rule.open_to(asked.kind))
        self.show()

    def decide(self, choice: Choice) -> None:
        """Keep the decision with the date on its button."""
        if self._session is None or self._changes is None or not self.buttons[choice].isEnabled():
            return
        author = self._session.author(self._changes.position)
        with self._app.store.view() as view:
            site: SiteRules = view.thing("site_rules", "SITE") or SiteRules()
        until = rule.suggested(choice, self._app.clock().date(), site)
        if author is None:
            return
        try:
            done = deciding.decide(
                self._app.store, self._app.clock, author, self._pack, choice, until, early=self._early
            )
        except FleetcareError as error:
            self.said.setText(say(error.message))
            self.said.setProperty("role", "wrong")
            self.said.show()
            return
        self.hide()
        self.decided.emit(say(done.message))
        self._changes.tell(done)
