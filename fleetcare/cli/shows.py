"""Commands that only read: board, project, verify."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import textwrap
from pathlib import Path

from fleetcare.app import App
from fleetcare.cli import review
from fleetcare.cli.opening import opened, say_progress
from fleetcare.cli.tables import table
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say, show_moment, show_since, word
from fleetcare.services import freeing, summary
from fleetcare.services.as_of import as_of
from fleetcare.services.shown import FleetSummary, VehicleSummary, next_steps, reasons_told


def board(asked: argparse.Namespace) -> int:
    """Print the board."""
    app = opened(asked.fleet)
    asked_at = as_of(app.store, app.clock, asked.as_of)
    fleet = summary.fleet_summary(app.store, asked_at.clock, asked_at.position)
    print(board_text(fleet, asked.format), end="")
    return 0


def board_text(fleet: FleetSummary, form: str) -> str:
    """The board as a table; the text form has its counts, each vehicle that is not simply ready in full, and the drafts."""
    headings = ("vehicle", "state", "class", "reason", "since", "next step", "may clear", "spare that frees it", "due")
    rows = []
    for line in fleet.vehicles:
        lead = line.status.reasons[0] if line.status.reasons else None
        rows.append(
            (
                line.vehicle.code,
                word(f"board_state.{line.status.state.value}"),
                word(f"hold_class.{lead.hold_class.value}") if lead else "",
                reasons_told(line),
                show_since(lead.since, year=True) if lead and lead.since else "",
                " ".join(map(say, next_steps(line))),
                ", ".join(line.may_clear),
                ", ".join(offer.pack for offer in line.offers),
                line.status.due_on.isoformat() if line.status.due_on else "",
            )
        )
    if form != "text":
        return table(headings, rows, form)
    demo = f"{word('program.demo')} · " if fleet.demo else ""
    parts = [f"{demo}{fleet.fleet_name}, as of {show_moment(fleet.as_of)}\n{counts_line(fleet)}"]
    parts += [_told(fleet, line) for line in fleet.vehicles if line.status.state is not BoardState.READY]
    ready = [line.vehicle.code for line in fleet.vehicles if line.status.state is BoardState.READY]
    if ready:
        parts.append(f"{word('board_state.ready')}\n{_filled(', '.join(ready))}")
    if fleet.drafts:
        told = ", ".join(say(msg("screen.draft", person=who, subject=what, at=at)) for who, what, at in fleet.drafts)
        parts.append(_filled(say(msg("screen.drafts", drafts=told)), indent=""))
    parts.append(say(msg("window.fingerprint", fingerprint=Head(fleet.position, fleet.fingerprint).short)))
    return "\n\n".join(parts) + "\n"


def _told(fleet: FleetSummary, line: VehicleSummary) -> str:
    """One vehicle that is not simply ready: each reason with since when and the next step, who clears it, what frees it."""
    parts = [f"{line.vehicle.code}  {word(f'board_state.{line.status.state.value}')}"]
    for reason in line.status.reasons:
        since = reason.since and say(msg("board.since", at=show_since(reason.since, year=True)))
        kind = word(f"hold_class.{reason.hold_class.value}")
        parts.append(_filled(f"{kind}{f', {since}' if since else ''}: {say(reason.text)}"))
        parts.append(_filled(f"→ {say(reason.next_step)}"))
    if line.may_clear:
        parts.append(_filled(say(msg("board.clears", names=line.may_clear))))
    parts += [_filled(say(freeing.explained(offer, dict(fleet.depots)))) for offer in line.offers]
    if line.no_offer is not None:
        parts.append(_filled(f"{word('list.offers')}: {say(line.no_offer)}"))
    return "\n".join(parts)


def _filled(text: str, indent: str = "    ") -> str:
    return textwrap.fill(text, 100, initial_indent=indent, subsequent_indent=indent, break_long_words=False)


def counts_line(fleet: FleetSummary) -> str:
    """ "25 vehicles = 18 ready + 1 ready, check due + …" """
    parts = " + ".join(f"{fleet.counts[state]:,} {word(f'board_state.{state.value}')}" for state in BoardState)
    told = f"{say(msg('screen.counts_are', total_vehicles=len(fleet.vehicles)))} {parts}"
    return told if fleet.away_told is None else f"{told}\n{say(fleet.away_told)}"


def project(asked: argparse.Namespace) -> int:
    """Project from files, or print the worst projections of a fleet."""
    if asked.checks is not None:
        for name in ("models", "as_of", "output"):
            if getattr(asked, name) is None:
                raise EntryRefused("cli.project_needs", option="--" + name.replace("_", "-"))
        from fleetcare.services.projecting import project_files

        done = project_files(
            asked.checks, asked.models, asked.as_of, asked.horizons, asked.output, suspects=asked.suspects
        )
        print(say(msg("cli.projected", count_packs=done.packs, path=str(asked.output))), file=sys.stderr)
        for one in done.meters:
            print(say(one.told), file=sys.stderr)
        if done.suspects or asked.suspects is not None:
            key = "cli.file_suspects_where" if asked.suspects is None else "cli.file_suspects"
            print(say(msg(key, count=done.suspects, path=str(asked.suspects))), file=sys.stderr)
        return 0
    app = opened(asked.fleet)
    if asked.pack:
        return review.one_pack(app, asked.pack.upper(), asked.as_of, asked.format)
    headings, rows = worst_projections(app, asked.worst, asked.as_of)
    print(table(headings, rows, asked.format), end="")
    return 0


def worst_projections(app: App, count: int, day: str | None = None) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The packs that reach a limit soonest, then those that have no projection yet."""
    headings = ("pack", "quantity", "now", "limit", "earliest", "likely", "latest", "checks", "in words")
    found = []
    at = as_of(app.store, app.clock, day)
    for code, projections in summary.fleet_projections(app.store, at.clock, _packs_done, at.position):
        found += [(_soonest(p), code, p) for p in projections]
    found.sort(key=lambda one: (one[0], one[1]))
    rows: list[tuple[str, ...]] = []
    for _, code, p in found[:count]:
        unit = "Ω" if p.quantity == "resistance_ohm" else "V"
        digits = 3 if unit == "Ω" else 2
        rows.append(
            (
                code,
                word(f"quantity.{p.quantity}"),
                "" if p.level is None else f"{p.level:.{digits}f} {unit}",
                "" if p.limit is None else f"{p.limit:.{digits}f} {unit}",
                *_crossing(p),
                str(p.comparable_checks),
                say(p.sentence),
            )
        )
    return headings, rows


def _crossing(p: Projection) -> tuple[str, str, str]:
    """Earliest, likely and latest: days for the ends of the range, a month in between, and in words where there is none."""
    if p.already_beyond:
        return (word("cli.reached"),) * 3
    if p.crossing_p10 is None:
        return ("—",) * 3
    open_end = word("chart.open")
    likely = open_end if p.crossing_p50 is None else f"{p.crossing_p50:%b %Y}"
    if p.quantity == "stored_v":
        likely = "—"
    return p.crossing_p10.isoformat(), likely, open_end if p.crossing_p90 is None else p.crossing_p90.isoformat()


def _packs_done(done: int, of: int) -> None:
    say_progress(say(msg("cli.packs_done", done=done, of=of)))


def _soonest(projection: Projection) -> tuple[int, dt.date]:
    if projection.already_beyond:
        return 0, dt.date.min
    if projection.crossing_p10 is not None:
        return 1, projection.crossing_p10
    return (2, dt.date.max) if projection.projected else (3, dt.date.max)


def default_output(app: App) -> Path:
    """The folder in which a demonstration's papers are put."""
    return app.store.path.parent
