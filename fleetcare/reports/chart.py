"""The chart of one projection as a list of primitives, drawn alike on screen and on paper.

Coordinates run from the top left, x to the right and y down, in the unit of the given size.
"""

from __future__ import annotations

import datetime as dt
import itertools
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
LEAST_SPAN = {True: 0.2, False: 0.01}
"""Share of the middle that a chart spans at least when it looks for its limits: of a resistance, and of volts."""
IN_SIGHT = 6.0
"""A limit so many spans from the readings' middle is drawn; one further off is named at the edge."""
SHAPES = ("disc", "square", "diamond", "triangle", "wedge", "pentagon", "cross", "upright", "star", "flat")
OUTLINES: dict[str, tuple[Point, ...]] = {
    "square": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "diamond": ((0, -1.2), (1.2, 0), (0, 1.2), (-1.2, 0)),
    "triangle": ((0, -1.1), (1.1, 1), (-1.1, 1)),
    "wedge": ((0, 1.1), (1.1, -1), (-1.1, -1)),
    "pentagon": ((0, -1.2), (1.14, -0.37), (0.71, 0.97), (-0.71, 0.97), (-1.14, -0.37)),
    "cross": (
        (-0.45, -1.2),
        (0.45, -1.2),
        (0.45, -0.45),
        (1.2, -0.45),
        (1.2, 0.45),
        (0.45, 0.45),
        (0.45, 1.2),
        (-0.45, 1.2),
        (-0.45, 0.45),
        (-1.2, 0.45),
        (-1.2, -0.45),
        (-0.45, -0.45),
    ),
    "upright": ((-0.5, -1.3), (0.5, -1.3), (0.5, 1.3), (-0.5, 1.3)),
    "star": ((0, -1.5), (0.4, -0.4), (1.5, 0), (0.4, 0.4), (0, 1.5), (-0.4, 0.4), (-1.5, 0), (-0.4, -0.4)),
    "flat": ((-1.3, -0.5), (1.3, -0.5), (1.3, 0.5), (-1.3, 0.5)),
}
"""Corners of the shapes in units of half a marker, y down; a disc has none."""
LETTER = 0.72
"""Width of an average letter against the height of the text, on the wide side."""
LEGEND_LINE = 1.4
"""A line of the legend against the height of the text."""


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


Box = tuple[float, float, float, float]
"""Left, top, right and bottom."""


def projection_chart(
    projection: Projection, width: float, height: float, text: float, watch: float | None = None
) -> Chart:
    """The chart of `projection` in a box of `width` by `height` with letters `text` high.

    `watch` is the value from which a verdict says watch; None draws no such line.
    """
    readings = [*projection.used, *(one.reading for one in projection.left_out)]
    digits = 3 if projection.quantity == "resistance_ohm" else 2
    unit = "Ω" if projection.quantity == "resistance_ohm" else "V"
    if not readings:
        empty = Text((width / 2, height / 2), word("chart.empty"), "middle", "quiet")
        return Chart(width, height, (empty,), word("chart.empty"))
    days = _days(projection, readings)
    values = _values(projection, readings, watch)
    left, right = text * 6.2, width - text * 1.0
    shapes = _shapes(readings)
    legend = _legend(projection, shapes, left + text * 0.6, right, text)
    frame = _Frame((left, text * (1.4 + LEGEND_LINE * len(legend)), right, height - text * 2.4), days, values)
    drawn: list[Primitive] = []
    drawn += _grid(frame, projection.as_of, text, digits, unit)
    drawn += _fan(frame, projection, text)
    drawn += _limits(frame, projection, text, f".{digits}f", unit, watch)
    drawn += _markers(frame, projection, text, shapes)
    for number, line in enumerate(legend):
        for x, entry in line:
            drawn += entry.drawn(x, text * (0.8 + LEGEND_LINE * number), text)
    return Chart(width, height, tuple(drawn), f"{word(f'quantity.{projection.quantity}')}: {len(readings)}")


def _day(reading: Reading, as_of: dt.date) -> int:
    return (reading.done_at.date() - as_of).days


