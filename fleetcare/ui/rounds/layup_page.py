"""Lay-up: packs put away in groups, their looks with the storage band beside them, and the way back."""

from __future__ import annotations

from decimal import Decimal

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.laying_up import Standing
from fleetcare.domain.units import parse_celsius, parse_volts
from fleetcare.domain.wording import Message, msg, say, show_date, show_value, word
from fleetcare.services import laying_up
from fleetcare.services.identify import as_pack, identify
from fleetcare.services.laying_up import LaidUpLine
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table

_MARKS = {
    Standing.DEEP: colours.DANGER,
    Standing.SILENT: colours.UNKNOWN,
    Standing.LOW: colours.FAULT,
    Standing.BELOW: colours.ACTION,
    Standing.ABOVE: colours.CAUTION,
    Standing.IN_BAND: colours.GOOD,
}


def _band(line: LaidUpLine) -> str:
    band = line.band
    if band.low_v is None or band.high_v is None:
        return "—"
    return f"{show_value('low_v', band.low_v)} – {show_value('high_v', band.high_v)}"


LINES = (
    Column(word("layup.pack"), lambda r: r.pack.code, width=9),
    Column(word("layup.group"), lambda r: r.group, width=11),
    Column(word("layup.shelf"), lambda r: r.shelf, width=10),
    Column(word("layup.volts"), lambda r: "" if r.rested_v is None else show_value("rested_v", r.rested_v),
           sort=lambda r: r.rested_v, right=True, width=8),
    Column(word("layup.read_on"), lambda r: "" if r.read_on is None else show_date(r.read_on),
           sort=lambda r: r.read_on, width=11),
    Column(word("layup.band"), _band, width=17),
    Column(word("layup.stands"), lambda r: word("layup.not_read") if r.standing is None
           else word(f"storage_short.{r.standing.value}"),
           mark=lambda r: _MARKS.get(r.standing, colours.UNKNOWN), width=19, tip=True),
    Column(word("layup.next"), lambda r: show_date(r.next_look), sort=lambda r: r.next_look, width=11),
    Column(word("list.why"), lambda r: say(r.held or r.why), width=40, tip=True),
    Column(word("layup.discharge"), lambda r: "" if r.stored is None else say(r.stored.sentence), width=40, tip=True),
)  # fmt: skip


def _last_read(line: LaidUpLine) -> str:
    """The reading, its day and the band that it should lie in."""
    band = say(msg("layup.band_is", band=_band(line)))
    if line.rested_v is None or line.read_on is None:
        return band
    return f"{show_value('rested_v', line.rested_v)}, {show_date(line.read_on)}; {band}"


LARGE_LINES = (
    LINES[0],
    Column(word("layup.group"), lambda r: ", ".join(filter(None, (r.group, r.shelf))), width=11),
    Column(word("layup.volts"), _last_read, sort=lambda r: r.rested_v, width=12),
    LINES[6],
    Column(
        word("layup.next"),
        lambda r: f"{show_date(r.next_look)}: {say(r.held or r.why)}",
        sort=lambda r: r.next_look,
        width=30,
    ),
    Column(word("layup.discharge_large"), LINES[-1].text, width=30),
)
"""For large letters: what belongs together stands in one column, so that no row scrolls sideways."""


class _KeptChoice(Choice):
    """Stays as chosen from one look to the next."""

    def clear(self) -> None:
        self.clear_refusal()


class _KeptField(Field):
    """Stays as typed from one look to the next."""

    def clear(self) -> None:
        self.clear_refusal()


