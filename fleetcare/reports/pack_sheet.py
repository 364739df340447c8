"""The maintenance sheet of one pack: identity, last checks, verdict, projection, checklist, safety."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from pathlib import Path

from fleetcare.domain.checks import LookItem
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.status import PackState, pack_words
from fleetcare.domain.vans import is_list_number
from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.reports.chart import projection_chart
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.marks import draw_chart
from fleetcare.reports.page import Running
from fleetcare.reports.reasons_section import measure_again, why
from fleetcare.reports.safety import put_notes_in_short
from fleetcare.reports.settling import fitted
from fleetcare.services.decision_words import decision_words
from fleetcare.services.in_force import DepotRules
from fleetcare.services.incidents import incident_words
from fleetcare.services.shown import CheckLine, EventLine, PackSummary, headline_now, model_words, step_now
from fleetcare.services.telling import entry_note, line_text
from fleetcare.services.writing_files import whole_file

SHOWN = (
    (1, (10, 8, 1)),
    (1, (8, 6, 1)),
    (0.96, (8, 6, 1)),
    (0.94, (6, 5, 0.95)),
    (0.94, (6, 3, 0.95)),
    (0.92, (6, 4, 0.95)),
    (0.92, (4, 4, 0.9)),
    (0.92, (4, 3, 0.8)),
    (1, (10, 8, 1)),
)
"""Scale of the letters, how many checks and events are shown, share of a chart's height: the first that makes two pages."""
MOST_PAGES = 2
CHART_HIGH = {"A4": 96.0, "Letter": 80.0}
"""Height of a chart, in points: two of them, the checks and the safety notes are two pages."""


