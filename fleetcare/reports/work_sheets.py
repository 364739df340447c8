"""The working sheets: round list, handover, lay-up list, quarantine sheet and tag."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.laying_up import Standing
from fleetcare.domain.quarantine import is_alarm
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import apart, msg, say, show_date, show_moment, show_value, word
from fleetcare.reports import signs
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.quarantine_sheet import in_short
from fleetcare.reports.safety import notes_for, put_notes, rules_in_short, short_height
from fleetcare.reports.settling import settled
from fleetcare.services import laying_up, rounds, summary, work_lists
from fleetcare.services.in_force import sheet_rules
from fleetcare.services.laying_up import LaidUpLine
from fleetcare.services.rounds import Round
from fleetcare.services.session import Clock
from fleetcare.services.shown import RoundLine
from fleetcare.services.work_lists import Quarantined
from fleetcare.services.writing_files import whole_file
from fleetcare.store.store import Store

KINDS = ("round", "handover", "layup", "quarantine", "tag")
_BOX = "\u25a1"


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a sheet was asked for besides its kind."""

    code: str
    depot: str
    person: str
    by_bay: bool


def write(
    kind: str, store: Store, clock: Clock, path: Path, *, code: str = "", page: str, printed_by: str,
    printed_at: dt.datetime, depot: str = "", person: str = "", by_bay: bool = False,
) -> int:  # fmt: skip
    """Write one of KINDS to `path`; returns the number of pages.

    `depot`, `person` and `by_bay` choose the round as on the screen.  EntryRefused when a tag is asked for something that is not in quarantine.
    """
    put = _PARTS[kind]
    made = work_lists.stamp(store, clock)
    if kind == "tag":
        work_lists.quarantined(store, clock, code or "—")
    subject = code.strip().upper() or show_moment(made.as_of)
    running = Running(
        word(f"sheet.{kind}"), subject, made.fleet_name, made.demo, made.as_of, made.head.short, printed_by, printed_at
    )
    asked = _Asked(code, depot, person, by_bay)
    with whole_file(path) as fresh:
        return settled(fresh, running, page=page, put=lambda flow: put(flow, store, clock, asked))


def _round(flow: Flow, store: Store, clock: Clock, asked: _Asked) -> None:
    found = rounds.round_of(store, clock, asked.depot, person=asked.person, by_bay=asked.by_bay)
    day = found.day
    heading = (
        word("sheet.round")
        if day is None
        else f"{word('sheet.round')}: {apart(found.depot_name)}, {day:%A} {show_date(day)}"
    )
    flow.heading(heading, 15)
    for one in rounds.cannot(found):
        flow.text(Text(say(one), 10, bold=True))
    if not found.today:
        flow.text(Text(word("sheet.nothing_due"), 10))
    else:
        flow.text(Text(say(msg("sheet.round_told", count=len(found.today))), 9))
        flow.text(Text("; ".join(say(one) for one in rounds.person_lines(found)), 9, bold=True))
        flow.space(4)
        _round_table(flow, found)
    if found.charge:
        flow.text(Text(say(msg("round.charge", these=found.charge)), 9))
    for one in (*found.notes, found.pace, found.calendar):
        told = show_value("told_sentence", one)
        flow.text(Text(told[:1].upper() + told[1:], 7.5, quiet=True))
    put_notes(flow, "round", sheet_rules(store, "round", depot=found.depot))


def _round_table(flow: Flow, found: Round) -> None:
    names = {one.person: one.name for one in found.hours}
    flow.table(
        (0.125, word("work.place")), (0.125, word("round.item")), (0.325, word("list.why")),
        (0.075, word("sheet.time_fill")), (0.095, word("sheet.rested_fill")), (0.095, word("sheet.loaded_fill")),
        (0.08, word("sheet.looked_fill")), (0.08, word("sheet.initials_fill")),
    )  # fmt: skip
    for one in found.today:
        item = one.item
        read = item.kind in (Kind.CHECK, Kind.COMMISSIONING, Kind.LAY_UP_LOOK)
        volts = [Text("_ _ . _ _", 11)] if read else [Text("—", 11, quiet=True)]
        loaded = [Text("_ _ . _ _", 11)] if read and item.kind is not Kind.LAY_UP_LOOK else [Text("—", 11, quiet=True)]
        what = msg(
            "sheet.round_what", what=msg(f"plan_kind.{item.kind.value}"), due_date=item.due_on, n_minutes=item.minutes
        )
        told = "; ".join([say(item.why), *(say(note) for note in one.notes)])
        flow.row(
            [Text(item.place or word("screen.where_unknown"), 9, bold=True), Text(names.get(one.person, one.person), 7.5, quiet=True)],
            [Text(item.subject, 9, bold=True), Text(item.model, 7, quiet=True)],
            [Text(say(what), 8, bold=True), Text(told, 7.5)],
            [Text("__:__", 10)], volts, loaded, [Text(_BOX, 14)], [Text("____", 11)],
        )  # fmt: skip
    flow.end_table()


