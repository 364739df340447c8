"""The things a fleet is made of: depots, people, vehicles, packs and the instruments used on them.

Each is a frozen value known by its code (what the label or badge says).  A change of any attribute
is a new record with the whole new value; history keeps every version.  Figures are exact decimals
in the unit that ends their name.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.added_later import added_later
from fleetcare.domain.procedures import SiteText


class Chemistry(StrEnum):
    """Cell chemistry, by the trade's abbreviations (NCA is judged as NMC)."""

    NMC = "NMC"
    NCA = "NCA"
    LFP = "LFP"
    LMO = "LMO"
    LTO = "LTO"


class Level(StrEnum):
    """Competence of a person; the words on screens are in the catalogue (`level.may_check` …)."""

    NONE = "none"
    MAY_CHECK = "may_check"
    MAY_RELEASE = "may_release"

    def covers(self, needed: Level) -> bool:
        """True when this level is `needed` or higher."""
        order = list(Level)
        return order.index(self) >= order.index(needed)


class Role(StrEnum):
    """What a person does here; one may hold several."""

    MECHANIC = "mechanic"
    DISPATCHER = "dispatcher"
    MANAGER = "manager"


class VehicleKind(StrEnum):
    """Kinds of vehicle, in trade words."""

    CARGO_BIKE = "cargo_bike"
    E_BIKE = "e_bike"
    E_SCOOTER = "e_scooter"


class PackStanding(StrEnum):
    """Whether a pack is still one of ours to use."""

    IN_SERVICE = "in_service"
    RETIRED = "retired"
    WRITTEN_OFF = "written_off"


@dataclass(frozen=True, slots=True)
class Depot:
    """A place where vehicles stand; `time_zone` is an IANA name.

    `rules` is the set of rules it follows (`procedures.RuleSet`), `rules_text` its own text beside them.
    """

    code: str
    name: str
    time_zone: str = "Europe/London"
    rules: str = added_later("")
    rules_text: str = added_later("")


@dataclass(frozen=True, slots=True)
class Person:
    """A colleague. `name` stands outside the fingerprint's leaves, so that it can be withheld."""

    code: str
    name: str
    roles: tuple[Role, ...]
    level: Level = Level.NONE
    level_until: dt.date | None = None
    badge: str = ""

    def level_on(self, day: dt.date) -> Level:
        """Competence on `day`; the expiry date itself no longer counts."""
        expired = self.level_until is not None and day >= self.level_until
        return Level.NONE if expired else self.level


