"""The fields of a set-up form: each has its label, its unit, a line with default and source, and its refusal below."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from fleetcare.domain.setup.forms import UNITS, Entry, FieldSpec
from fleetcare.domain.setup.reading import YES
from fleetcare.domain.wording import word
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice
from fleetcare.ui.widgets.unbroken import Words

NUMBERS = (
    Entry.WHOLE, Entry.VOLTS, Entry.AMPS, Entry.OHMS, Entry.AMP_HOURS, Entry.CELSIUS, Entry.PERCENT, Entry.MONEY, Entry.RATIO,
)  # fmt: skip


class SetupEntry(QWidget):
    """One field of a form; `value` is its text as the domain reads it.  `edited` is called when a person changes it."""

    def __init__(self, spec: FieldSpec, label: str, standing: str, edited: Callable[[], None]) -> None:
        super().__init__()
        self.spec = spec
        self.setObjectName(spec.name)
        self._standing = standing
        self._edited = edited
        self.hint = words(standing, size=0.92, quiet=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        self.field = self._make(label)
        column.addWidget(self.field)
        inner = self.field.layout()
        assert isinstance(inner, QVBoxLayout)
        above = inner.itemAt(0).widget()
        if isinstance(above, QLabel):
            above.setWordWrap(True)
        inner.insertWidget(inner.indexOf(self.field.wrong), self.hint)
        self.hint.setVisible(bool(standing))

    def _make(self, label: str) -> Field:
        spec = self.spec
        field = Field(label, spec.unit or UNITS.get(spec.entry, ""), number=spec.entry in NUMBERS)
        if spec.entry is Entry.CODE:
            field.edit.setProperty(SCAN_FIELD, True)
        field.edit.textEdited.connect(lambda _text: self._edited())
        return field

    @property
    def target(self) -> QWidget:
        """What takes the focus."""
        return self.field.edit

    @property
    def value(self) -> str:
        """What is typed, as typed."""
        return self.field.text

    def set_value(self, text: str) -> None:
        """Show `text`."""
        self.field.edit.setText(text)
        self.field.clear_refusal()

    def say(self, text: str, *, grave: bool = False) -> None:
        """Show a line below the field after what always stands there."""
        told = " · ".join(filter(None, (text, self._standing if not grave else "")))
        role = "wrong" if grave else "quiet"
        if self.hint.property("role") != role:
            self.hint.setProperty("role", role)
            self.hint.style().unpolish(self.hint)
            self.hint.style().polish(self.hint)
        self.hint.setText(told)
        self.hint.setVisible(bool(told))
        self.target.setAccessibleDescription(told)


class ChoiceEntry(SetupEntry):
    """One of several known things."""

    def _make(self, label: str) -> Field:
        self.choice = Choice(label)
        self.choice.box.activated.connect(lambda _i: self._edited())
        self.choice.box.setMinimumContentsLength(8)
        self.choice.box.setSizeAdjustPolicy(self.choice.box.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        return self.choice

    @property
    def target(self) -> QWidget:
        """What takes the focus."""
        return self.choice.box

    @property
    def value(self) -> str:
        """The code of what is chosen."""
        return self.choice.code

    def set_value(self, text: str) -> None:
        """Choose by code."""
        self.choice.choose(text)
        self.choice.clear_refusal()

    def offer(self, choices: Sequence[tuple[str, str]], blank: str = "") -> None:
        """Offer (code, words); the first line, with the words `blank`, chooses nothing."""
        self.choice.offer(choices)
        self.choice.box.setItemText(0, blank)


class _TickWords(Words):
    """The words of a tick, which wrap; a click on them is one on the tick."""

    def __init__(self, text: str, box: QCheckBox) -> None:
        super().__init__(text)
        self.setWordWrap(True)
        self.setBuddy(box)
        self._box = box

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Qt's hook."""
        if self.rect().contains(event.position().toPoint()):
            self._box.setFocus()
            self._box.click()


class TickEntry(SetupEntry):
    """Yes or no."""

    def _make(self, label: str) -> Field:
        field = Field("")
        self.box = QCheckBox()
        self.box.setAccessibleName(label)
        self.box.setMinimumHeight(round(self.box.fontMetrics().height() * 1.8))
        part = QWidget()
        row = QHBoxLayout(part)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        row.addWidget(self.box)
        row.addWidget(_TickWords(label, self.box), 1)
        _put_in_place_of_edit(field, part)
        self.box.clicked.connect(lambda _on: self._ticked(field))
        return field

    def _ticked(self, field: Field) -> None:
        field.put_right()
        self._edited()

    @property
    def target(self) -> QWidget:
        """What takes the focus."""
        return self.box

    @property
    def value(self) -> str:
        """ "yes" or ""."""
        return YES if self.box.isChecked() else ""

    def set_value(self, text: str) -> None:
        """Tick it or not."""
        self.box.setChecked(text == YES)
        self.field.clear_refusal()


