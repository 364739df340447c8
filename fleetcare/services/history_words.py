"""Sentences of a maintenance history that are put together from a record."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain import due
from fleetcare.domain.records import CheckJudged
from fleetcare.domain.wording import Message, msg, say
from fleetcare.store.proving import Placed


def check_text(judged: CheckJudged) -> str:
    """One check with everything that was measured and noted."""
    check = judged.check
    parts = [
        msg(
            "history.check", pack=check.pack, kind=msg(f"check_kind.{check.kind.value}"),
            rest=msg(f"rest.{check.rest.value}"), rested_v=check.rested_v,
        )
    ]  # fmt: skip
    if check.loaded_v is not None:
        ohm = check.resistance_ohm
        parts.append(
            msg(
                "history.check_load", loaded_v=check.loaded_v, load_a=check.load_a, hold_seconds=check.hold_s,
                resistance_ohm=None if ohm is None else float(ohm),
            )
        )  # fmt: skip
    parts.append(msg("history.check_bench", bench_c=check.bench_c))
    parts.append(msg("history.check_meter", meter=check.meter, state=judged.meter_state))
    if check.vehicle is not None:
        parts.append(msg("history.check_vehicle", vehicle=check.vehicle))
    if judged.look_over is not None:
        found = tuple(msg(f"look.{one.value}") for one in judged.look_over) or msg("history.looked_good")
        parts.append(msg("history.check_looked", found=found))
    return "; ".join(say(one) for one in parts)


def gap_text(pack: str, one: due.Missed, until: dt.date) -> Message:
    """A missed check of `pack`, with how long it took; `until` is when counting ended."""
    if one.next_on is None:
        return msg(
            "history.gap_open", pack=pack, due_date=one.due_on, until_date=until, late_days=(until - one.due_on).days
        )
    return msg(
        "history.gap", pack=pack, due_date=one.due_on, next_date=one.next_on, late_days=(one.next_on - one.due_on).days
    )


def where_text(pack: str, places: list[Placed]) -> Message:
    """Where `pack` was, by the last of `places`."""
    if not places:
        return msg("history.end_never", pack=pack)
    placed = places[-1].placement
    if placed.vehicle is not None:
        return msg("history.end_vehicle", pack=pack, vehicle=placed.vehicle, bay=placed.bay, since_at=placed.since)
    if placed.shelf:
        return msg("history.end_shelf", pack=pack, shelf=placed.shelf, since_at=placed.since)
    return msg("history.end_unknown", pack=pack, since_at=placed.since)
