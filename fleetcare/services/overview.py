"""The manager's overview: what waits for a decision first, then what is done and due, what stands, and what runs out."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleetcare.domain import loosening, pace, upheld
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.money import show_money
from fleetcare.domain.packs import Meter, PackModel, PackStanding, Person, SiteRules
from fleetcare.domain.setup.naming import setting_named, source_of
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg, show_chance, show_value
from fleetcare.services import decisions, facts, stock
from fleetcare.services.decisions import Early
from fleetcare.services.done_due import DoneDue, MissedCheck, Tally, done_due, monday_of
from fleetcare.services.incidents import incident_lines
from fleetcare.services.quarantine import quarantine_cases
from fleetcare.services.recalling import recall_pages
from fleetcare.services.session import Clock
from fleetcare.services.trip_facts import tallies_page
from fleetcare.store import tallying
from fleetcare.store.store import Store, View

if TYPE_CHECKING:
    from fleetcare.services.renewal import Renewal

WEEKS = 4
"""Weeks of done and due that are shown."""
RUNS_OUT_DAYS = 60
"""Training and calibration that end within so many days are shown (proposal)."""
PACE_DAYS = 30
"""How far back the pace of entries is looked at (proposal)."""
MONTHS = 6
"""Months of pulls and of loosened rules that are shown (proposal)."""
MISSED = 3
"""Packs named that missed a check; the rest is counted."""
WORST = 8
"""Lines of one section; the rest is counted."""


SECTIONS = (
    "reorder", "decisions", "done", "quarantine", "silent", "incidents", "recalls", "tallies", "running_out", "pulls", "pace", "loosened", "replace",
)  # fmt: skip
"""Names of all sections."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its sentence, what it is about ("pack" or "vehicle" and the code, or ""), and how grave it is."""

    text: Message
    subject: tuple[str, str] = ("", "")
    kind: HoldClass | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """One question of the manager's.  `total` counts all there is; `lines` the worst of it."""

    name: str
    total: int
    lines: tuple[Line, ...]
    grave: HoldClass | None = None


@dataclass(frozen=True, slots=True)
class Overview:
    """All sections that are read quickly; the packs to replace come with `replacing`."""

    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool
    sections: tuple[Section, ...]


def overview(store: Store, clock: Clock, early: Mapping[str, Early] | None = None) -> Overview:
    """Read every section but the packs to replace; `early` are the near projections, None where they are not read yet."""
    now = clock()
    with store.view() as view:
        zone = facts.zone_of(view)
        today = now.astimezone(zone).date()
        names = view.person_names()
        quick = (
            _undecided(view, now, early),
            _silent(view),
            _running_out(view, today, names),
            _reorder(view),
            _pulls(view, now),
            _pace(view, now, names, zone),
            _loosened(view, now, names),
        )
        head, position = view.head(), view.position
        depots = {code: depot.name for code, depot in view.things("depot").items()}
    by_name = {one.name: one for one in quick}
    sections = (
        by_name["decisions"],
        _done(done_due(store, clock, monday_of(today) - dt.timedelta(days=7 * (WEEKS - 1)), today), depots),
        _quarantine(store, clock),
        by_name["silent"],
        _incidents(store, clock),
        _recalls(store, clock),
        _tallies(store, clock),
        *(by_name[name] for name in ("reorder", "running_out", "pulls", "pace", "loosened")),
    )
    return Overview(now, position, head.root_hex, store.fleet_name, store.demo, sections)


def section(name: str, lines: list[Line], *, total: int | None = None, most: int = WORST) -> Section:
    """A section of at most `most` lines, as grave as the gravest of them."""
    order = (HoldClass.DANGER, HoldClass.FAULT, HoldClass.ACTION_DUE, HoldClass.UNKNOWN)
    kinds = [line.kind for line in lines if line.kind is not None]
    return Section(
        name, len(lines) if total is None else total, tuple(lines[:most]), min(kinds, key=order.index, default=None)
    )


def waiting(store: Store, clock: Clock, early: Mapping[str, Early]) -> Section:
    """What waits for a decision, once the projections are read."""
    with store.view() as view:
        return _undecided(view, clock(), early)


