"""When a pack owes its regular checks, and which of them fell due: one count for overview, command and history.

It owes them while it is in service and here: not laid up, not held for danger, not lost, at its maker or on a van.
Each due day follows from the setting that held when the check before it was done.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from fleetcare.domain import due
from fleetcare.domain.due import FellDue
from fleetcare.domain.laying_up import LaidUp, LayUpEnded
from fleetcare.domain.packs import Pack, PackStanding, SiteRules
from fleetcare.domain.records import ThingPut
from fleetcare.store import plan_reads, proving
from fleetcare.store.store import View

Rules = tuple[tuple[dt.date, SiteRules], ...]
Break = tuple[dt.date, dt.date | None]
"""First day, and the day it ended (None: not yet)."""

Period = tuple[dt.date, dt.date]


def rules_by_day(view: View, site: SiteRules) -> Rules:
    """The site's settings with the day from which each held, oldest first; the first held before, too."""
    found = [
        (view.day(record.entered_at), record.body.thing)
        for _, record in proving.touching(view, "site_rules", site.code)
        if isinstance(record.body, ThingPut) and isinstance(record.body.thing, SiteRules)
    ]
    return tuple(found) or ((dt.date.min, site),)


def breaks(view: View) -> dict[str, tuple[Break, ...]]:
    """The days on which each pack owes no check, whatever the cause; packs without any are left out."""
    found: dict[str, list[Break]] = defaultdict(list)
    for pack, spans in lay_up_spans(view).items():
        found[pack] += spans
    for pack, first, last in proving.danger_spans(view):
        found[pack].append((view.day(first), None if last is None else view.day(last)))
    for pack, out in _out_of_service(view).items():
        found[pack] += out
    return {pack: tuple(breaks_) for pack, breaks_ in found.items()}


def lay_up_spans(view: View) -> dict[str, tuple[Break, ...]]:
    """The lay-ups of each pack as (first day, day it came back or None)."""
    entries = [*view.records_of("laid_up"), *view.records_of("lay_up_ended")]
    open_: dict[str, dt.date] = {}
    found: dict[str, list[Break]] = defaultdict(list)
    for event in sorted(entries, key=lambda one: one.position):
        if isinstance(event.body, LaidUp):
            open_.setdefault(event.body.pack, view.day(event.body.done_at))
        elif isinstance(event.body, LayUpEnded) and event.body.pack in open_:
            found[event.body.pack].append((open_.pop(event.body.pack), view.day(event.body.done_at)))
    for pack, first in open_.items():
        found[pack].append((first, None))
    return {pack: tuple(spans) for pack, spans in found.items()}


def _out_of_service(view: View) -> dict[str, list[Break]]:
    """When each pack left service or went away, and when it came back."""
    gone: dict[str, dt.date] = {}
    found: dict[str, list[Break]] = defaultdict(list)
    for at, body in plan_reads.packs_ever_out(view):
        assert isinstance(body.thing, Pack)
        code, out = body.thing.code, body.thing.standing is not PackStanding.IN_SERVICE
        if out:
            gone.setdefault(code, view.day(at))
        elif code in gone:
            found[code].append((gone.pop(code), view.day(at)))
    for code, first in gone.items():
        found[code].append((first, None))
    return found


def first_days(view: View, packs: Mapping[str, Pack]) -> dict[str, dt.date]:
    """From when each pack may owe checks: its first day in service, else the day it came on record."""
    known = plan_reads.known_since(view, "pack")
    firsts = {
        code: pack.in_service_on or (view.day(known[code]) if code in known else None) for code, pack in packs.items()
    }
    return {code: day for code, day in firsts.items() if day is not None}


def spans_in_use(start: dt.date, until: dt.date, away: Iterable[Break]) -> Iterator[tuple[dt.date, dt.date]]:
    """The days from `start` to `until` without those of a break (its first and last day excluded from use)."""
    begin = start
    for first, last in sorted(away, key=lambda one: (one[0], one[1] or dt.date.max)):
        if last is not None and last <= begin:
            continue
        if first > begin:
            yield begin, min(first, until)
        if last is None or last >= until:
            return
        begin = max(begin, last)
    if begin <= until:
        yield begin, until


def fell_due(
    rules: Rules, checked: Iterable[dt.date], span: tuple[dt.date, dt.date], period: Period
) -> Iterator[FellDue]:
    """The checks that fell due in one span of use and within `period`, oldest first.

    The first is due by the last check before the span, where that makes it due within the span; else the span's first
    day begins the rhythm, as when a pack comes back from lay-up.
    """
    begin, end = span
    days = sorted(set(checked))
    before = max((day for day in days if day <= begin), default=begin)
    if before + dt.timedelta(days=_held(rules, before).check_due_days) < begin:
        before = begin
    after = [day for day in days if before < day <= end]
    within = max(period[0], begin), period[1]
    if len({(site.check_due_days, site.grounded_after_days) for _, site in rules}) == 1:
        yield from due.each_due(before, after, end, rules[-1][1], within)
        return
    steps = [before, *after]
    for last, following in itertools.zip_longest(steps, steps[1:]):
        done, until = ([], end) if following is None else ([following], following)
        yield from due.each_due(last, done, until, _held(rules, last), within)


def _held(rules: Rules, day: dt.date) -> SiteRules:
    """The settings that held on a day."""
    held = [site for since, site in rules if since <= day]
    return held[-1] if held else rules[0][1]
