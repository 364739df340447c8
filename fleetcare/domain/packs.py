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
from fleetcare.domain.spare_parts import Part


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
    LOST = "lost"
    STOLEN = "stolen"
    AT_MAKER = "at_maker"
    ON_THE_WAY = "on_the_way"


class VehicleStanding(StrEnum):
    """Whether a vehicle is here to be sent out."""

    IN_FLEET = "in_fleet"
    LOST = "lost"
    STOLEN = "stolen"
    ON_THE_WAY = "on_the_way"


AWAY = (PackStanding.LOST, PackStanding.STOLEN, PackStanding.AT_MAKER, PackStanding.ON_THE_WAY)
"""Standings of packs that are ours but not here."""


@dataclass(frozen=True, slots=True)
class PairRule:
    """What the maker asks of two packs side by side in one vehicle; what is not asked is False or None.

    `age_months` is the most by which their first days in service may differ, `match_v` the most by which
    their readings may differ before they are connected together.
    """

    same_model: bool = False
    age_months: int | None = None
    match_v: Decimal | None = None
    source: str = ""

    @property
    def asks(self) -> bool:
        """True where anything is asked at all."""
        return self.same_model or self.age_months is not None or self.match_v is not None


@dataclass(frozen=True, slots=True)
class Depot:
    """A place where vehicles stand; `time_zone` is an IANA name, `distances_km` the way to other depots by code.

    `country` (ISO 3166-1, two letters) and `subdivision` (its own code, ISO 3166-2) choose the public holidays;
    without a country every weekday is a working day.  `rules` is the set of rules it follows
    (`procedures.RuleSet`), `rules_text` its own text beside them.
    """

    code: str
    name: str
    time_zone: str = "Europe/London"
    distances_km: tuple[tuple[str, Decimal], ...] = added_later(())
    country: str = added_later("")
    subdivision: str = added_later("")
    rules: str = added_later("")
    rules_text: str = added_later("")


@dataclass(frozen=True, slots=True)
class Training:
    """A training that somebody had.  `level` is the level that rests on it (NONE: none does)."""

    item: str
    done_on: dt.date
    expires_on: dt.date | None = None
    level: Level = Level.NONE
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """A colleague, or (with `firm`) a contractor's. `name` stands outside the fingerprint's leaves, so that it
    can be withheld.
    """

    code: str
    name: str
    roles: tuple[Role, ...]
    level: Level = Level.NONE
    level_until: dt.date | None = None
    badge: str = ""
    trainings: tuple[Training, ...] = added_later(())
    firm: str = added_later("")

    def current_trainings(self) -> tuple[Training, ...]:
        """The newest training of each item."""
        newest: dict[str, Training] = {}
        for one in self.trainings:
            known = newest.get(one.item)
            if known is None or one.done_on >= known.done_on:
                newest[one.item] = one
        return tuple(newest.values())

    def level_on(self, day: dt.date) -> Level:
        """Competence on `day`: the granted level until its date, and no further than the trainings it rests on.

        The day on which something runs out no longer counts.
        """
        if self.level_until is not None and day >= self.level_until:
            return Level.NONE
        level = self.level
        for one in self.current_trainings():
            if one.level is Level.NONE or one.expires_on is None or day < one.expires_on:
                continue
            if level.covers(one.level):
                level = list(Level)[list(Level).index(one.level) - 1]
        return level


@dataclass(frozen=True, slots=True)
class PackModel:
    """What all packs of one make share.  A field left None is not stated by the maker.

    `limit_figures` are the maker's or the site's own figures per cell group, (limit name, volts,
    source); they win over every default.  Resistance limits need a baseline at a stated temperature.
    `charge_max_a` is the most charge current that the maker allows; the figure itself is still allowed.
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
    warranty_months: int | None = added_later(None)
    warranty_clause: str = added_later("")
    charge_max_a: Decimal | None = added_later(None)


@dataclass(frozen=True, slots=True)
class Pack:
    """One battery pack, by its label code; the serial is the maker's, `depot` where it lies when in no vehicle.

    `passport` is the text of the QR code of its EU battery passport, where it has one.
    `bought_on` to `currency` are its purchase; warranty months and clause win over those of its model.
    """

    code: str
    model: str
    serial: str = ""
    in_service_on: dt.date | None = None
    standing: PackStanding = PackStanding.IN_SERVICE
    shelf: str = ""
    note: str = ""
    bought_on: dt.date | None = added_later(None)
    warranty_months: int | None = added_later(None)
    warranty_clause: str = added_later("")
    invoice: str = added_later("")
    price_paid: Decimal | None = added_later(None)
    currency: str = added_later("")
    date_code: str = added_later("")
    passport: str = added_later("")
    depot: str = added_later("")


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One vehicle; it runs on `needs_packs` of its `bays`.  `pair_rule` is its maker's, None: as the pack model says.

    `charge_end_v` and `chemistry` of the packs it takes; None where only the packs found in it tell.  `serial` is the
    number on its frame.
    """

    code: str
    kind: VehicleKind
    depot: str
    voltage_class_v: int
    connector: str
    bays: int = 1
    needs_packs: int = 1
    bay_place: str = ""
    charge_end_v: Decimal | None = added_later(None)
    chemistry: Chemistry | None = added_later(None)
    standing: VehicleStanding = added_later(VehicleStanding.IN_FLEET)
    pair_rule: PairRule | None = added_later(None)
    serial: str = added_later("")


