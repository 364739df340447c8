"""Commission a new pack: the whole list on one page, with its baseline check."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QCheckBox, QFileDialog, QFrame, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import commissioning
from fleetcare.services.commissioning import NewPack
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session, condition_line
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field
from fleetcare.ui.widgets.photo_field import pictures_of

NEEDED = (
    "code", "model", "serial", "marks", "invoice", "charger", "warranty_clause", "rest", "rested_v", "loaded_v", "load_a",
)  # fmt: skip
"""Fields without which no pack is commissioned; a photo, or why there is none, is the other."""

DELIVERY = (
    "model", "invoice", "bought_on", "price", "charger", "months", "warranty_end", "warranty_clause", "shelf", "load_a",
)  # fmt: skip
"""Fields that the packs of one delivery share: they stay for the next pack."""


class NewPackTab(QWidget):
    """Fields in the order in which papers, pack and meter are taken in hand."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.model, self.charger = Choice(word("identity.model")), Choice(word("identity.charger"))
        self.rest = Choice(word("bench.rest"))
        self.rest.offer([(b.value, word(f"rest.{b.value}")) for b in RestBand if b is not RestBand.UNKNOWN])
        fields: dict[str, Field] = {
            "code": code_field(word("identity.new_code")),
            "model": self.model,
            "serial": Field(word("identity.serial")),
            "date_code": Field(word("identity.date_code")),
            "marks": Field(word("identity.marks")),
            "invoice": Field(word("identity.invoice")),
            "bought_on": Field(word("warranty.field_bought_on")),
            "price": Field(word("warranty.field_price")),
            "charger": self.charger,
            "months": Field(word("warranty.field_months")),
            "warranty_end": Field(word("identity.warranty_end")),
            "warranty_clause": Field(word("identity.warranty_clause")),
            "shelf": Field(word("identity.shelf")),
            "photo": Field(word("identity.photo")),
            "no_photo_reason": Field(word("identity.no_photo")),
            "rest": self.rest,
            "rested_v": Field(word("bench.rested"), "V", number=True),
            "loaded_v": Field(word("bench.loaded"), "V", number=True),
            "load_a": Field(word("bench.amps"), "A", number=True),
        }
        self.form = DeedCard(
            word("identity.new_heading"),
            fields,
            word("identity.commission"),
            self._commission,
            columns=3,
            stays=DELIVERY,
        )
        for name in NEEDED:
            label = fields[name].layout().itemAt(0).widget()  # type: ignore[union-attr]
            assert isinstance(label, QLabel)
            label.setText(say(msg("identity.needed", label=label.text())))
        self.form.column.insertWidget(1, words(word("identity.new_hint"), quiet=True))
        self.bench = words()
        self.bare = words()
        self.bare.hide()
        self.form.column.insertWidget(2, self.bench)
        self.form.column.insertWidget(3, self.bare)
        self.model.box.currentIndexChanged.connect(lambda _i: self._show_bare())
        session.bench_changed.connect(self._show_bench)
        session.person_changed.connect(self._show_bench)
        browse = QPushButton(word("identity.browse"))
        browse.clicked.connect(self._browse)
        self.form.add(browse)
        self.other = QPushButton(word("identity.other_delivery"))
        self.other.clicked.connect(self._empty)
        self.other.hide()
        self.good = QCheckBox(word("identity.all_good"))
        self.good.setMinimumHeight(32)
        items = words(", ".join(word(f"look.{item.value}") for item in LookItem), quiet=True)
        self.form.add(self.good)
        self.form.add(items)
        self.look_wrong = words(word("identity.need_look"))
        self.look_wrong.setProperty("role", "wrong")
        self.look_wrong.hide()
        self.form.add(self.look_wrong)
        self.good.toggled.connect(lambda _on: self.look_wrong.hide())
        holder = QWidget()
        inner = QVBoxLayout(holder)
        inner.setContentsMargins(12, 10, 12, 8)
        inner.addWidget(self.form)
        inner.addStretch(1)
        self.scroll = scroll = QScrollArea()
        scroll.setWidget(holder)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.form.column.addWidget(self.other)
        self.form.do.clicked.connect(lambda: QTimer.singleShot(0, self, self._reveal))
        for field in fields.values():
            field.edit.returnPressed.connect(lambda: QTimer.singleShot(0, self, self._reveal))
        self._show_bench()
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def refresh(self) -> None:
        """Offer models and chargers on record, and the amps of the load on the bench."""
        with self._app.store.view() as view:
            self.model.offer([(code, one.name) for code, one in sorted(view.things("pack_model").items())])
            self.charger.offer(
                [(code, f"{code} · {one.rated_v} V") for code, one in sorted(view.things("charger").items())]
            )
        amps = self.form.fields["load_a"]
        if not amps.text.strip() and self._session.load is not None:
            amps.edit.setText(str(self._session.load.load_a))

    def _show_bench(self) -> None:
        """Say before anything is typed what the bench lacks, or under what one measures: a line either way."""
        session = self._session
        missing = []
        if session.person is None:
            missing.append(word("identity.bench_nobody"))
        if session.meter is None:
            missing.append(word("identity.bench_no_meter"))
        if session.load is None:
            missing.append(word("identity.bench_no_load"))
        barred = session.person is None or session.meter is None
        self.bench.setProperty("role", "wrong" if barred else "quiet")
        self.bench.style().unpolish(self.bench)
        self.bench.style().polish(self.bench)
        if missing:
            told = msg("identity.bench_first", missing="; ".join(missing))
        else:
            told = msg("identity.bench_is", conditions=condition_line(session, self._app.clock().date()))
        self.bench.setText(say(told))

    def _show_bare(self) -> None:
        """Say of a model without a baseline that this pack's loaded reading does not stand in for it."""
        with self._app.store.view() as view:
            model = view.thing("pack_model", self.model.code) if self.model.code else None
        bare = model is not None and model.baseline_resistance_ohm is None
        if bare:
            told = msg(
                "identity.model_bare",
                model=model.name,
                ohm_field=word("setup.baseline_resistance_ohm"),
                c_field=word("setup.baseline_c"),
            )
            self.bare.setText(say(told))
        self.bare.setVisible(bare)

    def _reveal(self) -> None:
        """What came of it is in sight: the sentence below the button, or the first field that was refused."""
        said = self.form.said
        refused = next((one for one in self.form.fields.values() if one.wrong.text()), None)
        shown: QWidget | None = said if said.isVisibleTo(self) else refused
        if shown is said and self.other.isVisibleTo(self):
            shown = self.other  # it stands below the sentence
        if shown is not None:
            self.scroll.ensureWidgetVisible(shown, 0, 40)

    def _refuse_together(self, new: NewPack) -> None:
        """Everything that is missing is said at once, each beside its field; the first is raised."""
        found = list(commissioning.lacking(new))
        if not self.rest.code:
            found.append(EntryRefused("identity.need_rest", field="rest"))
        for name, parse in (("rested_v", parse_volts), ("loaded_v", parse_volts), ("load_a", parse_amps)):
            try:
                parse(self.form.fields[name].text, field=name)
            except EntryRefused as error:
                found.append(error)
        for other in found[1:]:
            self.form.fields[other.field].refuse(other)
        self.look_wrong.setHidden(self.good.isChecked())
        if found:
            raise found[0]
        if not self.good.isChecked():
            self.good.setFocus()
            raise EntryRefused("identity.need_look")

    def _browse(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(self, word("identity.photo"), "", "JPEG, PNG (*.jpg *.jpeg *.png)")
        if chosen:
            self.form.fields["photo"].edit.setText(chosen)

    def _commission(self) -> Message:
        fields, session = self.form.fields, self._session
        author = session.author(self._changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        if session.meter is None:
            raise EntryRefused("identity.need_bench")
        now = self._app.clock()
        new = self._papers()
        self._refuse_together(new)
        rested = parse_volts(fields["rested_v"].text, field="rested_v")
        loaded = parse_volts(fields["loaded_v"].text, field="loaded_v")
        load = session.load
        check = VoltageCheck(
            new.code, CheckKind.RESTED_FULL, RestBand(self.rest.code), rested, now, session.meter.code, None, loaded,
            parse_amps(fields["load_a"].text, field="load_a"), load.hold_s if load else None, session.bench_c,
            load.code if load else None,
        )  # fmt: skip
        done = commissioning.commission(self._app.store, self._app.clock, author, new, check, LookOver(new.code, now))
        self.good.setChecked(False)
        self._changes.tell(done)
        self.other.show()
        return done.message

    def _empty(self) -> None:
        """The next pack is none of this delivery: nothing of it stays, but the amps of the bench."""
        for field in self.form.fields.values():
            field.clear()
        self.form.tell("")
        self.other.hide()
        self.refresh()
        self.form.fields["code"].edit.setFocus()

    def _papers(self) -> NewPack:
        text = {name: field.text.strip() for name, field in self.form.fields.items()}
        return NewPack(
            text["code"].upper(), self.model.code, text["serial"], tuple(text["marks"].split(";")), text["invoice"],
            date_if_typed(text["warranty_end"], field="warranty_end"), text["warranty_clause"], self.charger.code,
            pictures_of(text["photo"]), text["no_photo_reason"], text["shelf"], text["bought_on"], text["months"], text["price"], text["date_code"],
        )  # fmt: skip
