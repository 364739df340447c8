"""The window: places the screens, joins their signals, and knows them all."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QButtonGroup,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QMessageBox,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import record
from fleetcare.services.identify import identify, is_known
from fleetcare.services.shown import PackSummary
from fleetcare.ui import theme
from fleetcare.ui.background import share_fairly
from fleetcare.ui.bench.bench_screen import BenchScreen
from fleetcare.ui.board.board_screen import BoardScreen
from fleetcare.ui.changes import Changes
from fleetcare.ui.keeping.keeping_screen import KeepingScreen
from fleetcare.ui.lists.lists_screen import pack_list, vehicle_list
from fleetcare.ui.pack.pack_page import PackPage
from fleetcare.ui.scanning import Scanner
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.vehicle.vehicle_page import VehicleScreen

SCREENS = ("bench", "board", "packs", "vehicles", "pack", "vehicle", "keeping")


class MainWindow(QMainWindow):
    """One fleet, one signed-in person, seven screens on the keys F1 to F7."""

    def __init__(self, app: App) -> None:
        super().__init__()
        share_fairly()
        self._app = app
        title = "window.title_demo" if app.store.demo else "window.title"
        self.setWindowTitle(say(msg(title, fleet=app.store.fleet_name)))
        self.session = Session(app, self)
        self.changes = Changes(app, self)
        self.bench = BenchScreen(app, self.session, self.changes)
        self.board = BoardScreen(app, self.changes)
        self.packs = pack_list(app, self.changes)
        self.vehicles = vehicle_list(app, self.changes)
        self.pack = PackPage(app, self.session, self.changes, self.print_pack)
        self.vehicle = VehicleScreen(app, self.session, self.changes)
        self.keeping = KeepingScreen(app, self.session, self.changes)
        self.stack = QStackedWidget()
        for screen in (self.bench, self.board, self.packs, self.vehicles, self.pack, self.vehicle, self.keeping):
            self.stack.addWidget(screen)
        self._tabs = QButtonGroup(self)
        self.who = QLabel()
        self.sign_out = QPushButton(word("window.sign_out"))
        self.fingerprint = QLabel()
        self.fingerprint.setProperty("role", "quiet")
        centre = QWidget()
        column = QVBoxLayout(centre)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self._bar())
        column.addWidget(self.stack, 1)
        self.setCentralWidget(centre)
        self.statusBar().addPermanentWidget(self.fingerprint)
        self.scanner = Scanner(self, lambda text: is_known(app.store, text))
        self._connect()
        self.resize(1366, 740)
        self._show_person()
        self._show_fingerprint()
        self.go("bench")

    def _bar(self) -> QWidget:
        bar = QWidget()
        row, tabs = QHBoxLayout(), QHBoxLayout()
        for part in (row, tabs):
            part.setSpacing(6)
        name = QLabel(self._app.store.fleet_name)
        name.setFont(sized(1.15, bold=True))
        row.addWidget(name)
        if self._app.store.demo:
            demo = QLabel(word("program.demo"))
            demo.setFont(sized(1.0, bold=True))
            demo.setStyleSheet("border: 2px solid palette(window-text); border-radius: 4px; padding: 1px 8px;")
            row.addWidget(demo)
        row.addSpacing(14)
        large = self._app.settings.text_percent > 125
        for number, screen in enumerate(SCREENS):
            button = QPushButton(f"{word(f'window.{screen}')}  F{number + 1}")
            button.setCheckable(True)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            self._tabs.addButton(button, number)
            (tabs if large else row).addWidget(button)
        row.addStretch(1)
        tabs.addStretch(1)
        row.addWidget(self.who)
        row.addWidget(self.sign_out)
        column = QVBoxLayout(bar)
        column.setContentsMargins(12, 8, 12, 6)
        column.addLayout(row)
        if large:
            column.addLayout(tabs)
        return bar

    def _connect(self) -> None:
        self._tabs.idClicked.connect(lambda number: self.go(SCREENS[number]))
        for number, screen in enumerate(SCREENS):
            QShortcut(QKeySequence(f"F{number + 1}"), self, lambda s=screen: self.go(s))
        QShortcut(QKeySequence("F12"), self, lambda: self.session.sign_in(None))
        QShortcut(QKeySequence("F11"), self, self.switch_theme)
        self.sign_out.clicked.connect(lambda: self.session.sign_in(None))
        self.session.person_changed.connect(self._show_person)
        self.changes.changed.connect(lambda _p, _v: self._show_fingerprint())
        self.scanner.scanned.connect(self.take_scan)
        self.bench.open_pack.connect(self.open_pack)
        self.board.open_vehicle.connect(self.open_vehicle)
        self.board.asked_print.connect(self.print_board)
        self.packs.opened.connect(self.open_pack)
        self.vehicles.opened.connect(self.open_vehicle)
        self.vehicle.open_pack.connect(self.open_pack)

    def go(self, screen: str) -> None:
        """Show a screen and give it the focus it needs."""
        number = SCREENS.index(screen)
        self._tabs.button(number).setChecked(True)
        shown = self.stack.widget(number)
        self.stack.setCurrentWidget(shown)
        if screen == "bench":
            self.bench._step()
            return
        refresh = getattr(shown, "refresh", None)
        if refresh is not None:
            refresh()
        table = getattr(shown, "table", None)
        if table is not None:
            table.setFocus()

    def open_pack(self, code: str) -> None:
        """Show one pack."""
        self.pack.show_pack(code)
        self.go("pack")

    def open_vehicle(self, code: str) -> None:
        """Show one vehicle."""
        self.vehicle.show_vehicle(code)
        self.go("vehicle")

    # scans

    def take_scan(self, text: str) -> None:
        """A scan: the bench takes it while it works; elsewhere it opens what it names."""
        if self.stack.currentWidget() is self.bench and self.bench.take_scan(text):
            return
        try:
            found = identify(self._app.store, text)
        except FleetcareError as error:
            self.statusBar().showMessage(say(error.message), 10_000)
            return
        if found.thing_class == "pack":
            self.open_pack(found.code)
        elif found.thing_class == "vehicle":
            self.open_vehicle(found.code)
        elif found.thing_class == "person":
            self.session.sign_in(found.thing)  # type: ignore[arg-type]
        else:
            self.statusBar().showMessage(f"{found.code}: {word(f'class.{found.thing_class}')}", 10_000)

    # printing

    def print_pack(self, page: PackSummary) -> None:
        """Write the pack's maintenance sheet."""
        from fleetcare.reports import pack_sheet

        path = self._ask_path(f"{page.pack.code}.pdf")
        if path is not None:
            self._write(lambda: pack_sheet.write(page, path, **self._print_words()), path)
            author = self.session.author(self.changes.position)
            if author is not None:
                told = record.record_told(self._app.store, self._app.clock, author, word("paper.pack_title"), page)
                self.changes.tell(told)

    def print_board(self) -> None:
        """Write the board for the wall."""
        from fleetcare.reports import board_sheet

        fleet = self.board.fleet
        path = None if fleet is None else self._ask_path("board.pdf")
        if path is not None and fleet is not None:
            self._write(lambda: board_sheet.write(fleet, path, **self._print_words()), path)

    def _print_words(self) -> dict[str, object]:
        person = self.session.person
        return {
            "page": self._app.settings.page,
            "printed_by": person.name if person else "",
            "printed_at": self._app.clock(),
        }

    def _ask_path(self, name: str) -> Path | None:
        start = str(Path.home() / name)
        chosen, _ = QFileDialog.getSaveFileName(self, word("screen.print"), start, "PDF (*.pdf)")
        return Path(chosen) if chosen else None

    def _write(self, work: object, path: Path) -> None:
        try:
            work()  # type: ignore[operator]
        except FleetcareError as error:
            QMessageBox.warning(self, word("program.title"), say(error.message))
        else:
            self.statusBar().showMessage(say(msg("screen.written", path=str(path))), 10_000)

    # the frame

    def switch_theme(self) -> None:
        """Light or dark, remembered."""
        from dataclasses import replace

        app = QApplication.instance()
        assert isinstance(app, QApplication)
        chosen = "dark" if theme.current() == "light" else "light"
        theme.apply(app, chosen, self._app.settings.text_percent)
        preferences.save(replace(preferences.load(), theme=chosen))

    def _show_person(self) -> None:
        person = self.session.person
        if person is None:
            self.who.setText(word("window.nobody"))
        else:
            level = person.level_on(self._app.clock().date())
            self.who.setText(say(msg("window.signed_in", person=person.name, level=msg(f"level.{level.value}"))))
        self.sign_out.setEnabled(person is not None)

    def _show_fingerprint(self) -> None:
        with self._app.store.view() as view:
            short = view.head().short
        self.fingerprint.setText(say(msg("window.fingerprint", fingerprint=short)))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Qt's hook: wait for readings that are under way."""
        from PySide6.QtCore import QThreadPool

        QThreadPool.globalInstance().waitForDone(5000)
        super().closeEvent(event)


def first_focus(window: MainWindow) -> None:
    """Put the cursor where the work begins once the window is up."""
    QTimer.singleShot(0, lambda: window.go("bench"))
