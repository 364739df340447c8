"""The manager's view ahead: what to replace and when, what lasts, what is under warranty, and how sure that is."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.money import show_money
from fleetcare.domain.packs import PackStanding, SiteRules
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.projection.budget import cost_range
from fleetcare.domain.projection.lasting import MONTH_DAYS, Lived, Pair, StoodAt, compare_all
from fleetcare.domain.projection.planning import LEAST_AT_RISK, LEAST_PULLED, count_range
from fleetcare.domain.temperature import GAS_CONSTANT
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg
from fleetcare.services import facts as read
from fleetcare.services import warranty
from fleetcare.services.as_of import AsOf
from fleetcare.services.decisions import Early, early_of
from fleetcare.services.facts import FleetFacts
from fleetcare.services.fleet_outlook import FleetOutlook, outlook_of
from fleetcare.services.half_lives import half_lives_told
from fleetcare.services.meter_suspects import MeterSuspect, meters_apart
from fleetcare.services.needing import QUARTER_ENDS, ModelNeed, needs_of
from fleetcare.services.outlook import OWN_PACKS, PackHistory, pack_projections
from fleetcare.services.running_low import RunningLow, running_low
from fleetcare.services.session import Clock
from fleetcare.services.storage import fleet_rates, stored_pack
from fleetcare.services.suspects import Suspect, suspects_of, to_measure_again
from fleetcare.services.warranty import Claim
from fleetcare.store.kinds import packs_read_in_store
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredCheck

BATCH_PACKS = 500
TYPICAL_PACKS = 4
"""What is typical of a model is not told from fewer packs: a curve through two or three is theirs alone (proposal)."""
FEW_OUTCOMES = 20
SAID_PERCENT = 80.0
NEAR_PERCENT = 8.0
"""Earlier projections that held within this of what they said are called right (proposal)."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """What is known of one pack model: packs it rests on (those read under load, those read full), activation energy
    and change of resistance per 10 °C colder (%), typical rise of resistance and change of rested volts in a year,
    scatter of one reading, spread of pace; and whether packs were read often enough to share a change."""

    model: str
    ohm_packs: int
    full_packs: int
    energy_kj_mol: float
    colder_percent: float
    yearly_percent: float
    yearly_v: float
    scatter_percent: float
    scatter_v: float
    pace_percent: float
    ohm_shared: bool = True
    volts_shared: bool = True

    @property
    def packs(self) -> int:
        """Packs that anything is known from."""
        return max(self.ohm_packs, self.full_packs)

    @property
    def knows_ohm(self) -> bool:
        """Enough packs for a typical rise of resistance."""
        return self.ohm_shared and self.ohm_packs >= TYPICAL_PACKS

    @property
    def knows_volts(self) -> bool:
        """Enough packs for a typical change of rested volts."""
        return self.volts_shared and self.full_packs >= TYPICAL_PACKS

    @property
    def rests_on(self) -> Message:
        """Its own packs, few of them, or the chemistry alone."""
        if not self.packs:
            return msg("sure.rests_none")
        return msg("sure.rests_own") if self.packs >= OWN_PACKS else msg("sure.rests_few", count=self.packs)


@dataclass(frozen=True, slots=True)
class Kept:
    """How earlier projections came true: of `count` that said 80 %, `inside_percent` held."""

    model: str
    quantity: str
    days: int
    count: int
    inside_percent: float

    @property
    def judged(self) -> Message:
        """Right as often as it said, or not; or too few to say."""
        if self.count < FEW_OUTCOMES:
            return msg("sure.few")
        off = self.inside_percent - SAID_PERCENT
        return msg("sure.good" if abs(off) <= NEAR_PERCENT else "sure.narrow" if off < 0 else "sure.wide")


@dataclass(frozen=True, slots=True)
class Renewal:
    """Everything on the manager's page ahead; `past` where an earlier day was asked."""

    as_of: dt.datetime
    past: bool
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool
    learnt: tuple[Learnt, ...]
    meters: tuple[tuple[str, float], ...]
    kept: tuple[Kept, ...]
    needs: tuple[ModelNeed, ...]
    lives: tuple[Lived, ...]
    pairs: tuple[Pair, ...]
    claims: tuple[Claim, ...]
    suspects: tuple[Suspect, ...]
    needed_checks: int
    total_range: tuple[int, int, int]
    early: tuple[tuple[str, Early], ...] = ()
    meter_suspects: tuple[MeterSuspect, ...] = ()
    running_low: tuple[RunningLow, ...] = ()

    @property
    def in_doubt_told(self) -> tuple[Message, ...]:
        """Packs that a reading pulled which does not fit them, or shows too little, model by model: no certain purchase."""
        return tuple(told for one in self.needs for told in one.in_doubt_told)

    @property
    def meters_told(self) -> Message | None:
        """How far each meter reads from the others, as the packs show it; None with a single meter."""
        if len(self.meters) < 2:
            return None
        return msg("sure.meters", offsets=tuple(f"{code} {_signed(volts)}" for code, volts in self.meters))

    @property
    def today(self) -> dt.date:
        """The day that is asked."""
        return self.as_of.date()

    @property
    def total(self) -> Message:
        """The whole fleet's next quarter in one sentence, with its cost where every model has a price."""
        until = self.today + dt.timedelta(days=QUARTER_ENDS[0])
        low, likely, high = self.total_range
        if not self.needs or all(one.packs == one.unknown for one in self.needs):
            return msg("needs.nothing", need=self.needed_checks)
        if high == 0:
            return msg("review.total_none", until_date=until)
        if low == high:
            return msg("review.total_exact", until_date=until, likely_packs=likely, cost=self._cost())
        return msg("review.total", until_date=until, low=low, likely=likely, high_packs=high, cost=self._cost())

    def _cost(self) -> object:
        """What the range costs; "" where a model that is needed has no price, or currencies differ."""
        wanted = [one for one in self.needs if not one.quarters[0].none]
        currencies = {one.currency for one in wanted}
        if any(one.price is None for one in wanted) or len(currencies) != 1:
            return ""
        costs = cost_range([(one.price, one.quarters[0].chances) for one in wanted if one.price is not None])
        currency = currencies.pop()
        told = {
            f"{name}_cost": show_money(c, currency) for name, c in zip(("low", "likely", "high"), costs, strict=True)
        }
        if len(set(costs)) == 1:
            return msg("review.total_exact_cost", likely_cost=told["likely_cost"])
        return msg("review.total_cost", **told)

    @property
    def kept_told(self) -> Message:
        """How all earlier projections came true, in one sentence."""
        count = sum(one.count for one in self.kept)
        if not count:
            return msg("review.kept_none")
        inside = sum(one.count * one.inside_percent for one in self.kept) / count
        return msg("review.kept", count=count, inside_percent=inside)

    @property
    def claims_told(self) -> Message:
        """What there is to claim, in one sentence."""
        if not self.claims:
            return msg("warranty.none_heading")
        worth = sum(one.worth for one in self.claims)
        return msg("warranty.worth", count=worth) if worth else msg("warranty.none_worth")

    @property
    def compared_told(self) -> Message | None:
        """Why no models are compared, or which of them are not; None where every model has a pack with a check."""
        lived = {one.model for one in self.lives}
        never = tuple(one.name for one in self.needs if one.name not in lived)
        if not lived:
            return msg("review.no_lives")
        if self.pairs:
            return msg("review.not_compared", models=never) if never else None
        return msg("review.one_checked", model=lived.pop(), models=never) if never else msg("review.one_model")

    @property
    def half_lives_told(self) -> tuple[Message, ...]:
        """How long packs of each model last, or that too few were pulled to say."""
        return half_lives_told(self.lives)

    @property
    def head(self) -> Head:
        """The fingerprint that this page stands for."""
        return Head(self.position, self.fingerprint)


