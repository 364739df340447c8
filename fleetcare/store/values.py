"""What the store hands out: plain frozen values, never a row."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.checks import HoldClass, LookItem, VoltageCheck
from fleetcare.domain.proving import MeterFoundOut
from fleetcare.domain.verdicts import Verdict, VerdictLevel
from fleetcare.domain.wording import Message


@dataclass(frozen=True, slots=True)
class Appended:
    """Where a new record stands."""

    record_id: str
    position: int


@dataclass(frozen=True, slots=True)
class StoredCheck:
    """A voltage check with everything that was recorded around it.

    `void_position` is None while the entry stands; `corrects` is the id of the entry it replaced.
    `doubt` is set when its meter was found out and this reading is since it was last good.
    """

    record_id: str
    position: int
    check: VoltageCheck
    verdict: Verdict
    meter_state: Message
    look_over: tuple[LookItem, ...] | None
    entered_at: dt.datetime
    by: str
    level: str
    station: str
    source: str
    void_position: int | None
    void_reason: str
    corrects: str | None
    doubt: MeterFoundOut | None = None


@dataclass(frozen=True, slots=True)
class LatestCheck:
    """The newest standing check of a pack, and when it last had a valid and a passed one.

    `bench_c` is read only for packs that a resistance holds; None for all others and where it was not noted.
    """

    position: int
    done_at: dt.datetime
    level: VerdictLevel
    rested_v: Decimal
    resistance_ohm: Decimal | None
    last_valid: dt.datetime | None
    valid_rested_v: Decimal | None
    last_pass: dt.datetime | None
    bench_c: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a pack was last found; `vehicle` None with an empty shelf means nobody knows."""

    vehicle: str | None
    bay: int
    shelf: str
    since: dt.datetime
    known: bool


@dataclass(frozen=True, slots=True)
class StoredHold:
    """An open hold on a vehicle or a pack."""

    hold_id: str
    subject_class: str
    subject: str
    hold_class: HoldClass
    reason: Message
    since: dt.datetime
    remark: str
    place: str
    position: int


@dataclass(frozen=True, slots=True)
class StoredEvent:
    """One record that touches a subject, decoded; `body` is the dataclass of its kind.

    `struck` is True for a row of an import that was taken back.
    """

    record_id: str
    position: int
    kind: str
    done_at: dt.datetime
    entered_at: dt.datetime
    by: str
    body: object
    source: str = "typed"
    struck: bool = False


@dataclass(frozen=True, slots=True)
class Draft:
    """What somebody typed and did not save."""

    draft_id: str
    person: str
    station: str
    subject: str
    saved_at: dt.datetime
    body: str


@dataclass(frozen=True, slots=True)
class Touched:
    """Packs and vehicles touched by records after a position, and the newest position."""

    position: int
    packs: frozenset[str]
    vehicles: frozenset[str]


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """The result of verifying a file.  `first_bad` is the first position that does not match, or None."""

    records: int
    root_hex: str
    first_bad: int | None
    faults: tuple[Message, ...]

    @property
    def good(self) -> bool:
        """True when every record, hash and derived row matches."""
        return not self.faults
