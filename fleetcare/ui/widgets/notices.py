"""Notices over every screen: the alarm, and that this PC's clock shows another time of day than the depot's."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton

from fleetcare.app import App
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import say, word
from fleetcare.services.clock import zones_apart
from fleetcare.ui import colours
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words

MINUTE_MS = 60_000
"""So often the times of a zone notice go on."""


class Notice(QFrame):
    """Edge, shape and words, never colour alone, and a button that puts it away.

    It does not take the focus, so that typing goes on where it was.
    """

    def __init__(
        self, mark: colours.Mark, key: str, *, edge_px: int, size: float = 1.0, bold: bool = False, air_px: int = 4
    ) -> None:
        super().__init__()
        self.setObjectName("notice")
        self.setStyleSheet(f"QFrame#notice {{ border: {edge_px}px solid {mark.fill}; background: palette(base); }}")
        badge = Badge()
        badge.show_state(mark, word(f"window.{key}"))
        self.told = words(size=size, bold=bold)
        self.seen = QPushButton(word(f"window.{key}_seen"))
        self.seen.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.seen.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, air_px, 12, air_px)
        row.setSpacing(12)
        row.addWidget(badge)
        row.addWidget(self.told, 1)
        row.addWidget(self.seen)
        self.hide()

    def tell(self, text: str) -> None:
        """Show `text`; nothing to say: go."""
        self.told.setText(text)
        self.setAccessibleName(text)
        self.setVisible(bool(text))

    def call_out(self) -> None:
        """Have a screen reader read it now."""
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))


class AlarmBar(Notice):
    """It stays until somebody has answered that they saw it."""

    def __init__(self) -> None:
        super().__init__(colours.DANGER, "alarm", edge_px=3, size=1.1, bold=True, air_px=8)

    def raise_alarm(self, text: str) -> None:
        """Show `text` until the button is pressed; a later alarm takes its place."""
        self.tell(text)
        self.call_out()


class ZoneNotice(Notice):
    """Both times and where the depot's zone is changed; it goes when the zone is put right, or by its button."""

    def __init__(self, app: App) -> None:
        super().__init__(colours.CAUTION, "zone", edge_px=2)
        self._app = app
        self._timer = QTimer(self)
        self._timer.setInterval(MINUTE_MS)
        self._timer.timeout.connect(self.refresh)

    def begin(self) -> None:
        """Say it where the zones are apart, once as the window opens."""
        self.tell(self._read())
        if not self.isHidden():
            self._timer.start()
            self.call_out()

    def refresh(self) -> None:
        """While it stands: read again, and go once the zones agree.  A notice that was dismissed stays away."""
        if self.isHidden():
            self._timer.stop()
        else:
            self.tell(self._read())

    def _read(self) -> str:
        """The sentence, or nothing; while the file cannot be read, what stands."""
        if self._app.pc_clock is None:
            return ""
        try:
            with self._app.store.view() as view:
                apart = zones_apart(view, self._app.pc_clock)
        except FileRefused:
            return self.told.text()
        return "" if apart is None else say(apart.statement)
