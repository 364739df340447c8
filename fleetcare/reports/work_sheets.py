"""The working sheets: round list, handover, lay-up list, quarantine sheet and tag."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.reports import signs
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.safety import notes_for, put_notes, rules_in_short
from fleetcare.services import summary, work_lists
from fleetcare.services.in_force import sheet_rules
from fleetcare.services.session import Clock
from fleetcare.services.work_lists import Quarantined
from fleetcare.services.writing_files import whole_file
from fleetcare.store.store import Store

KINDS = ("round", "handover", "layup", "quarantine", "tag")
_BOX = "\u25a1"


def write(
    kind: str, store: Store, clock: Clock, path: Path, *, code: str = "", page: str, printed_by: str,
    printed_at: dt.datetime,
) -> int:  # fmt: skip
    """Write one of KINDS to `path`; returns the number of pages.

    EntryRefused when a tag is asked for something that is not in quarantine.
    """
    put = _PARTS[kind]
    made = work_lists.stamp(store, clock)
    if kind == "tag":
        work_lists.quarantined(store, clock, code or "—")
    subject = code.strip().upper() or show_moment(made.as_of)
    running = Running(
        word(f"sheet.{kind}"), subject, made.fleet_name, made.demo, made.as_of, made.head.short, printed_by, printed_at
    )
    with whole_file(path) as fresh, fresh.open("wb") as file:
        flow = Flow(file, running, page=page)
        put(flow, store, clock, code)
        return flow.finish()


def _round(flow: Flow, store: Store, clock: Clock, _code: str) -> None:
    lines = summary.round_list(store, clock)
    flow.heading(word("sheet.round"), 15)
    if not lines:
        flow.text(Text(word("sheet.nothing_due"), 10))
    else:
        flow.text(Text(say(msg("sheet.round_told", count=len(lines))), 9))
        flow.space(4)
        flow.table(
            (0.13, word("work.place")), (0.11, word("window.pack")), (0.26, word("list.why")),
            (0.09, word("sheet.time_fill")), (0.12, word("sheet.rested_fill")), (0.12, word("sheet.loaded_fill")),
            (0.08, word("sheet.looked_fill")), (0.09, word("sheet.initials_fill")),
        )  # fmt: skip
        for one in lines:
            volts = [Text("_ _ . _ _", 11)]
            flow.row(
                [Text(one.vehicle or one.shelf or word("screen.where_unknown"), 9, bold=True)],
                [Text(one.pack, 9, bold=True)],
                [Text(say(one.why), 8), Text(one.model, 7.5, quiet=True)],
                [Text("__:__", 11)], volts, volts, [Text(_BOX, 14)], [Text("____", 11)],
            )  # fmt: skip
        flow.end_table()
    put_notes(flow, "round", sheet_rules(store, "round"))


def _layup(flow: Flow, store: Store, clock: Clock, _code: str) -> None:
    packs = work_lists.laid_up(store, clock)
    flow.heading(word("sheet.layup"), 15)
    if not packs:
        flow.text(Text(word("sheet.nothing_laid_up"), 10))
    else:
        flow.text(Text(say(msg("sheet.layup_told", count=len(packs))), 9))
        flow.space(4)
        flow.table(
            (0.13, word("work.place")), (0.11, word("window.pack")), (0.12, word("list.model")),
            (0.10, word("list.rested")), (0.13, word("list.checked")), (0.11, word("sheet.days")),
            (0.17, word("sheet.window")), (0.13, word("sheet.rested_fill")),
        )  # fmt: skip
        for one in packs:
            known = one.low_v is not None and one.high_v is not None
            flow.row(
                [Text(one.shelf, 9, bold=True)], [Text(one.pack, 9, bold=True)], [Text(one.model, 8)],
                [Text("" if one.rested_v is None else show_value("rested_v", one.rested_v), 9)],
                [Text(word("sheet.never") if one.checked is None else show_date(one.checked), 8)],
                [Text("" if one.days is None else str(one.days), 9)],
                [Text(say(msg("sheet.between", low_v=one.low_v, high_v=one.high_v)) if known else "—", 8)],
                [Text("_ _ . _ _", 11)],
            )  # fmt: skip
        flow.end_table()
    put_notes(flow, "storage", sheet_rules(store, "storage"))


def _quarantine(flow: Flow, store: Store, clock: Clock, _code: str) -> None:
    items, alarm = work_lists.quarantined(store, clock)
    flow.heading(word("sheet.quarantine"), 15)
    if not items:
        flow.text(Text(word("sheet.nothing_held"), 10))
    else:
        flow.text(Text(say(msg("sheet.quarantine_told", count=len(items), alarm_days=alarm)), 9))
        flow.space(4)
        flow.table(
            (0.12, word("list.what")), (0.34, word("list.reason")), (0.12, word("work.place")),
            (0.12, word("sheet.in_days")), (0.30, word("sheet.daily")),
        )  # fmt: skip
        for one in items:
            late = [Text(say(msg("sheet.quarantine_late", alarm_days=alarm)), 8, bold=True)] if one.days > alarm else []
            flow.row(
                [Text(one.code, 10, bold=True), Text(word(f"class.{one.subject_class}"), 7.5, quiet=True)],
                [Text(_why(one), 8), Text(say(msg("sheet.held_since", since_at=one.since)), 7.5, quiet=True)],
                [Text(one.place or "—", 9)], [Text(str(one.days), 10), *late], [Text(f"{_BOX} " * 7, 14)],
            )  # fmt: skip
        flow.end_table()
        flow.space(10)
        for one in items:
            flow.text(Text(say(msg("work.collection", code=one.code)), 8))
            flow.space(8)
    put_notes(flow, "quarantine", sheet_rules(store, "quarantine"), "P003")


def _tag(flow: Flow, store: Store, clock: Clock, code: str) -> None:
    items, _ = work_lists.quarantined(store, clock, code)
    one = items[0]
    flow.heading(word("sheet.tag_head"), 44)
    flow.text(Text(one.code, 54, bold=True))
    flow.text(Text(word("sheet.tag_text"), 22, bold=True))
    flow.space(12)
    flow.text(Text(_why(one), 14), Text(say(msg("sheet.held_since", since_at=one.since)), 14))
    flow.text(Text(f"{word('work.place')}: {one.place or '_' * 24}", 14))
    flow.space(14)
    flow.drawing(48 * mm, _tag_signs)
    flow.space(6)
    flow.text(Text(word("sheet.tag_who"), 11))
    flow.space(8)
    flow.points(*(Text(f"{note.statement} [{note.source}]", 9) for note in notes_for("quarantine")[:4]), sign="•")
    flow.points(*(Text(told, 9) for told in rules_in_short(sheet_rules(store, "quarantine"))), sign="•")
    flow.text(Text(word("safety.defer"), 9, bold=True))


def _tag_signs(canvas: Canvas, x: float, y: float, _width: float) -> None:
    for number, sign in enumerate(("W001", "P003")):
        signs.draw(canvas, sign, x + number * 50 * mm, y + 12, 42 * mm)


def _handover(flow: Flow, store: Store, clock: Clock, _code: str) -> None:
    fleet = summary.fleet_summary(store, clock)
    flow.heading(word("sheet.handover"), 15)
    flow.heading(word("sheet.handover_counts"), 11, 1)
    counts = " + ".join(f"{fleet.counts[state]} {word(f'board_state.{state.value}')}" for state in BoardState)
    flow.text(Text(f"{say(msg('screen.counts_are', total=len(fleet.vehicles)))} {counts}", 10))
    if fleet.away_told is not None:
        flow.text(Text(say(fleet.away_told), 9))
    open_ = [one for one in fleet.vehicles if one.status.state in (BoardState.GROUNDED, BoardState.LIMITED)]
    flow.heading(word("sheet.handover_open"), 11, 1)
    _lines(flow, [f"{one.vehicle.code}: {'; '.join(say(r.text) for r in one.status.reasons)}" for one in open_])
    flow.heading(word("sheet.handover_due"), 11, 1)
    due = summary.round_list(store, clock)
    _lines(flow, [f"{one.pack} ({one.vehicle or one.shelf or '—'}): {say(one.why)}" for one in due])
    flow.heading(word("sheet.handover_drafts"), 11, 1)
    _lines(flow, [say(msg("screen.draft", person=who, subject=what, at=at)) for who, what, at in fleet.drafts])
    flow.heading(say(msg("sheet.handover_shift", hours=work_lists.SHIFT_HOURS)), 11, 1)
    _lines(
        flow,
        [
            say(
                msg(
                    "sheet.shift_line", person=one.person, checks=one.checks, inspections=one.inspections,
                    trips=one.trips, holds=one.holds, releases=one.releases,
                )
            )
            for one in work_lists.shift(store, clock)
        ],
    )  # fmt: skip
    flow.heading(word("sheet.handover_notes"), 11, 1)
    for _ in range(4):
        flow.drawing(18, lambda canvas, x, y, width: canvas.line(x, y + 4, x + width, y + 4))
    flow.space(10)
    flow.text(Text(word("sheet.handover_sign"), 9))
    put_notes(flow, "handover", sheet_rules(store, "handover"))


def _lines(flow: Flow, lines: list[str]) -> None:
    flow.points(*(Text(line, 9) for line in lines or [word("sheet.none")]))


def _why(one: Quarantined) -> str:
    return f"{say(one.reason)} – {one.remark}" if one.remark else say(one.reason)


_PARTS = {"round": _round, "handover": _handover, "layup": _layup, "quarantine": _quarantine, "tag": _tag}
