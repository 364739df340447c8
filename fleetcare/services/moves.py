"""What a pack's readings did before its projection: a move told in its sentence, and readings in use that do not fit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np

from fleetcare.domain.packs import PackModel
from fleetcare.domain.projection.answer import LeftOut, Reading
from fleetcare.domain.projection.runs import FEW, Run, episodes, newest_run
from fleetcare.domain.projection.shifts import LEAST_FALL_V_PER_GROUP, LEAST_RISE, Shift, shift
from fleetcare.domain.wording import Message, msg

HIGHER_HALF = 0.75
"""The middle of the higher half of a pack's readings (proposal)."""
_DOUBTED = ("projection.far_off", "projection.doubt_not_this_pack")

RUN_TOLD = frozenset(
    f"projection.{many}{side}_{unit}"
    for many in ("fresh", "fresh_few", "fresh_one")
    for side in ("", "_better")
    for unit in ("v", "ohm")
)
"""Sentences that begin with the newest readings."""


def with_moves(
    told: Message,
    used: Sequence[Reading],
    left_out: Sequence[LeftOut],
    model: PackModel,
    at_c: float,
    level: float,
    *,
    loaded: bool,
    flat: bool,
    beyond: bool = False,
) -> Message:
    """`told`, after a word about what the pack lost before: by its newest readings, else over its whole history; and
    before either where its newest readings stand clearly to the better side, which no decline explains.

    A pack that declines is told of its history only where a step stands out, and only where it ends near the level.  One
    that is `beyond` its limit needs no word about what it lost.
    """
    better = _newest(used, left_out, model, loaded=loaded, better=True)
    if better is not None and (better[0].count > 1 or not better[1]):
        run, left = better
        if not beyond and not left:
            told = _history_told(told, used, model, at_c, level, loaded=loaded, flat=flat, since=False)
        rest = msg("projection.without_them", told=steady(told)) if left else told
        return _with_run(rest, run, at_c, loaded=loaded, better=True)
    if beyond:
        return told
    found = _newest(used, left_out, model, loaded=loaded)
    seen = _history(used, model, level, loaded=loaded, flat=flat)
    if found is not None and not _told_elsewhere(*found, seen, flat=flat):
        run, left = found
        return _with_run(msg("projection.without_them", told=steady(told)) if left else told, run, at_c, loaded=loaded)
    return _history_told(told, used, model, at_c, level, loaded=loaded, flat=flat)


def _history(used: Sequence[Reading], model: PackModel, level: float, *, loaded: bool, flat: bool) -> Shift | None:
    """What the pack lost over its whole history, where that is to be told."""
    least = _least(used, model, loaded=loaded)
    seen = shift([(one.done_at, one.value) for one in used], rises=loaded, least=least)
    if seen is not None and not flat and (seen.step is None or abs(level - seen.after) > least):
        return None
    return seen


def _history_told(
    told: Message,
    used: Sequence[Reading],
    model: PackModel,
    at_c: float,
    level: float,
    *,
    loaded: bool,
    flat: bool,
    since: bool = True,
) -> Message:
    """`told`, after a word about a move over the whole history; without `since`, not whether it is steady since then."""
    seen = _history(used, model, level, loaded=loaded, flat=flat)
    return told if seen is None else _with_shift(told, seen, at_c, loaded=loaded, since=flat and since)


def _told_elsewhere(run: Run, left: bool, seen: Shift | None, *, flat: bool) -> bool:
    """Whether the sentence tells of the newest readings in another way: a single one that is left out does not fit, a
    slope says that they go on, and a step over the whole history is theirs."""
    if run.count == 1 and left:
        return True
    if not flat and run.goes_on:
        return True
    return seen is not None and seen.step_on is not None and seen.step_on >= run.first_on


def back_where_it_stood(
    used: Sequence[Reading], left_out: Sequence[LeftOut], model: PackModel, *, loaded: bool
) -> list[LeftOut]:
    """`left_out`, where a newest reading that is left out as far off, and stands where the pack stood before one or two
    readings to the worse side, says that: those are as doubtful, and it is not the one that is wrong by itself.
    """
    newest = max(left_out, key=lambda one: one.reading.done_at, default=None)
    if newest is None or newest.why.key != "projection.far_off":
        return list(left_out)
    if any(one.done_at >= newest.reading.done_at for one in used):
        return list(left_out)
    others = [one for one in left_out if one is not newest]
    found = _newest(used, others, model, loaded=loaded)
    if found is None or found[0].count > FEW:
        return list(left_out)
    run = found[0]
    if abs(newest.reading.value - run.before) > _least_apart(used, model, loaded=loaded):
        return list(left_out)
    unit = "ohm" if loaded else "v"
    key = f"projection.back_{unit}" if run.count > 1 else f"projection.back_one_{unit}"
    why = msg(key, since_date=run.first_on, run=run.count, **{f"off_{unit}": abs(run.change)})
    return [*others, LeftOut(newest.reading, why)]


