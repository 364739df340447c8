"""The maintenance history on paper: a summary first, then every entry, with gaps as gaps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from fleetcare.domain.procedures import versions_in
from fleetcare.domain.wording import Message, msg, say, show_date, show_moment, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.services.history import Reading
from fleetcare.services.history_lines import History, Line
from fleetcare.services.writing_files import whole_file

_COLUMNS = ((0.07, "history.number"), (0.18, "history.done_entered"), (0.185, "history.who_level"),
            (0.565, "history.what"))  # fmt: skip


def write(
    reading: Reading,
    whole: History,
    path: Path,
    *,
    page: str,
    printed_by: str,
    printed_at: dt.datetime,
    progress: Callable[[int], None] | None = None,
) -> int:
    """Write the history to `path`; returns the number of pages.

    `progress(pages)` may raise to stop.  An older file at `path` stays until the new one is whole.
    """
    running = Running(
        word("history.title"), say(whole.asked.title), whole.fleet_name, whole.demo, whole.as_of, whole.head.short,
        printed_by, printed_at,
    )  # fmt: skip
    with whole_file(path) as fresh, fresh.open("wb") as file:
        flow = Flow(file, running, page=page, progress=progress)
        _summary(flow, whole)
        flow.heading(word("history.lines"))
        if not whole.lines:
            flow.text(Text(word("history.no_lines"), 9))
        else:
            flow.table(*((share, word(key)) for share, key in _COLUMNS))
            gaps = list(whole.gaps) if whole.asked.subject_class != "fleet" else []
            for line in reading.lines():
                while gaps and _due(gaps[0]) < line.done_at.date():
                    flow.row(*_gap_row(gaps.pop(0)))
                flow.row(*_row(line))
            for gap in gaps:
                flow.row(*_gap_row(gap))
            flow.end_table()
        _texts(flow, whole)
        return flow.finish()


def _texts(flow: Flow, whole: History) -> None:
    """The written procedures that the entries name, as they stood."""
    if whole.texts:
        flow.heading(word("history.procedure_texts"), 12)
    for head, steps in whole.texts:
        flow.heading(say(head), 9.5, 1)
        for number, step in enumerate(steps, start=1):
            if step.startswith("(") or len(steps) == 1:
                flow.text(Text(step, 8, quiet=step.startswith("(")))
            else:
                flow.points(Text(step, 8), sign=str(number))


def _summary(flow: Flow, whole: History) -> None:
    flow.heading(f"{word('history.title')}: {say(whole.asked.title)}", 15)
    flow.text(Text(word("history.purpose"), 9))
    flow.heading(word("history.summary"), 11, 1)
    flow.plain_table(0.22, 0.78)
    for name, value in whole.summary:
        flow.row([Text(name, 8, quiet=True)], [Text(value, 8)])
    _list(flow, "history.ends", whole.ends)
    if whole.asked.subject_class != "fleet":
        _list(flow, "history.stays" if whole.asked.subject_class == "vehicle" else "history.stays_pack", whole.stays)
    _list(flow, "history.gaps", whole.gaps, word("history.no_gaps"))
    _list(flow, "history.incidents", whole.incidents, word("history.no_incidents"))
    _list(flow, "history.recalls", whole.recalls, word("history.no_recalls"))
    _list(flow, "history.procedures", whole.procedures, word("history.no_procedures"))
    _list(flow, "history.settings", whole.settings, word("history.no_settings"))
    if whole.conditions:
        flow.heading(word("policy.heading"), 11, 1)
        for statement, shown in whole.conditions:
            flow.points(Text(say(statement), 8.5))
            flow.text(Text(say(shown), 8.5, bold=True), indent=10)
        flow.text(Text(word("policy.note"), 8, quiet=True))
    _list(flow, "history.lodgings", (*whole.lodgings, *whole.lodging_gaps), word("proof.never_lodged"))
    if whole.initials:
        flow.space(4)
        flow.text(Text(word("history.initials_note"), 8, quiet=True))
    flow.space(4)
    flow.text(Text(word("history.check_by"), 8, quiet=True), Text(word("safety.defer"), 8, bold=True))


def _list(flow: Flow, key: str, lines: tuple[Message, ...], none: str = "") -> None:
    flow.heading(word(key), 11, 1)
    for one in lines:
        flow.points(Text(say(one), 8.5, bold=one.key == "history.setting_loosened"))
    if not lines:
        flow.text(Text(none or word("history.none"), 8.5))


def _due(gap: Message) -> dt.date:
    day = gap.value("due_date")
    assert isinstance(day, dt.date)
    return day


def _gap_row(gap: Message) -> tuple[list[Text], ...]:
    return [Text("—", 8)], [Text(show_date(_due(gap)), 8, bold=True)], [], [Text(say(gap), 8, bold=True)]


def _row(line: Line) -> tuple[list[Text], ...]:
    done, entered = (show_moment(at) for at in (line.done_at, line.entered_at))
    level = word(f"level.{line.level}") if line.level else ""
    first = line.after_stop + line.after_incident
    what = [Text(note, 8, bold=True) for note in line.notes[:first]]
    what.append(Text(line.text, 8, struck=line.struck))
    what += [Text(note, 7.5, quiet=True) for note in line.notes[first:]]
    return (
        [Text(str(line.position), 8)],
        [Text(done, 8), Text(f"↳ {entered}", 7.5, quiet=True)],
        [Text(line.person_name or "—", 8), Text(level, 7.5, quiet=True), *_procedure(line)],
        what,
    )


def _procedure(line: Line) -> list[Text]:
    if not line.procedure:
        return []
    return [Text(say(msg("history.procedure", version=versions_in(line.procedure)[1])), 7.5, quiet=True)]