def _undecided(view: View, now: dt.datetime, early: Mapping[str, Early] | None) -> Section:
    asked = decisions.undecided(view, now, early)
    lines = [
        Line(
            msg("overview.undecided", statement=one.statement, place=one.place, since_date=one.since.date()),
            ("pack", one.pack),
            HoldClass.ACTION_DUE,
        )
        for one in asked
    ]
    if early is None and not lines:
        return section("decisions", [Line(msg("overview.decided_so_far"))], total=0)
    return section("decisions", lines)


def _done(found: DoneDue, depots: Mapping[str, str]) -> Section:
    lines = []
    weeks: dict[dt.date, Tally] = {}
    for week, _depot, tally in found.by_week:
        weeks.setdefault(week, Tally()).add(tally)
    for week, tally in sorted(weeks.items(), reverse=True):
        lines.append(_counted(msg("overview.week", week_date=week, **_counts(tally)), tally))
    for depot, tally in found.by_depot if len(found.by_depot) > 1 else ():
        lines.append(_counted(msg("overview.depot", depot=depots.get(depot, depot), **_counts(tally)), tally))
    lines += [Line(text) for text in by_person(found)]
    by_pack: dict[str, list[MissedCheck]] = defaultdict(list)
    for one in found.missed:
        by_pack[one.pack].append(one)
    latest = sorted(by_pack, key=lambda pack: (by_pack[pack][-1].due_on, pack), reverse=True)
    lines += [Line(_missed(by_pack[pack], found), ("pack", pack), HoldClass.ACTION_DUE) for pack in latest[:MISSED]]
    if len(latest) > MISSED:
        lines.append(Line(msg("overview.missed_more", count=len(latest) - MISSED)))
    return section("done", lines, total=found.total.missed, most=3 * WORST)


def _missed(mine: list[MissedCheck], found: DoneDue) -> Message:
    """What one pack missed, oldest first in `mine`: one check that waits is several due days the longer it waits."""
    last = mine[-1]
    after = (
        msg("overview.missed_open", every_days=last.every_days)
        if last.done_on is None
        else msg("overview.missed_made_up", done_date=last.done_on)
    )
    if len(mine) == 1:
        told = msg("overview.missed", pack=last.pack, due_date=last.due_on, after=after)
    else:
        told = msg(
            "overview.missed_days", pack=last.pack, count=len(mine), first_date=mine[0].due_on, last_date=last.due_on,
            after=after,
        )  # fmt: skip
    return told if last.every_days == found.every_days else msg(
        "overview.missed_then", told=told, every_days=last.every_days
    )  # fmt: skip


def _counts(tally: Tally) -> dict[str, object]:
    share = "—" if tally.done_percent is None else f"{tally.done_percent:.0f}"
    done = tally.on_time + tally.late
    return {"done": done, "due": tally.due, "share": share, "late": tally.late, "missed": tally.missed}


def _counted(text: Message, tally: Tally) -> Line:
    told = msg("overview.open", told=text, open=tally.open) if tally.open else text
    return Line(told, kind=HoldClass.ACTION_DUE if tally.missed else None)


def by_person(found: DoneDue) -> Iterator[Message]:
    """What each person did over all weeks, by name, and last the missed checks, which nobody is named for."""
    sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for one in found.by_person:
        for n, value in enumerate((one.checks, one.on_time, one.late, one.missed)):
            sums[one.name, one.person][n] += value
    for (name, person), (checks, on_time, late, _) in sorted(sums.items()):
        if person:
            answered = on_time + late
            share = "—" if not answered else f"{100 * on_time / answered:.0f}"
            told = msg("overview.person", person=name, count=checks, on_time=on_time, late=late, share=share)
            yield told if checks == answered else msg("overview.besides", told=told, count=checks - answered)
    missed = sum(counts[3] for (_, person), counts in sums.items() if not person)
    if missed:
        yield msg("overview.not_assigned", count=missed)


def _silent(view: View) -> Section:
    """Packs in service whose newest reading shows nothing, held and laid-up ones too, the longest silent first."""
    found = facts.read_facts(view)
    lines = []
    for code, latest in found.latest.items():
        if latest.level is VerdictLevel.PASS or found.packs[code].standing is not PackStanding.IN_SERVICE:
            continue
        silent = facts.pack_facts(found, code).reads_nothing
        if silent is not None:
            placed = found.placements.get(code)
            place = (placed.vehicle if placed else None) or found.shelf_of(code) or msg("screen.where_unknown")
            step = msg("step.wake_stored" if code in found.laid_up else "step.wake")
            text = msg("overview.silent_line", pack=code, read_v=silent[0], at=silent[1], place=place, step=step)
            lines.append((silent[1], Line(text, ("pack", code), HoldClass.UNKNOWN)))
    lines.sort(key=lambda one: one[0])
    return section("silent", [line for _at, line in lines])


