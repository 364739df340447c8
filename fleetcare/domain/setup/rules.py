"""What a thing must satisfy before it goes on record: each refusal names the rule and the number."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterator, Mapping
from decimal import Decimal
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fleetcare.domain import fuses, intake
from fleetcare.domain.errors import EntryRefused, refuse_together
from fleetcare.domain.fuses import Body, FuseSpec
from fleetcare.domain.labels import is_code
from fleetcare.domain.limits import GROUP_LIMITS, GROUP_NAMES, resolve
from fleetcare.domain.packs import (
    Charger,
    Depot,
    Meter,
    PackModel,
    ServiceNotes,
    SiteRules,
    TestLoad,
    Vehicle,
)
from fleetcare.domain.reset_job import BENCH_LIMIT_V
from fleetcare.domain.setup.forms import OWN_LIMITS, limit_field
from fleetcare.domain.setup.naming import setting_named
from fleetcare.domain.wording import msg, show_value

MOST_GROUPS = 60
MOST_OHM = Decimal("2")
"""A baseline above this is taken for milliohms (proposal of this program)."""
MOST_BAYS = 4
MOST_TOLERANCE = Decimal("5")
"""Percent of the rated output.  More than this is no tolerance of a charger for lithium packs (proposal)."""
MOST_METER_PERCENT = Decimal("5")
MOST_HOLD_S = 120
MOST_MONTHS = 240
MOST_DAYS = 400
FEWEST_CHECKS = 3
"""Fewer comparable checks than this allow no projection (proposal of this program)."""

_ORDER = (
    "implausible_below", "do_not_charge", "low_hold", "rested_full_pull", "rested_full_pass", "full", "over_full_query",
    "over_full_stop",
)  # fmt: skip
"""Limits per group from the lowest to the highest."""
_NAMED = re.compile(r"[A-Z][A-Z0-9-]{0,19}")
_CURRENCY = re.compile(r"[A-Z]{3}")


def refuse_code(code: str, *, scanned: bool) -> None:
    """Raises EntryRefused for a code that no label could carry (`scanned`), or that is no plain code at all."""
    if scanned and not (is_code(code) and "*" not in code and "/" not in code and len(code) <= 20):
        raise EntryRefused("setup.code_scanned", field="code", typed=code)
    if not _NAMED.fullmatch(code):
        raise EntryRefused("setup.code_named", field="code", typed=code)


# pack models


def refuse_model(model: PackModel, notes: ServiceNotes) -> None:
    """Raises EntryRefused for the first figure of a pack model that contradicts another one or a rule."""
    refuse_code(model.code, scanned=False)
    _refuse_groups(model)
    _refuse_order(model)
    _refuse_baseline(model)
    refuse_fuse(model, notes)
    refuse_charge_fuse(notes)
    _refuse_reset(model, notes)
    if model.charge_min_c is None or model.charge_max_c is None:
        raise EntryRefused("setup.window_open", field="charge_min_c" if model.charge_min_c is None else "charge_max_c")
    if model.charge_min_c >= model.charge_max_c:
        raise EntryRefused("setup.window", field="charge_max_c", low_c=model.charge_min_c, high_c=model.charge_max_c)
    _refuse_storage(model)
    _refuse_price(model)


def _refuse_groups(model: PackModel) -> None:
    """Charge-end volts per group lie between the pull line and the stop limit, and the class fits the groups."""
    if not 1 <= model.series_count <= MOST_GROUPS:
        raise EntryRefused("setup.groups", field="series_count", typed=model.series_count, most=MOST_GROUPS)
    if model.full_v <= 0:
        raise EntryRefused("setup.above_zero", field="full_v", typed_v=model.full_v)
    limits = {one.name: one.value for one in GROUP_LIMITS[model.chemistry]}
    limits |= {name: volts for name, volts, _ in model.limit_figures if name != "full"}
    group_v = model.full_v / model.series_count
    if not limits["rested_full_pull"] <= group_v <= limits["over_full_stop"]:
        guess = max(round(model.full_v / limits["full"]), 1)
        raise EntryRefused(
            "setup.per_group", field="full_v", full_v=model.full_v, groups=model.series_count, each_v=per_group(model),
            chemistry=model.chemistry.value, usual_v=limits["full"], pull_v=limits["rested_full_pull"],
            stop_v=limits["over_full_stop"], guess=guess,
        )  # fmt: skip
    low, high = limits["low_hold"] * model.series_count, model.full_v
    if not low <= model.voltage_class_v <= high:
        raise EntryRefused(
            "setup.class", field="voltage_class_v", volts=model.voltage_class_v, groups=model.series_count, low_v=low,
            full_v=high,
        )  # fmt: skip


def per_group(model: PackModel) -> Decimal:
    """The charge-end voltage of one group, to 0.01 V."""
    return (model.full_v / model.series_count).quantize(Decimal("0.01"))


def _refuse_order(model: PackModel) -> None:
    """The limits of one model stand in their order, from questioned to stop."""
    own = {name for name, _, _ in model.limit_figures}
    found = resolve(model, SiteRules())
    for lower, upper in pairwise(_ORDER):
        low_v, high_v = found.volts(lower).value, found.volts(upper).value
        if low_v <= high_v:
            continue
        at = lower if lower in own or upper not in OWN_LIMITS else upper
        raise EntryRefused(
            "setup.order", field="full_v" if at == "full" else limit_field(at), lower=msg(f"limit.{lower}"),
            upper=msg(f"limit.{upper}"), low_v=_each(low_v, model), high_v=_each(high_v, model),
        )  # fmt: skip


def _each(volts: Decimal, model: PackModel) -> Decimal:
    return (volts / model.series_count).quantize(Decimal("0.01"))


def _refuse_baseline(model: PackModel) -> None:
    ohm, at_c = model.baseline_resistance_ohm, model.baseline_c
    if ohm is not None and ohm > MOST_OHM:
        raise EntryRefused("setup.milliohm", field="baseline_resistance_ohm", typed_ohm=ohm, most_ohm=MOST_OHM)
    if (ohm is None) != (at_c is None):
        missing = "baseline_c" if at_c is None else "baseline_resistance_ohm"
        raise EntryRefused("setup.baseline_pair", field=missing)


def refuse_fuse(model: PackModel, notes: ServiceNotes) -> None:
    """The rules of fuses hold for the maker's own figures too: amps, DC volts at or above full, body, part number."""
    if model.fuse_a is None:
        for name, has in (("fuse_dc_v", model.fuse_dc_v is not None), ("fuse_body", bool(notes.fuse_body)),
                          ("fuse_part", bool(notes.fuse_part)), ("next_lower_fuse", notes.next_lower_fuse)):  # fmt: skip
            if has:
                raise EntryRefused("setup.fuse_amps", field="fuse_a", what=msg(f"setup.{name}"))
        return
    if not notes.fuse_body:
        raise EntryRefused("setup.fuse_body_needed", field="fuse_body")
    if model.fuse_dc_v is None:
        raise EntryRefused("fuse.needs_volts", field="fuse_dc_v", full_v=model.full_v)
    if model.fuse_dc_v < model.full_v:
        raise EntryRefused("fuse.low_volts", field="fuse_dc_v", fuse_vdc=model.fuse_dc_v, full_v=model.full_v)
    spec = FuseSpec(model.fuse_a, model.fuse_dc_v, Body(notes.fuse_body), notes.fuse_part)
    if fuses.unusual(spec) and not notes.fuse_part.strip():
        raise EntryRefused("fuse.unusual", field="fuse_part", rated_amp=model.fuse_a)


