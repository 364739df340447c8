"""What is asked before the window closes: typed and not recorded, read in and not finished, not kept on the disk."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QMainWindow, QMessageBox

from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.bench.bench_screen import BenchScreen
from fleetcare.ui.keeping.keeping_screen import KeepingScreen
from fleetcare.ui.setup.setup_screen import SetupScreen
from fleetcare.ui.widgets.dialogs import ChoiceDialog
from fleetcare.ui.widgets.literal import literal
from fleetcare.ui.widgets.unbroken import unbroken


class Closing(QObject):
    """Asks one question at a time; `close_without` closes the window all the same."""

    stayed = Signal()
    """Somebody said that the window stays open."""

    unsaved_wanted = Signal(str, str)
    """The kind of thing and the code of what is to be shown instead."""

    def __init__(self, window: QMainWindow, bench: BenchScreen, keeping: KeepingScreen, setup: SetupScreen) -> None:
        super().__init__(window)
        self._window, self._bench, self._keeping, self._setup = window, bench, keeping, setup
        self._let_go = False
        self.question: ChoiceDialog | None = None
        """The question that was asked last."""

    def may_close(self) -> bool:
        """True when nothing is left to ask; else something was asked, and the answer may close the window."""
        unsaved = {} if self._let_go else self._setup.unsaved()
        if unsaved:
            self._ask_unsaved(unsaved)
            return False
        asked = None if self._let_go else self._keeping.sheets.ask_before_closing(self._window, self.close_without)
        if asked is not None:
            self.question = asked
            asked.rejected.connect(self.stayed.emit)
            return False
        if not self._bench.put_aside() and not self._close_anyway():
            self._let_go = False  # the window stays: the next close asks again
            self.stayed.emit()
            return False
        return True

    def _ask_unsaved(self, unsaved: dict[str, tuple[str, ...]]) -> None:
        """What is typed in set-up forms and not recorded is named, and the program stays open until somebody says."""
        named = [
            msg("window.unsaved_one" if code else "window.unsaved_new", what=msg(f"class.{kind}"), code=code)
            for kind, codes in unsaved.items()
            for code in codes
        ]
        kind, (code, *_) = next(iter(unsaved.items()))
        self.question = ask = ChoiceDialog(
            self._window, word("window.unsaved_title"), say(msg("window.unsaved", what=tuple(named))),
            stay=word("window.unsaved_stay"), go_on=word("window.unsaved_close"),
        )  # fmt: skip
        # once the question is gone and the window has the focus again
        ask.rejected.connect(lambda: QTimer.singleShot(0, self, lambda: self._stay(kind, code)))
        ask.accepted.connect(self.close_without)
        ask.open()

    def _stay(self, kind: str, code: str) -> None:
        self.stayed.emit()
        self.unsaved_wanted.emit(kind, code)

    def ask_nothing(self) -> None:
        """What is typed and not recorded may go with the window."""
        self._let_go = True

    def close_without(self) -> None:
        """Close, and let go what is typed and not recorded."""
        self.ask_nothing()
        self._window.close()

    def _close_anyway(self) -> bool:
        """What is typed could not be kept on the disk: the person says whether the window closes."""
        told = msg("window.not_kept_close", why=self._bench.work.wrong.text())
        box = QMessageBox(
            QMessageBox.Icon.Warning, word("program.title"), literal(unbroken(say(told))), parent=self._window
        )
        close = box.addButton(word("window.close_anyway"), QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(box.addButton(word("window.stay_open"), QMessageBox.ButtonRole.RejectRole))
        box.exec()
        return box.clickedButton() is close