def _quarantine(store: Store, clock: Clock) -> Section:
    lines = [
        Line(
            msg(
                "overview.quarantined_alarm" if one.alarm else "overview.quarantined", pack=one.pack.code,
                place=one.place or msg("quarantine.no_place"), stay_days=one.days, missed=len(one.missed),
            ),
            ("pack", one.pack.code),
            HoldClass.DANGER,
        )
        for one in quarantine_cases(store, clock)
    ]  # fmt: skip
    return section("quarantine", lines)


def _incidents(store: Store, clock: Clock) -> Section:
    lines = []
    for one in incident_lines(store, clock):
        if one.incident.open:
            things = tuple(code for _cls, code in one.incident.things)
            text = msg(
                "overview.incident", number=one.incident.code, things=things, opened_date=one.incident.opened_at.date(),
                person=one.opened_by,
            )  # fmt: skip
            lines.append(Line(text, one.incident.things[0] if one.incident.things else ("", ""), HoldClass.DANGER))
    return section("incidents", lines)


def _recalls(store: Store, clock: Clock) -> Section:
    lines = [
        Line(
            msg(
                "overview.recall",
                number=page.notice.number,
                held=page.open,
                matched=page.matched,
                unsure=page.not_ruled_out,
            ),
            ("pack", next(one.pack.code for one in page.lines if one.held)),
            HoldClass.DANGER,
        )
        for page in recall_pages(store, clock)
        if page.withdrawn is None and page.open
    ]
    return section("recalls", lines)


def _tallies(store: Store, clock: Clock) -> Section:
    page = tallies_page(store, clock)
    lines = []
    for one in page.tallies:
        text = msg(
            "overview.tally", subject=one.subject, number=len(one.trips), unexplained=one.unexplained,
            reading=one.reading or msg("overview.no_reading"),
        )  # fmt: skip
        subject = (one.subject_class, one.subject) if one.subject_class in ("pack", "vehicle") else ("", "")
        lines.append(Line(text, subject, HoldClass.FAULT if one.reading is not None else None))
    return section("tallies", lines)


def _running_out(view: View, today: dt.date, names: dict[str, str]) -> Section:
    last = today + dt.timedelta(days=RUNS_OUT_DAYS)
    found: list[tuple[dt.date, Line]] = []
    people: dict[str, Person] = view.people()
    for person in people.values():
        end = person.level_until
        if end is not None and end <= last:
            key = "overview.training_over" if end <= today else "overview.training"
            text = msg(
                key, person=names.get(person.code, person.code), level=msg(f"level.{person.level.value}"), end_date=end
            )
            found.append((end, Line(text, kind=HoldClass.ACTION_DUE if end <= today else HoldClass.FAULT)))
    meters: dict[str, Meter] = view.things("meter")
    for meter in meters.values():
        end = meter.calibration_due
        if end is not None and end <= last and meter.refused_from is None:
            key = "overview.calibration_over" if end <= today else "overview.calibration"
            text = msg(key, meter=meter.code, name=meter.name, end_date=end)
            found.append((end, Line(text, kind=HoldClass.ACTION_DUE if end <= today else HoldClass.FAULT)))
    found.sort(key=lambda one: one[0])
    return section("running_out", [line for _end, line in found])


def _reorder(view: View) -> Section:
    lines = []
    for one in stock.to_reorder(view):
        cost = msg("overview.no_price") if one.cost is None else show_money(one.cost, one.part.currency)
        text = msg(
            "overview.part", name=one.part.name, part_number=one.part.part_number or one.part.code, have=one.have,
            level=one.part.reorder_level, order=one.order, cost=cost,
        )  # fmt: skip
        lines.append(Line(text, kind=HoldClass.ACTION_DUE))
    return section("reorder", lines)