@dataclass(frozen=True, slots=True)
class Meter:
    """A voltmeter with its accuracy as ±(percent of reading + digits) on the range used.

    `digit_v` is one count of that range.  `refused_from` is set when the meter was found out.  `owner` is the
    firm of a contractor's meter, "" for the fleet's own.
    """

    code: str
    name: str
    accuracy_percent: Decimal
    accuracy_digits: int
    digit_v: Decimal
    calibration_due: dt.date | None = None
    refused_from: dt.date | None = None
    owner: str = added_later("")


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
    """A charger: the charge-end voltage and current it is rated for, and the models it belongs to.

    `rated_a` is None where its plate was not read.
    """

    code: str
    name: str
    rated_v: Decimal
    tolerance_percent: Decimal
    connector: str
    chemistry: Chemistry
    models: tuple[str, ...] = ()
    output_waits_for_pack: bool = False
    rated_a: Decimal | None = added_later(None)


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
    early_edge_days: int = added_later(56)
    decision_most_days: int = added_later(91)
    extension_allowed: bool = added_later(False)
    extension_most_days: int = added_later(3)
    watch_due_days: int = added_later(7)
    second_watch_due_days: int = added_later(4)
    trip_due_days: int = added_later(4)
    trips_due_days: int = added_later(2)
    edge_near_days: int = added_later(28)
    edge_due_days: int = added_later(4)
    long_rest_days: int = added_later(30)
    lay_up_look_days: int = added_later(60)
    lay_up_low_look_days: int = added_later(7)
    storage_low_group_v: Decimal = added_later(Decimal("3.60"))
    storage_high_group_v: Decimal = added_later(Decimal("3.85"))
    charge_minutes: int = added_later(360)
    keep_on_rack: int = added_later(1)


@dataclass(frozen=True, slots=True)
class ServiceNotes:
    """What the maker of a pack model describes for a trained workshop; `code` is the model's code.

    `fuse_body` is the type of the fuse the workshop can reach (`fuses.Body`), "" when there is none.
    `next_lower_fuse`: the maker allows the next lower standard rating.  `reset_by_fuse`: the maker
    describes a reset by drawing and re-seating that fuse.  `spark_said`: the maker says that a small
    spark on re-seating is normal.  `bleed_note` is how residual charge is bled, `driver` which screwdriver
    the cover takes, in the maker's words.  `connector_by_workshop` and `board_by_workshop`: the maker describes changing
    the pack's half of the connector, or its display board, to a trained workshop.  `charge_fuse_a`, `charge_fuse_body`
    and `charge_fuse_part` name the smaller fuse of the charging side, where the workshop can reach that one too.
    """

    code: str
    fuse_body: str = ""
    fuse_part: str = ""
    next_lower_fuse: bool = False
    reset_by_fuse: bool = False
    spark_said: bool = False
    bleed_note: str = ""
    driver: str = ""
    connector_by_workshop: bool = added_later(False)
    board_by_workshop: bool = added_later(False)
    pair_rule: PairRule | None = added_later(None)
    charge_fuse_a: Decimal | None = added_later(None)
    charge_fuse_body: str = added_later("")
    charge_fuse_part: str = added_later("")


@dataclass(frozen=True, slots=True)
class InspectionPlan:
    """What is inspected how often: `kind` is one of `inspection_plans.Kind`; "" as model or vehicle kind means all.

    `every_days` counts from when it was last done; a `rule` (RFC 5545, whole days, from `from_date` on) names the
    days instead, and what is done up to `early_days` before one counts for it.  `minutes` 0: by the depot's pace.
    """

    code: str
    kind: str
    model: str = ""
    vehicle_kind: str = ""
    every_days: int = 0
    rule: str = ""
    from_date: dt.date | None = None
    early_days: int = 3
    minutes: int = 0
    level: Level = Level.MAY_CHECK
    source: str = ""
    active: bool = True


@dataclass(frozen=True, slots=True)
class Roster:
    """How many minutes a person (by code) has for checks on each weekday from Monday on, and at which depot."""

    code: str
    depot: str
    minutes: tuple[int, ...]

    def minutes_on(self, day: dt.date) -> int:
        """The minutes of that weekday."""
        return self.minutes[day.weekday()] if day.weekday() < len(self.minutes) else 0


Thing = (
    Part
    | SiteText
    | InspectionPlan
    | Roster
    | ServiceNotes
    | Depot
    | Person
    | PackModel
    | Pack
    | Vehicle
    | Meter
    | TestLoad
    | Charger
    | SiteRules
)

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
    "part": Part,
    "inspection_plan": InspectionPlan,
    "roster": Roster,
    "site_text": SiteText,
}
