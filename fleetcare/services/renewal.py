"""The manager's view ahead: what the fleet has taught, how earlier projections came true, what to buy and when."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from fleetcare.domain.packs import PackModel, PackStanding
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.projection.calibration import HORIZONS
from fleetcare.domain.projection.planning import LEAST_AT_RISK, LEAST_PULLED, Survival, count_range, kaplan_meier
from fleetcare.domain.temperature import GAS_CONSTANT
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.services.fleet_outlook import FleetOutlook, outlook_of
from fleetcare.services.outlook import PackHistory, pack_projections
from fleetcare.services.session import Clock
from fleetcare.store.store import Store
from fleetcare.store.values import StoredCheck

QUARTERS = 2
"""Quarters planned ahead: a projection's chances are read at 91 and 182 days."""
NAMED_FROM = 0.2
"""Packs are named in the plan from this chance on (proposal)."""
BATCH_PACKS = 500


@dataclass(frozen=True, slots=True)
class Learnt:
    """What is known of one pack model: `packs` it rests on, activation energy and change of resistance per 10 °C
    colder (%), typical rise of resistance and change of rested volts in a year, scatter of one reading, spread of pace."""

    model: str
    packs: int
    energy_kj_mol: float
    colder_percent: float
    yearly_percent: float
    yearly_v: float
    scatter_percent: float
    scatter_v: float
    pace_percent: float


@dataclass(frozen=True, slots=True)
class Kept:
    """How earlier projections came true: of `count` that said 80 %, `inside_percent` held."""

    model: str
    quantity: str
    days: int
    count: int
    inside_percent: float


@dataclass(frozen=True, slots=True)
class Need:
    """How many packs of one model will be needed by `until`: low, likely, high; `named` packs with their chance."""

    model: str
    until: dt.date
    low: int
    likely: int
    high: int
    price: Decimal | None
    currency: str
    named: tuple[tuple[str, float], ...]
    unknown: int


@dataclass(frozen=True, slots=True)
class Lasting:
    """One model in the comparison; `sentence` says how it stood at the age compared, or why it is not ranked."""

    model: str
    packs: int
    pulled: int
    mean_months: float
    sentence: Message


@dataclass(frozen=True, slots=True)
class Renewal:
    """Everything on the manager's page ahead."""

    as_of: dt.date
    learnt: tuple[Learnt, ...]
    meters: tuple[tuple[str, float], ...]
    kept: tuple[Kept, ...]
    needs: tuple[Need, ...]
    lasting: tuple[Lasting, ...]


def renewal(store: Store, clock: Clock, progress: Callable[[int, int], None] | None = None) -> Renewal:
    """Read the whole fleet once and draw the view ahead."""
    now = clock()
    with store.view() as view:
        facts = read.read_facts(view)
        outlook = outlook_of(store, view, facts, now, at_position=False)
        packs = sorted(facts.packs.values(), key=lambda p: p.code)
        projected: dict[str, tuple[Projection, ...]] = {}
        lives: dict[str, list[tuple[float, bool]]] = defaultdict(list)
        for start in range(0, len(packs), BATCH_PACKS):
            part = packs[start : start + BATCH_PACKS]
            histories = [PackHistory(p.code, facts.models[p.model], view.checks_of(p.code)) for p in part]
            for pack, one in zip(part, histories, strict=True):
                life = _life(one.checks, pack.in_service_on, pack.standing is PackStanding.IN_SERVICE, now)
                if life is not None:
                    lives[pack.model].append(life)
            current = [h for p, h in zip(part, histories, strict=True) if p.standing is PackStanding.IN_SERVICE]
            found = pack_projections(outlook, current, facts.site, now, fans=False) if current else []
            projected.update(zip((h.code for h in current), found, strict=True))
            if progress is not None:
                progress(start + len(part), len(packs))
    return Renewal(
        now.date(), _learnt(outlook, facts), _meters(outlook), _kept(outlook, facts), _needs(facts, projected, now.date()),
        _compared(facts, lives),
    )  # fmt: skip


def _life(
    checks: list[StoredCheck], since: dt.date | None, in_service: bool, now: dt.datetime
) -> tuple[float, bool] | None:
    """(days followed, pulled): to the first check that pulled the pack, else to today; None without any check."""
    standing = sorted((c for c in checks if c.void_position is None), key=lambda c: c.check.done_at)
    if not standing:
        return None
    first = since or standing[0].check.done_at.date()
    pulled = next((c.check.done_at.date() for c in standing if c.verdict.level is VerdictLevel.PULL), None)
    if pulled is None and not in_service:
        pulled = standing[-1].check.done_at.date()
    return float(max(((pulled or now.date()) - first).days, 0)), pulled is not None


