"""The columns of the board's table view."""

from __future__ import annotations

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import brief, listed, msg, say, show_day, show_since, word
from fleetcare.services.shown import VehicleSummary, next_steps, reasons_told
from fleetcare.ui import colours
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.tables import Column

ORDER = (BoardState.GROUNDED, BoardState.LIMITED, BoardState.READY_BUT_DUE, BoardState.READY)


def reasons(line: VehicleSummary) -> str:
    """All reasons, the most serious first."""
    return reasons_told(line)


def _class(line: VehicleSummary) -> str:
    return word(f"hold_class.{line.status.reasons[0].hold_class.value}") if line.status.reasons else ""


def _since(line: VehicleSummary) -> str:
    since = line.status.reasons[0].since if line.status.reasons else None
    return "" if since is None else show_since(since)


def _next(line: VehicleSummary) -> str:
    return " ".join(map(say, next_steps(line)))


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


def _leading(line: VehicleSummary, told: str) -> str:
    """Reasons under the class of the first and since when it stands."""
    if not line.status.reasons:
        return ""
    since = _since(line)
    head = f"{_class(line)}, {say(msg('board.since', at=since))}" if since else _class(line)
    return f"{head}: {told}"


def _clearing(line: VehicleSummary, told: str) -> str:
    """The next step, and who may clear it."""
    clears = say(msg("board.clears", names=listed(line.may_clear))) if line.may_clear else ""
    return " ".join(filter(None, (told if told.endswith(".") else f"{told}.", clears)))


LARGE_COLUMNS = (
    Column(word("list.vehicle"), COLUMNS[0].text, mark=COLUMNS[1].mark, width=9),
    Column(word("list.state"), COLUMNS[1].text, sort=COLUMNS[1].sort, width=10),
    Column(word("list.reason"), lambda v: _leading(v, "; ".join(brief(one.text) for one in v.status.reasons)), width=35,
           sort=COLUMNS[4].sort, whole=lambda v: _leading(v, reasons(v))),
    Column(word("list.next"), lambda v: _clearing(v, brief(v.status.reasons[0].next_step)) if v.status.reasons else "",
           width=25, whole=lambda v: _clearing(v, _next(v))),
    Column(word("list.offers"), lambda v: _offers(v) if v.no_offer is None else brief(v.no_offer), width=12, whole=_offers),
    COLUMNS[-1],
)  # fmt: skip
"""For large letters: the mark stands at the short code, since the words of a state would have a quarter of the width; what belongs
together stands in one column, in the few words of the tiles; whole in its tip."""


def shown_columns() -> tuple[Column, ...]:
    """The columns for the letters of this PC."""
    return LARGE_COLUMNS if large_text() else COLUMNS