def refuse_charge_fuse(notes: ServiceNotes) -> None:
    """The same for the smaller fuse of the charging side; its DC volts are judged when one is fitted."""
    if notes.charge_fuse_a is None:
        for name in ("charge_fuse_body", "charge_fuse_part"):
            if getattr(notes, name):
                raise EntryRefused("setup.fuse_amps", field="charge_fuse_a", what=msg(f"setup.{name}"))
        return
    if not notes.charge_fuse_body:
        raise EntryRefused("setup.fuse_body_needed", field="charge_fuse_body")
    spec = FuseSpec(notes.charge_fuse_a, None, Body(notes.charge_fuse_body), notes.charge_fuse_part)
    if fuses.unusual(spec) and not notes.charge_fuse_part.strip():
        raise EntryRefused("fuse.unusual", field="charge_fuse_part", rated_amp=notes.charge_fuse_a)


def _refuse_reset(model: PackModel, notes: ServiceNotes) -> None:
    """The guided reset only where the maker describes it, for a fuse on record, at most 60 V DC."""
    if not notes.reset_by_fuse:
        return
    if not model.reset_note.strip():
        raise EntryRefused("setup.reset_described", field="reset_note")
    if model.fuse_a is None:
        raise EntryRefused("setup.reset_fuse", field="fuse_a")
    if model.full_v > BENCH_LIMIT_V:
        raise EntryRefused("setup.reset_volts", field="reset_by_fuse", full_v=model.full_v, limit_v=BENCH_LIMIT_V)


