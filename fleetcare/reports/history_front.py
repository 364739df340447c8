"""The first page of a history: the summary, always one page; what is too long for it becomes a section behind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fleetcare.domain.wording import Message, msg, say, show_value, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.services.history_lines import History

_NAME, _VALUE = 0.2, 0.8
_LINE = 15.1
"""Height of the line that names a section behind."""
_MOST_LINES = 3
"""A summary value of more lines is told in a section of its own."""


_ASKED = (
    "history.incidents", "history.gaps", "policy.heading", "history.lodgings", "history.recalls", "history.stays",
    "history.stays_pack", "history.ends", "history.settings", "history.procedures",
)  # fmt: skip
"""Parts of the summary as an adjuster asks for them."""


@dataclass(frozen=True, slots=True)
class Part:
    """A heading and its lines: each with the sign of a list before it, or (`sign` "") set without."""

    heading: str
    lines: tuple[Text, ...]
    count: int
    sign: str = "–"
    after: tuple[Text, ...] = ()
    rank: int = 0
    """How early an adjuster asks for it: 0 first."""

    def high(self, flow: Flow) -> float:
        """Its height under a heading, in points."""
        lines = flow.points_height(*self.lines) if self.sign else flow.height(*self.lines)
        return 24.5 + lines + flow.height(*self.after)

    def put(self, flow: Flow) -> None:
        """Its lines, without the heading."""
        if self.sign:
            flow.points(*self.lines)
        else:
            flow.text(*self.lines)
        flow.text(*self.after)


def put_summary(flow: Flow, whole: History) -> list[Part]:
    """Set the first page; returns the parts that did not fit, in order, numbered from section 2 on."""
    flow.heading(f"{word('history.title')}: {say(whole.asked.title)}", 15)
    flow.text(Text(word("history.purpose"), 9))
    flow.heading(f"1  {word('history.summary')}", 11, 1)
    rows, values = _rows(flow, whole)
    every = list(_parts(whole))
    rows += [(part.heading, part.lines[0].words) for part in every if not part.count]
    parts = [part for part in every if part.count]
    last = list(_last(whole))
    fixed = sum(_row_high(flow, *row) for row in rows) + flow.height(*last) + 4
    behind = _behind(flow, parts, flow.left - fixed)
    folded = [*values, *(part for part in parts if part in behind)]
    numbers = {id(part): number for number, part in enumerate(folded, start=2)}
    named = {part.heading: numbers[id(part)] for part in values}
    flow.plain_table(_NAME, _VALUE)
    for name, value in rows:
        shown = say(msg("history.see_section", number=named[name])) if name in named else value
        flow.row([Text(name, 8, quiet=True)], [Text(shown, 8)])
    flow.end_table()
    for part in parts:
        if id(part) in numbers:
            flow.space(4)
            flow.text(Text(say(msg("history.in_section", what=part.heading, count=part.count, number=numbers[id(part)])),
                           8.5, bold=True))  # fmt: skip
        else:
            flow.heading(part.heading, 11, 1, 12)
            part.put(flow)
    flow.space(4)
    flow.text(*last)
    return folded


def _rows(flow: Flow, whole: History) -> tuple[list[tuple[str, str]], list[Part]]:
    """The summary's rows, and the parts of those whose value is too long for a row."""
    rows, values = [], []
    for name, value in whole.summary:
        if flow.height(Text(value, 8), share=_VALUE) > _MOST_LINES * 8 * 1.3:
            values.append(Part(name, (Text(value, 8.5),), 1, ""))
            value = ""
        rows.append((name, value))
    return rows, values


def _row_high(flow: Flow, name: str, value: str) -> float:
    return max(flow.height(Text(name, 8), share=_NAME), flow.height(Text(value, 8), share=_VALUE)) + 5


def _behind(flow: Flow, parts: list[Part], room: float) -> list[Part]:
    """The parts that must stand behind for the others to fit into `room`.

    What an adjuster asks for first stays longest; what fits after all comes back to the front.
    """
    saved = {id(part): part.high(flow) - _LINE for part in parts}
    over = sum(saved.values()) + len(parts) * _LINE - room
    behind: list[Part] = []
    for part in sorted(parts, key=lambda one: one.rank, reverse=True):
        if over > 0 and saved[id(part)] > 0:
            behind.append(part)
            over -= saved[id(part)]
    for part in sorted(behind, key=lambda one: one.rank):
        if over + saved[id(part)] <= 0:
            behind.remove(part)
            over += saved[id(part)]
    return behind


def _parts(whole: History) -> Iterator[Part]:
    """The parts in the order of the page."""
    yield _list("history.ends", whole.ends)
    if whole.asked.subject_class != "fleet":
        yield _list("history.stays" if whole.asked.subject_class == "vehicle" else "history.stays_pack", whole.stays)
    yield _list("history.gaps", whole.gaps, "history.no_gaps")
    if whole.incidents:
        yield _list("history.incidents", whole.incidents)
    yield _list("history.recalls", whole.recalls, "history.no_recalls")
    yield _list("history.procedures", whole.procedures, "history.no_procedures")
    yield _list("history.settings", whole.settings, "history.no_settings")
    if whole.conditions:
        lines = [text for pair in whole.conditions for text in _condition(*pair)]
        note = (Text(word("policy.note"), 8, quiet=True),)
        yield Part(
            word("policy.heading"), tuple(lines), len(whole.conditions), "", note, _ASKED.index("policy.heading")
        )
    yield _list("history.lodgings", (*whole.lodgings, *whole.lodging_gaps), "proof.never_lodged")


def _condition(statement: Message, shown: Message) -> tuple[Text, Text]:
    return Text(say(statement), 8.5), Text(say(shown), 8.5, bold=True)


def _list(key: str, lines: tuple[Message, ...], none: str = "history.none") -> Part:
    if not lines:
        return Part(word(key), (Text(word(none), 8.5),), 0, "")
    shown = (
        Text(show_value("told_sentence", one), 8.5, bold=one.key.startswith("history.setting_loosened"))
        for one in lines
    )
    return Part(word(key), tuple(shown), len(lines), rank=_ASKED.index(key))


def _last(whole: History) -> Iterator[Text]:
    if whole.initials:
        yield Text(word("history.initials_note"), 8, quiet=True)
    yield Text(word("history.check_by"), 8, quiet=True)
    yield Text(word("safety.defer"), 8, bold=True)
