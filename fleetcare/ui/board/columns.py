"""The columns of the board's table view."""

from __future__ import annotations

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import listed, say, show_day, show_since, word
from fleetcare.services.shown import VehicleSummary
from fleetcare.ui import colours
from fleetcare.ui.widgets.tables import Column

ORDER = (BoardState.GROUNDED, BoardState.LIMITED, BoardState.READY_BUT_DUE, BoardState.READY)


def reasons(line: VehicleSummary) -> str:
    """All reasons, the most serious first."""
    return "; ".join(say(reason.text) for reason in line.status.reasons)


def _class(line: VehicleSummary) -> str:
    return word(f"hold_class.{line.status.reasons[0].hold_class.value}") if line.status.reasons else ""


def _since(line: VehicleSummary) -> str:
    since = line.status.reasons[0].since if line.status.reasons else None
    return "" if since is None else show_since(since)


def _next(line: VehicleSummary) -> str:
    return say(line.status.reasons[0].next_step) if line.status.reasons else ""


def _offers(line: VehicleSummary) -> str:
    if line.no_offer is not None:
        return say(line.no_offer)
    return ", ".join(offer.pack for offer in line.offers)


COLUMNS = (
    Column(word("list.vehicle"), lambda v: v.vehicle.code, width=7),
    Column(word("list.state"), lambda v: word(f"board_state.{v.status.state.value}"),
           sort=lambda v: ORDER.index(v.status.state), mark=lambda v: colours.of_vehicle(v.status), width=19),
    Column(word("list.class"), _class, width=11),
    Column(word("list.reason"), reasons, width=35, tip=True),
    Column(word("list.since"), _since, width=12,
           sort=lambda v: v.status.reasons[0].since.timestamp() if v.status.reasons and v.status.reasons[0].since else None),
    Column(word("list.next"), _next, width=19, tip=True),
    Column(word("list.clears"), lambda v: listed(v.may_clear), width=10, tip=True),
    Column(word("list.offers"), _offers, width=17, tip=True),
    Column(word("list.due"), lambda v: show_day(v.status.due_on) if v.status.due_on else "",
           sort=lambda v: v.status.due_on, width=7),
)  # fmt: skip