def renewal(
    store: Store, clock: Clock, progress: Callable[[int, int], None] | None = None, *, at: AsOf | None = None
) -> Renewal:
    """Read the whole fleet once and draw the view ahead; `at` a past day, only what was recorded by then is used."""
    asked = at or AsOf(clock)
    now = asked.clock()
    with store.view(asked.position) as view:
        facts = read.read_facts(view)
        outlook = outlook_of(store, view, facts, now, at_position=asked.past)
        packs = sorted(facts.packs.values(), key=lambda p: p.code)
        projected: dict[str, tuple[Projection, ...]] = {}
        lives: dict[str, list[tuple[float, bool]]] = defaultdict(list)
        suspects: list[Suspect] = []
        claims: list[Claim] = []
        commissioned = warranty.commissioned_packs(view, facts.packs)
        covered = set(warranty.covered(facts, commissioned, now.date()))
        in_store = _in_store(view, facts, now, past=asked.past)
        put_away = set(packs_read_in_store(view, [p.code for p in packs]))
        low: list[RunningLow] = []
        for start in range(0, len(packs), BATCH_PACKS):
            part = packs[start : start + BATCH_PACKS]
            histories = [PackHistory(p.code, facts.models[p.model], view.checks_of(p.code)) for p in part]
            for pack, one in zip(part, histories, strict=True):
                life = _life(one.checks, pack.in_service_on, pack.standing is PackStanding.IN_SERVICE, now)
                if life is not None:
                    lives[pack.model].append(life)
            current = [h for p, h in zip(part, histories, strict=True) if p.standing is PackStanding.IN_SERVICE]
            found = pack_projections(outlook, current, facts.site, now, fans=False) if current else []
            own = dict(zip((h.code for h in current), found, strict=True))
            projected.update(own)
            away = {h.code: h.checks for h in current if h.code in put_away}
            low += running_low(view, facts, away, now, at_position=asked.past)
            for history in histories:
                suspects += suspects_of(history.code, own.get(history.code, ()))
                if history.code in covered:
                    leaks = (
                        history.code in in_store
                        and stored_pack(view, facts, history.code, now, history.checks, at_position=asked.past).leaks
                    )
                    claims.append(
                        warranty.claim_of(
                            view, facts, history.code, now, own.get(history.code, ()), history.checks, leaks=leaks
                        )
                    )
            if progress is not None:
                progress(start + len(part), len(packs))
        needs = needs_of(facts, projected, now.date())
        lived = _lived(facts, lives)
        return Renewal(
            now, asked.past, view.position, view.head().root_hex, store.fleet_name, store.demo,
            _learnt(outlook, facts), _meters(outlook), _kept(outlook, facts), needs, lived, compare_all(lived),
            warranty.in_order(claims), to_measure_again(suspects, now), facts.site.comparable_checks, _total(needs),
            _early(projected, now, facts.site), _meters_apart(view, _meters(outlook), facts),
            tuple(sorted(low, key=lambda one: (one.early_date or now.date(), one.pack))),
        )  # fmt: skip


