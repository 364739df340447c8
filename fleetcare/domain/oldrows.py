"""A row of an old spreadsheet: which column means what, and what its cells say.

Nothing is guessed silently.  A number is read as it is written, a unit that is written is obeyed
exactly, and what could mean two things (3/4/2026, 41380) is reported so that a person can answer.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from hashlib import sha256

from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import Message


@dataclass(frozen=True, slots=True)
class OldReading:
    """What one old row says; a reading that is kept like this feeds no verdict and no projection.

    `pack`, `vehicle` and `meter` are as written.  `rested_v` is None where a word ("ok") stands in
    place of the number; the word is then in `remark`.  `why` says what it lacks, None before that
    was decided.
    """

    pack: str
    done_at: dt.datetime
    kind: CheckKind = CheckKind.RESTED_FULL
    rest: RestBand = RestBand.UNKNOWN
    rested_v: Decimal | None = None
    loaded_v: Decimal | None = None
    load_a: Decimal | None = None
    hold_s: int | None = None
    bench_c: Decimal | None = None
    meter: str = ""
    vehicle: str = ""
    remark: str = ""
    why: Message | None = None


def row_identity(row: VoltageCheck | OldReading) -> bytes:
    """Sixteen bytes that are equal exactly when two imported rows say the same, remark and all."""
    parts = (
        row.pack, row.done_at.isoformat(), row.kind.value, row.rest.value, row.rested_v, row.loaded_v, row.load_a,
        row.hold_s, row.bench_c, row.meter, row.vehicle or "", row.remark,
    )  # fmt: skip
    return sha256("\x1f".join(map(str, parts)).encode("utf-8", "surrogatepass")).digest()[:16]


# columns

FIELDS: dict[str, tuple[str, ...]] = {
    "pack": ("pack", "pack id", "pack code", "pack no", "pack number", "battery", "battery id", "battery no", "label",
             "pack label"),
    "done_at": ("done at", "done", "date", "day", "timestamp", "date and time", "when", "checked", "checked on",
                "date checked", "check date"),
    "time": ("time", "time of day", "clock", "hour"),
    "rested_v": ("rested v", "rested", "rest v", "rest volts", "rested volts", "volts", "voltage", "volt", "v",
                 "reading", "v rested", "volts rested", "v rest", "volts rest", "open volts", "no load", "mv", "millivolts"),
    "loaded_v": ("loaded v", "loaded", "load v", "loaded volts", "volts loaded", "under load", "on load",
                 "v load", "v loaded", "volts load", "volts under load", "v under load", "v on load", "volts on load"),
    "load_a": ("load a", "amps", "load amps", "current", "load", "load current", "a", "amp", "a load"),
    "hold_s": ("hold s", "load s", "seconds", "hold", "held"),
    "rest": ("rest", "rest band", "rest minutes", "rest min", "rest time", "rested for", "minutes rested",
             "rest mins", "rest h", "rest hours", "hours rested", "resting time"),
    "meter": ("meter", "meter id", "voltmeter", "meter no", "instrument"),
    "vehicle": ("vehicle", "bike", "found in", "vehicle id", "bike no", "bike number", "scooter"),
    "bench_c": ("bench c", "temperature c", "bench", "temperature", "temp", "temp c"),
    "kind": ("kind", "check kind"),
    "remark": ("remark", "remarks", "note", "notes", "comment", "comments"),
}  # fmt: skip
"""Headings by which a column is recognised: small letters, without units in brackets and punctuation."""

NEEDED = ("pack", "done_at", "rested_v")
VOLTS = ("rested_v", "loaded_v")

_BRACKETS = re.compile(r"[(\[{].*?[)\]}]")
_UNIT = re.compile(r"\b(mv|millivolts?)\b", re.IGNORECASE)


def plain_heading(heading: str) -> str:
    """A heading as it is compared: small letters, no unit in brackets, no punctuation."""
    return " ".join(re.sub(r"[^0-9a-zµ]+", " ", _BRACKETS.sub(" ", heading).lower()).split())


def millivolt_heading(heading: str) -> bool:
    """True where the heading itself says millivolts."""
    return _UNIT.search(heading.replace("_", " ")) is not None


def guess_columns(
    headings: Sequence[str], samples: Sequence[Sequence[str]], packs: Collection[str] = ()
) -> dict[str, int]:
    """Column number by field: by heading, then pack and date by what the sample rows hold.

    Each column is given once.  A field that no column fits is left out; a person names it.
    """
    found: dict[str, int] = {}
    plain = [plain_heading(heading) for heading in headings]
    for field, names in FIELDS.items():
        ranked = [
            (names.index(name), number)
            for number, name in enumerate(plain)
            if name in names and number not in found.values()
        ]
        if ranked:
            found[field] = min(ranked)[1]
    if "rested_v" not in found:
        spoken = [n for n, h in enumerate(headings) if millivolt_heading(h) and n not in found.values()]
        if len(spoken) == 1:
            found["rested_v"] = spoken[0]
    for field, fits in (("pack", lambda text: text.strip().upper() in packs), ("done_at", looks_like_date)):
        if field in found:
            continue
        best, share = -1, 0.5
        for number in range(len(headings)):
            cells = [row[number] for row in samples if number < len(row) and row[number].strip()]
            if number in found.values() or not cells:
                continue
            part = sum(fits(cell) for cell in cells) / len(cells)
            if part > share:
                best, share = number, part
        if best >= 0:
            found[field] = best
    return found


# packs


def alike_codes(codes: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Codes by what is left of them without spaces, punctuation and the size of letters."""
    found: dict[str, tuple[str, ...]] = {}
    for code in sorted(codes):
        found[_bare(code)] = (*found.get(_bare(code), ()), code)
    return found


