"""Which change of a setting or of a maker's figure made a rule less strict."""

from __future__ import annotations

from dataclasses import dataclass, fields
from decimal import Decimal

from fleetcare.domain.packs import PackModel, SiteRules

LOOSER_WHEN_LARGER = frozenset({
    "check_due_days", "grounded_after_days", "resistance_watch_ratio", "resistance_pull_ratio", "resistance_watch_ohm",
    "resistance_pull_ohm", "jump_per_group_v", "trips_any_pull", "trips_unexplained_pull", "quarantine_alarm_days",
    "stale_board_minutes", "decision_most_days", "extension_allowed", "extension_most_days", "watch_due_days",
    "second_watch_due_days", "trip_due_days", "trips_due_days", "edge_due_days", "long_rest_days", "lay_up_look_days",
    "lay_up_low_look_days", "storage_high_group_v", "charge_max_c", "fuse_a", "baseline_resistance_ohm",
})  # fmt: skip
LOOSER_WHEN_SMALLER = frozenset({
    "minimum_rest_minutes", "trip_window_days", "comparable_checks", "loaded_minimum_c", "early_edge_days",
    "edge_near_days", "storage_low_group_v", "charge_min_c", "fuse_dc_v",
})  # fmt: skip
FIGURES_LOOSER_WHEN_LARGER = frozenset({"full", "over_full_query", "over_full_stop"})
"""Limits per cell group that are looser when larger; all others when smaller."""


@dataclass(frozen=True, slots=True)
class Loosened:
    """One rule that a change made less strict; None stands for "not set"."""

    name: str
    before: object
    after: object


def loosened(before: SiteRules | PackModel, after: SiteRules | PackModel) -> tuple[Loosened, ...]:
    """What the change from `before` to `after` loosened, in the order of the fields."""
    found = []
    for field in fields(before):
        old, new = getattr(before, field.name), getattr(after, field.name)
        if field.name == "limit_figures":
            found += _figures(old, new)
        elif old != new and _looser(field.name, old, new):
            found.append(Loosened(field.name, old, new))
    return tuple(found)


def _looser(name: str, old: object, new: object) -> bool:
    if name not in LOOSER_WHEN_LARGER | LOOSER_WHEN_SMALLER:
        return False
    if old is None or new is None:
        return new is None
    larger = Decimal(str(int(new) if isinstance(new, bool) else new)) > Decimal(
        str(int(old) if isinstance(old, bool) else old)
    )
    return larger if name in LOOSER_WHEN_LARGER else not larger


def _figures(old: tuple[tuple[str, Decimal, str], ...], new: tuple[tuple[str, Decimal, str], ...]) -> list[Loosened]:
    """A figure that was moved to the loose side; one taken away falls back to a default and is shown as well."""
    before = {name: value for name, value, _source in old}
    after = {name: value for name, value, _source in new}
    found = []
    for name, value in before.items():
        now = after.get(name)
        if now is None:
            found.append(Loosened(name, value, None))
        elif now != value and (now > value) == (name in FIGURES_LOOSER_WHEN_LARGER):
            found.append(Loosened(name, value, now))
    return found
