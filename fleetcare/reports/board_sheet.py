"""The board for the wall: black and white, read at arm's length, counts that add up."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import CondPageBreak, Spacer, Table, TableStyle

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say, show_moment, show_since, word
from fleetcare.reports.marks import StateMark
from fleetcare.reports.page import Mark, Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.shapes import shape_of
from fleetcare.reports.text import BOLD, FONT, para
from fleetcare.reports.text import width as text_width
from fleetcare.services import freeing
from fleetcare.services.shown import FleetSummary, VehicleSummary, clears_brief

_RULE = Color(0.55, 0.55, 0.55)
STATE_POINTS = 14
CODE_POINTS = 13
READY_COLUMNS = 7
MOST_OF_A_PAGE = 300.0
"""Points of height; a landscape A4 page has some 450 for its content."""


def write(fleet: FleetSummary, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime) -> None:
    """Write the board to `path`, landscape."""
    running = Running(
        word("paper.board_title"), show_moment(fleet.as_of), fleet.fleet_name, fleet.demo, fleet.as_of,
        Head(fleet.position, fleet.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    write_pages(path, story(fleet, inner_width(page, wide=True)), running, page=page, wide=True)


def story(fleet: FleetSummary, width: float) -> list[Any]:
    """Counts, every vehicle that is not simply ready, the ready ones, drafts."""
    counts = " + ".join(f"{fleet.counts[state]:,} {word(f'board_state.{state.value}')}" for state in BoardState)
    parts: list[Any] = [
        para(f"{say(msg('screen.counts_are', total_vehicles=len(fleet.vehicles)))} {counts}", 15, bold=True, after=3)
    ]
    if fleet.away_told is not None:
        parts.append(para(say(fleet.away_told), 11, after=3))
    parts.append(para(say(msg("window.as_of", at_time=show_moment(fleet.as_of))), 12, bold=True, after=6))
    not_ready = [line for line in fleet.vehicles if line.status.state is not BoardState.READY]
    parts.insert(0, Mark(f"{word('paper.board_title')} {show_moment(fleet.as_of)}"))
    if not_ready:
        parts.append(_not_ready(fleet, not_ready, width))
    ready = [line for line in fleet.vehicles if line.status.state is BoardState.READY]
    if ready:
        parts += [
            CondPageBreak(60),
            Spacer(1, 8),
            Mark(word("board_state.ready").capitalize()),
            para(word("board_state.ready").capitalize(), 12, bold=True, after=2),
            _ready(ready, width),
        ]
    if fleet.drafts:
        told = ", ".join(say(msg("screen.draft", person=who, subject=what, at=at)) for who, what, at in fleet.drafts)
        parts += [Spacer(1, 6), para(say(msg("screen.drafts", drafts=told)), 10)]
    parts += [Spacer(1, 4), para(word("safety.defer"), 8, quiet=True)]
    return parts


class _Rows(Table):
    """Breaks between rows; a row itself only where it has most of a page to itself and still does not fit."""

    def split(self, availWidth: float, availHeight: float) -> list[Any]:
        """reportlab's hook."""
        self.splitInRow = 1 if availHeight > MOST_OF_A_PAGE else 0
        return list(super().split(availWidth, availHeight))


def _not_ready(fleet: FleetSummary, lines: list[VehicleSummary], width: float) -> Table:
    names = dict(fleet.depots)
    heads = ("list.vehicle", "list.state", "list.reason", "list.since", "list.next", "list.clears", "list.offers")
    rows: list[list[Any]] = [[para(word(key), 9, bold=True) for key in heads]]
    for line in lines:
        lead = line.status.reasons[0] if line.status.reasons else None
        rows.append(
            [
                para(line.vehicle.code, CODE_POINTS, bold=True),
                StateMark(shape_of(line.status), word(f"board_state.{line.status.state.value}"), STATE_POINTS),
                [
                    para(f"{word(f'hold_class.{one.hold_class.value}')}: {say(one.text)}", 9)
                    for one in line.status.reasons
                ],
                para(show_since(lead.since) if lead and lead.since else "—", 9),
                para(say(lead.next_step) if lead else "", 9),
                para(clears_brief(line, fleet.at_work) or "—", 9),
                para(freeing.briefly(line, names) or "—", 9),
            ]
        )
    state = (
        max(StateMark("", word(f"board_state.{line.status.state.value}"), STATE_POINTS).width for line in lines) + 10
    )
    code = min(width * 0.2, max(text_width(line.vehicle.code, BOLD, CODE_POINTS) for line in lines) + 12)
    rest = [(width - state - code) * share for share in (0.355, 0.1, 0.215, 0.13, 0.2)]
    table = _Rows(rows, colWidths=[code, state, *rest], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.5, _RULE), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 3), ("RIGHTPADDING", (0, 0), (-1, -1), 3),
                ("TOPPADDING", (0, 0), (-1, -1), 3), ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )  # fmt: skip
    return table


def _ready(lines: list[VehicleSummary], width: float) -> Table:
    cells: list[Any] = [StateMark("circle", line.vehicle.code, STATE_POINTS) for line in lines]
    while len(cells) % READY_COLUMNS:
        cells.append("")
    rows = [cells[i : i + READY_COLUMNS] for i in range(0, len(cells), READY_COLUMNS)]
    table = Table(rows, colWidths=[width / READY_COLUMNS] * READY_COLUMNS)
    table.setStyle(TableStyle([FONT, ("LEFTPADDING", (0, 0), (-1, -1), 3), ("TOPPADDING", (0, 0), (-1, -1), 2)]))
    return table
