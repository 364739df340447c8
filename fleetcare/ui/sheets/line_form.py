"""One line of a paper sheet as a form, in the order of the sheet."""

from __future__ import annotations

import datetime as dt
import itertools
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QLabel, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import LookItem, RestBand
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.labels import normalise
from fleetcare.domain.moments import parse_date, parse_moment
from fleetcare.domain.packs import TestLoad
from fleetcare.domain.paper_sheets import CHECKS_A_SHEET, Figure
from fleetcare.domain.units import parse_amps, parse_celsius, parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import sheets
from fleetcare.services.sheets import SheetEntry
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.widgets.cards import Card, Field, words


class LineForm(Card):
    """Fields only; what is typed goes out as a `SheetEntry`, or a refusal stands beside its field."""

    asked_save = Signal()
    sheet_typed = Signal()

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self.sheet = _code_field(word("sheets.number"))
        self.line = Field(word("sheets.line"))
        self.vehicle = _code_field(word("sheets.vehicle"))
        self.pack = _code_field(word("sheets.pack"))
        self.date = Field(word("sheets.date"))
        self.bench = Field(word("sheets.bench"))
        self.bench.edit.setPlaceholderText(word("sheets.bench_hint"))
        self.time = Field(word("sheets.time"))
        self.done_by = _code_field(word("sheets.initials"))
        self.rest = QComboBox()
        self.rested = Field(word("bench.rested"), "V", number=True)
        self.loaded = Field(word("bench.loaded"), "V", number=True)
        self.amps = Field(word("bench.amps"), "A", number=True)
        self.meter = _code_field(word("sheets.meter"))
        self.load = QComboBox()
        self.remark = Field(word("bench.remark"))
        self.as_written = Field(word("sheets.as_written"))
        self.unreadable = {figure: QCheckBox(word("sheets.unreadable")) for figure in Figure}
        self.boxes = {item: QCheckBox(word(f"look.{item.value}")) for item in LookItem}
        self.all_good = QCheckBox(word("paper.all_good"))
        self.wrong_rest, self.wrong_look = words(), words()
        for label in (self.wrong_rest, self.wrong_look):
            label.setProperty("role", "wrong")
            label.hide()
        for figure, box in self.unreadable.items():
            box.setAccessibleName(f"{word(f'figure.{figure.value}')} {word('sheets.unreadable')}")
            box.toggled.connect(lambda _on: self._unreadable())
        self.rest.addItem("", None)
        for band in RestBand:
            self.rest.addItem(word(f"rest.{band.value}"), band)
        self._lay_out()
        self._chain()
        self._unreadable()

    def _lay_out(self) -> None:
        rest = _chosen(word("bench.rest"), self.rest, self.wrong_rest)
        load = _chosen(word("sheets.load"), self.load)
        time = _with(self.time, self.unreadable[Figure.DONE_AT])
        rested = _with(self.rested, self.unreadable[Figure.RESTED])
        loaded = _with(self.loaded, self.unreadable[Figure.LOADED])
        looks = (*self.boxes.values(), self.all_good)
        self._rows: list[tuple[QGridLayout, tuple[QWidget, ...]]] = []
        self._row(self.sheet, self.line, self.date, self.bench)
        self._row(self.vehicle, self.pack, time, self.done_by)
        self.column.addWidget(words(word("sheets.look"), bold=True))
        self._row(*looks, spacing=2)
        self.column.addWidget(self.wrong_look)
        self._row(rest, rested, loaded, self.amps)
        self._row(self.meter, load, self.as_written)
        self.column.addWidget(self.remark)
        self.arrange(narrow=False)

    def _row(self, *parts: QWidget, spacing: int = 8) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(spacing)
        self._rows.append((grid, parts))
        self.column.addLayout(grid)

    def arrange(self, *, narrow: bool) -> None:
        """Two columns instead of four where there is little room."""
        columns = 2 if narrow else 4
        for grid, parts in self._rows:
            for number, part in enumerate(parts):
                grid.addWidget(part, number // columns, number % columns, Qt.AlignmentFlag.AlignTop)
            for column in range(4):
                grid.setColumnStretch(column, 1 if column < min(columns, len(parts)) else 0)

    def _chain(self) -> None:
        """Enter goes on to the next field, and saves from the last."""
        order: tuple[tuple[Field, QWidget], ...] = (
            (self.sheet, self.line.edit), (self.line, self.date.edit), (self.vehicle, self.pack.edit),
            (self.pack, self.time.edit), (self.date, self.bench.edit), (self.bench, self.vehicle.edit),
            (self.time, self.done_by.edit),
            (self.done_by, self.all_good), (self.rested, self.loaded.edit), (self.loaded, self.amps.edit),
            (self.amps, self.meter.edit), (self.meter, self.remark.edit), (self.as_written, self.remark.edit),
        )  # fmt: skip
        for field, following in order:
            field.edit.returnPressed.connect(following.setFocus)
        tabs = (
            self.sheet.edit, self.line.edit, self.date.edit, self.bench.edit, self.vehicle.edit, self.pack.edit,
            self.time.edit, self.unreadable[Figure.DONE_AT], self.done_by.edit, *self.boxes.values(), self.all_good,
            self.rest, self.rested.edit, self.unreadable[Figure.RESTED], self.loaded.edit,
            self.unreadable[Figure.LOADED], self.amps.edit, self.meter.edit, self.load, self.as_written.edit,
            self.remark.edit,
        )  # fmt: skip
        for before, after in itertools.pairwise(tabs):
            QWidget.setTabOrder(before, after)
        self.sheet.edit.editingFinished.connect(self.sheet_typed.emit)
        self.remark.edit.returnPressed.connect(self.asked_save.emit)
        self.all_good.toggled.connect(self._good)
        for box in self.boxes.values():
            box.toggled.connect(lambda on: on and self.all_good.setChecked(False))

    def _good(self, on: bool) -> None:
        if on:
            for box in self.boxes.values():
                box.setChecked(False)

    def _unreadable(self) -> None:
        for figure, field in ((Figure.DONE_AT, self.time), (Figure.RESTED, self.rested), (Figure.LOADED, self.loaded)):
            field.edit.setEnabled(not self.unreadable[figure].isChecked())
        self.as_written.setVisible(any(box.isChecked() for box in self.unreadable.values()))

    def fill(self, day: dt.date, meter: str, load: TestLoad | None) -> None:
        """Offer the loads, and begin with what is most likely; nothing typed is changed."""
        kept = self.load.currentData()
        with self._app.store.view() as view:
            loads = sorted(view.things("test_load").values(), key=lambda one: one.code)
        self.load.clear()
        for one in loads:
            text = msg("bench.load_line", code=one.code, load_a=one.load_a, hold_seconds=one.hold_s)
            self.load.addItem(say(text), one.code)
        self.load.addItem(word("bench.no_load"), None)
        chosen = self.load.findData(kept or (load.code if load else None))
        self.load.setCurrentIndex(max(chosen, 0))
        if not self.date.text:
            self.date.edit.setText(day.isoformat())
        if not self.meter.text:
            self.meter.edit.setText(meter)

    def entry(self, zone: ZoneInfo, queried: str) -> SheetEntry:
        """What is typed; EntryRefused names the field."""
        number = sheets.sheet_number(self.sheet.text)
        unreadable = tuple(figure for figure, box in self.unreadable.items() if box.isChecked())
        done_at = None
        if Figure.DONE_AT not in unreadable:
            if not self.time.text.strip():
                raise EntryRefused("sheet.needs_time", field="done_at")
            done_at = parse_moment(parse_date(self.date.text, field="date"), self.time.text, zone, field="done_at")
        rested = loaded = amps = None
        if Figure.RESTED not in unreadable:
            rested = parse_volts(self.rested.text, field="rested_v")
        if Figure.LOADED not in unreadable and self.loaded.text.strip():
            loaded = parse_volts(self.loaded.text, field="loaded_v")
            amps = parse_amps(self.amps.text, field="load_a")
        if rested is None:
            loaded, amps = None, None
        typed_c = self.bench.text.strip()
        bench_c = None if not typed_c or typed_c.lower().startswith("u") else parse_celsius(typed_c, field="bench_c")
        ticked = tuple(item for item, box in self.boxes.items() if box.isChecked())
        looked = ticked if ticked or self.all_good.isChecked() else None
        rest = self.rest.currentData()
        return SheetEntry(
            number, self._line(), normalise(self.pack.text), sheets.person_named(self._app.store, self.done_by.text).code,
            done_at, normalise(self.meter.text), None if rest is None else RestBand(rest), rested, loaded, amps,
            self.load.currentData() if loaded is not None else None,
            vehicle=normalise(self.vehicle.text) or None, look_found=looked, unreadable=unreadable,
            as_written=self.as_written.text.strip(), remark=self.remark.text.strip(), queried=queried,
            bench_c=bench_c,
        )  # fmt: skip

    def _line(self) -> int:
        typed = self.line.text.strip()
        if not (typed.isascii() and typed.isdigit()):
            raise EntryRefused("sheet.not_a_line", field="line", typed=typed, last=CHECKS_A_SHEET)
        return int(typed)

    @property
    def _by_name(self) -> dict[str, Field]:
        return {
            "sheet": self.sheet, "line": self.line, "vehicle": self.vehicle, "pack": self.pack, "date": self.date,
            "bench_c": self.bench, "done_at": self.time, "done_by": self.done_by, "rested_v": self.rested, "loaded_v": self.loaded,
            "load_a": self.amps, "meter": self.meter, "as_written": self.as_written,
        }  # fmt: skip

    def refuse(self, error: FleetcareError) -> bool:
        """Show the refusal beside its field; False when it belongs to none."""
        if error.field in ("rest", "look"):
            label = self.wrong_rest if error.field == "rest" else self.wrong_look
            label.setText(say(error.message))
            label.show()
            (self.rest if error.field == "rest" else self.all_good).setFocus()
            return True
        field = self._by_name.get(error.field)
        if field is None:
            return False
        field.refuse(error)
        field.edit.setFocus()
        field.edit.selectAll()
        return True

    def clear_refusals(self) -> None:
        """Take all sentences away."""
        for field in self._by_name.values():
            field.clear_refusal()
        self.wrong_rest.hide()
        self.wrong_look.hide()

    @property
    def begun(self) -> bool:
        """True when something of the line itself is typed."""
        fields = (self.vehicle, self.pack, self.time, self.rested, self.loaded, self.remark, self.as_written)
        return any(field.text.strip() for field in fields)

    def next_line(self, sheet: str, line: int) -> None:
        """Empty the line; sheet, date, person, meter and load stay for the next."""
        for field in (
            self.vehicle,
            self.pack,
            self.time,
            self.rested,
            self.loaded,
            self.amps,
            self.remark,
            self.as_written,
        ):
            field.clear()
        for box in (*self.boxes.values(), self.all_good, *self.unreadable.values()):
            box.setChecked(False)
        self.rest.setCurrentIndex(0)
        self.clear_refusals()
        self.sheet.edit.setText(sheet)
        self.line.edit.setText(str(line) if sheet else "")


def _code_field(label: str) -> Field:
    field = Field(label)
    field.edit.setProperty(SCAN_FIELD, True)
    return field


def _with(field: Field, box: QCheckBox) -> QWidget:
    return _stacked(field, box)


def _chosen(label: str, box: QComboBox, *below: QWidget) -> QWidget:
    box.setAccessibleName(label)
    name = QLabel(label)
    name.setBuddy(box)
    return _stacked(name, box, *below)


def _stacked(*parts: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(3)
    for part in parts:
        column.addWidget(part)
    return holder
