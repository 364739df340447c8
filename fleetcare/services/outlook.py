"""The projections of packs from their recorded checks, under what the fleet's record teaches."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
from scipy.special import ndtr

from fleetcare.domain import limits
from fleetcare.domain.checks import CheckKind
from fleetcare.domain.judging import shows_nothing, tidy_ohm
from fleetcare.domain.packs import Chemistry, PackModel, SiteRules
from fleetcare.domain.projection.activation import ZERO_C
from fleetcare.domain.projection.answer import Horizon, LeftOut, Projection, Reading
from fleetcare.domain.projection.calibration import HORIZONS
from fleetcare.domain.projection.fleet import ENGINE, FleetFit, Standing, stand, value_ahead
from fleetcare.domain.projection.forecast import (
    NEVER,
    SOONER_TO,
    Forecast,
    is_flat,
    is_read_sooner,
    never_better,
    project,
)
from fleetcare.domain.projection.preparation import Doubt, apply_corrections
from fleetcare.domain.projection.visits import REFERENCE_C, Flags, Floats
from fleetcare.domain.self_discharge import PLATEAU_V, on_plateau
from fleetcare.domain.temperature import ACTIVATION_J_PER_MOL, GAS_CONSTANT
from fleetcare.domain.wording import Message, msg
from fleetcare.services.far_off import LEAST_OFF_OHM, LEAST_OFF_V_PER_GROUP, FarOff, far_off, set_aside
from fleetcare.services.fleet_outlook import FleetOutlook, midnight_of, usable, visits_of
from fleetcare.services.moves import RUN_TOLD, back_where_it_stood, in_question, steady, with_moves
from fleetcare.services.suspects import went_back
from fleetcare.store.values import StoredCheck

FAN_DAYS = tuple(range(0, 366, 28))
NARROWER_CHECKS = 4
OWN_PACKS = 5
"""From this many packs on, a model's figures are called its own (proposal)."""
LATEST_READINGS = 5
LATEST_DAYS = 30
WIDEST_V_PER_GROUP, WIDEST_OHM, FURTHEST = 0.1, 2.0, 3.0
"""An 80 % range four weeks ahead that is wider than this (volts a group, or high over low), or a middle that moves by
more than so many times the span of the pack's readings, says nothing (proposal)."""
LEAST_SHOWN = {"ohm": 0.001, "v": 0.01}
"""A doubt smaller than the last digit shown is not said to shrink further."""


@dataclass(frozen=True)
class PackHistory:
    """One pack as the projection needs it."""

    code: str
    model: PackModel
    checks: Sequence[StoredCheck]


def pack_projections(
    outlook: FleetOutlook, histories: Sequence[PackHistory], site: SiteRules, now: dt.datetime, *, fans: bool = True
) -> list[tuple[Projection, ...]]:
    """Loaded resistance and rested-full volts of each pack, each projected or refused with its reason.

    Without `fans` the chart's bands are left out, for lists of a whole fleet.
    """
    if outlook.fit is None:
        return [_too_few_all(one, site, now) for one in histories]
    histories = [replace(one, checks=_in_order(one.checks, now)) for one in histories]
    midnight = midnight_of(now)
    meters = dict(outlook.meters)
    batch = [(outlook.models.index(one.model.code), one.checks) for one in histories]
    visits = visits_of(batch, meters, midnight)
    standing = stand(outlook.fit, visits, len(histories))
    standing = replace(standing, model=np.array([model for model, _ in batch], dtype=int))
    ends = np.searchsorted(visits.pack, np.arange(len(histories) + 1))
    far = far_off(standing, [one.model.series_count for one in histories], ends)
    standing = set_aside(outlook.fit, visits, standing, far)
    resolved = [limits.resolve(one.model, site) for one in histories]
    at_c = [_at_c(found.resistance, one.checks) for found, one in zip(resolved, histories, strict=True)]
    factor = np.array([_factor(outlook.fit, m, c) for (m, _), c in zip(batch, at_c, strict=True)])
    pull_ohm = np.array([math.nan if r.resistance is None else float(r.resistance.pull_ohm) for r in resolved])
    pull_v = np.array([float(r.volts("rested_full_pull").value) for r in resolved])
    ohm = project(outlook.fit, outlook.calibration, standing, "log_ohm", np.log(pull_ohm / factor), HORIZONS)
    full = project(outlook.fit, outlook.calibration, standing, "rested_full_v", pull_v, HORIZONS)
    out: list[tuple[Projection, ...]] = []
    for i, one in enumerate(histories):
        rows = slice(int(ends[i]), int(ends[i + 1]))
        fan = _fans(outlook, standing, i, float(factor[i])) if fans else {}
        common = _Common(one, site, now, outlook, rows, standing, i, far)
        rule = resolved[i].resistance
        first = _resistance(common, ohm, float(factor[i]), at_c[i], rule, fan.get("log_ohm", ()))
        out.append((first, _rested_full(common, full, float(pull_v[i]), fan.get("rested_full_v", ()))))
    return out


