"""A visual inspection of a vehicle, a charger or a meter, and what a release asks to have been seen since the hold."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused

INSPECTED_CLASSES = ("vehicle", "charger", "meter")
"""What is inspected by this record; a pack's inspection is a `checks.LookOver`."""

NEED_PROOF = (HoldClass.DANGER, HoldClass.FAULT, HoldClass.UNKNOWN)
"""Holds that a reason alone does not end."""


@dataclass(frozen=True, slots=True)
class Inspected:
    """Somebody looked a thing over; `looked_at` says what was looked at and done.

    `authority` names the maker's agent or licensed repairer, with the number of the paper, who found it fit
    after a danger; "" when nobody of that kind did.
    """

    subject_class: str
    subject: str
    done_at: dt.datetime
    good: bool
    looked_at: str
    authority: str = ""

    def __post_init__(self) -> None:
        if self.subject_class not in INSPECTED_CLASSES:
            raise EntryRefused("inspection.not_this", field="subject", code=self.subject)
        if not self.looked_at.strip():
            raise EntryRefused("inspection.needs_what", field="looked_at")


@dataclass(frozen=True, slots=True)
class SeenSince:
    """What was recorded about a held thing after its hold, newest of each; None where nothing was."""

    inspected: Inspected | None = None
    output_good: bool | None = None
    output_waits: bool = False
    proved_good: bool = False
    by_output: bool = False


def missing(subject_class: str, hold_class: HoldClass, seen: SeenSince) -> str | None:
    """The key of what a release still needs, or None.

    A danger ends only by the maker's agent or a licensed repairer.  A fault, or what nobody knows, needs
    an inspection, a good output test or a good proof since, whichever fits the thing.
    """
    good = seen.inspected is not None and seen.inspected.good
    if hold_class not in NEED_PROOF:
        return None
    if seen.inspected is not None and not good:
        return "release.inspection_bad"
    if hold_class is HoldClass.DANGER:
        named = good and seen.inspected is not None and bool(seen.inspected.authority.strip())
        return None if named else "release.danger_thing"
    if subject_class == "charger":
        if seen.output_good is False:
            return "release.no_output"
        if seen.output_good or (good and (seen.output_waits or not seen.by_output)):
            return None
        return "release.no_output" if seen.by_output else "release.no_inspection"
    if subject_class == "meter":
        return None if seen.proved_good else "release.no_proof"
    return None if good else "release.no_inspection"
