"""The maintenance history on paper: a summary first, then every entry, with gaps as gaps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from fleetcare.domain.procedures import versions_in
from fleetcare.domain.wording import Message, msg, say, show_date, show_moment, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.history_front import put_summary
from fleetcare.reports.page import Running
from fleetcare.services.history import Reading
from fleetcare.services.history_lines import History, Line
from fleetcare.services.writing_files import whole_file

_COLUMNS = ((0.06, "history.number"), (0.17, "history.done_entered"), (0.17, "history.who_level"),
            (0.60, "history.what"))  # fmt: skip


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
        behind = put_summary(flow, whole)
        flow.new_page()
        for number, part in enumerate(behind, start=2):
            flow.heading(f"{number}  {part.heading}")
            part.put(flow)
        number = len(behind) + 2
        flow.heading(f"{number}  {word('history.lines')}")
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
        _texts(flow, whole, number + 1)
        return flow.finish()


def _texts(flow: Flow, whole: History, number: int) -> None:
    """Section `number`: the written procedures that the entries name, as they stood."""
    if whole.texts:
        flow.heading(f"{number}  {word('history.procedure_texts')}")
    for head, steps in whole.texts:
        flow.heading(say(head), 9.5, 1)
        for place, step in enumerate(steps, start=1):
            if step.startswith("(") or len(steps) == 1:
                flow.text(Text(step, 8, quiet=step.startswith("(")))
            else:
                flow.points(Text(step, 8), sign=str(place))


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
        [Text(done, 8), Text(f"↳ {entered}", 7, quiet=True)],
        [Text(line.person_name or "—", 8), Text(level, 7, quiet=True), *_procedure(line)],
        what,
    )


def _procedure(line: Line) -> list[Text]:
    if not line.procedure:
        return []
    return [Text(say(msg("history.procedure", version=versions_in(line.procedure)[1])), 7, quiet=True)]
