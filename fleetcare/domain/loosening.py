"""What a change of settings changed, and whether it made a limit looser."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from decimal import Decimal

from fleetcare.domain.packs import PackModel, SiteRules

HIGHER_IS_LOOSER = frozenset(
    {
        "check_due_days", "grounded_after_days", "resistance_watch_ratio", "resistance_pull_ratio", "resistance_watch_ohm",
        "resistance_pull_ohm", "jump_per_group_v", "trips_any_pull", "trips_unexplained_pull", "quarantine_alarm_days",
        "stale_board_minutes", "baseline_resistance_ohm", "charge_max_c", "charge_max_a", "bms_limit_a", "fuse_a", "extension_allowed",
        "extension_most_days", "decision_most_days", "watch_due_days", "second_watch_due_days", "trip_due_days",
        "trips_due_days", "edge_due_days", "lay_up_look_days", "lay_up_low_look_days", "storage_high_group_v",
    }
)  # fmt: skip
LOWER_IS_LOOSER = frozenset(
    {
        "minimum_rest_minutes",
        "loaded_minimum_c",
        "trip_window_days",
        "comparable_checks",
        "charge_min_c",
        "fuse_dc_v",
        "edge_near_days",
        "early_edge_days",
        "storage_low_group_v",
    }
)
NONE_IS_LOOSER = frozenset({"charge_max_a", "baseline_resistance_ohm"})
"""Without a figure nothing is asked of charge current or of resistance."""

_NOT_SETTINGS = frozenset({"code", "name", "sources", "limit_figures", "price", "currency"})


@dataclass(frozen=True, slots=True)
class Change:
    """One setting before and after; `loosened` is None where that cannot be said."""

    name: str
    before: object
    after: object
    loosened: bool | None
    source: str = ""
    """Where the new figure comes from, as whoever changed it wrote; empty where that is not asked."""


def changes(before: SiteRules | PackModel, after: SiteRules | PackModel) -> Iterator[Change]:
    """Every setting that differs, the limits per cell group last."""
    sources = dict(after.sources) if isinstance(after, SiteRules) else {}
    for field in fields(before):
        old, new = getattr(before, field.name), getattr(after, field.name)
        if field.name not in _NOT_SETTINGS and old != new:
            source = sources.get(field.name, "")
            yield Change(field.name, old, new, _loosened(field.name, old, new), source)
    figures = [{name: volts for name, volts, _ in one.limit_figures} for one in (before, after)]
    for name in sorted(figures[0].keys() | figures[1].keys()):
        low, high = figures[0].get(name), figures[1].get(name)
        if low != high:
            yield Change(f"{name}_v", low, high, figure_loosened(name, low, high))


def _loosened(name: str, old: object, new: object) -> bool | None:
    if name in NONE_IS_LOOSER and (old is None) != (new is None):
        return new is None
    if not isinstance(old, (int, Decimal)) or not isinstance(new, (int, Decimal)):
        return None
    if name in HIGHER_IS_LOOSER:
        return new > old
    return new < old if name in LOWER_IS_LOOSER else None


def figure_loosened(name: str, old: Decimal | None, new: Decimal | None) -> bool | None:
    """Figures of over-full and full stops bind from above, all others from below."""
    if old is None or new is None:
        return None
    return new > old if "over" in name else new < old