def _refuse_storage(model: PackModel) -> None:
    low, high = model.storage_low_v, model.storage_high_v
    if low is None and high is None:
        return
    if low is None or high is None:
        raise EntryRefused("setup.storage_pair", field="storage_low_v" if low is None else "storage_high_v")
    floor = resolve(model, SiteRules()).volts("low_hold").value
    if low >= high:
        raise EntryRefused("setup.storage_order", field="storage_high_v", low_v=low, high_v=high)
    if low < floor:
        raise EntryRefused("setup.storage_low", field="storage_low_v", low_v=low, hold_v=floor)
    if high > model.full_v:
        raise EntryRefused("setup.storage_high", field="storage_high_v", high_v=high, full_v=model.full_v)


def _refuse_price(model: PackModel) -> None:
    if model.currency and not _CURRENCY.fullmatch(model.currency):
        raise EntryRefused("setup.currency_code", field="currency", typed=model.currency)
    if model.price is not None and not model.currency:
        raise EntryRefused("setup.price_currency", field="currency")
    if model.warranty_months is not None and model.warranty_months > MOST_MONTHS:
        raise EntryRefused("setup.months", field="warranty_months", typed=model.warranty_months, most=MOST_MONTHS)


# the other things


def refuse_vehicle(vehicle: Vehicle, depots: Collection[str]) -> None:
    """Raises EntryRefused for a vehicle that no label could name, of no depot on record, or that needs more than it holds."""
    refuse_code(vehicle.code, scanned=True)
    if vehicle.depot not in depots:
        raise EntryRefused("entry.unknown_depot", field="depot", code=vehicle.depot)
    if vehicle.voltage_class_v < 1:
        raise EntryRefused("setup.class_zero", field="voltage_class_v")
    if not 1 <= vehicle.bays <= MOST_BAYS:
        raise EntryRefused("setup.bays_range", field="bays", typed=vehicle.bays, most=MOST_BAYS)
    if not 1 <= vehicle.needs_packs <= vehicle.bays:
        raise EntryRefused("setup.needs", field="needs_packs", typed=vehicle.needs_packs, bays=vehicle.bays)
    if (vehicle.charge_end_v is None) != (vehicle.chemistry is None):
        raise EntryRefused("setup.pairing_pair", field="chemistry" if vehicle.chemistry is None else "charge_end_v")
    if vehicle.charge_end_v is not None and vehicle.charge_end_v < vehicle.voltage_class_v:
        raise EntryRefused(
            "setup.end_below_class", field="charge_end_v", full_v=vehicle.charge_end_v, volts=vehicle.voltage_class_v
        )


def refuse_charger(charger: Charger, models: Mapping[str, PackModel]) -> None:
    """Raises EntryRefused for an impossible tolerance, or a paired model that does not belong to it.

    Pairing needs equal charge-end voltage, chemistry and connector (one connector code is one plug and polarity).
    """
    refuse_code(charger.code, scanned=True)
    if charger.rated_v <= 0:
        raise EntryRefused("setup.above_zero", field="rated_v", typed_v=charger.rated_v)
    if not 0 < charger.tolerance_percent <= MOST_TOLERANCE:
        raise EntryRefused(
            "setup.tolerance", field="tolerance_percent", typed_percent=charger.tolerance_percent,
            most_percent=MOST_TOLERANCE,
        )  # fmt: skip
    for code in charger.models:
        if code not in models:
            raise EntryRefused("entry.unknown_pack_model", field="models", code=code)
        wrong = intake.misfit(charger, models[code])
        if wrong is not None:
            raise EntryRefused("setup.not_paired", field="models", why=wrong)


