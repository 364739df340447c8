"""Who is at work today: noted on the board, read by everyone who asks who may clear a vehicle."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from fleetcare.domain.attendance import AtWork
from fleetcare.domain.wording import msg
from fleetcare.services.people import person_on_record
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store


def record_at_work(store: Store, clock: Clock, author: Author, day: dt.date, people: Iterable[str]) -> Recorded:
    """Note who is at work on `day`; anyone may.  EntryRefused for a code that is nobody's."""
    now = clock()
    with store.transaction() as tx:
        codes = tuple(sorted(set(people)))
        for code in codes:
            person_on_record(tx, code)
        writer = Writer(tx, author, now)
        writer.add("at_work", AtWork(day, codes, now), now)
        return writer.recorded(msg("board.at_work_noted", count=len(codes)))
