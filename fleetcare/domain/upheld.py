"""Pulls upheld by a second test, month by month, so that false pulls are seen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from fleetcare.domain.verdicts import VerdictLevel

SETTLES = (VerdictLevel.PASS, VerdictLevel.WATCH)
AGAIN = (VerdictLevel.PULL, VerdictLevel.DANGER)


@dataclass(slots=True)
class Pulls:
    """Pulls of one month: `upheld` and `overturned` by the next judged check, `open` without one yet."""

    upheld: int = 0
    overturned: int = 0
    open: int = 0

    @property
    def pulled(self) -> int:
        """All pulls of the month."""
        return self.upheld + self.overturned + self.open


def monthly(checks: Iterable[tuple[str, dt.date, VerdictLevel]]) -> dict[dt.date, Pulls]:
    """Pulls by the first day of their month, from (pack, day, level) of standing checks in order of the work.

    A pull begins with a pull after anything else; the next check with a pass, watch, pull or danger settles it.  What
    is too near to call or could not be judged settles nothing.
    """
    months: dict[dt.date, Pulls] = {}
    waiting: dict[str, dt.date] = {}
    pulled: set[str] = set()
    for pack, day, level in checks:
        if pack in waiting and level in (*SETTLES, *AGAIN):
            month = months[waiting.pop(pack)]
            month.open -= 1
            if level in AGAIN:
                month.upheld += 1
                pulled.add(pack)
            else:
                month.overturned += 1
            continue
        if level is VerdictLevel.PULL and pack not in pulled:
            if pack not in waiting:
                waiting[pack] = day.replace(day=1)
                months.setdefault(waiting[pack], Pulls()).open += 1
        elif level in SETTLES:
            pulled.discard(pack)
    return dict(sorted(months.items()))