def meant(written: str, alike: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Codes on record that differ from `written` in spaces, punctuation or the size of letters only: a hint, never taken."""
    return alike.get(_bare(written), ()) if _bare(written) else ()


def _bare(text: str) -> str:
    return "".join(one for one in text.upper() if one.isalnum())


# numbers

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")
_WITH_UNIT = re.compile(r"([+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+))\s*([A-Za-z°]+)")
_EXACT = {
    "volt": {"v": 0, "volt": 0, "volts": 0, "mv": -3, "millivolt": -3, "millivolts": -3},
    "amp": {"a": 0, "amp": 0, "amps": 0, "ma": -3},
    "celsius": {"c": 0, "°c": 0},
    "second": {"s": 0, "sec": 0, "seconds": 0},
    "minute": {"min": 0, "mins": 0, "minutes": 0},
}
_HOURS = ("h", "hr", "hrs", "hour", "hours")
_MINUTES = ("min", "mins", "minute", "minutes")
_FOREIGN = {
    "volt": ("kv", "%", "percent"),
    "amp": ("w", "kw", "watt", "watts", "ohm", "ohms", "ω"),
    "celsius": ("f", "°f", "degf", "fahrenheit", "k", "kelvin"),
    "second": (*_MINUTES, *_HOURS),
    "minute": _HOURS,
}
"""Units that a heading may give in place of the field's own: such figures are kept as words and never taken for others."""
_INSIDE = re.compile(r"[(\[{]\s*(?:in\s+)?([^()\[\]{}]*?)\s*[)\]}]")
_LONGEST = 40


class NotANumber(ValueError):
    """The cell holds words where a number belongs."""


def shifted(value: Decimal, power: int) -> Decimal:
    """`value` times ten to the `power`, with every digit it had; `scaleb` would keep 28 of them."""
    sign, digits, exponent = value.as_tuple()
    assert isinstance(exponent, int)
    return Decimal((sign, digits, exponent + power))


def heading_unit(heading: str, quantity: str) -> str:
    """The unit that a column's heading gives, in brackets or as its last word, as it is written; "" where it gives none."""
    own = (*_EXACT[quantity], *_FOREIGN[quantity])
    for inside in _INSIDE.findall(heading):
        if inside.lower() in own:
            return str(inside)
    words = re.split(r"[^0-9A-Za-z°%Ωω]+", _BRACKETS.sub(" ", heading).strip())
    last = words[-1] if len(words) > 1 else ""
    return last if last.lower() in own else ""


def in_hours(heading: str) -> bool | None:
    """Whether a column of rests is in hours or in minutes, by its heading; None where it does not say, or says both."""
    words = {word.lower() for word in re.findall(r"[A-Z]?[a-z]+|[A-Z]+", heading)}
    hours, minutes = (not words.isdisjoint(units) for units in (_HOURS, _MINUTES))
    return hours if hours is not minutes else None


def read_number(text: str, quantity: str, *, milli: bool = False, unit: str = "") -> tuple[Decimal, bool] | None:
    """The exact number in a cell and whether its unit was written in the cell; None for an empty cell.

    Point and comma are both the decimal sign.  A unit written in the cell wins over that of the heading, `unit`, and over
    `milli` (the column is in thousandths).  Raises NotANumber for words, foreign units, more than one number and
    thousands marks.
    """
    typed = text.strip().replace("\u2212", "-").replace("\u00a0", " ")
    if not typed:
        return None
    if len(typed) > _LONGEST or not typed.replace("°", "").isascii():
        raise NotANumber(typed[:_LONGEST])
    if _NUMBER.fullmatch(typed):
        by_heading = -3 if milli else _EXACT[quantity].get(unit.lower()) if unit else 0
        if by_heading is None:
            raise NotANumber(typed)
        value = Decimal(typed.replace(",", "."))
        return (shifted(value, by_heading) if by_heading else value), False
    found = _WITH_UNIT.fullmatch(typed)
    power = _EXACT[quantity].get(found.group(2).lower()) if found else None
    if found is None or power is None:
        raise NotANumber(typed)
    return shifted(Decimal(found.group(1).replace(",", ".")), power), True


# dates


class DateOrder(StrEnum):
    """Which of two numbers in 3/4/2026 is the day."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


_SLASHED = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})(?:[ T,]+(.*))?")
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}([T ].*)?")
_NAMED = re.compile(r"(\d{1,2})[ .-]+([A-Za-z]{3,9})[ .,-]+(\d{4}|\d{2})(?:[ T,]+(.*))?")
_CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2}))?(?:\.0+)?\s*([ap]m)?", re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def looks_like_date(text: str) -> bool:
    """True where the cell has the shape of a date."""
    typed = text.strip()
    return len(typed) <= _LONGEST and any(shape.fullmatch(typed) for shape in (_ISO, _SLASHED, _NAMED))


def order_shown(text: str) -> DateOrder | None:
    """The order that this date itself proves (25/3/2026), or None where it proves nothing."""
    found = _SLASHED.fullmatch(text.strip()[:_LONGEST])
    if not found:
        return None
    first, second = int(found.group(1)), int(found.group(3))
    if 12 < first <= 31 and 1 <= second <= 12:
        return DateOrder.DAY_FIRST
    if 12 < second <= 31 and 1 <= first <= 12:
        return DateOrder.MONTH_FIRST
    return None


def two_readings(text: str) -> tuple[dt.date, dt.date] | None:
    """The two different days that a date can mean, day first and month first; None when it means one."""
    found = _SLASHED.fullmatch(text.strip()[:_LONGEST])
    if not found:
        return None
    first, second, year = int(found.group(1)), int(found.group(3)), _year(found.group(4))
    if not (1 <= first <= 12 and 1 <= second <= 12) or first == second:
        return None
    return dt.date(year, second, first), dt.date(year, first, second)


def read_moment(text: str, zone: dt.tzinfo, order: DateOrder | None, clock: str = "") -> dt.datetime:
    """The moment in a cell, in the depot's own time unless an offset is written; without a clock time, midnight.

    `order` is needed only for dates of numbers.  Raises EntryRefused for what is no date and time.
    """
    typed = text.strip()
    if len(typed) > _LONGEST or len(clock) > _LONGEST:
        raise _no_moment(typed, clock)
    try:
        if _ISO.fullmatch(typed):
            at = dt.datetime.fromisoformat(typed)
            if clock.strip():
                at = dt.datetime.combine(at.date(), _clock(clock), at.tzinfo)
            return at if at.tzinfo is not None else at.replace(tzinfo=zone)
        found = _SLASHED.fullmatch(typed)
        if found:
            first, second = int(found.group(1)), int(found.group(3))
            order = order or order_shown(typed) or (DateOrder.DAY_FIRST if first == second else None)
            if order is None:
                raise _no_moment(typed, clock)
            day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
            rest = found.group(5)
        else:
            found = _NAMED.fullmatch(typed)
            if not found:
                raise _no_moment(typed, clock)
            day, month = int(found.group(1)), _MONTHS.index(found.group(2)[:3].lower()) + 1
            rest = found.group(4)
        year = _year(found.group(4) if found.re is _SLASHED else found.group(3))
        return dt.datetime.combine(dt.date(year, month, day), _clock(rest or clock), zone)
    except (ValueError, OverflowError):
        raise _no_moment(typed, clock) from None


def _no_moment(typed: str, clock: str) -> EntryRefused:
    written = f"{typed} {clock.strip()}".strip()[:60]
    if not written:
        return EntryRefused("oldsheet.no_date", field="done_at")
    return EntryRefused("oldsheet.moment", field="done_at", typed=written)


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _clock(text: str) -> dt.time:
    typed = text.strip()
    if not typed:
        return dt.time()
    found = _CLOCK.fullmatch(typed)
    if not found:
        raise ValueError(typed)
    hour = int(found.group(1))
    half = (found.group(4) or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError(typed)
        hour = hour % 12 + (12 if half == "pm" else 0)
    return dt.time(hour, int(found.group(2)), int(found.group(3) or 0))
