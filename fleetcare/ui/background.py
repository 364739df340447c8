"""Slow reading off the GUI thread; the answer comes back as a call on it."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, QTimer, Signal

Answer = Callable[[Any], None]

SWITCH_S = 0.0005


def share_fairly() -> None:
    """Let the GUI thread have its turn ten times sooner than Python's usual 5 ms.

    Painting a table asks Python for hundreds of cells, and each may wait a whole turn for a busy reader.
    """
    sys.setswitchinterval(SWITCH_S)


class Collector(QObject):
    """Has Python search for garbage on the GUI thread only, as often as it would by itself.

    A search in a background thread may free widgets there, which ends the program.  A search through everything takes
    a quarter of a second where the board of a country is in memory, so it gets a small share of the time and no more.
    """

    EVERY_MS = 250
    FULL_SHARE = 0.02

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._full_from = 0.0
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._search)
        gc.disable()
        self._timer.start(self.EVERY_MS)

    def _search(self) -> None:
        due = [
            n for n, (count, most) in enumerate(zip(gc.get_count(), gc.get_threshold(), strict=True)) if count > most
        ]
        if not due:
            return
        began = time.monotonic()
        generation = due[-1] if began >= self._full_from else min(due[-1], 1)
        gc.collect(generation)
        if generation == 2:
            ended = time.monotonic()
            self._full_from = ended + (ended - began) / self.FULL_SHARE

    def stop(self) -> None:
        """Leave it to Python again."""
        self._timer.stop()
        gc.enable()


class _Signals(QObject):
    done = Signal(object)
    failed = Signal(object)


class _Job(QRunnable):
    def __init__(self, work: Callable[[], Any], signals: _Signals) -> None:
        super().__init__()
        self._work = work
        self._signals = signals

    def run(self) -> None:
        try:
            answer = self._work()
        except Exception as error:
            self._signals.failed.emit(error)
        else:
            self._signals.done.emit(answer)


class Background(QObject):
    """Runs one kind of reading for one screen; a newer request makes an older answer void."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._number = 0
        self._alive: dict[int, _Signals] = {}

    def ask(self, work: Callable[[], Any], answer: Answer, failed: Answer | None = None) -> None:
        """Run `work` in the pool, then `answer(result)` here; an exception goes to `failed` or is raised here."""
        self._number += 1
        number = self._number
        signals = _Signals(self)
        self._alive[number] = signals

        def done(result: Any) -> None:
            self._forget(number)
            if number == self._number:
                answer(result)

        def broken(error: Exception) -> None:
            self._forget(number)
            if failed is None:
                raise error
            failed(error)

        signals.done.connect(done)
        signals.failed.connect(broken)
        QThreadPool.globalInstance().start(_Job(work, signals))

    def _forget(self, number: int) -> None:
        self._alive.pop(number).deleteLater()
