"""The board for the wall: black and white, read at arm's length, counts that add up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import CondPageBreak, Spacer, Table, TableStyle

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.status import BoardState, Reason
from fleetcare.domain.wording import Message, msg, say, show_moment, show_since, word
from fleetcare.reports.marks import StateMark
from fleetcare.reports.page import Mark, Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.settling import NEXT_TO_NOTHING, SCALES
from fleetcare.reports.shapes import shape_of
from fleetcare.reports.text import BOLD, FONT, para
from fleetcare.reports.text import width as text_width
from fleetcare.services import freeing
from fleetcare.services.shown import FleetSummary, VehicleSummary, clears_brief, next_steps

_RULE = Color(0.55, 0.55, 0.55)
STATE_POINTS, TEXT_POINTS = 14, 9
"""Code and state are read at arm's length and never set smaller."""
READY_COLUMNS = 7
LONG_WORD = 110.0
"""Points of width beyond which a state's word heads the reason instead of widening the column of all vehicles."""
MOST_OF_A_PAGE = 300.0
"""Points of height; a landscape A4 page has some 450 for its content."""


def write(fleet: FleetSummary, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime) -> None:
    """Write the board to `path`, landscape."""
    running = Running(
        word("paper.board_title"), show_moment(fleet.as_of), fleet.fleet_name, fleet.demo, fleet.as_of,
        Head(fleet.position, fleet.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    width = inner_width(page, wide=True)
    pages, filled = write_pages(path, story(fleet, width), running, page=page, wide=True)
    if pages > 1 and filled < NEXT_TO_NOTHING:
        for scale in SCALES:
            fewer, _ = write_pages(path, story(fleet, width, scale), running, page=page, wide=True)
            if fewer < pages:
                return
        write_pages(path, story(fleet, width), running, page=page, wide=True)


def story(fleet: FleetSummary, width: float, scale: float = 1) -> list[Any]:
    """Counts, every vehicle that is not simply ready, the ready ones, drafts; reasons in letters of `scale` times their size."""
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
        parts.append(_not_ready(fleet, not_ready, width, scale))
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


def _not_ready(fleet: FleetSummary, lines: list[VehicleSummary], width: float, scale: float) -> Table:
    names = dict(fleet.depots)
    letters = TEXT_POINTS * scale
    heads = ("list.vehicle", "list.reason", "list.since", "list.next", "list.clears", "list.offers")
    rows: list[list[Any]] = [[para(word(key), letters, bold=True) for key in heads]]
    first = 0.0
    for line in lines:
        lead = line.status.reasons[0] if line.status.reasons else None
        mark = StateMark(shape_of(line.status), line.vehicle.code, STATE_POINTS)
        state = word(f"board_state.{line.status.state.value}")
        told = para(state, STATE_POINTS, bold=True)
        long = text_width(state, BOLD, STATE_POINTS) > LONG_WORD
        first = max(first, mark.width, 0 if long else text_width(state, BOLD, STATE_POINTS))
        rows.append(
            [
                mark if long else [mark, told],
                [
                    *([told] if long else []),
                    *(
                        para(f"{word(f'hold_class.{one.value}')}: {say(text)}", letters)
                        for one, text in _together(line.status.reasons)
                    ),
                ],
                para(show_since(lead.since) if lead and lead.since else "—", letters),
                [para(say(step), letters) for step in next_steps(line)] or para("", letters),
                para(clears_brief(line, fleet.at_work) or "—", letters),
                para(freeing.briefly(line, names) or "—", letters),
            ]
        )
    first = min(width * 0.25, first + 10)
    rest = [(width - first) * share for share in (0.345, 0.075, 0.22, 0.12, 0.24)]
    table = _Rows(rows, colWidths=[first, *rest], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.5, _RULE), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 3), ("RIGHTPADDING", (0, 0), (-1, -1), 3),
                ("TOPPADDING", (0, 0), (0, -1), 1), ("TOPPADDING", (1, 0), (-1, -1), 4), ("TOPPADDING", (0, 0), (-1, 0), 3),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )  # fmt: skip
    return table


def _together(reasons: Sequence[Reason]) -> list[tuple[HoldClass, Message]]:
    """The reasons of a vehicle; what is the same of several of its packs is said once, of all of them."""
    packs: dict[tuple[HoldClass, Message], list[object]] = {}
    for one in reasons:
        values = dict(one.text.values)
        pack = values.pop("pack", None)
        packs.setdefault((one.hold_class, msg(one.text.key, **values)), []).append(pack)
    return [
        (of, text if named == [None] else msg(text.key, pack=tuple(named), **dict(text.values)))
        for (of, text), named in packs.items()
    ]


def _ready(lines: list[VehicleSummary], width: float) -> Table:
    cells: list[Any] = [StateMark("circle", line.vehicle.code, STATE_POINTS) for line in lines]
    while len(cells) % READY_COLUMNS:
        cells.append("")
    rows = [cells[i : i + READY_COLUMNS] for i in range(0, len(cells), READY_COLUMNS)]
    table = Table(rows, colWidths=[width / READY_COLUMNS] * READY_COLUMNS)
    table.setStyle(TableStyle([FONT, ("LEFTPADDING", (0, 0), (-1, -1), 3), ("TOPPADDING", (0, 0), (-1, -1), 2)]))
    return table
