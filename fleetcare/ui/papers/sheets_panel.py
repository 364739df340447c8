"""Working sheets: chosen, looked at, printed or saved."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QComboBox, QPushButton, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import claim_file, record, sheets
from fleetcare.services.shown import PackSummary
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.form_side import add_choice, form_beside, save_copy
from fleetcare.ui.papers.preview import Preview
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words

KINDS = (
    "round", "handover", "layup", "quarantine", "quarantine_pack", "tag", "pack", "trip", "job", "board", "blank", "claim", "plan",
    "van", "recall", "renewal", "reentry",
)  # fmt: skip
OF_ONE_PACK = ("quarantine_pack", "tag", "pack", "trip", "job", "claim")
OF_ONE_PAPER = ("van", "recall")
"""As `fleetcare.reports.every_sheet`, named here so that no start loads reportlab."""
MOST_BLANK = 100


@dataclass(slots=True)
class Made:
    """A sheet in the preview; `told` is the pack whose projection it prints, until that is recorded."""

    path: Path
    name: str
    told: PackSummary | None = None


class SheetsPanel(QWidget):
    """Fields on the left, the sheet on the right."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._folder = tempfile.TemporaryDirectory(prefix="fleetcare-sheets-")
        self.made: Made | None = None
        self._read_for = ""
        self.kind = QComboBox()
        for kind in KINDS:
            self.kind.addItem(word(f"sheet.{kind}"), kind)
        self.code = Field(word("sheet.code"))
        self.code.edit.setPlaceholderText(word("sheet.code_hint"))
        self.numbers = {kind: Field(word(f"sheet.number_{kind}")) for kind in OF_ONE_PAPER}
        for kind, field in self.numbers.items():
            field.edit.setPlaceholderText(word(f"sheet.number_{kind}_hint"))
        self.count = Field(word("work.count"))
        self.count.edit.setText("5")
        self.told = words()
        self.preview = Preview()
        self.buttons = {key: QPushButton(word(f"papers.{key}")) for key in ("preview", "print", "save")}
        self._lay_out()
        self.kind.currentIndexChanged.connect(lambda _i: self._show_fields())
        self.buttons["preview"].clicked.connect(self.make)
        self.buttons["print"].clicked.connect(self.print_out)
        self.buttons["save"].clicked.connect(self.save)
        for field in (self.code, *self.numbers.values(), self.count):
            field.edit.returnPressed.connect(self.make)
        self._show_fields()
        self._able(True)

    def _lay_out(self) -> None:
        card = Card(word("papers.sheets"))
        add_choice(card, word("sheet.kind"), self.kind, 16)
        for part in (self.code, *self.numbers.values(), self.count):
            card.column.addWidget(part)
        for button in self.buttons.values():
            button.setMinimumHeight(40)
            card.column.addWidget(button)
        card.column.addWidget(self.told)
        card.column.addStretch(1)
        form_beside(self, card, self.preview)

    def _show_fields(self) -> None:
        self._read_for = ""
        self.buttons["preview"].setText(word("papers.preview"))
        self.code.setVisible(self.kind.currentData() in OF_ONE_PACK)
        for kind, field in self.numbers.items():
            field.setVisible(self.kind.currentData() == kind)
        self.count.setVisible(self.kind.currentData() == "blank")

    def choose(self, kind: str) -> None:
        """Choose a kind of sheet."""
        self.kind.setCurrentIndex(KINDS.index(kind))

    def take_scan(self, text: str) -> bool:
        """A scanned code fills the field when the sheet is of one item; False otherwise."""
        if not self.code.isVisibleTo(self):
            return False
        self.code.edit.setText(text.strip().upper().partition("*")[0])
        self.make()
        return True

    def make(self) -> None:
        """Make the sheet in the background and show it; a mistake is said beside its field."""
        for field in (self.code, *self.numbers.values(), self.count):
            field.clear_refusal()
        kind = str(self.kind.currentData())
        numbered = self.numbers.get(kind)
        code = self.code.text.strip().upper() if numbered is None else numbered.text.strip()
        self.preview.clear(word("papers.nothing"))
        self.made = None
        self._able(True)
        typed = self.count.text.strip()
        try:
            if kind in OF_ONE_PACK and not code:
                raise EntryRefused("sheet.needs_pack", field="code")
            if kind in OF_ONE_PAPER and not code:
                raise EntryRefused(f"sheet.needs_{kind}", field="number")
            if kind == "blank" and not (typed.isdecimal() and 1 <= int(typed) <= MOST_BLANK):
                raise EntryRefused("sheet.count_wrong", field="count", typed=typed[:20])
            if kind == "claim" and not self._clause_read(code):
                return
        except FleetcareError as error:
            self._failed(error)
            return
        person = self._session.person
        printed: dict[str, Any] = {
            "page": self._app.settings.page,
            "printed_by": person.name if person else "",
            "printed_at": self._app.clock(),
        }
        self._able(False)
        self._background.ask(lambda: self._work(kind, code, int(typed or 0), printed), self._show, self._failed)

    def _clause_read(self, code: str) -> bool:
        """The warranty clause is shown before a claim file is made; pressed once more, it is made."""
        if self._read_for == code:
            self._read_for = ""
            self.buttons["preview"].setText(word("papers.preview"))
            return True
        claim = claim_file.clause_of(self._app.store, self._app.clock, code)
        clause = msg("warranty.quote", clause=claim.terms.clause) if claim.terms.clause else msg("warranty.no_clause")
        lines = [word("warranty.read_first"), say(clause), say(claim.time_left)]
        if claim.terms.speaks_of_hire:
            lines.append(word("warranty.hire"))
        self.told.clear()
        self.preview.clear("\n\n".join(lines))
        self.buttons["preview"].setText(word("warranty.claim_all_the_same"))
        self._read_for = code
        return False

    def _work(self, kind: str, code: str, count: int, printed: dict[str, Any]) -> Made:
        from fleetcare.reports import every_sheet

        app = self._app
        path = Path(self._folder.name) / "sheet.pdf"
        of_one = kind in OF_ONE_PACK or kind in OF_ONE_PAPER
        name = "".join(c if c.isalnum() else "-" for c in code)
        numbers = (
            sheets.issue(app.store, app.clock, count, self._session.author(None), app.station)
            if kind == "blank"
            else ()
        )
        order = every_sheet.Order(kind, code=code if of_one else "", numbers=numbers, **printed)
        told = every_sheet.write(order, app.store, app.clock, path)
        return Made(path, f"{kind}-{name}.pdf" if of_one else f"{kind}-sheet.pdf", told)

    def _show(self, made: Made) -> None:
        self.made = made
        self._able(True)
        self.told.clear()
        self.preview.show_paper(made.path)

    def _failed(self, error: Exception) -> None:
        self._able(True)
        if not isinstance(error, FleetcareError):
            raise error
        number = self.numbers.get(str(self.kind.currentData()))
        field = {"code": self.code, "pack": self.code, "count": self.count, "number": number}.get(error.field)
        if field is None:
            self.told.setText(say(error.message))
        else:
            field.refuse(error)
            field.edit.setFocus()

    def _able(self, on: bool) -> None:
        self.buttons["preview"].setEnabled(on)
        for key in ("print", "save"):
            self.buttons[key].setEnabled(on and self.made is not None)

    def _give_out(self, work: Callable[[Made], str | None]) -> None:
        """Print or save, and keep what a pack's sheet told of its projection, once."""
        made, author = self.made, self._session.author(self._changes.position)
        if made is None:
            return
        try:
            said = work(made)
            if said is None:
                return
            self.told.setText(said)
            if made.told is not None and author is not None:
                told, made.told = made.told, None
                self._changes.tell(
                    record.record_told(self._app.store, self._app.clock, author, word("paper.pack_title"), told)
                )
        except FleetcareError as error:
            self.told.setText(say(error.message))

    def save(self) -> None:
        """Save the sheet as it is shown."""
        self._give_out(lambda made: save_copy(self, word("papers.sheets"), made.name, made.path))

    def print_out(self) -> None:
        """Print the sheet through the system's dialog."""
        from fleetcare.ui.papers import printing

        def work(_made: Made) -> str | None:
            assert self.preview.pages is not None
            return printing.ask_and_print(self, self.preview.pages, word("papers.sheets"))

        self._give_out(work)

    def let_go(self) -> None:
        """Close the sheet and remove the folder it lies in."""
        self._background.leave()
        self.preview.clear("")
        self._folder.cleanup()