@dataclass(frozen=True, slots=True)
class PackModel:
    """What all packs of one make share.  A field left None is not stated by the maker.

    `limit_figures` are the maker's or the site's own figures per cell group, (limit name, volts,
    source); they win over every default.  Resistance limits need a baseline at a stated temperature.
    """

    code: str
    name: str
    chemistry: Chemistry
    series_count: int
    voltage_class_v: int
    full_v: Decimal
    capacity_ah: Decimal
    connector: str
    fixed: bool = False
    baseline_resistance_ohm: Decimal | None = None
    baseline_c: Decimal | None = None
    output_live_when_off: bool | None = None
    wake_note: str = ""
    reset_note: str = ""
    bms_limit_a: Decimal | None = None
    fuse_a: Decimal | None = None
    fuse_dc_v: Decimal | None = None
    charge_min_c: Decimal = Decimal("0")
    charge_max_c: Decimal = Decimal("45")
    storage_low_v: Decimal | None = None
    storage_high_v: Decimal | None = None
    price: Decimal | None = None
    currency: str = ""
    limit_figures: tuple[tuple[str, Decimal, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Pack:
    """One battery pack, by its label code; the serial is the maker's.

    `passport` is the text of the QR code of its EU battery passport, where it has one.
    """

    code: str
    model: str
    serial: str = ""
    in_service_on: dt.date | None = None
    standing: PackStanding = PackStanding.IN_SERVICE
    shelf: str = ""
    note: str = ""
    date_code: str = added_later("")
    passport: str = added_later("")


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One vehicle; it runs on `needs_packs` of its `bays`."""

    code: str
    kind: VehicleKind
    depot: str
    voltage_class_v: int
    connector: str
    bays: int = 1
    needs_packs: int = 1
    bay_place: str = ""


@dataclass(frozen=True, slots=True)
class Meter:
    """A voltmeter with its accuracy as ±(percent of reading + digits) on the range used.

    `digit_v` is one count of that range.  `refused_from` is set when the meter was found out.
    """

    code: str
    name: str
    accuracy_percent: Decimal
    accuracy_digits: int
    digit_v: Decimal
    calibration_due: dt.date | None = None
    refused_from: dt.date | None = None


@dataclass(frozen=True, slots=True)
class TestLoad:
    """The load of the loaded check: its actual amps, how long it is held, and its own accuracy."""

    __test__ = False

    code: str
    name: str
    load_a: Decimal
    hold_s: int
    accuracy_percent: Decimal = Decimal("1")
    proved_on: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Charger:
    """A charger: the charge-end voltage it is rated for, and the models it belongs to."""

    code: str
    name: str
    rated_v: Decimal
    tolerance_percent: Decimal
    connector: str
    chemistry: Chemistry
    models: tuple[str, ...] = ()
    output_waits_for_pack: bool = False


@dataclass(frozen=True, slots=True)
class SiteRules:
    """The settings of one site.  A change is a record, and loosening one shows in the history.

    `resistance_watch_ohm` and `resistance_pull_ohm` are fixed figures for a stated load and hold;
    where they are None the ratios to the model's own baseline apply.  `sources` says for a setting
    where it comes from; a setting without an entry is this program's proposal.
    """

    code: str = "SITE"
    name: str = ""
    check_due_days: int = 7
    grounded_after_days: int = 14
    minimum_rest_minutes: int = 60
    loaded_minimum_c: Decimal = Decimal("10")
    resistance_watch_ratio: Decimal = Decimal("1.30")
    resistance_pull_ratio: Decimal = Decimal("1.60")
    resistance_watch_ohm: Decimal | None = None
    resistance_pull_ohm: Decimal | None = None
    resistance_load_a: Decimal | None = None
    resistance_hold_s: int | None = None
    jump_per_group_v: Decimal = Decimal("0.05")
    trips_any_pull: int = 3
    trips_unexplained_pull: int = 2
    trip_window_days: int = 30
    comparable_checks: int = 6
    quarantine_alarm_days: int = 7
    stale_board_minutes: int = 15
    rules_followed: str = ""
    limit_figures: tuple[tuple[str, Decimal, str], ...] = ()
    sources: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ServiceNotes:
    """What the maker of a pack model describes for a trained workshop; `code` is the model's code.

    `fuse_body` is the type of the fuse the workshop can reach (`fuses.Body`), "" when there is none.
    `next_lower_fuse`: the maker allows the next lower standard rating.  `reset_by_fuse`: the maker
    describes a reset by drawing and re-seating that fuse.  `spark_said`: the maker says that a small
    spark on re-seating is normal.  `bleed_note` is how residual charge is bled, `driver` which screwdriver
    the cover takes, in the maker's words.
    """

    code: str
    fuse_body: str = ""
    fuse_part: str = ""
    next_lower_fuse: bool = False
    reset_by_fuse: bool = False
    spark_said: bool = False
    bleed_note: str = ""
    driver: str = ""


Thing = SiteText | ServiceNotes | Depot | Person | PackModel | Pack | Vehicle | Meter | TestLoad | Charger | SiteRules

THING_CLASSES: dict[str, type] = {
    "depot": Depot,
    "person": Person,
    "pack_model": PackModel,
    "pack": Pack,
    "vehicle": Vehicle,
    "meter": Meter,
    "test_load": TestLoad,
    "charger": Charger,
    "site_rules": SiteRules,
    "service_notes": ServiceNotes,
    "site_text": SiteText,
}
