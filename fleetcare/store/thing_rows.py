"""Things from their derived rows."""

from __future__ import annotations

import json
from collections.abc import Sequence

from fleetcare.domain.packs import THING_CLASSES, Thing
from fleetcare.domain.records import ThingPut, from_plain, many_from_plain


def thing_of(body: str) -> Thing:
    """A thing from its derived row."""
    put: ThingPut = from_plain(ThingPut, json.loads(body))
    return put.thing


def things_of(bodies: Sequence[str]) -> list[Thing]:
    """Many things of one class from their derived rows, read in one go."""
    plains = json.loads(f"[{','.join(bodies)}]")
    if not plains:
        return []
    return many_from_plain(THING_CLASSES[plains[0]["thing_class"]], [plain["thing"] for plain in plains])
