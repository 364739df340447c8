"""When something was last mended on a pack, so that its later readings are not held against its earlier ones."""

from __future__ import annotations

import datetime as dt

from fleetcare.store.store import View

MENDS = ("part_replaced", "fuse", "walk", "release", "came_back")
"""Kinds of records after which a pack's resistance may rightly be another: a connector or fuse replaced, a fault found, a
hold ended, the pack back from its maker."""


def last_mended_at(view: View, pack: str) -> dt.datetime | None:
    """When something was last mended on the pack, or None where nothing was."""
    newest = (view.events_of("pack", pack, 1, kind) for kind in MENDS)
    return max((one.done_at for found in newest for one in found), default=None)
