"""One paper asked for from another screen: made in the background, looked at, then printed or saved."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import say, word
from fleetcare.ui.background import Background
from fleetcare.ui.papers.form_side import save_copy
from fleetcare.ui.papers.preview import Preview
from fleetcare.ui.widgets.cards import words


class PaperDialog(QDialog):
    """Shows what `write(path)` makes; `given()` is called once, when it was printed or saved."""

    def __init__(
        self,
        parent: QWidget,
        title: str,
        name: str,
        write: Callable[[Path], object],
        given: Callable[[], None] | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._name, self._given = name, given
        self._folder = Path(tempfile.mkdtemp(prefix="fleetcare-paper-"))
        self.path = self._folder / "paper.pdf"
        self._open = True
        self.preview = Preview()
        self.preview.clear(word("papers.making"))
        self.told = words()
        self.buttons = {key: QPushButton(word(f"papers.{key}")) for key in ("print", "save", "close")}
        row = QHBoxLayout()
        row.addWidget(self.told, 1)
        for key, button in self.buttons.items():
            button.setMinimumHeight(40)
            button.setEnabled(key == "close")
            button.setAutoDefault(False)
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.addWidget(self.preview, 1)
        column.addLayout(row)
        size = parent.window().size()
        self.resize(max(700, min(900, int(size.width() * 0.8))), max(640, int(size.height() * 0.94)))
        self.buttons["print"].clicked.connect(self.print_out)
        self.buttons["save"].clicked.connect(self.save)
        self.buttons["close"].clicked.connect(self.close)
        self.finished.connect(lambda _code: self._let_go())
        Background(parent).ask(lambda: write(self.path), lambda _made: self._show(), self._failed)

    def _show(self) -> None:
        if not self._open:
            return
        self.preview.show_paper(self.path)
        for button in self.buttons.values():
            button.setEnabled(True)
        self.buttons["print"].setFocus()

    def _failed(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        if self._open:
            self.preview.clear(say(error.message))

    def print_out(self) -> None:
        """Print through the system's dialog."""
        from fleetcare.ui.papers import printing

        assert self.preview.pages is not None
        try:
            said = printing.ask_and_print(self, self.preview.pages, self.windowTitle())
        except FleetcareError as error:
            self.told.setText(say(error.message))
        else:
            if said is not None:
                self._went_out(said)

    def save(self) -> None:
        """Save what is shown, byte for byte."""
        try:
            said = save_copy(self, self.windowTitle(), self._name, self.path)
        except FleetcareError as error:
            self.told.setText(say(error.message))
        else:
            if said is not None:
                self._went_out(said)

    def _went_out(self, said: str) -> None:
        self.told.setText(said)
        given, self._given = self._given, None
        if given is not None:
            given()

    def _let_go(self) -> None:
        self._open = False
        self.preview.clear("")
        shutil.rmtree(self._folder, ignore_errors=True)
        self.deleteLater()