@dataclass(frozen=True)
class _Common:
    history: PackHistory
    site: SiteRules
    now: dt.datetime
    outlook: FleetOutlook
    rows: slice
    standing: Standing
    index: int
    far: FarOff

    @property
    def fit(self) -> FleetFit:
        assert self.outlook.fit is not None
        return self.outlook.fit

    @property
    def own_law(self) -> bool:
        """Whether its model's own packs taught the temperature law, or it is borrowed from the chemistry."""
        return self.fit.log_ohm.curves[self.standing.model[self.index]].packs >= OWN_PACKS


def _in_order(checks: Sequence[StoredCheck], now: dt.datetime) -> list[StoredCheck]:
    """Oldest first, as the visits are sorted: only so do rows and checks belong together."""
    known = [one for one in checks if one.check.done_at <= now]
    return sorted(
        known,
        key=lambda one: (
            one.check.done_at,
            one.check.meter,
            one.check.rested_v,
            one.check.loaded_v if one.check.loaded_v is not None else Decimal("Infinity"),
        ),
    )


def _at_c(rule: limits.ResistanceLimits | None, checks: Sequence[StoredCheck]) -> float:
    """The temperature that resistance is shown at: the limits' own, else the pack's usual bench."""
    if rule is not None and rule.at_c is not None:
        return float(rule.at_c)
    known = [float(one.check.bench_c) for one in checks if one.check.bench_c is not None]
    return float(np.median(known)) if known else REFERENCE_C


def _factor(fit: FleetFit, model: int, at_c: float) -> float:
    """Resistance at `at_c` over that at 25 °C, by the model's learnt activation law."""
    inverse = 1 / (at_c + ZERO_C) - 1 / (REFERENCE_C + ZERO_C)
    return math.exp(float(fit.corrections.activation_j_mol[model]) / GAS_CONSTANT * inverse)


def _fans(
    outlook: FleetOutlook, standing: Standing, index: int, factor: float
) -> dict[str, tuple[tuple[int, float, float, float], ...]]:
    """p10, p50 and p90 over a year for one pack, all days at once."""
    assert outlook.fit is not None
    days = np.array(FAN_DAYS, dtype=float)
    same = np.full(len(days), index)
    tiled = standing.of(same)
    found = {}
    for quantity in ("log_ohm", "rested_full_v"):
        mixture = value_ahead(outlook.fit, tiled, quantity, days)
        sliding = tiled.sliding[quantity]
        edges = (outlook.calibration.edges_at(quantity, float(day), sliding[:1], tiled.model[:1]) for day in days)
        places = np.stack([edge[:, 0] for edge in edges], axis=1)
        rows = np.stack([mixture.quantile(ndtr(place)) for place in places])
        rows = never_better(outlook.fit, rows, rows[:, :1], rises=quantity == "log_ohm")
        if quantity == "log_ohm":
            rows = np.exp(rows) * factor
        found[quantity] = tuple((int(d), *map(float, column)) for d, column in zip(days, rows.T, strict=True))
    return found  # type: ignore[return-value]


