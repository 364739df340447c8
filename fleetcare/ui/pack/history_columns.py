"""How a pack's checks and events are shown in rows."""

from __future__ import annotations

from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.services import telling
from fleetcare.services.shown import CheckLine
from fleetcare.ui import colours
from fleetcare.ui.widgets.tables import Column


def _struck(line: CheckLine) -> bool:
    return line.struck


def _maybe(name: str, value: object) -> str:
    return "" if value is None else show_value(name, value)


CHECKS = (
    Column(word("list.done"), lambda c: f"{show_date(c.done_at.date())} {c.done_at:%H:%M}",
           sort=lambda c: c.done_at.timestamp(), width=18, struck=_struck),
    Column(word("list.kind"), lambda c: word(f"check_kind.{c.kind.value}"), width=10, struck=_struck),
    Column(word("list.rest"), lambda c: word(f"rest.{c.rest.value}"), width=9, struck=_struck),
    Column(word("list.rested"), lambda c: show_value("rested_v", c.rested_v), sort=lambda c: c.rested_v, right=True,
           width=8, struck=_struck),
    Column(word("list.loaded"), lambda c: _maybe("loaded_v", c.loaded_v), sort=lambda c: c.loaded_v, right=True,
           width=8, struck=_struck),
    Column(word("list.amps"), lambda c: _maybe("load_a", c.load_a), right=True, width=6, struck=_struck),
    Column(word("list.ohm"), lambda c: "" if c.resistance_ohm is None else f"{c.resistance_ohm:.4f} Ω",
           sort=lambda c: c.resistance_ohm, right=True, width=11, struck=_struck),
    Column(word("list.bench"), lambda c: _maybe("bench_c", c.bench_c), right=True, width=6, struck=_struck),
    Column(word("list.meter"), lambda c: c.meter, width=6, struck=_struck),
    Column(word("list.verdict"), lambda c: word(f"verdict.{c.verdict.level.value}"),
           sort=lambda c: c.verdict.level.rank, mark=lambda c: colours.of_verdict(c.verdict.level), width=15),
    Column(word("list.who"), lambda c: c.person_name, width=8, struck=_struck),
    Column(word("list.entry"), telling.entry_note, width=24, tip=True),
)  # fmt: skip


def _readings(line: CheckLine) -> str:
    """Volts, the load, and the meter that read them."""
    told = show_value("rested_v", line.rested_v)
    if line.loaded_v is not None:
        told = say(msg("list.reading_loaded", rested=told, loaded_v=line.loaded_v, load_a=line.load_a))
    return f"{told}, {line.meter}"


def _resistance(line: CheckLine) -> str:
    if line.resistance_ohm is None:
        return _maybe("bench_c", line.bench_c)
    at = "" if line.bench_c is None else f", {show_value('bench_c', line.bench_c)}"
    return f"{line.resistance_ohm:.4f} Ω{at}"


LARGE_CHECKS = (
    CHECKS[0],
    Column(word("list.kind"), lambda c: f"{word(f'check_kind.{c.kind.value}')}, {word(f'rest.{c.rest.value}')}", width=10,
           struck=_struck),
    Column(word("list.readings"), _readings, sort=lambda c: c.rested_v, width=16, struck=_struck),
    Column(word("list.ohm"), _resistance, sort=lambda c: c.resistance_ohm, width=11, struck=_struck),
    *CHECKS[-3:],
)  # fmt: skip
"""For large letters: what belongs together stands in one column, so that no row scrolls sideways."""

EVENTS = (
    Column(word("list.done"), lambda e: show_moment(e.done_at), sort=lambda e: e.done_at.timestamp(), width=20),
    Column(word("list.what"), telling.line_text, width=60, tip=True),
    Column(word("list.who"), lambda e: e.person_name, width=10),
)