def _layup(flow: Flow, store: Store, clock: Clock, _asked: _Asked) -> None:
    laid_up = laying_up.laid_up_lines(store, clock)
    flow.heading(word("sheet.layup"), 15)
    away = {one.pack.code for one in laid_up}
    packs = [one for one in work_lists.laid_up(store, clock) if one.pack not in away]
    if laid_up:
        flow.text(Text(say(msg("sheet.laid_up_told", count=len(laid_up))), 9))
        flow.space(4)
        flow.table(
            (0.11, word("layup.group")), (0.11, word("work.place")), (0.11, word("window.pack")),
            (0.15, word("layup.band")), (0.23, word("layup.stands")), (0.10, word("layup.next")),
            (0.10, word("sheet.rested_fill")), (0.09, word("sheet.looked_fill")),
        )  # fmt: skip
        for one in laid_up:
            _laid_up_row(flow, one)
        flow.end_table()
    if not packs and not laid_up:
        flow.text(Text(word("sheet.nothing_laid_up"), 10))
    elif packs:
        flow.heading(word("sheet.other_shelves"), 11, 1)
        flow.text(Text(say(msg("sheet.layup_told", count=len(packs))), 9))
        flow.space(4)
        flow.table(
            (0.145, word("work.place")), (0.095, word("window.pack")), (0.16, word("list.model")),
            (0.095, word("list.rested")), (0.12, word("list.checked")), (0.11, word("sheet.days")),
            (0.175, word("sheet.window")), (0.10, word("sheet.rested_fill")),
        )  # fmt: skip
        for pack in packs:
            known = pack.low_v is not None and pack.high_v is not None
            flow.row(
                [Text(pack.shelf, 9, bold=True)], [Text(pack.pack, 9, bold=True)], [Text(pack.model, 8)],
                [Text("" if pack.rested_v is None else show_value("rested_v", pack.rested_v), 9)],
                [Text(word("sheet.never") if pack.checked is None else show_date(pack.checked), 8)],
                [Text("" if pack.days is None else str(pack.days), 9)],
                [Text(say(msg("sheet.between", low_v=pack.low_v, high_v=pack.high_v)) if known else "—", 8)],
                [Text("_ _ . _ _", 11), Text("", 3)],
            )  # fmt: skip
        flow.end_table()
    put_notes(flow, "storage", sheet_rules(store, "storage"))


def _laid_up_row(flow: Flow, one: LaidUpLine) -> None:
    band = "—"
    if one.band.low_v is not None:
        band = say(msg("sheet.between", low_v=one.band.low_v, high_v=one.band.high_v))
    stands = [Text(word("layup.not_read"), 8)]
    if one.rested_v is not None and one.read_on is not None and one.standing is not None:
        read = msg("sheet.read_on", rested_v=one.rested_v, read_date=one.read_on)
        grave = one.standing in (Standing.DEEP, Standing.SILENT, Standing.LOW)
        stands = [Text(say(read), 8.5, bold=True), Text(word(f"storage_standing.{one.standing.value}"), 8, bold=grave)]
    if one.held is not None:
        stands.append(Text(say(one.held), 7.5))
    if one.stored is not None and one.stored.compared is not None:
        stands.append(Text(say(one.stored.sentence), 7.5))
    source = [Text(one.band.source, 7, quiet=True)] if one.band.source else []
    flow.row(
        [Text(one.group, 9)], [Text(one.shelf or "—", 9, bold=True)],
        [Text(one.pack.code, 9, bold=True), Text(one.model_name, 7, quiet=True)], [Text(band, 8), *source], stands,
        [Text(show_date(one.next_look), 8.5, bold=True)], [Text("_ _ . _ _", 10), Text("", 3)], [Text(_BOX, 14)],
    )  # fmt: skip


