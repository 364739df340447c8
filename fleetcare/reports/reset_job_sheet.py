"""The job sheet of the guided reset: the same steps, cautions and outcomes as the screen, to tick by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from fleetcare.domain.fuses import part_words, volts_words
from fleetcare.domain.reset_job import JOB_SIGNS, JobOutcome, Pause, normal_words, step_keys
from fleetcare.domain.wording import apart, msg, say, word
from fleetcare.reports.page import Running, height_of, inner_height, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.safety import rules_in_short
from fleetcare.reports.signs import SignBox
from fleetcare.reports.text import FONT, para
from fleetcare.services.in_force import DepotRules
from fleetcare.services.resetting import JobState
from fleetcare.services.work_lists import Stamp

SIGN_WIDTH = 72.0


def write(
    state: JobState, path: Path, *, fleet_name: str, demo: bool, page: str, printed_by: str, printed_at: dt.datetime,
    stamp: Stamp | None = None, rules: Sequence[DepotRules] = (), procedure: str = "", own: str = "",
) -> None:  # fmt: skip
    """Write the sheet for one pack; the folder is made where it is missing.

    `stamp` is the record that it was made from, `procedure` and `own` the version of the written procedure
    and what the depot adds to it.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    running = Running(word("sheet.job_title"), state.pack, fleet_name, demo, stamp.as_of if stamp else None,
                      stamp.head.short if stamp else "", printed_by, printed_at)  # fmt: skip
    for close in (False, True):
        told = story(state, inner_width(page), rules, procedure, own, close=close)
        if height_of(told, inner_width(page)) <= inner_height(page):
            break
    write_pages(path, told, running, page=page)


def story(
    state: JobState, width: float, rules: Sequence[DepotRules] = (), procedure: str = "", own: str = "", *,
    close: bool = False,
) -> list[Any]:  # fmt: skip
    """Pack and signs, the four pauses with their steps, readings, what they mean; `close`: with steps set closer.

    A pack that is held for danger is not reset: that stands beside its code, and no part is offered for it.
    """
    parts: list[Any] = [_head(state, width, procedure), para(_fuse(state), 8.5, after=2)]
    if own:
        parts.append(para(own, 9, after=2))
    parts.append(para(word("job.stops"), 9, bold=True, after=3))
    for number, pause in enumerate(Pause, start=1):
        parts.append(KeepTogether(_pause(state, number, pause, width, 8.5 if close else 9.5)))
    parts += [para(word("job.result"), 11, bold=True, after=3), para(word("sheet.job_readings"), 9.5, after=3)]
    parts.append(para(word("sheet.job_outcomes"), 9.5, bold=True))
    parts += [
        para(f"•  {word(f'job_outcome.{one.value}')}", 8, hang=True)
        for one in JobOutcome
        if one is not JobOutcome.STOPPED
    ]
    for part, have in () if state.danger else state.stocked:
        told = msg(
            "sheet.job_part",
            part=part.code,
            name=part.name,
            number=part.part_number,
            have=have,
            place=part.location or "—",
        )
        parts.append(para(f"□  {say(told)}", 8.5))
    parts += [Spacer(1, 3), para(word("sheet.job_sign"), 9.5, after=3)]
    parts += [para(one, 7.5) for one in rules_in_short(rules)]
    parts.append(para(f"{word('sheet.job_source')} {word('safety.defer')}", 7.5, bold=True))
    return parts


def _fuse(state: JobState) -> str:
    """What the maker says of the fuse, and of the reset by it."""
    model, notes = state.model, state.notes
    body = msg(f"fuse_body.{notes.fuse_body}") if notes.fuse_body else msg("sheet.job_body_unknown")
    return say(
        msg(
            "sheet.job_fuse", maker_amp=model.fuse_a, maker_vdc=volts_words(model.fuse_dc_v), body=body, part=part_words(notes.fuse_part),
            note=model.reset_note,
        )
    )  # fmt: skip


def _head(state: JobState, width: float, procedure: str) -> Table:
    told = [para(state.pack, 26, bold=True), para(f"{apart(state.model.name)} · {state.vehicle or '—'}", 10)]
    if procedure:
        told.append(para(procedure, 8, quiet=True))
    if state.danger:
        told.append(para(say(msg("reset.danger", pack=state.pack)), 9, bold=True))
    table = Table(
        [[told, *(SignBox(one, width=SIGN_WIDTH) for one in JOB_SIGNS)]],
        colWidths=[width - SIGN_WIDTH * len(JOB_SIGNS), *[SIGN_WIDTH] * len(JOB_SIGNS)],
    )
    table.setStyle(TableStyle([FONT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
    return table


def _pause(state: JobState, number: int, pause: Pause, width: float, box: float) -> list[Any]:
    what = word(f"job_pause.{pause.value}")
    rows = [[para("□", box), para(word(key), 8.5)] for key in step_keys(pause)]
    table = Table(rows, colWidths=[20, width - 20])
    table.setStyle(
        TableStyle([FONT, ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
                    ("VALIGN", (0, 0), (-1, -1), "MIDDLE")])
    )  # fmt: skip
    normal = "  ".join(say(one) for one in normal_words(pause, state.notes))
    heading = para(say(msg("faults.job_pause", number=number, what=what)), 10, bold=True, after=0)
    return [heading, table, para(normal, 8, quiet=True, after=1)]
