"""What differs between two rounds of one depot, and how it is told to whoever caused it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.wording import Message, msg
from fleetcare.services.plan import PlanItem
from fleetcare.services.rounds import Round, RoundItem


@dataclass(frozen=True, slots=True)
class Moved:
    """One thing that a new record moved in the plan; None: not planned."""

    item: PlanItem
    before: dt.date | None
    after: dt.date | None
    told: Message


def changes(before: Round, after: Round) -> tuple[Moved, ...]:
    """What differs between two rounds of one depot, the worst first."""
    then = {one.item.key: one for one in _everything(before)}
    now = {one.item.key: one for one in _everything(after)}
    names = {one.person: one.name for one in (*before.hours, *after.hours)}
    moved = []
    for key in sorted(then.keys() | now.keys()):
        old, new = then.get(key), now.get(key)
        if old is not None and new is not None and (old.day, old.person) == (new.day, new.person):
            continue
        item = (new or old).item  # type: ignore[union-attr]
        values = {"subject": item.subject, "what": msg(f"plan_kind.{item.kind.value}")}
        if new is None:
            told = msg("round.gone", **values)
        elif old is None:
            told = msg("round.new", on_day=new.day, who=names.get(new.person, "—"), **values)
        elif new.day is None:
            told = msg("round.moved_out", before_day=old.day, **values)
        elif old.day is None:
            told = msg("round.moved_in", on_day=new.day, who=names.get(new.person, "—"), **values)
        elif old.day == new.day:
            told = msg("round.other_person", on_day=new.day, who=names.get(new.person, "—"), **values)
        else:
            told = msg(
                "round.moved", before_day=old.day, on_day=new.day, who=names.get(new.person, "—"), **values
            )  # fmt: skip
        moved.append(Moved(item, old.day if old else None, new.day if new else None, told))
    return tuple(sorted(moved, key=lambda one: one.item.worst_first))


def _everything(one: Round) -> list[RoundItem]:
    left = [item for short in one.short for item in short.items if item.day is None]
    return [*one.today, *one.ahead, *left, *(item for item in one.away if item.day is None)]


def told(moved: tuple[Moved, ...], vehicle: str = "") -> list[Message]:
    """What changed, in sentences.

    Where it is about a `vehicle`, that and its packs come first, then what comes later or finds no day; what only comes
    sooner or changes hands makes room or fills it, and is counted.
    """
    if not vehicle:
        return [one.told for one in moved]
    own = [one for one in moved if vehicle in (one.item.subject, one.item.vehicle)]
    others = [one for one in moved if one not in own]
    late = [one for one in others if one.after is None or (one.before is not None and one.after > one.before)]
    rest = len(others) - len(late)
    shifted = [msg("round.shifted" if rest > 1 else "round.shifted_one", count=rest)] if rest else []
    return [*(one.told for one in (*own, *late)), *shifted]