def _learnt(outlook: FleetOutlook, facts: FleetFacts) -> tuple[Learnt, ...]:
    fit = outlook.fit
    if fit is None:
        return ()
    rows = []
    for number, code in enumerate(outlook.models):
        ohm, full = fit.log_ohm.curves[number], fit.full_v.curves[number]
        if not max(ohm.packs, full.packs):
            continue
        energy = float(fit.corrections.activation_j_mol[number])
        colder = np.exp(energy / GAS_CONSTANT * (1 / 288.15 - 1 / 298.15)) - 1
        rows.append(
            Learnt(
                facts.models[code].name, max(ohm.packs, full.packs), energy / 1000, float(colder) * 100,
                float(np.expm1(ohm.per_year)) * 100, full.per_year, float(fit.log_ohm.track.scatter[number]) * 100,
                float(fit.full_v.track.scatter[number]), float(fit.log_ohm.track.pace[number]) * 100,
            )
        )  # fmt: skip
    return tuple(rows)


def _meters(outlook: FleetOutlook) -> tuple[tuple[str, float], ...]:
    """Each meter's latest offset in volts, as the packs show it against the other meters."""
    if outlook.fit is None or not outlook.fit.corrections.meter_offset_v.size:
        return ()
    offsets = outlook.fit.corrections.meter_offset_v
    return tuple((code, float(offsets[n, -1])) for code, n in sorted(outlook.meters.items()) if n < len(offsets))


def _kept(outlook: FleetOutlook, facts: FleetFacts) -> tuple[Kept, ...]:
    held: dict[tuple[str, str, int], list[bool]] = defaultdict(list)
    for outcome in outlook.calibration.outcomes:
        for z, model, sliding in zip(outcome.z, outcome.model, outcome.sliding, strict=True):
            low, _, high = outlook.calibration.places[outcome.quantity, outcome.horizon_days, bool(sliding)]
            name = facts.models[outlook.models[int(model)]].name
            held[name, outcome.quantity, outcome.horizon_days].append(bool(low <= z <= high))
    names = {"log_ohm": "resistance_ohm"}
    return tuple(
        Kept(name, names.get(quantity, quantity), days, len(found), 100 * sum(found) / len(found))
        for (name, quantity, days), found in sorted(held.items())
    )


def _needs(facts: FleetFacts, projected: dict[str, tuple[Projection, ...]], today: dt.date) -> tuple[Need, ...]:
    by_model: dict[str, list[str]] = defaultdict(list)
    for code in projected:
        by_model[facts.packs[code].model].append(code)
    rows = []
    for model_code, codes in sorted(by_model.items()):
        model: PackModel = facts.models[model_code]
        for days in HORIZONS[1:]:
            chances, unknown = [], 0
            for code in codes:
                chance = _chance(projected[code], days)
                if chance is None:
                    unknown += 1
                else:
                    chances.append((code, chance))
            named = sorted((one for one in chances if one[1] >= NAMED_FROM), key=lambda one: (-one[1], one[0]))
            low, likely, high = count_range([chance for _, chance in chances])
            rows.append(
                Need(model.name, today + dt.timedelta(days=days), low, likely, high, model.price, model.currency,
                     tuple(named), unknown)
            )  # fmt: skip
    return tuple(rows)


def _chance(projections: tuple[Projection, ...], days: int) -> float | None:
    """Chance that either limit is passed within `days`: the worse of the two, since they are not independent."""
    found = [
        1.0 if p.already_beyond else next(h.chance_beyond for h in p.horizons if h.days == days)
        for p in projections
        if p.projected and p.limit is not None
    ]
    return max(found, default=None)


def _compared(facts: FleetFacts, lives: dict[str, list[tuple[float, bool]]]) -> tuple[Lasting, ...]:
    """Models at the age that the youngest of them has reached; not ranked on too few."""
    curves: dict[str, Survival] = {
        model: kaplan_meier([a for a, _ in found], [p for _, p in found]) for model, found in lives.items()
    }
    old = {model: max(a for a, _ in found) for model, found in lives.items()}
    age = min(old.values(), default=0.0)
    pulled = sum(p for found in lives.values() for _, p in found)
    enough = (
        pulled >= LEAST_PULLED and all(c.followed_to(age) >= LEAST_AT_RISK for c in curves.values()) and len(old) > 1
    )
    rows = []
    for model, found in sorted(lives.items()):
        followed = curves[model].followed_to(age)
        months = f"{age / 30.4375:.0f}"
        if enough:
            share = f"{100 * curves[model].at(age):.0f}"
            sentence = msg("renewal.lasted", share=share, months=months, count=followed)
        else:
            sentence = msg("renewal.not_ranked", months=months, count=followed, need=LEAST_AT_RISK, pulled=LEAST_PULLED)
        rows.append(
            Lasting(facts.models[model].name, len(found), sum(p for _, p in found),
                    float(np.mean([a for a, _ in found])) / 30.4375, sentence)
        )  # fmt: skip
    return tuple(rows)
