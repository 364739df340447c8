"""The form of one kind of thing: its groups as cards, values in and out as texts by field name."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLineEdit, QVBoxLayout, QWidget

from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.fuses import Body
from fleetcare.domain.packs import Chemistry, PackModel, VehicleKind
from fleetcare.domain.setup.forms import groups_of
from fleetcare.domain.setup.hints import Hint, number
from fleetcare.domain.setup.reading import LIVE, label_of
from fleetcare.domain.wording import say, word
from fleetcare.services.setting_up import Offers
from fleetcare.ui.setup.entries import ChoiceEntry, ManyEntry, SetupEntry, entry_for
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words

PAIRING = {
    "vehicle": {"voltage_class_v": "voltage_class_v", "connector": "connector", "charge_end_v": "full_v", "chemistry": "chemistry"},
    "charger": {"rated_v": "full_v", "connector": "connector", "chemistry": "chemistry"},
}  # fmt: skip
"""What the chosen model fills in: field of the form by attribute of the model."""


class ThingForm(QWidget):
    """`edited` is called after every change by a person, `entered` when Enter is pressed in a field."""

    def __init__(self, kind: str, edited: Callable[[], None], entered: Callable[[], None]) -> None:
        super().__init__()
        self.kind = kind
        self._edited = edited
        self._models: tuple[PackModel, ...] = ()
        self.entries: dict[str, SetupEntry] = {}
        self.note = words(quiet=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.setSpacing(10)
        for group in groups_of(kind):
            card = Card(word(f"setup.group_{kind}_{group.name}"))
            grid = QGridLayout()
            grid.setHorizontalSpacing(16)
            grid.setVerticalSpacing(10)
            wide = 2 if group.name == "limits" or kind == "site_rules" else 3
            columns = 1 if large_text() else wide
            row = at = 0
            for spec in group.fields:
                entry = self.entries[spec.name] = entry_for(kind, spec, say(label_of(kind, spec.name)), self._changed)
                if isinstance(entry.target, QLineEdit):
                    entry.target.returnPressed.connect(entered)
                if spec.wide and at:
                    row, at = row + 1, 0
                grid.addWidget(entry, row, at, 1, columns if spec.wide else 1, Qt.AlignmentFlag.AlignTop)
                at = columns if spec.wide else at + 1
                if at >= columns:
                    row, at = row + 1, 0
            for number_ in range(columns):
                grid.setColumnStretch(number_, 1)
            card.column.addLayout(grid)
            column.addWidget(card)
        column.addWidget(self.note)
        column.addStretch(1)
        self.note.hide()
        like = self.entries.get("like")
        if isinstance(like, ChoiceEntry):
            like.choice.box.activated.connect(lambda _i: self._like())
        self._offer_fixed()

    def _offer_fixed(self) -> None:
        """Choices that never change."""
        offered = {
            "chemistry": ([(one.value, one.value) for one in Chemistry], ""),
            "kind": ([(one.value, word(f"vehicle_kind.{one.value}")) for one in VehicleKind], ""),
            "fuse_body": ([(one.value, word(f"fuse_body.{one.value}")) for one in Body], ""),
            "charge_fuse_body": ([(one.value, word(f"fuse_body.{one.value}")) for one in Body], ""),
            "output_live_when_off": ([(one, word(f"setup.live_{one}")) for one in LIVE if one], word("setup.live_")),
        }
        for name, (choices, blank) in offered.items():
            entry = self.entries.get(name)
            if isinstance(entry, ChoiceEntry):
                entry.offer(choices, blank)

    def offer(self, offers: Offers) -> None:
        """Offer the depots and models on record."""
        self._models = offers.models
        for name, choices in (("depot", offers.depots), ("like", [(one.code, one.name) for one in offers.models])):
            entry = self.entries.get(name)
            if isinstance(entry, ChoiceEntry):
                entry.offer(choices)
        self._offer_pairs()

    def _offer_pairs(self) -> None:
        """A charger is paired only with models of its volts, chemistry and connector."""
        many = self.entries.get("models")
        if not isinstance(many, ManyEntry):
            return
        volts, connector = number(self.value("rated_v")), self.value("connector").strip().upper()
        fits = [
            (one.code, f"{one.code} · {one.name}")
            for one in self._models
            if one.full_v == volts and one.connector == connector and one.chemistry.value == self.value("chemistry")
        ]
        many.offer(fits)
        many.say("" if fits else word("hint.models_none"))

    def _like(self) -> None:
        """Fill in what a model says of the things it belongs to."""
        code = self.value("like")
        model = next((one for one in self._models if one.code == code), None)
        if model is None:
            return
        for name, attribute in PAIRING[self.kind].items():
            value = getattr(model, attribute)
            self.entries[name].set_value(value.value if isinstance(value, Chemistry) else str(value))
        self._offer_pairs()
        if self.kind == "charger":
            self.entries["models"].set_value(code)
        self._edited()

    def _changed(self) -> None:
        if self.kind == "charger":
            self._offer_pairs()
        self._edited()

    def value(self, name: str) -> str:
        """The text of one field."""
        return self.entries[name].value

    @property
    def typed(self) -> dict[str, str]:
        """Every field as typed."""
        return {name: entry.value for name, entry in self.entries.items()}

    def show_values(self, typed: Mapping[str, str], *, code_fixed: bool) -> None:
        """Show these texts; the code of a thing on record is not typed again."""
        for name, entry in self.entries.items():
            entry.set_value(typed.get(name, ""))
        code = self.entries["code"].field.edit
        code.setReadOnly(code_fixed)
        code.setFocusPolicy(Qt.FocusPolicy.NoFocus if code_fixed else Qt.FocusPolicy.StrongFocus)
        code.setEnabled(not code_fixed)
        self._offer_pairs()

    def show_hints(self, hints: Mapping[str, Hint]) -> None:
        """Show the lines below the fields; a field without one keeps what always stands there."""
        for name, entry in self.entries.items():
            if name == "models":
                continue
            hint = hints.get(name)
            entry.say("" if hint is None else say(hint.text), grave=hint is not None and hint.grave)

    def tell(self, text: str) -> None:
        """Say something below the last group."""
        self.note.setText(text)
        self.note.show()

    def quiet(self) -> None:
        """Take every refusal away."""
        for entry in self.entries.values():
            entry.field.clear_refusal()

    def refuse(self, error: FleetcareError) -> bool:
        """Say a refusal beside its field and go there, others beside theirs; False where no field has that name."""
        for other in error.others if isinstance(error, EntryRefused) else ():
            if other.field in self.entries:
                self.entries[other.field].field.refuse(other)
        entry = self.entries.get(error.field)
        if entry is None:
            return False
        entry.field.refuse(error)
        entry.target.setFocus()
        return True

    def still_wrong(self, error: FleetcareError | None) -> None:
        """Of what was refused keep what still is so: a sentence also goes when the other field it names was put right."""
        found = () if error is None else (error, *(error.others if isinstance(error, EntryRefused) else ()))
        left = {one.field: one for one in found}
        for name, entry in self.entries.items():
            if not entry.field.wrong.text():
                continue
            if name in left:
                entry.field.refuse(left[name])
            else:
                entry.field.put_right()

    @property
    def first(self) -> QWidget:
        """Where typing begins."""
        code = self.entries["code"]
        return code.target if code.target.isEnabled() else next(
            one.target for one in self.entries.values() if one is not code
        )  # fmt: skip
