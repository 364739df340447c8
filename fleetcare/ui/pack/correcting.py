"""Mend a check that is on record: whatever of it was wrong, or all of it; the first entry stays, struck."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from PySide6.QtWidgets import QCheckBox, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.units import parse_amps, parse_celsius, parse_volts
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import record
from fleetcare.services.corrected import CorrectedMeanwhile, stands_in_place
from fleetcare.services.shown import CheckLine
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.dialogs import AskDialog, reason_field
from fleetcare.ui.widgets.forms import Choice


class Mending:
    """The fields of one check as they stand, and the check that they make."""

    def __init__(self, line: CheckLine) -> None:
        self.rested = _field("rested_v", word("bench.rested"), "V", line.rested_v)
        self.loaded = _field("loaded_v", word("bench.loaded"), "V", line.loaded_v)
        self.amps = _field("load_a", word("bench.amps"), "A", line.load_a)
        self.bench_c = _field("bench_c", word("bench.temperature"), word("bench.temperature_hint"), line.bench_c)
        bands = [band for band in RestBand if band is not RestBand.UNKNOWN or line.rest is band]
        self.rest = _choice("bench.rest", "rest", bands, line.rest)
        self.kind = _choice("bench.kind", "check_kind", list(CheckKind), line.kind)
        self.reason = reason_field()
        self.void = QCheckBox(word("correct.void"))
        self.void.toggled.connect(self._off)

    @property
    def fields(self) -> tuple[Field, ...]:
        """In the order of the dialog."""
        return (self.rested, self.loaded, self.amps, self.bench_c, self.rest, self.kind, self.reason)

    def _off(self, void: bool) -> None:
        for field in self.fields[:-1]:
            field.setEnabled(not void)

    def follow(self, was: VoltageCheck, stands: VoltageCheck) -> None:
        """`stands` is on record where `was` stood: what was not altered here is shown as it stands now."""
        for name, field in (
            ("rested_v", self.rested), ("loaded_v", self.loaded), ("load_a", self.amps), ("bench_c", self.bench_c),
        ):  # fmt: skip
            if field.text == _shown(getattr(was, name)):
                field.edit.setText(_shown(getattr(stands, name)))
        for choice, before, now in ((self.rest, was.rest, stands.rest), (self.kind, was.kind, stands.kind)):
            if choice.code == before.value:
                choice.choose(now.value)

    def check(self, stored: VoltageCheck) -> VoltageCheck | None:
        """What is put in the place of `stored`, None to void it; EntryRefused names the field."""
        if self.void.isChecked():
            return None
        typed_c = self.bench_c.text.strip()
        unknown = not typed_c or typed_c.lower().startswith("u")
        mended = replace(
            stored,
            rested_v=parse_volts(self.rested.text, field="rested_v"),
            bench_c=None if unknown else parse_celsius(typed_c, field="bench_c"),
            rest=RestBand(self.rest.code),
            kind=CheckKind(self.kind.code),
        )
        if not self.loaded.text.strip():
            return replace(mended, loaded_v=None, load_a=None, hold_s=None)
        return replace(
            mended,
            loaded_v=parse_volts(self.loaded.text, field="loaded_v"),
            load_a=parse_amps(self.amps.text, field="load_a"),
        )


def ask_correction(parent: QWidget, app: App, session: Session, changes: Changes, line: CheckLine) -> None:
    """Ask what the check should say and why, and put that on record.

    Where somebody else corrected it meanwhile that is said, and the next attempt corrects their entry.
    """
    mending = Mending(line)
    of = line.record_id

    def deed() -> None:
        nonlocal of
        author = session.author(changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        with app.store.view() as view:
            stored = view.check(of)
        assert stored is not None
        check = mending.check(stored.check)
        try:
            done = record.correct_check(app.store, app.clock, author, of, mending.reason.text.strip(), check)
        except CorrectedMeanwhile:
            with app.store.view() as view:
                stands = stands_in_place(view, of)
            if stands is not None:
                mending.follow(stored.check, stands.check)
                of = stands.record_id
                dialog.do.setText(word("screen.do_correct_newer"))
            raise
        changes.tell(done)

    heading = say(msg("screen.correct_heading", pack=line.pack, done_at=line.done_at))
    dialog = AskDialog(parent, heading, mending.fields, word("screen.do_correct"), deed)
    dialog.abreast(mending.rested, mending.loaded, mending.amps)
    dialog.abreast(mending.bench_c, mending.rest, mending.kind)
    dialog.add(mending.void)
    dialog.add(words(word("correct.void_hint"), quiet=True))
    dialog.exec()


def _field(name: str, label: str, unit: str, value: object) -> Field:
    field = Field(label, unit, number=name != "bench_c")
    field.setObjectName(name)
    field.edit.setText(_shown(value))
    return field


def _shown(value: object) -> str:
    return "" if value is None else str(value)


def _choice(label: str, prefix: str, offered: list[RestBand] | list[CheckKind], chosen: StrEnum) -> Choice:
    choice = Choice(word(label))
    choice.setObjectName(prefix)
    choice.offer([(one.value, word(f"{prefix}.{one.value}")) for one in offered])
    choice.box.removeItem(0)
    choice.choose(chosen.value)
    return choice
