"""Chargers: which pack was on which, output tests, and the packs charged since a charger was last good."""

from __future__ import annotations

import datetime as dt

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from fleetcare.app import App
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.moments import parse_date, parse_moment
from fleetcare.domain.units import parse_celsius, parse_volts
from fleetcare.domain.wording import Message, msg, say, show_moment, show_value, word
from fleetcare.services import charging
from fleetcare.services.facts import zone_of
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.changes import Changes
from fleetcare.ui.faults.forms import FaultPage, abreast, line
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.tables import Column, RowModel, Table

LINES = (
    Column(word("faults.charger_code"), lambda c: c.charger.code, width=10, mark=lambda c: colours.FAULT if c.held else None),
    Column(word("faults.rated"), lambda c: say(c.rated_told), sort=lambda c: c.charger.rated_v, width=15),
    Column(word("faults.band"), lambda c: say(c.band_told), width=20),
    Column(word("faults.fits_models"), lambda c: ", ".join(c.models) or word("faults.fits_none"), width=12, tip=True),
    Column(word("faults.last_test"), lambda c: say(c.test_told), width=35, tip=True),
    Column(word("faults.since_good"), lambda c: str(len(c.since_good)), sort=lambda c: len(c.since_good), width=19),
    Column(word("faults.state"), lambda c: say(c.state_told), width=40, tip=True),
)  # fmt: skip
SUSPECTS = (
    Column(word("faults.pack"), lambda s: s.pack, width=10, mark=lambda s: colours.DANGER if s.beyond else None),
    Column(word("faults.charged_at"), lambda s: show_moment(s.charged_at), width=20),
    Column(word("list.rested"), lambda s: "—" if s.rested_v is None else show_value("rested_v", s.rested_v), width=10),
    Column(word("faults.state"), lambda s: say(msg("faults.beyond", query_v=s.query_v)) if s.beyond else "", width=30),
)  # fmt: skip


class ChargerPage(FaultPage):
    """A wrong charger is warned of before it is recorded, and holds the pack when it is."""

    follows_changes = False

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._warned: tuple[tuple[str, str], Message] | None = None
        self.model, self.suspects = RowModel(LINES), RowModel(SUSPECTS)
        self.table = Table(self.model, word("faults.tab_chargers"), stretch=6)
        self.suspect_table = Table(self.suspects, word("faults.suspects"), stretch=3)
        card = Card()
        self.charge_button = QPushButton(word("faults.do_charge"))
        self.output_button = QPushButton(word("faults.do_output"))
        row = line()
        abreast(
            row,
            (self.add_field("charger", word("faults.charger_code")), 1),
            (self.add_field("pack", word("faults.pack")), 1),
            (self.add_field("done_at", word("faults.charged_when")), 2),
            (self.add_field("where", word("faults.charged_where")), 1),
            (self.add_field("pack_c", word("faults.pack_c"), number=True), 1),
            (self.charge_button, 0),
        )
        second = line()
        abreast(
            second,
            (self.add_field("measured_v", word("faults.measured_v"), "V", number=True), 0),
            (self.output_button, 0),
        )
        self.tolerance = words(quiet=True)
        second.addWidget(self.tolerance, 1)
        card.column.addLayout(row)
        card.column.addLayout(second)
        outer = QVBoxLayout(self)
        outer.addWidget(card)
        outer.addWidget(self.wrong)
        outer.addWidget(self.result)
        outer.addWidget(self.table, 3)
        self.since = words(bold=True)
        outer.addWidget(self.since)
        outer.addWidget(self.suspect_table, 2)
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._show_suspects())
        self.fields["charger"].edit.textChanged.connect(lambda _t: self._choose(self.code("charger")))
        self.charge_button.clicked.connect(self.charge)
        self.output_button.clicked.connect(self.output)

    def refresh(self) -> None:
        """Read the list again; the chosen charger stays chosen."""
        chosen = self.table.selected_row()
        lines = charging.charger_lines(self._app.store)
        self.model.set_rows(lines)
        codes = [line.charger.code for line in lines]
        if codes:
            kept = chosen.charger.code if chosen is not None and chosen.charger.code in codes else codes[0]
            self.table.selectRow(codes.index(kept))
        self._show_suspects()
        self.fields["charger"].edit.setFocus()

    def _choose(self, code: str) -> None:
        """A charger that is typed or scanned is chosen in the list, so that its limits and packs stand below."""
        codes = [line.charger.code for line in self.model.rows]
        if code in codes:
            self.table.selectRow(codes.index(code))

    def _show_suspects(self) -> None:
        row = self.table.selected_row()
        found = () if row is None else row.since_good
        self.suspects.set_rows(found)
        self.suspect_table.setVisible(bool(found))
        if row is None:
            self.since.setText(word("faults.no_charger"))
            self.tolerance.clear()
        else:
            key = "faults.since_list" if found else "faults.since_none"
            self.since.setText(say(msg(key, charger=row.charger.code, count=len(found))))
            told = msg("faults.output_of", charger=row.charger.code, low_v=row.low_v, high_v=row.high_v)
            self.tolerance.setText(say(told))

    def charge(self) -> None:
        """Note a charge; a wrong charger is warned of first and recorded at the second press."""
        self.quiet()
        pair = (self.code("pack"), self.code("charger"))
        try:
            if not pair[0]:
                raise EntryRefused("faults.need_pack", field="pack")
            cold = self.fields["pack_c"].text.strip()
            pack_c = parse_celsius(cold, field="pack_c") if cold else None
            wrong = charging.charge_warning(self._app.store, self._app.clock, *pair, pack_c)
            done_at = self._when()
            if wrong is not None and self._warned != (pair, wrong):
                self._warned = pair, wrong
                self.result.clear()
                self.wrong.setText(f"{say(msg('faults.warn', why=wrong))} {word('faults.sure')}")
                self.wrong.show()
                return
            charged = ChargedOn(*pair, done_at, self.fields["where"].text.strip(), pack_c)
            done = charging.record_charge(self._app.store, self._app.clock, self.author(), charged)
        except FleetcareError as error:
            self.refuse(error)
            return
        self._finish(done)

    def _when(self) -> dt.datetime:
        typed = self.fields["done_at"].text.strip()
        if not typed:
            return self._app.clock()
        day, _space, time = typed.partition(" ")
        with self._app.store.view() as view:
            zone = zone_of(view)
        return parse_moment(parse_date(day, field="done_at"), time, zone, field="done_at")

    def output(self) -> None:
        """Note an output test, read with the meter of the shift."""
        self.quiet()
        try:
            meter = self._session.meter
            if meter is None:
                raise EntryRefused("job.needs_meter")
            volts = parse_volts(self.fields["measured_v"].text, field="measured_v")
            done, _suspects = charging.record_output(
                self._app.store, self._app.clock, self.author(), self.code("charger"), meter.code, volts
            )
        except FleetcareError as error:
            self.refuse(error)
            return
        self._finish(done)

    def _finish(self, done: Recorded) -> None:
        self._warned = None
        chosen = self.code("charger")
        for field in self.fields.values():
            field.clear()
        self.refresh()
        self._choose(chosen)
        self.result.setText(say(done.message))
        self._changes.tell(done)