def _quarantine(flow: Flow, store: Store, clock: Clock, _asked: _Asked) -> None:
    items, alarm = work_lists.quarantined(store, clock)
    flow.heading(word("sheet.quarantine"), 15)
    if not items:
        flow.text(Text(word("sheet.nothing_held"), 10))
    else:
        flow.text(Text(say(msg("sheet.quarantine_told", count=len(items), alarm_days=alarm)), 9))
        flow.space(4)
        flow.table(
            (0.11, word("list.what")), (0.29, word("list.reason")), (0.11, word("work.place")),
            (0.14, word("sheet.in_days")), (0.35, word("sheet.daily")),
        )  # fmt: skip
        for one in items:
            late = [Text(word("sheet.quarantine_late"), 8, bold=True)] if is_alarm(one.days, alarm) else []
            flow.row(
                [Text(one.code, 10, bold=True), Text(word(f"class.{one.subject_class}"), 7.5, quiet=True)],
                [Text(_why(one), 8), Text(say(msg("sheet.held_since", since_at=one.since)), 7.5, quiet=True)],
                [Text(one.place or one.vehicle or "—", 9)], [Text(str(one.days), 10), *late], [Text(f"{_BOX} " * 7, 18)],
            )  # fmt: skip
        flow.end_table()
        flow.space(10)
        for one in items:
            flow.text(Text(say(msg("work.collection", code=one.code)), 8))
            flow.space(8)
    put_notes(flow, "quarantine", sheet_rules(store, "quarantine"), "P003")


def _tag(flow: Flow, store: Store, clock: Clock, asked: _Asked) -> None:
    items, _ = work_lists.quarantined(store, clock, asked.code)
    one = items[0]
    flow.heading(word("sheet.tag_head"), 44)
    flow.text(Text(one.code, 54, bold=True))
    flow.text(Text(word("sheet.tag_text"), 22, bold=True))
    flow.space(12)
    flow.text(Text(in_short(_why(one)), 14), Text(say(msg("sheet.held_since", since_at=one.since)), 14))
    vehicle = f" ({one.vehicle})" if one.vehicle else ""
    flow.text(Text(f"{word('work.place')}: {apart(one.place or '_' * 24)}{vehicle}", 14))
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


def _handover(flow: Flow, store: Store, clock: Clock, _asked: _Asked) -> None:
    fleet = summary.fleet_summary(store, clock)
    flow.heading(word("sheet.handover"), 15)
    flow.heading(word("sheet.handover_counts"), 11, 1)
    counts = " + ".join(f"{fleet.counts[state]} {word(f'board_state.{state.value}')}" for state in BoardState)
    flow.text(Text(f"{say(msg('screen.counts_are', total_vehicles=len(fleet.vehicles)))} {counts}", 10))
    if fleet.away_told is not None:
        flow.text(Text(say(fleet.away_told), 9))
    open_ = [one for one in fleet.vehicles if one.status.state in (BoardState.GROUNDED, BoardState.LIMITED)]
    flow.heading(word("sheet.handover_open"), 11, 1)
    _lines(
        flow, [f"{one.vehicle.code}: {'; '.join(say(r.text).rstrip('.') for r in one.status.reasons)}" for one in open_]
    )
    flow.heading(word("sheet.handover_due"), 11, 1)
    _lines(flow, _due(summary.round_list(store, clock)))
    flow.heading(word("sheet.handover_drafts"), 11, 1)
    _lines(flow, [say(msg("screen.draft", person=who, subject=what, at=at)) for who, what, at in fleet.drafts])
    flow.heading(say(msg("sheet.handover_shift", hours=work_lists.SHIFT_HOURS)), 11, 1)
    _lines(flow, [say(one.told) for one in work_lists.shift(store, clock)])
    rules = sheet_rules(store, "handover")
    flow.heading(word("sheet.handover_notes"), 11, 1, 4 * 18)
    for _ in range(_lines_to_write(flow.left - short_height(flow, "handover", rules) - 40)):
        flow.drawing(18, lambda canvas, x, y, width: canvas.line(x, y + 4, x + width, y + 4))
    flow.space(10)
    flow.text(Text(word("sheet.handover_sign"), 9))
    put_notes(flow, "handover", rules)


def _lines_to_write(room: float) -> int:
    """How many lines for notes by hand stand in `room` points: at least three, at most eight."""
    return min(8, max(3, int(room // 18)))


def _due(lines: Sequence[RoundLine]) -> list[str]:
    """Packs by why they are due, in the order of the worst: what is true of several is said once."""
    packs: dict[str, list[str]] = {}
    for one in lines:
        named = f"{one.pack} ({one.vehicle or apart(one.shelf or '—')})"
        packs.setdefault(say(one.why).removeprefix(f"{one.pack}: "), []).append(named)
    return [f"{', '.join(named)}: {why}" for why, named in packs.items()]


def _lines(flow: Flow, lines: list[str]) -> None:
    flow.points(*(Text(line, 9) for line in lines or [word("sheet.none")]))


def _why(one: Quarantined) -> str:
    return f"{say(one.reason)} – {apart(one.remark)}" if one.remark else say(one.reason)


_PARTS = {"round": _round, "handover": _handover, "layup": _layup, "quarantine": _quarantine, "tag": _tag}
