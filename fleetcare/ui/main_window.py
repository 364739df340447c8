"""The window: places the screens, joins their signals, and knows them all."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QThreadPool, QTimer
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QLineEdit,
    QMainWindow,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import sheets
from fleetcare.services.clock import TrustedClock
from fleetcare.services.identify import identify, is_known, scan_alarm
from fleetcare.ui import theme
from fleetcare.ui.ahead.ahead_screen import AheadScreen
from fleetcare.ui.away.away_screen import AwayScreen
from fleetcare.ui.background import search_here, share_fairly
from fleetcare.ui.bench.bench_screen import BenchScreen
from fleetcare.ui.board.board_screen import BoardScreen
from fleetcare.ui.board.board_window import BoardWindow
from fleetcare.ui.cases.cases_screen import CasesScreen
from fleetcare.ui.changes import Changes
from fleetcare.ui.clock_page import ClockPage
from fleetcare.ui.closing import Closing
from fleetcare.ui.faults.faults_screen import FaultsScreen
from fleetcare.ui.identity.identity_screen import IdentityScreen
from fleetcare.ui.idle import IdleLock
from fleetcare.ui.keeping.keeping_screen import KeepingScreen
from fleetcare.ui.lists.lists_screen import pack_list, vehicle_list
from fleetcare.ui.meters.meters_screen import MetersScreen
from fleetcare.ui.overview.overview_screen import OverviewScreen
from fleetcare.ui.pack.pack_page import PackPage
from fleetcare.ui.paper_orders import PaperOrders
from fleetcare.ui.papers.paper_dialog import PaperDialog
from fleetcare.ui.papers.papers_screen import PapersScreen
from fleetcare.ui.parts.parts_screen import PartsScreen
from fleetcare.ui.rounds.rounds_screen import RoundsScreen
from fleetcare.ui.scanning import Scanner
from fleetcare.ui.session import Session
from fleetcare.ui.setup.setup_screen import SetupScreen
from fleetcare.ui.sheets.sheets_screen import SheetsScreen
from fleetcare.ui.status_line import StatusLine
from fleetcare.ui.this_pc import ThisPcScreen
from fleetcare.ui.vehicle.vehicle_page import VehicleScreen
from fleetcare.ui.wheel import WheelScrolls
from fleetcare.ui.widgets.dialogs import ChoiceDialog
from fleetcare.ui.widgets.held_file import HeldFile
from fleetcare.ui.widgets.notices import AlarmBar, ZoneNotice
from fleetcare.ui.window_bar import BENCH_KEYS, LAST_SHOWN, MORE, SCREENS, WindowBar

READ_AHEAD_MS = 1500
"""When the board is read for the first time, after the window is up."""
PLACES = (*SCREENS, *MORE, *LAST_SHOWN)
"""Every screen in the order in which the window stacks them."""


class MainWindow(QMainWindow):
    """One fleet, one signed-in person, the screens on keys F1 to F9 and in the menu."""

    def __init__(self, app: App) -> None:
        super().__init__()
        self.wheel = WheelScrolls(self)  # before there are choices that it looks after
        share_fairly()
        search_here()
        if not isinstance(app.clock, TrustedClock):
            app = replace(app, clock=TrustedClock(app.store, app.clock))
        self._app = app
        self.held = HeldFile(self)
        app.store.when_held(self.held.wait)
        title = "window.title_demo" if app.store.demo else "window.title"
        self.setWindowTitle(say(msg(title, fleet=app.store.fleet_name)))
        self.session = Session(app, self)
        self.changes = Changes(app, self)
        self.orders = PaperOrders(self, app, self.session, self.changes)
        self.bench = BenchScreen(app, self.session, self.changes)
        self.board = BoardScreen(app, self.session, self.changes)
        self.packs = pack_list(app, self.changes)
        self.vehicles = vehicle_list(app, self.changes)
        self.pack = PackPage(app, self.session, self.changes, self.orders.print_pack)
        self.vehicle = VehicleScreen(app, self.session, self.changes)
        self.keeping = KeepingScreen(app, self.session, self.changes)
        self.papers = PapersScreen(app, self.session, self.changes)
        self.faults = FaultsScreen(app, self.session, self.changes)
        self.identity = IdentityScreen(
            app, self.session, self.changes, self.orders.print_label, self.orders.print_competence
        )
        self.cases = CasesScreen(app, self.session, self.changes)
        self.setup = SetupScreen(app, self.session, self.changes)
        self.this_pc = ThisPcScreen(app)
        self.opens_again = False
        """Whether this window closed in order to be opened anew, under other preferences of this PC."""
        self.stack = QStackedWidget()
        self.meters = MetersScreen(app, self.session, self.changes)
        self.sheets = SheetsScreen(app, self.session, self.changes, self.orders.print_sheets)
        self.ahead = AheadScreen(app, self.session, self.changes)
        self.away = AwayScreen(app, self.session, self.changes)
        self.parts = PartsScreen(app, self.session, self.changes)
        self.round = RoundsScreen(app, self.session, self.changes)
        self.overview = OverviewScreen(app, self.session, self.changes)
        for screen in PLACES:
            self.stack.addWidget(getattr(self, screen))
        self.clock_page = ClockPage(app, self.session)
        self.stack.addWidget(self.clock_page)
        self.bar, self.status = WindowBar(app, self.session), StatusLine(app, self.session)
        self.setStatusBar(self.status)
        self.closing = Closing(self, self.bench, self.keeping, self.setup)
        self._keys: dict[str, QShortcut] = {}
        self._second: list[BoardWindow] = []
        self.alarm = AlarmBar()
        self.zone_notice = ZoneNotice(app)
        centre = QWidget()
        column = QVBoxLayout(centre)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for part in (self.bar, self.alarm, self.zone_notice):
            column.addWidget(part)
        column.addWidget(self.stack, 1)
        self.setCentralWidget(centre)
        self.scanner = Scanner(self, lambda text: is_known(app.store, text))
        self._connect()
        self.resize(1366, 740)
        self._lend_keys()
        self.zone_notice.begin()
        self.go("bench")

    def _connect(self) -> None:
        self.bar.wanted.connect(self.go)
        for screen, key in (SCREENS | LAST_SHOWN).items():
            shortcut = QShortcut(QKeySequence(key), self, lambda s=screen: self.go(s))
            self._keys[key] = shortcut
        self.stack.currentChanged.connect(lambda _n: self._lend_keys())
        self.bench.currentChanged.connect(lambda _n: self._lend_keys())
        QShortcut(QKeySequence("Ctrl+R"), self, lambda: self.go("round"))
        QShortcut(QKeySequence("F12"), self, self.sign_out)
        self.bar.sign_out.clicked.connect(self.sign_out)
        QShortcut(QKeySequence("F11"), self, self.switch_theme)
        self.changes.changed.connect(lambda _p, _v: self.status.show_fingerprint())
        self.changes.changed.connect(lambda _p, _v: self.zone_notice.refresh())
        self.scanner.scanned.connect(self.take_scan)
        self.scanner.entered.connect(self._alarm_of)
        self.bench.open_pack.connect(self.open_pack)
        self.bench.kept.connect(self.pack.show_pack)
        self.bench.conditions.elsewhere.connect(self.go)
        self.board.open_vehicle.connect(self.open_vehicle)
        self.board.asked_print.connect(lambda: self.orders.print_board(self.board.fleet))
        self.board.report_wanted.connect(self.begin_report)
        self.board.asked_second.connect(self.show_second)
        self.board.copy.told.connect(lambda text: self.statusBar().showMessage(text, 20_000))
        self.overview.open_pack.connect(self.open_pack)
        self.overview.open_vehicle.connect(self.open_vehicle)
        self.overview.asked_print.connect(self.orders.print_renewal)
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
        self.faults.asked_sheet.connect(self.orders.print_quarantine)
        self.faults.asked_job_sheet.connect(self.orders.print_job)
        self.bench.quarantined.connect(self.orders.print_quarantine)
        self.bench.work.drafts.job.connect(self.begin_job)
        self.ahead.open_pack.connect(self.open_pack)
        self.ahead.asked_claim.connect(lambda code: self.open_sheet("claim", code))
        self.ahead.asked_plan.connect(lambda: self.open_sheet("plan"))
        self.away.asked_sheet.connect(self.orders.print_quarantine)
        self.away.asked_van_sheet.connect(self.orders.print_van)
        self.keeping.backups.restore.asked_list.connect(self.orders.print_reentry)
        self.cases.open_pack.connect(self.open_pack)
        self.cases.asked_recall_sheet.connect(self.orders.print_recall)
        self.round.open_check.connect(self.begin_check)
        self.round.open_quarantine.connect(lambda code: self._to_faults(self.faults.quarantine, "pack", code))
        self.round.open_charger.connect(lambda code: self._to_faults(self.faults.chargers, "charger", code))
        self.round.asked_print.connect(self._print_round)
        self.setup.wanted.connect(self.go_for)
        self.this_pc.kept.connect(self._open_again)
        self.closing.stayed.connect(lambda: setattr(self, "opens_again", False))
        self.closing.unsaved_wanted.connect(self._show_unsaved)
        for asking in (self.bench, self.board.empty, self.packs.empty, self.vehicles.empty, self.overview.empty):
            asking.setup_wanted.connect(self.to_first_steps)

    def go(self, screen: str) -> None:
        """Show a screen and give it the focus it needs."""
        if self.clock_page.in_doubt():
            self._show_clock()
            return
        self.bar.mark(screen)
        shown = self.stack.widget(PLACES.index(screen))
        assert shown is not None
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
        first = getattr(shown, "first", None) or getattr(shown, "table", None) or _first_field(shown)
        if first is not None:
            first.setFocus()

    def sign_out(self) -> None:
        """Nobody is signed in any more; the bench asks who is next.  What was typed elsewhere stays there."""
        self.session.sign_in(None)
        self.go("bench")

    def _bench_works(self) -> bool:
        return self.stack.currentWidget() is self.bench and self.bench.at_work

    def _lend_keys(self) -> None:
        """While the bench is at work F8 and F9 are its own: all looks good, and the conditions of the shift."""
        for key in BENCH_KEYS & self._keys.keys():
            self._keys[key].setEnabled(not self._bench_works())
            self.bench.keys[key].setEnabled(self._bench_works())
        self.bar.name_tabs(bench_works=self._bench_works())

    def _show_clock(self) -> None:
        """Nothing goes on before somebody has said whether this clock is right."""
        self.clock_page.ask()
        self.stack.setCurrentWidget(self.clock_page)

    def _clock_answered(self, sentence: str) -> None:
        self.statusBar().showMessage(sentence, 20_000)
        self.bar.show_person()
        self.status.show_fingerprint()
        self.go("bench")

    def _to_sign_in(self) -> None:
        """To the bench, where people sign in, unless they are there."""
        if self.stack.currentWidget() is not self.bench:
            self.bar.mark("bench")
            self.stack.setCurrentWidget(self.bench)

    def open_pack(self, code: str) -> None:
        """Show one pack."""
        self.pack.show_pack(code)
        self.go("pack")

    def open_vehicle(self, code: str) -> None:
        """Show one vehicle."""
        self.vehicle.show_vehicle(code)
        self.go("vehicle")

    def begin_report(self, vehicle: str, pack: str) -> None:
        """A rider's report about a vehicle of the board."""
        self.go("faults")
        self.faults.begin_report(vehicle, pack)

    def begin_job(self, pack: str) -> None:
        """Go on with a guided reset that was left half-way."""
        self.go("faults")
        self.faults.begin_job(pack)

    def show_second(self, full: bool) -> None:
        """The board in a window of its own, for a second screen; it refreshes by itself."""
        made = BoardWindow(self.board.feed, self._app)
        self._second = [one for one in self._second if one.isVisible()] + [made]
        made.show_on_second(full=full)

    def open_sheet(self, kind: str, code: str = "") -> None:
        """Show a kind of sheet among the papers, and make it where nothing has to be read first."""
        self.go("papers")
        self.papers.show_sheet(kind, code)

    def begin_check(self, pack: str, vehicle: str) -> None:
        """A line of the round: its check at the bench, once somebody is signed in there."""
        self.go("bench")
        for code in (vehicle, pack):
            if code and self.bench.currentWidget() is self.bench.work and not self.bench.has_pack(pack):
                self.bench.take_text(code)

    def welcome(self, founder: str) -> None:
        """Whoever founded this fleet just now is signed in; the next steps are shown."""
        with self._app.store.view() as view:
            self.session.arrive(view.thing("person", founder))
        self.to_first_steps()

    def to_first_steps(self) -> None:
        """What the fleet still lacks."""
        self.go("setup")
        self.setup.go_to("steps")

    def go_for(self, what: str) -> None:
        """A step of the set-up that is done on another screen."""
        if what in ("person", "pack"):
            self.go("identity")
            tab = self.identity.people if what == "person" else self.identity.new_pack
            self.identity.show_tab(tab)
        elif what == "labels":
            self.go("papers")
            self.papers.tabs.setCurrentWidget(self.papers.labels)
        elif what == "hours":
            self.go("round")
            self.round.show_plans()
        else:
            self.go("bench")

    def _to_faults(self, page: QWidget, thing_class: str, code: str) -> None:
        self.go("faults")
        self.faults.show_page(page)  # type: ignore[arg-type]
        page.take(thing_class, code)  # type: ignore[attr-defined]

    # scans

    def take_scan(self, text: str) -> None:
        """A scan: the bench takes it while it works, the papers what they are made of; elsewhere it opens what it names."""
        shown = self.stack.currentWidget()
        self._alarm_of(text)
        if shown is self.clock_page:
            self.clock_page.take_scan(text)
            return
        if shown in (self.bench, self.papers) and shown.take_scan(text):
            return
        if shown in (self.faults, self.cases, self.away, self.parts, self.round, self.setup) and shown.take_scan(text):
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

    def _alarm_of(self, text: str) -> None:
        alarm = scan_alarm(self._app.store, text)
        if alarm is not None:
            self.alarm.raise_alarm(say(alarm))

    def _print_round(self) -> None:
        page = self.round.today
        self.orders.print_round(page.chosen_depot, page.chosen_person, page.by_bay.isChecked())

    @property
    def paper(self) -> PaperDialog | None:
        """The paper that is shown in front of the window, or None."""
        return self.orders.shown

    # the frame

    def _open_again(self) -> None:
        self.opens_again = True
        self.close()

    def switch_theme(self) -> None:
        """Light or dark, remembered."""
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        chosen = "dark" if theme.current() == "light" else "light"
        theme.apply(app, chosen, self._app.settings.text_percent)
        preferences.save(replace(preferences.load(), theme=chosen))

    @property
    def question(self) -> ChoiceDialog | None:
        """The question before closing that was asked last."""
        return self.closing.question

    def _show_unsaved(self, kind: str, code: str) -> None:
        """What is typed and not recorded, instead of closing."""
        self.go("setup")
        self.setup.go_to(kind)
        self.setup.thing_page(kind).show_unsaved(code)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Qt's hook: ask what is to be asked; wait for readings that are under way."""
        if not self.closing.may_close():
            event.ignore()
            return
        self._app.store.when_held(None)
        self.papers.stop()
        for one in self._second:
            one.close()
        if self.paper is not None:
            self.paper.close()
        self.keeping.sheets.let_go()
        QThreadPool.globalInstance().waitForDone(-1 if self.keeping.sheets.settling else 5000)
        self.papers.let_go()
        super().closeEvent(event)


def _first_field(screen: QWidget) -> QWidget | None:
    """The first field in view of a screen that names no other place for the cursor."""
    return next((one for one in screen.findChildren(QLineEdit) if one.isVisible() and one.isEnabled()), None)


def first_focus(window: MainWindow, founder: str = "") -> None:
    """Put the cursor where the work begins once the window is up; the board is read behind it, so that F2 need not wait.

    Whoever has founded the fleet just now is signed in and sees what it lacks.
    """
    QTimer.singleShot(0, window, lambda: window.welcome(founder) if founder else window.go("bench"))
    QTimer.singleShot(READ_AHEAD_MS, window.board.refresh)
