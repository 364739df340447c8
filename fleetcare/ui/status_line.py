"""The line at the foot of the window: messages, the fingerprint, and that the file lies on a network drive."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QStatusBar

from fleetcare.app import App
from fleetcare.domain.packs import Role
from fleetcare.domain.wording import msg, say
from fleetcare.services import places, proving
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.elided import Elided
from fleetcare.ui.widgets.literal import literal

MESSAGE_EDGE = 8
"""Air at the ends of the status bar."""


class StatusLine(QStatusBar):
    """What stands below every screen."""

    def __init__(self, app: App, session: Session) -> None:
        super().__init__()
        self._app, self._session = app, session
        self.fingerprint = QLabel()
        self.fingerprint.setProperty("role", "quiet")
        self.fingerprint.setContentsMargins(0, 0, MESSAGE_EDGE, 0)
        self.on_network = Elided()
        self.on_network.setProperty("role", "wrong")
        self.on_network.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.addWidget(self.on_network, 1)
        self.addPermanentWidget(self.fingerprint)
        self._warn_of_network()
        self.messageChanged.connect(self._make_room)
        session.person_changed.connect(self.show_fingerprint)
        self.show_fingerprint()

    def _warn_of_network(self) -> None:
        """A fleet file on a share is no safe place; that is said on every screen."""
        kind = places.network_kind(self._app.store.path)
        self.on_network.setText("" if kind is None else say(msg("window.on_network", kind=kind)))
        self.on_network.setVisible(kind is not None)

    def show_fingerprint(self) -> None:
        """The fingerprint of the record, for a manager also that it is to be lodged."""
        with self._app.store.view() as view:
            short = view.head().short
            person = self._session.person
            manager = person is not None and Role.MANAGER in person.roles
            due = proving.lodging_due(view, self._app.clock()) if manager else None
        text = say(msg("window.fingerprint", fingerprint=short))
        self.fingerprint.setText(text if due is None else f"{text} · {say(due)}")

    def _make_room(self, told: str) -> None:
        """A message too long to stand beside the fingerprint has the whole line while it is shown; it is the line's tip."""
        needed = self.fontMetrics().horizontalAdvance(told) + self.fingerprint.sizeHint().width()
        self.fingerprint.setVisible(needed + 3 * MESSAGE_EDGE < self.width())
        self.setToolTip(literal(told))
