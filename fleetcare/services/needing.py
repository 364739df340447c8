"""Packs to replace per quarter and model: low, likely and high whole numbers, with the packs named and the price."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.money import show_money
from fleetcare.domain.packs import PackModel
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.projection.planning import count_range
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg
from fleetcare.services.facts import FleetFacts

QUARTER_ENDS = (91, 182)
"""Quarters planned ahead end so many days from the day asked: the horizons that projections are calibrated at."""
UNCOUNTED_NAMED = 6
NAMED_FROM, LEAST_NAMED = 0.2, 0.01
"""Packs are named in the plan from this chance on (proposal); below it, and never below the second, those most likely to be
needed until the high number is reached, so that every number has its names."""


@dataclass(frozen=True, slots=True)
class NamedPack:
    """A pack that will perhaps be needed in a quarter: its chance there and the quantity that leads to it."""

    code: str
    model: str
    quarter: int
    from_date: dt.date
    to_date: dt.date
    chance: float
    why: Message


@dataclass(frozen=True, slots=True)
class QuarterNeed:
    """Low, likely and high numbers of packs of one model in one quarter."""

    number: int
    from_date: dt.date
    to_date: dt.date
    low: int
    likely: int
    high: int
    named: tuple[NamedPack, ...]
    chances: tuple[float, ...]

    @property
    def none(self) -> bool:
        """True where even the high number is zero."""
        return self.high == 0

    def told(self, price: Decimal | None, currency: str) -> Message:
        """The numbers in a sentence, times the price where there is one."""
        exact = self.low == self.high
        if exact and price is None:
            return msg("needs.exact", likely_packs=self.likely)
        if exact and price is not None:
            cost = show_money(self.likely * price, currency)
            return msg(
                "needs.exact_cost", likely_packs=self.likely, price=show_money(price, currency), likely_cost=cost
            )
        counts = {"low": self.low, "likely": self.likely, "high": self.high}
        if price is None:
            return msg("needs.counts", **counts)
        costs = {f"{name}_cost": show_money(count * price, currency) for name, count in counts.items()}
        return msg("needs.costs", price=show_money(price, currency), **counts, **costs)


@dataclass(frozen=True, slots=True)
class Uncounted:
    """A pack without a projection: the comparable checks it has, of those it needs."""

    code: str
    have: int
    need: int


@dataclass(frozen=True, slots=True)
class ModelNeed:
    """What one model will need: `packs` are in service, the `uncounted` of them cannot be projected yet."""

    code: str
    name: str
    price: Decimal | None
    currency: str
    packs: int
    uncounted: tuple[Uncounted, ...]
    quarters: tuple[QuarterNeed, ...]

    @property
    def unknown(self) -> int:
        """How many packs are not counted."""
        return len(self.uncounted)

    @property
    def uncounted_told(self) -> Message:
        """Which packs are not counted, those nearest to a projection by name."""
        named = tuple(f"{one.code} ({one.have} of {one.need})" for one in self.uncounted[:UNCOUNTED_NAMED])
        told = msg("needs.unknown_of", model=self.name, unknown=self.unknown, packs=self.packs, named=named)
        more = self.unknown - len(named)
        return msg("needs.unknown_more", told=told, count=more) if more else told

    @property
    def none(self) -> bool:
        """True where nothing is expected in any quarter."""
        return all(one.none for one in self.quarters)


def needs_of(
    facts: FleetFacts, projected: Mapping[str, tuple[Projection, ...]], today: dt.date
) -> tuple[ModelNeed, ...]:
    """One entry a model with packs in service, those that need something first."""
    rows = []
    for code, model in sorted(facts.models.items()):
        own = sorted(pack for pack in projected if facts.packs[pack].model == code)
        if own:
            rows.append(_model(facts, model, {pack: projected[pack] for pack in own}, today))
    return tuple(sorted(rows, key=lambda one: (one.none, one.code)))


def _model(
    facts: FleetFacts, model: PackModel, projected: Mapping[str, tuple[Projection, ...]], today: dt.date
) -> ModelNeed:
    chances = {pack: _chances(facts, pack, found) for pack, found in projected.items()}
    known = {pack: found for pack, found in chances.items() if found is not None}
    quarters, begin = [], today
    for number, days in enumerate(QUARTER_ENDS):
        end = today + dt.timedelta(days=days)
        every = tuple(own[0][number] for own in known.values())
        low, likely, high = count_range(every)
        ranked = sorted(known.items(), key=lambda one: (-one[1][0][number], one[0]))
        named = [
            NamedPack(pack, model.name, number + 1, begin, end, own[0][number], own[1])
            for place, (pack, own) in enumerate(ranked)
            if own[0][number] >= (LEAST_NAMED if place < high else NAMED_FROM)
        ]
        quarters.append(QuarterNeed(number + 1, begin, end, low, likely, high, tuple(named), every))
        begin = end + dt.timedelta(days=1)
    uncounted = [_uncounted(pack, projected[pack]) for pack, found in chances.items() if found is None]
    uncounted.sort(key=lambda one: (-one.have, one.code))
    return ModelNeed(
        model.code, model.name, model.price, model.currency, len(projected), tuple(uncounted), tuple(quarters)
    )


def _uncounted(code: str, projections: tuple[Projection, ...]) -> Uncounted:
    """The checks of the resistance where any was read, else of the rested volts."""
    own = [one for one in projections if one.quantity != "stored_v"]
    shown = next((one for one in own if one.comparable_checks), own[0])
    return Uncounted(code, shown.comparable_checks, shown.needed_checks)


def _chances(
    facts: FleetFacts, code: str, projections: tuple[Projection, ...]
) -> tuple[tuple[float, ...], Message] | None:
    """The chance of each quarter and what leads to it: the worse of the two quantities, as they are not independent.

    A pack that its newest check pulled is needed now.
    """
    latest = facts.latest.get(code)
    if latest is not None and latest.level in (VerdictLevel.PULL, VerdictLevel.DANGER):
        return (1.0, *(0.0 for _ in QUARTER_ENDS[1:])), msg("needs.pulled", done_at=latest.done_at)
    best: tuple[tuple[float, ...], Message] | None = None
    for one in projections:
        if not one.projected or one.limit is None or one.quantity == "stored_v":
            continue
        by_day = {h.days: h.chance_beyond for h in one.horizons}
        upto = [1.0 if one.already_beyond else by_day[days] for days in QUARTER_ENDS]
        each = tuple(max(b - a, 0.0) for a, b in zip((0.0, *upto), upto, strict=False))
        if best is None or sum(each) > sum(best[0]):
            best = (
                each,
                msg("needs.by_projection", quantity=msg(f"quantity.{one.quantity}"), count=one.comparable_checks),
            )
    return best
