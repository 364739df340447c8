"""The first question while there is no fleet: found one, open one, restore a backup, or look at the demonstration."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QTimeZone
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fleetcare import app as builder
from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.widgets.cards import Field, words


class FirstStart(QDialog):
    """`app` is the fleet that was opened, `founder` the code of whoever founded it just now ("" otherwise)."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self.app: App | None = None
        self.founder = ""
        self.setWindowTitle(word("window.open_fleet"))
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        self.buttons: dict[str, QPushButton] = {}
        self.fleet, self.person = Field(word("window.fleet_name")), Field(word("window.your_name"))
        self.found = QPushButton(word("start.do_found"))
        self.pages = QStackedWidget()
        self.pages.addWidget(self._choices())
        self.pages.addWidget(self._founding())
        outer = QVBoxLayout(self)
        outer.setContentsMargins(22, 18, 22, 18)
        outer.addWidget(self.pages)
        outer.addWidget(self.wrong)
        self.setMinimumWidth(self.fontMetrics().averageCharWidth() * 84)

    def _choices(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(words(word("start.heading"), size=1.6, bold=True))
        column.addWidget(words(say(msg("window.no_fleet", path=str(self._path))), quiet=True))
        column.addSpacing(6)
        for name, key, deed in (
            ("found", "window.found_fleet", self._begin_founding),
            ("choose", "window.choose_fleet", self._choose),
            ("restore", "window.restore", self._restore),
            ("demo", "window.see_demo", self._demo),
        ):
            button = self.buttons[name] = QPushButton(word(key))
            button.setMinimumHeight(42)
            button.clicked.connect(deed)
            column.addWidget(button)
            column.addWidget(words(word(f"start.{name}_note"), quiet=True))
        self.buttons["found"].setDefault(True)
        close = QPushButton(word("start.close"))
        close.clicked.connect(self.reject)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(close)
        column.addStretch(1)
        column.addLayout(row)
        return page

    def _founding(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        column.addWidget(words(word("start.found_heading"), size=1.6, bold=True))
        column.addWidget(self.fleet)
        column.addWidget(words(word("start.fleet_hint"), quiet=True))
        column.addWidget(self.person)
        column.addWidget(words(word("start.person_hint"), quiet=True))
        column.addWidget(words(say(msg("start.kept_at", path=str(self._path))), quiet=True))
        back = QPushButton(word("start.back"))
        for button in (back, self.found):
            button.setMinimumHeight(42)
            button.setAutoDefault(False)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(back)
        row.addWidget(self.found)
        column.addStretch(1)
        column.addLayout(row)
        back.clicked.connect(lambda: self.pages.setCurrentIndex(0))
        self.found.clicked.connect(self.do_found)
        self.fleet.edit.returnPressed.connect(self.person.edit.setFocus)
        self.person.edit.returnPressed.connect(self.do_found)
        return page

    def _begin_founding(self) -> None:
        self.wrong.hide()
        self.pages.setCurrentIndex(1)
        self.fleet.edit.setFocus()

    def do_found(self) -> None:
        """Found the fleet, or say beside its field what is missing."""
        for field in (self.fleet, self.person):
            field.clear_refusal()
            if not field.text.strip():
                key = "start.needs_fleet" if field is self.fleet else "start.needs_person"
                field.refuse(EntryRefused(key))
                field.edit.setFocus()
                return

        def deed() -> App:
            zone = bytes(QTimeZone.systemTimeZoneId().data()).decode("ascii", "replace")
            self.founder = builder.found_fleet(
                self._path, self.fleet.text.strip(), self.person.text.strip(), told_zone=zone
            )
            return builder.open_app(self._path)

        self._open(deed)

    def _choose(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(self, word("window.choose_fleet"), "", "Fleet (*.fleet)")
        if chosen:
            self._open(lambda: builder.open_app(Path(chosen)))

    def _restore(self) -> None:
        from fleetcare.services import backup
        from fleetcare.ui.keeping.restore_panel import RestoreDialog
        from fleetcare.ui.paper_orders import show_reentry

        asked = RestoreDialog(self._path, show_reentry)
        asked.offer(backup.newest_backup(self._path))
        if asked.exec() and asked.restored_to is not None:
            restored = asked.restored_to
            self._open(lambda: builder.open_app(restored))

    def _demo(self) -> None:
        self._open(lambda: builder.open_demo(lambda line: print(line, file=sys.stderr, flush=True)))

    def _open(self, opened: Callable[[], App]) -> None:
        self.wrong.hide()
        try:
            self.app = opened()
        except FleetcareError as error:
            self.wrong.setText(say(error.message))
            self.wrong.show()
            return
        self.accept()