class ManyEntry(SetupEntry):
    """Several of the things offered; what is on record and is not offered any more stays listed."""

    def _make(self, label: str) -> Field:
        field = Field(label)
        self._boxes: dict[str, QCheckBox] = {}
        self._holder = QWidget()
        self._column = QVBoxLayout(self._holder)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(2)
        _put_in_place_of_edit(field, self._holder, named=True)
        return field

    @property
    def target(self) -> QWidget:
        """What takes the focus."""
        return next(iter(self._boxes.values()), self._holder)

    @property
    def value(self) -> str:
        """The codes that are ticked."""
        return ", ".join(code for code, box in self._boxes.items() if box.isChecked())

    def set_value(self, text: str) -> None:
        """Tick these codes."""
        wanted = [one.strip() for one in text.split(",") if one.strip()]
        self.offer([(code, code) for code in wanted if code not in self._boxes], keep=True)
        for code, box in self._boxes.items():
            box.setChecked(code in wanted)
        self.field.clear_refusal()

    def offer(self, choices: Sequence[tuple[str, str]], *, keep: bool = False) -> None:
        """Offer (code, words); what is ticked stays ticked and offered."""
        ticked = {code: box.text() for code, box in self._boxes.items() if keep or box.isChecked()}
        offered = dict(choices) | {code: text for code, text in ticked.items() if code not in dict(choices)}
        for code in [one for one in self._boxes if one not in offered]:
            box = self._boxes.pop(code)
            box.hide()
            box.deleteLater()
        for code, text in offered.items():
            if code not in self._boxes:
                box = self._boxes[code] = QCheckBox(text)
                box.clicked.connect(lambda _on: self._edited())
                self._column.addWidget(box)
            self._boxes[code].setText(text)


def _put_in_place_of_edit(field: Field, part: QWidget, *, named: bool = False) -> None:
    """A field whose entry is another widget; with `named` its label stays above."""
    column = field.layout()
    assert column is not None
    row = column.itemAt(1).layout()
    assert row is not None
    row.replaceWidget(field.edit, part)
    field.edit.hide()
    field.edit.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    label = column.itemAt(0).widget()
    assert label is not None
    if not named:
        label.hide()


HINTS = {
    ("depot", "code"): ("hint.code_named", "D1"), ("pack_model", "code"): ("hint.code_named", "K36-A"),
    ("vehicle", "code"): ("hint.code", "EB-12"), ("charger", "code"): ("hint.code", "C-36-1"),
    ("meter", "code"): ("hint.code", "M-01"), ("test_load", "code"): ("hint.code", "L-08"),
}  # fmt: skip
"""Hints of codes, with an example."""

STANDING = {
    "connector", "capacity_ah", "fixed", "baseline_c", "wake_note", "reset_note", "reset_by_fuse", "next_lower_fuse", "country",
    "subdivision", "time_zone", "distances_km", "currency", "warranty_months", "voltage_class_v", "like", "charge_end_v",
    "needs_packs", "tolerance_percent", "accuracy_digits", "calibration_due", "proved_on", "hold_s", "load_a", "bay_place",
    "why", "serial", "charge_fuse_a", "models", "rated_v", "rated_a", "charge_max_a", "bms_limit_a", "bays",
}  # fmt: skip
"""Fields below which the same line always stands."""


def entry_for(kind: str, spec: FieldSpec, label: str, edited: Callable[[], None]) -> SetupEntry:
    """The entry of a field, with the line that always stands below it."""
    from fleetcare.domain.wording import msg, say

    standing = ""
    if (kind, spec.name) in HINTS:
        key, example = HINTS[kind, spec.name]
        standing = say(msg(key, example=example))
    elif spec.name in STANDING:
        standing = word(f"hint.{spec.name}")
    elif spec.name == "accuracy_percent":
        standing = word("hint.accuracy_percent" if kind == "meter" else "hint.test_load_accuracy")
    made = {Entry.CHOICE: ChoiceEntry, Entry.YES: TickEntry, Entry.MANY: ManyEntry}.get(spec.entry, SetupEntry)
    return made(spec, label, standing, edited)