class LayUpPage(QWidget):
    """The list, a form to put packs away, and one to look at them."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self.model = RowModel(LARGE_LINES if large_text() else LINES)
        self.table = Table(self.model, word("round.layup_tab"))
        self.table.sort_by_headings()
        self.empty = words(word("layup.empty"), quiet=True)
        self.packs = code_field(word("layup.packs"))
        self.put = DeedCard(
            word("layup.put_heading"),
            {"group": Field(word("layup.group")), "shelf": Field(word("layup.shelf")), "packs": self.packs},
            word("layup.put"), self._put, columns=2,
        )  # fmt: skip
        self.packs.edit.returnPressed.disconnect()
        self.packs.edit.returnPressed.connect(self._next_pack)
        self.pack = code_field(word("layup.pack"))
        self.volts = Field(word("layup.volts"), "V", number=True)
        self.meter = _KeptChoice(word("layup.meter"))
        self.bench = _KeptField(word("layup.bench"), "°C", number=True)
        self.good = QCheckBox(word("layup.all_good"))
        self.look = DeedCard(
            word("layup.read_heading"),
            {"pack": self.pack, "rested_v": self.volts, "meter": self.meter, "bench_c": self.bench},
            word("layup.read"), self._read, columns=2,
        )  # fmt: skip
        self.band = words(quiet=True)
        self.look.add(self.band)
        self.look.add(self.good)
        self.pack.edit.returnPressed.disconnect()
        self.pack.edit.returnPressed.connect(self._take_pack)
        for card in (self.put, self.look):
            card.column.addStretch(1)
        self.out = QPushButton(word("layup.take_out"))
        self.out.setMinimumHeight(40)
        self.out.clicked.connect(self.take_out)
        self.table.clicked.connect(lambda _index: self._chosen())
        self.table.opened.connect(lambda row: self.take(row.pack.code))
        forms = QHBoxLayout()
        forms.addWidget(self.put, 1)
        forms.addWidget(self.look, 1)
        below = QHBoxLayout()
        below.addStretch(1)
        below.addWidget(self.out)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 5)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.addWidget(self.empty)
        outer.addWidget(self.table, 1)
        outer.addLayout(below)
        outer.addLayout(forms)

    def refresh(self) -> None:
        """Read the list again, off the GUI thread."""
        store, clock = self._app.store, self._app.clock

        def work() -> tuple[tuple[LaidUpLine, ...], list[tuple[str, str]]]:
            with store.view() as view:
                meters = [
                    (code, f"{code}  {one.name}")
                    for code, one in sorted(view.things("meter").items())
                    if one.refused_from is None
                ]
            return laying_up.laid_up_lines(store, clock), meters

        self._background.ask(work, self._show)

    def _show(self, answer: tuple[tuple[LaidUpLine, ...], list[tuple[str, str]]]) -> None:
        lines, meters = answer
        self.model.set_rows(lines)
        self.empty.setVisible(not lines)
        self.table.setVisible(bool(lines))
        self.out.setVisible(bool(lines))
        self.meter.offer(meters)
        session = self._session
        if not self.meter.code:
            self.meter.choose(session.meter.code if session.meter else "")
        if not self.bench.text:
            self.bench.edit.setText("" if session.bench_c is None else str(session.bench_c))

    def _chosen(self) -> None:
        row = self.table.selected_row()
        if row is not None:
            self.choose(row.pack.code)

    def choose(self, code: str) -> None:
        """A pack for the look; its band is shown before anything is typed."""
        self.pack.clear_refusal()
        self.pack.edit.setText(code)
        try:
            band, model = laying_up.band_for(self._app.store, code)
        except FleetcareError as error:
            self.pack.refuse(error)
            return
        values = {"pack": code, "model": model}
        if band.low_v is None:
            self.band.setText(say(msg("layup.band_none", **values)))
        else:
            told = msg("layup.band_told", low_v=band.low_v, high_v=band.high_v, source=band.source, **values)
            self.band.setText(say(told))

    def take(self, code: str) -> None:
        """A scanned pack: for the list that is put away while its field has the focus, else for the look."""
        if self.packs.edit.hasFocus():
            self._add(code)
            return
        self.choose(code)
        self.volts.edit.setFocus()

    def _take_pack(self) -> None:
        try:
            self.take(as_pack(identify(self._app.store, self.pack.text)).code)
        except FleetcareError as error:
            self.pack.refuse(error)

    def _next_pack(self) -> None:
        parts = self.packs.text.replace(",", " ").split()
        if not parts:
            return
        try:
            code = as_pack(identify(self._app.store, parts[-1])).code
        except FleetcareError as error:
            self.packs.refuse(error)
            return
        self.packs.edit.setText(" ".join([*parts[:-1], code]) + " ")

    def _add(self, code: str) -> None:
        parts = self.packs.text.replace(",", " ").split()
        self.packs.edit.setText(" ".join([*parts, code]) + " ")

    def _author(self) -> Author:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("round.sign_in_first")
        return author

    def _put(self) -> Message:
        app, fields = self._app, self.put.fields
        author = self._author()
        codes = [as_pack(identify(app.store, part)).code for part in self.packs.text.replace(",", " ").split()]
        shelf = fields["shelf"].text
        return self._finish(laying_up.lay_up(app.store, app.clock, author, fields["group"].text, codes, shelf=shelf))

    def _read(self) -> Message:
        app = self._app
        author = self._author()
        code = as_pack(identify(app.store, self.pack.text)).code
        volts = parse_volts(self.volts.text, field="rested_v")
        if not self.meter.code:
            raise EntryRefused("layup.needs_meter", field="meter")
        bench: Decimal | None = None
        if self.bench.text.strip():
            bench = parse_celsius(self.bench.text, field="bench_c")
        now = app.clock()
        check = VoltageCheck(code, CheckKind.STORED, RestBand.OVERNIGHT, volts, now, self.meter.code, bench_c=bench)
        look = LookOver(code, now) if self.good.isChecked() else None
        done = laying_up.record_storage_look(app.store, app.clock, author, check, look)
        message = self._finish(done)
        self.good.setChecked(False)
        self.band.clear()
        return message

    def take_out(self) -> None:
        """Take the chosen pack out of lay-up."""
        app = self._app
        row = self.table.selected_row()
        try:
            author = self._author()
            packs = [] if row is None else [row.pack.code]
            self.look.tell(say(self._finish(laying_up.take_out(app.store, app.clock, author, packs))))
        except FleetcareError as error:
            self.look.tell(say(error.message), wrong=True)

    def _finish(self, done: Recorded) -> Message:
        self._changes.tell(done)
        self.refresh()
        self.pack.edit.setFocus(Qt.FocusReason.OtherFocusReason)
        return done.message
