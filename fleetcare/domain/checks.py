"""What a person measured, saw or reported about a pack or a vehicle.

Readings are exact decimals as typed.  A value that cannot be a measurement is refused here;
whether a plausible value is good is decided in verdicts.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.added_later import added_later
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import Message


class CheckKind(StrEnum):
    """In which state the pack was read."""

    RESTED_FULL = "rested_full"
    STORED = "stored"
    AS_FOUND = "as_found"


class RestBand(StrEnum):
    """How long the pack had rested since charge or ride; only like is compared with like."""

    UNDER_15_MIN = "under_15_min"
    MIN_15_60 = "min_15_60"
    HOURS_1_3 = "hours_1_3"
    OVER_3_H = "over_3_h"
    OVERNIGHT = "overnight"
    UNKNOWN = "unknown"

    @property
    def least_minutes(self) -> int | None:
        """The shortest rest the band stands for, in minutes; None when unknown."""
        return _LEAST_MINUTES.get(self)


_LEAST_MINUTES = {
    RestBand.UNDER_15_MIN: 0,
    RestBand.MIN_15_60: 15,
    RestBand.HOURS_1_3: 60,
    RestBand.OVER_3_H: 180,
    RestBand.OVERNIGHT: 480,
}


class LookItem(StrEnum):
    """Items of the visual inspection, in the order of screen and sheet."""

    HOT = "hot"
    SWOLLEN = "swollen"
    SMELL = "smell"
    HISS = "hiss"
    SMOKE = "smoke"
    LEAK = "leak"
    CRACK = "crack"
    WATER_INSIDE = "water_inside"
    DROPPED = "dropped"
    CONTACTS_BURNT = "contacts_burnt"
    LEAD_CHAFED = "lead_chafed"
    LATCH_LOOSE = "latch_loose"
    LABEL_UNREADABLE = "label_unreadable"

    @property
    def danger(self) -> bool:
        """True where the only next step is stop and quarantine."""
        return self in DANGER_ITEMS


DANGER_ITEMS: frozenset[LookItem] = frozenset(
    {
        LookItem.HOT,
        LookItem.SWOLLEN,
        LookItem.SMELL,
        LookItem.HISS,
        LookItem.SMOKE,
        LookItem.LEAK,
        LookItem.CRACK,
        LookItem.WATER_INSIDE,
        LookItem.DROPPED,
    }
)


@dataclass(frozen=True, slots=True)
class VoltageCheck:
    """One voltage check of one pack.

    `rested_v` is the open reading; `loaded_v` with `load_a` and `hold_s` belong together or are all
    None.  `done_at` carries its offset.  Raises EntryRefused for what cannot be a measurement.
    """

    pack: str
    kind: CheckKind
    rest: RestBand
    rested_v: Decimal
    done_at: dt.datetime
    meter: str
    vehicle: str | None = None
    loaded_v: Decimal | None = None
    load_a: Decimal | None = None
    hold_s: int | None = None
    bench_c: Decimal | None = None
    test_load: str | None = None
    remark: str = ""
    questioned: tuple[tuple[str, str], ...] = field(default=())

    def __post_init__(self) -> None:
        for name in ("rested_v", "loaded_v", "load_a", "bench_c"):
            value: Decimal | None = getattr(self, name)
            if value is not None and not value.is_finite():
                raise EntryRefused("entry.not_finite", field=name)
        if self.rested_v < 0:
            raise EntryRefused("entry.negative_v", field="rested_v", typed_v=self.rested_v)
        if self.loaded_v is not None and self.loaded_v < 0:
            raise EntryRefused("entry.negative_v", field="loaded_v", typed_v=self.loaded_v)
        if (self.loaded_v is None) != (self.load_a is None):
            raise EntryRefused("entry.load_incomplete", field="load_a" if self.load_a is None else "loaded_v")
        if self.load_a is not None and self.load_a <= 0:
            raise EntryRefused("entry.load_not_positive", field="load_a", typed_a=self.load_a)
        if self.loaded_v is not None and self.loaded_v > self.rested_v:
            raise EntryRefused(
                "entry.loaded_above_rested", field="loaded_v", loaded_v=self.loaded_v, rested_v=self.rested_v
            )
        if self.done_at.tzinfo is None:
            raise ValueError("done_at needs its offset")

    @property
    def sag_v(self) -> Decimal | None:
        """Rested minus loaded of the same visit and meter, in volts."""
        return None if self.loaded_v is None else self.rested_v - self.loaded_v

    @property
    def resistance_ohm(self) -> Decimal | None:
        """Loaded resistance, sag over amps, exact to 28 digits; None without a loaded reading.

        Source: R = (U1 - U2) / (I2 - I1) with I1 = 0, the form of IEC 61960.
        """
        sag = self.sag_v
        return None if sag is None or self.load_a is None else sag / self.load_a


@dataclass(frozen=True, slots=True)
class LookOver:
    """A visual inspection: every item was looked at; `found` holds those that were not good."""

    pack: str
    done_at: dt.datetime
    vehicle: str | None = None
    found: tuple[LookItem, ...] = ()
    remark: str = ""
    procedure: str = added_later("")

    @property
    def danger(self) -> bool:
        """True when any finding means stop and quarantine."""
        return any(item.danger for item in self.found)


class TripCause(StrEnum):
    """Why the pack switched itself off, in trade terms."""

    OVER_CURRENT = "over_current"
    SHORT_CIRCUIT = "short_circuit"
    UNDER_VOLTAGE = "under_voltage"
    REGENERATION = "regeneration"
    OVER_VOLTAGE_CHARGE = "over_voltage_charge"
    OVER_TEMPERATURE = "over_temperature"
    CONNECTOR = "connector"
    MOISTURE = "moisture"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Trip:
    """The pack opened by itself; `explained` is the judgement of the person who recorded it."""

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    cause: TripCause
    explained: bool
    remark: str = ""


class HoldClass(StrEnum):
    """Why something may not be used."""

    DANGER = "danger"
    FAULT = "fault"
    ACTION_DUE = "action_due"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Hold:
    """A vehicle grounded, or a pack held or quarantined.  Anyone may set one.

    `subject_class` is "vehicle" or "pack" (later also "charger", "meter").  `reason` says which
    rule or finding; `remark` is the person's own words.  `cause` is the id of the record that led
    to it (a check, a trip), or None.
    """

    subject_class: str
    subject: str
    hold_class: HoldClass
    done_at: dt.datetime
    reason: Message
    remark: str = ""
    place: str = ""
    cause: str | None = None


@dataclass(frozen=True, slots=True)
class Release:
    """Ends one hold.  Needs the level that may release, and a reason; danger has no release here."""

    hold: str
    done_at: dt.datetime
    reason: str


@dataclass(frozen=True, slots=True)
class FoundIn:
    """A pack seen in a vehicle's bay (or, with `vehicle` None, on a shelf) at `done_at`."""

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    bay: int = 1
    shelf: str = ""
