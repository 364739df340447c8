"""Every open hold of the fleet in one list: packs, vehicles, chargers and meters, worst first."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.wording import Message, msg
from fleetcare.store.store import Store

_ORDER = (HoldClass.DANGER, HoldClass.FAULT, HoldClass.UNKNOWN, HoldClass.ACTION_DUE)


@dataclass(frozen=True, slots=True)
class HoldLine:
    """One open hold, with who set it."""

    hold_id: str
    subject_class: str
    subject: str
    hold_class: HoldClass
    text: Message
    since: dt.datetime
    person: str


def hold_lines(store: Store) -> tuple[HoldLine, ...]:
    """All holds that are not released, danger first, then the oldest; what was written off is not here to be held."""
    with store.view() as view:
        names = view.person_names()
        lines = []
        gone = {code for code, pack in view.things("pack").items() if pack.standing is PackStanding.WRITTEN_OFF}
        for hold in view.open_holds():
            if hold.subject_class == "pack" and hold.subject in gone:
                continue
            record = view.record_at(hold.position)
            by = record.by if record is not None else ""
            text = msg("hold.in_words", remark=hold.remark, reason=hold.reason) if hold.remark else hold.reason
            lines.append(
                HoldLine(
                    hold.hold_id, hold.subject_class, hold.subject, hold.hold_class, text, hold.since, names.get(by, by)
                )
            )
        return tuple(sorted(lines, key=lambda one: (_ORDER.index(one.hold_class), one.since)))
