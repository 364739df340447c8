"""Calendar rules: RFC 5545 recurrence on whole days, by python-dateutil.

Inspections have a day and no time, so that nothing is lost on the day the clocks change.  A rule that names a
day which a month does not have skips that month (section 3.3.10), and nothing is moved to another day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from fleetcare.domain.errors import EntryRefused

_TIMED = ("BYHOUR", "BYMINUTE", "BYSECOND", "FREQ=HOURLY", "FREQ=MINUTELY", "FREQ=SECONDLY", "DTSTART", "EXDATE")


def check_rule(rule: str) -> None:
    """Raises EntryRefused for text that is no recurrence rule of whole days."""
    upper = rule.upper()
    if any(part in upper for part in _TIMED) or "\n" in rule or "FREQ=" not in upper:
        raise EntryRefused("plan.rule_wrong", field="rule", rule=rule)
    try:
        next(days(rule, dt.date(2024, 1, 1)), None)
    except (ValueError, TypeError, KeyError) as error:
        raise EntryRefused("plan.rule_wrong", field="rule", rule=rule) from error


def days(rule: str, start: dt.date, after: dt.date | None = None) -> Iterator[dt.date]:
    """The days of `rule` from its DTSTART `start` on, in order; only those later than `after`, when given."""
    from dateutil.rrule import rrulestr  # not before a calendar rule is asked for

    found = rrulestr(_dated(rule), dtstart=dt.datetime.combine(start, dt.time()))
    if after is not None:
        found = found.xafter(dt.datetime.combine(after, dt.time()))
    return (moment.date() for moment in found)


def _dated(rule: str) -> str:
    """The rule with an UNTIL in its date form: a whole day, as DTSTART is one."""
    parts = rule.upper().removeprefix("RRULE:").split(";")
    return ";".join(one[: len("UNTIL=") + 8] if one.startswith("UNTIL=") else one for one in parts)


def next_day(rule: str, start: dt.date, after: dt.date) -> dt.date | None:
    """The first day of the rule later than `after`, or None when it has ended."""
    return next(days(rule, start, after), None)