def refuse_meter(meter: Meter) -> None:
    """Raises EntryRefused for an accuracy that no bench meter has."""
    refuse_code(meter.code, scanned=True)
    if meter.accuracy_percent > MOST_METER_PERCENT:
        raise EntryRefused(
            "setup.meter_percent", field="accuracy_percent", typed_percent=meter.accuracy_percent,
            most_percent=MOST_METER_PERCENT,
        )  # fmt: skip
    if meter.accuracy_percent == 0 and meter.accuracy_digits == 0:
        raise EntryRefused("setup.meter_exact", field="accuracy_percent")
    if not 0 < meter.digit_v <= 1:
        raise EntryRefused("setup.meter_digit", field="digit_v", typed_v=meter.digit_v)


def refuse_load(load: TestLoad, today: dt.date) -> None:
    """Raises EntryRefused for a hold that is no test, or a proof in the future."""
    refuse_code(load.code, scanned=True)
    if not 1 <= load.hold_s <= MOST_HOLD_S:
        raise EntryRefused("setup.hold", field="hold_s", typed=load.hold_s, most=MOST_HOLD_S)
    if load.proved_on is not None and load.proved_on > today:
        raise EntryRefused("setup.proved_later", field="proved_on", proved_date=load.proved_on)


def refuse_depot(depot: Depot, depots: Collection[str]) -> None:
    """Raises EntryRefused for an unknown time zone, or the way to a depot that is not on record."""
    refuse_code(depot.code, scanned=False)
    try:
        ZoneInfo(depot.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise EntryRefused("setup.time_zone_unknown", field="time_zone", typed=depot.time_zone) from None
    for code, _km in depot.distances_km:
        if code not in depots or code == depot.code:
            raise EntryRefused("setup.distance_to", field="distances_km", code=code)


def refuse_site(site: SiteRules) -> None:
    """Raises EntryRefused for settings that contradict each other, or under a code by which nothing finds them."""
    refuse_together(tuple(site_mistakes(site)))


def site_mistakes(site: SiteRules) -> Iterator[EntryRefused]:
    """Every setting that breaks a rule or contradicts another one."""
    if site.code != SiteRules().code:
        yield EntryRefused("setup.site_code", field="code", typed=site.code, code=SiteRules().code)
    for name in SiteRules.__dataclass_fields__:
        value = getattr(site, name)
        if name.endswith("_days") and not 1 <= value <= MOST_DAYS:
            yield EntryRefused("setup.days", field=name, typed=value, most=MOST_DAYS)
    for name in ("trips_any_pull", "trips_unexplained_pull", "comparable_checks", "stale_board_minutes"):
        if getattr(site, name) < 1:
            yield EntryRefused("setup.at_least_one", field=name)
    if 1 <= site.comparable_checks < FEWEST_CHECKS:
        yield EntryRefused(
            "setup.few_checks", field="comparable_checks", typed=site.comparable_checks, least=FEWEST_CHECKS
        )
    for low, high in (("check_due_days", "grounded_after_days"), ("resistance_watch_ratio", "resistance_pull_ratio"),
                      ("resistance_watch_ohm", "resistance_pull_ohm"), ("storage_low_group_v", "storage_high_group_v")):  # fmt: skip
        below, above = getattr(site, low), getattr(site, high)
        if (below is None) != (above is None):
            yield EntryRefused("setup.both", field=low if below is None else high)
        elif below is not None and below >= above:
            yield EntryRefused(
                "setup.below", field=high, lower=setting_named(low), upper=setting_named(high),
                low=show_value(low, below), high=show_value(high, above),
            )  # fmt: skip
    if site.resistance_watch_ratio <= 1:
        yield EntryRefused("setup.ratio", field="resistance_watch_ratio", typed=str(site.resistance_watch_ratio))
    if (site.resistance_load_a is None) != (site.resistance_hold_s is None):
        yield EntryRefused(
            "setup.both", field="resistance_load_a" if site.resistance_load_a is None else "resistance_hold_s"
        )
    if site.resistance_load_a is not None and site.resistance_watch_ohm is None:
        yield EntryRefused("setup.load_without_ohm", field="resistance_watch_ohm")


assert set(_ORDER) == set(GROUP_NAMES)
