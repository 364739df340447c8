"""Every sentence of the program: a key and typed values in, a sentence out.

Records and results carry a `Message`, never a composed sentence; window, paper and command line
render it with `say`.  A value is formatted by the unit at the end of its name, so a number never
appears without its unit.  The sentences live in `fleetcare.domain.words`, one catalogue an area.
"""

from __future__ import annotations

import datetime as dt
import importlib
import pkgutil
import re
import string
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import zip_longest

from fleetcare.domain import words


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence by key, with its values as sorted (name, value) pairs."""

    key: str
    values: tuple[tuple[str, object], ...] = ()

    def value(self, name: str) -> object:
        """The value called `name`; KeyError when the message has none."""
        return dict(self.values)[name]


def msg(key: str, **values: object) -> Message:
    """A `Message` whose values are hashable and sorted by name."""
    return Message(key, tuple(sorted(values.items())))


LEFT_TO_RIGHT, RIGHT_TO_LEFT, AS_BEFORE = "\u2066", "\u2067", "\u2069"
"""Isolates of Unicode Annex 9: what follows has a direction of its own, up to the last of the three."""
_ISOLATED = re.compile("[\u2066\u2067][^\u202a-\u202e\u2066-\u2069]*\u2069")
_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")


def apart(text: str) -> str:
    """`text` set apart where it has letters that run from right to left, so that it does not turn what stands beside it.

    A text of such letters alone is read from right to left, one that is mixed like the sentence around it.  Marks that
    somebody typed to change direction are shown as their number.  Other text stays as it is.
    """
    if text.isascii():
        return text
    parts = _ISOLATED.split(text)
    if _TURNING.search("".join(parts)):
        parts = [_TURNING.sub(lambda mark: f"[U+{ord(mark[0]):04X}]", one) for one in parts]
        text = "".join(part for pair in zip_longest(parts, _ISOLATED.findall(text), fillvalue="") for part in pair)
    ways = {unicodedata.bidirectional(one) for one in text}
    if not ways & {"R", "AL"} or len(parts) > 1:
        return text
    return f"{LEFT_TO_RIGHT if 'L' in ways else RIGHT_TO_LEFT}{text}{AS_BEFORE}"


def closed(text: str) -> str:
    """The beginning of a sentence, with what is set apart in it and was cut through closed."""
    opened = max(text.rfind(LEFT_TO_RIGHT), text.rfind(RIGHT_TO_LEFT))
    return text + AS_BEFORE if opened > text.rfind(AS_BEFORE) else text


def listed(texts: Iterable[str]) -> str:
    """Names one after the other, in this order whichever way each of them runs."""
    return ", ".join(map(apart, texts))


BEFORE_UNIT = re.compile(
    r"(?<=±) (?=[0-9])|(?<=[0-9]) "
    r"(?=(?:V|mV|A|mA|W|Ω|mΩ|Ah|Wh|°C|%|s|min|h|d|kg|mm|km|kJ/mol|Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)(?![A-Za-z0-9]))"
)
"""The space between a figure and what it is of: its unit, or the month of a day.  No line of a screen or sheet ends there.

