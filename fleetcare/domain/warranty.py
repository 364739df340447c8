"""Warranty of a pack: what was agreed when it was bought, until when it runs, and what a claim needs.

Whether a claim is good is for the seller and the law; nothing here says who or what caused a fault.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import dataclass, field
from decimal import Decimal

from fleetcare.domain.wording import Message, msg

HIRE = re.compile(r"\b(hire[ds]?|hiring|rent(al|als|ed|ing)?|commercial(ly)?|business|courier|lease[ds]?|leasing|fleet)\b",
                  re.IGNORECASE)  # fmt: skip
"""Words in a clause that may shut out a hired or working fleet (makers' clauses often do; common practice, no source)."""


NONE = re.compile(r"\W*(none|no|no warranty|without)\W*", re.IGNORECASE)
"""What is written in the place of a clause where there is no warranty: "none", as the form asks, and words as short."""


def is_none(clause: str) -> bool:
    """True where a clause says that there is no warranty, in whatever letters or quotation marks."""
    return NONE.fullmatch(clause) is not None


@dataclass(frozen=True, slots=True)
class Terms:
    """What is on record about one pack's warranty; None and "" where nothing is.

    `stated_end` is an end date that was written down without the months.
    """

    bought_on: dt.date | None = None
    months: int | None = None
    clause: str = ""
    invoice: str = ""
    price: Decimal | None = None
    currency: str = ""
    stated_end: dt.date | None = None

    @property
    def ends_on(self) -> dt.date | None:
        """The last day: the purchase date plus the months, else the stated end, else unknown."""
        if self.bought_on is not None and self.months is not None:
            return months_after(self.bought_on, self.months)
        return self.stated_end

    @property
    def speaks_of_hire(self) -> bool:
        """True where the clause names hire, rental or commercial use."""
        return HIRE.search(self.clause) is not None

    @property
    def clause_told(self) -> Message:
        """The clause in a table, behind the warning where it speaks of hire."""
        return msg("warranty.hire_short" if self.speaks_of_hire else "warranty.as_written", clause=self.clause)

    def days_left(self, today: dt.date) -> int | None:
        """Days until the last day, negative when it has passed; None when the end is not known."""
        return None if self.ends_on is None else (self.ends_on - today).days


def months_after(day: dt.date, months: int) -> dt.date:
    """The same day of a later month, or that month's last day where it has no such day."""
    number = day.year * 12 + day.month - 1 + months
    year, month = divmod(number, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the record holds for a claim; counts and flags only."""

    terms: Terms
    serial: str
    photos: int
    no_photo_reason: str
    baseline: bool
    checks: int
    finding: Message | None
    confirmed: bool
    trips_without_cause: int
    fuses_without_cause: int
    chargers_known: bool


@dataclass(frozen=True, slots=True)
class Item:
    """One thing a claim is asked for: `key` names it, `have` says whether it is there, `told` what there is or lacks."""

    key: str
    have: bool
    told: Message = field(default_factory=lambda: msg("warranty.on_record"))


def evidence_items(found: Evidence) -> tuple[Item, ...]:
    """Everything that makers and sellers usually ask for, in the order of the paper (common practice, no source)."""
    terms = found.terms

    def item(key: str, have: bool, told: Message | None = None) -> Item:
        return Item(key, have, told or msg(f"warranty.{'has' if have else 'needs'}_{key}"))

    return (
        item("clause", bool(terms.clause)),
        item("bought_on", terms.bought_on is not None),
        item("end", terms.ends_on is not None),
        item("invoice", bool(terms.invoice)),
        item("serial", bool(found.serial)),
        item("baseline", found.baseline),
        item("photos", found.photos > 0 or bool(found.no_photo_reason),
             msg("warranty.has_photos", count=found.photos) if found.photos
             else msg("warranty.no_photos", reason=found.no_photo_reason) if found.no_photo_reason else None),
        item("checks", found.checks > 0, msg("warranty.has_checks", count=found.checks) if found.checks else None),
        item("finding", found.finding is not None, found.finding),
        item("confirmed", found.confirmed,
             None if found.confirmed or found.finding is not None else msg("warranty.needs_no_confirmed")),
        item("trips", not found.trips_without_cause,
             msg("warranty.needs_trips", count=found.trips_without_cause) if found.trips_without_cause else None),
        item("fuses", not found.fuses_without_cause,
             msg("warranty.needs_fuses", count=found.fuses_without_cause) if found.fuses_without_cause else None),
        item("charger", found.chargers_known),
    )  # fmt: skip


def missing(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """What a claim still lacks."""
    return tuple(one for one in items if not one.have)
