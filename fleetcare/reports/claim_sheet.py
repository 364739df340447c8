"""The warranty claim file: the clause first, then identity, purchase and the record; what is missing is said."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from pathlib import Path

from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.money import show_money
from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.safety import put_notes
from fleetcare.reports.settling import settled
from fleetcare.services.claim_file import ClaimFile, Photo
from fleetcare.services.in_force import DepotRules
from fleetcare.services.shown import CheckLine, EventLine, model_words
from fleetcare.services.telling import entry_note, line_text
from fleetcare.services.writing_files import whole_file

PHOTO_HEIGHT = 200.0
_DIGEST = 16


def write(
    found: ClaimFile, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime,
    rules: Sequence[DepotRules] = (),
) -> int:  # fmt: skip
    """Write the claim file to `path`, with the depot's `rules` at its end; returns the number of pages."""
    running = Running(
        word("sheet.claim"), found.pack.code, found.fleet_name, found.demo, found.as_of, found.head.short, printed_by,
        printed_at,
    )  # fmt: skip

    def put(flow: Flow) -> None:
        flow.heading(f"{word('sheet.claim')}: {found.pack.code}", 15)
        _clause(flow, found)
        _identity(flow, found)
        _evidence(flow, found)
        _readings(flow, found)
        for key, lines in (("trips", found.trips), ("fuses", found.fuses), ("holds", found.holds)):
            _events(flow, word(f"claim.{key}"), lines)
        _photos(flow, found)
        flow.space(8)
        flow.text(Text(word("claim.not_cause"), 9, bold=True), Text(word("claim.carry"), 8.5))
        put_notes(flow, "quarantine", rules)

    with whole_file(path) as fresh:
        return settled(fresh, running, page=page, put=put)


def _clause(flow: Flow, found: ClaimFile) -> None:
    terms = found.claim.terms
    flow.heading(word("claim.clause_heading"), 11, 1)
    if terms.clause:
        flow.text(Text(say(msg("warranty.quote", clause=terms.clause)), 12, bold=True))
    else:
        flow.text(Text(word("warranty.no_clause"), 10, bold=True))
    if terms.speaks_of_hire:
        flow.space(3)
        flow.text(Text(word("warranty.hire"), 9.5))
    flow.space(3)
    told = say(msg("claim.days", told=found.claim.time_left, made_date=found.as_of.date()))
    flow.text(Text(told[:1].upper() + told[1:], 9.5))


def _identity(flow: Flow, found: ClaimFile) -> None:
    pack, model, terms = found.pack, found.model, found.claim.terms
    flow.heading(word("claim.identity"), 11, 1)
    flow.plain_table(0.24, 0.76)
    marks = "; ".join(found.commissioned.marks) if found.commissioned else ""
    pairs = (
        (word("paper.pack"), pack.code), (word("paper.model"), model_words(model)),
        (word("paper.serial"), pack.serial), (word("claim.marks"), marks),
        (word("paper.cells"), say(msg("paper.cells_line", chemistry=model.chemistry.value, series=model.series_count,
                                     full_v=model.full_v))),
        (word("paper.capacity"), show_value("capacity_ah", model.capacity_ah)),
        (word("paper.in_service"), show_date(pack.in_service_on) if pack.in_service_on else ""),
    )  # fmt: skip
    _pairs(flow, pairs)
    flow.heading(word("claim.purchase"), 11, 1)
    flow.plain_table(0.24, 0.76)
    months = "" if terms.months is None else show_value("n_months", terms.months)
    _pairs(
        flow,
        (
            (word("warranty.bought_on"), show_date(terms.bought_on) if terms.bought_on else ""),
            (word("warranty.field_months"), months),
            (word("warranty.end"), show_date(terms.ends_on) if terms.ends_on else ""),
            (word("warranty.invoice"), terms.invoice),
            (word("claim.seller_pays"), "" if terms.price is None else show_money(terms.price, terms.currency)),
        ),
    )


def _pairs(flow: Flow, pairs: tuple[tuple[str, str], ...]) -> None:
    for name, value in pairs:
        flow.row([Text(name, 8, quiet=True)], [Text(value or word("claim.not_recorded"), 9, quiet=not value)])
    flow.end_table()


