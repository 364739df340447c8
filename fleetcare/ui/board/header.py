"""The top of the board: counts that add up to the fleet, and how fresh it is, large."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLayout, QVBoxLayout, QWidget

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.ui import colours
from fleetcare.ui.board.columns import ORDER
from fleetcare.ui.board.feed import BoardFeed
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.flow import Flow
from fleetcare.ui.widgets.literal import literal

STATE_MARK = {
    BoardState.GROUNDED: colours.FAULT,
    BoardState.LIMITED: colours.CAUTION,
    BoardState.READY_BUT_DUE: colours.ACTION,
    BoardState.READY: colours.GOOD,
}


class Header(QWidget):
    """Follows a feed; with `large` letters what has no room goes on in a further line."""

    def __init__(self, feed: BoardFeed, *, large: bool, scale: float = 1.0) -> None:
        super().__init__()
        self._feed = feed
        if large:
            scale *= 0.8
        self.as_of = words(size=1.7 * scale, bold=True)
        self.as_of.setWordWrap(False)
        self.old = words(size=1.3 * scale, bold=True)
        """How old a board is that is not to be relied on; in the whole width, so that nothing is pushed off the screen."""
        self.old.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.old.hide()
        self.as_of.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.total = words(size=1.3 * scale, bold=True)
        self.total.setWordWrap(False)
        self.badges: dict[BoardState, Badge] = {}
        top: QLayout = Flow(10) if large else QHBoxLayout()
        top.addWidget(self.total)
        for state in ORDER[::-1]:
            badge = self.badges[state] = Badge()
            badge.setFont(sized(1.2 * scale, bold=True))
            top.addWidget(badge)
            if isinstance(top, QHBoxLayout):
                top.addSpacing(4)
        if isinstance(top, QHBoxLayout):
            top.addStretch(1)
        top.addWidget(self.as_of)
        self.away = words()
        self.away.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addWidget(self.old)
        column.addWidget(self.away)

    def renew(self) -> bool:
        """Show counts and age as they are now; returns True while the board is too old to be relied on."""
        fleet = self._feed.fleet
        if fleet is None:
            return False
        stale = self._feed.stale
        self.total.setText(say(msg("screen.counts_are", total_vehicles=fleet.total)))
        for state, badge in self.badges.items():
            values = {"count": fleet.counts[state], "state": word(f"board_state.{state.value}")}
            if stale:
                badge.show_state(colours.UNKNOWN, say(msg("board.was_count", **values)))
            else:
                badge.show_state(STATE_MARK[state], f"{values['count']:,} {values['state']}")
        self.away.setText("" if fleet.away_told is None else say(fleet.away_told))
        self.away.setVisible(fleet.away_told is not None)
        text = say(msg("window.as_of", at_time=f"{fleet.as_of:%H:%M}"))
        if stale:
            told = [_old(int(self._feed.age.total_seconds() // 60))]
            told += [say(msg("board.no_contact", why=self._feed.why))] if self._feed.why else []
            self.old.setText(" · ".join(told))
        self.old.setVisible(stale)
        self.as_of.setText(text)
        tip = show_moment(fleet.as_of)
        if self._feed.why:
            tip = f"{tip} · {say(msg('board.no_contact', why=self._feed.why))}"
        self.as_of.setToolTip(literal(tip))
        return stale


def _old(minutes: int) -> str:
    """How old a board is that nobody should rely on: in minutes, from two hours on in hours, from two days on in days."""
    if minutes < 120:
        return say(msg("screen.stale", old_minutes=minutes))
    unit, number = ("hours", minutes // 60) if minutes < 2880 else ("days", minutes // 1440)
    return word(f"board.copy_old_{unit}").replace("#", str(number))
