"""The manager's overview: one card a question, what waits for a decision first; a line opens what it is about."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import overview
from fleetcare.services.decisions import Early
from fleetcare.services.overview import Line, Overview, Section
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import current, sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.empty_notice import EmptyNotice

ORDER = (
    "decisions", "quarantine", "silent", "incidents", "recalls", "done", "replace", "reorder", "running_out", "tallies", "pulls", "pace",
    "loosened",
)  # fmt: skip
"""Cards from the top, column by column in turn."""


class _Shape(QWidget):
    """The shape of a kind of reason, as on the board."""

    def __init__(self, mark: colours.Mark | None) -> None:
        super().__init__()
        self._mark = mark
        size = QFontMetrics(sized(1.0)).ascent() + 2
        self.setFixedSize(size, size)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Qt's hook."""
        if self._mark is not None:
            mark = colours.on_dark(self._mark) if current() == "dark" else self._mark
            colours.draw_shape(QPainter(self), mark, self.rect().toRectF())


class SectionCard(Card):
    """One section; a line about a pack or vehicle is a button that opens it."""

    wanted = Signal(str, str)

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name
        self.title = words(word(f"overview.{name}"), size=1.1, bold=True)
        self.column.setSpacing(4)
        self.column.addWidget(self.title)
        self._rows: list[QWidget] = []
        self.texts: list[str] = []
        self._say(word("overview.busy"))

    def _say(self, text: str) -> None:
        self._add(words(text, quiet=True))
        self.texts = [text]

    def _add(self, row: QWidget) -> None:
        self.column.addWidget(row)
        self._rows.append(row)

    def show_section(self, section: Section) -> None:
        """Show its lines, or that there is nothing."""
        for row in self._rows:
            row.hide()
            row.deleteLater()
        self._rows.clear()
        title = word(f"overview.{self.name}")
        self.title.setText(say(msg("overview.count", what=title, count=section.total)) if section.total else title)
        if not section.lines:
            self._say(word(f"overview.none_{self.name}"))
            return
        self.texts = [say(line.text) for line in section.lines]
        for line in section.lines:
            self._add(self._row(line))
        rest = section.total - len(section.lines)
        if rest > 0 and self.name not in ("done", "pulls", "replace"):
            self._add(words(say(msg("overview.more", count=rest)), quiet=True))

    def _row(self, line: Line) -> QWidget:
        row = QWidget()
        across = QHBoxLayout(row)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(8)
        across.addWidget(
            _Shape(None if line.kind is None else colours.of_class(line.kind)), 0, Qt.AlignmentFlag.AlignVCenter
        )
        text = say(line.text)
        across.addWidget(words(text), 1)
        cls, code = line.subject
        if cls in ("pack", "vehicle"):
            button = QPushButton(code)
            button.setAccessibleName(text)
            button.setProperty("role", "small")
            button.clicked.connect(lambda: self.wanted.emit(cls, code))
            across.addWidget(button)
        return row


class OverviewScreen(QWidget):
    """Read in the background each time it is opened; the projection comes a little later than the rest."""

    open_pack = Signal(str)
    open_vehicle = Signal(str)
    asked_print = Signal()

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app = app
        self._quick = Background(self)
        self._slow = Background(self)
        self._early: dict[str, Early] | None = None
        self._ahead_shown = False
        self.found: Overview | None = None
        self.as_of = words(quiet=True)
        self.as_of.setWordWrap(False)
        self.printing = QPushButton(word("overview.print"))
        self.printing.clicked.connect(self.asked_print.emit)
        top = QHBoxLayout()
        top.addWidget(words(word("overview.heading"), size=1.4, bold=True))
        top.addWidget(self.as_of, 1)
        top.addWidget(self.printing)
        large = app.settings.text_percent > 125
        self.cards = {name: SectionCard(name) for name in ORDER if name in _names()}
        columns = [QVBoxLayout() for _ in range(1 if large else 2)]
        for number, card in enumerate(self.cards.values()):
            columns[number % len(columns)].addWidget(card)
            card.wanted.connect(self._open)
        body = QWidget()
        across = QHBoxLayout(body)
        across.setContentsMargins(0, 0, 6, 0)
        across.setSpacing(10)
        for column in columns:
            column.setSpacing(10)
            column.addStretch(1)
            across.addLayout(column, 1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(body)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        self.empty = EmptyNotice(app, word("overview.not_set_up"))
        self.empty.hide()
        outer.addLayout(top)
        outer.addWidget(self.empty)
        outer.addWidget(scroll, 1)
        changes.changed.connect(lambda _p, _v: self.isVisible() and self.refresh())

    def refresh(self) -> None:
        """Read everything again, off the GUI thread."""
        app = self._app

        def slow() -> Any:
            from fleetcare.services.renewal import renewal  # SciPy: not before it is asked for

            found = renewal(app.store, app.clock)
            return found, overview.waiting(app.store, app.clock, dict(found.early))

        early, self._ahead_shown = self._early, False
        self._quick.ask(lambda: overview.overview(app.store, app.clock, early), self._show, self._failed)
        self._slow.ask(slow, lambda answer: self._show_ahead(*answer), self._failed)

    def _show_ahead(self, found: Any, waiting: Section) -> None:
        self._early, self._ahead_shown = dict(found.early), True
        self._show_section(overview.replacing(found))
        self._show_section(waiting)

    def _show(self, found: Overview) -> None:
        self.found = found
        self.as_of.setText(say(msg("overview.as_of", at=show_moment(found.as_of))))
        with self._app.store.view() as view:
            bare = not view.codes("pack") or not view.codes("vehicle")
        if bare:
            self.empty.refresh()
        self.empty.setVisible(bare)
        for section in found.sections:
            if not (self._ahead_shown and section.name == "decisions"):
                self._show_section(section)

    def _show_section(self, section: Section) -> None:
        self.cards[section.name].show_section(section)

    def _failed(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        self.as_of.setText(say(error.message))

    def _open(self, thing_class: str, code: str) -> None:
        (self.open_pack if thing_class == "pack" else self.open_vehicle).emit(code)


def _names() -> tuple[str, ...]:
    return overview.SECTIONS