def write(
    page_of: PackSummary, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime,
    rules: Sequence[DepotRules] = (),
) -> None:  # fmt: skip
    """Write the sheet of `page_of` to `path` on A4 or Letter paper, with the rules of the pack's depot."""
    running = Running(
        word("paper.pack_title"), page_of.pack.code, page_of.fleet_name, page_of.demo, page_of.as_of,
        Head(page_of.position, page_of.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip

    def put(flow: Flow, shown: tuple[int, int, float]) -> None:
        _identity(flow, page_of)
        flow.framed(*_state(page_of))
        measure_again(flow, page_of)
        _checks(flow, page_of, shown[0])
        for projection in page_of.projections:
            last = projection is page_of.projections[-1]
            below = (Text(word("paper.not_health"), 8, quiet=True),) if last else ()
            _projection(flow, page_of, projection, CHART_HIGH[page] * shown[2], *below)
        _events(flow, page_of, shown[1])
        if page_of.status.state is PackState.QUARANTINED:
            flow.heading(word("paper.look_heading"), 11, 1)
            flow.text(Text(word("paper.nothing_by_hand"), 9, bold=True))
        else:
            _to_fill(flow)
        put_notes_in_short(flow, "check", rules)

    with whole_file(path) as fresh:
        fitted(fresh, running, page=page, most=MOST_PAGES, layouts=SHOWN, put=put)


def _identity(flow: Flow, page_of: PackSummary) -> None:
    pack, model = page_of.pack, page_of.model
    if page_of.vehicle is not None:
        where = say(msg("screen.where_vehicle", vehicle=page_of.vehicle, bay=page_of.bay))
    elif page_of.shelf:
        key = "screen.where_van" if is_list_number(page_of.shelf) else "screen.where_shelf"
        where = say(msg(key, shelf=page_of.shelf))
    else:
        where = word("screen.where_unknown")
    pairs = (
        (word("paper.pack"), pack.code), (word("paper.where"), where),
        (word("paper.model"), model_words(model)), (word("paper.serial"), pack.serial or "—"),
        (word("paper.cells"), say(msg("paper.cells_line", chemistry=model.chemistry.value, series=model.series_count,
                                     full_v=model.full_v))),
        (word("paper.capacity"), show_value("capacity_ah", model.capacity_ah)),
        (word("paper.in_service"), show_date(pack.in_service_on) if pack.in_service_on else "—"),
        (word("passport.on_paper"), pack.passport or "—"),
    )  # fmt: skip
    flow.heading(f"{pack.code} · {where}", 15)
    flow.plain_table(0.14, 0.36, 0.14, 0.36)
    cells = [([Text(name, 8, quiet=True)], [Text(value, 9)]) for name, value in pairs]
    for left, right in zip(cells[::2], cells[1::2], strict=True):
        flow.row(*left, *right)
    notes = " ".join(n for n in (model.wake_note, model.reset_note, pack.note) if n)
    if notes:
        flow.plain_table(0.14, 0.86)
        flow.row([Text(word("paper.notes"), 8, quiet=True)], [Text(notes, 9)])
    flow.end_table()


def _state(page_of: PackSummary) -> Iterator[Text]:
    status = page_of.status
    yield Text(say(pack_words(status)).capitalize(), 13, bold=True)
    for one in status.reasons:
        told = say(msg("paper.reason_and_step", reason_sentence=one.text, step_sentence=one.next_step))
        yield Text(told[:1].upper() + told[1:], 9)
    if status.check_on is not None:
        yield Text(show_value("told_sentence", msg("bench.next_due", due_date=status.check_on)), 9)
    newest = next((one for one in page_of.checks if not one.struck), None)
    if newest is not None:
        held = status.state in (PackState.HELD, PackState.QUARANTINED)
        told = say(headline_now(newest.verdict, held, page_of.stays))
        yield Text(say(msg("paper.last_verdict", done_at=newest.done_at, verdict=told)), 9, bold=True)
        for statement in newest.verdict.findings:
            yield Text("– " + say(statement.statement), 9)
        if held or status.state is PackState.READY:
            yield Text(say(msg("bench.next_step", step=step_now(newest.verdict, held, page_of.stays))), 9)
    for line in (*decision_words(page_of.decision), *incident_words(page_of.incidents)):
        yield Text(line, 9, bold=True)


_CHECKS = ((0.165, "list.done"), (0.095, "list.rest"), (0.085, "list.rested"), (0.085, "list.loaded"),
           (0.07, "list.amps"), (0.115, "list.ohm"), (0.075, "list.bench"), (0.07, "list.meter"),
           (0.13, "list.verdict"), (0.11, "list.who"))  # fmt: skip


def _checks(flow: Flow, page_of: PackSummary, most: int) -> None:
    shown = page_of.checks[:most]
    flow.heading(word("paper.checks"), 11, 1)
    if not shown:
        flow.text(Text(word("screen.no_checks"), 9, quiet=True))
        return
    flow.table(*((share, word(key)) for share, key in _CHECKS))
    for line in shown:
        note = _row_note(line)
        flow.row(*_check_row(line), below=(Text(note, 7.5, quiet=True),) if note else ())
    flow.end_table()
    if len(page_of.checks) > len(shown):
        flow.text(Text(say(msg("paper.more_checks", shown=len(shown), of=len(page_of.checks))), 8, quiet=True))


def _check_row(line: CheckLine) -> list[list[Text]]:
    values = (
        show_moment(line.done_at),
        word(f"rest.{line.rest.value}"),
        show_value("rested_v", line.rested_v),
        "" if line.loaded_v is None else show_value("loaded_v", line.loaded_v),
        "" if line.load_a is None else show_value("load_a", line.load_a),
        "" if line.resistance_ohm is None else f"{line.resistance_ohm:.4f} Ω",
        "" if line.bench_c is None else show_value("bench_c", line.bench_c),
        line.meter,
        word(f"verdict.{line.verdict.level.value}"),
        line.person_name,
    )
    return [[Text(text, 8, struck=line.struck)] for text in values]


def _row_note(line: CheckLine) -> str:
    """What must be said below a line: what is special about the entry, and the person's remark."""
    return "; ".join(one for one in (entry_note(line), line.remark) if one)


def _projection(flow: Flow, page_of: PackSummary, projection: Projection, high: float, *below: Text) -> None:
    """Sentence, reasons, chart of a projection and what is said `below` it stay together."""
    sentence = show_value("told_sentence", projection.sentence)
    told = (Text(sentence[:1].upper() + sentence[1:], 9), why(projection, page_of.limit_source(projection.quantity)))
    watch = page_of.watch_line(projection.quantity)
    shown = projection.used or projection.left_out
    chart = projection_chart(projection, flow.width, high, 7.5, watch) if shown else None
    flow.heading(
        word(f"quantity.{projection.quantity}"), 11, 1, flow.height(*told, *below) + (high + 4 if chart else 0)
    )
    flow.text(*told)
    if chart is not None:
        flow.space(4)
        flow.drawing(high, lambda canvas, left, low, _wide: draw_chart(canvas, chart, left, low, 7.5))
    flow.text(*below)


def _events(flow: Flow, page_of: PackSummary, most: int) -> None:
    """The newest trips, holds and moves; what earlier sheets told stands in the history."""
    shown = [one for one in page_of.events if one.text.key != "event.told"][:most]
    if not shown:
        return
    flow.heading(word("screen.events"), 11, 1)
    flow.table((0.165, word("list.done")), (0.725, word("list.what")), (0.11, word("list.who")))
    for line in shown:
        flow.row(*_event_row(line))
    flow.end_table()


def _event_row(line: EventLine) -> list[list[Text]]:
    return [[Text(text, 8)] for text in (show_moment(line.done_at), line_text(line), line.person_name)]


def _to_fill(flow: Flow) -> None:
    """The visual inspection to be filled in by hand, in the order of the screen."""
    items = [Text(f"☐ {word(f'look.{item.value}')}", 9) for item in LookItem]
    items.append(Text(f"☐ {word('paper.all_good')}", 9, bold=True))
    rows = -(-len(items) // 3)
    flow.heading(word("paper.look_heading"), 11, 1, rows * 17 + 30)
    flow.plain_table(1 / 3, 1 / 3, 1 / 3)
    for number in range(rows):
        flow.row(*([one] for one in (*items, Text(""), Text(""))[number * 3 : number * 3 + 3]))
    flow.end_table()
    flow.space(9)
    flow.text(Text(word("paper.by_hand"), 9))
