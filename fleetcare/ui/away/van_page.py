"""Van lists: scan what goes, refuse what may not, print the list, and note what arrived."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.services import van_lists
from fleetcare.services.shown import Recorded
from fleetcare.services.van_lists import Listed, ToLoad
from fleetcare.services.van_lists import VanPage as Van
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import Choice, DeedPage, line, tick
from fleetcare.ui.widgets.paged import rows_high
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _marks(one: Listed) -> str:
    if not one.vehicle:
        return word("van.mark_3480")
    return word("van.mark_3556") if one.lines else word("van.not_dangerous")


LOADING = (
    Column(word("van.code"), lambda one: one.code, width=18),
    Column(word("list.packs"), lambda one: ", ".join(each.pack for each in one.lines if one.vehicle) or "—", width=24),
    Column(word("van.mark"), _marks, width=44),
)
UNDER_WAY = (
    Column(word("van.number"), lambda van: van.loaded.number, width=10),
    Column(word("van.from"), lambda van: van.from_name, width=18),
    Column(word("van.to"), lambda van: van.to_name, width=18),
    Column(word("van.left"), lambda van: show_moment(van.loaded.done_at), width=18),
    Column(word("van.driver"), lambda van: van.loaded.driver, width=18),
    Column(word("van.under_way"), lambda van: ", ".join(van.open), width=30, tip=True),
)


class VanPage(DeedPage):
    """Depot choices, the list being made, and the vans under way with their arrival."""

    asked_sheet = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self.items: list[Listed] = []
        self.boxes: dict[str, QCheckBox] = {}
        self.under_way = RowModel(UNDER_WAY)
        self.table = Table(self.under_way, word("van.under_way"), stretch=5)
        rows_high(self.table, 3)
        self.none = words(word("van.none"), quiet=True)
        outer = QVBoxLayout(self)
        outer.addWidget(self._load_card())
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(words(word("van.under_way"), bold=True))
        outer.addWidget(self.none)
        outer.addWidget(self.table)
        outer.addWidget(self._arrive_card())
        outer.addStretch(1)
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._show_van())

    def _load_card(self) -> Card:
        card = Card(word("van.heading"))
        self.from_depot, self.to_depot = Choice(word("van.from"), "van", ()), Choice(word("van.to"), "van", ())
        first, second = line(), line()
        first.addWidget(self.from_depot, 1)
        first.addWidget(self.to_depot, 1)
        first.addWidget(self.add_field("driver", word("van.driver")), 1)
        second.addWidget(self.add_field("items", word("van.add")), 2)
        self.add_button, self.remove_button = QPushButton(word("van.do_add")), QPushButton(word("van.do_remove"))
        for button in (self.add_button, self.remove_button):
            button.setMinimumHeight(40)
            second.addWidget(button, 1, Qt.AlignmentFlag.AlignBottom)
        self.loading = RowModel(LOADING)
        self.load_table = Table(self.loading, word("van.heading"), stretch=2)
        rows_high(self.load_table, 5)
        self.one_depot = words(word("van.one_depot"), bold=True)
        self.covered = tick(word("van.covered"))
        self.leave_button = QPushButton(word("van.do_load"))
        self.leave_button.setMinimumHeight(44)
        card.column.addWidget(self.one_depot)
        card.column.addLayout(first)
        card.column.addLayout(second)
        card.column.addWidget(self.load_table)
        card.column.addWidget(words(word("sheet.van_marks"), quiet=True))
        card.column.addWidget(self.covered)
        card.column.addWidget(self.leave_button)
        self.add_button.clicked.connect(self.add)
        self.fields["items"].edit.returnPressed.connect(self.add)
        self.remove_button.clicked.connect(self.remove)
        self.leave_button.clicked.connect(self.leave)
        return card

    def _arrive_card(self) -> Card:
        self.arrive_card = Card()
        self._ticks = QVBoxLayout()
        self.arrive_card.column.addLayout(self._ticks)
        row = line()
        row.addWidget(self.add_field("shelf", word("van.shelf")), 2)
        self.arrive_button, self.print_button = QPushButton(word("van.do_arrive")), QPushButton(word("van.print"))
        for button in (self.arrive_button, self.print_button):
            button.setMinimumHeight(40)
            row.addWidget(button, 1, Qt.AlignmentFlag.AlignBottom)
        self.arrive_card.column.addLayout(row)
        self.arrive_button.clicked.connect(lambda: self.attempt(self._arrive, "shelf"))
        self.print_button.clicked.connect(self._print)
        return self.arrive_card

    def refresh(self) -> None:
        """Offer the depots, and read the vans under way again."""
        chosen: Van | None = self.table.selected_row()
        with self._app.store.view() as view:
            depots = view.things("depot")
        for number, choice in enumerate((self.from_depot, self.to_depot)):
            if choice.box.count() != len(depots):
                choice.box.clear()
                for code, depot in depots.items():
                    choice.box.addItem(f"{code} {depot.name}", code)
                choice.box.setCurrentIndex(min(number, len(depots) - 1))
        enough = len(depots) > 1
        self.one_depot.setVisible(not enough)
        self.leave_button.setEnabled(enough)
        self.to_depot.setVisible(enough)
        vans = van_lists.van_pages(self._app.store, self._app.clock)
        self.under_way.set_rows(vans)
        self.none.setVisible(not vans)
        self.table.setVisible(bool(vans))
        numbers = [van.loaded.number for van in vans]
        if numbers:
            kept = chosen.loaded.number if chosen is not None and chosen.loaded.number in numbers else numbers[0]
            self.table.selectRow(numbers.index(kept))
        self._show_van()

    def _show_van(self) -> None:
        van: Van | None = self.table.selected_row()
        self.arrive_card.setVisible(van is not None)
        open_now = () if van is None else van.open
        if tuple(self.boxes) == open_now:
            return
        for box in self.boxes.values():
            self._ticks.removeWidget(box)
            box.deleteLater()
        self.boxes = {}
        for code in open_now:
            box = self.boxes[code] = tick(say(msg("van.arrived_tick", code=code)))
            self._ticks.addWidget(box)

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned pack or vehicle goes on the list; one that is under way is ticked as arrived."""
        if thing_class not in ("pack", "vehicle"):
            return False
        if code in self.boxes:
            self.boxes[code].setChecked(True)
            return True
        self.fields["items"].edit.setText(code)
        self.add()
        return True

    def add(self) -> None:
        """Put what is typed on the list, or say why it may not go."""
        self.quiet()
        self.result.clear()
        try:
            depot = str(self.from_depot.box.currentData() or "")
            self.items.append(van_lists.listed(self._app.store, self.text("items"), depot, self.items))
        except FleetcareError as error:
            self.refuse(error)
            return
        self.fields["items"].clear()
        self.loading.set_rows(self.items)
        self.load_table.selectRow(len(self.items) - 1)
        self.fields["items"].edit.setFocus()

    def remove(self) -> None:
        """Take the chosen line off the list."""
        chosen: Listed | None = self.load_table.selected_row()
        if chosen is not None:
            self.items.remove(chosen)
            self.loading.set_rows(self.items)

    def leave(self) -> None:
        """The van leaves: keep the list and print it."""
        numbers: list[str] = []

        def deed() -> Recorded:
            load = ToLoad(
                str(self.from_depot.box.currentData() or ""), str(self.to_depot.box.currentData() or ""),
                self.text("driver"), tuple(self.items), self.covered.isChecked(),
            )  # fmt: skip
            done, number = van_lists.record_loaded(self._app.store, self._app.clock, self.author(), load)
            numbers.append(number)
            return done

        if self.attempt(deed, "driver", "items"):
            self.items.clear()
            self.loading.set_rows(())
            self.covered.setChecked(False)
            self.asked_sheet.emit(numbers[0])

    def _chosen(self) -> str:
        van: Van | None = self.table.selected_row()
        if van is None:
            raise EntryRefused("van.unknown", number="—")
        return van.loaded.number

    def _arrive(self) -> Recorded:
        arrived = [code for code, box in self.boxes.items() if box.isChecked()]
        return van_lists.record_arrived(
            self._app.store, self._app.clock, self.author(), self._chosen(), arrived, self.text("shelf")
        )

    def _print(self) -> None:
        try:
            self.asked_sheet.emit(self._chosen())
        except FleetcareError as error:
            self.refuse(error)
