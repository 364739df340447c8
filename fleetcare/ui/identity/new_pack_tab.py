"""Commission a new pack: the whole list on one page, with its baseline check."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from PySide6.QtWidgets import QCheckBox, QFileDialog, QFrame, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import Message, word
from fleetcare.services import commissioning
from fleetcare.services.commissioning import NewPack
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field


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
            word("identity.new_heading"), fields, word("identity.commission"), self._commission, columns=3
        )
        self.form.column.insertWidget(1, words(word("identity.new_hint"), quiet=True))
        browse = QPushButton(word("identity.browse"))
        browse.clicked.connect(self._browse)
        self.form.add(browse)
        self.good = QCheckBox(word("identity.all_good"))
        self.good.setMinimumHeight(32)
        items = words(", ".join(word(f"look.{item.value}") for item in LookItem), quiet=True)
        self.form.add(self.good)
        self.form.add(items)
        holder = QWidget()
        inner = QVBoxLayout(holder)
        inner.setContentsMargins(12, 10, 12, 8)
        inner.addWidget(self.form)
        inner.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidget(holder)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
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
        if not self.good.isChecked():
            raise EntryRefused("identity.need_look")
        if not self.rest.code:
            raise EntryRefused("bench.need_rest", field="rest")
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
        return done.message

    def _papers(self) -> NewPack:
        text = {name: field.text.strip() for name, field in self.form.fields.items()}
        return NewPack(
            text["code"].upper(), self.model.code, text["serial"], tuple(text["marks"].split(";")), text["invoice"],
            _date(text["warranty_end"]), text["warranty_clause"], self.charger.code, _photos(text["photo"]),
            text["no_photo_reason"], text["shelf"], text["bought_on"], text["months"], text["price"],
        )  # fmt: skip


def _date(typed: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(typed) if typed else None
    except ValueError:
        raise EntryRefused("commission.bad_date", field="warranty_end", typed=typed) from None


def _photos(typed: str) -> tuple[bytes, ...]:
    found = []
    for name in filter(None, (part.strip() for part in typed.split(";"))):
        try:
            found.append(Path(name).read_bytes())
        except OSError as error:
            raise EntryRefused(
                "commission.photo_unread", field="photo", file=name, why=error.strerror or str(error)
            ) from None
    return tuple(found)
