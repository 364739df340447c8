"""The chart of one projection as a list of primitives, drawn alike on screen and on paper.

Coordinates run from the top left, x to the right and y down, in the unit of the given size.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.domain.projection.answer import Projection, Reading
from fleetcare.domain.wording import msg, say, show_date, word

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight or broken line; `role` chooses colour and weight."""

    points: tuple[Point, ...]
    role: str
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled polygon."""

    points: tuple[Point, ...]
    role: str


@dataclass(frozen=True, slots=True)
class Marker:
    """A reading: `shape` tells kind and meter apart, `hollow` readings were not used."""

    at: Point
    size: float
    shape: str
    hollow: bool


@dataclass(frozen=True, slots=True)
class Text:
    """Words at a point; `side` is "left", "right" or "middle" of the point.

    On a `plate` they stand on a patch of the ground, so that lines behind them do not cross the letters.
    """

    at: Point
    text: str
    side: str
    role: str = "axis"
    plate: bool = False


Primitive = Line | Area | Marker | Text
SHAPES = ("disc", "square", "diamond", "triangle", "wedge", "pentagon")
OUTLINES: dict[str, tuple[Point, ...]] = {
    "square": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "diamond": ((0, -1.2), (1.2, 0), (0, 1.2), (-1.2, 0)),
    "triangle": ((0, -1.1), (1.1, 1), (-1.1, 1)),
    "wedge": ((0, 1.1), (1.1, -1), (-1.1, -1)),
    "pentagon": ((0, -1.2), (1.14, -0.37), (0.71, 0.97), (-0.71, 0.97), (-1.14, -0.37)),
}
"""Corners of the shapes in units of half a marker, y down; a disc has none."""
LETTER = 0.72
"""Width of an average letter against the height of the text, on the wide side."""


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything to draw, back to front, and one line that describes it."""

    width: float
    height: float
    primitives: tuple[Primitive, ...]
    description: str


class _Frame:
    """From dates and values to points."""

    def __init__(self, box: tuple[float, float, float, float], days: tuple[int, int], values: Point) -> None:
        self.left, self.top, self.right, self.bottom = box
        self.days, self.values = days, values

    def at(self, day: float, value: float) -> Point:
        first, last = self.days
        low, high = self.values
        x = self.left + (self.right - self.left) * (day - first) / (last - first)
        y = self.bottom - (self.bottom - self.top) * (value - low) / (high - low)
        return x, min(max(y, self.top), self.bottom)


def projection_chart(projection: Projection, width: float, height: float, text: float) -> Chart:
    """The chart of `projection` in a box of `width` by `height` with letters `text` high."""
    readings = [*projection.used, *(one.reading for one in projection.left_out)]
    digits = 3 if projection.quantity == "resistance_ohm" else 2
    unit = "Ω" if projection.quantity == "resistance_ohm" else "V"
    if not readings:
        empty = Text((width / 2, height / 2), word("chart.empty"), "middle", "quiet")
        return Chart(width, height, (empty,), word("chart.empty"))
    days = _days(projection, readings)
    values = _values(projection, readings)
    frame = _Frame((text * 6.2, text * 2.8, width - text * 1.0, height - text * 2.4), days, values)
    drawn: list[Primitive] = []
    drawn += _grid(frame, projection.as_of, text, digits, unit)
    drawn += _fan(frame, projection, text)
    drawn += _limit(frame, projection, text, digits, unit)
    drawn += _markers(frame, projection, text)
    return Chart(width, height, tuple(drawn), f"{word(f'quantity.{projection.quantity}')}: {len(readings)}")


def _day(reading: Reading, as_of: dt.date) -> int:
    return (reading.done_at.date() - as_of).days


def _days(projection: Projection, readings: Sequence[Reading]) -> tuple[int, int]:
    first = min(_day(one, projection.as_of) for one in readings)
    last = max((row[0] for row in projection.fan), default=14)
    return min(first - 7, -28), last + 7


