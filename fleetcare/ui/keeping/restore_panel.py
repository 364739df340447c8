"""Restore a backup: look at it, compare it with paper, put it in place; nothing is overwritten."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QDialog, QFileDialog, QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import backup
from fleetcare.services.backup import Looked
from fleetcare.ui.background import Background
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.dialogs import FRAME_HIGH
from fleetcare.ui.widgets.screens import screen_of


class RestorePanel(Card):
    """Three fields and two buttons; everything found is said before anything is done."""

    restored = Signal(object)
    asked_list = Signal(object, int)
    """The re-entry list of a restored file is wanted; how many records it lacks at least."""

    def __init__(self, target: Path) -> None:
        super().__init__(word("backup.restore_title"), steady=True)
        self._background = Background(self)
        self.looked: Looked | None = None
        self.file = Field(word("backup.restore_file"))
        self.printed = Field(word("backup.printed"))
        self.target = Field(word("backup.restore_target"))
        self.target.edit.setText(str(target))
        self.choose = QPushButton(word("backup.choose"))
        self.look = QPushButton(word("backup.look"))
        self.restore = QPushButton(word("backup.restore"))
        self.reentry = QPushButton(word("backup.reentry"))
        self.said = words()
        self.column.addWidget(words(word("backup.restore_note"), quiet=True))
        top = QHBoxLayout()
        top.addWidget(self.file, 1)
        top.addWidget(self.choose, 0, Qt.AlignmentFlag.AlignBottom)
        self.column.addLayout(top)
        self.column.addWidget(self.printed)
        self.column.addWidget(self.target)
        self.buttons = row = QHBoxLayout()
        row.addStretch(1)
        for button in (self.look, self.restore, self.reentry):
            button.setMinimumHeight(38)
            row.addWidget(button)
        self.column.addLayout(row)
        self.column.addWidget(self.said)  # below the buttons, so that no answer moves them
        self.column.addStretch(1)
        for button in (self.choose, self.look, self.restore, self.reentry):
            button.setAutoDefault(False)  # Enter in a field looks at the backup and presses nothing else
        self.restore.setEnabled(False)
        self.reentry.setEnabled(False)
        self.choose.clicked.connect(self._choose)
        self.look.clicked.connect(self.look_at_it)
        self.restore.clicked.connect(self.put_in_place)
        self.reentry.clicked.connect(self._ask_list)
        self.file.edit.returnPressed.connect(self.look_at_it)
        self.printed.edit.returnPressed.connect(self.look_at_it)

    def _choose(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(self, word("backup.restore_file"), str(Path.home()), "Fleet (*.fleet)")
        if chosen:
            self.file.edit.setText(chosen)
            self.look_at_it()

    def take(self, path: Path) -> None:
        """Fill in a backup that was chosen elsewhere; what was found of another is no longer shown."""
        if not self.look.isEnabled():  # one is being read through
            return
        self.file.edit.setText(str(path))
        self.file.clear_refusal()
        self.looked = None
        self.restore.setEnabled(False)
        self.said.clear()

    def look_at_it(self) -> None:
        """Read the backup through in the background and say what it holds."""
        self._begin()
        path, printed = Path(self.file.text.strip()), self.printed.text
        self._background.ask(lambda: backup.look(path, printed), self._show, self._failed)

    def _begin(self) -> None:
        for field in (self.file, self.printed, self.target):
            field.clear_refusal()
        self.restore.setEnabled(False)
        self.reentry.setEnabled(False)
        self.look.setEnabled(False)
        self.said.setText(word("backup.working"))

    def _show(self, found: Looked) -> None:
        self.looked = found
        self.look.setEnabled(True)
        self.said.setText("\n".join(say(one) for one in self._told(found)))
        self.restore.setEnabled(found.may_restore)
        if found.may_restore:
            self.restore.setFocus()

    def _told(self, found: Looked):  # type: ignore[no-untyped-def]
        held = found.examined
        if held.head is None:
            yield msg("backup.damaged", path=str(held.path), why=held.faults[0])
            return
        yield msg(
            "backup.holds", fleet=held.fleet_name, records=held.records, last_at=held.last_entered,
            fingerprint=held.head.short,
        )  # fmt: skip
        if found.proof is not None:
            yield found.proof
        yield msg("backup.after", last_at=held.last_entered)

    def put_in_place(self) -> None:
        """Restore to the new file."""
        if self.looked is None:
            return
        source, target, printed = self.looked.examined.path, Path(self.target.text.strip()), self.printed.text
        self._begin()
        self._background.ask(
            lambda: (backup.restore(source, target, printed), target), lambda done: self._done(*done), self._failed
        )

    def _done(self, found: Looked, target: Path) -> None:
        self.looked = found
        self.look.setEnabled(True)
        self.reentry.setEnabled(True)
        self.reentry.setFocus()
        lines = [msg("backup.restored_here", path=str(target), records=found.examined.records), *self._told(found)]
        self.said.setText("\n".join(say(one) for one in lines))
        self.restored.emit(target)

    def _failed(self, error: Exception) -> None:
        self.look.setEnabled(True)
        self.said.clear()
        if not isinstance(error, FleetcareError):
            raise error
        if error.field == "printed":
            self.printed.refuse(error)
        elif error.message.key == "file.exists":
            self.target.refuse(error)
            self.restore.setEnabled(True)
        else:
            self.file.refuse(error)

    def _ask_list(self) -> None:
        if self.looked is not None:
            self.asked_list.emit(Path(self.target.text.strip()), self.looked.missing)


class RestoreDialog(QDialog):
    """The panel in a window of its own, for a PC that has no fleet yet."""

    def __init__(
        self, target: Path, show_list: Callable[[QWidget, Path, int], object], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(word("backup.restore_title"))
        self.panel = RestorePanel(target)
        room = screen_of(self).availableGeometry().height() - FRAME_HIGH
        self.resize(820, min(room, max(520, self.fontMetrics().lineSpacing() * 24)))
        self.open_it = QPushButton(word("backup.open_restored"))
        self.open_it.setMinimumHeight(40)
        self.open_it.setEnabled(False)
        self.open_it.setAutoDefault(False)
        self.restored_to: Path | None = None
        column = QVBoxLayout(self)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(self.panel)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        column.addWidget(scroll, 1)
        column.addWidget(self.open_it)
        self.panel.restored.connect(self._restored)
        self.panel.asked_list.connect(lambda fleet, missing: show_list(self, fleet, missing))
        self.open_it.clicked.connect(self.accept)

    def offer(self, newest: Path | None) -> None:
        """Fill in the newest backup that lies where backups of this fleet lie."""
        if newest is not None:
            self.panel.file.edit.setText(str(newest))

    def _restored(self, target: Path) -> None:
        self.restored_to = target
        self.open_it.setEnabled(True)
        self.open_it.setFocus()