def _early(
    projected: dict[str, tuple[Projection, ...]], now: dt.datetime, site: SiteRules
) -> tuple[tuple[str, Early], ...]:
    """Packs whose projection comes near its limit: they ask for a decision."""
    near = {code: early_of(found, now, site) for code, found in projected.items()}
    return tuple((code, one) for code, one in near.items() if one is not None)


def _in_store(view: View, facts: FleetFacts, now: dt.datetime, *, past: bool) -> set[str]:
    rates = fleet_rates(view, facts, now, at_position=past)
    return {code for found in rates.values() for code, _, _ in found}


def _lived(facts: FleetFacts, lives: dict[str, list[tuple[float, bool]]]) -> tuple[Lived, ...]:
    return tuple(
        Lived(facts.models[model].name, tuple(a for a, _ in found), tuple(p for _, p in found))
        for model, found in sorted(lives.items())
    )


def _life(
    checks: Sequence[StoredCheck], since: dt.date | None, in_service: bool, now: dt.datetime
) -> tuple[float, bool] | None:
    """(days followed, pulled): to the check from which the pack was pulled for good, else to today; None without any.

    A pull that a later check did not bear out was none.
    """
    standing = sorted((c for c in checks if c.void_position is None), key=lambda c: c.check.done_at)
    if not standing:
        return None
    first = since or standing[0].check.done_at.date()
    pulled = None
    for one in standing:
        if one.verdict.level in (VerdictLevel.PULL, VerdictLevel.DANGER):
            pulled = pulled or one.check.done_at.date()
        elif one.verdict.valid and one.verdict.level in (VerdictLevel.PASS, VerdictLevel.WATCH):
            pulled = None
    end = pulled
    if end is None:
        end = now.date() if in_service else standing[-1].check.done_at.date()
    return float(max((end - first).days, 0)), pulled is not None


