"""The makers' notices that a history's packs were held for, and what was done about them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from fleetcare.domain import recalls
from fleetcare.domain.checks import Hold
from fleetcare.domain.recalls import RecallNotice, RecallWithdrawn
from fleetcare.domain.wording import Message, msg
from fleetcare.services.recall_watch import answered
from fleetcare.store.store import View


def recall_lines(view: View, packs: Sequence[str], to_date: dt.date) -> Iterator[Message]:
    """Each notice entered up to `to_date` that held one of `packs`, the oldest first."""
    notices: dict[str, RecallNotice] = {}
    for event in view.records_of("recall_notice"):
        if isinstance(event.body, RecallNotice) and event.done_at.date() <= to_date:
            notices.setdefault(event.body.number, event.body)
    if not notices:
        return
    taken_back = {
        event.body.number: event
        for event in view.records_of("recall_withdrawn")
        if isinstance(event.body, RecallWithdrawn)
    }
    held: dict[str, list[str]] = {number: [] for number in notices}
    done: dict[str, list[str]] = {number: [] for number in notices}
    for pack in packs:
        for number in _held_for(view, pack):
            if number in held:
                held[number].append(pack)
                done[number] += [pack] if number in answered(view, pack) else []
    for number, notice in notices.items():
        if not held[number]:
            continue
        known = {"number": number, "maker": notice.maker or "—", "at": notice.done_at, "packs": tuple(held[number]),
                 "answered": tuple(done[number]) or msg("history.recall_nothing")}  # fmt: skip
        ended = taken_back.get(number)
        if ended is None:
            yield msg("history.recall", **known)
        else:
            assert isinstance(ended.body, RecallWithdrawn)
            yield msg("history.recall_taken_back", ended_at=ended.done_at, reason=ended.body.reason, **known)


def _held_for(view: View, pack: str) -> list[str]:
    """The numbers of the notices that the pack was held for, each once."""
    found: dict[str, None] = {}
    for event in view.events_of("pack", pack, kind="hold"):
        if isinstance(event.body, Hold) and recalls.by_recall(event.body.reason):
            found[str(event.body.reason.value("number"))] = None
    return list(found)