def _readings(
    c: _Common, value: Floats, used: Flags, distance: Floats, far: Flags, *, factor: float = 1.0, loaded: bool
) -> tuple[list[Reading], list[LeftOut]]:
    """The pack's readings that take part, and the others with the reason; every check is in one of the two."""
    prepared = c.standing.prepared
    good, out = [], []
    row = c.rows.start
    for stored in c.history.checks:
        check = stored.check
        raw = check.resistance_ohm if loaded else check.rested_v
        if usable(stored):
            at, row = row, row + 1
            if raw is None:
                continue
            reading = _reading(stored, float(value[at]), raw)
            doubt = Doubt(int(prepared.doubt[at]))
            if shows_nothing(check.rested_v, c.history.model):
                out.append(LeftOut(reading, msg("projection.reads_nothing")))
            elif not used[at]:
                out.append(LeftOut(reading, msg(f"projection.doubt_{doubt.name.lower()}")))
            elif far[at]:
                why = msg("projection.far_off", off=f"{abs(distance[at]):.0f}")
                out.append(LeftOut(reading, why, below=bool(distance[at] < 0)))
            else:
                good.append(reading)
        elif raw is not None and check.kind is CheckKind.RESTED_FULL:
            doubted = stored.void_position is None and stored.doubt is not None
            why = msg("projection.in_doubt", meter=check.meter) if doubted else msg("projection.corrected")
            out.append(LeftOut(_reading(stored, _alike(c, stored, raw, factor, loaded=loaded), raw), why))
    return good, out


def _alike(c: _Common, stored: StoredCheck, raw: Decimal, factor: float, *, loaded: bool) -> float:
    """What a reading that takes no part would count as, at the same conditions as those that do: ohms times `factor`."""
    model = int(c.standing.model[c.index])
    visit = visits_of([(model, [stored])], dict(c.outlook.meters), midnight_of(c.now), which=lambda _: True)
    prepared = apply_corrections(visit, c.fit.models, c.fit.corrections)
    if not loaded:
        return float(prepared.full_v[0])
    return float(np.exp(prepared.log_ohm[0])) * factor if prepared.use_ohm[0] else float(raw)


def _reading(stored: StoredCheck, value: float, read: Decimal) -> Reading:
    check = stored.check
    return Reading(
        stored.record_id, check.done_at, value, check.kind.value, check.rest.value, check.meter, check.load_a,
        check.hold_s, None if check.bench_c is None else float(check.bench_c), read,
    )  # fmt: skip


def _resistance(
    c: _Common,
    forecast: Forecast,
    factor: float,
    at_c: float,
    rule: limits.ResistanceLimits | None,
    fan: tuple[tuple[int, float, float, float], ...],
) -> Projection:
    prepared = c.standing.prepared
    limit = None if rule is None else float(rule.pull_ohm)
    value = np.exp(prepared.log_ohm) * factor
    good, out = _readings(c, value, prepared.use_ohm, c.standing.ohm_distance, c.far.ohm, factor=factor, loaded=True)
    quantiles = {days: np.exp(q[:, c.index]) * factor for days, q in forecast.quantiles.items()}
    energy = c.fit.corrections.activation_j_mol[c.standing.model[c.index]] / 1000
    because = (
        _law(float(energy), Decimal(f"{at_c:.0f}"), rule, own=c.own_law),
        *_narrower(
            quantiles[0],
            c.fit.log_ohm.track.scatter[c.standing.model[c.index]] * quantiles[0][1],
            float(c.fit.shared_log_ohm[c.standing.model[c.index]] * quantiles[0][1]),
            "ohm",
        ),
        *_likely_day(c, forecast),
    )
    last = _dated(_last_ohm(good, at_c, own=c.own_law), good, c.now)
    found = _answer(c, "resistance_ohm", forecast, quantiles, limit, last, good, out, because, fan, at_c)
    if limit is None and found.projected:
        return replace(found, sentence=msg("projection.no_baseline"))
    return found


def _rested_full(
    c: _Common, forecast: Forecast, limit: float, fan: tuple[tuple[int, float, float, float], ...]
) -> Projection:
    prepared = c.standing.prepared
    good, out = _readings(c, prepared.full_v, prepared.use_v, c.standing.full_distance, c.far.full, loaded=False)
    quantiles = {days: q[:, c.index] for days, q in forecast.quantiles.items()}
    undated = on_plateau(limit, c.history.model.chemistry, c.history.model.series_count)
    because = (
        msg("projection.because_v"),
        *_flat_chemistry(c.history.model),
        *_narrower(quantiles[0], c.fit.full_v.track.scatter[c.standing.model[c.index]], c.fit.shared_v, "v"),
        *(() if undated else _likely_day(c, forecast)),
    )
    last = _dated(_last_v(good), good, c.now)
    return _answer(c, "rested_full_v", forecast, quantiles, limit, last, good, out, because, fan, undated=undated)


