"""Packs and vehicles that are ours but not here: lost, stolen, recovered, sent to the maker and back."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.checks import HoldClass, LookItem
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg


class Missing(StrEnum):
    """How something went missing."""

    LOST = "lost"
    STOLEN = "stolen"


@dataclass(frozen=True, slots=True)
class WentMissing:
    """A pack or a vehicle (one of them; a vehicle's packs each have their own) is gone since `done_at`.

    `police` and `insurer` are references; they may follow later as a `MissingNoted`.
    """

    pack: str | None
    vehicle: str | None
    kind: Missing
    done_at: dt.datetime
    last_place: str = ""
    police: str = ""
    insurer: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class MissingNoted:
    """Something that became known about a missing thing: a reference, a sighting."""

    pack: str | None
    vehicle: str | None
    done_at: dt.datetime
    police: str = ""
    insurer: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Recovered:
    """A missing thing is back at `place`; what happened to it meanwhile nobody knows.  `dangers`: items of the gate."""

    pack: str | None
    vehicle: str | None
    done_at: dt.datetime
    place: str
    dangers: tuple[LookItem, ...] = ()
    remark: str = ""


class BackAs(StrEnum):
    """How a pack came back from its maker."""

    REPAIRED = "repaired"
    REPLACED = "replaced"
    UNCHANGED = "unchanged"
    KEPT = "kept"


@dataclass(frozen=True, slots=True)
class SentToMaker:
    """A pack left for its maker or a licensed repairer under the maker's return number.

    `heads` are the six transport heads, needed where it was quarantined.
    """

    pack: str
    done_at: dt.datetime
    maker: str
    return_number: str
    carrier: str
    expected_on: dt.date
    consignment: str = ""
    reason: str = ""
    heads: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        for field in ("maker", "return_number", "carrier"):
            if not str(getattr(self, field)).strip():
                raise EntryRefused(f"maker.needs_{field}", field=field)
        if self.expected_on < self.done_at.date():
            raise EntryRefused("maker.expected_past", field="expected_on", expected_date=self.expected_on)


@dataclass(frozen=True, slots=True)
class CameBack:
    """What the maker sent.  `report` is the number of its report or note; `work` what it says was done.

    REPLACED: another pack, kept under `replacement` with its own serial; the one that was sent stays with the maker
    and its label never returns.  KEPT: nothing came back but the note.
    """

    pack: str
    done_at: dt.datetime
    outcome: BackAs
    report: str
    work: str = ""
    replacement: str | None = None
    replacement_serial: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        if not self.report.strip():
            raise EntryRefused("maker.needs_report", field="report")
        if self.outcome is BackAs.REPAIRED and not self.work.strip():
            raise EntryRefused("maker.needs_work", field="work")
        if self.outcome is BackAs.REPLACED:
            if not self.replacement:
                raise EntryRefused("maker.needs_replacement", field="replacement")
            if not self.replacement_serial.strip():
                raise EntryRefused("maker.needs_serial", field="replacement_serial")


def recovered_ruling(back: Recovered, gone_since: dt.datetime | None) -> Ruling:
    """Recovered means unknown history: held until inspected; with an item of the gate, quarantined.

    Days gone are days of the depot: both moments are in its own time.
    """
    if back.dangers:
        items = tuple(msg(f"look.{item.value}") for item in back.dangers)
        return Ruling(HoldClass.DANGER, msg("away.recovered_danger", found=items))
    days = None if gone_since is None else (back.done_at.date() - gone_since.date()).days
    subject = "pack" if back.pack is not None else "vehicle"
    return Ruling(HoldClass.UNKNOWN, msg(f"away.recovered_{subject}", gone_days=days))


def back_ruling(back: CameBack) -> Ruling | None:
    """What holds a pack that came back from the maker, until its first checks are on record."""
    if back.outcome is BackAs.REPAIRED:
        return Ruling(HoldClass.ACTION_DUE, msg("maker.recommission", report=back.report))
    if back.outcome is BackAs.UNCHANGED:
        return Ruling(HoldClass.FAULT, msg("maker.unchanged", report=back.report))
    if back.outcome is BackAs.REPLACED:
        return Ruling(HoldClass.ACTION_DUE, msg("maker.first_checks", old=back.pack, report=back.report))
    return None


FIRST_CHECKS = ("maker.recommission", "maker.first_checks")
"""Reasons that end when a pack from the maker has passed its first checks."""

UNFIT = (*FIRST_CHECKS, "maker.unchanged", "away.recovered_pack")
"""Reasons under which a pack is not fitted to any vehicle while they stand."""


def overdue(expected: dt.date, today: dt.date) -> int:
    """Days since the day on which a return was expected; 0 on the day itself and before."""
    return max((today - expected).days, 0)


def late_text(expected: dt.date, today: dt.date) -> Message:
    """When a return is expected, and since how long it is overdue."""
    days = overdue(expected, today)
    if days:
        return msg("maker.overdue", expected_date=expected, late_days=days)
    return msg("maker.expected", expected_date=expected)