def _evidence(flow: Flow, found: ClaimFile) -> None:
    items, lacks = found.claim.items, found.claim.lacks
    flow.heading(word("claim.has"), 11, 1)
    told = msg("claim.lacks", count=len(lacks), of=len(items)) if lacks else msg("claim.complete")
    flow.text(Text(say(told), 9.5, bold=True))
    flow.space(3)
    flow.plain_table(0.16, 0.24, 0.60)
    for item in sorted(items, key=lambda one: one.have):
        state = word("claim.here") if item.have else word("claim.missing")
        mark = "\u25cf " if item.have else "\u25cb "
        flow.row(
            [Text(mark + state, 9, bold=not item.have)], [Text(word(f"warranty.{item.key}"), 9)],
            [Text(say(item.told), 9)],
        )  # fmt: skip
    flow.end_table()


_HEADS = ((0.165, "list.done"), (0.11, "list.kind"), (0.085, "list.rested"), (0.145, "list.loaded"), (0.115, "list.ohm"),
          (0.07, "list.bench"), (0.075, "list.meter"), (0.135, "list.verdict"), (0.10, "list.who"))  # fmt: skip


def _readings(flow: Flow, found: ClaimFile) -> None:
    flow.heading(word("claim.readings"), 11, 1)
    if not found.checks:
        flow.text(Text(word("claim.no_readings"), 9))
        return
    flow.table(*((share, word(key)) for share, key in _HEADS))
    for line in sorted(found.checks, key=lambda one: (one.done_at, one.position)):
        note = "; ".join(one for one in (entry_note(line), line.remark) if one)
        flow.row(*_check(line), below=(Text(note, 7, quiet=True),) if note else ())
    flow.end_table()


def _check(line: CheckLine) -> list[list[Text]]:
    loaded = ""
    if line.loaded_v is not None and line.load_a is not None:
        loaded = f"{show_value('loaded_v', line.loaded_v)} / {show_value('load_a', line.load_a)}"
    values = (
        show_moment(line.done_at), word(f"check_kind.{line.kind.value}"), show_value("rested_v", line.rested_v), loaded,
        "" if line.resistance_ohm is None else f"{line.resistance_ohm:.4f} Ω",
        "" if line.bench_c is None else show_value("bench_c", line.bench_c), line.meter,
        word(f"verdict.{line.verdict.level.value}"), line.person_name,
    )  # fmt: skip
    return [[Text(value, 7.5, struck=line.struck)] for value in values]


def _events(flow: Flow, heading: str, lines: tuple[EventLine, ...]) -> None:
    flow.heading(heading, 11, 1)
    if not lines:
        flow.text(Text(word("claim.none_recorded"), 9))
        return
    flow.table((0.19, word("list.done")), (0.67, word("list.what")), (0.14, word("list.who")))
    for line in sorted(lines, key=lambda one: (one.done_at, one.position)):
        flow.row([Text(show_moment(line.done_at), 8)], [Text(line_text(line), 8)], [Text(line.person_name, 8)])
    flow.end_table()


def _photos(flow: Flow, found: ClaimFile) -> None:
    flow.heading(word("claim.photos"), 11, 1)
    if not found.photos:
        item = next(one for one in found.claim.items if one.key == "photos")
        flow.text(Text(say(item.told), 9))
    for number, photo in enumerate(found.photos, 1):
        _photo(flow, number, photo)


def _photo(flow: Flow, number: int, photo: Photo) -> None:
    values = {"number": number, "digest": photo.digest[:_DIGEST]}
    if photo.content is None:
        flow.text(Text(say(msg("claim.photo_gone", **values)), 9))
        return
    try:
        picture = ImageReader(io.BytesIO(photo.content))
        wide, high = picture.getSize()
        picture.getRGBData()
    except Exception:
        flow.text(Text(say(msg("claim.photo_unread", **values)), 9))
        return
    height = min(PHOTO_HEIGHT, flow.width * high / wide)

    def draw(canvas: Canvas, left: float, low: float, _width: float) -> None:
        canvas.drawImage(picture, left, low + 2, height * wide / high, height - 4)

    flow.room(height + 14)
    flow.text(Text(say(msg("claim.photo", **values)), 8, quiet=True))
    flow.drawing(height, draw)