def _learnt(outlook: FleetOutlook, facts: FleetFacts) -> tuple[Learnt, ...]:
    fit = outlook.fit
    if fit is None:
        return ()
    rows = []
    used = {pack.model for pack in facts.packs.values()}
    for number, code in enumerate(outlook.models):
        ohm, full = fit.log_ohm.curves[number], fit.full_v.curves[number]
        if code not in used:
            continue
        energy = float(fit.corrections.activation_j_mol[number])
        colder = np.exp(energy / GAS_CONSTANT * (1 / 288.15 - 1 / 298.15)) - 1
        rows.append(
            Learnt(
                facts.models[code].name, ohm.packs, full.packs, energy / 1000, float(colder) * 100,
                float(np.expm1(ohm.per_year)) * 100, full.per_year, float(fit.log_ohm.track.scatter[number]) * 100,
                float(fit.full_v.track.scatter[number]), float(fit.log_ohm.track.pace[number]) * 100,
                ohm.is_shared, full.is_shared,
            )
        )  # fmt: skip
    return tuple(rows)


def _meters(outlook: FleetOutlook) -> tuple[tuple[str, float], ...]:
    """Each meter's latest offset in volts, as the packs show it against the other meters."""
    if outlook.fit is None or not outlook.fit.corrections.meter_offset_v.size:
        return ()
    offsets = outlook.fit.corrections.meter_offset_v
    return tuple((code, float(offsets[n, -1])) for code, n in sorted(outlook.meters.items()) if n < len(offsets))


def _signed(volts: float) -> str:
    """Volts with their sign; what rounds to nothing has none."""
    shown = f"{abs(volts):.2f} V"
    return shown if shown == "0.00 V" else f"{'−' if volts < 0 else '+'}{shown}"


def _meters_apart(view: View, offsets: tuple[tuple[str, float], ...], facts: FleetFacts) -> tuple[MeterSuspect, ...]:
    """Meters in question; the packs that read highest allow their meters most."""
    used = {pack.model for pack in facts.packs.values()}
    fullest = max((facts.models[code].full_v for code in used), default=None)
    return () if fullest is None else meters_apart(offsets, view.things("meter"), fullest)


def _kept(outlook: FleetOutlook, facts: FleetFacts) -> tuple[Kept, ...]:
    held: dict[tuple[str, str, int], list[bool]] = defaultdict(list)
    for outcome in outlook.calibration.outcomes:
        low_edges, _, high_edges = outlook.calibration.edges_then(outcome)
        for z, model, low, high in zip(outcome.z, outcome.model, low_edges, high_edges, strict=True):
            name = facts.models[outlook.models[int(model)]].name
            held[name, outcome.quantity, outcome.horizon_days].append(bool(low <= z <= high))
    names = {"log_ohm": "resistance_ohm"}
    return tuple(
        Kept(name, names.get(quantity, quantity), days, len(found), 100 * sum(found) / len(found))
        for (name, quantity, days), found in sorted(held.items())
    )


def pair_told(pair: Pair) -> tuple[Message, ...]:
    """A comparison in sentences: how both stood at the age compared, then which is better, or why that is not said."""
    stood = tuple(_stood(one, pair) for one in (pair.first, pair.second))
    months = {"age_months": pair.age_days / MONTH_DAYS}
    if pair.too_few is not None:
        few = next(one for one in (pair.first, pair.second) if one.model == pair.too_few)
        verdict = msg("lasting.pair_few", model=few.model, followed=few.followed, need=LEAST_AT_RISK, **months)
    elif not pair.ranked:
        verdict = msg("lasting.pair_pulls", pulled=pair.pulled, need=LEAST_PULLED)
    elif pair.better is None:
        verdict = msg("lasting.pair_same", **months)
    else:
        verdict = msg("lasting.pair_better", model=pair.better, **months)
    return (*stood, verdict)


def _stood(one: StoodAt, pair: Pair) -> Message:
    return msg(
        "lasting.stood", model=one.model, share_percent=one.share * 100, low_percent=one.low * 100,
        high_percent=one.high * 100, followed=one.followed, pulled=one.pulled, age_months=pair.age_days / MONTH_DAYS,
    )  # fmt: skip


def _total(needs: tuple[ModelNeed, ...]) -> tuple[int, int, int]:
    """The range over all models, from all packs' chances together."""
    return count_range([chance for one in needs for chance in one.quarters[0].chances])
