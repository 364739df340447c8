"""The board alone, for a second screen: larger tiles, worst first, refreshed by itself, no key that changes anything."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QGuiApplication, QKeySequence, QShortcut
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.board.feed import BoardFeed, Reading
from fleetcare.ui.board.header import Header
from fleetcare.ui.board.tiles import Tiles
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Prepared, RowModel

SCALE = 1.25
AGE_CHECK_MS = 10_000


class BoardWindow(QWidget):
    """Shows what the feed of the main window reads; Esc ends the full screen, F10 begins it."""

    def __init__(self, feed: BoardFeed, app: App) -> None:
        super().__init__(None, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_QuitOnClose, False)
        self.setWindowTitle(say(msg("board.second_title", fleet=app.store.fleet_name)))
        self.feed = feed
        self.header = Header(feed, large=app.settings.text_percent > 125, scale=SCALE)
        self.model = RowModel(feed.columns)
        self.tiles = Tiles(self.model, scale=SCALE)
        self.tiles.setSelectionMode(Tiles.SelectionMode.NoSelection)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.addWidget(self.header)
        column.addWidget(self.tiles, 1)
        demo = f"{word('program.demo')} · " if app.store.demo else ""
        self.foot = words(f"{demo}{app.store.fleet_name} · {word('board.second_keys')}", quiet=not app.store.demo)
        column.addWidget(self.foot)
        QShortcut(QKeySequence("F10"), self, self._turn)
        QShortcut(QKeySequence("Esc"), self, self.showNormal)
        feed.arrived.connect(self._arrived)
        feed.failed.connect(lambda _why: self._tick())
        self._timer = QTimer(self)
        self._timer.setInterval(AGE_CHECK_MS)
        self._timer.timeout.connect(self._tick)
        self._timer.start()
        self.resize(1280, 720)
        if feed.fleet is None:
            feed.refresh()
        elif feed.rows is not None:
            self._fill(feed.rows)

    def show_on_second(self, *, full: bool) -> None:
        """On the second screen where there is one."""
        screens = QGuiApplication.screens()
        if len(screens) > 1:
            self.setGeometry(screens[1].availableGeometry())
        if full:
            self.showFullScreen()
        else:
            self.show()

    def _turn(self) -> None:
        if self.isFullScreen():
            self.showNormal()
        else:
            self.showFullScreen()

    def _fill(self, rows: Prepared) -> None:
        self.model.set_prepared(Prepared(list(rows.rows), list(rows.texts), list(rows.told)))
        self.tiles.arrange()
        self._tick()

    def _arrived(self, reading: Reading) -> None:
        if reading.moved or len(self.model.rows) != len(reading.rows.rows):
            self._fill(reading.rows)
        for number, line in reading.changed:
            self.model.replace_row(number, line)
        self._tick()

    def _tick(self) -> None:
        self.tiles.set_stale(self.header.renew())
