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
from fleetcare.domain.wording import apart, closed, say, show_day, show_moment, word
from fleetcare.reports.page import Running, height_of, inner_height, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.safety import PRACTICE, Note, rules_in_short
from fleetcare.reports.signs import LEAST, SignBox
from fleetcare.reports.text import FONT, para
from fleetcare.services.in_force import DepotRules
from fleetcare.services.quarantine import QuarantineSheet

_RULE = Color(0.45, 0.45, 0.45)
LOOK_ROWS, WANTED_LOOKS, LEAST_LOOKS, LOOK_HEIGHT = 7, 5, 2, 15
"""Rows for the daily look: at most, as many as smaller letters are chosen for, at least, and how high each is in points."""

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


LEAST_TEXT = 40
"""Letters of a depot's text below which it is not cut further."""

MOST_WHY = 240
"""Letters of a reason that fit beside what else stands on a sheet that is read from a distance."""

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
    write_pages(path, story(page_of, inner_width(page), inner_height(page), rules), running, page=page)


def story(page_of: QuarantineSheet, width: float, room: float, rules: Sequence[DepotRules] = ()) -> list[Any]:
    """Code and signs, why and where, what to do, the daily look, the heads for transport, on one page of `room` points.

    Rows for the daily look give way first, down to a working week of them, then the size of code and signs, then the
    depot's own text, which is cut and says where the whole of it stands.
    """
    told = rules_in_short(rules)
    for close in (False, True):
        above, below = _parts(page_of, width, told, close=close)
        rows = int((room - height_of([*above, *below], width)) // LOOK_HEIGHT) - 1
        if rows >= WANTED_LOOKS:
            break
    while rows < LEAST_LOOKS and (shorter := _shorter(told)) != told:
        told = shorter
        above, below = _parts(page_of, width, told, close=True)
        rows = int((room - height_of([*above, *below], width)) // LOOK_HEIGHT) - 1
    return [*above, _looks(page_of, width, min(max(rows, LEAST_LOOKS), LOOK_ROWS)), *below]


def in_short(why: str) -> str:
    """A reason as it hangs on the wall: somebody's long remark is cut, and it says where the whole of it stands."""
    return why if len(why) <= MOST_WHY else closed(why[:MOST_WHY].rstrip()) + word("sheet.remark_cut")


def _shorter(told: list[str]) -> list[str]:
    """The same with a text cut by a tenth, the last one first, since a depot's own stands behind its rules."""
    mark = word("sheet.rules_cut")
    for number in reversed(range(len(told))):
        kept = told[number].removesuffix(mark)
        cut = kept[: len(kept) * 9 // 10].rstrip()
        if len(cut) >= LEAST_TEXT:
            return [*told[:number], f"{cut}{mark}", *told[number + 1 :]]
    return told


def _parts(page_of: QuarantineSheet, width: float, told: list[str], *, close: bool) -> tuple[list[Any], list[Any]]:
    """What stands above the daily looks and what below; `close`: smaller code and signs, reasons in one paragraph."""
    above: list[Any] = [
        para(word("sheet.keep_away"), 15, bold=True, after=2),
        _head(page_of.case.pack.code, width, close=close),
        para(word("sign.note"), 7, quiet=True, after=1 if close else 4),
        _facts(page_of, width, close=close),
        Spacer(1, 2 if close else 5),
    ]
    for key, notes in (("sheet.do_not", DO_NOT), ("sheet.do", DO)):
        above.append(para(word(key), 11, bold=True))
        above += [para(f"•  {note.statement}  [{note.source}]", 8.5 if close else 9, hang=True) for note in notes]
        above.append(Spacer(1, 1 if close else 3))
    above += [para(one, 8) for one in told]
    above.append(para(word("sheet.looks"), 11, bold=True, after=2))
    below = [
        Spacer(1, 3 if close else 5),
        para(word("sheet.transport"), 11, bold=True, after=1),
        para(word("quarantine.heads_note"), 7.5, quiet=True, after=2),
        _heads(width),
        Spacer(1, 5 if close else 7),
        para(word("sheet.collection"), 9),
        para(word("sheet.defer"), 8, quiet=True),
    ]
    return above, below


def _head(code: str, width: float, *, close: bool) -> Table:
    signs = [SignBox(number, LEAST if close else 19 * mm, 84) for number in SIGNS]
    largest = 40 if close else 52
    size = min(largest, largest * 6 / max(len(code), 1))
    table = Table([[para(code, size, bold=True), *signs]], colWidths=[width - 84 * len(signs), *[84] * len(signs)])
    table.setStyle(TableStyle([FONT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
    return table


def _facts(page_of: QuarantineSheet, width: float, *, close: bool) -> Table:
    case = page_of.case
    reasons = [in_short(say(reason)) for reason in case.reasons]
    why = [para(one, 10) for one in ([" ".join(reasons)] if close else reasons)]
    place = case.place or "________________________________"
    where = f"{apart(place)}   ({case.vehicle})" if case.vehicle else place
    model = f"{apart(case.model.name)} · {case.model.chemistry.value} · {case.pack.serial or '—'}"
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
    for at, name, changed in case.looks[len(case.looks) - min(len(case.looks), count - 2) :]:
        answer = word("quarantine.changed") if changed else "—"
        rows.append([para(show_day(at), 8), para(f"{at:%H:%M}", 8), para(answer, 8), para(name, 8)])
    rows += [["", "", "", ""]] * (count + 1 - len(rows))
    table = Table(rows, colWidths=[width * f for f in (0.14, 0.12, 0.5, 0.24)], rowHeights=[LOOK_HEIGHT] * len(rows))
    table.setStyle(TableStyle([FONT, ("GRID", (0, 0), (-1, -1), 0.5, _RULE), ("TOPPADDING", (0, 0), (-1, -1), 1)]))
    return table


def _heads(width: float) -> Table:
    answers = "   ".join(f"□ {word(f'head_answer.{answer.value}')}" for answer in HeadAnswer)
    rows = [
        [para(f"{number}  {word(f'head.{head.value}')}", 8.5), para(answers, 8.5)]
        for number, head in enumerate(TransportHead, start=1)
    ]
    table = Table(rows, colWidths=[width * 0.66, width * 0.34])
    table.setStyle(
        TableStyle([FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE), ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5)])
    )  # fmt: skip
    return table
