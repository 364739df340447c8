"""When a vehicle of the board may be back: the day and person that the round gives to the checks that keep it in."""

from __future__ import annotations

import threading

from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import Message, msg
from fleetcare.services import rounds
from fleetcare.services.rounds import Round
from fleetcare.services.session import Clock
from fleetcare.services.shown import VehicleSummary
from fleetcare.store.store import Store

_WAITING = frozenset((PackState.DUE, PackState.OVERDUE, PackState.NEVER_CHECKED, PackState.SILENT))
_CHECKS = (Kind.CHECK, Kind.COMMISSIONING)


class Planned:
    """Asks the rounds of the depots; each is kept until the day ends or something is recorded.  For several threads."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store, self._clock = store, clock
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[object, Round]] = {}

    def of(self, line: VehicleSummary) -> tuple[Message, ...]:
        """What the round plans for a vehicle that is not simply ready; nothing for one that is ready or away.

        A repair or a decision is in no round: that is said of a grounded vehicle that waits for one.
        """
        if line.status.state is BoardState.READY or line.away is not None:
            return ()
        told: list[Message] = []
        waiting = {one.code for one in line.packs if one.state in _WAITING}
        if waiting:
            told += planned_checks(self._round(line.vehicle.depot), waiting)
        if line.status.state is BoardState.GROUNDED and any(one.hold_id for one in line.status.reasons):
            told.append(msg("board.plan_none"))
        return tuple(told)

    def _round(self, depot: str) -> Round:
        with self._lock:
            with self._store.view() as view:
                asked = (view.position, view.day(self._clock()))
            kept = self._kept.get(depot)
            if kept is None or kept[0] != asked:
                kept = self._kept[depot] = asked, rounds.round_of(self._store, self._clock, depot)
            return kept[1]


def planned_checks(found: Round, packs: set[str]) -> list[Message]:
    """The day and person of the checks of these packs, the soonest first; last those for which there are no hours."""
    names = {one.person: one.name for one in found.hours}
    told, given = [], set()
    for one in (*found.today, *found.ahead):
        if one.item.kind in _CHECKS and one.item.subject in packs and one.day is not None:
            given.add(one.item.subject)
            what = msg(f"plan_kind.{one.item.kind.value}")
            told.append(
                msg("board.planned", what=what, pack=one.item.subject, on_date=one.day, who=names.get(one.person, "—"))
            )
    left = {one.item.subject for short in found.short for one in short.items if one.day is None} & packs - given
    return told + [msg("board.plan_short", pack=pack, count=len(found.days)) for pack in sorted(left)]
