"""Which written procedure and which rules are in force: the shipped texts, and what a depot adds."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from fleetcare.domain.checks import LookOver
from fleetcare.domain.fuses import FuseWork
from fleetcare.domain.packs import Depot, SiteRules
from fleetcare.domain.procedures import RuleSet, SiteText, Work, site_code, token
from fleetcare.domain.quarantine import QuarantineLook
from fleetcare.domain.records import CheckJudged, FleetFounded
from fleetcare.domain.reset_job import GuidedJob
from fleetcare.domain.trips import Reset
from fleetcare.resource_files import shipped
from fleetcare.store.store import Store, View

WORK_OF: dict[type, Work] = {
    CheckJudged: Work.CHECK, LookOver: Work.LOOK_OVER, Reset: Work.RESET, GuidedJob: Work.GUIDED_JOB,
    FuseWork: Work.FUSE, QuarantineLook: Work.QUARANTINE_LOOK,
}  # fmt: skip
"""Kinds of record that keep the procedure in force."""


@dataclass(frozen=True, slots=True)
class Procedure:
    """One version of a procedure as shipped."""

    work: Work
    version: int
    written: dt.date
    source: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement of a set of rules, with its source."""

    rules: RuleSet
    statement: str
    source: str


@dataclass(frozen=True, slots=True)
class DepotRules:
    """What a sheet says of a depot's rules: statements of its set, and its own text."""

    depot: str
    name: str
    rules: RuleSet
    statements: tuple[Statement, ...]
    own: str


@lru_cache(maxsize=1)
def procedures() -> dict[Work, tuple[Procedure, ...]]:
    """Every shipped version by kind of work, oldest first."""
    data = tomllib.loads((shipped("resources") / "safety" / "procedures.toml").read_text("utf-8"))
    found: dict[Work, list[Procedure]] = {work: [] for work in Work}
    for one in data["procedure"]:
        work = Work(one["work"])
        found[work].append(Procedure(work, one["version"], one["written"], one["source"], tuple(one["steps"])))
    return {work: tuple(sorted(many, key=lambda p: p.version)) for work, many in found.items()}


def newest(work: Work) -> Procedure:
    """The shipped version that the program follows now."""
    return procedures()[work][-1]


def as_dated(view: View, one: Procedure) -> Procedure:
    """`one` as it is told beside the jobs of a fleet.

    The days of a demonstration are counted back from today, so its jobs lie before the texts were written; there a text
    counts as written on the day the demonstration begins, where that is earlier (decision 0287).
    """
    first = view.record_at(1)
    if first is None or not isinstance(first.body, FleetFounded) or not first.body.demo:
        return one
    return replace(one, written=min(one.written, first.done_at.date()))


@lru_cache(maxsize=1)
def _statements() -> tuple[tuple[frozenset[str], Statement], ...]:
    data = tomllib.loads((shipped("resources") / "safety" / "rules.toml").read_text("utf-8"))
    return tuple(
        (frozenset(one["work"]), Statement(RuleSet(one["set"]), one["statement"], one["source"]))
        for one in data["rule"]
    )


def statements_of(rules: RuleSet, work: str = "") -> tuple[Statement, ...]:
    """The statements of a set of rules, for one kind of work or all."""
    return tuple(one for works, one in _statements() if one.rules is rules and (not work or work in works))


def depot_of(view: View, vehicle: str | None, pack: str | None) -> str:
    """The depot where the work is done: the vehicle's, else that of the vehicle the pack is in, else the pack's own,
    else the only one."""
    if vehicle is None and pack is not None:
        placed = view.placement_of(pack)
        vehicle = None if placed is None else placed.vehicle
    known = None if vehicle is None else view.thing("vehicle", vehicle)
    if known is not None:
        return str(known.depot)
    own = None if pack is None else view.thing("pack", pack)
    if own is not None and own.depot:
        return str(own.depot)
    depots = view.codes("depot")
    return depots[0] if len(depots) == 1 else ""


def site_text(view: View, depot: str, work: Work) -> SiteText | None:
    """What a depot adds to a procedure, or None."""
    found: SiteText | None = view.thing("site_text", site_code(depot, work)) if depot else None
    return found


def in_force(view: View, work: Work, vehicle: str | None = None, pack: str | None = None) -> str:
    """What a job keeps of the procedure that is in force for it."""
    own = None
    if view.codes("site_text"):
        own = site_text(view, depot_of(view, vehicle, pack), work)
    return token(work, newest(work).version, own)


def with_procedure(view: View, body: Any) -> Any:
    """A record's body with the procedure in force, where its kind keeps one and none is named yet."""
    work = WORK_OF.get(type(body))
    if work is None or body.procedure:
        return body
    done = body.check if isinstance(body, CheckJudged) else body
    return replace(body, procedure=in_force(view, work, getattr(done, "vehicle", None), done.pack))


def rules_of(view: View, work: str, depot: str = "") -> tuple[DepotRules, ...]:
    """The rules that a sheet about `work` prints: of one depot, or of all that follow any."""
    found = []
    site: SiteRules | None = view.thing("site_rules", "SITE")
    depots: dict[str, Depot] = view.things("depot")
    for code, one in sorted(depots.items()):
        if depot and code != depot:
            continue
        rules = RuleSet(one.rules)
        if rules is not RuleSet.NONE or one.rules_text:
            found.append(DepotRules(code, one.name, rules, statements_of(rules, work), one.rules_text))
    if site is not None and site.rules_followed:
        found.append(DepotRules("", site.name, RuleSet.OWN, (), site.rules_followed))
    return tuple(found)


def sheet_rules(store: Store, work: str, *, pack: str = "", depot: str = "") -> tuple[DepotRules, ...]:
    """`rules_of` as the record stands, for `depot` or the depot of `pack` when one is named."""
    with store.view() as view:
        return rules_of(view, work, depot_of(view, None, pack) if pack else depot)
