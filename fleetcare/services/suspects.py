"""Readings that do not fit their pack: listed for the mechanic with why and what to do, never taken out silently."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from statistics import median

from fleetcare.domain.judging import tidy_ohm
from fleetcare.domain.projection.answer import LeftOut, Projection, Reading
from fleetcare.domain.projection.runs import FEW
from fleetcare.domain.wording import Message, msg

LISTED_DAYS = 60
"""An older suspicion stays in the pack's own list only: nobody can measure that day again (proposal)."""
BEFORE = 10
"""So many readings before a doubted one say what the pack used to read."""
CONFIRMED_BY = FEW
"""Readings next to it that are as far off confirm a doubted one, where they are of so many further days: three alike are
the pack's (proposal), three of one evening may be one charge that was not finished."""
_NEWEST_OFF_OHM = ("projection.newest_off_ohm", "projection.newest_off_better_ohm")
_FAR = frozenset(
    (
        "projection.far_off",
        "projection.doubt_not_this_pack",
        "projection.newest_off_v",
        "projection.newest_off_better_v",
        *_NEWEST_OFF_OHM,
    )
)
BACK = "projection.back"
"""Why a newest reading is in doubt that stands where the pack stood before one or two readings that are as doubtful."""
_NOT_SUSPECT = frozenset({"projection.doubt_rest_too_short", "projection.doubt_none"})
_WHAT_TO_DO = {
    "projection.doubt_swapped": "suspect.do_swapped",
    "projection.reads_nothing": "suspect.do_wake",
    "projection.doubt_not_this_pack": "suspect.do_not_this_pack",
    "projection.far_off": "suspect.do_far_off",
}


@dataclass(frozen=True, slots=True)
class Suspect:
    """One reading that does not fit: what was read, why it is doubted, what to do, and whether it was measured again.

    `both` is True where the resistance of that visit does not fit either: rested and loaded are to be read again.
    """

    pack: str
    quantity: str
    reading: Reading
    why: Message
    what_to_do: Message
    settled_at: dt.datetime | None
    both: bool = False

    @property
    def value(self) -> Message:
        """The reading as it was read, with its unit."""
        return as_read(self.quantity, self.reading)


def as_read(quantity: str, reading: Reading) -> Message:
    """What was read, never what a correction made of it; where that is not kept apart, the two are the same."""
    if quantity == "resistance_ohm":
        return msg("suspect.value_ohm", read_ohm=reading.value if reading.read is None else tidy_ohm(reading.read))
    return msg("suspect.value_v", read_v=reading.value if reading.read is None else reading.read)


def is_suspicion(left: LeftOut) -> bool:
    """True where the reading itself is in question: not a short rest, a correction or a meter found out."""
    key = left.why.key
    return key not in _NOT_SUSPECT and key.startswith(
        (
            "projection.far_off",
            "projection.doubt_",
            "projection.reads_nothing",
            "projection.newest_off",
            "projection.episode",
            BACK,
        )
    )


def went_back(why: Message) -> bool:
    """True of the reason of a newest reading that stands where the pack stood before those just before it."""
    return why.key.startswith(BACK)


def is_episode(left: LeftOut) -> bool:
    """True of a reading that went back with its like: nobody can measure those days again."""
    return left.why.key.startswith("projection.episode")


def what_to_do(left: LeftOut, quantity: str) -> Message:
    """The mechanic's next step for a suspicion."""
    far = left.why.key in ("projection.far_off", *_NEWEST_OFF_OHM) or went_back(left.why)
    if far and quantity == "resistance_ohm":
        low = "_low" if left.below else ""
        return msg(
            f"suspect.do_far_off_no_bench{low}" if left.reading.bench_c is None else f"suspect.do_far_off_ohm{low}"
        )
    if quantity == "stored_v":
        return msg("suspect.do_stored")
    return msg(_WHAT_TO_DO.get(left.why.key, "suspect.do_far_off"))


