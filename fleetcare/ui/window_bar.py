"""The bar on top of the window: the fleet, a button for each screen with its key, who is signed in."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLabel, QMenu, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.packs import Level
from fleetcare.domain.wording import apart, word
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.elided import Elided

SCREENS = {
    "bench": "F1", "board": "F2", "packs": "F3", "vehicles": "F4", "faults": "F7", "round": "F8", "overview": "F9",
}  # fmt: skip
"""Screens with a button in the bar, and their keys."""
LAST_SHOWN = {"pack": "F5", "vehicle": "F6"}
"""The pack and the vehicle shown last: on their keys, without a button."""
BENCH_KEYS = frozenset({"F8", "F9"})
"""The bench keeps these for itself while it is at work; Ctrl+R opens the round from there too."""
MORE = {
    "papers": "Ctrl+H", "ahead": "Ctrl+P", "identity": "Ctrl+I", "meters": "Ctrl+M", "sheets": "Ctrl+E", "keeping": "Ctrl+K",
    "away": "Ctrl+L", "parts": "Ctrl+T",
    "cases": "Ctrl+D", "setup": "Ctrl+N", "this_pc": "Ctrl+,",
}  # fmt: skip
"""Screens needed less often: in a menu, with their keys."""


class WindowBar(QWidget):
    """`wanted` says which screen somebody chose."""

    wanted = Signal(str)

    def __init__(self, app: App, session: Session) -> None:
        super().__init__()
        self._app, self._session = app, session
        self._bench_works = False
        self._shown = ""
        self._tabs = QButtonGroup(self)
        self.who = Elided()
        self.sign_out = QPushButton(word("window.sign_out"))
        self.more = QPushButton(word("window.more"))
        self._lay_out()
        self._tabs.idClicked.connect(lambda number: number < len(SCREENS) and self.wanted.emit(list(SCREENS)[number]))
        session.person_changed.connect(self.show_person)
        self.show_person()

    def _lay_out(self) -> None:
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
        self.more.setCheckable(True)
        self.more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._tabs.addButton(self.more, len(SCREENS))
        menu = QMenu(self.more)
        one_of = QActionGroup(self)
        one_of.setExclusionPolicy(QActionGroup.ExclusionPolicy.ExclusiveOptional)
        for screen, key in MORE.items():
            action = QAction(word(f"window.{screen}"), self)
            action.setShortcut(QKeySequence(key))
            action.setCheckable(True)
            action.setData(screen)
            one_of.addAction(action)
            action.triggered.connect(lambda _on=False, s=screen: self.wanted.emit(s))
            menu.addAction(action)
            self.addAction(action)
        menu.aboutToShow.connect(lambda: self._tick(menu))
        self.more.setMenu(menu)
        (tabs if large else row).addWidget(self.more)
        tabs.addStretch(1)
        row.addWidget(self.who, 1)
        row.addWidget(self.sign_out)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 6)
        column.addLayout(row)
        if large:
            column.addLayout(tabs)

    def _tab_words(self, number: int) -> str:
        """A screen's name with its key; without it in large text, and on the bench where the bench has that key."""
        screen, key = list(SCREENS.items())[number]
        name = word(f"window.{screen}")
        taken = key in BENCH_KEYS and self._bench_works
        return name if taken or self._app.settings.text_percent > 150 else f"{name}  {key}"

    def name_tabs(self, *, bench_works: bool) -> None:
        """Name the screens' buttons with their keys, as the bench lends or keeps those."""
        self._bench_works = bench_works
        for number in range(len(SCREENS)):
            self._tabs.button(number).setText(self._tab_words(number))

    def mark(self, screen: str) -> None:
        """Show which screen is in view: on its own button, a pack or vehicle on that of its list, others on the menu's,
        where a tick names it."""
        self._shown = screen
        shown = list(SCREENS)
        name = f"{screen}s" if screen in LAST_SHOWN else screen
        self._tabs.button(shown.index(name) if name in shown else len(SCREENS)).setChecked(True)

    def _tick(self, menu: QMenu) -> None:
        """Tick the screen in view, and no other; the menu's own ticking of what was chosen says nothing."""
        for action in menu.actions():
            action.setChecked(action.data() == self._shown)

    def show_person(self) -> None:
        """Name who is signed in, and as what."""
        person = self._session.person
        if person is None:
            self.who.setText(word("window.nobody"))
        else:
            level = person.level_on(self._app.clock().date())
            told = word(f"level.{level.value}")
            if level is Level.NONE and person.roles:
                told = ", ".join(word(f"role.{role.value}") for role in person.roles)
            self.who.setText(f"{apart(person.name)}, {told}")
        self.sign_out.setEnabled(person is not None)
