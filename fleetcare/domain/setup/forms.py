"""Which fields the set-up form of each kind of thing has, in which groups, and what may be typed into them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from enum import StrEnum

from fleetcare.domain.limits import GROUP_NAMES
from fleetcare.domain.packs import THING_CLASSES, SiteRules


class Entry(StrEnum):
    """What is typed or chosen in a field."""

    TEXT = "text"
    CODE = "code"
    WHOLE = "whole"
    VOLTS = "volts"
    AMPS = "amps"
    OHMS = "ohms"
    AMP_HOURS = "amp_hours"
    CELSIUS = "celsius"
    PERCENT = "percent"
    MONEY = "money"
    RATIO = "ratio"
    DATE = "date"
    YES = "yes"
    CHOICE = "choice"
    MANY = "many"


UNITS = {
    Entry.VOLTS: "V", Entry.AMPS: "A", Entry.OHMS: "Ω", Entry.AMP_HOURS: "Ah", Entry.CELSIUS: "°C", Entry.PERCENT: "%",
}  # fmt: skip
"""What stands behind a field."""


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One field: `name` is the attribute it fills, `start` what an empty form begins with, `unit` what stands behind it.

    `wide` asks for a whole line of the form.
    """

    name: str
    entry: Entry = Entry.TEXT
    needed: bool = False
    start: str = ""
    unit: str = ""
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that stand together under a heading."""

    name: str
    fields: tuple[FieldSpec, ...]


OWN_LIMITS = tuple(name for name in GROUP_NAMES if name != "full")
"""Limits per group for which a maker's or the site's own figure may be typed; full is the model's charge-end voltage."""

NOTES_FIELDS = (
    "fuse_body", "fuse_part", "next_lower_fuse", "reset_by_fuse", "spark_said", "bleed_note", "driver",
    "connector_by_workshop", "board_by_workshop", "charge_fuse_a", "charge_fuse_body", "charge_fuse_part",
)  # fmt: skip
"""Fields of a pack model's form that are kept in its service notes."""


def limit_field(name: str) -> str:
    """The field of the own figure of a limit."""
    return f"limit_{name}"


def source_field(name: str) -> str:
    """The field of where that figure comes from."""
    return f"source_{name}"


def _limits() -> Iterator[FieldSpec]:
    for name in OWN_LIMITS:
        yield FieldSpec(limit_field(name), Entry.VOLTS, unit="V per group")
        yield FieldSpec(source_field(name))


def _text(*names: str, wide: bool = False) -> tuple[FieldSpec, ...]:
    return tuple(FieldSpec(name, wide=wide) for name in names)


def _days(*names: str, unit: str = "days") -> tuple[FieldSpec, ...]:
    return tuple(FieldSpec(name, Entry.WHOLE, True, str(getattr(SiteRules(), name)), unit) for name in names)


def _setting(name: str, entry: Entry, unit: str = "", *, needed: bool = True) -> FieldSpec:
    default = getattr(SiteRules(), name)
    return FieldSpec(name, entry, needed, "" if default is None else f"{default:f}", unit)


_CODE = FieldSpec("code", Entry.CODE, needed=True)
_NAME = FieldSpec("name", needed=True)
_LIKE = FieldSpec("like", Entry.CHOICE)