def suspects_of(pack: str, projections: Sequence[Projection]) -> tuple[Suspect, ...]:
    """Every suspicion about one pack, newest first; the same visit is listed once.

    Rested volts that do not fit lead, since a pack that is not full, or another pack, makes the resistance of that visit
    wrong too; what was measured again since leads nothing.  Episodes that went back are not among them: their readings
    are listed, with why, behind the projection.
    """
    visits: dict[str, list[tuple[Suspect, LeftOut]]] = defaultdict(list)
    for projection in projections:
        for left in (*projection.left_out, *projection.in_question):
            if is_suspicion(left) and not is_episode(left):
                found = Suspect(
                    pack, projection.quantity, left.reading, left.why, what_to_do(left, projection.quantity),
                    _settled_at(left, projection),
                )  # fmt: skip
                visits[left.reading.check_id].append((found, left))
    return tuple(sorted(map(_of_visit, visits.values()), key=lambda one: one.reading.done_at, reverse=True))


def _of_visit(found: Sequence[tuple[Suspect, LeftOut]]) -> Suspect:
    """The suspicion that leads, with a word about the resistance of the same visit where that is far off as well."""
    pool = [one for one in found if one[0].settled_at is None] or list(found)
    pool.sort(key=lambda one: one[0].quantity == "resistance_ohm")
    lead = pool[0][0]
    also = [one for one, left in pool[1:] if one.quantity == "resistance_ohm" and left.why.key == "projection.far_off"]
    if not also:
        return lead
    return replace(lead, why=msg("suspect.both", why=lead.why, value=also[0].value), both=True)


def _settled_at(left: LeftOut, projection: Projection) -> dt.datetime | None:
    """When a reading that fits was made since, or, of three days alike, the third; None while the suspicion is open.

    One that reads as the pack did before fits, even where the engine has meanwhile followed the doubted ones down; by itself
    it is then as doubtful as they are, and the next reading decides.
    """
    mine = left.reading
    if left.why.key not in _FAR:
        return min((one.done_at for one in projection.used if one.done_at > mine.done_at), default=None)
    before = sorted((one for one in projection.used if one.done_at < mine.done_at), key=lambda one: one.done_at)
    doubted = {one.reading.check_id for one in projection.in_question if one.why.key in _FAR}
    usual = median([one.value for one in before if one.check_id not in doubted][-BEFORE:] or [mine.value])
    far = (one.reading for one in projection.left_out if one.why.key in _FAR or went_back(one.why))
    every = sorted((*projection.used, *far), key=lambda one: one.done_at)
    fits = {
        one.check_id: one.check_id not in doubted and abs(one.value - mine.value) >= abs(one.value - usual)
        for one in every
    }
    earlier = takewhile(
        lambda one: not fits[one.check_id], (one for one in reversed(every) if one.done_at < mine.done_at)
    )
    mine_too = mine.done_at.date()
    days = {one.done_at.date() for one in earlier} - {mine_too}
    if len(days) >= CONFIRMED_BY:
        return mine.done_at
    for one in every:
        if one.done_at <= mine.done_at:
            continue
        days |= {one.done_at.date()} - {mine_too}
        if fits[one.check_id] or len(days) >= CONFIRMED_BY:
            return one.done_at
    return None


def is_open(left: LeftOut, projection: Projection) -> bool:
    """True while a doubted reading of `projection` was not measured again: nothing that fits it, and no three alike."""
    return _settled_at(left, projection) is None


def to_measure_again(suspects: Iterable[Suspect], now: dt.datetime) -> tuple[Suspect, ...]:
    """Those still open: recent, and nothing that fits was read since; newest first.

    A pack that shows nothing is listed once, by its newest reading: one visit wakes it, or shows that it stays silent.
    """
    since = now - dt.timedelta(days=LISTED_DAYS)
    open_ = [one for one in suspects if one.settled_at is None and one.reading.done_at >= since]
    listed, silent = [], set()
    for one in sorted(open_, key=lambda one: (one.reading.done_at, one.pack), reverse=True):
        if one.why.key == "projection.reads_nothing":
            if one.pack in silent:
                continue
            silent.add(one.pack)
        listed.append(one)
    return tuple(listed)
