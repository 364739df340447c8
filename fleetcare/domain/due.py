"""When a pack must next be checked, and why on that day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import Message, msg


@dataclass(frozen=True, slots=True)
class DueDay:
    """`due_on` is the day the check is due; after `good_through` the pack may not go out."""

    due_on: dt.date
    good_through: dt.date
    why: Message


def due_after(last_valid: dt.date, site: SiteRules) -> DueDay:
    """The due day after a valid check: on the 7th day it is due, after the 14th it has passed."""
    due_on = last_valid + dt.timedelta(days=site.check_due_days)
    return DueDay(
        due_on,
        last_valid + dt.timedelta(days=site.grounded_after_days),
        msg("due.weekly", every_days=site.check_due_days, last_date=last_valid),
    )
