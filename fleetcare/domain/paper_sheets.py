"""Numbered check sheets for paper: which numbers were issued, and what each line on them became."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.errors import EntryRefused

CHECKS_A_SHEET = 3
"""Checks that one printed sheet has room for; its lines are numbered from 1."""

MOST_SHEETS = 99
"""Most sheets printed at once: the running figure has two digits."""


class Figure(StrEnum):
    """What may turn out to be unreadable on a filled-in line."""

    DONE_AT = "done_at"
    RESTED = "rested_v"
    LOADED = "loaded_v"


@dataclass(frozen=True, slots=True)
class SheetsIssued:
    """Sheet numbers that were printed, so that a number coming back is known."""

    numbers: tuple[str, ...]
    checks_a_sheet: int = CHECKS_A_SHEET


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One filled-in line of a sheet as it was entered later.

    `done_by` is the code of the person whose initials stand on the line; the record's author is who
    entered it.  `unreadable` names the figures nobody could read and `as_written` what could be made
    out of them.  `check` is the id of the voltage check it became, or None.  `queried` is the reason
    given when the number was already used or never issued, or "".
    """

    sheet: str
    line: int
    pack: str
    done_by: str
    done_at: dt.datetime
    vehicle: str | None = None
    unreadable: tuple[Figure, ...] = ()
    as_written: str = ""
    check: str | None = None
    queried: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.line <= CHECKS_A_SHEET:
            raise EntryRefused("sheet.no_such_line", field="line", line=self.line, last=CHECKS_A_SHEET)
        if self.unreadable and not self.as_written.strip():
            raise EntryRefused("sheet.needs_as_written", field="as_written")


def fresh_numbers(count: int, at: dt.datetime, taken: Collection[str]) -> tuple[str, ...]:
    """`count` sheet numbers of the minute `at` that are not `taken`: "S2611020630-01", "-02", …

    Raises EntryRefused for fewer than 1 or more than fit the two digits of the running figure.
    """
    if not 1 <= count <= MOST_SHEETS:
        raise EntryRefused("sheet.count", field="count", most=MOST_SHEETS, typed=count)
    free = [number for n in range(1, MOST_SHEETS + 1) if (number := f"S{at:%y%m%d%H%M}-{n:02d}") not in taken]
    if len(free) < count:
        raise EntryRefused("sheet.minute_full", field="count", most=MOST_SHEETS, left=len(free))
    return tuple(free[:count])
