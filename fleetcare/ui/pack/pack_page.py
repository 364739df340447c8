"""One pack: identity, state, projection with its chart, and the whole history."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QComboBox,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSplitter,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.status import pack_words
from fleetcare.domain.vans import is_list_number
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import summary
from fleetcare.services.as_of import as_of
from fleetcare.services.decision_words import decision_words
from fleetcare.services.incidents import incident_words
from fleetcare.services.shown import CheckLine, PackSummary
from fleetcare.services.suspects import suspects_of, to_measure_again
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.pack.chart_view import ChartView
from fleetcare.ui.pack.correcting import ask_correction
from fleetcare.ui.pack.history_columns import CHECKS, EVENTS, LARGE_CHECKS
from fleetcare.ui.pack.why_panel import WhyPanel
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text, sized
from fleetcare.ui.widgets.as_of_bar import AsOfBar
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.deciding import ask_decision
from fleetcare.ui.widgets.holding import Holding
from fleetcare.ui.widgets.tables import RowModel, Table

SUSPECTS_SHOWN = 2


class _Split(QSplitter):
    """Asks for no more height than it needs, so that the page scrolls only where it has to.

    No wrapping text may stand in it: a splitter takes no notice of how high text becomes, and the chart would be cut.
    """

    def sizeHint(self) -> QSize:
        """Qt's hook."""
        return self.minimumSizeHint()


