"""The quarantine sheet: hangs beside the pack, is read from a distance, and goes with the carrier."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.quarantine import HeadAnswer, TransportHead
from fleetcare.domain.wording import say, show_moment, word
from fleetcare.reports.page import Running, inner_width
from fleetcare.reports.page import write as write_pages
from fleetcare.reports.safety import PRACTICE, Note
from fleetcare.reports.text import BOLD, FONT, REGULAR, para
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


class Sign(Flowable):
    """One safety sign in black and white with its number below; shapes after ISO 3864."""

    SIZE = 58.0

    def __init__(self, kind: str) -> None:
        super().__init__()
        self._kind = kind

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self.SIZE + 20, self.SIZE + 14

    def draw(self) -> None:
        canvas: Canvas = self.canv
        size, low = self.SIZE, 13.0
        middle = (self.SIZE + 20) / 2
        canvas.setLineWidth(4.5)
        canvas.setLineJoin(1)
        if self._kind.startswith("sign_w"):
            path = canvas.beginPath()
            path.moveTo(middle - size / 2, low + 2)
            path.lineTo(middle + size / 2, low + 2)
            path.lineTo(middle, low + size * 0.9)
            path.close()
            canvas.drawPath(path)
            if self._kind == "sign_w001":
                canvas.setFont(BOLD, 34)
                canvas.drawCentredString(middle, low + 9, "!")
            else:
                self._bolt(canvas, middle, low)
        elif self._kind.startswith("sign_m"):
            canvas.circle(middle, low + size * 0.45 + 2, size * 0.45, fill=1)
            self._worn(canvas, middle, low + size * 0.45 + 2)
        else:
            radius = size * 0.45
            canvas.circle(middle, low + radius + 2, radius)
            self._forbidden(canvas, middle, low + radius + 2)
            slope = radius * 0.707
            canvas.setLineWidth(4.5)
            canvas.line(middle - slope, low + radius + 2 + slope, middle + slope, low + radius + 2 - slope)
        canvas.setFont(REGULAR, 8)
        canvas.drawCentredString(middle, 2, word(f"sheet.{self._kind}"))

    @staticmethod
    def _bolt(canvas: Canvas, x: float, low: float) -> None:
        path = canvas.beginPath()
        for step, (dx, dy) in enumerate(((2, 40), (-7, 22), (0, 22), (-4, 8), (8, 27), (1, 27), (7, 40))):
            (path.lineTo if step else path.moveTo)(x + dx, low + dy)
        path.close()
        canvas.setLineWidth(0.5)
        canvas.drawPath(path, fill=1)

    def _worn(self, canvas: Canvas, x: float, y: float) -> None:
        """White on a full disc: spectacles or a glove."""
        canvas.setStrokeGray(1)
        canvas.setFillGray(1)
        canvas.setLineWidth(2.5)
        if self._kind == "sign_m004":
            canvas.circle(x - 9, y, 7)
            canvas.circle(x + 9, y, 7)
            canvas.line(x - 2, y + 1, x + 2, y + 1)
        else:
            canvas.roundRect(x - 9, y - 15, 16, 20, 3, fill=1)
            for finger in range(4):
                canvas.roundRect(x - 9 + finger * 4.1, y + 3, 3.4, 12, 1.6, fill=1, stroke=0)
            canvas.roundRect(x + 6, y - 6, 7, 4, 2, fill=1)
        canvas.setStrokeGray(0)
        canvas.setFillGray(0)

    def _forbidden(self, canvas: Canvas, x: float, y: float) -> None:
        if self._kind == "sign_p003":
            path = canvas.beginPath()
            path.moveTo(x, y - 12)
            path.curveTo(x - 14, y - 6, x - 4, y + 6, x, y + 17)
            path.curveTo(x + 4, y + 8, x + 14, y - 2, x, y - 12)
            canvas.setLineWidth(0.5)
            canvas.drawPath(path, fill=1)
        else:
            canvas.setLineWidth(2.2)
            canvas.rect(x - 13, y - 8, 24, 16)
            canvas.rect(x + 11, y - 3, 3, 6)
            canvas.setFont(BOLD, 14)
            canvas.drawCentredString(x - 1, y - 5, "+")


def write(page_of: QuarantineSheet, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime) -> None:
    """Write the sheet to `path`; the folder is made where it is missing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    running = Running(
        word("sheet.quarantine_title"), page_of.case.pack.code, page_of.fleet_name, page_of.demo, page_of.as_of,
        Head(page_of.position, page_of.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    write_pages(path, story(page_of, inner_width(page)), running, page=page)


def story(page_of: QuarantineSheet, width: float) -> list[Any]:
    """Code and signs, why and where, what to do, the daily look, the heads for transport."""
    case = page_of.case
    parts: list[Any] = [
        para(word("sheet.keep_away"), 15, bold=True, after=2),
        _head(case.pack.code, width),
        para(word("sheet.signs_note"), 7, quiet=True, after=4),
        _facts(page_of, width),
        Spacer(1, 5),
    ]
    for key, notes in (("sheet.do_not", DO_NOT), ("sheet.do", DO)):
        parts.append(para(word(key), 11, bold=True))
        parts += [para(f"•  {note.statement}  [{note.source}]", 9) for note in notes]
        parts.append(Spacer(1, 3))
    parts.append(para(word("sheet.looks"), 11, bold=True, after=2))
    parts.append(_looks(page_of, width))
    parts += [Spacer(1, 5), para(word("sheet.transport"), 11, bold=True, after=1)]
    parts.append(para(word("quarantine.heads_note"), 7.5, quiet=True, after=2))
    parts.append(_heads(width))
    parts += [Spacer(1, 7), para(word("sheet.collection"), 9), para(word("sheet.defer"), 8, quiet=True)]
    return parts


def _head(code: str, width: float) -> Table:
    signs = [Sign(kind) for kind in ("sign_w001", "sign_w012", "sign_p003", "sign_charge")]
    size = min(40, 40 * 6 / max(len(code), 1))
    table = Table([[para(code, size, bold=True), *signs]], colWidths=[width - 4 * 84, 84, 84, 84, 84])
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


def _looks(page_of: QuarantineSheet, width: float) -> Table:
    case = page_of.case
    rows: list[list[Any]] = [[para(one, 8, bold=True) for one in word("sheet.look_columns").split("|")]]
    for at, name, changed in case.looks[-LOOK_ROWS:]:
        answer = word("quarantine.changed") if changed else "—"
        rows.append([para(f"{at:%d %b}", 8), para(f"{at:%H:%M}", 8), para(answer, 8), para(name, 8)])
    rows += [["", "", "", ""]] * max(LOOK_ROWS + 1 - len(rows), 2)
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