def _days(projection: Projection, readings: Sequence[Reading]) -> tuple[int, int]:
    first = min(_day(one, projection.as_of) for one in readings)
    last = max((row[0] for row in projection.fan), default=14)
    return min(first - 7, -28), last + 7


def _values(projection: Projection, readings: Sequence[Reading], watch: float | None) -> Point:
    """The lowest and the highest value drawn.  Scatter is not blown up, a limit within sight is drawn, and a range that
    becomes very wide runs out of the chart instead of pressing the readings flat."""
    seen = [one.value for one in readings]
    middle = sum(seen) / len(seen)
    least = LEAST_SPAN[projection.rises] * abs(middle)
    fan = [edge for _, low, _, high in projection.fan for edge in (low, high)]
    reach = max(max([*seen, *fan]) - min([*seen, *fan]), least, 1e-3)
    seen += [one for one in (watch, projection.limit) if one is not None and abs(one - middle) < IN_SIGHT * reach]
    room = max(max(seen) - min(seen), least)
    low, high = min(seen) - room, max(seen) + room
    seen += [min(max(edge, low), high) for edge in fan]
    edge = max((max(seen) - min(seen)) * 0.08, least * 0.1, 1e-3)
    return min(seen) - edge, max(seen) + edge


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
    for value in ticks(*frame.values, max(4, int((frame.bottom - frame.top) / (text * 3)))):
        y = frame.at(0, value)[1]
        drawn.append(Line(((frame.left, y), (frame.right, y)), "grid"))
        drawn.append(Text((frame.left - text * 0.5, y), f"{value:.{digits}f} {unit}", "right"))
    first, last = (as_of + dt.timedelta(days=d) for d in frame.days)
    for start in month_starts(first, last, max(2, int((frame.right - frame.left) / (text * 6)))):
        x = frame.at((start - as_of).days, frame.values[0])[0]
        drawn.append(Line(((x, frame.bottom), (x, frame.bottom + text * 0.4)), "axis"))
        month = f"{start:%b %Y}"
        if x + text * LETTER * len(month) / 2 <= frame.right + text:
            drawn.append(Text((x, frame.bottom + text * 1.3), month, "middle"))
    x = frame.at(0, 0)[0]
    drawn.append(Line(((x, frame.top), (x, frame.bottom)), "today", dashed=True))
    label = say(msg("chart.today", on_date=as_of))
    half = text * LETTER * len(label) / 2
    x = min(max(x, frame.left + half), frame.right - half)
    drawn.append(Text((x, frame.top - text * 0.7), label, "middle", "quiet"))
    drawn.append(Line(((frame.left, frame.bottom), (frame.right, frame.bottom)), "axis"))
    return drawn


def _fan(frame: _Frame, projection: Projection, text: float) -> list[Primitive]:
    fan = projection.fan
    if not fan:
        return []
    upper = [frame.at(day, high) for day, _, _, high in fan]
    lower = [frame.at(day, low) for day, low, _, _ in fan]
    middle = _middle(frame, projection)
    band = Area(tuple(upper + lower[::-1]), "band")
    return [band, Line(middle, "middle")] if len(middle) > 1 else [band]


def _middle(frame: _Frame, projection: Projection) -> tuple[Point, ...]:
    """The fan's middle, ended where it leaves the chart: along its edge it would look as if it stayed there."""
    low, high = frame.values
    points: list[Point] = []
    before: tuple[int, float] | None = None
    for day, _, value, _ in projection.fan:
        if not low <= value <= high:
            if before is not None:
                edge = high if value > high else low
                share = (edge - before[1]) / (value - before[1])
                points.append(frame.at(before[0] + share * (day - before[0]), edge))
            break
        points.append(frame.at(day, value))
        before = day, value
    return tuple(points)


