"""The manager's view ahead: the quarter review, and behind it every pack, reading, warranty and figure it rests on."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.ahead.columns import CLAIMS, KEPT, LARGE_LEARNT, LEARNT, NEEDS, SUSPECTS
from fleetcare.ui.ahead.purchase_dialog import ask_purchase
from fleetcare.ui.ahead.review_page import ReviewPage
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.as_of_bar import AsOfBar
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tab_order import tab_through
from fleetcare.ui.widgets.tables import Column, RowModel, Table

TABS = ("review", "needs", "suspects", "claims", "sure")
TABLES: dict[str, tuple[Column, ...]] = {
    "needs": NEEDS, "suspects": SUSPECTS, "claims": CLAIMS, "kept": KEPT, "learnt": LEARNT,
}  # fmt: skip
LEAST_LINES = 9
"""Lines of text that a table keeps where two share a page: with large text the page scrolls, not they."""


class AheadScreen(QWidget):
    """Read in the background each time the screen is opened, as of now or of an earlier day."""

    open_pack = Signal(str)
    asked_claim = Signal(str)
    asked_plan = Signal()

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self.note = words(quiet=True)
        self.as_of = AsOfBar()
        self.review = ReviewPage()
        columns = TABLES | {"learnt": LARGE_LEARNT} if large_text() else TABLES
        self.models = {name: RowModel(one) for name, one in columns.items()}
        self.tables = {name: Table(model, word(f"review.table_{name}")) for name, model in self.models.items()}
        self.told = {name: words() for name in TABLES}
        self.purchase = QPushButton(word("warranty.edit"))
        self.claim = QPushButton(word("review.claim_file"))
        self.found: Any = None
        self.pages = QTabWidget()
        self._lay_out()
        self.as_of.asked.connect(self.refresh)
        self.as_of.follow(session)
        self.review.open_pack.connect(self.open_pack)
        self.review.asked_claim.connect(self.asked_claim)
        self.review.asked_plan.connect(self.asked_plan)
        self.review.asked_tab.connect(self.choose)
        self.tables["needs"].opened.connect(lambda row: self.open_pack.emit(row.code))
        for name in ("suspects", "claims"):
            self.tables[name].opened.connect(lambda row: self.open_pack.emit(row.pack))
        self.purchase.clicked.connect(self._ask_purchase)
        self.claim.clicked.connect(self._ask_claim)

    def _lay_out(self) -> None:
        for table in self.tables.values():
            table.sort_by_headings()
        self.pages.addTab(self.review, word("review.tab"))
        self.pages.addTab(self._page("needs"), word("review.needs_tab"))
        self.pages.addTab(self._page("suspects"), word("review.suspects_tab"))
        buttons = QHBoxLayout()
        buttons.addWidget(self.purchase)
        buttons.addWidget(self.claim)
        self.not_past = words(word("review.not_in_past"), quiet=True)
        self.not_past.setWordWrap(False)
        self.not_past.hide()
        buttons.addWidget(self.not_past)
        buttons.addStretch(1)
        claims = self._page("claims")
        column = claims.layout()
        assert isinstance(column, QVBoxLayout)
        column.insertLayout(1, buttons)
        self.pages.addTab(claims, word("review.warranty_tab"))
        self.pages.addTab(self._page("kept", "learnt"), word("review.sure_tab"))
        head = QHBoxLayout()
        heading = words(word("renewal.heading"), size=1.4, bold=True)
        heading.setWordWrap(False)
        head.addWidget(heading)
        head.addStretch(1)
        head.addWidget(self.as_of)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addLayout(head)
        outer.addWidget(self.note)
        outer.addWidget(self.pages, 1)
        tab_through(self.purchase, self.claim, self.tables["claims"])

    def _page(self, *names: str) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(2, 8, 2, 2)
        for name in names:
            if len(names) > 1:
                heading = QLabel(word(f"sure.{name}"))
                font = heading.font()
                font.setBold(True)
                heading.setFont(font)
                column.addWidget(heading)
                table = self.tables[name]
                table.setMinimumHeight(table.fontMetrics().height() * LEAST_LINES)
            column.addWidget(self.told[name])
            column.addWidget(self.tables[name], 1 if name == "learnt" else 2)
        if len(names) == 1:
            return page
        area = QScrollArea()
        area.setWidget(page)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        return area

    @property
    def table(self) -> QWidget:
        """What takes the focus: the table in view, or the review."""
        name = TABS[self.pages.currentIndex()]
        return self.review if name == "review" else self.tables["kept" if name == "sure" else name]

    def choose(self, tab: str) -> None:
        """Show one of TABS."""
        self.pages.setCurrentIndex(TABS.index(tab))
        self.table.setFocus()

    def refresh(self) -> None:
        """Read everything again, off the GUI thread."""
        app, typed = self._app, self.as_of.typed

        def work() -> Any:
            from fleetcare.services.as_of import as_of
            from fleetcare.services.renewal import pair_told, renewal  # SciPy: not before it is asked for

            found = renewal(app.store, app.clock, at=as_of(app.store, app.clock, typed))
            return found, [pair_told(pair) for pair in found.pairs]

        self.note.setText(word("renewal.busy"))
        self._background.ask(work, lambda answer: self._show(*answer), self._failed)

    def _failed(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        self._say_day()
        self.as_of.refuse(error)

    def _show(self, found: Any, pairs: Any) -> None:
        self.found = found
        self.as_of.answered(past=found.past)
        self._say_day()
        self.review.show_review(found, pairs)
        named = [pack for model in found.needs for quarter in model.quarters for pack in quarter.named]
        named.sort(key=lambda one: (one.from_date, -one.chance, one.code))
        rows = {
            "needs": named, "suspects": found.suspects, "claims": found.claims, "kept": found.kept, "learnt": found.learnt,
        }  # fmt: skip
        for name, model in self.models.items():
            model.set_rows(rows[name])
            self.tables[name].setVisible(bool(rows[name]))
        self.tables["claims"].choose_first()
        self._tell(found, bool(named))
        for button in (self.purchase, self.claim):
            button.setEnabled(not found.past)
            button.setToolTip(word("review.not_in_past") if found.past else "")
        self.not_past.setVisible(found.past)

    def _say_day(self) -> None:
        """Which day the figures in view are of; a day that was refused leaves them as they were."""
        found = self.found
        if found is None:
            self.note.clear()
        elif found.past:
            self.note.setText(say(msg("review.as_of_told", asked_date=found.today)))
        else:
            key = "renewal.note" if any(one.packs for one in found.learnt) else "renewal.nothing"
            self.note.setText(say(msg(key, as_of_date=found.today)))

    def _tell(self, found: Any, named: bool) -> None:
        """The sentence above each table, which also stands for an empty one."""
        from fleetcare.services.suspects import LISTED_DAYS

        told = {
            "needs": found.total if named else msg("needs.empty_table"),
            "suspects": msg("suspect.some", count=len(found.suspects)) if found.suspects
            else msg("suspect.none", window_days=LISTED_DAYS),
            "claims": found.claims_told,
            "kept": msg("sure.kept_note") if found.kept else msg("review.kept_none"),
            "learnt": msg("sure.learnt_note") if found.learnt else msg("renewal.nothing"),
        }  # fmt: skip
        for name, message in told.items():
            self.told[name].setText(say(message))
        meters = [say(one.told) for one in found.meter_suspects]
        self.told["suspects"].setText("\n".join([*meters, say(told["suspects"])]))
        if found.learnt and found.meters_told is not None:
            self.told["learnt"].setText(f"{say(told['learnt'])} {say(found.meters_told)}")

    # warranty

    def _chosen(self) -> str:
        row = self.tables["claims"].selected_row()
        if row is not None:
            return str(row.pack)
        return str(self.found.claims[0].pack) if self.found is not None and self.found.claims else ""

    def _ask_claim(self) -> None:
        if self._chosen():
            self.asked_claim.emit(self._chosen())

    def _ask_purchase(self) -> None:
        if self._session.author(self._changes.position) is None:
            self.told["claims"].setText(say(EntryRefused("screen.sign_first").message))
            return
        if ask_purchase(self, self._app, self._session, self._changes, self._chosen()):
            self.refresh()
