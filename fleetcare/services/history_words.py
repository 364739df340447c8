"""Sentences of a maintenance history that are put together from a record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fleetcare.domain import due
from fleetcare.domain.judging import tidy_ohm
from fleetcare.domain.records import CheckJudged
from fleetcare.domain.vans import is_list_number
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
                resistance_ohm=None if ohm is None else tidy_ohm(ohm),
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


def gap_text(pack: str, gap: Sequence[due.FellDue], until: dt.date) -> Message:
    """Checks of `pack` that were missed in a row, with how long it took; `until` is when counting ended."""
    first, last = gap[0], gap[-1]
    ended = first.done_on or until
    known = {"pack": pack, "due_date": first.due_on, "late_days": (ended - first.due_on).days}
    if len(gap) > 1:
        known |= {"number": len(gap), "last_date": last.due_on}
    key = "history.gap" if len(gap) == 1 else "history.gap_long"
    if first.done_on is None:
        return msg(f"{key}_open", until_date=until, **known)
    return msg(key, next_date=first.done_on, **known)


def where_text(pack: str, places: list[Placed]) -> Message:
    """Where `pack` was, by the last of `places`."""
    if not places:
        return msg("history.end_never", pack=pack)
    placed = places[-1].placement
    if placed.vehicle is not None:
        return msg("history.end_vehicle", pack=pack, vehicle=placed.vehicle, bay=placed.bay, since_at=placed.since)
    if placed.shelf:
        key = "history.end_van" if is_list_number(placed.shelf) else "history.end_shelf"
        return msg(key, pack=pack, shelf=placed.shelf, since_at=placed.since)
    return msg("history.end_unknown", pack=pack, since_at=placed.since)