A sentence itself has the plain space: exports, the command line and what is searched carry no odd character.
"""
_UNITS = {"v": ("V", 2), "ohm": ("Ω", 3), "a": ("A", 1), "c": ("°C", 0), "percent": ("%", 0), "ah": ("Ah", 1)}
_UNITS |= {"amp": ("A", 0), "vdc": ("V DC", 0)}  # ratings, as they stand on a fuse
_READ = {"resistance_ohm": 4, "read_ohm": 4, "last_ohm": 4, "newest_ohm": 4, "change_ohm": 4}
"""Places of what was read, volts by amps: as many as the columns show, so that a sentence and its row say the same digits.  A
change has as many: of a slope of 0.001 Ω a month nothing else is left."""


def _number(value: object, places: int) -> str:
    if isinstance(value, Decimal):
        shown = max(places, -int(value.as_tuple().exponent))
        return f"{value:.{shown}f}"
    number = Decimal(repr(float(value)))  # type: ignore[arg-type]
    rounded = number.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
    return str(rounded if rounded else abs(rounded))  # what rounds to nothing has no sign


def _plural(count: object, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def show_chance(share: float) -> str:
    """A chance from 0 to 1 in whole per cent; never a false 0 or 100."""
    if 0 < share < 0.005:
        return "< 1 %"
    if 0.995 < share < 1:
        return "> 99 %"
    return f"{100 * share:.0f} %"


def show_date(day: dt.date) -> str:
    """A date as the sheets print it: "9 Nov 2026"."""
    return f"{day.day} {day:%b %Y}"


def show_moment(moment: dt.datetime) -> str:
    """A moment in its own offset: "2 Nov 2026 06:30"."""
    return f"{show_date(moment.date())} {moment:%H:%M}"


def show_day(day: dt.date) -> str:
    """A day of these weeks, where there is no room for the year: "2 Dec"."""
    return f"{day.day} {day:%b}"


def show_day_time(moment: dt.datetime) -> str:
    """A moment of these weeks in its own offset: "2 Dec 06:30"."""
    return f"{show_day(moment)} {moment:%H:%M}"


def show_since(moment: dt.datetime, *, year: bool = False) -> str:
    """Since when something stands: a moment, or the day alone where it began with that day, as a check falls due."""
    if moment.time() == dt.time():
        return show_date(moment.date()) if year else show_day(moment)
    return show_moment(moment) if year else show_day_time(moment)


COUNTED = frozenset(
    (
        "away",
        "checks",
        "count",
        "done",
        "due",
        "here",
        "kept",
        "known",
        "late",
        "lines",
        "missed",
        "missing",
        "of",
        "on_time",
        "pages",
        "parked",
        "records",
        "refused",
        "repeat",
        "rows",
        "saved",
        "shown",
        "taken",
        "total",
    )
)
"""Values that are numbers of things: written with a comma from a thousand on."""


def show_value(name: str, value: object) -> str:
    """`value` as text, with the unit that its name ends in (`rested_v` -> "41.38 V").

    A `Decimal` keeps the digits it was typed with; a float gets the usual digits of its unit.  A
    name that begins with `change_` carries its sign.  One that ends in `_sentence` ends with a full stop, once.
    """
    if value is None:
        return "not known"
    unit = name.rsplit("_", 1)[-1]
    if unit == "sentence":
        told = show_value("told", value)
        return told if told.removesuffix(AS_BEFORE).endswith((".", "!", "?", "…")) else f"{told}."
    if isinstance(value, Message):
        return say(value)
    if isinstance(value, (tuple, list, frozenset)):
        return ", ".join(show_value(name, one) for one in value)
    if isinstance(value, dt.datetime):
        return show_moment(value)
    if isinstance(value, dt.date):
        return show_date(value)
    if unit in _UNITS and isinstance(value, (int, float, Decimal)):
        symbol, places = _UNITS[unit]
        if name in _READ:
            places = _READ[name]
            value = round(value, places)
        number = _number(value, places)
        sign = "+" if name.startswith("change_") and value > 0 and number.strip("0.") else ""
        return f"{sign}{number} {symbol}".replace("-", "−")
    counted = unit in ("days", "minutes", "seconds", "weeks", "months") or name.endswith(("_packs", "_vehicles"))
    if counted and isinstance(value, (int, float)):
        many = round(value)
        return _plural(f"{many:,}" if unit == "vehicles" and many != 1 else many, unit[:-1])
    if isinstance(value, float):
        return f"{value:g}"
    if name in COUNTED and isinstance(value, int):
        return f"{value:,}"
    return apart(value) if type(value) is str else str(value)


class _BySuffix(string.Formatter):
    def format_field(self, value: object, format_spec: str) -> str:
        return (format_spec and format(value, format_spec)) or str(value)

    def get_field(self, field_name: str, args: object, kwargs: object) -> tuple[object, str]:
        raw = kwargs[field_name]  # type: ignore[index]
        return show_value(field_name, raw), field_name


def _catalogue() -> dict[str, str]:
    merged: dict[str, str] = {}
    for found in sorted(pkgutil.iter_modules(words.__path__), key=lambda m: m.name):
        area = importlib.import_module(f"{words.__name__}.{found.name}").WORDS
        twice = merged.keys() & area.keys()
        if twice:
            raise ValueError(f"sentence keys defined twice: {sorted(twice)}")
        merged |= area
    return merged


_WORDS = _catalogue()
_FORMATTER = _BySuffix()


def say(message: Message) -> str:
    """The sentence of `message`.  An unknown key is a fault of the program: KeyError."""
    return _FORMATTER.vformat(_WORDS[message.key], (), dict(message.values))


_CLAUSE = re.compile(r": |; |\. | \(|\.$")


def brief(message: Message) -> str:
    """The sentence in a few words where there is little room: its short form, else its first clause.

    A day stands without its year, and is not broken over two lines.
    """
    short = _WORDS.get(f"short.{message.key}")
    if short is None:
        return closed(_CLAUSE.split(say(message), maxsplit=1)[0])
    return _FORMATTER.vformat(short, (), {name: _brief_value(value) for name, value in message.values})


def _brief_value(value: object) -> object:
    if isinstance(value, Message):
        return brief(value)
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return show_day(value).replace(" ", "\N{NO-BREAK SPACE}")
    return value


def word(key: str) -> str:
    """A fixed label or phrase without values."""
    return _WORDS[key]


def catalogue() -> frozenset[str]:
    """All keys of the catalogue, for tests that hold every sentence."""
    return frozenset(_WORDS)
