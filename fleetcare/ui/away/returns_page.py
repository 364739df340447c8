"""A pack back from hire: the gate, pictures before cleaning, damage, warmth and last charge; the second look."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.hire_return import Damage, HireReturn, LookedAgain, Warmth
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import hire_returns, reporting
from fleetcare.services.hire_returns import CoolingLine, ReturnLine
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line, tick
from fleetcare.ui.widgets.gate import Gate
from fleetcare.ui.widgets.paged import rows_high, scrolled
from fleetcare.ui.widgets.photo_field import PhotoField
from fleetcare.ui.widgets.stop_card import StopCard
from fleetcare.ui.widgets.tables import Column, RowModel, Table

COOLING = (
    Column(word("faults.pack"), lambda c: c.pack, width=10),
    Column(word("water.since"), lambda c: show_moment(c.since), width=20),
    Column(word("returns.again_at"), lambda c: show_moment(c.again_at), width=20),
)
RETURNS = (
    Column(word("returns.when"), lambda r: show_moment(r.done_at), width=18),
    Column(word("faults.pack"), lambda r: r.back.pack, width=10),
    Column(word("returns.damage"), lambda r: f"{word(f'damage.{r.back.damage.value}')}  {r.back.damage_what}".strip(),
           width=40, tip=True),
    Column(word("returns.warmth"), lambda r: word(f"warmth.{r.back.warmth.value}"), width=26),
    Column(word("returns.photos"), lambda r: str(len(r.back.photos)) if r.back.photos else "—", right=True, width=9),
    Column(word("list.who"), lambda r: r.person, width=10),
)  # fmt: skip
PICTURE_PIXELS = 260


class ReturnsPage(DeedPage):
    """With one tick of the gate the stop card takes over and nothing else is asked."""

    quarantined = Signal(str)
    scrolls_itself = True

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.pages = QStackedWidget()
        self.stop = StopCard()
        self.pages.addWidget(scrolled(self._form()))
        self.pages.addWidget(self.stop)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.pages)
        self.stop.quarantine.connect(self._quarantine)
        self.stop.back.connect(self._back)
        self._asked, self._filled = "", ""
        self.fields["pack"].edit.editingFinished.connect(self._vehicle_of_pack)

    def _form(self) -> QWidget:
        inner = QWidget()
        column = QVBoxLayout(inner)
        gate_card = Card(word("returns.gate_heading"))
        self.gate = Gate()
        top = line()
        top.addWidget(self.add_field("pack", word("faults.pack")), 1)
        top.addWidget(self.add_field("vehicle", word("faults.vehicle")), 1)
        top.addStretch(2)
        gate_card.column.addLayout(top)
        gate_card.column.addWidget(self.gate)
        column.addWidget(gate_card)
        column.addWidget(self._rest_card())
        column.addWidget(self.wrong)
        column.addWidget(self.result)
        column.addWidget(words(word("returns.cooling_heading"), bold=True))
        self.none_cooling = words(word("returns.none_cooling"), quiet=True)
        self.cooling = RowModel(COOLING)
        self.cooling_table = Table(self.cooling, word("returns.cooling_heading"))
        rows_high(self.cooling_table, 3)
        column.addWidget(self.none_cooling)
        column.addWidget(self.cooling_table)
        looks = line()
        looks.addWidget(self.add_field("badge", word("faults.badge")), 1)
        self.look_cool, self.look_warm = QPushButton(word("returns.look_cool")), QPushButton(word("returns.look_warm"))
        for button, warm in ((self.look_cool, False), (self.look_warm, True)):
            button.setMinimumHeight(40)
            button.clicked.connect(lambda _on=False, w=warm: self.attempt(lambda: self._look(w), "badge"))
            looks.addWidget(button, 0, Qt.AlignmentFlag.AlignBottom)
        looks.addStretch(1)
        column.addLayout(looks)
        self.cooling_note = words(word("returns.cooling_note"), quiet=True)
        column.addWidget(self.cooling_note)
        column.addWidget(words(word("returns.last"), bold=True))
        self.model = RowModel(RETURNS)
        self.table = Table(self.model, word("returns.last"), stretch=2)
        rows_high(self.table, 5)
        column.addWidget(self.table)
        self.show_button = QPushButton(word("returns.show"))
        self.show_button.clicked.connect(self.show_pictures)
        column.addWidget(self.show_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.pictures = QWidget()
        self._row = QHBoxLayout(self.pictures)
        self.pictures.hide()
        column.addWidget(self.pictures)
        column.addStretch(1)
        self.gate.stopped.connect(self._stopped)
        return inner

    def _rest_card(self) -> Card:
        card = Card(word("returns.rest_heading"))
        self.photos = PhotoField(self.add_field("photo", word("returns.photo")))
        self.cleaned = tick(word("returns.cleaned"))
        self.damage = Choice(word("returns.damage"), "damage", Damage, blank=True)
        self.warmth = Choice(word("returns.warmth"), "warmth", Warmth, blank=True)
        rows = [line() for _ in range(3)]
        rows[0].addWidget(self.photos, 3)
        rows[0].addWidget(self.add_field("no_photo_reason", word("returns.no_photo")), 2)
        rows[0].addWidget(self.cleaned, 0, Qt.AlignmentFlag.AlignBottom)
        rows[1].addWidget(self.damage, 2)
        rows[1].addWidget(self.add_field("damage_what", word("returns.damage_what")), 2)
        rows[1].addWidget(self.add_field("damage_since", word("returns.damage_since")), 2)
        rows[2].addWidget(self.warmth, 2)
        rows[2].addWidget(self.add_field("charger", word("faults.charger")), 2)
        rows[2].addWidget(self.add_field("charged_where", word("faults.charged_where")), 2)
        rows[2].addWidget(self.add_field("remark", word("bench.remark")), 2)
        for row in rows:
            card.column.addLayout(row)
        self.keep_button = QPushButton(word("returns.keep"))
        self.keep_button.setMinimumHeight(44)
        self.keep_button.clicked.connect(self.keep)
        card.column.addWidget(self.keep_button)
        return card

    def refresh(self) -> None:
        """Read warm and last returns again."""
        chosen: CoolingLine | None = self.cooling_table.selected_row()
        last: ReturnLine | None = self.table.selected_row()
        cooling = hire_returns.cooling_lines(self._app.store)
        self.cooling.set_rows(cooling)
        self.none_cooling.setVisible(not cooling)
        for part in (self.cooling_table, self.look_cool, self.look_warm, self.fields["badge"], self.cooling_note):
            part.setVisible(bool(cooling))
        codes = [one.pack for one in cooling]
        if codes:
            self.cooling_table.selectRow(codes.index(chosen.pack) if chosen and chosen.pack in codes else 0)
        returns = hire_returns.return_lines(self._app.store)
        self.model.set_rows(returns)
        if returns:
            self.table.selectRow(returns.index(last) if last in returns else 0)
        self.show_button.setEnabled(bool(returns))

    def _vehicle_of_pack(self) -> None:
        """Fill in the vehicle that the pack is recorded in; one that somebody typed stays.  Keeping names unknown packs."""
        pack = self.code("pack")
        if pack == self._asked or self.code("vehicle") not in ("", self._filled):
            return
        self._asked = pack
        try:
            found = reporting.meant(self._app.store, "", pack).vehicle
        except FleetcareError:
            found = ""
        self._filled = found
        self.fields["vehicle"].edit.setText(found)

    # the gate

    def _stopped(self) -> None:
        self._vehicle_of_pack()
        pack = self.code("pack") or word("faults.pack")
        self.stop.ask(pack, self.gate.found())
        self.stop.save.setText(say(msg("faults.stop_print", pack=pack)))
        self.pages.setCurrentIndex(1)
        self.stop.place.edit.setFocus()

    def _back(self) -> None:
        self.gate.clear()
        self.pages.setCurrentIndex(0)

    def _quarantine(self, place: str) -> None:
        pack = self.code("pack")
        back = HireReturn(
            pack, self.code("vehicle") or None, self._app.clock(), self.gate.found(), Damage.UNKNOWN, Warmth.COOL,
            charger=self.code("charger"), place=place, no_photo_reason=self.text("no_photo_reason"),
        )  # fmt: skip
        try:
            if not pack:
                raise EntryRefused("faults.need_pack", field="pack")
            pictures = self.photos.pictures()
            done, _danger = hire_returns.record_return(self._app.store, self._app.clock, self.author(), back, pictures)
        except FleetcareError as error:
            if error.field in ("pack", "vehicle", "photo"):
                self.pages.setCurrentIndex(0)
                self.refuse(error)
            else:
                self.stop.wrong.setText(say(error.message))
            return
        self._kept(done)
        self.quarantined.emit(pack)

    # the rest

    def back(self) -> HireReturn:
        """The return as typed; EntryRefused names what is missing."""
        if not self.gate.answered:
            raise EntryRefused("returns.needs_gate")
        if not self.code("pack"):
            raise EntryRefused("faults.need_pack", field="pack")
        damage, warmth = self.damage.chosen(Damage), self.warmth.chosen(Warmth)
        if damage is None:
            raise EntryRefused("returns.needs_damage_choice")
        if warmth is None:
            raise EntryRefused("returns.needs_warmth")
        return HireReturn(
            self.code("pack"), self.code("vehicle") or None, self._app.clock(), (), damage, warmth, (),
            self.text("no_photo_reason"), self.cleaned.isChecked(), self.text("damage_what"), self.text("damage_since"),
            self.code("charger"), self.text("charged_where"), remark=self.text("remark"),
        )  # fmt: skip

    def keep(self) -> None:
        """Keep the return; one that is a danger opens its quarantine sheet."""
        self.quiet()
        try:
            back = self.back()
            pictures = self.photos.pictures()
            done, danger = hire_returns.record_return(self._app.store, self._app.clock, self.author(), back, pictures)
        except FleetcareError as error:
            self.result.clear()
            self.refuse(error)
            return
        self._kept(done)
        if danger:
            self.quarantined.emit(back.pack)

    def _kept(self, done: Recorded) -> None:
        for field in self.fields.values():
            field.clear()
        self._asked, self._filled = "", ""
        self.gate.clear()
        self.cleaned.setChecked(False)
        self.damage.choose(None)
        self.warmth.choose(None)
        self.pages.setCurrentIndex(0)
        self.refresh()
        self.result.setText(say(done.message))
        self._changes.tell(done)

    def _look(self, warm: bool) -> Recorded:
        row: CoolingLine | None = self.cooling_table.selected_row()
        if row is None:
            raise EntryRefused("faults.need_pack", field="pack")
        look = LookedAgain(row.pack, self._app.clock(), warm)
        return hire_returns.look_again(self._app.store, self._app.clock, self.author(), look, self.text("badge"))

    def show_pictures(self) -> None:
        """The pictures of the chosen return, as they were kept."""
        row: ReturnLine | None = self.table.selected_row()
        while (item := self._row.takeAt(0)) is not None:
            part = item.widget()
            if part is not None:
                part.deleteLater()
        if row is None:
            return
        for content in hire_returns.photos_of(self._app.store, row.back):
            picture = QPixmap()
            picture.loadFromData(content)
            label = QLabel()
            label.setAccessibleName(f"{row.back.pack} {show_moment(row.done_at)}")
            label.setPixmap(
                picture.scaled(
                    PICTURE_PIXELS, PICTURE_PIXELS, Qt.AspectRatioMode.KeepAspectRatio,
                    Qt.TransformationMode.SmoothTransformation,
                )
            )  # fmt: skip
            self._row.addWidget(label)
        if not row.back.photos:
            reason = row.back.no_photo_reason or "—"
            self._row.addWidget(words(say(msg("returns.no_pictures", reason=reason))))
        self._row.addStretch(1)
        self.pictures.show()