FORMS: dict[str, tuple[Group, ...]] = {
    "depot": (
        Group("what", (_CODE, _NAME, FieldSpec("time_zone", needed=True, start="Europe/London"))),
        Group("calendar", (*_text("country", "subdivision"), FieldSpec("distances_km", wide=True))),
    ),
    "pack_model": (
        Group("identity", (
            _CODE, _NAME, FieldSpec("chemistry", Entry.CHOICE, needed=True),
            FieldSpec("series_count", Entry.WHOLE, needed=True), FieldSpec("full_v", Entry.VOLTS, needed=True),
            FieldSpec("voltage_class_v", Entry.WHOLE, needed=True, unit="V"),
            FieldSpec("capacity_ah", Entry.AMP_HOURS, needed=True), FieldSpec("connector", Entry.CODE, needed=True),
            FieldSpec("fixed", Entry.YES),
        )),
        Group("limits", tuple(_limits())),
        Group("resistance", (FieldSpec("baseline_resistance_ohm", Entry.OHMS), FieldSpec("baseline_c", Entry.CELSIUS))),
        Group("fuse", (
            FieldSpec("bms_limit_a", Entry.AMPS), FieldSpec("fuse_a", Entry.AMPS),
            FieldSpec("fuse_dc_v", Entry.VOLTS, unit="V DC"), FieldSpec("fuse_body", Entry.CHOICE), *_text("fuse_part"),
            FieldSpec("next_lower_fuse", Entry.YES), FieldSpec("charge_fuse_a", Entry.AMPS),
            FieldSpec("charge_fuse_body", Entry.CHOICE), *_text("charge_fuse_part"),
        )),
        Group("wake", (
            FieldSpec("output_live_when_off", Entry.CHOICE), *_text("wake_note", "reset_note", wide=True),
            FieldSpec("reset_by_fuse", Entry.YES, wide=True), *_text("bleed_note", "driver"),
            FieldSpec("spark_said", Entry.YES), FieldSpec("connector_by_workshop", Entry.YES),
            FieldSpec("board_by_workshop", Entry.YES),
        )),
        Group("charge", (
            FieldSpec("charge_min_c", Entry.CELSIUS, start="0"), FieldSpec("charge_max_c", Entry.CELSIUS, start="45"),
            FieldSpec("charge_max_a", Entry.AMPS), FieldSpec("storage_low_v", Entry.VOLTS),
            FieldSpec("storage_high_v", Entry.VOLTS),
        )),
        Group("price", (
            FieldSpec("price", Entry.MONEY), *_text("currency"), FieldSpec("warranty_months", Entry.WHOLE, unit="months"),
            FieldSpec("warranty_clause", wide=True),
        )),
    ),
    "vehicle": (
        Group("what", (
            _CODE, FieldSpec("kind", Entry.CHOICE, needed=True), FieldSpec("depot", Entry.CHOICE, needed=True),
            *_text("serial", "bay_place"),
        )),
        Group("takes", (
            _LIKE, FieldSpec("voltage_class_v", Entry.WHOLE, needed=True, unit="V"),
            FieldSpec("connector", Entry.CODE, needed=True), FieldSpec("charge_end_v", Entry.VOLTS),
            FieldSpec("chemistry", Entry.CHOICE), FieldSpec("bays", Entry.WHOLE, needed=True, start="1"),
            FieldSpec("needs_packs", Entry.WHOLE, needed=True, start="1"),
        )),
    ),
    "charger": (
        Group("what", (_CODE, _NAME)),
        Group("output", (
            _LIKE, FieldSpec("rated_v", Entry.VOLTS, needed=True), FieldSpec("rated_a", Entry.AMPS),
            FieldSpec("tolerance_percent", Entry.PERCENT, needed=True, start="1"),
            FieldSpec("connector", Entry.CODE, needed=True), FieldSpec("chemistry", Entry.CHOICE, needed=True),
            FieldSpec("output_waits_for_pack", Entry.YES, wide=True), FieldSpec("models", Entry.MANY, wide=True),
        )),
    ),
    "meter": (
        Group("what", (_CODE, _NAME)),
        Group("accuracy", (
            FieldSpec("accuracy_percent", Entry.PERCENT, needed=True),
            FieldSpec("accuracy_digits", Entry.WHOLE, needed=True, unit="digits"),
            FieldSpec("digit_v", Entry.VOLTS, needed=True, start="0.01"), FieldSpec("calibration_due", Entry.DATE),
        )),
    ),
    "test_load": (
        Group("what", (_CODE, _NAME)),
        Group("load", (
            FieldSpec("load_a", Entry.AMPS, needed=True), FieldSpec("hold_s", Entry.WHOLE, needed=True, start="10", unit="s"),
            FieldSpec("accuracy_percent", Entry.PERCENT, needed=True, start="1"), FieldSpec("proved_on", Entry.DATE),
        )),
    ),
    "site_rules": (
        Group("what", (FieldSpec("code", Entry.CODE, True, "SITE"), _NAME, FieldSpec("why", wide=True))),
        Group("due", (
            *_days("check_due_days", "grounded_after_days", "watch_due_days", "second_watch_due_days", "trip_due_days",
                   "trips_due_days", "edge_near_days", "edge_due_days"),
            FieldSpec("extension_allowed", Entry.YES), *_days("extension_most_days"),
        )),
        Group("judging", (
            *_days("minimum_rest_minutes", unit="minutes"), _setting("loaded_minimum_c", Entry.CELSIUS),
            _setting("resistance_watch_ratio", Entry.RATIO, "×"), _setting("resistance_pull_ratio", Entry.RATIO, "×"),
            _setting("jump_per_group_v", Entry.VOLTS), *_days("comparable_checks", unit="checks"),
            _setting("resistance_watch_ohm", Entry.OHMS, needed=False),
            _setting("resistance_pull_ohm", Entry.OHMS, needed=False),
            _setting("resistance_load_a", Entry.AMPS, needed=False),
            FieldSpec("resistance_hold_s", Entry.WHOLE, unit="s"),
        )),
        Group("trips", (
            *_days("trips_any_pull", "trips_unexplained_pull", unit="trips"), *_days("trip_window_days"),
            *_days("early_edge_days", "decision_most_days", "quarantine_alarm_days"),
        )),
        Group("storage", (
            *_days("lay_up_look_days", "lay_up_low_look_days"), _setting("storage_low_group_v", Entry.VOLTS),
            _setting("storage_high_group_v", Entry.VOLTS), *_days("charge_minutes", unit="minutes"),
            *_days("keep_on_rack", unit=""), *_days("long_rest_days"), *_days("stale_board_minutes", unit="minutes"),
        )),
    ),
}  # fmt: skip
"""The forms by class of thing, in the order in which things build on each other."""

NOT_KEPT = ("like", "why")
"""Fields that only fill others, or say why the others change."""


def groups_of(kind: str) -> tuple[Group, ...]:
    """The groups of a form, with the fields that things of this kind have."""
    known = {one.name for one in fields(THING_CLASSES[kind])} | set(NOT_KEPT)
    if kind == "pack_model":
        known |= {*NOTES_FIELDS, *(one.name for one in _limits())}
    return tuple(Group(one.name, tuple(f for f in one.fields if f.name in known)) for one in FORMS[kind])


def fields_of(kind: str) -> dict[str, FieldSpec]:
    """The fields of a form by name."""
    return {field.name: field for group in groups_of(kind) for field in group.fields}


def empty(kind: str) -> dict[str, str]:
    """What a new form begins with."""
    return {name: field.start for name, field in fields_of(kind).items()}
