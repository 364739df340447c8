"""The quarantine sheet: hangs beside the pack, is read from a distance, and goes with the carrier."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.platypus import Spacer, Table, TableStyle

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.quarantine import HeadAnswer, TransportHead
from fleetcare.domain.wording import say, show_day, show_moment, word
from fleetcare.reports.page import Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.safety import PRACTICE, Note, rules_in_short
from fleetcare.reports.signs import SignBox
from fleetcare.reports.text import FONT, para
from fleetcare.services.in_force import DepotRules
from fleetcare.services.quarantine import QuarantineSheet

_RULE = Color(0.45, 0.45, 0.45)
LOOK_ROWS = 7

DO_NOT = (
    Note("Do not charge it, ride it, reset it, test it or open it.", PRACTICE),
    Note("Do not fight a fire of it.", "Fire services' public advice (County Durham and Darlington; Humberside)"),
    Note("Do not carry it while it smokes, hisses or gets hotter.", PRACTICE),
)
DO = (
    Note(
        "Smoke, hiss or rising heat: get out, raise the alarm, call the fire service.",
        "County Durham and Darlington Fire and Rescue Service",
    ),
    Note("Cover the contacts; keep it apart from other packs, from what burns, and from the way out.", PRACTICE),
    Note(
        "Distance or a fire-resistant separation as your insurer asks; for packs of this size one insurers' sheet asks 5 m.",
        "German insurers, VdS 3103:2019-06, medium power class",
    ),
    Note("Keep damaged packs out of the premises.", "UK Department for Transport, premises guide, 2024"),
)


SIGNS = ("W001", "W012", "P003")


def write(
    page_of: QuarantineSheet, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime,
    rules: Sequence[DepotRules] = (),
) -> None:  # fmt: skip
    """Write the sheet to `path`; the folder is made where it is missing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    running = Running(
        word("sheet.quarantine_title"), page_of.case.pack.code, page_of.fleet_name, page_of.demo, page_of.as_of,
        Head(page_of.position, page_of.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    write_pages(path, story(page_of, inner_width(page), rules, short=page == "Letter"), running, page=page)


def story(
    page_of: QuarantineSheet, width: float, rules: Sequence[DepotRules] = (), *, short: bool = False
) -> list[Any]:
    """Code and signs, why and where, what to do, the daily look, the heads for transport."""
    case = page_of.case
    parts: list[Any] = [
        para(word("sheet.keep_away"), 15, bold=True, after=2),
        _head(case.pack.code, width),
        para(word("sign.note"), 7, quiet=True, after=4),
        _facts(page_of, width),
        Spacer(1, 5),
    ]
    for key, notes in (("sheet.do_not", DO_NOT), ("sheet.do", DO)):
        parts.append(para(word(key), 11, bold=True))
        parts += [para(f"•  {note.statement}  [{note.source}]", 9, hang=True) for note in notes]
        parts.append(Spacer(1, 3))
    parts += [para(one, 8) for one in rules_in_short(rules)]
    parts.append(para(word("sheet.looks"), 11, bold=True, after=2))
    parts.append(_looks(page_of, width, LOOK_ROWS - (2 if rules else 0) - (3 if short else 0)))
    parts += [Spacer(1, 5), para(word("sheet.transport"), 11, bold=True, after=1)]
    parts.append(para(word("quarantine.heads_note"), 7.5, quiet=True, after=2))
    parts.append(_heads(width))
    parts += [Spacer(1, 7), para(word("sheet.collection"), 9), para(word("sheet.defer"), 8, quiet=True)]
    return parts


def _head(code: str, width: float) -> Table:
    signs = [SignBox(number, 19 * mm, 84) for number in SIGNS]
    size = min(52, 52 * 6 / max(len(code), 1))
    table = Table([[para(code, size, bold=True), *signs]], colWidths=[width - 84 * len(signs), *[84] * len(signs)])
    table.setStyle(TableStyle([FONT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
    return table


def _facts(page_of: QuarantineSheet, width: float) -> Table:
    case = page_of.case
    why = [para(say(reason), 10) for reason in case.reasons]
    place = case.place or "________________________________"
    where = f"{place}   ({case.vehicle})" if case.vehicle else place
    model = f"{case.model.name} · {case.model.chemistry.value} · {case.pack.serial or '—'}"
    rows: list[list[Any]] = [
        [para(word("sheet.why"), 10, bold=True), why],
        [para(word("sheet.since"), 10, bold=True), para(show_moment(case.since), 10)],
        [para(word("sheet.place"), 10, bold=True), para(where, 13, bold=bool(case.place))],
        [para(word("paper.model"), 10, bold=True), para(model, 10)],
    ]
    table = Table(rows, colWidths=[70, width - 70])
    table.setStyle(
        TableStyle([FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.5, _RULE), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")])
    )
    return table


def _looks(page_of: QuarantineSheet, width: float, count: int) -> Table:
    case = page_of.case
    rows: list[list[Any]] = [[para(one, 8, bold=True) for one in word("sheet.look_columns").split("|")]]
    for at, name, changed in case.looks[-count:]:
        answer = word("quarantine.changed") if changed else "—"
        rows.append([para(show_day(at), 8), para(f"{at:%H:%M}", 8), para(answer, 8), para(name, 8)])
    rows += [["", "", "", ""]] * max(count + 1 - len(rows), 2)
    table = Table(rows, colWidths=[width * f for f in (0.14, 0.12, 0.5, 0.24)], rowHeights=[15] * len(rows))
    table.setStyle(TableStyle([FONT, ("GRID", (0, 0), (-1, -1), 0.5, _RULE), ("TOPPADDING", (0, 0), (-1, -1), 1)]))
    return table


def _heads(width: float) -> Table:
    answers = "   ".join(f"□ {word(f'head_answer.{answer.value}')}" for answer in HeadAnswer)
    rows = [
        [para(f"{number}  {word(f'head.{head.value}')}", 8.5), para(answers, 8.5)]
        for number, head in enumerate(TransportHead, start=1)
    ]
    table = Table(rows, colWidths=[width * 0.6, width * 0.4])
    table.setStyle(
        TableStyle([FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE), ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5)])
    )  # fmt: skip
    return table
