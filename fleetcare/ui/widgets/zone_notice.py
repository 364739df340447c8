"""Said over every screen while this PC's clock shows another time of day than the depot's, until somebody has seen it."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import say, word
from fleetcare.services.clock import zones_apart
from fleetcare.ui import colours
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words

MINUTE_MS = 60_000
"""So often its times go on."""


class ZoneNotice(QFrame):
    """A line with both times and where the depot's zone is changed; it goes when the zone is put right, or by its button.

    It does not take the focus, so that typing goes on where it was.
    """

    def __init__(self, app: App, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._app = app
        self.setObjectName("zone")
        fill = colours.CAUTION.fill
        self.setStyleSheet(f"QFrame#zone {{ border: 2px solid {fill}; background: palette(base); }}")
        badge = Badge()
        badge.show_state(colours.CAUTION, word("window.zone"))
        self.told = words()
        self.seen = QPushButton(word("window.zone_seen"))
        self.seen.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.seen.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 4, 12, 4)
        row.setSpacing(12)
        row.addWidget(badge)
        row.addWidget(self.told, 1)
        row.addWidget(self.seen)
        self._timer = QTimer(self)
        self._timer.setInterval(MINUTE_MS)
        self._timer.timeout.connect(self.refresh)
        self.hide()

    def begin(self) -> None:
        """Say it where the zones are apart, once as the window opens."""
        self._show(self._read())
        if not self.isHidden():
            self._timer.start()
            QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))

    def refresh(self) -> None:
        """While it stands: read again, and go once the zones agree.  A notice that was dismissed stays away."""
        if self.isHidden():
            self._timer.stop()
        else:
            self._show(self._read())

    def _show(self, text: str) -> None:
        self.told.setText(text)
        self.setAccessibleName(text)
        self.setVisible(bool(text))

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
