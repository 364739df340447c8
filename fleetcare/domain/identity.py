"""What is recorded about identity: labels and their issues, twins, commissioning, clocks, PINs.

A label is an issue of an identity, not the identity: the maker's serial on the case decides.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.wording import Message


@dataclass(frozen=True, slots=True)
class LabelIssued:
    """Label number `issue` of a pack was made; every lower issue is void from then on.

    A pack without such a record carries issue 1.  `serial_seen` is the serial that was read on the
    case by the person who asked for the label.
    """

    pack: str
    issue: int
    done_at: dt.datetime
    reason: str
    serial_seen: str = ""


@dataclass(frozen=True, slots=True)
class TwinFound:
    """A second pack carries the label of `pack`; `other` is the code it is kept under since."""

    pack: str
    other: str
    serial_read: str
    done_at: dt.datetime
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Commissioned:
    """A new pack was taken into the fleet: papers, pairing, pictures and its baseline check.

    `photos` are SHA-256 digests (hexadecimal) of pictures kept in the file; without one,
    `no_photo_reason` says why.  `baseline` is the record id of the first rested and loaded check.
    """

    pack: str
    done_at: dt.datetime
    marks: tuple[str, ...]
    invoice: str
    warranty_end: dt.date | None
    warranty_clause: str
    charger: str
    photos: tuple[str, ...]
    no_photo_reason: str
    baseline: str


@dataclass(frozen=True, slots=True)
class ReadTwice:
    """A questioned reading was taken again: `first_v` was asked about, `second_v` was saved in the check.

    `quantity` is "rested_v" or "loaded_v"; `question` is what was asked about the first.
    """

    pack: str
    quantity: str
    first_v: Decimal
    second_v: Decimal
    done_at: dt.datetime
    question: Message


class ClockAnswer(StrEnum):
    """What a person said about a clock in doubt."""

    CORRECTED = "corrected"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class ClockAnswered:
    """The PC's clock was in doubt: what it showed, the last record's time, and the answer.

    `true_at` is the true time as the person gave it (equal to `shown_at` when the clock was right).
    """

    shown_at: dt.datetime
    last_at: dt.datetime
    true_at: dt.datetime
    answer: ClockAnswer


_MEDIA = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))


def media_of(content: bytes) -> str | None:
    """The media type of a picture by its first bytes; None for what is neither JPEG nor PNG."""
    return next((name for start, name in _MEDIA if content.startswith(start)), None)


@dataclass(frozen=True, slots=True)
class PinChanged:
    """A person's PIN was set or taken away; neither PIN nor hash is in the record."""

    person: str
    is_set: bool


@dataclass(frozen=True, slots=True)
class NameWithheld:
    """A leaver's name is printed as initials from here on, or (`withheld` False) as a name again; `reason` says why."""

    person: str
    withheld: bool
    reason: str


def initials(name: str) -> str:
    """The initials of a name: "A. B."."""
    return " ".join(f"{part[0].upper()}." for part in name.replace("-", " ").split() if part)
