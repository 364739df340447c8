"""Readings that came faster, or more alike, than hands and packs allow: shown to the manager, never judged here.

Common practice, no source: a full bench check takes four to six minutes, a look with a rested reading about two.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

PACE_CHECKS = 20
PACE_MINUTES = 6
"""So many checks by one person within so many minutes are shown (proposal of this program)."""
SAME_READINGS = 6
"""So many readings in a row with the same digits, of different packs, are shown (proposal of this program)."""


@dataclass(frozen=True, slots=True)
class Made:
    """One check as typed: by whom, when done, of which pack, and the digits of the rested reading."""

    by: str
    done_at: dt.datetime
    pack: str
    rested: str


@dataclass(frozen=True, slots=True)
class Burst:
    """`count` checks of one person between two moments, at the implausible pace throughout."""

    by: str
    first: dt.datetime
    last: dt.datetime
    count: int


@dataclass(frozen=True, slots=True)
class Repeated:
    """`count` packs one after another read by one person with the same digits."""

    by: str
    first: dt.datetime
    last: dt.datetime
    count: int
    rested: str


def _by_person(made: Sequence[Made]) -> dict[str, list[Made]]:
    mine: dict[str, list[Made]] = {}
    for one in sorted(made, key=lambda one: (one.done_at, one.pack)):
        mine.setdefault(one.by, []).append(one)
    return mine


def bursts(made: Sequence[Made]) -> tuple[Burst, ...]:
    """Stretches in which every check belongs to PACE_CHECKS within PACE_MINUTES; overlapping ones are one."""
    window = dt.timedelta(minutes=PACE_MINUTES)
    found = []
    for by, mine in _by_person(made).items():
        spans: list[list[int]] = []
        for end in range(PACE_CHECKS - 1, len(mine)):
            start = end - PACE_CHECKS + 1
            if mine[end].done_at - mine[start].done_at > window:
                continue
            if spans and start <= spans[-1][1]:
                spans[-1][1] = end
            else:
                spans.append([start, end])
        found += [Burst(by, mine[a].done_at, mine[b].done_at, b - a + 1) for a, b in spans]
    return tuple(sorted(found, key=lambda one: one.first))


def repeated(made: Sequence[Made]) -> tuple[Repeated, ...]:
    """Runs of SAME_READINGS or more readings in a row with the same digits, each of another pack."""
    found = []
    for by, mine in _by_person(made).items():
        run: list[Made] = []
        for one in [*mine, None]:
            if one is not None and run and one.rested == run[-1].rested and one.pack not in {r.pack for r in run}:
                run.append(one)
                continue
            if len(run) >= SAME_READINGS:
                found.append(Repeated(by, run[0].done_at, run[-1].done_at, len(run), run[0].rested))
            run = [] if one is None else [one]
    return tuple(sorted(found, key=lambda one: one.first))
