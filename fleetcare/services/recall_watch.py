"""Notices in force, and the hold on a pack that one of them means; asked whenever a pack is put on record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from fleetcare.domain import recalls
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.packs import Pack, PackStanding, Thing
from fleetcare.domain.recalls import Match, RecallCleared, RecallNotice, RecallRuledOut, RecallWithdrawn
from fleetcare.store.store import View

UNKNOWN_PREFIX = "U"
"""Codes of packs of unknown history begin with it (see `labelling`); their model is what they look like."""


def notices_in_force(view: View) -> dict[str, RecallNotice]:
    """The newest entry of every notice that was not withdrawn, by number."""
    events = view.records_of("recall_notice")
    if not events:
        return {}
    found: dict[str, tuple[int, RecallNotice]] = {}
    for event in events:
        assert isinstance(event.body, RecallNotice)
        found[event.body.number] = event.position, event.body
    for event in view.records_of("recall_withdrawn"):
        assert isinstance(event.body, RecallWithdrawn)
        known = found.get(event.body.number)
        if known is not None and known[0] < event.position:
            del found[event.body.number]
    return {number: notice for number, (_at, notice) in found.items()}


def model_known(view: View, pack: Pack) -> bool:
    """False for a pack of unknown history and for one whose model is not on record."""
    return not pack.code.startswith(f"{UNKNOWN_PREFIX}-") and view.thing("pack_model", pack.model) is not None


def answered(view: View, pack: str) -> dict[str, tuple[object, ...]]:
    """By notice number, what was recorded about the pack: remedies and rulings-out."""
    found: dict[str, list[object]] = {}
    for kind in ("recall_cleared", "recall_ruled_out"):
        for event in view.records_of(kind, ("pack", pack)):
            assert isinstance(event.body, (RecallCleared, RecallRuledOut))
            found.setdefault(event.body.number, []).append(event.body)
    return {number: tuple(bodies) for number, bodies in found.items()}


def hold_if_recalled(
    view: View, add: Callable[[str, object, dt.datetime], str], pack: Pack, before: Thing | None, now: dt.datetime
) -> tuple[str, ...]:
    """Hold `pack` for every notice in force that means it and is not answered; returns the ids of the holds.

    `before` is the pack as it was: a changed serial, date code or model asks anew what was ruled out.
    """
    if pack.standing is PackStanding.WRITTEN_OFF:
        return ()
    notices = notices_in_force(view)
    if not notices:
        return ()
    return tuple(
        hold_id
        for notice in notices.values()
        if (hold_id := hold_for(view, add, pack, notice, before, now)) is not None
    )


def hold_for(
    view: View, add: Callable[[str, object, dt.datetime], str], pack: Pack, notice: RecallNotice, before: Thing | None,
    now: dt.datetime,
) -> str | None:  # fmt: skip
    """Hold `pack` for one notice, unless it is not meant, answered, or held for it already."""
    found = recalls.match(notice, pack, model_known=model_known(view, pack))
    if found is Match.OUT:
        return None
    reason = recalls.reason_of(notice, pack, found)
    standing = view.open_holds(("pack", pack.code))
    same_notice = [h for h in standing if recalls.by_recall(h.reason) and h.reason.value("number") == notice.number]
    if any(held.reason.key == reason.key or found is not Match.MATCHED for held in same_notice):
        return None
    done = answered(view, pack.code).get(notice.number, ())
    if any(isinstance(one, RecallCleared) for one in done):
        return None
    same = isinstance(before, Pack) and (before.model, before.serial, before.date_code) == (
        pack.model, pack.serial, pack.date_code,
    )  # fmt: skip
    if same and done and found is not Match.MATCHED:
        return None
    return add("hold", Hold("pack", pack.code, HoldClass.DANGER, now, reason), now)
