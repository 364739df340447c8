"""A field that a thing or record gained after files with it were written.

At its default it is left out of the canonical bytes, so that what was written before the field existed keeps its
bytes and leaf hash to the letter, and an old file verifies unchanged.
"""

from __future__ import annotations

from dataclasses import field
from typing import Any

ADDED_LATER = "added_later"
"""Marks such a field in its metadata; read where canonical bytes are made."""


def added_later(default: Any) -> Any:
    """A dataclass field with `default`, written only where it differs from it."""
    return field(default=default, metadata={ADDED_LATER: True})
