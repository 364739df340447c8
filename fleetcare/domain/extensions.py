"""A due date put off by a named person, where the site allows it at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.status import PackState, PackStatus
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg

NEVER = (VerdictLevel.TOO_NEAR, VerdictLevel.PULL, VerdictLevel.DANGER)
"""Verdicts after which a due date is never put off."""


@dataclass(frozen=True, slots=True)
class DueExtended:
    """The pack may go out until `until` though its check fell due on `due_on` and lapsed after `good_through`.

    It holds for the check done at `last_valid` only; the next one ends it.
    """

    pack: str
    until: dt.date
    due_on: dt.date
    good_through: dt.date
    last_valid: dt.datetime
    done_at: dt.datetime
    reason: str


def refuse_extension(
    status: PackStatus, good_through: dt.date, until: dt.date, reason: str, site: SiteRules, today: dt.date,
    doubted_meter: str = "",
) -> None:  # fmt: skip
    """Raises where the extension may not be given, with the rule and the number.

    Only lateness can be put off: nothing held, quarantined, recalled, pulled, too near to call or in doubt.
    """
    if not site.extension_allowed:
        raise NotAllowed("extension.not_here", field="until")
    held = next((one for one in status.reasons if one.hold_id is not None), None)
    if held is not None:
        raise NotAllowed("extension.held", field="until", pack=status.code, reason=held.text)
    if status.state not in (PackState.READY, PackState.DUE, PackState.OVERDUE) or status.due_on is None:
        raise NotAllowed("extension.no_check", field="until", pack=status.code)
    if status.level in NEVER:
        raise NotAllowed(
            "extension.verdict", field="until", pack=status.code, verdict=msg(f"verdict.{status.level.value}")
        )
    if doubted_meter:
        raise NotAllowed("extension.doubt", field="until", pack=status.code, meter=doubted_meter)
    if not reason.strip():
        raise EntryRefused("extension.needs_reason", field="reason")
    last = good_through + dt.timedelta(days=site.extension_most_days)
    if until > last:
        raise NotAllowed(
            "extension.too_far", field="until", until_date=until, most_days=site.extension_most_days, last_date=last,
            good_date=good_through,
        )  # fmt: skip
    if until <= good_through or until < today:
        raise EntryRefused("extension.no_gain", field="until", until_date=until, good_date=good_through)