class PackPage(QWidget):
    """Shows the pack it was last asked for, and follows its changes."""

    def __init__(self, app: App, session: Session, changes: Changes, printed: Callable[[PackSummary], None]) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background, self._first = Background(self), Background(self)
        self._holding = Holding(self, app, session, changes)
        self._page: PackSummary | None = None
        self._waits = False
        self._code = ""
        self.title = words(size=1.7, bold=True)
        self.title.setWordWrap(False)
        self.badge = Badge()
        self.badge.setFont(sized(1.3, bold=True))
        self.identity = words(quiet=True)
        self.reasons = words()
        self.as_of = words(quiet=True)
        self.day = AsOfBar()
        self.day.follow(session)
        self.past = words(bold=True)
        self.again = words()
        self.again.setProperty("role", "wrong")
        self.quantity = QComboBox()
        self.quantity.setAccessibleName(word("list.what"))
        self.because = words(size=0.9, quiet=True)
        self.sentence = words(size=1.1, bold=True)
        self.chart = ChartView()
        self.checks = RowModel(LARGE_CHECKS if large_text() else CHECKS)
        self.check_table = Table(self.checks, word("screen.readings"))
        self.check_table.sort_by_headings()
        self.events = RowModel(EVENTS)
        self.event_table = Table(self.events, word("screen.events"), stretch=1)
        self.why = WhyPanel()
        self.buttons = {
            key: QPushButton(word(f"screen.{key}")) for key in ("print_sheet", "correct", "hold_pack", "release")
        }
        self.decide = QPushButton(word("decisions.ask"))
        self.decision = words()
        self._lay_out()
        self.quantity.currentIndexChanged.connect(lambda _i: self._show_projection())
        self.buttons["print_sheet"].clicked.connect(lambda: self._page and printed(self._page))
        self.buttons["hold_pack"].clicked.connect(lambda: self._holding.hold("pack", self._code))
        self.buttons["release"].clicked.connect(self._release)
        self.buttons["correct"].clicked.connect(self._correct)
        self.decide.clicked.connect(self._decide)
        changes.changed.connect(self._changed)
        self.day.asked.connect(self.refresh)
        self._blank()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.title)
        head.addWidget(self.badge)
        head.addStretch(1)
        large = self._app.settings.text_percent > 125
        deeds = QHBoxLayout() if large else head
        for button in self.buttons.values():
            deeds.addWidget(button)
        row = QHBoxLayout()
        row.addWidget(self.sentence, 1)
        self.quantity.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        if not large:
            row.addWidget(self.quantity)
        self.tabs = tabs = QTabWidget()
        tabs.addTab(self.check_table, word("screen.readings"))
        tabs.addTab(self.why, word("why.tab"))
        tabs.addTab(self.event_table, word("screen.events"))
        self.split = _Split(Qt.Orientation.Vertical)
        self.split.addWidget(self.chart)
        self.split.setChildrenCollapsible(False)
        self.split.addWidget(tabs)
        self.split.setStretchFactor(0, 5)
        self.split.setStretchFactor(1, 4)
        line = self.fontMetrics().height()
        self.chart.setMinimumHeight(line * 11)
        if not large:  # in large letters the tabs need more: reasons and readings stand below each other
            tabs.setMinimumHeight(line * 9)
        inner = QWidget()
        outer = QVBoxLayout(inner)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.setSpacing(6)
        outer.addLayout(head)
        if large:
            deeds.addStretch(1)
            outer.addLayout(deeds)
        second = QHBoxLayout()
        second.addWidget(self.identity, 1)
        second.addWidget(self.decide)
        outer.addLayout(second)
        outer.addWidget(self.past)
        outer.addWidget(self.reasons)
        outer.addWidget(self.decision)
        if large:
            outer.addWidget(self.quantity, 0, Qt.AlignmentFlag.AlignLeft)
        outer.addLayout(row)
        outer.addWidget(self.again)
        outer.addWidget(self.because)
        outer.addWidget(self.split, 1)
        foot = QHBoxLayout()
        foot.addWidget(self.as_of, 1)
        foot.addWidget(self.day)
        outer.addLayout(foot)
        area = QScrollArea()
        area.setWidget(inner)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(area)

    @property
    def page(self) -> PackSummary | None:
        """The pack as last read; None while its projections are awaited."""
        return None if self._waits else self._page

    def show_pack(self, code: str) -> None:
        """Choose another pack, as it is now; it is read by the `refresh` that follows when the page is shown."""
        if code != self._code:
            self.day.edit.clear()
        self._code = code

    def refresh(self) -> None:
        """Read the pack again, off the GUI thread."""
        app, code, typed = self._app, self._code, self.day.typed

        def read(projected: bool) -> tuple[PackSummary, bool]:
            at = as_of(app.store, app.clock, typed)
            return summary.pack_summary(app.store, at.clock, code, at.position, projected=projected), at.past

        if not code:
            return
        self._waits = True
        if self._page is None or self._page.pack.code != code:
            self._first.ask(
                lambda: read(False), lambda answer: self._waits and self._show(*answer), lambda _error: None
            )
        self._background.ask(lambda: read(True), self._projected, self._failed)

    def _projected(self, answer: tuple[PackSummary, bool]) -> None:
        self._waits = False
        self._show(*answer)

    def _changed(self, packs: frozenset[str], _vehicles: frozenset[str]) -> None:
        if self._code in packs:
            self.refresh()

    def _failed(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        self._waits = False
        if error.field == "as_of":
            self.day.refuse(error)
            return
        self._blank()
        self.reasons.setText(say(error.message))

    def _blank(self) -> None:
        self._page = None
        self.title.setText(word("window.pack"))
        self.badge.hide()
        self.identity.setText(word("screen.choose_pack"))
        for part in (self.split, self.day, self.quantity, self.past):
            part.setVisible(False)
        for button in (*self.buttons.values(), self.decide):
            button.setEnabled(False)
        self.decision.hide()

    def _show(self, page: PackSummary, past: bool = False) -> None:
        self._page = page
        for part in (self.split, self.day, self.quantity):
            part.setVisible(True)
        self.day.answered(past=past)
        self.past.setVisible(past)
        self.past.setText(say(msg("review.as_of_told", asked_date=page.as_of.date())))
        gone = page.pack.standing is PackStanding.WRITTEN_OFF
        self.title.setText(page.pack.code if gone else f"{page.pack.code} · {_where(page)}")
        self.badge.show_state(colours.of_pack(page.status), say(pack_words(page.status)))
        self.badge.show()
        identity = msg(
            "screen.identity", model=page.model.name, chemistry=page.model.chemistry.value,
            series=page.model.series_count, serial=page.pack.serial or "—",
            **{"class": page.model.voltage_class_v},
        )  # fmt: skip
        self.identity.setText(f"{say(identity)} · {_where(page)}" if gone else say(identity))
        lines = [f"{say(one.text)}  →  {say(one.next_step)}" for one in page.status.reasons]
        if page.status.due_on is not None and not lines:
            lines = [say(msg("bench.next_due", due_date=page.status.due_on))]
        if page.stays is not None and page.status.usable:
            lines.append(say(page.stays))
        self.reasons.setText("\n".join(lines))
        for key, button in self.buttons.items():
            held = any(one.hold_id for one in page.status.reasons)
            ready = key != "print_sheet" or bool(page.projections)
            button.setEnabled(not past and ready and (key != "release" or held))
        told = [*decision_words(page.decision), *incident_words(page.incidents)]
        self.decision.setText("\n".join(told))
        self.decision.setVisible(bool(told))
        asked = page.decision is not None and page.decision.question is not None
        self.decision.setFont(sized(1.0, bold=asked))
        self.decide.setEnabled(not past and page.pack.standing is PackStanding.IN_SERVICE)
        self.checks.set_rows(page.checks)
        self.events.set_rows(page.events)
        self.as_of.setText(say(msg("screen.as_of_records", at=page.as_of, records=page.position)))
        self._offer(page.projections)

    def _offer(self, projections: tuple[Projection, ...]) -> None:
        kept = self.quantity.currentData()
        self.quantity.blockSignals(True)
        self.quantity.clear()
        for projection in projections:
            self.quantity.addItem(word(f"quantity.{projection.quantity}"), projection.quantity)
        number = self.quantity.findData(kept)
        self.quantity.setCurrentIndex(max(number, 0))
        self.quantity.blockSignals(False)
        self._show_projection()

    def _show_projection(self) -> None:
        if self._page is None or self.quantity.currentIndex() < 0:
            self.sentence.setText(word("screen.projecting"))
            for part in (self.because, self.again):
                part.clear()
            self.again.hide()
            self.chart.clear()
            self.why.clear()
            return
        projection = self._page.projections[self.quantity.currentIndex()]
        self.sentence.setText(say(projection.sentence))
        self.because.setText(" ".join(say(one) for one in projection.because))
        self._measure_again(self._page)
        self.why.show_projection(projection, self._page.limit_source(projection.quantity))
        self.chart.show_projection(projection, self._page.pack.code, self._page.watch_line(projection.quantity))

    def _measure_again(self, page: PackSummary) -> None:
        """The readings of this pack that do not fit and were not measured again, whichever quantity is shown."""
        open_ = to_measure_again(suspects_of(page.pack.code, page.projections), page.as_of)
        told = [
            msg("suspect.one", quantity=msg(f"quantity.{one.quantity}"), value=one.value, done_at=one.reading.done_at,
                why=one.why, what_to_do=one.what_to_do)
            for one in open_[:SUSPECTS_SHOWN]
        ]  # fmt: skip
        self.again.setText(say(msg("suspect.open", count=len(open_), what=" ".join(say(one) for one in told))))
        self.again.setVisible(bool(open_))

    def _release(self) -> None:
        if self._page is not None:
            self._holding.release(self._code, self._page.status.reasons)

    def _decide(self) -> None:
        """Ask for the decision about this pack; what is asked stands above the fields."""
        page = self._page
        if page is None or not self._holding.signed_in():
            return
        asked = page.decision.question if page.decision is not None else None
        ask_decision(self, self._app, self._session, self._changes, page.pack.code, asked)

    def _correct(self) -> None:
        """Correct the selected check, or the newest; the first entry stays, struck."""
        line = self.check_table.selected_row()
        if not isinstance(line, CheckLine):
            standing = [one for one in self.checks.rows if not one.struck]
            line = standing[0] if standing else None
        if line is None or not self._holding.signed_in():
            return
        ask_correction(self, self._app, self._session, self._changes, line)


def _where(page: PackSummary) -> str:
    if page.vehicle is not None:
        return say(msg("screen.where_vehicle", vehicle=page.vehicle, bay=page.bay))
    if page.shelf:
        if page.pack.standing is PackStanding.WRITTEN_OFF:
            return say(msg("screen.where_gone", shelf=page.shelf))
        return say(msg("screen.where_van" if is_list_number(page.shelf) else "screen.where_shelf", shelf=page.shelf))
    return word("screen.where_unknown")