def _flat_chemistry(model: PackModel) -> tuple[Message, ...]:
    """What rested volts of a chemistry with a flat curve cannot show."""
    if model.chemistry is not Chemistry.LFP:
        return ()
    return (msg("projection.because_flat", low_v=PLATEAU_V[0], high_v=PLATEAU_V[1]),)


def _newest(used: Sequence[Reading]) -> Reading | None:
    return max(used, key=lambda one: one.done_at, default=None)


def _dated(last: Message | None, used: Sequence[Reading], now: dt.datetime) -> Message | None:
    """`last` with its day, where that reading is older than LATEST_DAYS: a level of today rests on no reading of today."""
    newest = _newest(used)
    if last is None or newest is None or (now - newest.done_at).days <= LATEST_DAYS:
        return last
    return msg("projection.last_of", read_date=newest.done_at.date(), last=last)


def _last_ohm(used: Sequence[Reading], at_c: float, *, own: bool) -> Message | None:
    """The newest reading that takes part: as it was read on its bench, and at the temperature of level and limit, by the
    law of its model (`own`) or of its chemistry."""
    newest = _newest(used)
    if newest is None or newest.read is None:
        return None
    read, shown_c = tidy_ohm(newest.read), Decimal(f"{at_c:.0f}")
    if newest.bench_c is None:
        return msg("projection.last_no_bench", last_ohm=read, same_ohm=newest.value, at_c=shown_c)
    bench = Decimal(f"{newest.bench_c:.0f}")
    if bench == shown_c and f"{newest.value:.3f}" == f"{read:.3f}":
        return msg("projection.last_alike_ohm", last_ohm=read, at_c=shown_c)
    key = "projection.last_apart_ohm" if own else "projection.last_borrowed_ohm"
    return msg(key, last_ohm=read, bench_c=bench, same_ohm=newest.value, at_c=shown_c)


def _last_v(used: Sequence[Reading]) -> Message | None:
    """The newest reading that takes part: as it was read, and as the level counts it where that differs."""
    newest = _newest(used)
    if newest is None or newest.read is None:
        return None
    if f"{newest.value:.2f}" == f"{newest.read:.2f}":
        return msg("projection.last_alike_v", last_v=newest.read)
    return msg("projection.last_apart_v", last_v=newest.read, same_v=newest.value)


def _without_newest(told: Message, used: Sequence[Reading], left_out: Sequence[LeftOut], *, loaded: bool) -> Message:
    """`told`, after a word about the newest reading where that does not fit and so takes no part."""
    keys = ("projection.far_off", "projection.doubt_not_this_pack")
    doubted = [one for one in left_out if one.why.key in keys or went_back(one.why)]
    if not doubted or not used:
        return told
    left = max(doubted, key=lambda one: one.reading.done_at)
    newest = left.reading
    if newest.done_at <= max(one.done_at for one in used) or told.key in RUN_TOLD:
        return told
    assert newest.read is not None, "a reading of a check keeps what was read"
    read = {"read_ohm": tidy_ohm(newest.read)} if loaded else {"read_v": newest.read}
    if went_back(left.why):
        key, since, run = left.why.key.replace("back", "newest_back"), *map(left.why.value, ("since_date", "run"))
        return msg(key, done_at=newest.done_at, since_date=since, run=run, told=steady(told), **read)
    return msg(f"projection.newest_left_{'ohm' if loaded else 'v'}", done_at=newest.done_at, told=told, **read)


def _after_silence(history: PackHistory, now: dt.datetime, told: Message) -> Message:
    """`told`, after a word about the newest standing reading where that shows nothing: it is the last, not those used."""
    standing = [one.check for one in history.checks if one.void_position is None and one.check.done_at <= now]
    newest = max(standing, key=lambda one: one.done_at, default=None)
    if newest is None or not shows_nothing(newest.rested_v, history.model):
        return told
    return msg("projection.newest_silent", read_v=newest.rested_v, done_at=newest.done_at, told=told)


