"""A field that a thing or record gained after files with it were written.

At its default it is left out of the canonical bytes, so that what was written before the field existed keeps its
bytes and leaf hash to the letter, and an old file verifies unchanged.
"""

from __future__ import annotations

from dataclasses import field, fields, is_dataclass
from functools import cache
from typing import Any

ADDED_LATER = "added_later"
"""Marks such a field in its metadata; read where canonical bytes are made."""


def added_later(default: Any) -> Any:
    """A dataclass field with `default`, written only where it differs from it."""
    return field(default=default, metadata={ADDED_LATER: True})


def written_later(value: object) -> set[str]:
    """The fields added later that the canonical bytes of `value` contain, as "Class.field", in things within it too."""
    if isinstance(value, (tuple, list)):
        return set().union(*map(written_later, value))
    if not is_dataclass(value):
        return set()
    found: set[str] = set()
    for name, later, default in _fields_of(type(value)):
        one = getattr(value, name)
        if later and one == default:
            continue
        if later:
            found.add(f"{type(value).__name__}.{name}")
        found |= written_later(one)
    return found


@cache
def _fields_of(cls: type) -> tuple[tuple[str, bool, object], ...]:
    return tuple((one.name, bool(one.metadata.get(ADDED_LATER)), one.default) for one in fields(cls))
