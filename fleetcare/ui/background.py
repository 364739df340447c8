"""Slow reading off the GUI thread; the answer comes back as a call on it."""

from __future__ import annotations

import atexit
import gc
import sys
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from PySide6.QtCore import QObject, QRunnable, Qt, QThreadPool, QTimer, Signal
from shiboken6 import isValid

Answer = Callable[[Any], None]

SWITCH_S = 0.0005


def share_fairly() -> None:
    """Let the GUI thread have its turn ten times sooner than Python's usual 5 ms.

    Painting a table asks Python for hundreds of cells, and each may wait a whole turn for a busy reader.
    """
    sys.setswitchinterval(SWITCH_S)


def search_here() -> None:
    """From now on garbage is searched for on this thread only: the GUI thread, before its first window.

    Not only readers have threads of their own: a projection counts in two wherever it is asked for.
    """
    _post().collector.watch()


class _Collector(QObject):
    """Has Python search for garbage on the GUI thread only, as often as it would by itself.

    A search in another thread may free widgets there, which ends the program.  So it begins before the first window
    and never ends: a window that closes may leave another one open, or a reading under way.  A search through everything
    takes a quarter of a second where the board of a country is in memory, so it gets a small share of the time and no more.
    """

    EVERY_MS = 250
    FULL_SHARE = 0.02

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._full_from = 0.0
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._search)

    def watch(self) -> None:
        """From now on nobody else searches; called on the GUI thread."""
        gc.disable()
        if not self._timer.isActive():
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


@dataclass(slots=True)
class _News:
    """What a reading tells while it is under way, and who hears it."""

    screen: QObject
    hear: Callable[..., None]
    told: tuple[Any, ...]

    def open(self) -> None:
        if isValid(self.screen):
            self.hear(*self.told)


@dataclass(slots=True)
class _Letter:
    """One reading under way, and who waits for what it brings."""

    work: Callable[[], Any]
    deliver: Callable[[Any, Exception | None], None]
    answer: Any = None
    error: Exception | None = None

    def write(self) -> None:
        try:
            self.answer = self.work()
        except Exception as error:
            self.error = error

    def open(self) -> None:
        error, self.error = self.error, None  # whose traceback holds the letter: a ring that only a search ends
        self.deliver(self.answer, error)


class _Post(QObject):
    """Brings finished readings, and what they tell meanwhile, to the GUI thread in the order in which it was sent.

    There is one, and it outlives every reader: an object that is deleted while another thread still emits its signal
    ends the program.  A letter lies in no other hands than the post's when the GUI thread opens it, so what it holds,
    widgets among it, is let go of there and nowhere else.
    """

    arrived = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._letters: deque[_Letter | _News] = deque()
        self.collector = _Collector(self)
        self.arrived.connect(self._open, Qt.ConnectionType.QueuedConnection)

    def send(self, hands: list[_Letter] | list[_News]) -> None:
        """Take the letter out of `hands`; called from any thread."""
        self._letters.append(hands.pop())
        self.arrived.emit()

    def _open(self) -> None:
        self._letters.popleft().open()


@cache
def _post() -> _Post:
    """The one post.  At the end of Python it waits for readers under way: Qt would take it away from under them."""
    atexit.register(QThreadPool.globalInstance().waitForDone)
    return _Post()


class _Job(QRunnable):
    def __init__(self, letter: _Letter) -> None:
        super().__init__()
        self._hands = [letter]
        self._post = _post()

    def run(self) -> None:
        self._hands[0].write()
        self._post.send(self._hands)


class Background(QObject):
    """Runs one kind of reading for one screen; a newer request makes an older answer void."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._number = 0
        self._left = False

    def leave(self) -> None:
        """The screen is closed: nobody is told any more, neither an answer nor a failure."""
        self._left = True

    def ask(self, work: Callable[[], Any], answer: Answer, failed: Answer | None = None) -> None:
        """Run `work` in the pool, then `answer(result)` here; an exception goes to `failed` or is raised here.

        Nobody is told once the screen is gone.
        """
        _post().collector.watch()
        self._number += 1
        number = self._number

        def deliver(result: Any, error: Exception | None) -> None:
            if not isValid(self) or self._left:
                return
            if error is None:
                if number == self._number:
                    answer(result)
            elif failed is None:
                raise error
            else:
                failed(error)

        QThreadPool.globalInstance().start(_Job(_Letter(work, deliver)))

    def teller(self, hear: Callable[..., None]) -> Callable[..., None]:
        """What a reading may call from its own thread; `hear` is then called here, before the answer comes.

        A signal of the screen is no way to tell it: where the screen is destroyed at that moment, the program ends.
        Nobody hears once the screen is gone.
        """
        post = _post()
        return lambda *told: post.send([_News(self, hear, told)])