def _law(energy: float, at_c: Decimal, rule: limits.ResistanceLimits | None, *, own: bool) -> Message:
    """By which law resistance is brought to one temperature here, and what verdicts do instead (decision 110)."""
    fixed = ACTIVATION_J_PER_MOL / 1000
    apart = rule is not None and rule.at_c is not None and f"{energy:.1f}" != f"{fixed:.1f}"
    places = 1 if apart and f"{energy:.0f}" == f"{fixed:.0f}" else 0
    told = msg("projection.because_ohm", at_c=at_c, energy=f"{energy:.{places}f}")
    if not own:
        told = msg("projection.because_few_ohm", at_c=at_c, energy=f"{energy:.{places}f}", need=OWN_PACKS)
    if rule is not None and rule.at_c is None:
        return msg("projection.verdict_as_measured", told=told)
    return msg("projection.verdict_law", told=told, fixed=f"{fixed:.{places}f}") if apart else told


def _likely_day(c: _Common, forecast: Forecast) -> tuple[Message, ...]:
    """How the likely day is read, where that is not at the middle."""
    likely = int(forecast.crossing[1, c.index])
    sooner = is_read_sooner(c.fit, c.standing.model, forecast.quantity)[c.index]
    return (msg("projection.likely_day"),) if sooner and 0 < likely < SOONER_TO else ()


def _narrower(today: Floats, scatter: float, shared: float, unit: str) -> tuple[Message, ...]:
    """What a few more checks would do to the doubt about today's level, whose p10, p50 and p90 are given; what is
    `shared` by all readings (a standard deviation: charger, meters, temperature law) no check narrows."""
    now_half = float(today[2] - today[0]) / 2
    if now_half <= 0 or scatter <= 0:
        return ()
    reading, stays = 1.2816 * float(scatter), 1.2816 * shared
    own_half = math.sqrt(max(now_half**2 - stays**2, (0.01 * now_half) ** 2))
    narrowed = 1 / math.sqrt(1 / own_half**2 + NARROWER_CHECKS / reading**2)
    then_half = max(math.hypot(narrowed, stays), LEAST_SHOWN[unit])
    if then_half > 0.85 * now_half or round(now_half / LEAST_SHOWN[unit]) <= round(then_half / LEAST_SHOWN[unit]):
        return (msg("projection.narrow_enough"),)
    halves = {f"now_{unit}": now_half, f"then_{unit}": then_half}
    return (msg(f"projection.narrower_{unit}", count=NARROWER_CHECKS, **halves),)


def _answer(
    c: _Common,
    quantity: str,
    forecast: Forecast,
    quantiles: dict[int, Floats],
    limit: float | None,
    last: Message | None,
    used: list[Reading],
    left_out: list[LeftOut],
    because: tuple[Message, ...],
    fan: tuple[tuple[int, float, float, float], ...],
    at_c: float = REFERENCE_C,
    *,
    undated: bool = False,
) -> Projection:
    """One projection in the units that a person reads; `undated` where no day may be told from such volts."""
    as_of, need = c.now.date(), c.site.comparable_checks
    rises = quantity == "resistance_ohm"
    base = Projection(
        quantity=quantity, as_of=as_of, comparable_checks=len(used), needed_checks=need,
        sentence=msg("projection.too_few", have=len(used), need=need), engine=ENGINE, limit=limit, rises=rises,
        used=tuple(used), left_out=tuple(left_out),
    )  # fmt: skip
    if len(used) < need:
        return base
    level = float(quantiles[0][1])
    soon = quantiles[min(HORIZONS)]
    daily = abs(float(soon[1]) - level) / min(HORIZONS)
    if _disagrees(level, daily, used, c.history.model, c.now, loaded=rises):
        return replace(base, sentence=msg("projection.disagrees", count=len(used)))
    if _says_nothing(level, soon, used, c.history.model, loaded=rises):
        return replace(base, sentence=msg("projection.vague", count=len(used)))
    furthest = max(HORIZONS)
    change = (float(quantiles[furthest][1]) - level) / furthest * 30
    crossing = [
        None if d == NEVER else as_of + dt.timedelta(days=int(d)) for d in forecast.crossing[:, c.index].tolist()
    ]
    already = limit is not None and (level >= limit if rises else level <= limit)
    flat = is_flat(quantiles[0], quantiles[furthest], forecast.crossing[:, c.index].tolist())
    if undated and not already:
        crossing = [None] * 3
    told = _sentence(quantity, level, change, limit, last, flat, already, crossing, len(used), undated=undated)
    told = with_moves(told, used, left_out, c.history.model, at_c, level, loaded=rises, flat=flat, beyond=already)
    left_out = back_where_it_stood(used, left_out, c.history.model, loaded=rises)
    ahead = tuple(
        Horizon(d, *(float(v) for v in quantiles[d]), 0.0 if limit is None else float(forecast.chance[d][c.index]))
        for d in HORIZONS
    )
    return replace(
        base, projected=True, level=level, slope_per_30d=change, horizons=ahead, fan=fan,
        crossing_p10=crossing[0], crossing_p50=crossing[1], crossing_p90=crossing[2], already_beyond=already,
        because=because, left_out=tuple(left_out), in_question=in_question(used, left_out, c.history.model, loaded=rises),
        sentence=_after_silence(c.history, c.now, _without_newest(told, used, left_out, loaded=rises)),
    )  # fmt: skip


