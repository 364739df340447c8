"""From the texts of a set-up form to the thing they describe, and back; a text is never converted or rounded.

A form is a mapping from field name to text: "yes" or "" for a tick, the code of what is chosen, codes apart by commas.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from fleetcare.domain.errors import EntryRefused, refuse_together
from fleetcare.domain.moments import parse_date
from fleetcare.domain.packs import (
    THING_CLASSES,
    Chemistry,
    Depot,
    PackModel,
    ServiceNotes,
    SiteRules,
    Thing,
    VehicleKind,
)
from fleetcare.domain.setup.forms import (
    NOT_KEPT,
    NOTES_FIELDS,
    OWN_LIMITS,
    Entry,
    FieldSpec,
    fields_of,
    limit_field,
    source_field,
)
from fleetcare.domain.setup.rules import site_mistakes
from fleetcare.domain.units import (
    parse_amp_hours,
    parse_amps,
    parse_celsius,
    parse_ohms,
    parse_plain,
    parse_volts,
    parse_whole,
)
from fleetcare.domain.wording import Message, msg, word

Typed = Mapping[str, str]

YES = "yes"
LIVE = {"": None, "yes": True, "no": False}
"""Whether the output is live while the pack is switched off: not stated, yes, no."""

_DISTANCE = re.compile(r"(\S+)\s+(\d+(?:[.,]\d+)?)")


def thing_of(kind: str, typed: Typed, before: Thing | None) -> Thing:
    """The thing that a form describes; EntryRefused beside each field that cannot be taken.

    What the form does not ask stays as it is in `before`.
    """
    values: dict[str, Any] = {}
    wrong: list[EntryRefused] = []
    for name, field in fields_of(kind).items():
        if name in NOT_KEPT or (kind == "pack_model" and (name in NOTES_FIELDS or _of_limit(name))):
            continue
        try:
            values[name] = _value(kind, field, typed.get(name, ""))
        except EntryRefused as error:
            wrong.append(error)
    if kind == "pack_model":
        values["limit_figures"] = _figures(typed, before, wrong)
    refuse_together(wrong)
    if kind == "site_rules":
        wrong = list(site_mistakes(replace(before, **values) if isinstance(before, SiteRules) else SiteRules(**values)))
        values["sources"] = _sources(values, typed.get("why", "").strip(), before, wrong)
        refuse_together(wrong)
    return THING_CLASSES[kind](**values) if before is None else replace(before, **values)  # type: ignore[no-any-return]


def notes_of(typed: Typed, before: ServiceNotes | None) -> ServiceNotes:
    """The service notes of a pack model's form."""
    fields = fields_of("pack_model")
    values = {name: _value("pack_model", fields[name], typed.get(name, "")) for name in NOTES_FIELDS}
    code = typed["code"].strip().upper()
    return ServiceNotes(code, **values) if before is None else replace(before, **values)


def typed_of(kind: str, thing: Thing, notes: ServiceNotes | None = None) -> dict[str, str]:
    """The form of a thing on record, so that `thing_of` gives it back."""
    found: dict[str, str] = {}
    for name in fields_of(kind):
        if name in NOT_KEPT or _of_limit(name):
            found[name] = ""
        elif kind == "pack_model" and name in NOTES_FIELDS:
            found[name] = _text(getattr(notes or ServiceNotes(thing.code), name))
        elif name == "output_live_when_off":
            found[name] = next(text for text, live in LIVE.items() if live is thing.output_live_when_off)  # type: ignore[union-attr]
        else:
            found[name] = _text(getattr(thing, name))
    if isinstance(thing, PackModel):
        for name, volts, source in thing.limit_figures:
            if name in OWN_LIMITS:
                found[limit_field(name)], found[source_field(name)] = f"{volts:f}", source
    if isinstance(thing, Depot):
        found["distances_km"] = "; ".join(f"{code} {km:f}" for code, km in thing.distances_km)
    return found


def _of_limit(name: str) -> bool:
    return name.startswith(("limit_", "source_"))


