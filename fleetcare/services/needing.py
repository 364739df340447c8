"""Packs to replace per quarter and model: low, likely and high whole numbers, with the packs named and the price."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.money import show_money
from fleetcare.domain.packs import Chemistry, PackModel
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.projection.planning import count_range
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.self_discharge import on_plateau
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg, say, show_chance
from fleetcare.services.facts import FleetFacts
from fleetcare.services.suspects import is_open

QUARTER_ENDS = (91, 182)
"""Quarters planned ahead end so many days from the day asked: the horizons that projections are calibrated at."""
UNCOUNTED_NAMED = 6
PULLED_KEYS = ("full.pull", "ohm.pull", "ohm.pull_corrected")
"""Reasons of holds by which a check pulled a pack; a passed check since lifts that, a reading that judges nothing does not."""
DOUBTED = ("projection.far_off", "projection.doubt_not_this_pack")
"""Why a reading that does not fit its pack was left out of a projection."""
IN_DOUBT = "needs.pulled_in_doubt"
FLAT, FLAT_AGAIN = "needs.flat_in_doubt", "needs.flat_again"
"""Volts of a flat chemistry below the pull line: once, or after full charges one after the other."""
FLAT_TWICE = 2
"""From so many low readings in a row on a full charge alone is not asked for any more (common practice: one repeat)."""
LEAST_TOLD = 0.05
"""From such a sum of chances on the packs that are not named are told together (proposal)."""
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

    @property
    def in_doubt(self) -> bool:
        """True where its newest check pulled it by a reading that does not fit it, or by volts that do not show what is
        missing: to be measured again before buying."""
        return self.why.key in (IN_DOUBT, FLAT, FLAT_AGAIN)

    @property
    def is_flat(self) -> bool:
        """True where the volts of a flat chemistry would pull it: to be charged fully and checked before buying."""
        return self.why.key in (FLAT, FLAT_AGAIN)

    @property
    def first(self) -> str:
        """What is to be done before one is bought in its place, as the key of a word; "" where nothing is in doubt."""
        return {IN_DOUBT: "needs.again_first", FLAT: "needs.charge_first", FLAT_AGAIN: "needs.balance_first"}.get(
            self.why.key, ""
        )


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

    @property
    def others(self) -> Message | None:
        """How many packs that are not named have a chance, and what their chances add up to; None below 5 %.

        From a whole pack on it is told in packs, since no chance is above 100 %.
        """
        own = sorted(self.chances, reverse=True)
        for pack in self.named:
            own.remove(pack.chance)
        rest = [one for one in own if one > 0]
        if sum(rest) < LEAST_TOLD:
            return None
        if sum(rest) >= 1:
            return msg("needs.others_many", others=len(rest), count=round(sum(rest)))
        return msg("needs.others", others=len(rest), share=f"{100 * sum(rest):.0f}")

    def told(self, price: Decimal | None, currency: str) -> Message:
        """The numbers in a sentence, times the price where there is one."""
        exact = self.low == self.high
        counts = {"low": self.low, "likely": self.likely, "high": self.high}
        packs = {"low": self.low, "likely": self.likely, "high_packs": self.high}
        ends = {"low": self.low, "high": self.high}
        if exact and price is None:
            return msg("needs.exact", likely_packs=self.likely, **ends)
        if exact and price is not None:
            cost = show_money(self.likely * price, currency)
            return msg(
                "needs.exact_cost",
                likely_packs=self.likely,
                price=show_money(price, currency),
                likely_cost=cost,
                **ends,
            )
        if price is None:
            return msg("needs.counts", **packs)
        costs = {f"{name}_cost": show_money(count * price, currency) for name, count in counts.items()}
        return msg("needs.costs", price=show_money(price, currency), **packs, **costs)


@dataclass(frozen=True, slots=True)
class Uncounted:
    """A pack without a projection, of any quantity or of its resistance: the comparable checks it has, of those it needs;
    recalled ones by `recalled`."""

    code: str
    have: int
    need: int
    recalled: bool = False

    @property
    def told(self) -> str:
        """Its code with the reason in brackets."""
        if self.recalled:
            return say(msg("needs.uncounted_recalled", pack=self.code))
        if self.have >= self.need:
            return self.code
        return f"{self.code} ({self.have} of {self.need})"


@dataclass(frozen=True, slots=True)
class ModelNeed:
    """What one model will need: `packs` are in service, `out_of_use` of them quarantined or pulled, which are needed
    now; the `uncounted` cannot be projected."""

    code: str
    name: str
    price: Decimal | None
    currency: str
    packs: int
    uncounted: tuple[Uncounted, ...]
    quarters: tuple[QuarterNeed, ...]
    out_of_use: int = 0
    rested_only: tuple[Uncounted, ...] = ()
    """Packs that are counted by their rested volts alone, with the loaded checks they have: nothing is known of their wear."""

    @property
    def heading(self) -> Message:
        """The model with how many are in service, and how many of these can no longer be used."""
        if self.out_of_use:
            return msg("needs.heading_out", model=self.name, packs=self.packs, count=self.out_of_use)
        return msg("needs.heading", model=self.name, packs=self.packs)

    @property
    def together(self) -> QuarterNeed | None:
        """Both quarters as one; None where one of them expects nothing.

        A pack with two chances that are each below a half is most likely needed in neither quarter, and may well be in one of the two.
        """
        first, last = self.quarters[0], self.quarters[-1]
        if any(one.none for one in self.quarters):
            return None
        chances = tuple(min(sum(own), 1.0) for own in zip(*(one.chances for one in self.quarters), strict=True))
        return QuarterNeed(0, first.from_date, last.to_date, *count_range(chances), (), chances)

    @property
    def together_told(self) -> Message | None:
        """Both quarters together in a sentence that names the model; None where one of them expects nothing."""
        both = self.together
        if both is None:
            return None
        told = both.told(self.price, self.currency)
        return msg("needs.together_of", model=self.name, to_date=both.to_date, told=told)

    @property
    def unknown(self) -> int:
        """How many packs are not counted."""
        return len(self.uncounted)

    @property
    def uncounted_told(self) -> Message:
        """Which packs are not counted, those nearest to a projection by name."""
        key = "needs.unknown_recalled" if any(one.recalled for one in self.uncounted) else "needs.unknown_of"
        return self._some_named(key, self.uncounted)

    @property
    def left_open_told(self) -> tuple[Message, ...]:
        """What the numbers leave open: packs that are not counted, and those counted by rested volts alone."""
        told = [self.uncounted_told] if self.uncounted else []
        if self.rested_only:
            told.append(self._some_named("needs.rested_only", self.rested_only))
        return tuple(told)

    def _some_named(self, key: str, packs: Sequence[Uncounted]) -> Message:
        named = tuple(one.told for one in packs[:UNCOUNTED_NAMED])
        told = msg(key, model=self.name, unknown=len(packs), packs=self.packs, named=named)
        more = len(packs) - len(named)
        return msg("needs.unknown_more", told=told, count=more) if more else told

    @property
    def in_doubt_told(self) -> tuple[Message, ...]:
        """Which packs a doubtful reading pulled, what they count for now, and what it costs if it stands; then those whose
        volts do not show what is missing."""
        doubted = [one for one in self.quarters[0].named if one.in_doubt]
        misfits = self._in_doubt("review.in_doubt", [one for one in doubted if not one.is_flat])
        flat = self._in_doubt("review.flat", [one for one in doubted if one.why.key == FLAT])
        return (
            *misfits,
            *flat,
            *self._in_doubt("review.flat_again", [one for one in doubted if one.why.key == FLAT_AGAIN]),
        )

    def _in_doubt(self, key: str, packs: Sequence[NamedPack]) -> tuple[Message, ...]:
        if not packs:
            return ()
        if len(packs) > 1:
            return (msg(f"{key}_many", packs=tuple(one.code for one in packs)),)
        one = packs[0]
        cost = "" if self.price is None else msg("review.in_doubt_cost", price=show_money(self.price, self.currency))
        why = dict(one.why.values)
        return (msg(key, pack=one.code, share=show_chance(one.chance), cost=cost, **why),)

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
            or (number == 0 and own[1].key in (IN_DOUBT, FLAT, FLAT_AGAIN))
        ]
        quarters.append(QuarterNeed(number + 1, begin, end, low, likely, high, tuple(named), every))
        begin = end + dt.timedelta(days=1)
    uncounted = [_uncounted(facts, pack, projected[pack]) for pack, found in chances.items() if found is None]
    uncounted.sort(key=lambda one: (not one.recalled, -one.have, one.code))
    rested = [_rested_only(pack, projected[pack]) for pack, own in known.items() if own[0][0] < 1]
    rested_only = sorted((one for one in rested if one is not None), key=lambda one: (-one.have, one.code))
    return ModelNeed(
        model.code, model.name, model.price, model.currency, len(projected), tuple(uncounted), tuple(quarters),
        sum(_out_of_use(facts, pack) is not None for pack in projected), tuple(rested_only),
    )  # fmt: skip


def _rested_only(code: str, projections: tuple[Projection, ...]) -> Uncounted | None:
    """The loaded checks of a pack whose resistance is not projected to a limit, or None where it is."""
    ohm = next((one for one in projections if one.quantity == "resistance_ohm"), None)
    if ohm is None or (ohm.projected and ohm.limit is not None):
        return None
    return Uncounted(code, ohm.comparable_checks, ohm.needed_checks)


def _uncounted(facts: FleetFacts, code: str, projections: tuple[Projection, ...]) -> Uncounted:
    """The checks of the resistance where any was read, else of the rested volts."""
    own = [one for one in projections if one.quantity != "stored_v"]
    shown = next((one for one in own if one.comparable_checks), own[0])
    return Uncounted(code, shown.comparable_checks, shown.needed_checks, _recalled(facts, code))


def _out_of_use(facts: FleetFacts, code: str) -> Message | None:
    """Why a pack is needed now: quarantined (other than by a recall), pulled by its newest check, or still held as an
    earlier check pulled it.  None for every other pack."""
    held = [one for one in facts.pack_holds.get(code, ()) if not by_recall(one.text)]
    danger = [one for one in held if one.hold_class is HoldClass.DANGER]
    if danger:
        return msg("needs.quarantined", since_date=min(one.since for one in danger).astimezone(facts.zone).date())
    latest = facts.latest.get(code)
    if latest is not None and latest.level in (VerdictLevel.PULL, VerdictLevel.DANGER):
        return msg("needs.pulled", done_at=latest.done_at)
    if latest is not None and latest.level in (VerdictLevel.PASS, VerdictLevel.WATCH):
        return None
    pulled = [one.since for one in held if one.text.key in PULLED_KEYS]
    return msg("needs.pulled", done_at=min(pulled)) if pulled else None


def pulled_in_doubt(facts: FleetFacts, code: str, projections: tuple[Projection, ...]) -> bool:
    """Whether its newest check pulled a pack by a reading that does not fit it and is listed to be measured again; no
    danger is in doubt so, nor is a pack that cannot be projected, nor one that read so three times (decision 330)."""
    latest = facts.latest.get(code)
    if latest is None or latest.level is not VerdictLevel.PULL or not any(one.projected for one in projections):
        return False
    if any(one.hold_class is HoldClass.DANGER for one in facts.pack_holds.get(code, ())):
        return False
    return any(
        left.reading.done_at == latest.done_at and left.why.key in DOUBTED and is_open(left, one)
        for one in projections
        for left in one.left_out
    )


def flat_in_doubt(facts: FleetFacts, code: str, projections: tuple[Projection, ...]) -> Message | None:
    """Why a pack of a flat chemistry is to be charged fully and checked before one is bought for it, or None.

    Its newest rested volts are on the plateau and below its pull line: such volts do not show how much charge is missing.  A pack that is a danger, or that its resistance pulls, is in no doubt so.
    """
    latest, model = facts.latest.get(code), facts.models[facts.packs[code].model]
    full = next((one for one in projections if one.quantity == "rested_full_v"), None)
    if latest is None or full is None or full.limit is None or model.chemistry is not Chemistry.LFP:
        return None
    if float(latest.rested_v) >= full.limit or not _on_plateau(float(latest.rested_v), model):
        return None
    held = facts.pack_holds.get(code, ())
    if any(one.hold_class is HoldClass.DANGER or one.text.key in PULLED_KEYS[1:] for one in held):
        return None
    if any(one.quantity == "resistance_ohm" and one.already_beyond for one in projections):
        return None
    if latest.level is not VerdictLevel.PULL and not full.already_beyond:
        return None
    low = _low_in_a_row(full, full.limit, model)
    values = {"read_v": latest.rested_v, "done_at": latest.done_at, "limit_v": full.limit}
    return msg(FLAT, **values) if low < FLAT_TWICE else msg(FLAT_AGAIN, run=low, **values)


def _low_in_a_row(full: Projection, limit: float, model: PackModel) -> int:
    """How many of the newest readings after a full charge, one after the other, were on the plateau below `limit`."""
    far = (one.reading for one in full.left_out if one.why.key in DOUBTED)
    newest = sorted((*full.used, *far), key=lambda one: one.done_at, reverse=True)
    low = (one.read is not None and float(one.read) < limit and _on_plateau(float(one.read), model) for one in newest)
    return sum(1 for _ in itertools.takewhile(bool, low))


def _on_plateau(volts: float, model: PackModel) -> bool:
    return on_plateau(volts, model.chemistry, model.series_count)


def _buys_nothing(facts: FleetFacts, code: str, full: Projection) -> bool:
    """Whether the rested volts of a pack are of a flat chemistry and their limit is on its plateau: a pack that gets there is
    to be charged fully and checked, none is bought for it (decision 331).  One whose level is below the plateau is empty
    or damaged, unless it was read at its pull line or above since."""
    latest, model = facts.latest.get(code), facts.models[facts.packs[code].model]
    if full.limit is None or full.level is None or not _on_plateau(full.limit, model):
        return False
    above = latest is not None and float(latest.rested_v) >= full.limit
    return above or not full.already_beyond or _on_plateau(full.level, model)


def _recalled(facts: FleetFacts, code: str) -> bool:
    """A recalled pack: whether its maker mends, replaces or takes it back is not known."""
    return any(by_recall(one.text) for one in facts.pack_holds.get(code, ()))


def _chances(
    facts: FleetFacts, code: str, projections: tuple[Projection, ...]
) -> tuple[tuple[float, ...], Message] | None:
    """The chance of each quarter and what leads to it: the worse of the two quantities, as they are not independent.

    A pack that is out of use for good is needed now; a recalled one is not counted.  One that was pulled by a reading
    which does not fit it has the chance that all its other readings give it, until it has been measured again; one whose
    volts do not show what is missing, today or when they reach their limit, has the chance that its resistance gives it,
    none where that is not projected.
    """
    out = _out_of_use(facts, code)
    doubted, flat = pulled_in_doubt(facts, code, projections), flat_in_doubt(facts, code, projections)
    if out is not None and not doubted and flat is None:
        return (1.0, *(0.0 for _ in QUARTER_ENDS[1:])), out
    if _recalled(facts, code):
        return None
    best: tuple[tuple[float, ...], Message] | None = None
    for one in projections:
        if not one.projected or one.limit is None or one.quantity == "stored_v":
            continue
        by_day = {h.days: h.chance_beyond for h in one.horizons}
        upto = [1.0 if one.already_beyond else by_day[days] for days in QUARTER_ENDS]
        if one.quantity == "rested_full_v" and (flat is not None or _buys_nothing(facts, code, one)):
            upto = [0.0 for _ in QUARTER_ENDS]
        each = tuple(max(b - a, 0.0) for a, b in zip((0.0, *upto), upto, strict=False))
        if best is None or sum(each) > sum(best[0]):
            best = (
                each,
                msg("needs.by_projection", quantity=msg(f"quantity.{one.quantity}"), count=one.comparable_checks),
            )
    if flat is not None:
        return (tuple(0.0 for _ in QUARTER_ENDS) if best is None else best[0]), flat
    if doubted and best is not None:
        return best[0], msg(IN_DOUBT, done_at=facts.latest[code].done_at)
    return best
