"""What a projection says, and the readings it rests on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.wording import Message

FURTHEST_DAYS = 1095
"""Crossings later than three years are not dated."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of one quantity; what must agree for two readings to be comparable stands with it.

    `value` is what the projection works with; `read` is what was typed, or follows from it alone.
    """

    check_id: str
    done_at: dt.datetime
    value: float
    kind: str
    rest: str
    meter: str
    load_a: Decimal | None = None
    hold_s: int | None = None
    bench_c: float | None = None
    read: Decimal | None = None

    @property
    def likeness(self) -> tuple[object, ...]:
        """Readings with equal likeness may be compared."""
        return (self.kind, self.rest, self.meter, self.load_a, self.hold_s)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A reading that was not used, and why; `below` is True where it is far off and lower than was expected."""

    reading: Reading
    why: Message
    below: bool = False


@dataclass(frozen=True, slots=True)
class Horizon:
    """The quantity `days` after the as-of date, as quantiles, and the chance of being beyond the limit."""

    days: int
    p10: float
    p50: float
    p90: float
    chance_beyond: float


@dataclass(frozen=True, slots=True)
class Projection:
    """A forecast of one quantity of one pack, or the reason why there is none.

    `quantity` is "resistance_ohm", "loaded_v" or "rested_full_v"; volts fall to their limit and
    resistance rises to it (`rises`).  `fan` holds (days after as-of, p10, p50, p90) for a chart.
    A crossing date of None lies beyond three years; `already_beyond` says that the limit is passed
    now.  `sentence` is what a person reads; it never holds one bare date.
    `because` says which corrections were applied and what would narrow the answer.
    """

    quantity: str
    as_of: dt.date
    comparable_checks: int
    needed_checks: int
    sentence: Message
    engine: str
    limit: float | None = None
    rises: bool = False
    projected: bool = False
    level: float | None = None
    slope_per_30d: float | None = None
    horizons: tuple[Horizon, ...] = ()
    fan: tuple[tuple[int, float, float, float], ...] = ()
    crossing_p10: dt.date | None = None
    crossing_p50: dt.date | None = None
    crossing_p90: dt.date | None = None
    already_beyond: bool = False
    used: tuple[Reading, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    because: tuple[Message, ...] = ()
    in_question: tuple[LeftOut, ...] = ()
    """Readings that are among `used` and yet do not fit the pack, with why."""
