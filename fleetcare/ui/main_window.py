"""The window: places the screens, joins their signals, and knows them all."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAction, QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QLineEdit,
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
from fleetcare.domain.packs import Level, Role
from fleetcare.domain.wording import apart, msg, say, word
from fleetcare.services import places, proving, sheets
from fleetcare.services.clock import TrustedClock
from fleetcare.services.identify import identify, is_known, scan_alarm
from fleetcare.ui import theme
from fleetcare.ui.ahead.ahead_screen import AheadScreen
from fleetcare.ui.away.away_screen import AwayScreen
from fleetcare.ui.background import share_fairly
from fleetcare.ui.bench.bench_screen import BenchScreen
from fleetcare.ui.board.board_screen import BoardScreen
from fleetcare.ui.board.board_window import BoardWindow
from fleetcare.ui.cases.cases_screen import CasesScreen
from fleetcare.ui.changes import Changes
from fleetcare.ui.clock_page import ClockPage
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
from fleetcare.ui.theme import sized
from fleetcare.ui.this_pc import ThisPcScreen
from fleetcare.ui.vehicle.vehicle_page import VehicleScreen
from fleetcare.ui.widgets.dialogs import ChoiceDialog
from fleetcare.ui.widgets.elided import Elided
from fleetcare.ui.widgets.held_file import HeldFile
from fleetcare.ui.widgets.literal import literal
from fleetcare.ui.widgets.notices import AlarmBar, ZoneNotice
from fleetcare.ui.widgets.unbroken import unbroken

SCREENS = {
    "bench": "F1", "board": "F2", "packs": "F3", "vehicles": "F4", "faults": "F7", "round": "F8", "overview": "F9",
}  # fmt: skip
"""Screens with a button in the bar, and their keys."""
LAST_SHOWN = {"pack": "F5", "vehicle": "F6"}
"""The pack and the vehicle shown last: on their keys, without a button."""
READ_AHEAD_MS = 1500
"""When the board is read for the first time, after the window is up."""
BENCH_KEYS = frozenset({"F8", "F9"})
"""The bench keeps these for itself while it is at work; Ctrl+R opens the round from there too."""
MORE = {
    "papers": "Ctrl+H", "ahead": "Ctrl+P", "identity": "Ctrl+I", "meters": "Ctrl+M", "sheets": "Ctrl+E", "keeping": "Ctrl+K",
    "away": "Ctrl+L", "parts": "Ctrl+T",
    "cases": "Ctrl+D", "setup": "Ctrl+N", "this_pc": "Ctrl+,",
}  # fmt: skip
"""Screens needed less often: in a menu, with their keys."""

MESSAGE_EDGE = 8
"""Air at the ends of the status bar."""

PLACES = (*SCREENS, *MORE, *LAST_SHOWN)
"""Every screen in the order in which the window stacks them."""


class MainWindow(QMainWindow):
    """One fleet, one signed-in person, the screens on keys F1 to F9 and in the menu."""

    def __init__(self, app: App) -> None:
        super().__init__()
        share_fairly()
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
        self._tabs = QButtonGroup(self)
        self._keys: dict[str, QShortcut] = {}
        self._second: list[BoardWindow] = []
        self._let_go = False
        self.question: ChoiceDialog | None = None
        """The question about unrecorded text that was asked last."""
        self.alarm = AlarmBar()
        self.zone_notice = ZoneNotice(app)
        self.who = Elided()
        self.sign_out = QPushButton(word("window.sign_out"))
        self.fingerprint = QLabel()
        self.fingerprint.setProperty("role", "quiet")
        self.fingerprint.setContentsMargins(0, 0, MESSAGE_EDGE, 0)
        centre = QWidget()
        column = QVBoxLayout(centre)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self._bar())
        column.addWidget(self.alarm)
        column.addWidget(self.zone_notice)
        column.addWidget(self.stack, 1)
        self.setCentralWidget(centre)
        self.on_network = Elided()
        self.on_network.setProperty("role", "wrong")
        self.on_network.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.statusBar().addWidget(self.on_network, 1)
        self.statusBar().addPermanentWidget(self.fingerprint)
        self._warn_of_network()
        self.scanner = Scanner(self, lambda text: is_known(app.store, text))
        self._connect()
        self.resize(1366, 740)
        self._show_person()
        self._show_fingerprint()
        self._lend_keys()
        self.zone_notice.begin()
        self.go("bench")

    def _warn_of_network(self) -> None:
        """A fleet file on a share is no safe place; that is said on every screen."""
        kind = places.network_kind(self._app.store.path)
        self.on_network.setText("" if kind is None else say(msg("window.on_network", kind=kind)))
        self.on_network.setVisible(kind is not None)

    def _bar(self) -> QWidget:
        bar = QWidget()
        row, tabs = QHBoxLayout(), QHBoxLayout()
        for part in (row, tabs):
            part.setSpacing(6)
        name = QLabel(self._app.store.fleet_name)
        name.setTextFormat(Qt.TextFormat.PlainText)
        name.setFont(sized(1.15, bold=True))
        row.addWidget(name)
        if self._app.store.demo:
            demo = QLabel(word("program.demo"))
            demo.setFont(sized(1.0, bold=True))
            demo.setStyleSheet("border: 2px solid palette(window-text); border-radius: 4px; padding: 1px 8px;")
            row.addWidget(demo)
        row.addSpacing(14)
        large = self._app.settings.text_percent > 125
        for number, key in enumerate(SCREENS.values()):
            button = QPushButton(self._tab_words(number))
            button.setToolTip(key)
            button.setCheckable(True)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.setStyleSheet("padding: 5px 8px;")
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
        tabs.addStretch(1)
        row.addStretch(0 if not large else 1)
        row.addWidget(self.who, 1)
        row.addWidget(self.sign_out)
        column = QVBoxLayout(bar)
        column.setContentsMargins(12, 8, 12, 6)
        column.addLayout(row)
        if large:
            column.addLayout(tabs)
        return bar

    def _tab_words(self, number: int) -> str:
        """A screen's name with its key; without it in large text, and on the bench where the bench has that key."""
        screen, key = list(SCREENS.items())[number]
        name = word(f"window.{screen}")
        taken = key in BENCH_KEYS and self._bench_works()
        return name if taken or self._app.settings.text_percent > 150 else f"{name}  {key}"

    def _connect(self) -> None:
        self._tabs.idClicked.connect(lambda number: number < len(SCREENS) and self.go(PLACES[number]))
        for screen, key in (SCREENS | LAST_SHOWN).items():
            shortcut = QShortcut(QKeySequence(key), self, lambda s=screen: self.go(s))
            self._keys[key] = shortcut
        self.stack.currentChanged.connect(lambda _n: self._lend_keys())
        self.bench.currentChanged.connect(lambda _n: self._lend_keys())
        QShortcut(QKeySequence("Ctrl+R"), self, lambda: self.go("round"))
        QShortcut(QKeySequence("F12"), self, lambda: self.session.sign_in(None))
        QShortcut(QKeySequence("F11"), self, self.switch_theme)
        self.sign_out.clicked.connect(lambda: self.session.sign_in(None))
        self.session.person_changed.connect(self._show_person)
        self.session.person_changed.connect(self._show_fingerprint)
        self.changes.changed.connect(lambda _p, _v: self._show_fingerprint())
        self.changes.changed.connect(lambda _p, _v: self.zone_notice.refresh())
        self.statusBar().messageChanged.connect(self._make_room)
        self.scanner.scanned.connect(self.take_scan)
        self.scanner.entered.connect(self._alarm_of)
        self.bench.open_pack.connect(self.open_pack)
        self.bench.kept.connect(self.pack.show_pack)
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
        for screen in (self.bench, self.board.empty, self.packs.empty, self.vehicles.empty, self.overview.empty):
            screen.setup_wanted.connect(self.to_first_steps)

    def go(self, screen: str) -> None:
        """Show a screen and give it the focus it needs."""
        if self.clock_page.in_doubt():
            self._show_clock()
            return
        number = PLACES.index(screen)
        if screen in LAST_SHOWN:
            self._tabs.button(PLACES.index(f"{screen}s")).setChecked(True)
        else:
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
        first = getattr(shown, "first", None) or getattr(shown, "table", None) or _first_field(shown)
        if first is not None:
            first.setFocus()

    def _bench_works(self) -> bool:
        return self.stack.currentWidget() is self.bench and self.bench.at_work

    def _lend_keys(self) -> None:
        """While the bench is at work F8 and F9 are its own: all looks good, and the conditions of the shift."""
        for key in BENCH_KEYS & self._keys.keys():
            self._keys[key].setEnabled(not self._bench_works())
            self.bench.keys[key].setEnabled(self._bench_works())
        for number in range(len(SCREENS)):
            self._tabs.button(number).setText(self._tab_words(number))

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

    def _show_person(self) -> None:
        person = self.session.person
        if person is None:
            self.who.setText(word("window.nobody"))
        else:
            level = person.level_on(self._app.clock().date())
            told = word(f"level.{level.value}")
            if level is Level.NONE and person.roles:
                told = ", ".join(word(f"role.{role.value}") for role in person.roles)
            self.who.setText(f"{apart(person.name)}, {told}")
        self.sign_out.setEnabled(person is not None)

    def _show_fingerprint(self) -> None:
        with self._app.store.view() as view:
            short = view.head().short
            person = self.session.person
            manager = person is not None and Role.MANAGER in person.roles
            due = proving.lodging_due(view, self._app.clock()) if manager else None
        text = say(msg("window.fingerprint", fingerprint=short))
        self.fingerprint.setText(text if due is None else f"{text} · {say(due)}")

    def _make_room(self, told: str) -> None:
        """A message too long to stand beside the fingerprint has the whole line while it is shown; it is the line's tip."""
        needed = self.statusBar().fontMetrics().horizontalAdvance(told) + self.fingerprint.sizeHint().width()
        self.fingerprint.setVisible(needed + 3 * MESSAGE_EDGE < self.statusBar().width())
        self.statusBar().setToolTip(literal(told))

    def _ask_unsaved(self, unsaved: dict[str, tuple[str, ...]]) -> None:
        """What is typed in set-up forms and not recorded is named, and the program stays open until somebody says."""
        named = [
            msg("window.unsaved_one" if code else "window.unsaved_new", what=msg(f"class.{kind}"), code=code)
            for kind, codes in unsaved.items()
            for code in codes
        ]
        kind, (code, *_) = next(iter(unsaved.items()))
        self.question = ask = ChoiceDialog(
            self, word("window.unsaved_title"), say(msg("window.unsaved", what=tuple(named))),
            stay=word("window.unsaved_stay"), go_on=word("window.unsaved_close"),
        )  # fmt: skip
        # once the question is gone and the window has the focus again
        ask.rejected.connect(lambda: QTimer.singleShot(0, self, lambda: self._show_unsaved(kind, code)))
        ask.accepted.connect(self.close_without)
        ask.open()

    def _show_unsaved(self, kind: str, code: str) -> None:
        self.opens_again = False
        self.go("setup")
        self.setup.go_to(kind)
        self.setup.thing_page(kind).show_unsaved(code)

    def close_without(self) -> None:
        """Close, and let go what is typed and not recorded."""
        self._let_go = True
        self.close()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Qt's hook: ask about what is typed in set-up and not recorded; wait for readings that are under way."""
        from PySide6.QtCore import QThreadPool

        unsaved = {} if self._let_go else self.setup.unsaved()
        if unsaved:
            event.ignore()
            self._ask_unsaved(unsaved)
            return
        sheets = self.keeping.sheets
        asked = None if self._let_go else sheets.ask_before_closing(self, self.close_without)
        if asked is not None:
            self.question = asked
            asked.rejected.connect(lambda: setattr(self, "opens_again", False))
            event.ignore()
            return
        if not self.bench.put_aside() and not self._close_anyway():
            self._let_go = self.opens_again = False  # the window stays: the next close asks again
            event.ignore()
            return
        self._app.store.when_held(None)
        self.papers.stop()
        for one in self._second:
            one.close()
        if self.paper is not None:
            self.paper.close()
        sheets.let_go()
        QThreadPool.globalInstance().waitForDone(-1 if sheets.settling else 5000)
        self.papers.let_go()
        super().closeEvent(event)

    def _close_anyway(self) -> bool:
        """What is typed could not be kept on the disk: the person says whether the window closes."""
        told = msg("window.not_kept_close", why=self.bench.work.wrong.text())
        box = QMessageBox(QMessageBox.Icon.Warning, word("program.title"), literal(unbroken(say(told))), parent=self)
        close = box.addButton(word("window.close_anyway"), QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(box.addButton(word("window.stay_open"), QMessageBox.ButtonRole.RejectRole))
        box.exec()
        return box.clickedButton() is close


def _first_field(screen: QWidget) -> QWidget | None:
    """The first field in view of a screen that names no other place for the cursor."""
    return next((one for one in screen.findChildren(QLineEdit) if one.isVisible() and one.isEnabled()), None)


def first_focus(window: MainWindow, founder: str = "") -> None:
    """Put the cursor where the work begins once the window is up; the board is read behind it, so that F2 need not wait.

    Whoever has founded the fleet just now is signed in and sees what it lacks.
    """
    QTimer.singleShot(0, lambda: window.welcome(founder) if founder else window.go("bench"))
    QTimer.singleShot(READ_AHEAD_MS, window.board.refresh)
