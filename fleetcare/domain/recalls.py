"""Recalls: which packs a maker's notice means, decided from model, serial and date code.

How serials are compared: in capitals and without spaces, part by part.  Hyphens, strokes and dots part
them; inside a part, runs of digits are compared as whole numbers and runs of letters by the alphabet.
Both ends of a range belong to it.  A serial that is not written in the way of the notice (another
number of parts, letters where the notice has digits) cannot be compared, and then the pack cannot be
ruled out.  Where nothing but the parting is missing, serials of the same length are compared without it.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack
from fleetcare.domain.wording import Message, msg

HELD, NOT_RULED_OUT = "recall.held", "recall.not_ruled_out"


def by_recall(reason: Message) -> bool:
    """True for the reason of a hold that a recall set."""
    return reason.key in (HELD, NOT_RULED_OUT)


class Match(StrEnum):
    """Whether a notice means a pack."""

    MATCHED = "matched"
    NOT_RULED_OUT = "not_ruled_out"
    OUT = "out"


@dataclass(frozen=True, slots=True)
class RecallNotice:
    """A maker's notice, as it was entered at `done_at`.  An empty range stands for every serial or date code.

    `models` are codes of this fleet's pack models; `model_text` is how the notice writes them.  A later
    record with the same number takes its place.  `remedy` is what the maker offers, as far as it is known.
    """

    number: str
    models: tuple[str, ...]
    serial_from: str
    serial_to: str
    done_at: dt.datetime
    date_code_from: str = ""
    date_code_to: str = ""
    maker: str = ""
    model_text: str = ""
    hazard: str = ""
    remedy: str = ""
    issued_on: dt.date | None = None

    def __post_init__(self) -> None:
        if not self.number.strip():
            raise EntryRefused("recall.needs_number", field="number")
        if not self.models:
            raise EntryRefused("recall.needs_model", field="models")
        for name in ("serial", "date_code"):
            low, high = getattr(self, f"{name}_from"), getattr(self, f"{name}_to")
            if bool(low.strip()) != bool(high.strip()):
                raise EntryRefused("recall.needs_both", field=f"{name}_{'from' if not low.strip() else 'to'}")
            if low.strip():
                _refuse_range(name, low, high)


@dataclass(frozen=True, slots=True)
class RecallCleared:
    """The maker's remedy was done on one pack; `remedy` says which, `reference` the maker's paper."""

    number: str
    pack: str
    remedy: str
    reference: str
    done_at: dt.datetime


@dataclass(frozen=True, slots=True)
class RecallRuledOut:
    """The serial or date code was read on the case of a pack that could not be ruled out, and it is not meant."""

    number: str
    pack: str
    serial_read: str
    date_code_read: str
    done_at: dt.datetime
    remark: str = ""


@dataclass(frozen=True, slots=True)
class RecallWithdrawn:
    """A manager took a notice back: entered wrongly, or withdrawn by the maker."""

    number: str
    reason: str
    done_at: dt.datetime


_SEPARATORS = re.compile(r"[-/._\\–—]+")
_RUNS = re.compile(r"[0-9]+|[^0-9]+")
Run = tuple[bool, int, str]


def tidy(serial: str) -> str:
    """A serial in capitals and without spaces."""
    return "".join(serial.upper().split())


def parts_of(serial: str) -> tuple[tuple[Run, ...], ...]:
    """The parts of a serial, each as its runs: (is a number, its value, its letters)."""
    return tuple(_runs(part) for part in _SEPARATORS.split(tidy(serial)) if part)


def _runs(text: str) -> tuple[Run, ...]:
    found: list[Run] = []
    for one in _RUNS.findall(text):
        number = one.isascii() and one.isdigit()
        found.append((number, int(one) if number else 0, "" if number else one))
    return tuple(found)


def _pattern(parts: tuple[tuple[Run, ...], ...]) -> tuple[tuple[bool | int, ...], ...]:
    """What must agree before two serials can be compared: the parts, and letters or digits in them."""
    return tuple(tuple(number or len(letters) for number, _value, letters in part) for part in parts)


def _refuse_range(name: str, low: str, high: str) -> None:
    first, last = parts_of(low), parts_of(high)
    if not first or _pattern(first) != _pattern(last):
        raise EntryRefused("recall.unlike_ends", field=f"{name}_to", first=low.strip(), last=high.strip())
    if first > last:
        raise EntryRefused("recall.ends_turned", field=f"{name}_to", first=low.strip(), last=high.strip())


def in_range(text: str, low: str, high: str) -> Match:
    """Whether `text` lies in the range from `low` to `high`, both included; an empty range holds everything."""
    if not low.strip():
        return Match.MATCHED
    if not tidy(text):
        return Match.NOT_RULED_OUT
    first, last, asked = parts_of(low), parts_of(high), parts_of(text)
    if _pattern(asked) == _pattern(first):
        return Match.MATCHED if first <= asked <= last else Match.OUT
    bare = [_SEPARATORS.sub("", tidy(one)) for one in (low, high, text)]
    if len({len(one) for one in bare}) == 1:
        first, last, asked = (parts_of(one) for one in bare)
        if _pattern(asked) == _pattern(first) == _pattern(last):
            return Match.MATCHED if first <= asked <= last else Match.OUT
    return Match.NOT_RULED_OUT


def match(notice: RecallNotice, pack: Pack, *, model_known: bool = True) -> Match:
    """Whether `notice` means `pack`.  A pack whose model nobody knows for sure is ruled out by its serial alone."""
    if model_known and pack.model not in notice.models:
        return Match.OUT
    answers = [
        in_range(pack.serial, notice.serial_from, notice.serial_to),
        in_range(pack.date_code, notice.date_code_from, notice.date_code_to),
    ]
    if Match.OUT in answers:
        return Match.OUT
    if Match.NOT_RULED_OUT in answers or not model_known:
        return Match.NOT_RULED_OUT
    return Match.MATCHED


def reason_of(notice: RecallNotice, pack: Pack, found: Match) -> Message:
    """The reason of the hold that the notice sets on the pack."""
    if found is Match.MATCHED:
        return msg(HELD, number=notice.number, serial=pack.serial or "—")
    return msg(NOT_RULED_OUT, number=notice.number, serial=pack.serial or "—", date_code=pack.date_code or "—")
