"""Typed text to exact decimals, and nothing else: a value is never converted, clamped or rounded.

Point and comma are both the decimal sign.  A unit is printed beside the field and is not typed;
when one is typed, the refusal says what that text would be in the field's unit, and a person
decides.  pint's registry is used for that sentence and lives only here.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import Any

from fleetcare.domain.errors import EntryRefused

_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+")
_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-zµμΩ°]+)")
_SPELLED = {
    "v": "volt",
    "mv": "millivolt",
    "kv": "kilovolt",
    "a": "ampere",
    "ma": "milliampere",
    "c": "degC",
    "°c": "degC",
    "ohm": "ohm",
    "ω": "ohm",
    "mω": "milliohm",
    "mohm": "milliohm",
    "ah": "ampere_hour",
    "mah": "milliampere_hour",
}
_SYMBOL = {"volt": "V", "ampere": "A", "degC": "°C", "ohm": "Ω", "ampere_hour": "Ah"}


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def parse_volts(text: str, *, field: str) -> Decimal:
    """Volts as typed, exact; raises EntryRefused beside `field` for anything that is no plain number."""
    value = _parse(text, "volt", field)
    if value < 0:
        raise EntryRefused("entry.negative_v", field=field, typed_v=value)
    return value


def parse_amps(text: str, *, field: str) -> Decimal:
    """Amps as typed, exact and above zero; raises EntryRefused otherwise."""
    value = _parse(text, "ampere", field)
    if value <= 0:
        raise EntryRefused("entry.load_not_positive", field=field, typed_a=value)
    return value


def parse_celsius(text: str, *, field: str) -> Decimal:
    """Degrees Celsius as typed, exact; raises EntryRefused outside -40 to 60 °C."""
    value = _parse(text, "degC", field)
    if not -40 <= value <= 60:
        raise EntryRefused("entry.bench_c_range", field=field, typed_c=value)
    return value


def parse_ohms(text: str, *, field: str) -> Decimal:
    """Ohms as typed, exact and above zero; raises EntryRefused otherwise."""
    return _above_zero(_parse(text, "ohm", field), "Ω", field)


def parse_amp_hours(text: str, *, field: str) -> Decimal:
    """Ampere-hours as typed, exact and above zero; raises EntryRefused otherwise."""
    return _above_zero(_parse(text, "ampere_hour", field), "Ah", field)


def parse_plain(text: str, unit: str, *, field: str) -> Decimal:
    """A number of percent or of money as typed, exact, not below zero; raises EntryRefused otherwise."""
    typed = text.strip()
    if not (typed.isascii() and _NUMBER.fullmatch(typed)):
        raise EntryRefused("entry.not_a_number", field=field, typed=typed, unit=unit)
    value = Decimal(typed.replace(",", "."))
    if value < 0:
        raise EntryRefused("entry.below_zero", field=field, typed=typed)
    return value


def parse_whole(text: str, *, field: str) -> int:
    """A whole number, not below zero; raises EntryRefused otherwise."""
    typed = text.strip()
    if not (typed.isascii() and typed.isdecimal() and len(typed) < 7):
        raise EntryRefused("entry.not_whole", field=field, typed=typed)
    return int(typed)


def _above_zero(value: Decimal, unit: str, field: str) -> Decimal:
    if value <= 0:
        raise EntryRefused("entry.not_above_zero", field=field, typed=f"{value:f} {unit}")
    return value


def _parse(text: str, unit: str, field: str) -> Decimal:
    typed = text.strip().replace("\u2212", "-")
    if not typed:
        raise EntryRefused(f"entry.empty.{unit}", field=field)
    if _NUMBER.fullmatch(typed) and typed.isascii():
        return Decimal(typed.replace(",", "."))
    found = _WITH_UNIT.fullmatch(typed)
    if found:
        raise _unit_typed(found, unit, field)
    if re.fullmatch(r"[+-]?\d{1,3}([.,' \u00a0]\d{3})+([.,]\d+)?", typed):
        raise EntryRefused("entry.thousands", field=field, typed=typed)
    raise EntryRefused("entry.not_a_number", field=field, typed=typed, unit=_SYMBOL[unit])


def _unit_typed(found: re.Match[str], unit: str, field: str) -> EntryRefused:
    typed = found.group(0)
    spelled = _SPELLED.get(found.group(2).lower())
    if spelled is None:
        return EntryRefused("entry.not_a_number", field=field, typed=typed, unit=_SYMBOL[unit])
    registry = _registry()
    number = float(found.group(1).replace(",", "."))
    quantity = registry.Quantity(number, spelled)
    if not quantity.is_compatible_with(unit):
        return EntryRefused("entry.other_unit", field=field, typed=typed, unit=_SYMBOL[unit])
    as_unit = f"{quantity.to(unit).magnitude:.6g}"
    return EntryRefused("entry.unit_typed", field=field, typed=typed, unit=_SYMBOL[unit], as_unit=as_unit)
