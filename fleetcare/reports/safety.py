"""Safety notes by kind of work, each with its authority or marked as common practice, and the depot's rules.

The statements are data, in `resources/safety`, so that a site's adviser can read them in one place.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from fleetcare.domain.procedures import RuleSet
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports import signs
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.text import FONT, para
from fleetcare.resource_files import shipped
from fleetcare.services.in_force import DepotRules


@dataclass(frozen=True, slots=True)
class Note:
    """One statement and where it comes from."""

    statement: str
    source: str


PRACTICE = "common practice, no source"
WORK = ("check", "reset", "round", "storage", "quarantine", "handover", "transport", "recall")


@cache
def notes_for(work: str) -> tuple[Note, ...]:
    """The notes that belong to a kind of work (one of WORK), in their order."""
    data = tomllib.loads((shipped("resources") / "safety" / "notes.toml").read_text("utf-8"))
    return tuple(Note(one["statement"], one["source"]) for one in data["note"] if work in one["work"])


NOTES = notes_for("check")
"""The notes of the bench."""


def rules_heads(rules: Sequence[DepotRules]) -> list[tuple[str, tuple[Note, ...]]]:
    """For each depot what it follows, its own text, and the statements of its set."""
    found = []
    for one in rules:
        notes = tuple(Note(each.statement, each.source) for each in one.statements)
        if one.rules not in (RuleSet.NONE, RuleSet.OWN):
            followed = word(f"procedure.rules_{one.rules.value}")
            found.append((say(msg("procedure.sheet_rules", depot=one.name, rules=followed)), notes))
        if one.own:
            key = "procedure.sheet_own" if one.depot else "procedure.sheet_site"
            found.append((say(msg(key, depot=one.name, text=one.own)), ()))
    return found


def rules_in_short(rules: Sequence[DepotRules]) -> list[str]:
    """The same in one paragraph a depot, for sheets that are one page."""
    found = []
    for head, notes in rules_heads(rules):
        told = " ".join(f"{one.statement} [{one.source}]" for one in notes)
        found.append(f"{head}. {told}" if told else head)
    return found


def put_notes(flow: Flow, work: str, rules: Sequence[DepotRules] = (), sign: str = "") -> None:
    """The safety part of a flowing sheet: sign, notes with their source, the depot's rules, who comes first."""
    flow.heading(word("paper.safety_heading"), 11, 1)
    if sign:
        flow.drawing(22 * mm, sign_strip(sign, 16 * mm))
    flow.plain_table(0.66, 0.34)
    for note in notes_for(work):
        flow.row([Text("• " + note.statement, 8.5)], [Text(note.source, 7.5, quiet=True)])
    for head, notes in rules_heads(rules):
        flow.row([Text(head, 8.5, bold=True)], [])
        for note in notes:
            flow.row([Text("• " + note.statement, 8.5)], [Text(note.source, 7.5, quiet=True)])
    flow.end_table()
    flow.space(3)
    if any(one.statements for one in rules):
        flow.text(Text(word("procedure.paraphrased"), 7.5, quiet=True))
    flow.text(Text(word("safety.defer"), 8.5, bold=True))


def note_paras(notes: Sequence[Note], rules: Sequence[DepotRules], width: float) -> list[Any]:
    """The same for a sheet that is laid out as a whole: notes and rules, then who comes first.

    The first two notes stay with the heading; the others may go on over the page.
    """
    rows = [_note_row(note) for note in notes]
    for head, more in rules_heads(rules):
        rows.append([para("", 8), para(head, 8, bold=True), para("", 7)])
        rows += [_note_row(note) for note in more]
    closing = [para(word("safety.defer"), 8.5, bold=True)]
    if any(one.statements for one in rules):
        closing.insert(0, para(word("procedure.paraphrased"), 7.5, quiet=True))
    heading = [Spacer(1, 9), para(word("paper.safety_heading"), 11, bold=True, after=3)]
    if not rows:
        return [KeepTogether([*heading, *closing])]
    first = KeepTogether([*heading, _note_table(rows[:2], width)])
    if len(rows) <= 3:
        return [first, KeepTogether([*(_note_table(part, width) for part in (rows[2:],) if part), *closing])]
    return [first, _note_table(rows[2:-1], width), KeepTogether([_note_table(rows[-1:], width), *closing])]


def _note_row(note: Note) -> list[Any]:
    return [para("•", 8), para(note.statement, 8), para(note.source, 7, quiet=True)]


def _note_table(rows: list[list[Any]], width: float) -> Table:
    table = Table(rows, colWidths=[width * 0.025, width * 0.635, width * 0.34])
    table.setStyle(TableStyle([FONT, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 1),
                               ("BOTTOMPADDING", (0, 0), (-1, -1), 1), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))  # fmt: skip
    return table


def sign_strip(number: str, side: float) -> Callable[[Canvas, float, float, float], None]:
    """A sign at the left of a strip of the page, for `Flow.drawing`."""
    return lambda canvas, x, y, _width: signs.draw(canvas, number, x + 6, y + 12, side)
