"""The entry of one proof: what the meter was compared with, and what both showed."""

from __future__ import annotations

import datetime as dt
import itertools

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.moments import date_if_typed, parse_date
from fleetcare.domain.packs import Meter
from fleetcare.domain.proving import MeterProof
from fleetcare.domain.units import parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import meters
from fleetcare.services.meters import ProofPreview
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.widgets.cards import Card, Field, words

NARROW_LETTERS = 130
"""Below this many letters of width the fields stand in two columns."""


class ProofCard(Card):
    """Fields only; what is typed goes out as a `MeterProof`, or a refusal stands beside its field."""

    edited = Signal()
    asked_save = Signal()
    asked_broken = Signal()

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self._meter: Meter | None = None
        self.title = words(word("meters.choose"), size=1.15, bold=True)
        self.hint = words(word("meters.prove_hint"), quiet=True)
        self.reference = Field(word("meters.reference"))
        self.reference.edit.setProperty(SCAN_FIELD, True)
        self.reference_v = Field(word("meters.reference_v"), "V", number=True)
        self.reference_error = Field(word("meters.reference_error"), "V", number=True)
        self.read = Field(word("meters.read_v"), "V", number=True)
        self.done = Field(word("meters.done_date"))
        self.done.edit.setPlaceholderText(word("meters.date_hint"))
        self.due = Field(word("meters.new_due"))
        self.due.edit.setPlaceholderText(word("meters.due_hint"))
        self.statement = words(bold=True)
        self.plan = words()
        self.plan.setProperty("role", "wrong")
        self.save = QPushButton(word("meters.save"))
        self.broken = QPushButton(word("meters.broken"))
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(14)
        buttons = QHBoxLayout()
        for button in (self.save, self.broken):
            button.setMinimumHeight(44)
            buttons.addWidget(button)
        buttons.addWidget(self.wrong, 1)
        for part in (self.title, self.hint):
            self.column.addWidget(part)
        self.column.addLayout(self._grid)
        for part in (self.statement, self.plan):
            self.column.addWidget(part)
            part.hide()
        self.wrong.hide()
        self.column.addLayout(buttons)
        self._fields = {
            "reference": self.reference, "reference_v": self.reference_v, "reference_error_v": self.reference_error,
            "read_v": self.read, "done_date": self.done, "calibration_due": self.due,
        }  # fmt: skip
        order = list(self._fields.values())
        for field in order:
            field.edit.textEdited.connect(self._edited)
        for field, following in itertools.pairwise(order[:4]):
            field.edit.returnPressed.connect(following.edit.setFocus)
        for field in order[3:]:
            field.edit.returnPressed.connect(self.asked_save.emit)
        self._arrange(6)
        self.save.clicked.connect(self.asked_save.emit)
        self.broken.clicked.connect(self.asked_broken.emit)
        self.set_meter(None)

    def _arrange(self, columns: int) -> None:
        top = Qt.AlignmentFlag.AlignTop
        for number, field in enumerate(self._fields.values()):
            self._grid.addWidget(field, number // columns, number % columns, top)
        for column in range(6):
            self._grid.setColumnStretch(column, (2 if column == 0 else 1) if column < columns else 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook: fewer fields in a row where there is little room."""
        narrow = self.width() < NARROW_LETTERS * self.fontMetrics().averageCharWidth()
        self._arrange(2 if narrow else 6)
        super().resizeEvent(event)

    @property
    def meter(self) -> Meter | None:
        """The meter to be proved, or None."""
        return self._meter

    def set_meter(self, meter: Meter | None) -> None:
        """Prove this meter; what another one read does not stay."""
        if meter is None or self._meter is None or meter.code != self._meter.code:
            self.read.clear()
            self.show_preview(None)
        self._meter = meter
        usable = meter is not None and meter.refused_from is None
        if meter is None:
            self.title.setText(word("meters.choose"))
        elif meter.refused_from is not None:
            self.title.setText(say(msg("proof.meter_refused", meter=f"{meter.code}", since_date=meter.refused_from)))
        else:
            self.title.setText(say(msg("meters.prove", meter=f"{meter.code} {meter.name}")))
        self.hint.setVisible(usable)
        for part in (*self._fields.values(), self.save, self.broken):
            part.setVisible(usable)
        if not usable:
            self.show_preview(None)

    def clear(self) -> None:
        """Nothing typed."""
        for field in self._fields.values():
            field.clear()
        self.show_preview(None)

    @property
    def begun(self) -> bool:
        """True when all three voltages have something typed."""
        return bool(self.reference.text.strip() and self.reference_v.text.strip() and self.read.text.strip())

    def proof(self, now: dt.datetime) -> MeterProof:
        """What is typed; EntryRefused names the field."""
        assert self._meter is not None
        reference = self.reference.text.strip()
        if not reference:
            raise EntryRefused("proof.needs_reference", field="reference")
        reference_v = parse_volts(self.reference_v.text, field="reference_v")
        typed_error = self.reference_error.text.strip()
        if not typed_error and not meters.is_meter(self._app.store, reference):
            raise EntryRefused("proof.needs_error", field="reference_error_v")
        error_v = parse_volts(typed_error or "0", field="reference_error_v")
        read_v = parse_volts(self.read.text, field="read_v")
        done_at = now
        if self.done.text.strip():
            day = parse_date(self.done.text, field="done_date")
            if day != now.date():
                done_at = meters.start_of(self._app.store, day)
        due = date_if_typed(self.due.text, field="calibration_due")
        return MeterProof(self._meter.code, done_at, reference, reference_v, error_v, read_v, due)

    def show_preview(self, preview: ProofPreview | None) -> None:
        """Say what the proof would mean; the button says what it will do."""
        self.wrong.hide()
        self.statement.setVisible(preview is not None)
        found = preview is not None and preview.plan is not None
        self.plan.setVisible(found)
        self.statement.setText("" if preview is None else say(preview.statement))
        self.plan.setText(say(preview.plan) if preview is not None and preview.plan is not None else "")
        code = self._meter.code if self._meter else ""
        self.save.setText(say(msg("meters.save_found", meter=code)) if found else word("meters.save"))

    def refuse(self, error: FleetcareError) -> None:
        """Beside the field it belongs to, or above the buttons."""
        field = self._fields.get(error.field)
        if field is None:
            self.wrong.setText(say(error.message))
            self.wrong.show()
        else:
            field.refuse(error)
            field.edit.setFocus()

    def _edited(self) -> None:
        self.wrong.hide()
        self.edited.emit()
