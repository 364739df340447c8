"""Whether the reading by which a spare counts as full fits that pack: asked of its projection, for the vehicle chosen."""

from __future__ import annotations

from fleetcare.domain.wording import Message, msg
from fleetcare.services.session import Clock
from fleetcare.services.shown import VehicleSummary
from fleetcare.services.suspects import suspects_of, to_measure_again, went_back
from fleetcare.store.store import Store


def spare_doubts(store: Store, clock: Clock, line: VehicleSummary) -> dict[str, Message]:
    """That each spare proposed for this vehicle whose newest reading does not fit it is to be measured again.

    For the background: the fleet is learnt from first.

    The board itself knows of such a reading once it was read into the plan; the pack's own page knows it at once, and
    so does this.
    """
    from fleetcare.services.summary import pack_summary

    told = {}
    for pack in [one.pack for one in line.offers if one.proposed]:
        open_ = to_measure_again(suspects_of(pack, pack_summary(store, clock, pack).projections), clock())
        if open_:
            key = "board.spare_back" if went_back(open_[0].why) else "board.spare_doubt"
            told[pack] = msg(key, pack=pack, done_at=open_[0].reading.done_at)
    return told
