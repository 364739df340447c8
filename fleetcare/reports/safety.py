"""Safety notes by kind of work, each with its authority or marked as common practice, and the depot's rules.

The statements are data, in `resources/safety`, so that a site's adviser can read them in one place.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.procedures import RuleSet
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports import signs
from fleetcare.reports.flow import Flow, Text
from fleetcare.resource_files import shipped
from fleetcare.services.in_force import DepotRules


@dataclass(frozen=True, slots=True)
class Note:
    """One statement and where it comes from."""

    statement: str
    source: str


_STATEMENT = 0.66
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
    """Each set of rules that is followed, by which depots, with its statements; then what each depot adds of its own."""
    found = []
    for chosen in dict.fromkeys(one.rules for one in rules if one.rules not in (RuleSet.NONE, RuleSet.OWN)):
        by = [one for one in rules if one.rules is chosen]
        key = "procedure.sheet_rules" if len(by) == 1 else "procedure.sheet_rules_of"
        head = msg(key, depot=tuple(one.name for one in by), rules=word(f"procedure.rules_{chosen.value}"))
        found.append((say(head), tuple(Note(each.statement, each.source) for each in by[0].statements)))
    for one in rules:
        if one.own:
            key = "procedure.sheet_own" if one.depot else "procedure.sheet_site"
            found.append((say(msg(key, depot=one.name, text=one.own)), ()))
    return found


def rules_in_short(rules: Sequence[DepotRules]) -> list[str]:
    """The same in one paragraph each, for sheets that are one page."""
    found = []
    for head, notes in rules_heads(rules):
        told = " ".join(f"{one.statement} [{one.source}]" for one in notes)
        found.append(f"{head}. {told}" if told else head)
    return found


def put_notes(
    flow: Flow, work: str, rules: Sequence[DepotRules] = (), sign: str = "", last: Sequence[Text] = ()
) -> None:
    """The safety part of a flowing sheet: sign, notes with their source, the depot's rules, and at last who comes first,
    in the words of `last` where it is given.

    Sources stand in a column of their own, or in brackets behind their statement, or so in small type: the first of these
    that ends with the page on which it begins, else the first.
    """
    heads = rules_heads(rules)
    rows = [(note.statement, note.source) for note in notes_for(work)]
    rows += [row for head, more in heads for row in ((head, ""), *((one.statement, one.source) for one in more))]
    high = sum(flow.height(Text("• " + told, 8.5), share=_STATEMENT) + 5 for told, _ in rows) + 65
    high += flow.height(*last)
    if not sign and high > flow.left:
        for size in (8.0, 7.0):
            if flow.left >= short_height(flow, work, rules, last, size):
                put_notes_in_short(flow, work, rules, last, size)
                return
    flow.heading(word("paper.safety_heading"), 11, 1)
    if sign:
        flow.drawing(22 * mm, sign_strip(sign, 16 * mm))
    flow.plain_table(_STATEMENT, 1 - _STATEMENT)
    for note in notes_for(work):
        flow.row([Text("• " + note.statement, 8.5)], [Text(note.source, 7.5, quiet=True)])
    for head, notes in heads:
        flow.room(46 if notes else 16)
        flow.row([Text(head, 8.5, bold=True)], [])
        for note in notes:
            flow.row([Text("• " + note.statement, 8.5)], [Text(note.source, 7.5, quiet=True)])
    flow.end_table()
    flow.space(3)
    flow.together(*_closing(rules, last))


def _closing(rules: Sequence[DepotRules], last: Sequence[Text]) -> list[Text]:
    followed = [Text(word("procedure.paraphrased"), 7.5, quiet=True)] if any(one.statements for one in rules) else []
    return [*followed, *(last or [Text(word("safety.defer"), 8.5, bold=True)])]


def put_notes_in_short(
    flow: Flow, work: str, rules: Sequence[DepotRules] = (), last: Sequence[Text] = (), size: float = 8
) -> None:
    """The safety part where room is dear: each source stands behind its statement, in brackets."""
    flow.heading(word("paper.safety_heading"), 11, 1)
    flow.points(*(_short(note, size) for note in notes_for(work)))
    for head, more in rules_heads(rules):
        flow.text(Text(head, size, bold=True))
        flow.points(*(_short(note, size) for note in more))
    flow.space(3)
    flow.together(*_closing(rules, last))


def _short(note: Note, size: float) -> Text:
    return Text(f"{note.statement} [{note.source}]", size)


def short_height(
    flow: Flow, work: str, rules: Sequence[DepotRules] = (), last: Sequence[Text] = (), size: float = 8
) -> float:
    """How high `put_notes_in_short` stands, in points."""
    heads = rules_heads(rules)
    notes = [*notes_for(work), *(note for _, more in heads for note in more)]
    named = [Text(head, size, bold=True) for head, _ in heads]
    return (
        28 + flow.points_height(*(_short(note, size) for note in notes)) + flow.height(*named, *_closing(rules, last))
    )


def sign_strip(number: str, side: float) -> Callable[[Canvas, float, float, float], None]:
    """A sign at the left of a strip of the page, for `Flow.drawing`."""
    return lambda canvas, x, y, _width: signs.draw(canvas, number, x + 6, y + 12, side)
