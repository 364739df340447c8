"""Beside the tiles: the selected vehicle, or one of four lists that a dispatcher asks for each morning."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import (
    QGridLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fleetcare.domain.wording import Message, msg, say, show_day_time, word
from fleetcare.services.shown import FleetSummary
from fleetcare.services.since_seen import Changed, SinceSeen
from fleetcare.ui.board.details import Details
from fleetcare.ui.board.feed import Reading
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.unbroken import UnbrokenDelegate

LISTS = ("changed", "week", "unfinished", "fewer")
ENTRY_AIR_PX = 5
"""Above and below a line, so that a finger or a tired hand hits the right one (24 pixels at least, WCAG 2.2, 2.5.8)."""
MOST_LINES = 300
"""Lines of one list; what is beyond is counted."""

Entry = tuple[str, str | None]
"""A line, and the vehicle it is about ("": none; None: it is a heading)."""


def change_text(one: Changed) -> str:
    """ "EB-12: ready → grounded: … (Dunn, 06:10)" """
    before = msg("board.new") if one.was is None else msg(f"board_state.{one.was.state.value}")
    told: Message = msg(
        "board.change", vehicle=one.vehicle, before=before, after=msg(f"board_state.{one.now.state.value}")
    )
    if one.now.reasons:
        told = msg("board.change_why", change=told, reason=one.now.reasons[0].text)
    if one.at is not None:
        key = "board.change_by_rule" if one.by_rule else "board.change_by"
        told = msg(key, change=told, person=one.by, at=show_day_time(one.at))
    return say(told)


class SidePanel(Card):
    """Four buttons with counts on top; under them the vehicle or the list."""

    vehicle_wanted = Signal(str)
    seen = Signal(int)
    """The person has seen the board up to this position."""

    def __init__(self, *, large: bool = False) -> None:
        """`large` letters: narrower in them, and without the four buttons, which are `chips` for somebody else to place."""
        super().__init__()
        self.details = Details(large=large)
        self.chips = {name: QPushButton() for name in LISTS}
        grid = QGridLayout()
        grid.setSpacing(6)
        for number, (name, chip) in enumerate(self.chips.items()):
            chip.setCheckable(True)
            chip.clicked.connect(lambda on, n=name: self.show_list(n if on else ""))
            if not large:
                grid.addWidget(chip, number // 2, number % 2)
        self.heading = words(size=1.15, bold=True)
        self.entries = QListWidget()
        self.entries.setWordWrap(True)
        self.entries.setItemDelegate(UnbrokenDelegate(self.entries))
        self.entries.setUniformItemSizes(False)
        self.entries.setStyleSheet(f"QListWidget::item {{ padding: {ENTRY_AIR_PX}px 2px; }}")
        self.entries.setAccessibleName(word("board.changed"))
        self.entries.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.entries.itemActivated.connect(self._wanted)
        self.entries.itemClicked.connect(self._wanted)
        self.tick = QPushButton(word("board.seen"))
        self.tick.clicked.connect(lambda: self._since is not None and self.seen.emit(self._since.position))
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.heading)
        column.addWidget(self.entries, 1)
        column.addWidget(self.tick)
        self.stack = QStackedWidget()
        self.stack.addWidget(self.details)
        self.stack.addWidget(page)
        self.column.addLayout(grid)
        self.column.addWidget(self.stack, 1)
        self._since: SinceSeen | None = None
        self._lists: dict[str, list[Entry]] = {name: [] for name in LISTS}
        self._headings = {name: "" for name in LISTS}
        self._shown = ""
        self.setFixedWidth(min(QFontMetrics(sized(1.0)).averageCharWidth() * 43 + 32, 480 if large else 500))
        for name in LISTS:
            self._count(name, 0)

    def _count(self, name: str, count: int | str) -> None:
        self.chips[name].setText(say(msg("board.chip", what=msg(f"board.{name}"), count=count)))

    @property
    def shows_list(self) -> bool:
        """True while a list is in view and not a vehicle."""
        return bool(self._shown)

    def texts(self, name: str) -> list[str]:
        """The lines of one list."""
        return [text for text, _code in self._lists[name]]

    def show_list(self, name: str) -> None:
        """Show a list, or with "" the vehicle."""
        self._shown = name
        for one, chip in self.chips.items():
            chip.setChecked(one == name)
        self.stack.setCurrentIndex(1 if name else 0)
        if not name:
            return
        self.heading.setText(self._headings[name])
        self.tick.setVisible(name == "changed")
        self.tick.setEnabled(bool(self._lists[name]))
        self.entries.setAccessibleName(self._headings[name])
        self.entries.clear()
        lines = self._lists[name]
        for text, code in lines[: 2 * MOST_LINES] or [(word(f"board.nothing_{_nothing(name)}"), "")]:
            item = QListWidgetItem(text)
            item.setData(Qt.ItemDataRole.UserRole, code)
            if code is None:
                item.setFont(sized(1.0, bold=True))
                item.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self.entries.addItem(item)
        if len(lines) > 2 * MOST_LINES:
            self.entries.addItem(say(msg("board.more", count=len(lines) - 2 * MOST_LINES)))

    def _wanted(self, item: QListWidgetItem) -> None:
        code = item.data(Qt.ItemDataRole.UserRole)
        if code:
            self.vehicle_wanted.emit(code)

    def _renew(self, name: str, heading: str, entries: list[Entry], count: int | str) -> None:
        self._headings[name], self._lists[name] = heading, entries
        self._count(name, count)
        if self._shown == name:
            self.show_list(name)

    def take(self, reading: Reading) -> None:
        """Fill the lists that come with a reading of the board."""
        fleet = reading.fleet
        week: list[Entry] = []
        for day, codes in reading.week:
            week.append((say(msg("board.due_day", due_date=f"{day:%a} {day.day} {day:%b}", count=len(codes))), None))
            week += [(code, code) for code in codes[:MOST_LINES]]
            if len(codes) > MOST_LINES:
                week.append((say(msg("board.more", count=len(codes) - MOST_LINES)), ""))
        due = sum(len(codes) for _day, codes in reading.week)
        self._renew("week", word("board.week_heading"), week, "…" if fleet.unread else due)
        drafts: list[Entry] = [
            (say(msg("screen.draft", person=who, subject=what, at=at)), reading.drafted.get(what, ""))
            for who, what, at in fleet.drafts
        ]
        self._renew("unfinished", word("board.unfinished_heading"), drafts, len(drafts))
        fewer: list[Entry] = [
            (
                say(msg("board.fewer_line", vehicle=line.vehicle.code, reason=line.status.reasons[0].text)),
                line.vehicle.code,
            )
            for line in reading.fewer
        ]
        self._renew("fewer", word("board.fewer_heading"), fewer, len(fewer))

    def take_changes(self, since: SinceSeen) -> None:
        """Fill the list of what changed."""
        self._since = since
        key = "board.changed_not_ready" if since.only_not_ready else "board.changed_heading"
        heading = say(msg(key, at=show_day_time(since.since)))
        entries: list[Entry] = [(change_text(one), one.vehicle) for one in since.changed[:MOST_LINES]]
        if len(since.changed) > MOST_LINES:
            entries.append((say(msg("board.more", count=len(since.changed) - MOST_LINES)), ""))
        self._renew("changed", heading, entries, len(since.changed))

    def show_vehicle(self, line, fleet: FleetSummary | None, *, stale: bool) -> None:  # type: ignore[no-untyped-def]
        """Show one vehicle in place of a list."""
        self.show_list("")
        self.details.show_line(line, fleet, stale=stale)

    def sizeHint(self) -> QSize:
        """Qt's hook."""
        return QSize(self.width(), 400)


def _nothing(name: str) -> str:
    return {"week": "due"}.get(name, name)