def _limits(
    frame: _Frame, projection: Projection, text: float, digits: str, unit: str, watch: float | None
) -> list[Primitive]:
    """The pull limit with the range of its crossing, and the watch line, each with its name where it hides least.

    Names come last: no line runs through one.
    """
    drawn: list[Primitive] = []
    taken: list[Box] = []
    limit = projection.limit
    if limit is not None:
        name = "chart.storage_limit" if projection.quantity == "stored_v" else "chart.limit"
        crossing = _crossing(frame, projection, limit, text)
        taken += [_box(one, text) for one in crossing if isinstance(one, Text)]
        drawn += _line(frame, projection, limit, f"{word(name)} {limit:{digits}} {unit}", "limit", text, taken)
        drawn += crossing
    if watch is not None:
        drawn += _line(frame, projection, watch, f"{word('chart.watch')} {watch:{digits}} {unit}", "watch", text, taken)
    return sorted(drawn, key=lambda one: isinstance(one, Text))


def _line(
    frame: _Frame, projection: Projection, value: float, label: str, role: str, text: float, taken: list[Box]
) -> list[Primitive]:
    """A limit's line with its name; one that lies outside the chart is named at the edge, but for a watch line."""
    low, high = frame.values
    if low <= value <= high:
        y = frame.at(0, value)[1]
        name = _name(frame, projection, y, label, role, text, taken)
        taken.append(_box(name, text))
        return [Line(((frame.left, y), (frame.right, y)), role, dashed=True), name]
    if role != "limit":
        return []
    above = value > high
    y = frame.top + text * 0.8 if above else frame.bottom - text * 0.8
    told = say(msg("chart.above" if above else "chart.below", what=label))
    name = Text((frame.left + text * 0.4, y), told, "left", role, plate=True)
    taken.append(_box(name, text))
    return [name]


def _box(one: Text, text: float) -> Box:
    """What a text covers, on the wide side."""
    width, (x, y) = text * LETTER * len(one.text), one.at
    left = {"left": x, "right": x - width, "middle": x - width / 2}[one.side]
    return left, y - text * 0.7, left + width, y + text * 0.7


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _name(
    frame: _Frame, projection: Projection, y: float, label: str, role: str, text: float, taken: Sequence[Box]
) -> Text:
    """A limit's name at its line, over no other name, where it hides the fewest readings."""
    everything = (*projection.used, *(left.reading for left in projection.left_out))
    readings = [frame.at(_day(one, projection.as_of), one.value) for one in everything]
    spots: list[tuple[int, int, Text]] = []
    today = frame.at(0, 0)[0]
    for side, x in (
        ("left", frame.left + text * 0.4),
        ("right", frame.right),
        ("right", today - text * 0.4),
        ("left", today + text * 0.4),
    ):
        for middle in (y - text * 0.8, y + text * 0.9):
            spot = Text((x, middle), label, side, role, plate=True)
            box = _box(spot, text)
            hidden = sum(box[0] <= px <= box[2] and abs(py - middle) < text for px, py in readings)
            outside = box[1] < frame.top - text * 0.3 or box[3] > frame.bottom + text * 0.3
            over = any(_overlap(box, one) for one in taken)
            spots.append((hidden + 1000 * outside + 500 * over, len(spots), spot))
    return min(spots, key=lambda one: one[:2])[2]


def _hides_middle(frame: _Frame, projection: Projection, label: Text, text: float) -> bool:
    """Whether the plate of `label` would lie over the middle line."""
    left, top, right, bottom = _box(label, text)
    points = _middle(frame, projection)
    for (x, y), (to_x, to_y) in itertools.pairwise(points):
        if to_x <= left or x >= right:
            continue
        rise = (to_y - y) / (to_x - x) if to_x > x else 0.0
        ends = [y + rise * (min(max(at, x), to_x) - x) for at in (left, right)]
        if min(ends) < bottom and max(ends) > top:
            return True
    return False


