"""Decisions as they are read: what waits for one, and what was decided.  The deed is in `deciding`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleetcare.domain import decisions as rule
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.decisions import Choice, Decision, Kind, Question
from fleetcare.domain.packs import Pack, PackStanding, SiteRules
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg
from fleetcare.services.charge_bars import reads_nothing
from fleetcare.services.conditions import STORED
from fleetcare.services.session import Clock
from fleetcare.store.store import Store, View
from fleetcare.store.values import LatestCheck, StoredHold

_KIND_OF = {VerdictLevel.WATCH: Kind.WATCH, VerdictLevel.PULL: Kind.PULL}


@dataclass(frozen=True, slots=True)
class Early:
    """The early edge (where the 80 % range begins) of a projection that lies near."""

    quantity: str
    edge_on: dt.date


@dataclass(frozen=True, slots=True)
class Undecided:
    """A pack that waits for a decision.  `ran_out` is the last decision, when its date has passed or it was used up."""

    pack: str
    model_name: str
    place: str
    kind: Kind
    statement: Message
    since: dt.datetime
    ran_out: Decision | None
    decided_by: str


@dataclass(frozen=True, slots=True)
class Decided:
    """A decision with the name of who made it."""

    decision: Decision
    person: str
    on_date: dt.date
    what: Message


def what_was_decided(decision: Decision) -> Message:
    """The decision in words: "carry on until 9 Nov 2026"."""
    if decision.choice is Choice.PULL:
        return msg("decision.pull_now")
    key = {Choice.CARRY_ON: "carry_on_until", Choice.RECHECK: "recheck_by", Choice.REPLACE: "replace_by"}
    return msg(f"decision.{key[decision.choice]}", until_date=decision.until)


def newest_decisions(view: View) -> dict[str, tuple[Decision, str]]:
    """The newest decision about each pack and the code of who made it."""
    found: dict[str, tuple[Decision, str]] = {}
    for event in view.records_of("decision"):
        assert isinstance(event.body, Decision)
        found[event.body.pack] = event.body, event.by
    return found


def early_edges(store: Store, clock: Clock) -> dict[str, Early]:
    """Packs whose projection reaches its limit within the site's early days at its early edge; slow, for the background."""
    from fleetcare.services.summary import fleet_projections

    with store.view() as view:
        site = view.thing("site_rules", "SITE") or SiteRules()
    found: dict[str, Early] = {}
    for pack, projections in fleet_projections(store, clock):
        early = early_of(projections, clock(), site)
        if early is not None:
            found[pack] = early
    return found


def early_of(projections: Iterable[Projection], now: dt.datetime, site: SiteRules) -> Early | None:
    """The nearest early edge among a pack's projections that lies within the site's early days, or None.

    Volts in store are no matter of a decision: such a pack is charged or found to leak by the rules of storage.
    """
    near = now.date() + dt.timedelta(days=site.early_edge_days)
    edges = [
        Early(one.quantity, one.crossing_p10)
        for one in projections
        if one.projected and one.quantity != STORED and one.crossing_p10 is not None and one.crossing_p10 <= near
    ]
    return min(edges, key=lambda one: one.edge_on, default=None)


def asked_ahead(store: Store, clock: Clock, pack: str) -> tuple[Question, Early] | None:
    """The question that one pack's projection asks, with its early edge; None where it asks none.  For the background."""
    from fleetcare.services.summary import pack_summary

    page = pack_summary(store, clock, pack)
    asked = page.decision.question if page.decision is not None else None
    if asked is None or asked.kind is not Kind.EARLY:
        return None
    with store.view() as view:
        site = view.thing("site_rules", "SITE") or SiteRules()
    early = early_of(page.projections, clock(), site)
    return None if early is None else (asked, early)


@dataclass(frozen=True, slots=True)
class DecisionLists:
    """What waits and what stands, read together."""

    waiting: tuple[Undecided, ...]
    made: tuple[Decided, ...]


def decision_lists(store: Store, clock: Clock, early: Mapping[str, Early] | None = None) -> DecisionLists:
    """Both lists of the decisions page."""
    with store.view() as view:
        return DecisionLists(*_sorted(view, clock(), early))


def undecided(view: View, now: dt.datetime, early: Mapping[str, Early] | None = None) -> tuple[Undecided, ...]:
    """Every pack in service that waits for a decision, pulls first, then the longest waiting.

    `early` are the near projections of `early_edges`; without them only verdicts and holds ask.
    """
    return _sorted(view, now, early)[0]


def standing_decisions(view: View, now: dt.datetime, early: Mapping[str, Early] | None = None) -> tuple[Decided, ...]:
    """Decisions that answer a question now, the soonest to run out first."""
    return _sorted(view, now, early)[1]


