"""Locks the window when nobody has touched it for a while; what was typed stays on the screen behind."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QTimer, Signal
from PySide6.QtWidgets import QApplication, QWidget

from fleetcare.ui.session import Session

_TOUCHES = (QEvent.Type.KeyPress, QEvent.Type.MouseButtonPress, QEvent.Type.Wheel, QEvent.Type.TouchBegin)


class IdleLock(QObject):
    """Counts the time since the last key or click; 0 minutes: never locks."""

    locked = Signal()

    def __init__(self, window: QWidget, session: Session, minutes: int) -> None:
        super().__init__(window)
        self._session = session
        self.timer = QTimer(self)
        self.timer.setSingleShot(True)
        self.timer.setInterval(max(minutes, 0) * 60_000)
        self.timer.timeout.connect(self.lock)
        if minutes > 0:
            QApplication.instance().installEventFilter(self)  # type: ignore[union-attr]
            session.person_changed.connect(self._restart)

    def _restart(self) -> None:
        if self._session.person is None:
            self.timer.stop()
        else:
            self.timer.start()

    def lock(self) -> None:
        """Lock now."""
        if self._session.person is not None:
            self._session.lock()
            self.locked.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Qt's hook: every touch begins the time anew."""
        if event.type() in _TOUCHES and self.timer.isActive():
            self.timer.start()
        return False
