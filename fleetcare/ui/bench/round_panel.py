"""The round beside the bench: what is due, worst first."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent

from fleetcare.app import App
from fleetcare.domain.wording import brief, say, word
from fleetcare.services import summary
from fleetcare.services.shown import RoundLine
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table, without_code


def _place(line: RoundLine) -> str:
    return line.vehicle or line.shelf or word("screen.where_unknown")


COLUMNS = (
    Column(word("window.pack"), lambda r: r.pack, mark=lambda r: colours.of_pack(r.status), width=10),
    Column(word("list.where"), _place, width=14),
    Column(word("list.why"), lambda r: without_code(brief(r.why), r.pack), width=22,
           whole=lambda r: without_code(say(r.why), r.pack)),
)  # fmt: skip
"""The reason in a few words, since the panel is narrow; whole in its tip, and where the pack is opened."""
LEAST_ROWS = 4
"""Rows of the table that are seen at once, however little room the verdict leaves."""


class RoundPanel(Card):
    """Enter on a line opens the pack."""

    chosen = Signal(str)

    def __init__(self, app: App) -> None:
        super().__init__(word("bench.round"))
        self._app = app
        self._background = Background(self)
        self.model = RowModel(COLUMNS)
        self.table = Table(self.model, word("bench.round"), stretch=2)
        line = self.table.verticalHeader().defaultSectionSize()
        self.table.setMinimumHeight(round(line * (LEAST_ROWS + 1.2)) if large_text() else 0)
        self.table.opened.connect(lambda line: self.chosen.emit(line.pack))
        self.empty = words(word("bench.round_empty"), quiet=True)
        self.column.addWidget(self.table, 1)
        self.column.addWidget(self.empty)
        self.empty.hide()
        self._late = False
        """True while something changed that was not read yet."""

    def renew(self) -> None:
        """Something changed: read again, at once or when the round is next in view."""
        self._late = True
        if self.isVisible():
            self.refresh()

    def showEvent(self, event: QShowEvent) -> None:
        """Qt's hook: what changed while it was out of view."""
        super().showEvent(event)
        if self._late:
            self.refresh()

    def refresh(self) -> None:
        """Read the round again, off the GUI thread."""
        app, self._late = self._app, False

        def read() -> tuple[tuple[RoundLine, ...], bool]:
            lines = summary.round_list(app.store, app.clock)
            return lines, bool(lines) or self._any_pack()

        self._background.ask(read, self._show)

    def _any_pack(self) -> bool:
        with self._app.store.view() as view:
            return bool(view.things("pack"))

    def _show(self, answer: tuple[tuple[RoundLine, ...], bool]) -> None:
        lines, any_pack = answer
        self.empty.setText(word("bench.round_empty" if any_pack else "bench.round_no_pack"))
        self.model.set_rows(lines)
        self.empty.setVisible(not lines)
        self.table.setVisible(bool(lines))
