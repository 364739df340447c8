"""Labels: which items, on which stock, looked at before they are printed; their issue is recorded then."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtWidgets import QComboBox, QPushButton, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.label_stock import STOCKS, LabelStock
from fleetcare.domain.labels import normalise, without_issue
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import label_sheets, passports
from fleetcare.services.identify import identify
from fleetcare.services.label_sheets import Label
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.form_side import add_choice, form_beside, save_copy
from fleetcare.ui.papers.preview import Preview
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words


@dataclass(slots=True)
class Made:
    """Labels as they lie in the preview; `recorded` once their issue is on record."""

    path: Path
    labels: tuple[Label, ...]
    copies: int
    pages: int
    recorded: bool = False


class LabelsPanel(QWidget):
    """Fields on the left, the labels on the right."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._folder = tempfile.TemporaryDirectory(prefix="fleetcare-labels-")
        self.made: Made | None = None
        self.what = QComboBox()
        for thing_class in label_sheets.KINDS:
            self.what.addItem(word(f"labels.class_{thing_class}"), thing_class)
        self.stock = QComboBox()
        for one in STOCKS:
            self.stock.addItem(_stock_words(one), one)
        self.stock.addItem(word("labels.own"), None)
        self.codes = Field(word("labels.codes"))
        self.codes.edit.setPlaceholderText(word("labels.codes_hint"))
        self.copies = Field(word("labels.copies"))
        self.copies.edit.setText(str(label_sheets.COPIES))
        self.first = Field(word("labels.first"))
        self.first.edit.setText("1")
        self.measures = Field(word("labels.measures"))
        self.measures.edit.setPlaceholderText("70x37, 3x8, 0, 0.5, 70, 37, A4")
        self.told = words(word("labels.measure_first"), quiet=True)
        self.passport_pack, self.passport = Field(word("passport.pack")), Field(word("passport.text"))
        self.keep = QPushButton(word("passport.keep"))
        self.kept = words()
        self.preview = Preview()
        self.buttons = {key: QPushButton(word(f"papers.{key}")) for key in ("preview", "print", "save")}
        self._lay_out()
        self.stock.currentIndexChanged.connect(lambda _i: self._show_measures())
        self.buttons["preview"].clicked.connect(self.make)
        self.buttons["print"].clicked.connect(self.print_out)
        self.buttons["save"].clicked.connect(self.save)
        self.keep.clicked.connect(self.keep_passport)
        self.passport_pack.edit.returnPressed.connect(self.passport.edit.setFocus)
        self.passport.edit.returnPressed.connect(self.keep_passport)
        for field in self._fields():
            field.edit.returnPressed.connect(self.make)
        self._show_measures()
        self._able(True)

    def _fields(self) -> tuple[Field, ...]:
        return self.codes, self.copies, self.first, self.measures

    def _lay_out(self) -> None:
        card = Card(word("papers.labels"))
        for key, combo in (("labels.what", self.what), ("labels.stock", self.stock)):
            add_choice(card, word(key), combo, 14)
        for field in self._fields():
            card.column.addWidget(field)
        for button in self.buttons.values():
            button.setMinimumHeight(40)
            card.column.addWidget(button)
        card.column.addWidget(self.told)
        card.column.addWidget(words(word("passport.heading"), bold=True))
        self.keep.setMinimumHeight(40)
        for part in (self.passport_pack, self.passport, self.keep, self.kept):
            card.column.addWidget(part)
        card.column.addStretch(1)
        form_beside(self, card, self.preview)

    def _show_measures(self) -> None:
        stock = self.stock.currentData()
        self.measures.setVisible(stock is None)
        self.first.setVisible(stock is None or bool(stock.page))

    def take_scan(self, text: str) -> bool:
        """A scanned pack is that of a passport where the cursor stands there; else one more label of the kind chosen.

        False for what is neither, such as a badge.
        """
        try:
            found = identify(self._app.store, text)
        except FleetcareError:
            return False
        if found.thing_class == "pack" and self.passport_pack.edit.hasFocus():
            self.passport_pack.edit.setText(found.code)
            self.passport.edit.setFocus()
            return True
        chosen = self.what.currentData()
        if found.thing_class == "person" or found.thing_class != (
            "pack" if chosen == label_sheets.PASSPORT else chosen
        ):
            return False
        if found.code not in self.codes.text.upper().replace(",", " ").split():
            self.codes.edit.setText(f"{self.codes.text} {found.code}".strip())
        return True

    def make(self) -> None:
        """Make the labels and show them; a mistake is said beside its field."""
        for field in self._fields():
            field.clear_refusal()
        app, path = self._app, Path(self._folder.name) / "labels.pdf"
        thing_class = str(self.what.currentData())
        codes = self.codes.text.replace(",", " ").split()
        self.preview.clear(word("papers.nothing"))
        self.made = None
        try:
            stock = self.stock.currentData() or label_sheets.parse_measures(self.measures.text)
            copies = label_sheets.parse_copies(self.copies.text)
            first = label_sheets.parse_first(self.first.text, stock) if stock.page else 1
        except FleetcareError as error:
            self._able(True)
            self._refuse(error)
            return
        self._able(False)

        def work() -> Made:
            from fleetcare.reports import label_sheet

            labels = label_sheets.labels_for(app.store, thing_class, codes)
            pages = label_sheet.write(
                labels, stock, path, copies=copies, first=first, fleet_name=app.store.fleet_name, demo=app.store.demo
            )
            return Made(path, labels, copies, pages)

        self._background.ask(work, self._show, self._failed)

    def _show(self, made: Made) -> None:
        self.made = made
        self._able(True)
        self.preview.show_paper(made.path)
        copies = any(one.thing_class == label_sheets.PASSPORT for one in made.labels)
        said = say(
            msg(
                "labels.made_copies" if copies else "labels.made",
                count=len(made.labels) * made.copies,
                pages=made.pages,
            )
        )
        self.told.setText(f"{said}\n{word('labels.measure_first')}")

    def _failed(self, error: Exception) -> None:
        self._able(True)
        if not isinstance(error, FleetcareError):
            raise error
        self._refuse(error)

    def _refuse(self, error: FleetcareError) -> None:
        fields = {"codes": self.codes, "copies": self.copies, "first": self.first, "measures": self.measures}
        field = fields.get(error.field)
        if field is None or not field.isVisibleTo(self):
            self.told.setText(say(error.message))
        else:
            field.refuse(error)
            field.edit.setFocus()

    def _able(self, on: bool) -> None:
        self.buttons["preview"].setEnabled(on)
        for key in ("print", "save"):
            self.buttons[key].setEnabled(on and self.made is not None)

    def _issue(self, work: Callable[[Made], str | None]) -> None:
        """Do the printing or saving, and record the issue once; nothing is printed that may not be recorded."""
        made, author = self.made, self._session.author(self._changes.position)
        if made is None:
            return
        if author is None:
            self.told.setText(word("labels.sign_in"))
            return
        try:
            label_sheets.may_label(author, self._app.clock())
            said = work(made)
            if said is None:
                return
            if not made.recorded:
                done = label_sheets.record_labels(self._app.store, self._app.clock, author, made.labels, made.copies)
                made.recorded = True
                self._changes.tell(done)
            self.told.setText(said)
        except FleetcareError as error:
            self._refuse(error)

    def keep_passport(self) -> None:
        """Keep the text of the passport's QR code with the pack that is named; nothing typed is lost."""
        self.passport_pack.clear_refusal()
        self.passport.clear_refusal()
        author = self._session.author(self._changes.position)
        if author is None:
            self.kept.setText(word("screen.sign_first"))
            return
        code = without_issue(normalise(self.passport_pack.text))
        try:
            done = passports.record_passport(self._app.store, self._app.clock, author, code, self.passport.text)
        except FleetcareError as error:
            field = {"passport_pack": self.passport_pack, "passport": self.passport}.get(error.field)
            if field is None:
                self.kept.setText(say(error.message))
            else:
                field.refuse(error)
                field.edit.setFocus()
            return
        self.kept.setText(say(done.message))
        self.passport_pack.clear()
        self.passport.clear()
        self._changes.tell(done)

    def save(self) -> None:
        """Save the labels as they are shown."""
        self._issue(lambda made: save_copy(self, word("papers.labels"), "battery-labels.pdf", made.path))

    def print_out(self) -> None:
        """Print the labels through the system's dialog."""
        from fleetcare.ui.papers import printing

        def work(_made: Made) -> str | None:
            assert self.preview.pages is not None
            return printing.ask_and_print(self, self.preview.pages, word("papers.labels"))

        self._issue(work)

    def let_go(self) -> None:
        """Close the labels and remove the folder they lie in."""
        self._background.leave()
        self.preview.clear("")
        self._folder.cleanup()


def _stock_words(one: LabelStock) -> str:
    sides = {"width": f"{one.width_mm:g}", "height": f"{one.height_mm:g}"}
    if not one.page:
        return say(msg("labels.single", **sides))
    return say(msg("labels.sheet", columns=one.columns, rows=one.rows, page=one.page, **sides))