def _values(projection: Projection, readings: Sequence[Reading]) -> Point:
    seen = [one.value for one in readings]
    for _, low, _, high in projection.fan:
        seen += [low, high]
    span = max(seen) - min(seen)
    if projection.limit is not None and abs(projection.limit - sum(seen) / len(seen)) < 6 * max(span, 1e-3):
        seen.append(projection.limit)
    low, high = min(seen), max(seen)
    room = max((high - low) * 0.08, 1e-3)
    return low - room, high + room


def ticks(low: float, high: float, count: int) -> list[float]:
    """About `count` round values between `low` and `high`, two at least: steps of 1, 2 or 5 times a power of ten."""
    raw = (high - low) / max(count, 1)
    power = 10 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    found = [k * step for k in range(first, math.floor(high / step + 1e-9) + 1)]
    return found if len(found) > 1 else ticks(low, high, count + 1)


def month_starts(first: dt.date, last: dt.date, most: int) -> list[dt.date]:
    """First days of months between two dates, every so many months that at most `most` come out."""
    months = (last.year - first.year) * 12 + last.month - first.month + 1
    step = next((s for s in (1, 2, 3, 6, 12) if months / s <= most), 24)
    found = []
    for number in range(first.year * 12 + first.month - 1, last.year * 12 + last.month):
        start = dt.date(number // 12, number % 12 + 1, 1)
        if number % step == 0 and first <= start <= last:
            found.append(start)
    return found


def _grid(frame: _Frame, as_of: dt.date, text: float, digits: int, unit: str) -> list[Primitive]:
    drawn: list[Primitive] = []
    for value in ticks(*frame.values, max(2, int((frame.bottom - frame.top) / (text * 2)))):
        y = frame.at(0, value)[1]
        drawn.append(Line(((frame.left, y), (frame.right, y)), "grid"))
        drawn.append(Text((frame.left - text * 0.5, y), f"{value:.{digits}f} {unit}", "right"))
    first, last = (as_of + dt.timedelta(days=d) for d in frame.days)
    for start in month_starts(first, last, max(2, int((frame.right - frame.left) / (text * 6)))):
        x = frame.at((start - as_of).days, frame.values[0])[0]
        drawn.append(Line(((x, frame.bottom), (x, frame.bottom + text * 0.4)), "axis"))
        drawn.append(Text((x, frame.bottom + text * 1.3), f"{start:%b %Y}", "middle"))
    x = frame.at(0, 0)[0]
    drawn.append(Line(((x, frame.top), (x, frame.bottom)), "today", dashed=True))
    drawn.append(Text((x, frame.top - text * 0.7), word("chart.today"), "middle", "quiet"))
    drawn.append(Line(((frame.left, frame.bottom), (frame.right, frame.bottom)), "axis"))
    return drawn


def _fan(frame: _Frame, projection: Projection, text: float) -> list[Primitive]:
    fan = projection.fan
    if not fan:
        return []
    upper = [frame.at(day, high) for day, _, _, high in fan]
    lower = [frame.at(day, low) for day, low, _, _ in fan]
    middle = tuple(frame.at(day, mid) for day, _, mid, _ in fan)
    return [Area(tuple(upper + lower[::-1]), "band"), Line(middle, "middle")]


def _limit(frame: _Frame, projection: Projection, text: float, digits: int, unit: str) -> list[Primitive]:
    limit = projection.limit
    low, high = frame.values
    if limit is None or not low <= limit <= high:
        return []
    y = frame.at(0, limit)[1]
    name = "chart.storage_limit" if projection.quantity == "stored_v" else "chart.limit"
    label = f"{word(name)} {limit:.{digits}f} {unit}"
    drawn: list[Primitive] = [Line(((frame.left, y), (frame.right, y)), "limit", dashed=True)]
    crossing = _crossing(frame, projection, limit, text)
    drawn += crossing
    drawn.append(_limit_label(frame, projection, y, label, text, below=bool(crossing)))
    return drawn


def _limit_label(frame: _Frame, projection: Projection, y: float, label: str, text: float, *, below: bool) -> Text:
    """The limit's name at its line, where it hides the fewest readings."""
    width = text * LETTER * len(label)
    readings = [
        frame.at(_day(one, projection.as_of), one.value)
        for one in (*projection.used, *(left.reading for left in projection.left_out))
    ]
    spots = []
    for side, begin in (("left", frame.left + text * 0.4), ("right", frame.right - width)):
        for above, middle in ((True, y - text * 0.8), (False, y + text * 0.9)):
            hidden = sum(begin <= px <= begin + width and abs(py - middle) < text for px, py in readings)
            inside = frame.top <= middle - text * 0.5 and middle + text * 0.5 <= frame.bottom
            taken = side == "right" and below
            spots.append((hidden + 1000 * (not inside) + 500 * taken, len(spots), side, above, middle))
    _, _, side, _, middle = min(spots)
    x = frame.left + text * 0.4 if side == "left" else frame.right
    return Text((x, middle), label, side, "limit", plate=True)


def _crossing(frame: _Frame, projection: Projection, limit: float, text: float) -> list[Primitive]:
    """The 80 % range of the crossing on the limit line, with its dates; an open end is an arrow."""
    early, late = projection.crossing_p10, projection.crossing_p90
    last = projection.as_of + dt.timedelta(days=frame.days[1])
    if early is None or projection.already_beyond or early >= last:
        return []
    open_end = late is None or late > last
    a = frame.at((early - projection.as_of).days, limit)
    b = frame.at((last if open_end or late is None else late).toordinal() - projection.as_of.toordinal(), limit)
    y = a[1]
    drawn: list[Primitive] = [
        Line((a, b), "crossing"),
        Line(((a[0], y - text * 0.5), (a[0], y + text * 0.5)), "crossing"),
    ]
    if open_end:
        drawn.append(Line(((b[0] - text * 0.6, y - text * 0.5), b, (b[0] - text * 0.6, y + text * 0.5)), "crossing"))
    else:
        drawn.append(Line(((b[0], y - text * 0.5), (b[0], y + text * 0.5)), "crossing"))
    until = word("chart.open") if late is None else show_date(late)
    label = say(msg("chart.crossing", early_date=early, until=until))
    width = text * LETTER * len(label)
    x = min(max((a[0] + b[0]) / 2, frame.left + width / 2), frame.right - width / 2)
    down = y + text * 1.3 <= frame.bottom - text * 0.5
    drawn.append(Text((x, y + text * 1.3 if down else y - text * 1.3), label, "middle", "crossing", plate=True))
    return drawn


def _markers(frame: _Frame, projection: Projection, text: float) -> list[Primitive]:
    """Readings by kind and meter, each with its own shape; those that are not used are hollow."""
    everything = [*projection.used, *(one.reading for one in projection.left_out)]
    kinds = sorted({(one.kind, one.meter) for one in everything})
    shapes = {kind: SHAPES[number % len(SHAPES)] for number, kind in enumerate(kinds)}
    drawn: list[Primitive] = []
    for hollow, readings in ((True, [one.reading for one in projection.left_out]), (False, projection.used)):
        for reading in readings:
            at = frame.at(_day(reading, projection.as_of), reading.value)
            drawn.append(Marker(at, text * 0.55, shapes[reading.kind, reading.meter], hollow))
    if len(kinds) == 1 and not projection.left_out:
        return drawn
    legend = [(shapes[kind, meter], False, f"{word(f'check_kind.{kind}')}, {meter}") for kind, meter in kinds]
    if projection.left_out:
        legend.append(("disc", True, word("chart.left_out")))
    x = frame.left + text * 0.6
    for shape, hollow, label in legend:
        wide = text * (1.0 + LETTER * len(label))
        if x + wide > frame.right:
            break
        drawn.append(Marker((x, text * 0.8), text * 0.55, shape, hollow))
        drawn.append(Text((x + text * 0.8, text * 0.8), label, "left", "quiet"))
        x += wide + text * 1.4
    return drawn