def _sorted(
    view: View, now: dt.datetime, early: Mapping[str, Early] | None
) -> tuple[tuple[Undecided, ...], tuple[Decided, ...]]:
    packs: dict[str, Pack] = view.things("pack")
    models = view.things("pack_model")
    latest = view.latest_checks()
    placements = view.placements()
    names = view.person_names()
    made = newest_decisions(view)
    holds: dict[str, list[StoredHold]] = {}
    for hold in view.open_holds():
        if hold.subject_class == "pack":
            holds.setdefault(hold.subject, []).append(hold)
    waiting: list[Undecided] = []
    answered: list[Decided] = []
    for code, pack in packs.items():
        if pack.standing is not PackStanding.IN_SERVICE:
            continue
        mine = holds.get(code, [])
        asked = question_of(view, code, latest.get(code), mine, (early or {}).get(code), now)
        if asked is None:
            continue
        decision, by = made.get(code, (None, ""))
        last = latest[code].last_valid if code in latest else None
        if decision is not None and rule.stands(decision, asked, now.date(), last, out=bool(mine)):
            answered.append(
                Decided(decision, names.get(by, by), view.day(decision.done_at), what_was_decided(decision))
            )
            continue
        placed = placements.get(code)
        place = pack.shelf if placed is None else placed.vehicle or placed.shelf
        model = models.get(pack.model)
        waiting.append(
            Undecided(code, model.name if model else pack.model, place or "—", asked.kind, asked.statement, asked.since,
                      decision, names.get(by, by))
        )  # fmt: skip
    waiting.sort(key=lambda one: (-one.kind.rank, one.since, one.pack))
    answered.sort(key=lambda one: (one.decision.until or dt.date.max, one.decision.pack))
    return tuple(waiting), tuple(answered)


def question_of(
    view: View, pack: str, latest: LatestCheck | None, holds: list[StoredHold], early: Early | None, now: dt.datetime
) -> Question | None:
    """What asks about a pack, the strictest first; a danger is nobody's to decide here.

    While its newest reading shows nothing, no older verdict and no projection asks: it is read again first.
    """
    if any(hold.hold_class is HoldClass.DANGER for hold in holds):
        return None
    silent = latest is not None and _shows_nothing(view, pack, latest)
    asked = None if latest is None or silent else _of_verdict(view, pack, latest)
    if asked is not None and asked.kind is Kind.PULL:
        return asked
    fault = next((hold for hold in holds if hold.hold_class is HoldClass.FAULT), None)
    if fault is not None:
        reason = msg("hold.in_words", remark=fault.remark, reason=fault.reason) if fault.remark else fault.reason
        told = msg("decision.ask_held", pack=pack, reason=reason)
        return Question(pack, Kind.PULL, fault.since, told, fault.hold_id)
    if asked is None and early is not None and not silent:
        quantity = msg(f"quantity.{early.quantity}")
        told = msg(
            "decision.ask_early", pack=pack, quantity=quantity, edge_date=early.edge_on, quantity_code=early.quantity
        )
        return Question(pack, Kind.EARLY, now, told)
    return asked


def _shows_nothing(view: View, pack: str, latest: LatestCheck) -> bool:
    """Whether the newest reading shows nothing; one that passed never does."""
    if latest.level is VerdictLevel.PASS:
        return False
    return reads_nothing(view, pack, view.thing("pack_model", view.thing("pack", pack).model))


def _of_verdict(view: View, pack: str, latest: LatestCheck) -> Question | None:
    """The question of the newest verdict; a reading that does not count as a check leaves the one before it."""
    if latest.level is VerdictLevel.PASS and latest.done_at == latest.last_valid:
        return None
    for one in view.checks_of(pack, 16):
        level = one.verdict.level
        if one.void_position is None and level in _KIND_OF:
            kind = _KIND_OF[level]
            why = next((f.statement for f in one.verdict.findings if f.level is level), one.verdict.headline)
            told = msg(f"decision.ask_{kind.value}", pack=pack, why=why)
            return Question(pack, kind, one.check.done_at, told, one.record_id)
        if one.void_position is None and one.verdict.valid:
            return None
    return None


@dataclass(frozen=True, slots=True)
class PackDecision:
    """What a pack's page says: the open question, or the decision that answers it; `ran_out` as in `Undecided`."""

    question: Question | None
    standing: Decided | None
    ran_out: Decided | None


def decision_of(view: View, pack: str, now: dt.datetime, early: Early | None = None) -> PackDecision:
    """The question about one pack, and what was decided."""
    latest = view.latest_checks([pack]).get(pack)
    holds = view.open_holds(("pack", pack))
    asked = question_of(view, pack, latest, holds, early, now)
    events = view.records_of("decision", ("pack", pack))
    if not events:
        return PackDecision(asked, None, None)
    body = events[-1].body
    assert isinstance(body, Decision)
    by = view.person_names().get(events[-1].by, events[-1].by)
    decided = Decided(body, by, events[-1].done_at.date(), what_was_decided(body))
    if asked is None:
        return PackDecision(None, None, None)
    last = latest.last_valid if latest else None
    if rule.stands(body, asked, now.date(), last, out=bool(holds)):
        return PackDecision(None, decided, None)
    return PackDecision(asked, None, decided)
