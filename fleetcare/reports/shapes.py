"""The shape of a vehicle's state, the same on screen, paper and page."""

from __future__ import annotations

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.status import BoardState, VehicleStatus


def shape_of(status: VehicleStatus) -> str:
    """The shape of a vehicle's state: the same as on the screen."""
    if status.state is BoardState.READY:
        return "circle"
    if status.state is BoardState.READY_BUT_DUE:
        return "diamond"
    if status.state is BoardState.LIMITED:
        return "triangle"
    kind = status.reasons[0].hold_class if status.reasons else HoldClass.UNKNOWN
    return {HoldClass.DANGER: "cross", HoldClass.FAULT: "square", HoldClass.ACTION_DUE: "diamond"}.get(kind, "ring")