def _first_month(now: dt.datetime) -> dt.datetime:
    month = now.year * 12 + now.month - 1 - (MONTHS - 1)
    return now.replace(year=month // 12, month=month % 12 + 1, day=1, hour=0, minute=0, second=0, microsecond=0)


def _pulls(view: View, now: dt.datetime) -> Section:
    months = upheld.monthly(tallying.levels_since(view, _first_month(now)))
    lines = [
        Line(
            msg("overview.pulls_line", month=f"{month:%b %Y}", pulled=one.pulled, upheld=one.upheld,
                overturned=one.overturned, open=one.open),
            kind=HoldClass.UNKNOWN if one.overturned > one.upheld else None,
        )
        for month, one in sorted(months.items(), reverse=True)
    ]  # fmt: skip
    if lines:
        lines.append(Line(msg("overview.pulls_note")))
    return section("pulls", lines, total=sum(one.pulled for one in months.values()))


def _pace(view: View, now: dt.datetime, names: dict[str, str], zone: dt.tzinfo) -> Section:
    made = tallying.typed_since(view, now - dt.timedelta(days=PACE_DAYS))
    found: list[tuple[dt.datetime, Line]] = []
    for one in pace.bursts(made):
        minutes = (one.last - one.first).total_seconds() / 60
        text = msg(
            "overview.burst", person=names.get(one.by, one.by), at=one.first.astimezone(zone), count=one.count,
            in_minutes=max(1, round(minutes)),
        )  # fmt: skip
        found.append((one.first, Line(text, kind=HoldClass.UNKNOWN)))
    for run in pace.repeated(made):
        text = msg(
            "overview.same_digits", person=names.get(run.by, run.by), at=run.first.astimezone(zone), count=run.count,
            digits=run.rested,
        )  # fmt: skip
        found.append((run.first, Line(text, kind=HoldClass.UNKNOWN)))
    found.sort(key=lambda one: one[0], reverse=True)
    return section("pace", [line for _at, line in found])


def _loosened(view: View, now: dt.datetime, names: dict[str, str]) -> Section:
    since = _first_month(now)
    found: list[tuple[int, Line]] = []
    for thing_class in ("site_rules", "pack_model"):
        for code, versions in tallying.versions_of(view, thing_class).items():
            for (_, before), (position, after) in itertools.pairwise(versions):
                record = view.record_at(position)
                if record is None or record.entered_at < since:
                    continue
                assert isinstance(before, (SiteRules, PackModel)) and isinstance(after, (SiteRules, PackModel))
                for one in loosening.changes(before, after):
                    if not one.loosened:
                        continue
                    told = msg(
                        "overview.loosened_line", thing=after.name or code, name=setting_named(one.name),
                        before=_plain(one.name, one.before), after=_plain(one.name, one.after),
                        person=names.get(record.by, record.by), on_date=view.day(record.entered_at),
                    )  # fmt: skip
                    source = source_of(after, one.name)
                    text = msg("overview.loosened_source", told=told, source=source) if source else told
                    found.append((position, Line(text, kind=HoldClass.UNKNOWN)))
    found.sort(key=lambda one: one[0], reverse=True)
    return section("loosened", [line for _position, line in found])


def _plain(name: str, value: object) -> object:
    if value is None:
        return msg("overview.not_set")
    if isinstance(value, bool):
        return msg("overview.yes" if value else "overview.no")
    return show_value(name, value)


_IN_DOUBT = {
    "needs.again_first": "overview.named_in_doubt", "needs.charge_first": "overview.named_flat",
    "needs.balance_first": "overview.named_balance",
}  # fmt: skip


def replacing(found: Renewal) -> Section:
    """Packs to replace with range and cost, from the projection."""
    lines = [Line(found.total)]
    for need in found.needs:
        first = need.quarters[0]
        if not first.none:
            lines.append(
                Line(msg("overview.replace_line", model=need.name, told=first.told(need.price, need.currency)))
            )
            named = sorted((one for one in first.named if not one.in_doubt), key=lambda one: -one.chance)
            lines += [
                Line(
                    msg("overview.named", pack=one.code, share=show_chance(one.chance), why=one.why), ("pack", one.code)
                )
                for one in named[:3]
            ]
            if len(named) > 3:
                lines.append(Line(msg("overview.named_more", count=len(named) - 3)))
        lines += [
            Line(
                msg(_IN_DOUBT[one.first], pack=one.code),
                ("pack", one.code),
                HoldClass.ACTION_DUE,
            )
            for one in first.named
            if one.in_doubt
        ]
    return section("replace", lines, total=sum(need.quarters[0].likely for need in found.needs))