def _crossing(frame: _Frame, projection: Projection, limit: float, text: float) -> list[Primitive]:
    """The 80 % range of the crossing on the limit line, with its dates and its likely day; an open end is an arrow."""
    early, late = projection.crossing_p10, projection.crossing_p90
    last = projection.as_of + dt.timedelta(days=frame.days[1])
    low, high = frame.values
    if early is None or projection.already_beyond or early >= last or not low <= limit <= high:
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
    below, above = y + text * 1.3, y - text * 1.3
    spots = {
        down: Text((x, below if down else above), label, "middle", "crossing", plate=True) for down in (True, False)
    }
    down = below <= frame.bottom - text * 0.5 and not _hides_middle(frame, projection, spots[True], text)
    if not down and (above < frame.top + text * 0.5 or _hides_middle(frame, projection, spots[False], text)):
        down = below <= frame.bottom - text * 0.5
    drawn.append(spots[down])
    likely = projection.crossing_p50
    if likely is not None and early < likely < last:
        at = frame.at((likely - projection.as_of).days, limit)[0]
        drawn.append(Line(((at, y - text * 0.5), (at, y + text * 0.5)), "likely"))
        named = word("chart.likely")
        half = text * LETTER * len(named) / 2
        spot = min(max(at, frame.left + half), frame.right - half)
        drawn.append(Text((spot, above if down else below), named, "middle", "crossing", plate=True))
    return drawn


Kinds = dict[tuple[str, str], str]
"""The shape of each kind of reading and meter."""


def _shapes(readings: Sequence[Reading]) -> Kinds:
    kinds = sorted({(one.kind, one.meter) for one in readings})
    return {kind: SHAPES[number % len(SHAPES)] for number, kind in enumerate(kinds)}


def _markers(frame: _Frame, projection: Projection, text: float, shapes: Kinds) -> list[Primitive]:
    """Readings by kind and meter, each with its own shape; those that are not used are hollow."""
    drawn: list[Primitive] = []
    for hollow, readings in ((True, [one.reading for one in projection.left_out]), (False, projection.used)):
        for reading in readings:
            at = frame.at(_day(reading, projection.as_of), reading.value)
            drawn.append(Marker(at, text * 0.55, shapes[reading.kind, reading.meter], hollow))
    return drawn


@dataclass(frozen=True, slots=True)
class _Entry:
    """One sample of the legend with its words: a marker, or (`role`) the fan's band or its middle line."""

    label: str
    shape: str = ""
    hollow: bool = False
    role: str = ""

    @property
    def sample(self) -> float:
        """How far the words stand from where it begins, against the height of the text."""
        return 2.0 if self.role else 0.8

    def width(self, text: float) -> float:
        """What it takes, on the wide side."""
        return text * (self.sample + 0.2 + LETTER * len(self.label))

    def drawn(self, x: float, y: float, text: float) -> list[Primitive]:
        """It, from `x` on, in the line at `y`."""
        sample = _swatch(x, y, text, self.role) if self.role else [Marker((x, y), text * 0.55, self.shape, self.hollow)]
        return [*sample, Text((x + text * self.sample, y), self.label, "left", "quiet")]


def _legend(
    projection: Projection, shapes: Kinds, left: float, right: float, text: float
) -> list[list[tuple[float, _Entry]]]:
    """The legend in as many lines as it needs, each entry with the place where it begins."""
    entries = [_Entry(f"{word(f'check_kind.{kind}')}, {meter}", shape) for (kind, meter), shape in shapes.items()]
    if projection.left_out:
        entries.append(_Entry(word("chart.left_out"), "disc", True))
    entries += [_Entry(word(f"chart.{role}"), role=role) for role in ("band", "middle") if projection.fan]
    lines: list[list[tuple[float, _Entry]]] = [[]]
    x = left
    for entry in entries:
        if lines[-1] and x + entry.width(text) > right:
            lines.append([])
            x = left
        lines[-1].append((x, entry))
        x += entry.width(text) + text * 1.4
    return lines


def _swatch(x: float, y: float, text: float, role: str) -> list[Primitive]:
    """A sample of the fan's band or of its middle line, for the legend."""
    right = x + text * 1.6
    if role == "middle":
        return [Line(((x, y), (right, y)), role)]
    half = text * 0.4
    return [Area(((x, y - half), (right, y - half), (right, y + half), (x, y + half)), role)]
