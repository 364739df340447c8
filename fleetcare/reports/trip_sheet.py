"""The job sheet of a trip and its reset: what is on record, what the rule says, and what is filled in by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from fleetcare.domain.checks import TripCause
from fleetcare.domain.intake import Story
from fleetcare.domain.wording import msg, say, show_date, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.safety import notes_for, rules_in_short
from fleetcare.reports.settling import fitted
from fleetcare.services.in_force import DepotRules, Procedure
from fleetcare.services.trip_facts import PackTrips
from fleetcare.services.work_lists import Stamp
from fleetcare.services.writing_files import whole_file

_BOX = "\u25a1"


@dataclass(frozen=True, slots=True)
class _Layout:
    """Room above a line to fill in, size of the safety notes; `turn`: these stand overleaf."""

    gap: float
    notes: float
    turn: bool = False


_LAYOUTS = ((1.0, _Layout(6, 7)), (1.0, _Layout(3, 7)), (0.95, _Layout(3, 7)), (1.0, _Layout(6, 8, turn=True)))
"""One page, else the job on one and what it must be done with on the other."""


def write(
    trips: PackTrips, path: Path, *, stamp: Stamp, procedure: Procedure, version: str, own: str,
    rules: Sequence[DepotRules], page: str, printed_by: str, printed_at: dt.datetime,
) -> int:  # fmt: skip
    """Write the sheet of one pack to `path`; returns the number of pages."""
    running = Running(
        word("sheet.trip"),
        trips.pack,
        stamp.fleet_name,
        stamp.demo,
        stamp.as_of,
        stamp.head.short,
        printed_by,
        printed_at,
    )

    def put(flow: Flow, how: _Layout) -> None:
        flow.heading(f"{trips.pack} · {_where(trips)}", 18)
        flow.text(Text(f"{word('job.stops')} {word('sheet.job_stops_source')}", 9, bold=True))
        _known(flow, trips)
        _to_fill(flow, how)
        flow.heading(version, 11, 1)
        for number, step in enumerate(procedure.steps, start=1):
            flow.points(Text(step, 9), sign=f"{number} {_BOX}")
        if own:
            flow.points(Text(own, 9), sign=f"+ {_BOX}")
        maker = msg("sheet.trip_maker", reset=trips.reset_note or "—", wake=trips.wake_note or "—")
        flow.text(Text(say(maker), 9))
        for key in ("sheet.job_readings", "sheet.trip_result", "sheet.job_sign"):
            flow.space(how.gap)
            flow.text(Text(word(key), 9.5))
        if how.turn:
            flow.new_page()
        flow.heading(word("paper.safety_heading"), 10, 1)
        flow.points(*(Text(f"{one.statement} [{one.source}]", how.notes) for one in notes_for("reset")), sign="•")
        flow.points(*(Text(told, how.notes) for told in rules_in_short(rules)), sign="•")
        flow.together(Text(word("safety.defer"), 8, bold=True))

    with whole_file(path) as fresh:
        return fitted(fresh, running, page=page, most=1, layouts=_LAYOUTS, put=put)


def _where(trips: PackTrips) -> str:
    if trips.vehicle:
        return say(msg("sheet.trip_where", vehicle=trips.vehicle))
    return say(msg("screen.where_shelf", shelf=trips.shelf)) if trips.shelf else word("screen.where_unknown")


def _known(flow: Flow, trips: PackTrips) -> None:
    """Trips of the window, how they count, and what the rule says of a reset today."""
    flow.heading(word("sheet.trip_known"), 11, 1)
    if not trips.trips:
        flow.text(Text(word("sheet.trip_none"), 9))
    else:
        flow.table(
            (0.17, word("list.done")), (0.15, word("list.vehicle")), (0.15, word("sheet.trip_charger")),
            (0.28, word("sheet.trip_cause")), (0.25, word("sheet.trip_reset")),
        )  # fmt: skip
        for one in trips.trips:
            explained = word("event.explained" if one.explained else "event.not_explained")
            flow.row(
                [Text(show_date(one.day), 8.5)], [Text(one.vehicle or "—", 8.5)], [Text(one.charger or "—", 8.5)],
                [Text(word(f"trip_cause.{one.cause.value}"), 8.5), Text(explained, 7.5, quiet=True)],
                [Text(word("sheet.trip_was_reset" if one.reset else "sheet.trip_not_reset"), 8.5)],
            )  # fmt: skip
        flow.end_table()
        flow.space(3)
    flow.points(*(Text(say(one.reading), 9) for one in trips.tallies if one.reading is not None))
    flow.text(Text(say(trips.allowance.statement), 9, bold=True))


def _to_fill(flow: Flow, how: _Layout) -> None:
    flow.heading(word("sheet.trip_now"), 11, 1)
    flow.text(Text(word("sheet.trip_when"), 9.5))
    flow.space(how.gap)
    flow.text(Text(word("sheet.trip_story"), 8.5, bold=True))
    flow.text(Text(_choices(word(f"story.{one.value}") for one in Story), 9))
    flow.space(how.gap / 2)
    flow.text(Text(word("sheet.trip_cause"), 8.5, bold=True))
    flow.text(Text(_choices(word(f"trip_cause.{one.value}") for one in TripCause), 9))
    for key in ("sheet.trip_explained", "sheet.trip_mended"):
        flow.space(how.gap)
        flow.text(Text(word(key), 9.5))


def _choices(names: Iterable[str]) -> str:
    """Boxes to tick, each kept together with its words."""
    return "   ".join(f"{_BOX} {name}".replace(" ", "\u00a0") for name in names)