def in_question(
    used: Sequence[Reading], left_out: Sequence[LeftOut], model: PackModel, *, loaded: bool
) -> tuple[LeftOut, ...]:
    """Readings in use that do not fit: one or two newest that stand clearly off, and episodes that went back."""
    unit = "ohm" if loaded else "v"
    found: list[LeftOut] = []
    for better in (False, True):
        newest = _newest(used, left_out, model, loaded=loaded, better=better)
        if newest is None or newest[0].count > FEW:
            continue
        run = newest[0]
        key = f"projection.newest_off{_side(better=better)}_{unit}"
        for one in sorted(used, key=lambda one: one.done_at):
            if one.done_at.date() >= run.first_on and abs(one.value - run.before) > abs(run.change) / 2:
                why = msg(key, **{f"off_{unit}": abs(one.value - run.before)})
                found.append(LeftOut(one, why, below=one.value < run.before))
    ordered, fits = _together(used, left_out)
    values = [(one.done_at, one.value) for one in ordered]
    for run in episodes(values, least=_least_apart(used, model, loaded=loaded), fits=fits):
        side = "high" if run.change > 0 else "low"
        why = msg(
            f"projection.episode_{side}_{unit}", run=run.count, since_date=run.first_on, until_date=run.ended_on,
            **{f"off_{unit}": abs(run.change)},
        )  # fmt: skip
        places = range(run.first, run.last + 1)
        found += [LeftOut(ordered[at], why) for at in places if fits[at]]
    return tuple(found)


def _least(used: Sequence[Reading], model: PackModel, *, loaded: bool) -> float:
    """The smallest move that counts, in ohms or volts."""
    return LEAST_RISE * min(one.value for one in used) if loaded else LEAST_FALL_V_PER_GROUP * model.series_count


def _least_apart(used: Sequence[Reading], model: PackModel, *, loaded: bool) -> float:
    """The smallest distance of a run from those beside it that counts: a resistance grows over the years, so that its
    part is taken of the higher half of what was read."""
    if not loaded:
        return _least(used, model, loaded=False)
    return LEAST_RISE * float(np.quantile([one.value for one in used], HIGHER_HALF))


def _together(used: Sequence[Reading], left_out: Sequence[LeftOut]) -> tuple[list[Reading], list[bool]]:
    """Readings in use and those left out because they are far off, in time, and which of them are in use."""
    far = [one.reading for one in left_out if one.why.key in _DOUBTED]
    pairs = [*((one, True) for one in used), *((one, False) for one in far)]
    pairs.sort(key=lambda pair: (pair[0].done_at, pair[0].check_id))
    return [one for one, _ in pairs], [fits for _, fits in pairs]


def _newest(
    used: Sequence[Reading], left_out: Sequence[LeftOut], model: PackModel, *, loaded: bool, better: bool = False
) -> tuple[Run, bool] | None:
    """The newest readings that stand off to the worse side, or to the `better` one, and whether none of them is in use.

    A resistance without its bench temperature tells nothing here: it rises in the cold, and falls in the heat.
    """
    ordered, fits = _together(used, left_out)
    values: list[tuple[dt.datetime, float]] = [(one.done_at, one.value) for one in ordered]
    run = newest_run(values, rises=loaded is not better, least=_least_apart(used, model, loaded=loaded), fits=fits)
    if run is None or (loaded and any(one.bench_c is None for one in ordered[run.first :])):
        return None
    return run, not any(fits[run.first :])


def _side(*, better: bool) -> str:
    return "_better" if better else ""


def _with_run(told: Message, run: Run, at_c: float, *, loaded: bool, better: bool = False) -> Message:
    """`told`, after a word about the newest readings."""
    unit = "ohm" if loaded else "v"
    many = "fresh_one" if run.count == 1 else "fresh_few" if run.count <= FEW else "fresh"
    values: dict[str, object] = {
        f"moved_{unit}": abs(run.change), f"from_{unit}": run.before, f"to_{unit}": run.level, "run": run.count,
        "since_date": run.first_on, "told": told if better else steady(told),
    }  # fmt: skip
    if loaded:
        values["at_c"] = Decimal(f"{at_c:.0f}")
    return msg(f"projection.{many}{_side(better=better)}_{unit}", **values)


def _with_shift(told: Message, found: Shift, at_c: float, *, loaded: bool, since: bool) -> Message:
    """`told`, after a word about a move over the whole history, and `since` then."""
    unit = "ohm" if loaded else "v"
    began, ended = f"{found.began_on:%b %Y}", f"{found.ended_on:%b %Y}"
    months = msg("projection.in_month", month=ended)
    if began != ended:
        months = msg("projection.between_months", from_month=began, to_month=ended)
    values: dict[str, object] = {
        f"moved_{unit}": abs(found.change), f"from_{unit}": found.before, f"to_{unit}": found.after, "when": months,
        "since": msg("projection.steady_since" if found.steady else "projection.open_since") if since else "",
        "told": steady(told),
    }  # fmt: skip
    if loaded:
        values["at_c"] = Decimal(f"{at_c:.0f}")
    if found.step is None:
        return msg(f"projection.moved_{unit}", **values)
    return msg(f"projection.stepped_{unit}", **{f"step_{unit}": abs(found.step)}, step_on=found.step_on, **values)


def steady(told: Message) -> Message:
    """`told` without “No decline seen”, which a move before it would contradict."""
    return replace(told, key=told.key.replace("no_decline", "steady"))