def _text(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return YES if value else ""
        case Decimal():
            return f"{value:f}"
        case tuple():
            return ", ".join(str(one) for one in value)
        case dt.date():
            return value.isoformat()
    return str(value)


def _value(kind: str, field: FieldSpec, text: str) -> Any:
    """What one field says."""
    typed, name = text.strip(), field.name
    if field.entry is Entry.YES:
        return typed == YES
    if name == "output_live_when_off":
        return LIVE[typed]
    if name == "distances_km":
        return _distances(typed)
    if not typed and field.needed:
        raise EntryRefused("setup.needed", field=name, what=word(label_key(kind, name)))
    match field.entry:
        case Entry.CODE:
            return typed.upper()
        case Entry.CHOICE:
            return _chosen(name, typed)
        case Entry.MANY:
            return tuple(one.strip() for one in typed.split(",") if one.strip())
        case Entry.TEXT:
            return typed.upper() if name in ("country", "subdivision", "currency") else typed
    return None if not typed else _figure(field, typed)


def _figure(field: FieldSpec, typed: str) -> Any:
    name = field.name
    match field.entry:
        case Entry.WHOLE:
            return parse_whole(typed, field=name)
        case Entry.VOLTS:
            return parse_volts(typed, field=name)
        case Entry.AMPS:
            return parse_amps(typed, field=name)
        case Entry.OHMS:
            return parse_ohms(typed, field=name)
        case Entry.AMP_HOURS:
            return parse_amp_hours(typed, field=name)
        case Entry.CELSIUS:
            return parse_celsius(typed, field=name)
        case Entry.PERCENT:
            return parse_plain(typed, "%", field=name)
        case Entry.MONEY | Entry.RATIO:
            return parse_plain(typed, "", field=name)
    return parse_date(typed, field=name)


def _chosen(name: str, typed: str) -> Any:
    if name == "chemistry":
        return Chemistry(typed) if typed else None
    return VehicleKind(typed) if name == "kind" else typed


def _figures(typed: Typed, before: Thing | None, wrong: list[EntryRefused]) -> tuple[tuple[str, Decimal, str], ...]:
    """The own limits per group; each needs its source, else `wrong` grows.  A figure for full that came from
    elsewhere stays."""
    kept = (
        [] if not isinstance(before, PackModel) else [one for one in before.limit_figures if one[0] not in OWN_LIMITS]
    )
    for name in OWN_LIMITS:
        text, source = typed.get(limit_field(name), "").strip(), typed.get(source_field(name), "").strip()
        if text and not source:
            wrong.append(EntryRefused("setup.needs_source", field=source_field(name), limit=word(f"limit.{name}")))
        if source and not text:
            wrong.append(EntryRefused("setup.source_alone", field=limit_field(name), limit=word(f"limit.{name}")))
        if text:
            try:
                kept.append((name, parse_volts(text, field=limit_field(name)), source))
            except EntryRefused as error:
                wrong.append(error)
    return tuple(kept)


def _sources(
    values: Mapping[str, Any], why: str, before: Thing | None, wrong: list[EntryRefused]
) -> tuple[tuple[str, str], ...]:
    """Where each setting comes from: one that changes away from its default needs a source, else `wrong` grows; at the
    default it has none."""
    default = SiteRules()
    kept = dict(before.sources) if isinstance(before, SiteRules) else {}
    for name, value in values.items():
        if name in ("code", "name") or value == getattr(before or default, name):
            continue
        if value == getattr(default, name):
            kept.pop(name, None)
        elif not why:
            if not any(one.field == "why" for one in wrong):
                wrong.append(EntryRefused("setup.needs_why", field="why", what=label_of("site_rules", name)))
        else:
            kept[name] = why
    return tuple(kept.items())


def _distances(typed: str) -> tuple[tuple[str, Decimal], ...]:
    found = []
    for part in filter(None, (one.strip() for one in typed.split(";"))):
        match = _DISTANCE.fullmatch(part)
        if match is None:
            raise EntryRefused("setup.distance", field="distances_km", typed=part)
        found.append((match[1].upper(), Decimal(match[2].replace(",", "."))))
    return tuple(found)


def label_of(kind: str, name: str) -> Message:
    """What a field is called."""
    if name.startswith("source_"):
        return msg("setup.source_of", limit=msg(f"limit.{name.removeprefix('source_')}"))
    return msg(label_key(kind, name))


def label_key(kind: str, name: str) -> str:
    """The key of a field's label: the kind's own words where it has them."""
    if name.startswith("limit_"):
        return f"limit.{name.removeprefix('limit_')}"
    own = f"setup.{kind}_{name}"
    return own if own in OWN_WORDS else f"setup.{name}"


OWN_WORDS = frozenset({
    "setup.vehicle_kind", "setup.vehicle_connector", "setup.vehicle_chemistry", "setup.vehicle_voltage_class_v",
    "setup.charger_connector", "setup.charger_models", "setup.meter_accuracy_percent", "setup.test_load_accuracy_percent",
    "setup.vehicle_serial", "setup.vehicle_like", "setup.charger_like",
})  # fmt: skip
"""Labels that differ from those of the same field elsewhere."""
