"""The renewal summary on one page: each head, and what the record shows under it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import Table, TableStyle

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import msg, say, show_date, word
from fleetcare.reports.page import Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.text import FONT, para
from fleetcare.services.renewal_summary import RenewalSummary

_RULE = Color(0.55, 0.55, 0.55)


def write(found: RenewalSummary, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime) -> None:
    """Write the page to `path`."""
    running = Running(
        word("summary.title"), show_date(found.to_date), found.fleet_name, found.demo, found.as_of,
        Head(found.position, found.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    write_pages(path, story(found, inner_width(page)), running, page=page)


def story(found: RenewalSummary, width: float) -> list[Any]:
    """The period, the table of heads, and how to read it."""
    period = msg(
        "summary.period", from_date=found.from_date, to_date=found.to_date, vehicles=found.vehicles, packs=found.packs
    )
    rows: list[list[Any]] = [[para(word("summary.asked"), 9, bold=True), para(word("summary.shown"), 9, bold=True)]]
    for head in found.heads:
        told = [para(say(one), 9, quiet=head.empty) for one in head.told]
        rows.append([para(word(f"summary.{head.name}"), 9, bold=True), told])
    table = Table(rows, colWidths=[width * 0.34, width * 0.66], repeatRows=1, splitInRow=1)
    table.setStyle(
        TableStyle(
            [
                FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.5, _RULE), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 3), ("RIGHTPADDING", (0, 0), (-1, -1), 3),
                ("TOPPADDING", (0, 0), (-1, -1), 4), ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
            ]
        )
    )  # fmt: skip
    return [para(say(period), 11, bold=True, after=6), table, para(" ", 4), para(word("summary.note"), 8.5, quiet=True)]
