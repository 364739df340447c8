"""Packs in store whose volts come to the low end of their storage band within the quarter: to be charged, not bought."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleetcare.domain.wording import Message, msg
from fleetcare.services.facts import FleetFacts
from fleetcare.services.needing import QUARTER_ENDS
from fleetcare.services.storage import stored_pack
from fleetcare.store.store import View
from fleetcare.store.values import StoredCheck


@dataclass(frozen=True, slots=True)
class RunningLow:
    """One pack: the low end of its band in volts, and the first day on which it may be there (None: it is there)."""

    pack: str
    low_v: float
    early_date: dt.date | None

    @property
    def ahead(self) -> Message:
        """What stands ahead of it and what to do, for a line that begins with the pack."""
        if self.early_date is None:
            return msg("review.stored_low", low_v=self.low_v)
        return msg("review.stored_ahead", low_v=self.low_v, early_date=self.early_date)

    @property
    def told(self) -> Message:
        """The whole sentence, with the pack."""
        return msg("review.stored_of", pack=self.pack, told=self.ahead)


def running_low(
    view: View, facts: FleetFacts, checks: Mapping[str, Sequence[StoredCheck]], now: dt.datetime, *, at_position: bool
) -> list[RunningLow]:
    """Those of the packs in `checks` that are below the band, or may be from a day within the next 91 on."""
    until = now.date() + dt.timedelta(days=QUARTER_ENDS[0])
    found = []
    for code, own in checks.items():
        stored = stored_pack(view, facts, code, now, own, at_position=at_position)
        early, low_v = stored.reaches[0], stored.low_v
        if low_v is None:
            continue
        if stored.rate.level_v <= low_v:
            found.append(RunningLow(code, low_v, None))
        elif early is not None and early <= until:
            found.append(RunningLow(code, low_v, early))
    return found
