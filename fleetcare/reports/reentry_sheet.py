"""The re-entry list after a restore: what may be missing, with lines to fill in from paper."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import Table, TableStyle

from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.reports.page import Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.text import FONT, para
from fleetcare.services.shown import FleetSummary

_RULE = Color(0.55, 0.55, 0.55)
ROW_POINTS = 22


def write(
    fleet: FleetSummary,
    last_at: dt.datetime,
    missing: int,
    last_checks: dict[str, dt.datetime | None],
    path: Path,
    *,
    page: str,
    fingerprint: str,
    printed_by: str = "",
    printed_at: dt.datetime,
) -> None:
    """Write the list: one line for each pack in each vehicle, spares after, with room for what was done since."""
    running = Running(
        word("backup.reentry_title"), "", fleet.fleet_name, fleet.demo, last_at, fingerprint, printed_by, printed_at
    )
    write_pages(path, story(fleet, last_at, missing, last_checks, inner_width(page)), running, page=page)


def story(
    fleet: FleetSummary, last_at: dt.datetime, missing: int, last_checks: dict[str, dt.datetime | None], width: float
) -> list[Any]:
    """What the list says, in order."""
    parts: list[Any] = [para(say(msg("backup.reentry_note", last_at=last_at)), 10.5, after=6)]
    if missing:
        parts.append(para(say(msg("backup.reentry_missing", missing=missing)), 10.5, bold=True, after=6))
    keys = ("list.vehicle", "window.pack", "backup.reentry_last", "backup.reentry_new")
    rows: list[list[Any]] = [[para(word(key), 9, bold=True) for key in keys]]
    seen: set[str] = set()
    for line in sorted(fleet.vehicles, key=lambda one: one.vehicle.code):
        for pack in line.packs:
            rows.append(_row(line.vehicle.code, pack.code, last_checks))
            seen.add(pack.code)
    rows += [_row("", code, last_checks) for code in sorted(last_checks) if code not in seen]
    table = Table(rows, colWidths=[width * part for part in (0.11, 0.11, 0.2, 0.58)], repeatRows=1,
                  rowHeights=[None, *[ROW_POINTS] * (len(rows) - 1)])  # fmt: skip
    table.setStyle(TableStyle([("GRID", (0, 0), (-1, -1), 0.5, _RULE), ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), FONT]))
    parts.append(table)
    return parts


def _row(vehicle: str, pack: str, last_checks: dict[str, dt.datetime | None]) -> list[Any]:
    at = last_checks.get(pack)
    return [para(vehicle or "—", 9), para(pack, 9), para("—" if at is None else show_moment(at), 9), ""]