def _disagrees(
    level: float, daily: float, used: Sequence[Reading], model: PackModel, now: dt.datetime, *, loaded: bool
) -> bool:
    """True where the level lies outside what the newest readings span, by more than the instrument explains and the
    pack changes (`daily`) in the days since.

    A fleet of a few checks knows its scatter so badly that the level can leave its readings; such a one is refused.
    A pack not read for weeks is projected to today, and may.
    """
    newest = sorted(used, key=lambda one: one.done_at)[-LATEST_READINGS:]
    if (now - newest[-1].done_at).days > LATEST_DAYS:
        return False
    values = [one.value for one in newest]
    room = LEAST_OFF_OHM * float(np.median(values)) if loaded else LEAST_OFF_V_PER_GROUP * model.series_count
    room += daily * (now - newest[-1].done_at).total_seconds() / 86_400
    return not min(values) - room <= level <= max(values) + room


def _says_nothing(level: float, soon: Floats, used: Sequence[Reading], model: PackModel, *, loaded: bool) -> bool:
    """True where the nearest horizon says more than anybody can know of a pack: a range wider than a full charge and a
    bench allow, or a middle that moves much further than all of the pack's readings have.

    A fleet of few packs does not know how its packs change; such a projection is refused, not printed.
    """
    values = [one.value for one in used]
    if loaded:
        wide = soon[2] > WIDEST_OHM * soon[0]
        room = LEAST_OFF_OHM * float(np.median(values))
    else:
        wide = soon[2] - soon[0] > WIDEST_V_PER_GROUP * model.series_count
        room = LEAST_OFF_V_PER_GROUP * model.series_count
    return bool(wide or abs(soon[1] - level) > FURTHEST * (max(values) - min(values) + room))


def _sentence(
    quantity: str,
    level: float,
    change: float,
    limit: float | None,
    last: Message | None,
    flat: bool,
    already: bool,
    crossing: list[dt.date | None],
    count: int,
    *,
    undated: bool,
) -> Message:
    unit = "ohm" if quantity == "resistance_ohm" else "v"
    values: dict[str, object] = {
        "last": last, f"level_{unit}": level, f"limit_{unit}": limit, "count": count, f"change_{unit}": change,
    }  # fmt: skip
    early, likely, late = crossing
    if already:
        return msg(f"projection.beyond_{unit}", **values)
    if undated and not flat:
        return msg("projection.undated_v", low_v=PLATEAU_V[0], high_v=PLATEAU_V[1], **values)
    if early is None:
        return msg(f"projection.no_decline_{unit}" if flat else f"projection.not_within_{unit}", **values)
    values["early_date"] = early
    if flat:
        return msg(f"projection.no_decline_open_{unit}", **values)
    if likely is None:
        return msg(f"projection.open_{unit}", **values)
    values["likely_month"] = f"{likely:%b %Y}"
    if late is None:
        return msg(f"projection.likely_{unit}", **values)
    return msg(f"projection.range_{unit}", late_date=late, **values)


def _too_few_all(history: PackHistory, site: SiteRules, now: dt.datetime) -> tuple[Projection, ...]:
    """No past to learn from: both quantities refused with their counts."""
    found = []
    for quantity in ("resistance_ohm", "rested_full_v"):
        has = [s for s in history.checks if usable(s) and (quantity != "resistance_ohm" or s.check.resistance_ohm)]
        found.append(
            Projection(
                quantity, now.date(), len(has), site.comparable_checks,
                msg("projection.too_few", have=len(has), need=site.comparable_checks), ENGINE,
                rises=quantity == "resistance_ohm",
            )
        )  # fmt: skip
    return tuple(found)


def _or_none(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
