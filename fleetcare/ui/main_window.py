"""The window: places the screens, joins their signals, and knows them all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, QTimer, QUrl
from PySide6.QtGui import QAction, QCloseEvent, QDesktopServices, QGuiApplication, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QMenu,
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
from fleetcare.services import label_sheets, record, sheets
from fleetcare.services.clock import TrustedClock
from fleetcare.services.identify import identify, is_known
from fleetcare.services.labelling import Label
from fleetcare.services.resetting import JobState
from fleetcare.services.shown import PackSummary
from fleetcare.ui import theme
from fleetcare.ui.ahead.ahead_screen import AheadScreen
from fleetcare.ui.away.away_screen import AwayScreen
from fleetcare.ui.background import share_fairly
from fleetcare.ui.bench.bench_screen import BenchScreen
from fleetcare.ui.board.board_screen import BoardScreen
from fleetcare.ui.changes import Changes
from fleetcare.ui.clock_page import ClockPage
from fleetcare.ui.faults.faults_screen import FaultsScreen
from fleetcare.ui.identity.identity_screen import IdentityScreen
from fleetcare.ui.idle import IdleLock
from fleetcare.ui.keeping.keeping_screen import KeepingScreen
from fleetcare.ui.lists.lists_screen import pack_list, vehicle_list
from fleetcare.ui.meters.meters_screen import MetersScreen
from fleetcare.ui.pack.pack_page import PackPage
from fleetcare.ui.papers.paper_dialog import PaperDialog
from fleetcare.ui.papers.papers_screen import PapersScreen
from fleetcare.ui.parts.parts_screen import PartsScreen
from fleetcare.ui.scanning import Scanner
from fleetcare.ui.session import Session
from fleetcare.ui.sheets.sheets_screen import SheetsScreen
from fleetcare.ui.theme import sized
from fleetcare.ui.vehicle.vehicle_page import VehicleScreen

SCREENS = ("bench", "board", "packs", "vehicles", "pack", "vehicle", "faults")
MORE = {
    "papers": "Ctrl+H", "ahead": "Ctrl+P", "identity": "Ctrl+I", "meters": "Ctrl+M", "sheets": "Ctrl+E", "keeping": "Ctrl+K",
    "away": "Ctrl+G", "parts": "Ctrl+T",
}  # fmt: skip
"""Screens needed less often: in a menu, with their keys."""


class MainWindow(QMainWindow):
    """One fleet, one signed-in person, seven screens on the keys F1 to F7."""

    def __init__(self, app: App) -> None:
        super().__init__()
        share_fairly()
        if not isinstance(app.clock, TrustedClock):
            app = replace(app, clock=TrustedClock(app.store, app.clock))
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
        self.papers = PapersScreen(app, self.session, self.changes)
        self.faults = FaultsScreen(app, self.session, self.changes)
        self.identity = IdentityScreen(app, self.session, self.changes, self.print_label)
        self.stack = QStackedWidget()
        self.meters = MetersScreen(app, self.session, self.changes)
        self.sheets = SheetsScreen(app, self.session, self.changes, self.print_sheets)
        self.ahead = AheadScreen(app, self.session, self.changes)
        self.away = AwayScreen(app, self.session, self.changes)
        self.parts = PartsScreen(app, self.session, self.changes)
        for screen in (*SCREENS, *MORE):
            self.stack.addWidget(getattr(self, screen))
        self.clock_page = ClockPage(app, self.session)
        self.stack.addWidget(self.clock_page)
        self.paper: PaperDialog | None = None
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
        self.more = QPushButton(word("window.more"))
        self.more.setCheckable(True)
        self.more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._tabs.addButton(self.more, len(SCREENS))
        menu = QMenu(self.more)
        for screen, key in MORE.items():
            action = QAction(word(f"window.{screen}"), self)
            action.setShortcut(QKeySequence(key))
            action.triggered.connect(lambda _on=False, s=screen: self.go(s))
            menu.addAction(action)
            self.addAction(action)
        self.more.setMenu(menu)
        (tabs if large else row).addWidget(self.more)
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
        self._tabs.idClicked.connect(lambda number: number < len(SCREENS) and self.go(SCREENS[number]))
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
        self.meters.open_pack.connect(self.open_pack)
        self.identity.open_pack.connect(self.open_pack)
        self.clock_page.answered.connect(self._clock_answered)
        self.session.pin_asked.connect(lambda _person: self._to_sign_in())
        self.idle = IdleLock(self, self.session, self._app.settings.lock_minutes)
        self.idle.locked.connect(self._to_sign_in)
        self.faults.open_pack.connect(self.open_pack)
        self.faults.open_vehicle.connect(self.open_vehicle)
        self.faults.asked_sheet.connect(self.print_quarantine)
        self.faults.asked_job_sheet.connect(self.print_job)
        self.bench.quarantined.connect(self.print_quarantine)
        self.ahead.open_pack.connect(self.open_pack)
        self.ahead.asked_claim.connect(lambda code: self.open_sheet("claim", code))
        self.ahead.asked_plan.connect(lambda: self.open_sheet("plan"))
        self.away.asked_sheet.connect(self.print_quarantine)
        self.away.asked_van_sheet.connect(self.print_van)

    def go(self, screen: str) -> None:
        """Show a screen and give it the focus it needs."""
        if self.clock_page.in_doubt():
            self._show_clock()
            return
        number = (*SCREENS, *MORE).index(screen)
        self._tabs.button(min(number, len(SCREENS))).setChecked(True)
        shown = self.stack.widget(number)
        self.stack.setCurrentWidget(shown)
        if screen == "bench":
            self.bench._step()
            return
        refresh = getattr(shown, "refresh", None)
        if refresh is not None:
            refresh()
        if screen == "sheets":
            self.sheets.form.sheet.edit.setFocus()
            return
        table = getattr(shown, "table", None)
        if table is not None:
            table.setFocus()

    def _show_clock(self) -> None:
        """Nothing goes on before somebody has said whether this clock is right."""
        self.clock_page.ask()
        self.stack.setCurrentWidget(self.clock_page)

    def _clock_answered(self, sentence: str) -> None:
        self.statusBar().showMessage(sentence, 20_000)
        self._show_person()
        self._show_fingerprint()
        self.go("bench")

    def _to_sign_in(self) -> None:
        """To the bench, where people sign in, unless they are there."""
        if self.stack.currentWidget() is not self.bench:
            self._tabs.button(0).setChecked(True)
            self.stack.setCurrentWidget(self.bench)

    def open_pack(self, code: str) -> None:
        """Show one pack."""
        self.pack.show_pack(code)
        self.go("pack")

    def open_vehicle(self, code: str) -> None:
        """Show one vehicle."""
        self.vehicle.show_vehicle(code)
        self.go("vehicle")

    def open_sheet(self, kind: str, code: str = "") -> None:
        """Show a kind of sheet among the papers, and make it where nothing has to be read first."""
        self.go("papers")
        self.papers.show_sheet(kind, code)

    # scans

    def take_scan(self, text: str) -> None:
        """A scan: the bench takes it while it works, the papers what they are made of; elsewhere it opens what it names."""
        shown = self.stack.currentWidget()
        if shown is self.clock_page:
            self.clock_page.take_scan(text)
            return
        if shown in (self.bench, self.papers) and shown.take_scan(text):
            return
        if shown in (self.faults, self.away, self.parts) and shown.take_scan(text):
            return
        sheet = sheets.known_sheet(self._app.store, text)
        if sheet is not None:
            self.go("sheets")
            self.sheets.begin(sheet)
            return
        try:
            found = identify(self._app.store, text)
        except FleetcareError as error:
            self.statusBar().showMessage(say(error.message), 10_000)
            return
        if self.stack.currentWidget() is self.sheets and self.sheets.take_scan(found):
            return
        if found.thing_class == "pack" and self.stack.currentWidget() is self.identity:
            if not self.identity.take_pack(found.code):
                self.open_pack(found.code)
        elif found.thing_class == "pack":
            self.open_pack(found.code)
        elif found.thing_class == "vehicle":
            self.open_vehicle(found.code)
        elif found.thing_class == "part":
            self.go("parts")
            self.parts.show_page(self.parts.stock)
            self.parts.stock.choose(found.code)
        elif found.thing_class == "meter":
            self.go("meters")
            self.meters.choose(found.code)
        elif found.thing_class == "person":
            self.session.arrive(found.thing)  # type: ignore[arg-type]
        else:
            self.statusBar().showMessage(f"{found.code}: {word(f'class.{found.thing_class}')}", 10_000)

    # printing

    def preview_paper(
        self, title: str, name: str, write: Callable[[Path], object], given: Callable[[], None] | None = None
    ) -> PaperDialog:
        """Make a paper in the background and show it, to be printed or saved; `given()` once it was."""
        shown = self.paper = PaperDialog(self, title, name, write, given)
        shown.finished.connect(self._paper_closed)
        shown.open()
        return shown

    def _paper_closed(self) -> None:
        self.paper = None
        self.activateWindow()

    def _order(self, kind: str, **more: Any) -> Callable[[Path], object]:
        """What writes a sheet of `kind` to a path."""
        app, words = self._app, self._print_words()

        def write(path: Path) -> object:
            from fleetcare.reports import every_sheet

            return every_sheet.write(every_sheet.Order(kind, **words, **more), app.store, app.clock, path)

        return write

    def print_pack(self, page: PackSummary) -> None:
        """Show the pack's maintenance sheet; what it tells of the projection is kept when it is given out."""

        def given() -> None:
            author = self.session.author(self.changes.position)
            if author is not None:
                told = record.record_told(self._app.store, self._app.clock, author, word("paper.pack_title"), page)
                self.changes.tell(told)

        code = page.pack.code
        self.preview_paper(word("paper.pack_title"), f"{code}.pdf", self._order("pack", code=code), given)

    def print_label(self, label: Label) -> None:
        """Show the label that stands for a pack; its printing is recorded when it is given out."""
        app, words = self._app, self._print_words()
        author = self.session.author(self.changes.position)
        if author is None:
            self.statusBar().showMessage(word("labels.sign_in"), 10_000)
            return
        try:
            label_sheets.may_label(author, app.clock().date())
        except FleetcareError as error:
            QMessageBox.warning(self, word("program.title"), say(error.message))
            return

        def write(path: Path) -> None:
            from fleetcare.reports import label as label_sheet

            label_sheet.write(label, path, **words, fleet_name=app.store.fleet_name, demo=app.store.demo)

        def given() -> None:
            printed = label_sheets.labels_for(app.store, "pack", (label.pack.code,))
            done = label_sheets.record_labels(app.store, app.clock, author, printed, label_sheets.COPIES)
            self.changes.tell(done)

        name = f"label-{label.pack.code}-{label.issue}.pdf"
        self.preview_paper(word("label.sheet_title"), name, write, given)

    def print_board(self) -> None:
        """Show the board for the wall."""
        fleet, words = self.board.fleet, self._print_words()
        if fleet is None:
            return

        def write(path: Path) -> None:
            from fleetcare.reports import board_sheet

            board_sheet.write(fleet, path, **words)

        self.preview_paper(word("paper.board_title"), "board.pdf", write)

    def print_sheets(self, numbers: tuple[str, ...]) -> None:
        """Show blank check sheets with these numbers."""
        self.preview_paper(word("paper.blank_title"), f"{numbers[0]}.pdf", self._order("blank", numbers=numbers))

    def print_van(self, number: str) -> None:
        """Print a van list in one action: a file beside the fleet file, and the default printer."""
        from fleetcare.reports import van_sheet
        from fleetcare.services import van_lists

        path = self._sheet_path(f"van-{number}")
        try:
            van = van_lists.van_page(self._app.store, self._app.clock, number)
            van_sheet.write(van, path, **self._print_words())
        except FleetcareError as error:
            QMessageBox.warning(self, word("program.title"), say(error.message))
            return
        self._print_at_once(path)

    def print_job(self, state: JobState) -> None:
        """Show the job sheet of a guided reset."""
        self.preview_paper(word("sheet.job_title"), f"reset-{state.pack}.pdf", self._order("job", code=state.pack))

    def print_quarantine(self, code: str) -> None:
        """Print a pack's quarantine sheet in one action: a file beside the fleet file, and the default printer."""
        path = self._sheet_path(f"quarantine-{code}")
        try:
            self._order("quarantine_pack", code=code)(path)
        except FleetcareError as error:
            QMessageBox.warning(self, word("program.title"), say(error.message))
            return
        self._print_at_once(path)

    def _print_at_once(self, path: Path) -> None:
        """A sheet that lies beside the fleet file goes to the default printer; without one it is opened."""
        from fleetcare.ui.papers import printing

        try:
            printer = printing.print_at_once(path)
        except FleetcareError as error:
            name = str(dict(error.message.values).get("printer", ""))
            said = say(msg("papers.at_once_refused", printer=name, path=str(path)))
            printer = ""
        else:
            key = "papers.at_once_no_printer" if printer is None else "papers.at_once"
            said = say(msg(key, path=str(path), printer=printer or ""))
        if not printer:
            self._open(path)
        self.statusBar().showMessage(said, 30_000)

    def _sheet_path(self, name: str) -> Path:
        app = self._app
        return app.store.path.parent / "sheets" / f"{name}-{app.clock():%Y%m%d-%H%M%S}.pdf"

    @staticmethod
    def _open(path: Path) -> None:
        if path.exists() and QGuiApplication.platformName() != "offscreen":
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))

    def _print_words(self) -> dict[str, Any]:
        person = self.session.person
        return {
            "page": self._app.settings.page,
            "printed_by": person.name if person else "",
            "printed_at": self._app.clock(),
        }

    # the frame

    def switch_theme(self) -> None:
        """Light or dark, remembered."""
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

        self.bench.put_aside()
        self.papers.stop()
        if self.paper is not None:
            self.paper.close()
        QThreadPool.globalInstance().waitForDone(5000)
        self.papers.let_go()
        super().closeEvent(event)


def first_focus(window: MainWindow) -> None:
    """Put the cursor where the work begins once the window is up."""
    QTimer.singleShot(0, lambda: window.go("bench"))
