"""One page for a renewal talk: what the record of the last year shows under each head that insurers ask about.

Where the record holds nothing under a head, the page says so; it never rounds an empty record up to a good one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from fleetcare.domain.chargers import ChargedOn, OutputState, OutputTest
from fleetcare.domain.fault_tree import FaultWalk
from fleetcare.domain.fuses import FuseWork
from fleetcare.domain.identity import Commissioned
from fleetcare.domain.packs import Level, PackStanding, Person
from fleetcare.domain.procedures import RuleSet
from fleetcare.domain.quarantine import Collected, TransportHead, days_in
from fleetcare.domain.records import LabelPrinted, Record
from fleetcare.domain.wording import Message, msg
from fleetcare.services import facts as read
from fleetcare.services.done_due import done_due
from fleetcare.services.facts import FleetFacts
from fleetcare.services.incidents import all_incidents
from fleetcare.services.policy import conditions_of
from fleetcare.services.quarantine import quarantine_cases
from fleetcare.services.recalling import recall_pages
from fleetcare.services.session import Clock
from fleetcare.store import tallying
from fleetcare.store.store import Store, View

PERIOD_DAYS = 365
_KINDS = (
    "check_corrected", "look_over", "charged_on", "output_test", "collected", "commissioned", "quarantine_look", "fuse", "walk",
    "fingerprint_lodged", "hold",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Head:
    """One head and what the record shows under it; `empty` where it shows nothing."""

    name: str
    told: tuple[Message, ...]
    empty: bool = False


@dataclass(frozen=True, slots=True)
class RenewalSummary:
    """The page: its heads in the order in which they are asked, and the record it was made from."""

    heads: tuple[Head, ...]
    from_date: dt.date
    to_date: dt.date
    vehicles: int
    packs: int
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool


@dataclass(slots=True)
class _Year:
    """What the heads are told from."""

    store: Store
    clock: Clock
    view: View
    facts: FleetFacts
    records: dict[str, list[Record]]
    since: dt.datetime
    now: dt.datetime

    @property
    def today(self) -> dt.date:
        return self.now.astimezone(self.facts.zone).date()

    def bodies(self, kind: str) -> list[object]:
        return [record.body for record in self.records.get(kind, [])]


def renewal_summary(store: Store, clock: Clock) -> RenewalSummary:
    """Read the last year of the record and say what it shows."""
    now = clock()
    since = now - dt.timedelta(days=PERIOD_DAYS)
    with store.view() as view:
        facts = read.read_facts(view)
        records: dict[str, list[Record]] = {}
        for record in tallying.bodies_since(view, _KINDS, since):
            records.setdefault(record.kind, []).append(record)
        year = _Year(store, clock, view, facts, records, since, now)
        heads = tuple(_head(name, tell, year) for name, tell in _HEADS)
        in_service = sum(p.standing is PackStanding.IN_SERVICE for p in facts.packs.values())
        return RenewalSummary(
            heads, since.astimezone(facts.zone).date(), year.today, len(facts.vehicles), in_service, now, view.position,
            view.head().root_hex, store.fleet_name, store.demo,
        )  # fmt: skip


def _head(name: str, tell: Callable[[_Year], list[Message]], year: _Year) -> Head:
    told = tell(year)
    return Head(name, tuple(told) if told else (msg(f"summary.none_{name}"),), not told)


def _inspection(year: _Year) -> list[Message]:
    found = done_due(year.store, year.clock, year.since.astimezone(year.facts.zone).date(), year.today)
    total = found.total
    told = []
    if total.due:
        share = f"{100 * (total.on_time + total.late) / total.due:.0f}"
        told.append(
            msg("summary.checks", due=total.due, on_time=total.on_time, late=total.late, missed=total.missed,
                open=total.open, share=share)
        )  # fmt: skip
    looks = len(year.bodies("look_over"))
    if looks:
        told.append(msg("summary.looks", count=looks))
    return told


def _procedure(year: _Year) -> list[Message]:
    told = [msg("summary.rules", rules=rules) for rules in _followed(year)]
    if year.view.codes("site_text"):
        told.append(msg("summary.site_texts", count=len(year.view.codes("site_text"))))
    mine = [one for one in conditions_of(year.view) if one.in_force(year.today, year.today)]
    if mine:
        told.append(msg("summary.conditions", count=len(mine), codes=tuple(one.body.code for one in mine)))
    return told


def _followed(year: _Year) -> list[Message | str]:
    """What each depot follows, then what the site says of all of them."""
    depots = [one for _, one in sorted(year.view.things("depot").items())]
    found: list[Message | str] = [
        msg("summary.depot_rules", depot=one.name, rules=msg(f"procedure.rules_{one.rules}"))
        for one in depots
        if RuleSet(one.rules) not in (RuleSet.NONE, RuleSet.OWN)
    ]
    found += [msg("summary.depot_own", depot=one.name) for one in depots if one.rules_text]
    site = year.facts.site.rules_followed
    return [*found, site] if site else found


def _damaged(year: _Year) -> list[Message]:
    stays = tallying.danger_stays(year.view, year.since)
    if not stays:
        return []
    return [
        msg(
            "summary.danger",
            count=len({pack for pack, _, _ in stays}),
            places=len(quarantine_cases(year.store, year.clock)),
        )
    ]


def _quarantine_ends(year: _Year) -> list[Message]:
    stays = tallying.danger_stays(year.view, year.since)
    if not stays:
        return []
    day = year.view.day
    longest = max(days_in(day(since), day(until or year.now)) for _, since, until in stays)
    cases = quarantine_cases(year.store, year.clock)
    looks = len(year.bodies("quarantine_look"))
    return [
        msg("summary.stay", longest_days=longest, alarm_days=year.facts.site.quarantine_alarm_days,
            over=sum(one.alarm for one in cases), looks=looks, missed=sum(len(one.missed) for one in cases)),
    ]  # fmt: skip


def _charger(year: _Year) -> list[Message]:
    charged = [one for one in year.bodies("charged_on") if isinstance(one, ChargedOn)]
    tests = [one for one in year.bodies("output_test") if isinstance(one, OutputTest)]
    told = []
    if charged:
        told.append(msg("summary.charged", count=len(charged), chargers=len({one.charger for one in charged})))
    if tests:
        bad = sum(one.state is not OutputState.GOOD for one in tests)
        told.append(msg("summary.output", count=len(tests), bad=bad))
    return told


def _where_charged(year: _Year) -> list[Message]:
    charged = [one for one in year.bodies("charged_on") if isinstance(one, ChargedOn)]
    if not charged:
        return []
    return [msg("summary.where", count=sum(bool(one.where.strip()) for one in charged), of=len(charged))]


def _staff(year: _Year) -> list[Message]:
    people: list[Person] = list(year.facts.people.values())
    holding = [one for one in people if one.level_on(year.today) is not Level.NONE]
    over = [one for one in people if one.level is not Level.NONE and one.level_on(year.today) is Level.NONE]
    undated = [one for one in holding if one.level_until is None]
    if not holding and not over:
        return []
    release = sum(one.level_on(year.today).covers(Level.MAY_RELEASE) for one in holding)
    return [
        msg("summary.staff_told", count=len(holding), release=release, over=len(over), undated=len(undated)),
    ]


def _not_opened(year: _Year) -> list[Message]:
    fuses = sum(isinstance(one, FuseWork) for one in year.bodies("fuse"))
    walks = sum(isinstance(one, FaultWalk) for one in year.bodies("walk"))
    return [msg("summary.not_opened_told", fuses=fuses, walks=walks)]


def _transport(year: _Year) -> list[Message]:
    gone = [one for one in year.bodies("collected") if isinstance(one, Collected)]
    if not gone:
        return []
    whole = sum(len(dict(one.heads)) == len(TransportHead) for one in gone)
    return [msg("summary.transport_told", count=len(gone), whole=whole)]


def _recalls(year: _Year) -> list[Message]:
    packs = [one for one in year.facts.packs.values() if one.standing is PackStanding.IN_SERVICE]
    told = []
    if packs:
        told.append(msg("summary.serials", count=sum(bool(one.serial) for one in packs), of=len(packs)))
    pages = [one for one in recall_pages(year.store, year.clock) if one.withdrawn is None]
    if pages:
        told.append(msg("summary.recalls_told", count=len(pages), held=sum(one.open for one in pages)))
    return told


def _identity(year: _Year) -> list[Message]:
    packs = [one for one in year.facts.packs.values() if one.standing is PackStanding.IN_SERVICE]
    if not packs:
        return []
    printed = [one.body for one in year.view.records_of("label_printed")]
    labelled = {one.code for one in printed if isinstance(one, LabelPrinted) and one.thing_class == "pack"}
    return [
        msg("summary.identity_told", of=len(packs), labelled=sum(one.code in labelled for one in packs),
            passports=sum(bool(one.passport) for one in packs)),
    ]  # fmt: skip


def _marks(year: _Year) -> list[Message]:
    made = [one for one in year.bodies("commissioned") if isinstance(one, Commissioned)]
    if not made:
        return []
    return [
        msg("summary.marks_told", count=len(made), marked=sum(bool(one.marks) for one in made),
            pictured=sum(bool(one.photos) for one in made)),
    ]  # fmt: skip


def _incidents(year: _Year) -> list[Message]:
    mine = [one for one in all_incidents(year.view) if one.happened_at >= year.since or one.open]
    return [msg("summary.incidents_told", count=len(mine), open=sum(one.open for one in mine))] if mine else []


def _record(year: _Year) -> list[Message]:
    struck, lodged = len(year.bodies("check_corrected")), len(year.bodies("fingerprint_lodged"))
    return [msg("summary.record_told", count=year.view.position, struck=struck, lodged=lodged)]


_HEADS: tuple[tuple[str, Callable[[_Year], list[Message]]], ...] = (
    ("inspection", _inspection), ("procedure", _procedure), ("damaged", _damaged), ("quarantine_ends", _quarantine_ends),
    ("charger", _charger), ("where_charged", _where_charged), ("staff", _staff), ("not_opened", _not_opened),
    ("transport", _transport), ("recalls", _recalls), ("identity", _identity), ("marks", _marks), ("incidents", _incidents), ("record", _record),
)  # fmt: skip
"""The heads in the order in which they are asked, and what tells each."""
